"""What-if edits of a job: the rack elsewhere, a raceway out. Each returns a changed job and writes nothing."""

from collections.abc import Sequence

from stagefloor.core.problems import Problem
from stagefloor.core.units import FOOT, Quantity
from stagefloor.job.cables import Node, Segment
from stagefloor.job.edit import set_fields
from stagefloor.job.model import Job

HOW = ("blocked", "full")


def rack_moved(job: Job, dx: float, dy: float, dz: float = 0.0) -> Job:
    """The job with its rack elsewhere: its entry in the job sheet and the node of the raceways, metres.

    Raises Problem if no place of the rack is known.
    """
    s = job.settings
    racks = [n for n in job.all(Node) if n.what == "rack" and n.x is not None and n.y is not None]
    if not racks and (s.rack_x is None or s.rack_y is None):
        raise Problem("Where the rack is has not been entered; enter its place in the job sheet, then ask again.")
    if s.rack_x is not None and s.rack_y is not None:
        job = set_fields(job, "settings", "job", {
            "rack_x": _shifted(s.rack_x, dx), "rack_y": _shifted(s.rack_y, dy),
            **({"rack_z": _shifted(s.rack_z, dz)} if dz else {})})
    for n in racks[:1]:
        job = set_fields(job, "node", n.id, {"x": _shifted(n.x, dx), "y": _shifted(n.y, dy),
                                             **({"z": _shifted(n.z, dz)} if dz else {})})
    return job


def _shifted(at: Quantity | None, by: float) -> str:
    """A place moved by metres, in the unit it was typed in."""
    if at is None:
        return f"{by:.4f} m"
    if not by:
        return at.text
    feet = "ft" in at.text or "'" in at.text or '"' in at.text or "in" in at.text
    return f"{(at.si + by) / FOOT:.4f} ft" if feet else f"{at.si + by:.4f} m"


def raceway_out(job: Job, segments: Sequence[str], how: str = "blocked") -> Job:
    """The job with raceways out of use, or full, so that their lines look for another way."""
    if how not in HOW:
        raise Problem(f"A raceway can be {' or '.join(HOW)}, not '{how}'.")
    for i in segments:
        job.get(Segment, i)
        job = set_fields(job, "segment", i, {how: "yes"})
    return job


def between_same_nodes(job: Job, segment_id: str) -> list[str]:
    """A raceway and all that lie beside it between the same two points: what is lost if the run is."""
    s = job.get(Segment, segment_id)
    return [t.id for t in job.all(Segment) if {t.start, t.end} == {s.start, s.end} and not t.blocked]
