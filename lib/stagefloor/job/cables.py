"""Ways, cables and circuits. Openings, circuits and cables are many-to-many."""

from typing import ClassVar

from stagefloor.job.fields import (
    Amount,
    Count,
    Flag,
    Force,
    Length,
    MassPerLength,
    Money,
    Ref,
    Refs,
    ResistancePerLength,
    Size,
    Span,
    Text,
    choice,
    count,
    flag,
    force,
    length,
    mass_per_length,
    money,
    number,
    per_length,
    ref,
    refs,
    text,
)
from stagefloor.job.inventory import KINDS
from stagefloor.job.record import Record

CLASSES = ("any", "microphone", "line and intercom", "loudspeaker", "video and data", "control", "mains")
WAYS = ("EMT", "RMC", "PVC40", "trunking", "flexible metal conduit", "free path", "cable tray", "fished through",
        "metal conduit in mm", "plastic conduit in mm")
SPACES = ("ordinary", "air-handling (plenum)", "riser between floors", "concrete, 2 in (50 mm) over it",
          "outdoors or damp")
RATINGS = ("", "plenum", "riser", "general")
CLASS_OF = {"microphone": "microphone", "line": "line and intercom", "intercom": "line and intercom",
            "loudspeaker": "loudspeaker", "video": "video and data", "data": "video and data",
            "control": "control", "mains": "mains"}


class Node(Record):
    """A point of the raceway graph: rack entry, pull box, end of a run."""

    kind: ClassVar[str] = "node"
    noun: ClassVar[str] = "raceway node"
    step: ClassVar[str] = "cables"

    label: Text = text("Node")
    what: Text = choice("Kind", ("rack", "pull point", "wall opening", "bend", "other"), "pull point")
    x: Length = length("Across")
    y: Length = length("Up")
    z: Length = length("Height")


class Segment(Record):
    """One raceway, trunking compartment or free path between two nodes, for one signal class."""

    kind: ClassVar[str] = "segment"
    noun: ClassVar[str] = "raceway"
    step: ClassVar[str] = "cables"

    label: Text = text("Raceway")
    start: Ref = ref("From", "node")
    end: Ref = ref("To", "node")
    signal_class: Text = choice("For", CLASSES, "any")
    way: Text = choice("Kind", WAYS, "EMT")
    size: Text = text("Trade size", "for example 1-1/4, 50 x 50 mm, or 25 mm, inside 22 mm; empty: the smallest that "
                      "takes it")
    size_source: Text = text("Who gave the size", "for example electrician's drawing E2, rev. B")
    existing: Flag = flag("It is there already")
    used_percent: Count = count("Fill found on site, percent")
    string: Text = choice("Pull string", ("not needed", "unknown", "in, not proved", "proved"), "unknown")
    typed_length: Size = length("Length, if measured", "wins over the computed one")
    bends: Count = count("Bends of 90 degrees", "between its ends")
    other_bends: Amount = number("Other bends, degrees in all", "offsets, saddles and kicks", unit="deg")
    compartment: Text = text("Compartment", "raceways of one name between the same two nodes share its space")
    space: Text = choice("Lies in", SPACES, "ordinary", "air-handling spaces and shafts ask for rated cable")
    wall: Text = choice("Passes a wall or floor that is", ("", "fire-rated", "sound-rated", "fire- and sound-rated"))
    supports: Size = length("Supported every", "of a free path: by the building, never by a ceiling or a pipe")
    seal: Text = choice("Seal against sound and air", ("not needed", "needed, open", "needed, closed"), "not needed")
    barrier: Text = choice("Barrier to mains beside it", ("unknown", "fixed and bonded", "not there"), "unknown",
                           "in trunking with a mains compartment; the licensed electrician says")
    blocked: Flag = flag("Out of use")
    full: Flag = flag("Full", "nothing more goes in: ways are looked for elsewhere")


class CableType(Record):
    """A cable that the shop can buy."""

    kind: ClassVar[str] = "cabletype"
    noun: ClassVar[str] = "cable type"
    step: ClassVar[str] = "cables"

    label: Text = text("Cable type")
    what: Text = choice("For", KINDS, "microphone")
    diameter: Size = length("Outside diameter", fine=True)
    awg: Count = count("Conductor gauge, AWG")
    resistance: ResistancePerLength = per_length("Resistance of one conductor", "at 20 degrees C")
    price: Money = money("Buying price", "for the length beside it")
    price_for: Span = length("Price is for", "empty: 100 ft, or 30 m in a job in metres")
    reel: Size = length("Reel", "the usual length on a reel; other reels stand in their own list")
    lines: Count = count("Lines in one cable", "1; more for a multicore", 1)
    assembly: Flag = flag("Ready-made assembly", "bought with its ends on, never cut")
    head: Size = length("Largest head of the assembly", "it must go through the raceway", fine=True)
    coupler: Flag = flag("Ends in a coupler", "a field plug in a coupler, not a jack: another test")
    mass: MassPerLength = mass_per_length("Mass of the cable")
    pull_limit: Force = force("Pull that one cable bears", "from its data sheet")
    rating: Text = choice("Fire rating on its jacket", RATINGS, "", "empty: not known")
    lead: Count = count("Lead time, days", "calendar days from the order to the day it comes")
    source: Text = text("Where the figures come from")


class Circuit(Record):
    """One electrical line from openings to a rack position."""

    kind: ClassVar[str] = "circuit"
    noun: ClassVar[str] = "circuit"
    step: ClassVar[str] = "cables"

    label: Text = text("Line", "the designator at both ends")
    what: Text = choice("Kind", KINDS, "microphone")
    openings: Refs = refs("Openings", "opening", "two openings may share one line where the kind allows it")
    rack: Text = text("Rack position")
    reused: Ref = ref("Old line reused", "oldoutlet")
    state: Text = choice("State", ("planned", "pulled", "tested", "retired"), "planned")
    was: Text = choice("State before its openings were retired", ("", "planned", "pulled", "tested"), "",
                       "of a line that comes back with its opening; empty: retired by hand, or not retired")
    load_ohm: Amount = number("Load, nominal", "all loudspeakers of the line in parallel", unit="ohm")
    load_w: Amount = number("Taps in all", "on a 70 or 100 V line", unit="W")
    load_line: Text = choice("Loudspeaker line", ("", "70 V", "100 V"), "", "empty: low impedance")


class Cable(Record):
    """One physical cable; it may carry several circuits."""

    kind: ClassVar[str] = "cable"
    noun: ClassVar[str] = "cable"
    step: ClassVar[str] = "cables"

    label: Text = text("Cable id")
    circuits: Refs = refs("Carries", "circuit")
    type: Ref = ref("Type", "cabletype")
    typed_length: Size = length("Length, if measured", "wins over the computed one")


class RestingCable(Cable):
    """What a cable carried when its lines were retired: it comes back under the id of the cable, as it was typed."""

    kind: ClassVar[str] = "restingcable"
    noun: ClassVar[str] = "resting cable"
