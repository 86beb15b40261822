"""A second look at the fit of boxes that are not where they were planned: what is open at the place where they are."""

from dataclasses import replace

from stagefloor.core.open_items import OpenItem
from stagefloor.job.model import Job
from stagefloor.steps.boxes import fit
from stagefloor.steps.closeout.built import as_built, built_job

BUILT = "as built, "


def refit(job: Job) -> list[OpenItem]:
    """What the fit rules say of the places as built and did not say, or said otherwise, of the planned ones.

    Of a point out of reach, a crossed path and a neighbour that is overlapped as well as of the box that moved. A measure
    that is not entered is taken as planned.
    """
    if not any(d.others or any(b not in (None, p) for p, b in zip(d.planned, d.built, strict=True)) for d in as_built(job)):
        return []
    before = {(i.code, i.subject, i.what, i.amount) for i in fit.open_items(job)}
    return [
        replace(i, code=f"built-{i.code}", step="closeout", what=BUILT + i.what,
                cure=f"{i.cure}; it is built, so tell the one who decides before anything is cut again")
        for i in fit.open_items(built_job(job)) if (i.code, i.subject, i.what, i.amount) not in before
    ]
