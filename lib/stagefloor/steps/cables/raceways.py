"""What each raceway holds, how full it is, and the size that takes it now and with growth. Lengths in metres."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from stagefloor.calculations.raceways import raceway_fill, smallest_trade_size
from stagefloor.core.problems import Problem
from stagefloor.core.workings import Value, Working
from stagefloor.job.cables import Node, Segment
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.steps.cables.lines import Line, lines, one_a_cable
from stagefloor.steps.paths import segment_length

# The fill rule depends on the system: mandatory for power and fixed audio, a design rule for communications.
SYSTEM_OF = {"microphone": "fixed audio", "line and intercom": "fixed audio", "loudspeaker": "fixed audio",
             "video and data": "communications", "control": "communications", "mains": "power", "any": "fixed audio"}


@dataclass(frozen=True)
class Raceway:
    """One raceway with the cables in it. `size` is the one drawn or, if none is, the smallest that also takes growth."""

    segment: Segment
    metres: float | None
    diameters: tuple[float, ...]
    size: str
    size_now: str
    size_grown: str
    fill: Working | None
    problem: str = ""

    @property
    def area(self) -> float:
        return sum(math.pi / 4 * d * d for d in self.diameters)


def raceways(job: Job, known: list[Line] | None = None) -> list[Raceway]:
    """Every raceway of the job with what is in it."""
    through: dict[str, list[float]] = {}
    for line in one_a_cable(lines(job) if known is None else known):
        if line.type is None or line.type.diameter is None or not line.type.diameter.si:
            continue
        for segment in line.way.segments:
            through.setdefault(segment, []).append(line.type.diameter.si)
    return [_raceway(job, s, tuple(through.get(s.id, ()))) for s in job.all(Segment)]


def _raceway(job: Job, segment: Segment, diameters: tuple[float, ...]) -> Raceway:
    metres = segment_length(job, segment)
    if not diameters or segment.way in ("free path", "cable tray", "trunking", "flexible metal conduit"):
        return Raceway(segment, metres, diameters, segment.size, "", "", None)
    system = SYSTEM_OF[segment.signal_class]
    growth = (job.settings.growth_percent or 0.0) / 100
    try:
        now = _smallest(diameters, segment.way, 0.0, system)
        grown = _smallest(diameters, segment.way, growth, system)
        fill = raceway_fill(diameters, segment.way, segment.size or grown, system=system)
        if segment.existing and segment.used_percent:
            fill = _with_found(fill, segment.used_percent)
        return Raceway(segment, metres, diameters, segment.size or grown, now, grown, fill)
    except Problem as problem:
        return Raceway(segment, metres, diameters, segment.size, "", "", None, problem.sentence)


@lru_cache(maxsize=1000)
def _smallest(diameters: tuple[float, ...], raceway: str, growth: float, system: str) -> str:
    return smallest_trade_size(diameters, raceway, growth=growth, system=system)[0]


def _with_found(fill: Working, percent: int) -> Working:
    """The fill with what was found in the raceway already; many cables by then, so that row of the table rules."""
    row = tables.load("nec_ch9_table1_fill").row("over 2")
    return replace(fill, formula=f"{fill.formula} + F_0", limit=row.shown("", "limit", "max_fill"),
                   basis=(row.basis(), *fill.basis[1:]),
                   inputs=(*fill.inputs, Value("F_0", "filled already, as found on site", percent, "%")),
                   result=replace(fill.result, amount=fill.result.amount + percent))


def name_between(job: Job, segment: Segment) -> str:
    a, b = job.find(Node, segment.start), job.find(Node, segment.end)
    return f"{a.name if a else '?'}–{b.name if b else '?'}"


def lines_through(known: list[Line], segment_id: str) -> list[Line]:
    return [line for line in known if segment_id in line.way.segments]


def between(job: Job) -> dict[tuple[str, str], list[Segment]]:
    """Raceways in use by the pair of nodes they lie between."""
    groups: dict[tuple[str, str], list[Segment]] = {}
    for s in job.all(Segment):
        if not s.blocked:
            groups.setdefault((min(s.start, s.end), max(s.start, s.end)), []).append(s)
    return groups
