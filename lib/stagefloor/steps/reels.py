"""Which piece is cut from which reel: no joints, no reel overdrawn, the least cable bought. Metres. Knows no job."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, gcd, isfinite

from stagefloor.core.problems import Problem
from stagefloor.core.units import length_text
from stagefloor.steps.reels_exact import Pattern, Stock, price, solve

SECONDS = 3.0  # for one cable type
NOT_NAMED = 100  # times the cost of a reel that nobody named, so that it comes last
Pieces = Sequence[tuple[str, float]]
Reels = Sequence[tuple[str, float, int | None]]


@dataclass(frozen=True)
class CutReel:
    """One reel: its cuts (id, metres), longest first, and what is left after the end loss, m."""

    name: str
    number: int
    metres: float
    bought: bool
    cuts: tuple[tuple[str, float], ...]
    left: float


@dataclass(frozen=True)
class CutPlan:
    """The cut list. `bound` is on `cost`: metres bought weigh before reels cut; `problems` are sentences."""

    reels: tuple[CutReel, ...]
    cost: int
    bound: int
    first_fit_cost: int
    least_reels: int | None
    stopped_early: bool
    uncut: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def proven(self) -> bool:
        return self.cost == self.bound

    @property
    def bought(self) -> float:
        """Metres bought."""
        return sum(r.metres for r in self.reels if r.bought)


def cut(
    pieces: Pieces,
    reels: Reels,
    end_loss_m: float,
    seconds: float = SECONDS,
    stop: Callable[[], bool] | None = None,
    display: str = "m",
) -> CutPlan:
    """Which piece comes from which reel.

    Parameters
    ----------
    pieces : (id, metres), each cut once in one piece; rounded up to a millimetre
    reels : (name, metres, number in the shop, or None for one that is bought in any number); rounded down
    end_loss_m : lost on each reel that is cut, m
    seconds : time allowed, s; stop : asked often, True ends the search; display : unit of the sentences

    Returns
    -------
    CutPlan : the least length bought, then the fewest reels cut; never worse than first-fit decreasing. If no
        reel can be bought, the longest one may be added, and a sentence says so.

    Raises
    ------
    Problem : a length that is not above zero, an id or reel named twice, no reel
    """
    _refuse(pieces, reels, end_loss_m)
    loss = ceil(end_loss_m * 1000 - 1e-6)
    size = {name: ceil(metres * 1000 - 1e-6) for name, metres in pieces}
    kinds = [(name, floor(metres * 1000 + 1e-6), n) for name, metres, n in reels]
    longest = max((k for k in kinds if k[2] != 0), key=lambda k: k[1], default=kinds[0])
    sold = max((k[1] for k in kinds if k[2] is None), default=0) - loss
    added = sold <= 0 or any(sold < s <= longest[1] - loss for s in size.values())
    if added:
        kinds.append((f"one more like {longest[0]}", longest[1], None))
    kinds = [k for k in kinds if k[1] > loss and k[2] != 0]
    room = max((k[1] - loss for k in kinds), default=0)
    long = [i for i in size if size[i] > room]
    problems = [
        f"Cable {i} is {length_text(size[i] / 1000, display)} long and the longest reel gives "
        f"{length_text(room / 1000, display)} after its end loss; order a longer reel."
        for i in long
    ]
    held: dict[int, list[str]] = defaultdict(list)
    for i in size:
        if size[i] <= room:
            held[size[i]].append(i)
    if not held:
        return CutPlan((), 0, 0, 0, 0, False, tuple(long), tuple(problems))
    sizes = sorted(held, reverse=True)
    bought = [k[1] if k[2] is None else 0 for k in kinds]
    unit, weight = gcd(*bought), sum(map(len, held.values())) + 1
    cost = [b // unit * weight + 1 for b in bought]
    if added:
        cost[-1] *= NOT_NAMED
    cost = [c // gcd(*cost) for c in cost]
    stock = Stock(
        tuple(sizes),
        tuple(len(held[s]) for s in sizes),
        tuple(k[1] - loss for k in kinds),
        tuple(k[2] for k in kinds),
        tuple(cost),
    )
    patterns, plain, bound, early = solve(stock, seconds, stop)
    found = _cut_list(patterns, kinds, loss, sizes, held)
    check_plan(size, kinds, loss, found)
    if added and (more := sum(r.name == kinds[-1][0] for r in found)):
        problems.append(
            f"The reels named are too few; {more} more of {length_text(longest[1] / 1000, display)}"
            " are in this plan: buy them, or name more reels."
        )
    only = bound // cost[0] if len(kinds) == 1 else None
    return CutPlan(
        found, price(stock, patterns), bound, price(stock, plain), only, early, tuple(long), tuple(problems)
    )


def _refuse(pieces: Pieces, reels: Reels, end_loss_m: float) -> None:
    if not reels:
        raise Problem("No reel is named; type the length of the reel with the cable type.")
    for what, rows in (("Cable", [(n, m) for n, m in pieces]), ("Reel", [(n, m) for n, m, _ in reels])):
        seen: set[str] = set()
        for name, metres in rows:
            if not isfinite(metres) or metres <= 0:
                raise Problem(f"{what} {name} has a length of {metres:g} m; type a length above zero.")
            if name in seen:
                raise Problem(f"{what} {name} is there twice; give each a name of its own.")
            seen.add(name)
    for name, _, n in reels:
        if n is not None and n < 0:
            raise Problem(f"Reel {name} is there {n} times; type 0 or more.")
    if not isfinite(end_loss_m) or end_loss_m < 0:
        raise Problem(f"The loss at a reel end is {end_loss_m:g} m; type 0 or more.")


def _cut_list(
    patterns: list[Pattern],
    kinds: list[tuple[str, int, int | None]],
    loss: int,
    sizes: list[int],
    held: dict[int, list[str]],
) -> tuple[CutReel, ...]:
    waiting = {s: list(names) for s, names in held.items()}
    count: dict[int, int] = defaultdict(int)
    found = []
    for kind, counts in sorted(patterns, key=lambda p: (kinds[p[0]][2] is None, p[0])):
        name, length, n = kinds[kind]
        count[kind] += 1
        cuts = tuple((waiting[sizes[i]].pop(0), sizes[i] / 1000) for i, m in sorted(counts) for _ in range(m))
        left = length - loss - sum(sizes[i] * m for i, m in counts)
        found.append(CutReel(name, count[kind], length / 1000, n is None, cuts, left / 1000))
    return tuple(found)


def check_plan(
    size: dict[str, int], kinds: list[tuple[str, int, int | None]], loss: int, found: Sequence[CutReel]
) -> None:
    """Raise RuntimeError (a bug) if a cable is cut twice, a reel overdrawn or a reel is not there."""
    seen: set[str] = set()
    used: dict[str, int] = defaultdict(int)
    number = {name: (length, n) for name, length, n in kinds}
    for reel in found:
        names = [i for i, _ in reel.cuts]
        used[reel.name] += 1
        length, n = number[reel.name]
        if seen & set(names) or len(set(names)) != len(names):
            raise RuntimeError(f"a cable of reel {reel.name} is cut twice")
        if sum(size[i] for i in names) + loss > length or (n is not None and used[reel.name] > n):
            raise RuntimeError(f"reel {reel.name} is overdrawn")
        seen.update(names)
