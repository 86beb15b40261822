"""Why a plan is as it is, in sentences: what drives each box, what leaving a box or an event out does, what is near.

Every what-if is solved anew and says how far it is proven. One that beats the plan is adopted: the plan was not the
cheapest. Knows no job.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic

from stagefloor.steps.boxes.planner import PROVEN_GAP, solve
from stagefloor.steps.boxes.planner_problem import Plan, Problem, distance, read_problem

NEAR = 0.03  # an alternative that costs at most this fraction more is worth showing
MOST_ALTERNATIVES = 3


@dataclass(frozen=True)
class WhatIf:
    """One question asked anew. `least` and `most` bound the change of installed cost and weighted cable together (without
    the price put on unserved connections); `installed` is the change of money alone in the plan found, `unserved` that of
    connections not served."""

    question: str
    subject: str
    least: float
    most: float
    installed: float
    unserved: int
    plan: Plan
    sentence: str


@dataclass(frozen=True)
class Explanation:
    """Sentences first. `plan` is the plan explained, or a cheaper one that a what-if found (`adopted`)."""

    sentences: tuple[str, ...]
    what_ifs: tuple[WhatIf, ...]
    alternatives: tuple[Plan, ...]
    plan: Plan
    adopted: bool


def explain(problem: Problem, plan: Plan, seconds: float = 30.0, stop: Callable[[], bool] | None = None,
            solver: Callable[[Problem, float], Plan] | None = None,
            surface: Mapping[tuple[str, str], float] | None = None) -> Explanation:
    """Explain a plan within about `seconds`; the time is shared evenly among the what-ifs.

    `solver` answers the what-ifs (problem, seconds); the one that made the plan, else the comparison is uneven.
    `surface`: (demand, kind) -> cost of one connection through a multicore fixed on the surface, where one can go.
    """
    until = monotonic() + seconds
    usable, _ = read_problem(problem)
    questions = [*_without_box(usable, plan), *_without_event(usable), *_one_more(usable, plan)]
    what_ifs: list[WhatIf] = []
    for number, (question, subject, changed) in enumerate(questions):
        left = until - monotonic()
        if left <= 0 or (stop is not None and stop()):
            break
        share = max(0.2, left / (len(questions) - number))
        answer = solver(changed, share) if solver else solve(changed, share, stop=stop, start=plan)
        what_ifs.append(_what_if(question, subject, plan, answer))
    rivals = [w.plan for w in what_ifs if w.question == "without box"]
    # A rival may leave unserved what it can no longer reach, and that has no price: it must serve as much.
    equals = [p for p in rivals if _missing(p) <= _missing(plan)]
    best = min([plan, *equals], key=lambda p: p.costs.served)
    saved = plan.costs.served - best.costs.served
    adopted = saved > PROVEN_GAP * max(1.0, plan.costs.total)
    sentences = drivers(best if adopted else plan)
    if adopted:
        best = _adopted(plan, best)
        sentences.insert(0, f"While answering what-ifs a plan came up that has {saved:.2f} less of installed cost and cable "
                            "on the floor together, so the earlier plan was not the best; the better one is adopted here. "
                            "The what-ifs below still compare with the earlier plan.")
    else:
        best = plan
    alternatives = _alternatives(best, equals)
    sentences += one_more_event(plan, what_ifs, surface or {})
    sentences += [w.sentence for w in what_ifs]
    sentences += [_alternative(best, other) for other in alternatives]
    if len(what_ifs) < len(questions):
        sentences.append(f"{len(questions) - len(what_ifs)} of {len(questions)} what-ifs were not asked for lack of "
                         "time; allow more time to see them.")
    return Explanation(tuple(sentences), tuple(what_ifs), alternatives, best, adopted)


def drivers(plan: Plan) -> list[str]:
    """For each box and kind, the events that need the most there."""
    load: dict[tuple[str, str], dict[tuple[str, ...], int]] = defaultdict(lambda: defaultdict(int))
    for s in plan.services:
        load[s.candidate, s.kind][s.events] += s.count
    sentences = []
    for box in plan.boxes:
        if not box.need:
            sentences.append(f"The floor box at '{box.candidate}' serves nothing; it is there because it must be used.")
        for kind, need in sorted(box.need.items()):
            by = load[box.candidate, kind]
            driving = [" with ".join(events) for events, n in by.items() if n == need]
            rest = max((n for n in by.values() if n < need), default=0)
            spare = box.openings[kind] - need
            text = (f"The floor box at '{box.candidate}' has {box.openings[kind]} {kind} openings: {need} in use at "
                    f"once in {', '.join(driving)}" + (f", {spare} spare" if spare else "") + ".")
            if len(driving) == 1 and len(by) > 1:
                text += f" Without that, {rest} in use would be the most."
            sentences.append(text)
    return sentences


def one_more_event(plan: Plan, what_ifs: Sequence[WhatIf], surface: Mapping[tuple[str, str], float]) -> list[str]:
    """For each event that misses something, the cheapest change found that serves it whole, and what else would."""
    sentences = []
    for event in dict.fromkeys(u.event for u in plan.unserved):
        missed = [u for u in plan.unserved if u.event == event]
        ways = [(w.installed, f"{w.subject}, {change(plan, w.plan)}") for w in what_ifs
                if w.question == "serve more" and w.unserved < 0 and all(u.event != event for u in w.plan.unserved)]
        if all((u.demand, u.kind) in surface for u in missed):
            cost = sum(u.count * surface[u.demand, u.kind] for u in missed)
            ends = ", ".join(dict.fromkeys(u.demand for u in missed))
            ways.append((cost, f"a multicore fixed on the surface to {ends}, {cost:.2f} more; it stays in sight and needs "
                               "a cover where people walk"))
        lost = _connections(sum(u.count for u in missed))
        if not ways:
            sentences.append(f"{event} misses {lost}, and no single change that was tried serves it whole.")
            continue
        ways.sort()
        rest = "".join(f" Else: {words}." for _, words in ways[1:])
        sentences.append(f"{event} misses {lost}. The cheapest change found that serves it whole: {ways[0][1]}.{rest}")
    return sentences


def change(plan: Plan, other: Plan) -> str:
    """How much more or less another plan costs installed, and how much its cable on the floor weighs more or less."""
    parts = []
    for by, text in ((other.costs.installed - plan.costs.installed, "{} installed"),
                     (other.costs.loose_cable - plan.costs.loose_cable, "its cable on the floor weighs {}")):
        if abs(by) >= 0.005:
            parts.append(text.format(f"{abs(by):.2f} {'more' if by > 0 else 'less'}"))
    return " and ".join(parts) or "the same"


def _missing(plan: Plan) -> int:
    return sum(u.count for u in plan.unserved)


def _connections(count: int) -> str:
    return f"{count} connection{'' if count == 1 else 's'}"


def _without_box(problem: Problem, plan: Plan) -> list[tuple[str, str, Problem]]:
    pinned = {c.id for c in problem.candidates if c.pinned}
    return [("without box", b.candidate, replace(problem, candidates=tuple(
        replace(c, forbidden=True) if c.id == b.candidate else c for c in problem.candidates)))
        for b in plan.boxes if b.candidate not in pinned]


def _without_event(problem: Problem) -> list[tuple[str, str, Problem]]:
    found = []
    for event in problem.events if len(problem.events) > 1 else ():
        demands = tuple(replace(d, events=tuple(e for e in d.events if e != event)) for d in problem.demands
                        if d.events != (event,))
        found.append(("without event", event, replace(
            problem, demands=demands, events=tuple(e for e in problem.events if e != event),
            together=tuple(g - {event} for g in problem.together))))
    return found


def _one_more(problem: Problem, plan: Plan) -> list[tuple[str, str, Problem]]:
    """Changes that may serve what is not served: one more box, or the reach to the nearest position."""
    if not plan.unserved:
        return []
    policy, found = problem.policy, []
    if policy.max_boxes is not None and len(plan.boxes) >= policy.max_boxes:
        more = policy.max_boxes + 1
        found.append(("serve more", f"up to {more} floor boxes allowed", replace(
            problem, policy=replace(policy, max_boxes=more))))
    points = {d.id: d for d in problem.demands}
    farther: dict[str, float] = {}
    for u in plan.unserved:
        metres = min((distance(points[u.demand], c) for c in problem.candidates
                      if not c.forbidden and (u.demand, c.id) not in policy.blocked), default=0.0)
        if metres > policy.reach.get(u.kind, float("inf")):
            farther[u.kind] = min(metres, farther.get(u.kind, float("inf")))
    for kind, metres in sorted(farther.items()):
        found.append(("serve more", f"a reach of {metres:.2f} m for {kind}", replace(
            problem, policy=replace(policy, reach={**policy.reach, kind: metres}))))
    return found


def _what_if(question: str, subject: str, plan: Plan, answer: Plan) -> WhatIf:
    """The change of cost lies between the answer's bound and its cost, each against what is known of the plan."""
    most = answer.costs.served - plan.costs.served
    least = most - (answer.costs.total - answer.bound)
    unserved = _missing(answer) - _missing(plan)
    limit = f"at least {-most:.2f} less" if most < 0 else f"at most {most:.2f} more"
    how = "" if answer.proven else f" ({limit} together; the answer may be up to {100 * answer.gap:.1f} % too dear)"
    words = f"{change(plan, answer)}{how}"
    if question == "without box":
        sentence = f"Without a floor box at '{subject}': {words} in the best plan found"
        sentence += f", which leaves {_connections(unserved)} more unserved." if unserved > 0 else "."
    elif question == "without event":
        sentence = f"Without the event '{subject}': {words} in the best plan found."
    elif unserved < 0:
        events = sorted({u.event for u in plan.unserved} - {u.event for u in answer.unserved})
        verb = "is" if unserved == -1 else "are"
        sentence = (f"With {subject}, {_connections(-unserved)} more {verb} served: {words}."
                    + (f" Nothing is then missing in {', '.join(events)}." if events else ""))
    else:
        sentence = f"With {subject} nothing more is served."
    return WhatIf(question, subject, least, most, answer.costs.installed - plan.costs.installed, unserved, answer, sentence)


