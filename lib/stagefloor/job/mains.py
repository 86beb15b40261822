"""What is asked of the licensed electrician: which outlets on which circuit, and what plugs in. Nothing here is a design."""

from typing import ClassVar

from stagefloor.job.fields import Amount, Flag, Ref, Refs, Size, Text, day, flag, length, number, ref, refs, text
from stagefloor.job.record import Record


class BranchCircuit(Record):
    """One mains circuit from the panel, as it is asked for or as the electrician gave it."""

    kind: ClassVar[str] = "branchcircuit"
    noun: ClassVar[str] = "mains circuit"
    step: ClassVar[str] = "cables"

    label: Text = text("Mains circuit", "as the electrician calls it")
    feeds: Refs = refs("Feeds", "circuit", "the mains of these boxes, such as A1-P")
    rating: Amount = number("Breaker", "as the electrician says", unit="A")
    voltage: Amount = number("Voltage", "empty: 120 V on the US basis, else 230 V", unit="V")
    conductor: Text = text("Conductor", "AWG or mm2, for example 12 or 2.5")
    way: Size = length("One-way length", "empty: right-angled from the panel and 15 % more")
    dedicated: Flag = flag("Nothing else on it")
    agreed: Text = day("Agreed with the electrician on", "a date; empty: asked only")


class MainsLoad(Record):
    """Something that plugs into a mains outlet of a box."""

    kind: ClassVar[str] = "mainsload"
    noun: ClassVar[str] = "mains load"
    step: ClassVar[str] = "cables"

    label: Text = text("What plugs in")
    at: Ref = ref("Into the mains of", "circuit", "such as A1-P")
    amps: Amount = number("Current", "from its plate", unit="A")
    continuous: Flag = flag("Runs three hours or more")
    shut_in: Flag = flag("Stays in the box, lid shut", "such as a charger or a small supply")
