"""What each raceway holds, how full it is, and the size that takes it now and with growth. Lengths in metres."""

import math
import re
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache

from stagefloor.calculations.raceways import conduit_space, raceway_fill, smallest_trade_size, trunking_fill
from stagefloor.core.problems import Problem
from stagefloor.core.units import INCH
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.cables import Node, Segment
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.steps.cables.lines import Line, lines, one_a_cable
from stagefloor.steps.paths import segment_length

# The fill rule depends on the system: mandatory for power and fixed audio, a design rule for communications.
SYSTEM_OF = {"microphone": "fixed audio", "line and intercom": "fixed audio", "loudspeaker": "fixed audio",
             "video and data": "communications", "control": "communications", "mains": "power", "any": "fixed audio"}


FREE = ("free path", "fished through", "cable tray")  # cables lie open: no fill rule of a raceway
IN_MM = ("metal conduit in mm", "plastic conduit in mm")
BY_SPACE = ("trunking", *IN_MM)  # filled by the area inside and a space factor
NOT_SIZED = (*FREE, "flexible metal conduit")
RECTANGLE = re.compile(r"([\d.]+)\s*[x\u00d7]\s*([\d.]+)\s*(mm|cm|in)\b", re.I)
ROUND = re.compile(r"inside\s*([\d.]+)\s*(mm|in)\b", re.I)


@dataclass(frozen=True)
class Raceway:
    """One raceway with the cables in it. `size` is the one drawn or, if none is, the smallest that also takes growth.

    Attributes
    ----------
    diameters : of the cables in it, m; ready-made assemblies are not among them
    fill, grown : now and with the job's growth; in trunking of all that share the compartment
    shared : names of the raceways that share its compartment, itself among them; empty if it is alone
    heads : largest heads of the assemblies that go through it, m
    """

    segment: Segment
    metres: float | None
    diameters: tuple[float, ...]
    size: str
    size_now: str
    size_grown: str
    fill: Working | None
    problem: str = ""
    grown: Working | None = None
    shared: tuple[str, ...] = ()
    heads: tuple[float, ...] = ()

    @property
    def area(self) -> float:
        return sum(math.pi / 4 * d * d for d in self.diameters)

    def area_working(self, display: str) -> Working:
        """The cable in it, as circles, in the user's unit."""
        unit, per, thin, wide = ("in²", 1 / INCH**2, "in", 1 / INCH) if display == "ft-in" else ("mm²", 1e6, "mm", 1e3)
        kinds = Counter(self.diameters)
        return Working(f"Cable area in {self.segment.name}, {self.segment.signal_class}", "A = sum of n pi d^2 / 4",
                       tuple(v for i, (d, n) in enumerate(kinds.items(), 1) for v in
                             (Value(f"n{i}", "cables", n), Value(f"d{i}", "diameter", d * wide, thin))),
                       Value("A", "cable area", self.area * per, unit), (Basis("cable types of this job", JOB),))

    @property
    def spare(self) -> bool:
        """Whether it is empty, kept for later."""
        s = self.segment
        return not (self.diameters or self.heads or s.blocked or s.full or s.used_percent or s.signal_class == "mains")


def raceways(job: Job, known: list[Line] | None = None) -> list[Raceway]:
    """Every raceway of the job with what is in it."""
    through: dict[str, list[float]] = {}
    heads: dict[str, list[float]] = {}
    for line in one_a_cable(lines(job) if known is None else known):
        if line.type is None:
            continue
        # an assembly is outside the fill of cut cable: its head sizes the raceway
        size = line.type.head if line.type.assembly else line.type.diameter
        if size is None or not size.si:
            continue
        for segment in line.way.segments:
            (heads if line.type.assembly else through).setdefault(segment, []).append(size.si)
    together = compartments(job)
    made: dict[tuple[str, ...], tuple[Working | None, Working | None, str]] = {}
    found = []
    for s in job.all(Segment):
        own, head = tuple(through.get(s.id, ())), tuple(heads.get(s.id, ()))
        if s.way not in BY_SPACE:
            found.append(replace(_raceway(job, s, own, head), heads=head))
            continue
        group = together.get(s.id, (s,))
        ids = tuple(t.id for t in group)
        if ids not in made:
            made[ids] = _by_space(job, s, tuple(d for i in ids for d in through.get(i, ())))
        fill, grown, problem = made[ids]
        found.append(Raceway(s, segment_length(job, s), own, s.size, "", "", fill, problem, grown,
                             tuple(t.name for t in group) if len(group) > 1 else (), head))
    return found


def compartments(job: Job) -> dict[str, tuple[Segment, ...]]:
    """Raceway id -> the raceways that share its compartment, for every one that shares."""
    groups: dict[tuple[str, str, str], list[Segment]] = {}
    for s in job.all(Segment):
        if s.compartment.strip() and not s.blocked:
            groups.setdefault((min(s.start, s.end), max(s.start, s.end), s.compartment.strip().lower()), []).append(s)
    return {s.id: tuple(group) for group in groups.values() if len(group) > 1 for s in group}


