"""Where boxes are, which model, which modules and openings are in them."""

from typing import ClassVar

from stagefloor.job.fields import (
    Count,
    Flag,
    Force,
    Length,
    Money,
    Ref,
    Refs,
    Size,
    Text,
    choice,
    count,
    day,
    flag,
    force,
    length,
    money,
    note,
    ref,
    refs,
    text,
)
from stagefloor.job.inventory import KINDS
from stagefloor.job.record import Record

SURFACES = ("floor", "wall", "riser face")


class BoxModel(Record):
    """A floor box or wall panel that the shop can buy. Three outlines: cutout, body, cover flange."""

    kind: ClassVar[str] = "boxmodel"
    noun: ClassVar[str] = "box model"
    step: ClassVar[str] = "boxes"

    label: Text = text("Model", "your own name for it")
    surface: Text = choice("For", SURFACES, "floor")
    across: Size = length("Cutout across", "square to the hinge side", fine=True)
    along: Size = length("Cutout along", fine=True)
    body_across: Size = length("Body across", fine=True)
    body_along: Size = length("Body along", fine=True)
    depth: Size = length("Body depth below the finished floor", fine=True)
    flange: Size = length("Flange laps the floor by", default="0.5 in", fine=True)
    bays: Count = count("Bays", "each takes one module", 2)
    mains_bays: Count = count("Bays that can be behind the barrier", "of these", 1)
    openings: Count = count("D-size openings in a module", default=4)
    mains_outlets: Count = count("Mains outlets in a module", "duplex or twin outlets", 2)
    front: Size = length("Free depth over the plate", "lid closed, to the underside of the lid", fine=True)
    behind: Size = length("Free depth behind the plate", "for connector bodies, tails and their bend", fine=True)
    proud: Size = length("Cover stands proud by", "0 if it is flush with the finish", fine=True)
    lid_load: Force = force("Lid carries", "from the data sheet; empty: not known")
    listed: Text = choice("Listed for floors", ("unknown", "yes", "no"), "unknown")
    gasket: Flag = flag("Lid has a gasket")
    cost: Money = money("Buying price")
    lead: Count = count("Lead time, days", "calendar days from the order to the day it comes")
    source: Text = text("Where the figures come from")


class Position(Record):
    """A spot that was marked as possible, or as forbidden, by hand."""

    kind: ClassVar[str] = "position"
    noun: ClassVar[str] = "marked position"
    step: ClassVar[str] = "boxes"

    label: Text = text("Name")
    x: Length = length("Across")
    y: Length = length("Up")
    z: Length = length("Height", default="0 ft")
    surface: Text = choice("On", SURFACES, "floor")
    use: Text = choice("It is", ("possible", "forbidden"), "possible")


class Box(Record):
    """One floor box or wall panel at its position."""

    kind: ClassVar[str] = "box"
    noun: ClassVar[str] = "floor box"
    step: ClassVar[str] = "boxes"

    label: Text = text("Box")
    surface: Text = choice("On", SURFACES, "floor")
    model: Ref = ref("Model", "boxmodel", "empty: the smallest that takes it")
    x: Length = length("Across", "to the middle of the cutout; stage left is plus")
    y: Length = length("Up", "to the middle of the cutout; upstage is plus")
    z: Length = length("Height", "stage floor is zero", "0 ft")
    turned: Flag = flag("Turned a quarter")
    hinge: Text = choice("Lid hinge towards", ("downstage", "upstage", "stage left", "stage right"), "downstage")
    points: Refs = refs("Serves", "point")
    feed: Ref = ref("Fed from", "node", "empty: the nearest")
    via: Refs = refs("Its lines go by", "node", "points on the way, from the rack; empty: the shortest way")
    pinned: Flag = flag("Stays where it is", "the planner may not move it, nor change a model that you chose")
    state: Text = choice("State", ("planned", "roughed in", "built", "retired"), "planned")
    scan: Text = text("Slab scan report", "number of the report that shows the slab at this very place; empty: not scanned")
    remark: Text = note("Note for the crew")

    @property
    def title(self) -> str:
        """What it is called on a page: a floor box, a wall panel or a panel in a riser face."""
        return {"floor": "Floor box", "wall": "Wall panel"}.get(self.surface, "Riser panel") + f" {self.label}"


class Opening(Record):
    """One opening in a module of a box: what connector is in it and what the user reads beside it."""

    kind: ClassVar[str] = "opening"
    noun: ClassVar[str] = "opening"
    step: ClassVar[str] = "boxes"

    box: Ref = ref("Box", "box")
    bay: Count = count("Bay", "from the hinge side, 1 first")
    slot: Count = count("Place in the module")
    what: Text = choice("Kind", KINDS, "microphone")
    label: Text = text("Label on the face")
    state: Text = choice("State", ("in use", "spare", "retired"), "in use")
    was: Text = choice("State before the need was smaller", ("", "in use"), "",
                       "of an opening that comes back with the need; empty: retired by hand, or not retired")
    line: Ref = ref("Line that it shared", "circuit", "while the line goes on without it")


class PlanAdopted(Record):
    """The box plan that was adopted: a decision, with the digest of what it was computed from."""

    kind: ClassVar[str] = "planadopted"
    noun: ClassVar[str] = "adopted plan"
    step: ClassVar[str] = "boxes"

    label: Text = text("Plan")
    how: Text = choice("Made", ("by hand", "by the planner"), "by hand")
    digest: Text = text("Digest of the inputs")
    cost: Money = money("Installed cost of the plan, without the electrician")
    floor_cable: Money = money("Its cable on the floor, counted as a cost")
    bound: Money = money("No plan has less of both together than")
    date: Text = day("Date")
