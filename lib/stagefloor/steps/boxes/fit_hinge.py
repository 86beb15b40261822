"""Which way a cutout lies by its hinge, against which way the plan has it: the face is drawn along the hinge.

The plan lays a model's `across` side across the stage, and up the stage if the box is turned; `across` is square to the
hinge side, so that a lid that hinges down- or upstage says the opposite. Which of the two was meant is for people to say.
"""

from stagefloor.core.open_items import CHECK, OpenItem
from stagefloor.core.workings import JOB, Basis, Working
from stagefloor.job.boxes import Box
from stagefloor.job.model import Job
from stagefloor.steps.boxes.fit_outline import (
    JOISTED,
    POSITIONS,
    Outlines,
    floor_type,
    length_value,
    outline_of,
    si,
    small_text,
)
from stagefloor.steps.boxes.fit_wood import members
from stagefloor.steps.boxes.geometry import Rect
from stagefloor.steps.boxes.schedule import layout

SQUARE = 0.001  # metres: sides that differ by less are alike


def along_lies_across(box: Box) -> bool:
    """Whether the side along the hinge lies across the stage: with the hinge down- or upstage."""
    return box.hinge in ("downstage", "upstage")


def hinge_side(job: Job, box: Box, shape: Outlines) -> list[OpenItem]:
    """A cutout that would meet a joist or a bearing if it lay as its hinge says, where the plan has it the other way.

    Said only where a hinge was entered and the cutout is not square.
    """
    plan = layout(job, box)
    wide, deep = _sides(shape.cutout)
    if plan is None or "hinge" not in box.model_fields_set or along_lies_across(box) == box.turned or \
            abs(wide - deep) < SQUARE or floor_type(job, box) not in JOISTED:
        return []
    by_hinge = outline_of(plan.model, si(box.x), si(box.y), not box.turned)
    met = [f.item for f in members(job, box, by_hinge) if f.item.workings] if by_hinge is not None else []
    if not met:
        return []
    display = job.settings.units
    on_plan, hinged = small_text(wide, display), small_text(deep, display)
    words = box.hinge if along_lies_across(box) else f"towards {box.hinge}"
    working = Working("Side of the cutout that lies across the stage", "a by the plan, b along the hinge",
                      (length_value("a", "by the plan", wide, display),), length_value("b", "by the hinge", deep, display),
                      (Basis("sides of the box model; the side 'across' is square to the hinge", JOB),))
    return [OpenItem(
        "hinge-against-plan", "boxes", box.title,
        f"the lid hinges {words}, so that the {hinged} side lies across the stage; the plan has the {on_plan} "
        f"side there. Laid as it hinges, {met[0].what}", f"{on_plan} on the plan, {hinged} by the hinge",
        "the side 'across' is square to the hinge; joists of the job sheet",
        "look which way it lies: correct the hinge, turn the box a quarter, or correct the sides of the model", CHECK,
        POSITIONS, ("box", box.id), workings=(working, *met[0].workings))]


def _sides(cutout: Rect) -> tuple[float, float]:
    return cutout.x1 - cutout.x0, cutout.y1 - cutout.y0
