"""What a new job begins with: generic models, cables, survey lines, hours and papers, all marked for what they are.

They are plain rows that the user edits; the shop's own figures replace them.
"""

from collections.abc import Mapping, Sequence

from stagefloor.calculations.copper import gauge_ohm_per_m
from stagefloor.core.problems import Problem, nearest
from stagefloor.job.edit import add
from stagefloor.job.inventory import KINDS
from stagefloor.job.model import RECORDS, Job
from stagefloor.reference.tables import Row, load
from stagefloor.steps.closeout import default_documents
from stagefloor.steps.labour import default_hour_units


def _origin(row: Row) -> str:
    return f"{row.source} ({row.status})"


def started(job: Job) -> Job:
    """The job with the starting rows added, in tables that are still empty."""
    lengths = ("across", "along", "body_across", "body_along", "depth", "flange", "front")
    counts = ("bays", "mains_bays", "openings", "mains_outlets")
    models: list[Mapping[str, object]] = [
        {"label": r.text("label"), "surface": r.text("surface"), "source": _origin(r),
         **{k: f"{r.text(k)} in" for k in lengths}, **{k: r.text(k) for k in counts}}
        for r in load("starter_box_models")]
    cables: list[Mapping[str, object]] = [
        {"label": r.text("label"), "what": r.text("what"), "diameter": f"{r.text('diameter')} mm",
         "awg": r.text("awg"), "source": _origin(r), **_resistance(r)} for r in load("starter_cable_types")]
    survey: list[Mapping[str, object]] = [{"topic": r.text("topic")} for r in load("starter_survey")]
    for kind, rows in (("survey", survey), ("boxmodel", models), ("cabletype", cables),
                       ("hourunit", _known("hourunit", default_hour_units(job.settings.floor_type))),
                       ("document", _known("document", default_documents()))):
        if not job.tables.get(kind):
            job, _ = add(job, kind, rows)
    return job


def _resistance(row: Row) -> dict[str, str]:
    return {"resistance": f"{gauge_ohm_per_m(row.text('awg')) * 1000:.4g} ohm/km"}


def _known(kind: str, rows: Sequence[Mapping[str, object]]) -> list[Mapping[str, object]]:
    return [{k: v for k, v in r.items() if k in RECORDS[kind].model_fields} for r in rows]


def packs() -> list[str]:
    """Names of the ready-made packs of connection points."""
    return load("packs").values("pack")


def pack_rows(pack: str, x: float, y: float, events: Sequence[str], unit: str) -> list[dict[str, object]]:
    """The points of a pack as rows to add: at x, y (metres), used in these events. `unit`: 'ft' or 'm'."""
    rows = [r for r in load("packs") if r.text("pack").lower() == pack.strip().lower()]
    if not rows:
        near = nearest(pack, packs())
        raise Problem(f"There is no pack '{pack[:40]}'" + (f"; did you mean '{near}'?" if near else "."))
    per = 1 / 0.3048 if unit == "ft" else 1.0
    return [{"label": r.text("what"), "what": r.text("what"), "x": f"{(x + r.si('dx')) * per:.4g} {unit}",
             "y": f"{(y + r.si('dy')) * per:.4g} {unit}", "events": list(events),
             **{k: r.text(k) for k in KINDS if r.text(k) != "0"}} for r in rows]