def inside_of_size(size: str) -> tuple[float, float] | float | None:
    """Inside of trunking (width, height) or of a conduit in mm (diameter) from its size as typed, m; None if not said."""
    if box := RECTANGLE.search(size):
        per = LENGTHS[box[3].lower()]
        return float(box[1]) * per, float(box[2]) * per
    bore = ROUND.search(size)
    return float(bore[1]) * LENGTHS[bore[2].lower()] if bore else None


LENGTHS = {"mm": 1e-3, "cm": 1e-2, "in": INCH}


def inside_diameter(r: Raceway) -> float | None:
    """Inside diameter of a round raceway, m; None if its size is not known or it is not round."""
    if r.segment.way in IN_MM:
        bore = inside_of_size(r.segment.size)
        return bore if isinstance(bore, float) else None
    return dict(_sizes(r.segment.way)).get(r.size)


def _by_space(job: Job, segment: Segment, diameters: tuple[float, ...]) -> tuple[Working | None, Working | None, str]:
    """(fill now, with growth, what is missing) of a raceway that goes by its inside area and a space factor."""
    if not diameters:
        return None, None, ""
    growth, factor = (job.settings.growth_percent or 0.0) / 100, (job.settings.space_percent or 45.0) / 100
    try:
        room = inside_of_size(segment.size)
        if segment.way == "trunking" and isinstance(room, tuple):
            now, grown = (trunking_fill(diameters, *room, growth=g, space_factor=factor) for g in (0.0, growth))
        elif segment.way != "trunking" and isinstance(room, float):
            now, grown = (conduit_space(diameters, room, growth=g, space_factor=factor) for g in (0.0, growth))
        else:
            example = "50 x 50 mm" if segment.way == "trunking" else "25 mm, inside 22 mm"
            return None, None, f"its inside is not known: type its size, for example {example}"
    except Problem as problem:
        return None, None, problem.sentence
    return now, _named(grown) if growth else now, ""


def _named(fill: Working) -> Working:
    return replace(fill, name=f"With growth: {fill.name[0].lower()}{fill.name[1:]}")


def _raceway(job: Job, segment: Segment, diameters: tuple[float, ...], heads: tuple[float, ...]) -> Raceway:
    metres = segment_length(job, segment)
    if segment.way in NOT_SIZED or not (diameters or heads):
        return Raceway(segment, metres, diameters, segment.size, "", "", None)
    system = SYSTEM_OF[segment.signal_class]
    growth = (job.settings.growth_percent or 0.0) / 100
    try:
        now = _larger(_smallest(diameters, segment.way, 0.0, system), _through(heads, segment.way), segment.way)
        grown = _larger(_smallest(diameters, segment.way, growth, system), now, segment.way)
        if not diameters:
            return Raceway(segment, metres, diameters, segment.size or grown, now, grown, None)
        size = segment.size or grown
        fill = raceway_fill(diameters, segment.way, size, system=system)
        more = raceway_fill(diameters, segment.way, size, system=system, growth=growth)
        more = _named(more)
        if segment.existing and segment.used_percent:
            fill, more = _with_found(fill, segment.used_percent), _with_found(more, segment.used_percent)
        return Raceway(segment, metres, diameters, size, now, grown, fill, grown=more)
    except Problem as problem:
        return Raceway(segment, metres, diameters, segment.size, "", "", None, problem.sentence)


@lru_cache(maxsize=1000)
def _smallest(diameters: tuple[float, ...], raceway: str, growth: float, system: str) -> str:
    return smallest_trade_size(diameters, raceway, growth=growth, system=system)[0] if diameters else ""


def needed_size(job: Job, segment: Segment, diameters: tuple[float, ...]) -> str:
    """The trade size that is drawn for a raceway, else the smallest that takes these cables with the job's growth."""
    growth = (job.settings.growth_percent or 0.0) / 100
    return segment.size or _smallest(diameters, segment.way, growth, SYSTEM_OF[segment.signal_class])


def _sizes(raceway: str) -> list[tuple[str, float]]:
    """(trade size, inside diameter in m) of a kind of raceway, the smallest first."""
    rows = [r for r in tables.load("nec_ch9_table4_raceways") if r.key[0] == raceway]
    return sorted(((r.key[1], r.si("id")) for r in rows), key=lambda x: x[1])


def _through(heads: tuple[float, ...], raceway: str) -> str:
    """The smallest trade size that the largest head goes through."""
    if not heads:
        return ""
    size = next((s for s, bore in _sizes(raceway) if bore > max(heads)), None)
    if size is None:
        raise Problem(f"a head of {max(heads) * 1000:.0f} mm goes through no {raceway} of the table; take trunking")
    return size


def _larger(a: str, b: str, raceway: str) -> str:
    order = {size: i for i, (size, _) in enumerate(_sizes(raceway))}
    return max(a, b, key=lambda size: order.get(size, -1))


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
