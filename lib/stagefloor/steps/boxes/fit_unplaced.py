"""What lies in the floor or on it, is entered, and has no place yet: no floor box is checked against it."""

from stagefloor.core.open_items import TO_DO, OpenItem
from stagefloor.job.model import Job
from stagefloor.job.record import Record
from stagefloor.job.sheet import Bearing, FloorZone, KeepClear, Tendon
from stagefloor.steps.boxes.fit_outline import POSITIONS

CORNERS = ("x0", "y0", "x1", "y1")
PLACES: tuple[tuple[type[Record], tuple[str, ...]], ...] = (
    (FloorZone, CORNERS), (KeepClear, CORNERS), (Bearing, ("at",)), (Tendon, ("at",)))


def unplaced(job: Job) -> list[OpenItem]:
    """One item for each kind of thing of which one or more have no place."""
    items = []
    for cls, fields in PLACES:
        missing = [r for r in job.all(cls) if any(getattr(r, f) is None for f in fields)]
        if missing:
            names = ", ".join(r.name for r in missing)
            many = len(missing) > 1
            items.append(OpenItem(
                "no-place-yet", "boxes", f"{cls.noun.capitalize()}{'s' * many}",
                f"where {names} {'lie' if many else 'lies'} is not entered: no floor box is checked against "
                f"{'them' if many else 'it'}",
                f"{len(missing)} of {len(job.all(cls))}", "the job sheet",
                "measure the place and enter it, or delete what is not there", TO_DO, POSITIONS, (cls.kind, missing[0].id),
                f"Where is each {cls.noun}{f' ({names})' if cls is KeepClear else ''}?"))
    return items
