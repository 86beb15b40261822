"""What was built, tested, changed and handed over. Adds records; rewrites none of an earlier step."""

from typing import ClassVar

from stagefloor.job.fields import Flag, Length, Number, Ref, Text, choice, flag, length, note, number, ref, text
from stagefloor.job.record import Record

AUDIENCES = ("office", "crew", "client")
TESTS = ("continuity", "polarity", "loop resistance", "phantom", "isolation", "wire map", "link result",
         "coax loss", "termination", "impedance", "mains test by the licensed electrician")


class Reading(Record):
    """One reading of one test on one circuit. A retest is a new record."""

    kind: ClassVar[str] = "reading"
    noun: ClassVar[str] = "test reading"
    step: ClassVar[str] = "closeout"
    name_field: ClassVar[str] = "test"

    circuit: Ref = ref("Line", "circuit")
    test: Text = choice("Test", TESTS, "continuity")
    result: Text = choice("Result", ("", "pass", "fail"), "", "for a test without a number")
    value: Number = number("Reading", "in the unit of the test")
    instrument: Text = text("Instrument")
    by: Text = text("By")
    date: Text = text("Date")


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
    date: Text = text("Date")


class Punch(Record):
    """One defect with owner and date."""

    kind: ClassVar[str] = "punch"
    noun: ClassVar[str] = "punch item"
    step: ClassVar[str] = "closeout"

    label: Text = text("Defect")
    owner: Text = text("Owner")
    due: Text = text("Due")
    closed: Text = text("Closed on")
    audience: Text = choice("Who may read it", AUDIENCES, "office")


class HoldPoint(Record):
    """Work stops here until someone named has looked."""

    kind: ClassVar[str] = "holdpoint"
    noun: ClassVar[str] = "hold point"
    step: ClassVar[str] = "closeout"

    label: Text = text("Hold point")
    when: Text = choice("Before", ("breaker on", "pour", "deck", "finish", "first event"), "finish")
    by: Text = text("Released by")
    date: Text = text("Released on")
    evidence: Text = text("Evidence", "photo or report number")


class Document(Record):
    """A paper that is due at handover, and who owes it."""

    kind: ClassVar[str] = "document"
    noun: ClassVar[str] = "document"
    step: ClassVar[str] = "closeout"

    label: Text = text("Document")
    owner: Text = text("Owed by")
    received: Text = text("Received on")


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
    date: Text = text("Date")
    words: Text = note("What changed")
