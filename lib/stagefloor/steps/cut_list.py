"""The cut list of a job: for each cable type which cable comes from which reel, bought or in the shop. Metres.

A cable that is pulled already is not cut again, and a ready-made assembly is never cut: it is bought in a length sold.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from stagefloor.core.units import FOOT, length_text, long_length_text
from stagefloor.core.words import counted
from stagefloor.core.workings import ARITHMETIC, JOB, PRACTICE, Basis, Value, Working
from stagefloor.job.cables import CableType, Circuit
from stagefloor.job.lists import SOLD, Reel
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.steps.cables import Line, one_a_cable
from stagefloor.steps.reels import CutPlan, cut

STEP = {"ft-in": 0.0254, "m": 0.01}  # cables are cut to the next inch or centimetre: common practice, no source
QUICK_SECONDS = 0.4  # for one cable type while the user types; 'look longer' takes more
DONE = ("pulled", "tested")

Key = tuple[tuple[tuple[str, float], ...], tuple[tuple[str, float, int | None], ...], float, str]
_found: dict[Key, tuple[float, CutPlan]] = {}  # what was searched already: seconds, the best plan
MOST_KEPT = 200


@dataclass(frozen=True)
class CutList:
    """The cut list of one cable type, or a sentence why there is none.

    Attributes
    ----------
    label : name of the cable type; cables : how many are to be cut; pulled : labels of those that are pulled already
    plan : which cable (by id) from which reel; working, pieces : how the reels and the cut lengths come about
    names : (cable id, its label)
    reels : (name of a reel in the plan, where it is in the shop); problem : what is missing, in a sentence
    """

    label: str
    type: CableType | None
    cables: int
    plan: CutPlan | None
    working: Working | None
    pieces: Working | None = None
    problem: str = ""
    names: tuple[tuple[str, str], ...] = ()
    reels: tuple[tuple[str, str], ...] = ()
    pulled: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """One sentence: how many reels, and whether fewer can do."""
        if self.plan is None or not self.plan.reels:
            told = " ".join(self.plan.problems) if self.plan else ""
            return self.problem or told or ("All of its cables are pulled." if self.pulled else "")
        bought = sum(r.bought for r in self.plan.reels)
        shop = len(self.plan.reels) - bought
        parts = [f"{bought} reel{'s' if bought != 1 else ''} to buy" if bought else "nothing to buy"]
        parts += [f"{shop} from the shop"] if shop else []
        words = f"{self.cables} cables: " + ", ".join(parts) + ". "
        if self.plan.proven:
            return words + "Proven: no other cut list buys less cable or cuts fewer reels."
        gap = self.plan.cost / self.plan.bound - 1 if self.plan.bound else 0.0
        least = self.plan.least_reels
        if least is not None:
            return words + f"Not proven: at least {least} reels are needed, so {len(self.plan.reels) - least} fewer " \
                           "might do. 'Look longer' may settle it."
        return words + f"Not proven: another cut list might take up to {gap:.0%} less. 'Look longer' may settle it."


@dataclass(frozen=True)
class Assembly:
    """A ready-made assembly for one cable: the length it must span, the shortest one that does (m), bought or there."""

    cable: str
    label: str
    type: CableType
    need: float
    length: float | None
    bought: bool = True
    problem: str = ""


def is_pulled(job: Job, line: Line) -> bool:
    """Whether the cable of a line is in already: each circuit that it carries is pulled or tested."""
    held = [c for i in (line.cable.circuits if line.cable else ()) if (c := job.find(Circuit, i)) and c.state != "retired"]
    return bool(held) and all(c.state in DONE for c in held)


def cable_name(line: Line) -> str:
    """What a cable is called: its own id, or the line's designator where it has none."""
    return (line.cable.label if line.cable else "") or line.circuit.label


def cut_length(metres: float, display: str) -> float:
    """What the crew cuts: the length, up to the next inch or centimetre."""
    step = STEP[display]
    return ceil(metres / step - 1e-6) * step


def cut_text(metres: float, display: str) -> str:
    """A length of the cut list to read; the millimetre that rounding may have added is left out."""
    return length_text(round(metres / STEP[display]) * STEP[display], display)


def cut_lists(job: Job, lines: Sequence[Line], seconds: float = QUICK_SECONDS) -> list[CutList]:
    """The cut list of each cable type, in the order in which the types first appear. `seconds`: for one type."""
    groups: dict[str, list[Line]] = defaultdict(list)
    for line in one_a_cable(lines):
        if line.type is None or not line.type.assembly:
            groups[line.type.id if line.type else ""].append(line)
    return [_of_type(job, held, seconds) for held in groups.values()]


