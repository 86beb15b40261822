"""What was built, tested, changed and handed over. Adds records; rewrites none of an earlier step."""

from typing import ClassVar

from stagefloor.job.fields import (
    Amount,
    Flag,
    Length,
    Number,
    Ref,
    Text,
    choice,
    day,
    flag,
    length,
    note,
    number,
    ref,
    text,
)
from stagefloor.job.record import Record

AUDIENCES = ("office", "crew", "client")
RESULTS = ("", "pass", "fail", "over range")
LICENSED = "mains test by the licensed electrician"
TESTS = ("continuity", "polarity", "screen", "loop resistance", "leg match", "phantom", "contacts moved, phantom on",
         "isolation", "level", "noise", "wire map", "link result", "link length", "fibre loss", "coax loss", "termination",
         "impedance", LICENSED, "earth continuity", "insulation resistance", "trip time")
# what waits for a hold point, in the order of the work
HELD = ("work starts", "opening the floor", "pour", "deck", "finish", "breaker on", "first event")
STARTS = ("written acceptance", "substantial completion", "first use", "delivery")


class Reading(Record):
    """One reading of one test on one circuit. A retest is a new record."""

    kind: ClassVar[str] = "reading"
    noun: ClassVar[str] = "test reading"
    step: ClassVar[str] = "closeout"
    name_field: ClassVar[str] = "test"

    circuit: Ref = ref("Line", "circuit")
    test: Text = choice("Test", TESTS, "continuity")
    result: Text = choice("Result", RESULTS, "", "for a test without a number; over range: the meter showed OL or >")
    value: Number = number("Reading", "in the unit of the test")
    instrument: Text = text("Instrument")
    by: Text = text("By")
    date: Text = day("Date")
    time: Text = text("Time", "of day, for example 09:05; tells which test of a day was the last")


class AsBuilt(Record):
    """Where a box really is, and what was changed on it."""

    kind: ClassVar[str] = "asbuilt"
    noun: ClassVar[str] = "as-built entry"
    step: ClassVar[str] = "closeout"
    name_field: ClassVar[str] = "box"

    box: Ref = ref("Box", "box")
    x: Length = length("Built across")
    y: Length = length("Built up")
    z: Length = length("Built height")
    modified: Flag = flag("Enclosure was drilled or trimmed", "ask the maker or the inspector")
    note_text: Text = note("What is different")
    by: Text = text("By")
    date: Text = day("Date")
    model: Ref = ref("Model built, if another", "boxmodel")
    feed: Ref = ref("Fed from, if elsewhere", "node")
    connector: Text = text("Connectors, if others", "for example 5-pin in place of 3-pin at B9-M4")
    trimmed: Text = choice("Trimmed or drilled", ("no", "lid trimmed", "enclosure drilled", "lid and enclosure"), "no")
    photo: Text = text("Photo", "file name or number")

    @property
    def changed(self) -> bool:
        """Whether lid or enclosure is no longer as it was listed."""
        return self.modified or self.trimmed != "no"


class Punch(Record):
    """One defect with owner and date."""

    kind: ClassVar[str] = "punch"
    noun: ClassVar[str] = "punch item"
    step: ClassVar[str] = "closeout"

    label: Text = text("Defect")
    owner: Text = text("Owner")
    due: Text = day("Due")
    closed: Text = day("Closed on")
    audience: Text = choice("Who may read it", AUDIENCES, "office")
    about: Text = text("Box or line", "its label; empty: the whole job")
    closed_by: Text = text("Closed by")
    photo: Text = text("Photo", "file name or number")


class HoldPoint(Record):
    """Work stops here until someone named has looked."""

    kind: ClassVar[str] = "holdpoint"
    noun: ClassVar[str] = "hold point"
    step: ClassVar[str] = "closeout"

    label: Text = text("Hold point")
    when: Text = choice("Before", HELD, "finish", "the work that waits for it")
    by: Text = text("Released by")
    date: Text = day("Released on")
    evidence: Text = text("What was seen", "a measure, a report number")
    photo: Text = text("Photo", "file name or number")


class Document(Record):
    """A paper that is due at handover, and who owes it."""

    kind: ClassVar[str] = "document"
    noun: ClassVar[str] = "document"
    step: ClassVar[str] = "closeout"

    label: Text = text("Document")
    owner: Text = text("Owed by")
    received: Text = day("Received on")


class Spare(Record):
    """A spare part, tool or key that the owner gets."""

    kind: ClassVar[str] = "spare"
    noun: ClassVar[str] = "spare or key"
    nouns: ClassVar[str] = "spares and keys"
    step: ClassVar[str] = "closeout"

    label: Text = text("Spare part, tool or key")
    quantity: Text = text("How many")
    owner: Text = text("Owed by")
    given_to: Text = text("Handed to")
    date: Text = day("Handed over on")


class Training(Record):
    """One instruction of the people who will use or look after the boxes."""

    kind: ClassVar[str] = "training"
    noun: ClassVar[str] = "training"
    nouns: ClassVar[str] = "training"
    step: ClassVar[str] = "closeout"

    label: Text = text("What was shown")
    who: Text = text("To whom", "roles, for example stage crew, cleaners")
    owner: Text = text("Given by")
    date: Text = day("Given on")


class Warranty(Record):
    """One warranty: what starts it by the contract, when that was, how long it runs."""

    kind: ClassVar[str] = "warranty"
    noun: ClassVar[str] = "warranty"
    step: ClassVar[str] = "closeout"

    label: Text = text("Warranty on")
    starts: Text = choice("Starts with", STARTS, "written acceptance", "by the contract")
    date: Text = day("That was on")
    months: Amount = number("Runs for", unit="months")
    contact: Text = text("Whom to call")


class ColumnMeaning(Record):
    """What a column of a tester's file means; remembered for the next file with the same heading."""

    kind: ClassVar[str] = "testercolumn"
    noun: ClassVar[str] = "tester's column"
    step: ClassVar[str] = "closeout"
    name_field: ClassVar[str] = "heading"

    heading: Text = text("Heading in the file")
    meaning: Text = text("Meaning")
    unit: Text = text("Unit", "of its figures, where the file doesn't say")


class Remark(Record):
    """A remark with an audience: the office unless chosen otherwise."""

    kind: ClassVar[str] = "remark"
    noun: ClassVar[str] = "remark"
    step: ClassVar[str] = "job sheet"
    name_field: ClassVar[str] = "about"

    about: Text = text("About")
    words: Text = note("Remark")
    audience: Text = choice("Who may read it", AUDIENCES, "office")


class Revision(Record):
    """One issue of the document set."""

    kind: ClassVar[str] = "revision"
    noun: ClassVar[str] = "revision"
    step: ClassVar[str] = "closeout"

    label: Text = text("Revision")
    date: Text = day("Date")
    words: Text = note("What changed")
