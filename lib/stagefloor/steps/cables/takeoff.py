"""The takeoff: quantities by name, in pieces or metres."""

import math
from collections import defaultdict

from stagefloor.job.boxes import Opening
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.steps.cables.lines import Line, lines, one_a_cable
from stagefloor.steps.cables.raceways import LAID, Raceway, raceways

TRAY, SUPPORTS = "cable tray m", "cable supports"
NO_LENGTH = "lines without a length"  # they count as no metres, so it is said how many


def raceway_quantity(size: str) -> str:
    """The quantity that new raceway of a trade size counts as."""
    return f"raceway m: {size or 'size not known'}"


def is_tray(r: Raceway) -> bool:
    """Whether it is cable tray that the job puts up."""
    return r.laid and r.segment.way == "cable tray"


def supports(r: Raceway) -> int:
    """New hooks or rings along a free path: one for each spacing begun (common practice, no source)."""
    apart = r.segment.supports
    if not (r.laid and r.carries and r.segment.way == "free path" and r.metres and apart is not None and apart.si > 0):
        return 0
    return math.ceil(float(r.metres / apart.si) - 1e-9)


def takeoff(job: Job, known: list[Line] | None = None, in_raceways: list[Raceway] | None = None) -> dict[str, float]:
    """Quantities by name, in pieces or metres; the names that hours and prices count by."""
    found: dict[str, float] = defaultdict(float)
    all_lines = lines(job) if known is None else known
    boxes = {b.id: b for b in job.boxes()}
    for box in boxes.values():
        found["floor boxes" if box.surface == "floor" else "wall panels"] += 1
    live = [o for o in job.all(Opening) if o.state != "retired" and o.box in boxes]
    for o in live:
        found[f"openings: {o.what}"] += 1
    found["mains requests"] = len({o.box for o in live if o.what == "mains"})
    for line in all_lines:
        kind = line.circuit.what
        found[f"circuits: {kind}"] += 1
        found[f"tests: {kind}"] += 1
        found["labels"] += 1
        made_up = line.type is not None and line.type.assembly  # it comes with its ends on
        found[f"cable ends: {kind}"] += 0 if made_up else 2 if line.cable else 1
        if line.metres <= 0:
            found[NO_LENGTH] += 1
    pulls: set[tuple[str, str]] = set()
    for line in one_a_cable(all_lines):
        key = (line.box.id, line.signal_class)
        if line.type is not None and line.type.assembly:
            found[f"assemblies: {line.circuit.what}"] += 1  # bought whole, pulled like a cable
        else:
            found[f"cable m: {line.circuit.what}"] += line.metres
        found["added cables m" if key in pulls else "first cables m"] += line.metres
        pulls.add(key)
    found["pulls"] = len(pulls)
    for r in raceways(job, all_lines) if in_raceways is None else in_raceways:
        if r.metres is None or not r.laid:
            continue
        if r.to_lay:
            found[raceway_quantity(r.size)] += r.metres
            found["pull strings"] += r.segment.way not in LAID
        found[TRAY] += r.metres if is_tray(r) else 0.0
        found[SUPPORTS] += supports(r)
    for old in job.all(OldOutlet):
        found["old outlets removed" if old.after == "removed" else "old outlets blanked"] += 1
        if old.reuse and old.what != "mains":
            found["old lines tested"] += max(1, old.count)
    return {k: v for k, v in found.items() if v}
