"""What happens on this stage and what must be connected where."""

from typing import ClassVar

from stagefloor.job.fields import Count, Length, Number, Refs, Text, count, length, note, number, refs, text
from stagefloor.job.record import Record

# Kinds of connection, in the order in which people list them.
KINDS = ("microphone", "line", "intercom", "loudspeaker", "video", "data", "control", "mains")


class Event(Record):
    """A kind of event, such as a musical or a lecture."""

    kind: ClassVar[str] = "event"
    noun: ClassVar[str] = "event"
    step: ClassVar[str] = "inventory"

    label: Text = text("Event")
    per_year: Number = number("Times a year")
    together: Refs = refs("Runs at the same time as", "event", "empty: never together with another")
    remark: Text = note("What matters in it")


class Point(Record):
    """A place where something plugs in, for some events, with a count of each kind of connection."""

    kind: ClassVar[str] = "point"
    noun: ClassVar[str] = "connection point"
    step: ClassVar[str] = "inventory"

    label: Text = text("Point")
    what: Text = text("What stands there")
    x: Length = length("Across", "stage left is plus")
    y: Length = length("Up", "upstage is plus")
    z: Length = length("Height", "stage floor is zero", "0 ft")
    events: Refs = refs("In which events", "event", "empty: in all")
    microphone: Count = count("Microphone")
    line: Count = count("Line return")
    intercom: Count = count("Intercom")
    loudspeaker: Count = count("Loudspeaker")
    video: Count = count("Video")
    data: Count = count("Data")
    control: Count = count("Control")
    mains: Count = count("Mains")

    def counts(self) -> dict[str, int]:
        """How many of each kind, kinds with none left out."""
        return {kind: getattr(self, kind) for kind in KINDS if getattr(self, kind)}
