"""What happens on this stage and what must be connected where."""

import re
from typing import ClassVar

from stagefloor.core.problems import Problem, nearest
from stagefloor.job.fields import Amount, Count, Length, Refs, Text, count, length, note, number, refs, text
from stagefloor.job.record import Record

# Kinds of connection, in the order in which people list them.
KINDS = ("microphone", "line", "intercom", "loudspeaker", "video", "data", "control", "mains")


def kind_name(kind: str) -> str:
    """A kind as people read it."""
    return "line return" if kind == "line" else kind


class Event(Record):
    """A kind of event, such as a musical or a lecture."""

    kind: ClassVar[str] = "event"
    noun: ClassVar[str] = "event"
    step: ClassVar[str] = "inventory"

    label: Text = text("Event")
    per_year: Amount = number("Times a year")
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


# Words that people type for a kind, besides its own name.
ALSO = {"mic": "microphone", "mics": "microphone", "monitor": "line", "return": "line", "speaker": "loudspeaker",
        "network": "data", "ethernet": "data", "power": "mains", "outlet": "mains", "duplex": "mains", "twin": "mains",
        "branch": "mains",
        "receptacle": "mains", "socket": "mains", "socket-outlet": "mains", "comms": "intercom", "dmx": "control",
        "sdi": "video"}


def read_counts(text: str) -> dict[str, int]:
    """Counts from words, such as '2 microphone, 1 loudspeaker, 1 mains'; Problem if a part can't be read."""
    found: dict[str, int] = {}
    for part in re.split(r"[,;+&]|\band\b", text.lower()):
        words = part.split()
        if not words:
            continue
        if len(words) < 2 or not words[0].isascii() or not words[0].isdigit() or len(words[0]) > 3:
            raise Problem(f"'{part.strip()[:40]}' is not a number and a kind; type for example: 2 microphone, 1 mains.")
        kind = _kind(words[1])
        found[kind] = found.get(kind, 0) + int(words[0])
    return found


def _kind(word: str) -> str:
    for known in (word, word.rstrip("s")):
        if known in KINDS:
            return known
        if known in ALSO:
            return ALSO[known]
    near = nearest(word, [*KINDS, *ALSO])
    tip = f"did you mean {ALSO.get(near, near)}?" if near else f"the kinds are {', '.join(KINDS)}."
    raise Problem(f"'{word[:30]}' is not a kind of connection; {tip}")
