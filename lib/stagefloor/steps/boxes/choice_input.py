"""What in the job the planner can't use or can't have both ways, and what its plan asks of you, a sentence each."""

from stagefloor.job.boxes import Box, BoxModel, Position
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone, Joists
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.choice_places import on_stage
from stagefloor.steps.boxes.fit_outline import floor_type, outlines, small_text
from stagefloor.steps.boxes.geometry import rect_gap
from stagefloor.steps.boxes.planner_problem import Plan
from stagefloor.steps.boxes.schedule import is_fixed
from stagefloor.steps.paths import where_text

TOUCH = 1e-9


def cannot_use(job: Job) -> list[str]:
    """Marked positions off the stage or without a place, and fixed boxes that stand where none may stand."""
    display, said = job.settings.units, []
    for p in job.all(Position):
        if p.x is None or p.y is None:
            said.append(f"The marked position {p.name} has no place, so it is left out. Enter how far across and up it "
                        "is.")
        elif p.surface == "floor" and not on_stage(job, p.x.si, p.y.si):
            said.append(f"The marked position {p.name} ({where_text(p.x.si, p.y.si, display)}) is not on the stage, "
                        "so it is left out. Correct its place, or the edges of the stage on the job sheet.")
    fixed = [b for b in job.boxes() if is_fixed(b)]
    for b in fixed:
        if b.x is None or b.y is None:
            said.append(f"{b.title} must stay where it is, but its place is not entered. Enter it, or let the "
                        "planner move it.")
        elif b.surface == "floor" and not on_stage(job, b.x.si, b.y.si):
            said.append(f"{b.title} must stay where it is, but that is not on the stage "
                        f"({where_text(b.x.si, b.y.si, display)}). It is kept in the plan; correct its place.")
    said += [f"{b.title} must stay where it is, but {p.name} marks that place as forbidden. It is kept in the plan; take "
             "one of the two marks off." for b in fixed for p in job.all(Position)
             if p.use == "forbidden" and _covers(job, b, p)]
    said += [f"{a.title} and {b.title} must both stay where they are, and they overlap. Both are kept in the plan; "
             "move one."
             for i, a in enumerate(fixed) for b in fixed[i + 1:] if _overlap(job, a, b)]
    surfaces = {m.surface for m in job.all(BoxModel)}
    said += [f"There is no box model for a {p.surface}, so the marked position {p.name} is left out. Add a model that "
             "you can buy." for p in job.all(Position) if p.use == "possible" and p.surface not in surfaces]
    said += [f"The model {m.label} has no cutout size, so no new floor box is planned with it. Enter how wide and how long "
             "its cutout is." for m in job.all(BoxModel) if m.surface == "floor" and (m.across is None or m.along is None)]
    if floor_type(job, Box(id="anywhere", label="")) in ("wood on joists", "") or any(
            z.floor_type == "wood on joists" for z in job.all(FloorZone)):
        said += [f"Where the joists {j.label} are is not known, so no new floor box is planned on wood. Enter one joist and "
                 "the spacing on the job sheet." for j in job.all(Joists) if j.offset is None or j.spacing is None]
    return said


def asks(job: Job, plan: Plan) -> list[str]:
    """What a plan changes or asks without saying so in its table: another model for a box, lids that do not close."""
    said, display = [], job.settings.units
    for planned in plan.boxes:
        model = job.get(BoxModel, planned.model)
        box = job.find(Box, planned.candidate.removeprefix("box:"))
        chosen = job.find(BoxModel, box.model) if box is not None and box.model else None
        if box is not None and chosen is not None and chosen.id != model.id:
            why = ", which is too small by now" if box.pinned else ""
            cure = "" if box.pinned else f" To keep {chosen.label}, mark the box as one that stays where it is."
            said.append(f"{box.title} has the model {chosen.label}{why}; the plan takes {model.label}.{cure}")
        tall = {k: connections()[k].depth_front for k in planned.openings} if model.surface == "floor" else {}
        kind = max(tall, key=lambda k: tall[k], default="")
        if kind and model.front is not None and tall[kind] > model.front.si + TOUCH and (
                box is None or box.state != "built"):
            where = box.title if box is not None else "a new floor box"
            said.append(f"The lid of {model.label} does not close over a {connections()[kind].connector} with its cord "
                        f"({small_text(model.front.si, display)} free, {small_text(tall[kind], display)} needed), and no "
                        f"model that may stand there does better ({where}): take right-angle connectors or a sloped "
                        "plate, or add a deeper model.")
    return list(dict.fromkeys(said))


def _covers(job: Job, box: Box, spot: Position) -> bool:
    shape = outlines(job, box)
    return shape is not None and spot.x is not None and spot.y is not None and shape.cover.contains(spot.x.si, spot.y.si)


def _overlap(job: Job, a: Box, b: Box) -> bool:
    one, two = outlines(job, a), outlines(job, b)
    return a.surface == b.surface == "floor" and one is not None and two is not None and \
        rect_gap(one.cover, two.cover) < -TOUCH
