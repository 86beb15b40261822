"""The job sheet: what nobody has looked at yet, what has no place yet, what stands open next, and the places that every
length depends on."""

from stagefloor.core.open_items import DATES, TO_DO, OpenItem
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone, Joists, Survey, Tendon

POSITIONS = DATES[0]


# how a survey line begins -> what a sharper question on the same thing says; that question then stands alone
SHARPER = {"joists": "one joist", "paths walked": "way can cables take", "rack position": "where is the rack",
           "slab scan": "scan, with report number"}


def asked_once(found: list[str]) -> list[str]:
    """The questions, each once, without a survey line that a sharper question of the list covers."""
    asked = [q.lower() for q in found]
    return list(dict.fromkeys(q for q in found if not any(
        q.lower().startswith(topic) and any(words in other for other in asked) for topic, words in SHARPER.items())))


def floors(job: Job) -> set[str]:
    """The kinds of floor that were entered, for the job and its zones."""
    return {f for f in (job.settings.floor_type, *(z.floor_type for z in job.all(FloorZone))) if f}


def built_of(job: Job) -> tuple[bool, bool]:
    """Whether joists, and whether a slab, are to be asked for; joists if nothing is known of the floor."""
    known = floors(job)
    slab = any("slab" in f for f in known) or bool(job.all(Tendon))
    return not slab or any("wood" in f for f in known) or bool(job.all(Joists)), slab


def without_place(job: Job, kind: type[Box] | type[Point]) -> list[Box | Point]:
    """What stands in the table and has no place on the plan yet, in the order of the table."""
    return [r for r in job.all(kind) if (r.x is None or r.y is None) and getattr(r, "state", "") != "retired"]


def next_steps(job: Job, unpriced: bool) -> list[str]:
    """Where to go on, in plain sentences; what is entered already is not asked for again.

    `unpriced`: something of the estimate has no price or rate yet.
    """
    found, s = [], job.settings
    if s.rack_distance is None and (s.rack_x is None or s.rack_y is None):
        found.append("Cable lengths: type the way to the rack, under 'Stage, rack, panel and policies' below.")
    if s.floor_type.startswith("wood") and not job.all(Joists):
        found.append("Whether the cutout clears the joists: enter one joist and the spacing, under 'Floor' below.")
    if not job.all(Event):
        found.append("More boxes, or a stage with several kinds of event: go on with the step Inventory.")
    found.append("Hours and a price: the step Labour." + (
        " What has no price or rate yet is named there and left out." if unpriced else ""))
    found.append("A document set for the client, at any stage of the job: the step Closeout, under The client's "
                 "documents.")
    return found


def _fits_floor(job: Job, topic: str) -> bool:
    """False for a question about a slab where all floors stand on wood, or about joists where all are slabs."""
    known, first = floors(job), topic.lower().lstrip()
    if first.startswith(("slab type", "slab scan")):
        return known != {"wood on joists"}
    if first.startswith("joists"):
        return not known or not all("slab" in f for f in known)
    return True


def open_items(job: Job) -> list[OpenItem]:
    """What was not looked at, as one item, and the two places every length depends on."""
    items = []
    unseen = [s.topic for s in job.all(Survey) if s.looked == "not looked at" and _fits_floor(job, s.topic)]
    if unseen:
        named = "; ".join(unseen[:3]) + (f"; and {len(unseen) - 3} more" if len(unseen) > 3 else "")
        items.append(OpenItem("survey-open", "job sheet", "Survey", f"not looked at: {named}",
                              f"{len(unseen)} of {len(job.all(Survey))} lines", "survey of the job sheet",
                              "look, or write down that it could not be found out", TO_DO, POSITIONS,
                              question="\n".join(unseen)))
    s = job.settings
    if s.rack_x is None and s.rack_distance is None and job.all(Point):
        items.append(OpenItem("rack-unknown", "job sheet", "Rack", "neither its place nor the way to it is known",
                              "unknown", "every cable length depends on it", "enter the way to the rack, or its place",
                              TO_DO, POSITIONS, question="Where is the rack, and where do cables enter it?"))
    return items