def _adopted(plan: Plan, better: Plan) -> Plan:
    """The better plan with the bound of the whole question: a bound without a position says nothing about it."""
    bound = min(plan.bound, better.costs.total)
    gap = (better.costs.total - bound) / better.costs.total if better.costs.total > 0 else 0.0
    return replace(better, bound=bound, gap=gap, proven=gap <= PROVEN_GAP, stopped_early=gap > PROVEN_GAP,
                   notes=plan.notes)


def _places(plan: Plan) -> frozenset[tuple[str, str]]:
    return frozenset((b.candidate, b.model) for b in plan.boxes)


def _alternatives(best: Plan, rivals: list[Plan]) -> tuple[Plan, ...]:
    seen, found = {_places(best)}, []
    for other in sorted(rivals, key=lambda p: p.costs.served):
        if other.costs.served <= best.costs.served * (1 + NEAR) and _places(other) not in seen:
            seen.add(_places(other))
            found.append(other)
    return tuple(found[:MOST_ALTERNATIVES])


def _alternative(best: Plan, other: Plan) -> str:
    mine, its = {b.candidate for b in best.boxes}, {b.candidate for b in other.boxes}
    gone, new = ", ".join(sorted(mine - its)), ", ".join(sorted(its - mine))
    swap = f"with floor boxes at {new} instead of {gone}" if new else f"without a floor box at {gone}"
    return f"Nearly as good: a plan {swap}, {change(best, other)}."
