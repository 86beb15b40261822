"""What each raceway holds, how full it is, and the size that takes it now and with growth. Lengths in metres."""

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from stagefloor.calculations.raceways import conduit_space, raceway_fill, smallest_trade_size, trunking_fill
from stagefloor.core.problems import Problem
from stagefloor.core.units import INCH
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.cables import CableType, Node, Segment
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.steps.cables.lines import Line, lines, one_a_cable
from stagefloor.steps.paths import segment_length

# The fill rule depends on the system: mandatory for power and fixed audio, a design rule for communications.
SYSTEM_OF = {"microphone": "fixed audio", "line and intercom": "fixed audio", "loudspeaker": "fixed audio",
             "video and data": "communications", "control": "communications", "mains": "power", "any": "fixed audio"}


FREE = ("free path", "fished through", "cable tray")  # cables lie open: no fill rule of a raceway
LAID = (*FREE, "trunking")  # cables are laid in or hung up, not pulled: no string
IN_MM = ("metal conduit in mm", "plastic conduit in mm")
BY_SPACE = ("trunking", *IN_MM)  # filled by the area inside and a space factor
NOT_SIZED = (*FREE, "flexible metal conduit")
RECTANGLE = re.compile(r"([\d.]+)\s*[x\u00d7]\s*([\d.]+)\s*(mm|cm|in)\b", re.I)
ROUND = re.compile(r"inside\s*([\d.]+)\s*(mm|in)\b", re.I)


@dataclass(frozen=True)
class Raceway:
    """One raceway with the cables in it. `size` is the one drawn or, if a new one has none, the smallest that also takes
    growth; the largest there is where growth fits no size.

    Attributes
    ----------
    diameters : of the cables in it, m; ready-made assemblies are not among them
    size_now, size_grown : trade sizes that take what is in it, now and with growth; empty if not known or none does
    fill, grown : now and with the job's growth; in trunking of all that share the compartment
    shared : names of the raceways that share its compartment, itself among them; empty if it is alone
    heads : largest heads of the assemblies that go through it, m
    unsized, headless : cable types in it without a diameter, assemblies without a head: an id a cable, empty without a type
    missing : what must be entered or measured before its fill is known, in words
    twin : another raceway stands for the compartment that it shares, where lengths are counted
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
    unsized: tuple[str, ...] = ()
    headless: tuple[str, ...] = ()
    missing: str = ""
    twin: bool = False

    @property
    def cables(self) -> int:
        """How many cut cables are in it."""
        return len(self.diameters) + len(self.unsized)

    @property
    def assemblies(self) -> int:
        return len(self.heads) + len(self.headless)

    @property
    def carries(self) -> bool:
        """Whether a cable of this job goes through it."""
        return bool(self.cables or self.assemblies)

    @property
    def laid(self) -> bool:
        """Whether the job lays it or puts it up: it carries a cable or is drawn as a spare, and is not there yet."""
        s = self.segment
        return not (s.existing or s.blocked or self.twin) and (self.carries or self.spare)

    @property
    def to_lay(self) -> bool:
        """Whether its length counts as new raceway; open ways do not: trays and supports are counted by themselves."""
        return self.laid and self.segment.way not in FREE

    @property
    def held(self) -> str:
        """What is in it, in words."""
        words = [f"{self.cables} cable{'' if self.cables == 1 else 's'}"] if self.cables else []
        return " and ".join([*words, f"{self.assemblies} made up"] if self.assemblies else words)

    @property
    def keeps_growth(self) -> bool | None:
        """Whether there is room for the job's growth; None where nothing is asked: no cut cable, or an open way."""
        if not self.cables or self.segment.way in FREE:
            return None
        return self.grown is not None and self.grown.holds is True

    @property
    def area(self) -> float:
        """Of the cables whose diameter is known, m2."""
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
        return not (self.carries or s.blocked or s.full or s.used_percent or s.signal_class == "mains")


