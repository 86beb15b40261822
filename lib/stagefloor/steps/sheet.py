"""The job sheet: what nobody has looked at yet, and the places that every length depends on."""

from stagefloor.core.open_items import DATES, TO_DO, OpenItem
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import FloorZone, Survey

POSITIONS = DATES[0]


# how a survey line begins -> what a sharper question on the same thing says; that question then stands alone
SHARPER = {"joists": "one joist", "paths walked": "way can cables take", "rack position": "where is the rack",
           "slab type": "slab scan"}


def asked_once(found: list[str]) -> list[str]:
    """The questions, each once, without a survey line that a sharper question of the list covers."""
    asked = [q.lower() for q in found]
    return list(dict.fromkeys(q for q in found if not any(
        q.lower().startswith(topic) and any(words in other for other in asked) for topic, words in SHARPER.items())))


def floors(job: Job) -> set[str]:
    """The kinds of floor that were entered, for the job and its zones."""
    return {f for f in (job.settings.floor_type, *(z.floor_type for z in job.all(FloorZone))) if f}


def _fits_floor(job: Job, topic: str) -> bool:
    """False for a question about a slab where all floors stand on wood, or about joists where all are slabs."""
    known, first = floors(job), topic.lower().lstrip()
    if first.startswith("slab type"):
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
