"""The job sheet: what nobody has looked at yet, and the places that every length depends on."""

from stagefloor.core.open_items import DATES, TO_DO, OpenItem
from stagefloor.job.inventory import Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Survey

POSITIONS = DATES[0]


def open_items(job: Job) -> list[OpenItem]:
    """What was not looked at, as one item, and the two places every length depends on."""
    items = []
    unseen = [s.topic for s in job.all(Survey) if s.looked == "not looked at"]
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