@dataclass
class _Held:
    """What lies in one raceway, as `Raceway` has it."""

    diameters: tuple[float, ...] = ()
    heads: tuple[float, ...] = ()
    unsized: tuple[str, ...] = ()
    headless: tuple[str, ...] = ()

    def put(self, kind: CableType | None) -> None:
        """One more cable; an assembly is outside the fill of cut cable: its head sizes the raceway."""
        size = None if kind is None else kind.head if kind.assembly else kind.diameter
        known = size.si if size is not None and size.si else None
        if kind is not None and kind.assembly:
            self.heads, self.headless = (*self.heads, known) if known else self.heads, (
                self.headless if known else (*self.headless, kind.id))
        elif known:
            self.diameters = (*self.diameters, known)
        else:
            self.unsized = (*self.unsized, kind.id if kind else "")


def raceways(job: Job, known: list[Line] | None = None) -> list[Raceway]:
    """Every raceway of the job with what is in it."""
    held: dict[str, _Held] = {}
    for line in one_a_cable(lines(job) if known is None else known):
        for segment in line.way.segments:
            held.setdefault(segment, _Held()).put(line.type)
    together = compartments(job)
    made: dict[tuple[str, ...], tuple[Working | None, Working | None, str, str]] = {}
    counted: set[tuple[str, ...]] = set()
    found = []
    for s in job.all(Segment):
        own = held.get(s.id, _Held())
        r = Raceway(s, segment_length(job, s), own.diameters, s.size, "", "", None, heads=own.heads, unsized=own.unsized,
                    headless=own.headless)
        if s.way not in BY_SPACE:
            found.append(_by_size(job, r))
            continue
        group = together.get(s.id, (s,))
        ids = tuple(t.id for t in group)
        if ids not in made:
            made[ids] = _by_space(job, s, [held.get(i, _Held()) for i in ids], max(
                (t.used_percent for t in group if t.existing), default=0))
        fill, grown, problem, missing = made[ids]
        r = replace(r, fill=fill, grown=grown, problem=problem, missing=missing,
                    shared=tuple(t.name for t in group) if len(group) > 1 else (), twin=ids in counted)
        if r.laid:
            counted.add(ids)
        found.append(r)
    return found


def _missing(job: Job, unsized: Sequence[str], headless: Sequence[str] = ()) -> str:
    """What must be entered before the cables in a raceway have a size, in words; empty if nothing."""
    words = ["a cable has no type"] if "" in unsized else []
    for what, ids in (("diameter", unsized), ("largest head", headless)):
        names = sorted(t.name for i in {*ids} if i and (t := job.find(CableType, i)) is not None)
        words += [f"the {what} of {', '.join(names)} is not entered"] if names else []
    return "; ".join(words)


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


def narrowest(r: Raceway) -> float | None:
    """What the largest head must go through, m: the inside of a round raceway, the smaller side of trunking."""
    if r.segment.way == "trunking":
        room = inside_of_size(r.segment.size)
        return min(room) if isinstance(room, tuple) else None
    return inside_diameter(r)


def _by_space(job: Job, segment: Segment, held: Sequence[_Held],
              found_percent: int) -> tuple[Working | None, Working | None, str, str]:
    """(fill now, with growth, what is wrong with its size, what is missing of its cables) by inside area and space factor.

    `held` : of each raceway that shares the inside; `found_percent` : filled already, the most that was entered for it
    """
    diameters = tuple(d for h in held for d in h.diameters)
    missing = _missing(job, [i for h in held for i in h.unsized])
    if not (diameters or missing or any(h.heads or h.headless for h in held)):
        return None, None, "", ""
    growth, factor = (job.settings.growth_percent or 0.0) / 100, (job.settings.space_percent or 45.0) / 100
    room = inside_of_size(segment.size)
    if not isinstance(room, tuple if segment.way == "trunking" else float):
        example = "50 x 50 mm" if segment.way == "trunking" else "25 mm, inside 22 mm"
        return None, None, f"its inside is not known: type its size, for example {example}", missing
    if missing or not diameters:
        return None, None, "", missing
    try:
        now, grown = (trunking_fill(diameters, *room, growth=g, space_factor=factor) if isinstance(room, tuple) else
                      conduit_space(diameters, room, growth=g, space_factor=factor) for g in (0.0, growth))
    except Problem as problem:
        return None, None, problem.sentence, ""
    if found_percent:
        now, grown = _and_found(now, found_percent), _and_found(grown, found_percent)
    return now, _named(grown) if growth else now, "", ""