def _waiting(many: int) -> str:
    return f"{counted(many, 'cable')} {'waits' if many == 1 else 'wait'}"


def _of_type(job: Job, held: Sequence[Line], seconds: float) -> CutList:
    kind, display = held[0].type, job.settings.units
    loss = tables.fact("takeoff_allowances", "reel_end_low")
    label = (kind.label or kind.what) if kind else "no cable type"
    pulled = tuple(cable_name(x) for x in held if is_pulled(job, x))
    waiting = [x for x in held if not is_pulled(job, x)]
    names = tuple((x.cable.id, cable_name(x)) for x in held if x.cable)
    if kind is None:
        return CutList(label, None, len(waiting), None, None, None, f"{_waiting(len(held))}: these cables have no type; "
                       "choose one for each.", names, (), pulled)
    reels = stock(job, kind)
    if not reels and waiting:
        return CutList(label, kind, len(waiting), None, None, None, f"{_waiting(len(waiting))}: the reel length of "
                       f"{label} is not known; type it with the cable type, or add a reel.", names, (), pulled)
    to_cut = [x for x in waiting if cut_length(x.metres, display) > 0]
    known = tuple((x.cable.id, cut_length(x.metres, display)) for x in to_cut if x.cable)
    unknown = [cable_name(x) for x in waiting if x not in to_cut]
    problem = f"No length is known yet for {', '.join(unknown)}; place both ends or type it." if unknown else ""
    if not known:
        return CutList(label, kind, len(waiting), None, None, None, problem, names, (), pulled)
    plan = _named(_cut(known, tuple((n, m, k) for n, m, k, _ in reels), loss.si(), display, seconds), dict(names))
    working = _working(plan, label, {n: m for n, m, _, _ in reels}, loss, display) if plan.reels else None
    pieces = _pieces([(cable_name(x), x.metres) for x in to_cut if x.cable], label, display)
    return CutList(label, kind, len(waiting), plan, working, pieces, problem, names,
                   tuple((n, w) for n, _, _, w in reels), pulled)


def _named(plan: CutPlan, names: dict[str, str]) -> CutPlan:
    """The plan with cables called by their labels in its sentences."""
    told = tuple(f"Cable {names[i]}" + p.removeprefix(f"Cable {i}")
                 for i, p in zip(plan.uncut, plan.problems, strict=False))
    return replace(plan, problems=told + plan.problems[len(told):])


def stock(job: Job, kind: CableType) -> list[tuple[str, float, int | None, str]]:
    """(name, metres, how many or None for any number, where it is) of each reel of a type; those in the shop first."""
    display = job.settings.units
    found: list[tuple[str, float, int | None, str]] = []
    mine = [(r, r.length.si) for r in job.all(Reel) if r.type == kind.id and r.length is not None and r.length.si > 0]
    for r, metres in sorted(mine, key=lambda x: x[0].what == SOLD):
        text = long_length_text(metres, display)
        if r.what == SOLD:
            found.append((f"{text} reel", metres, None, ""))
        elif r.count:
            found.append((r.label or f"leftover of {text}", metres, r.count, r.where))
    if kind.reel is not None and kind.reel.si > 0 and not any(r.what == SOLD for r, _ in mine):
        found.append((f"{long_length_text(kind.reel.si, display)} reel", kind.reel.si, None, ""))
    used: dict[str, int] = {}
    named: list[tuple[str, float, int | None, str]] = []
    for name, metres, count, where in found:
        used[name] = used.get(name, 0) + 1
        named.append((name if used[name] == 1 else f"{name} ({used[name]})", metres, count, where))
    return named


def _cut(pieces: tuple[tuple[str, float], ...], reels: tuple[tuple[str, float, int | None], ...], loss: float,
         display: str, seconds: float) -> CutPlan:
    """The plan for these pieces and reels; searched again only if it is not proven and more time is allowed now."""
    key = (pieces, reels, loss, display)
    spent, known = _found.get(key, (0.0, None))
    if known is not None and (known.proven or spent >= seconds):
        return known
    plan = cut(pieces, reels, loss, seconds, display=display)
    if known is not None and (known.cost, -known.bound) < (plan.cost, -plan.bound):
        plan = known
    if len(_found) >= MOST_KEPT:
        _found.pop(next(iter(_found)))
    _found[key] = (seconds, plan)
    return plan


