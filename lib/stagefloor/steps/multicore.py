"""Multicore against single cables: for the lines of one kind to one box, which mix costs least. For the office."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import pi

from stagefloor.core.units import FOOT, INCH
from stagefloor.core.workings import ARITHMETIC, PRACTICE, SHOP, Basis, Value, Working
from stagefloor.job.boxes import Box
from stagefloor.job.cables import CableType
from stagefloor.job.model import Job
from stagefloor.steps.cables import Line
from stagefloor.steps.cut_list import is_pulled
from stagefloor.steps.labour.listed import metre_price
from stagefloor.steps.labour.rows import money, rounded

# Kinds whose lines may share one multicore: balanced audio lines of one level.
SHARED_KINDS = ("microphone", "line", "intercom")


@dataclass(frozen=True)
class Comparison:
    """The lines of one kind to one box: single cables against the cheapest mix with multicores.

    `mix`: (cable type, how many); areas in square metres, None if a diameter is not known.
    """

    box: Box
    kind: str
    lines: int
    metres: float
    singles: Decimal
    mixed: Decimal
    mix: tuple[tuple[str, int], ...]
    area_singles: float | None
    area_mixed: float | None
    working: Working

    @property
    def saving(self) -> Decimal:
        return self.singles - self.mixed


def cheapest_mix(lines: int, options: Sequence[tuple[int, Decimal]]) -> tuple[Decimal, tuple[int, ...]]:
    """The cheapest way to carry a number of lines.

    Parameters
    ----------
    lines : one or more; options : (lines that one cable carries, what it costs), at least one

    Returns
    -------
    (cost, how many of each option). Cables may have lines to spare.
    """
    best: list[tuple[Decimal, tuple[int, ...]]] = [(Decimal(0), (0,) * len(options))]
    for n in range(1, lines + 1):
        found = []
        for at, (carries, cost) in enumerate(options):
            before, counts = best[max(0, n - carries)]
            found.append((before + cost, tuple(c + (i == at) for i, c in enumerate(counts))))
        best.append(min(found, key=lambda f: (f[0], sum(f[1]))))
    return best[lines]


def comparisons(job: Job, lines: Sequence[Line]) -> tuple[list[Comparison], list[str]]:
    """A comparison for each box and kind that a multicore could serve, and a sentence for each that lacks a price."""
    cores: dict[str, list[CableType]] = defaultdict(list)
    for t in job.all(CableType):
        if t.lines > 1 and not t.assembly:
            cores[t.what].append(t)
    groups: dict[tuple[str, str], list[Line]] = defaultdict(list)
    for line in lines:
        if line.cable and line.type and line.type.lines <= 1 and len(line.cable.circuits) == 1 and line.metres > 0 \
                and line.circuit.what in SHARED_KINDS and not is_pulled(job, line):
            groups[line.box.id, line.circuit.what].append(line)
    found, missing = [], []
    for (_, kind), held in groups.items():
        if len(held) < 2 or not cores[kind] or held[0].type is None:
            continue
        types = [held[0].type, *cores[kind]]
        bare = [t.label for t in types if metre_price(job, t)[0] is None]
        if bare:
            missing.append(f"{', '.join(bare)}: no price, so it is not compared.")
            types = [t for t in types if t.label not in bare]
        if len(types) > 1 and types[0] is held[0].type:
            found.append(_compare(job, held[0].box, kind, held, types))
    return found, list(dict.fromkeys(missing))


def _compare(job: Job, box: Box, kind: str, held: Sequence[Line], types: Sequence[CableType]) -> Comparison:
    metres, n = max(x.metres for x in held), len(held)
    per_metre = [metre_price(job, t)[0] or Decimal(0) for t in types]
    each = [rounded(p * Decimal(repr(metres))) for p in per_metre]
    singles = n * each[0]
    mixed, counts = cheapest_mix(n, [(max(1, t.lines), c) for t, c in zip(types, each, strict=True)])
    mix = tuple((t.label, c) for t, c in zip(types, counts, strict=True) if c)
    unit, per = ("ft", 1 / FOOT) if job.settings.units == "ft-in" else ("m", 1.0)
    values = [Value("n", f"{kind} lines to {box.label}", n), Value("L", "longest of them", metres * per, unit)]
    for i, (t, cost, count) in enumerate(zip(types, each, counts, strict=True)):
        values += [Value(f"p{i}", f"lines in one {t.label}", max(1, t.lines)),
                   money(f"c{i}", f"one {t.label} of length L", cost),
                   Value(f"k{i}", f"{t.label} in the cheapest mix", count)]
    alone, together = _area([(types[0], n)]), _area(list(zip(types, counts, strict=True)))
    working = Working(
        f"Multicore against single cables, {kind} to {box.label}", "M = k0 c0 + k1 c1 + ... with k0 p0 + k1 p1 + ... >= n",
        tuple(values), money("M", "cable of the cheapest mix", mixed),
        (Basis("the shop's prices", SHOP), Basis("every mix compared", ARITHMETIC),
         Basis("lines of one level and kind may share a multicore", PRACTICE)),
        money("S", "single cables, n c0", singles), "<=",
        ("Cable only. Both have as many ends to make; sorting the pairs of a multicore takes longer, pulling it is quicker.",
         "A multicore can't be split to another box later, and one cut takes all its lines."),
        (money("s", "saved", singles - mixed),
         *(Value("A", words, a * (1 / INCH**2 if unit == "ft" else 1e6), "in²" if unit == "ft" else "mm²")
           for words, a in (("cable area, single cables", alone), ("cable area, mix", together)) if a is not None)))
    return Comparison(box, kind, n, metres, singles, mixed, mix, alone, together, working)


def saved(found: Sequence[Comparison]) -> Working:
    """What multicores would save where they cost less, all places together."""
    better = [c for c in found if c.saving > 0]
    return Working("Saved by multicores where they cost less", "S = s1 + s2 + ...",
                   tuple(money(f"s{i}", f"{c.kind} to {c.box.label}", c.saving) for i, c in enumerate(better, 1)),
                   money("S", "saved", sum((c.saving for c in better), Decimal(0))),
                   (Basis("each place compared by itself", ARITHMETIC),))


def _area(cables: Sequence[tuple[CableType, int]]) -> float | None:
    used = [(t.diameter.si if t.diameter else 0.0, n) for t, n in cables if n]
    return sum(n * pi / 4 * d * d for d, n in used) if all(d for d, _ in used) else None