def _named(fill: Working) -> Working:
    return replace(fill, name=f"With growth: {fill.name[0].lower()}{fill.name[1:]}")


def _by_size(job: Job, r: Raceway) -> Raceway:
    """A raceway that goes by trade size, with its sizes and fill."""
    s = r.segment
    if s.way in NOT_SIZED or not r.carries:
        return r
    # an unknown head leaves the fill of the cut cables known, and the size to be chosen unknown
    if missing := _missing(job, r.unsized, () if s.size else r.headless):
        return replace(r, missing=missing)
    try:
        now, grown = _sizes_needed(job, s, r.diameters, r.heads)
        r = replace(r, size=needed_size(job, s, r.diameters, r.heads), size_now=now, size_grown=grown)
        if not r.size:
            return replace(r, missing="measure its size")
        if not r.diameters:
            return r
        system, growth = SYSTEM_OF[s.signal_class], (job.settings.growth_percent or 0.0) / 100
        fill = raceway_fill(r.diameters, s.way, r.size, system=system)
        more = _named(raceway_fill(r.diameters, s.way, r.size, system=system, growth=growth))
    except Problem as problem:
        return replace(r, size=s.size, size_now="", size_grown="", problem=problem.sentence)
    if s.existing and s.used_percent:
        fill, more = _with_found(fill, s.used_percent), _with_found(more, s.used_percent)
    return replace(r, fill=fill, grown=more)


@lru_cache(maxsize=1000)
def _smallest(diameters: tuple[float, ...], raceway: str, growth: float, system: str) -> str:
    return smallest_trade_size(diameters, raceway, growth=growth, system=system)[0] if diameters else ""


def needed_size(job: Job, segment: Segment, diameters: tuple[float, ...], heads: tuple[float, ...] = ()) -> str:
    """The trade size that is drawn for a raceway; else, of a new one, the smallest that takes these with the job's growth.

    Where growth fits no size it is the largest; empty for a raceway that is there already and was not measured. Raises
    Problem if nothing takes the cables themselves.
    """
    if segment.size or segment.existing:
        return segment.size
    return _sizes_needed(job, segment, diameters, heads)[1] or trade_sizes(segment.way)[-1]


def _sizes_needed(job: Job, segment: Segment, diameters: tuple[float, ...], heads: tuple[float, ...]) -> tuple[str, str]:
    """The smallest trade sizes that take these now and with the job's growth, the second empty if none does."""
    growth, system = (job.settings.growth_percent or 0.0) / 100, SYSTEM_OF[segment.signal_class]
    now = _larger(_smallest(diameters, segment.way, 0.0, system), _through(heads, segment.way), segment.way)
    try:
        return now, _larger(_smallest(diameters, segment.way, growth, system), now, segment.way)
    except Problem:
        return now, ""


def trade_sizes(raceway: str) -> list[str]:
    """The trade sizes of a kind of raceway, the smallest first."""
    return [size for size, _ in _sizes(raceway)]


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
    return replace(_and_found(fill, percent), limit=row.shown("", "limit", "max_fill"), basis=(row.basis(), *fill.basis[1:]))


def _and_found(fill: Working, percent: int) -> Working:
    """The fill and what was found in the raceway already; what is taken of a space factor goes up with it."""
    amount = fill.result.amount + percent
    return replace(fill, formula=f"{fill.formula} + F_0",
                   inputs=(*fill.inputs, Value("F_0", "filled already, as found on site", percent, "%")),
                   result=replace(fill.result, amount=amount), also=tuple(
                       replace(v, amount=v.amount * amount / fill.result.amount) if v.symbol == "q" else v
                       for v in fill.also))


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