def assemblies(job: Job, lines: Sequence[Line], pulled: bool = False) -> list[Assembly]:
    """The ready-made assemblies: each line that has one gets the shortest length that spans it, the shop's own first.

    `pulled`: with those that are in already; the price counts them, the purchase list does not.
    """
    found, display = [], job.settings.units
    mine = [x for x in one_a_cable(lines) if x.type is not None and x.type.assembly and (pulled or not is_pulled(job, x))]
    left = {r.id: r.count for r in job.all(Reel) if r.what != SOLD}
    for line in sorted(mine, key=lambda x: -x.metres):
        assert line.type is not None and line.cable is not None
        lengths = sorted(((r.length.si, r.what == SOLD, r.id) for r in job.all(Reel) if r.type == line.type.id and r.length
                          and r.length.si > 0), key=lambda x: (x[1], x[0]))
        fit = next((x for x in lengths if x[0] >= line.metres - 1e-9 and (x[1] or left[x[2]] > 0)), None)
        problem = ""
        if line.metres <= 0:
            fit, problem = None, "its length is not known yet"
        elif not lengths:
            problem = f"no length sold is entered for {line.type.label}"
        elif fit is None:
            problem = f"the longest one, {length_text(max(x[0] for x in lengths), display)}, is too short or used up"
        if fit is not None and not fit[1]:
            left[fit[2]] -= 1
        found.append(Assembly(line.cable.id, cable_name(line), line.type, line.metres, fit[0] if fit else None,
                              bool(fit and fit[1]), problem))
    return found


def totals(found: Sequence[CutList], display: str) -> Working:
    """Reels of all cable types together: how many to buy, how much cable is on them, how much stays on all reels."""
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    plans = [(c.label, c.plan) for c in found if c.plan is not None]
    bought = [r for _, p in plans for r in p.reels if r.bought]
    return Working(
        "Reels of all cable types", "N = n1 + n2 + ...",
        tuple(Value(f"n{i}", f"reels to buy, {label}", sum(r.bought for r in p.reels))
              for i, (label, p) in enumerate(plans, 1)),
        Value("N", "reels to buy", len(bought)), (Basis("the cut list of each cable type", JOB),),
        also=(Value("B", "on them", sum(r.metres for r in bought) * per, unit, 6),
              Value("h", "reels from the shop", sum(not r.bought for _, p in plans for r in p.reels)),
              Value("w", "left on these reels", sum(r.left for _, p in plans for r in p.reels) * per, unit, 6)))


def _pieces(cables: Sequence[tuple[str, float]], label: str, display: str) -> Working:
    """Each cable's length and what is cut for it."""
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    cut_m = [cut_length(metres, display) for _, metres in cables]
    return Working(
        f"Cut lengths, {label}", "c = L up to the next inch" if display == "ft-in" else "c = L up to the next centimetre",
        tuple(Value(f"L{i}", name, metres * per, unit, 5) for i, (name, metres) in enumerate(cables, 1)),
        Value("S", "cable to be cut", sum(cut_m) * per, unit, 6),
        (Basis("lengths of this job", JOB), Basis("up to the next inch or centimetre", PRACTICE)),
        also=tuple(Value(f"c{i}", f"cut for {name}", m * per, unit, 5) for i, ((name, _), m) in
                   enumerate(zip(cables, cut_m, strict=True), 1)))


def _working(plan: CutPlan, label: str, length: dict[str, float], loss: tables.Row, display: str) -> Working:
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    total = sum(m for r in plan.reels for _, m in r.cuts)
    left = sum(r.left for r in plan.reels)
    least = plan.least_reels
    values = [Value("S", "cable to be cut", total * per, unit, 5), Value("e", "lost at the ends of a reel", loss.si() * per,
                                                                          unit)]
    values += [Value(f"R{i}", f"on {name}", metres * per, unit) for i, (name, metres) in enumerate(length.items(), 1)]
    notes = ("No joints; each cable is cut in one piece.",
             "No plan buys less cable or, with as much, cuts fewer reels." if plan.proven else
             "A plan that takes less may be possible: the search stopped before it could be ruled out.", *plan.problems)
    return Working(
        f"Reels needed, {label}", "n = reels of the cut list; on each: cuts + e <= R", tuple(values),
        Value("n", "reels", len(plan.reels)),
        (loss.basis(), Basis("lengths of this job, each up to the next inch or centimetre", JOB),
         Basis("cutting plan, bound from the linear program over patterns", ARITHMETIC)),
        Value("b", "fewest that any plan needs", least) if least is not None else None, ">=", notes,
        (Value("B", "bought", plan.bought * per, unit, 5), Value("w", "left on all reels", left * per, unit, 5),
         *(Value(f"w{i}", f"left on {r.name}, no. {r.number}", r.left * per, unit, 5)
           for i, r in enumerate(plan.reels, 1))))
