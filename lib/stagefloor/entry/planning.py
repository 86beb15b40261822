"""The planner on screen: start, progress, stop, the answer in sentences, adopt it or leave it."""

import asyncio
import datetime
import logging
import re
from collections.abc import Sequence
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.core.units import INCH, length_text
from stagefloor.entry import show
from stagefloor.entry.session import Session
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.results.unit_costs import TO_COMPARE, currency_words, unit_costs
from stagefloor.steps.boxes import choice
from stagefloor.steps.boxes.choice_input import asks, cannot_use
from stagefloor.steps.boxes.choice_places import MOST_CANDIDATES
from stagefloor.steps.boxes.planner import PlannerError
from stagefloor.steps.boxes.planner_explain import drivers, explain
from stagefloor.steps.boxes.planner_problem import Plan
from stagefloor.steps.boxes.planner_problem import Problem as Question
from stagefloor.steps.boxes.planner_whole import solve_whole
from stagefloor.steps.paths import where_text

SECONDS = 30.0
WHAT_IF_SECONDS = 60.0
NOT_SHOWN = ("The plan that came out breaks a rule of its own check, so it is not shown; nothing was changed. "
             "That is a fault in the program: tell whoever looks after the workbook.")

log = logging.getLogger(__name__)


def planner_view(session: Session) -> widgets.Widget:
    """Buttons and answer of the planner."""
    start = widgets.Button(description="Look for the best plan", layout=widgets.Layout(width="auto"),
                           tooltip="serves what it can, at the least installed cost and cable on the floor together")
    stop = widgets.Button(description="Stop, keep the best so far", disabled=True, layout=widgets.Layout(width="auto"))
    adopt = widgets.Button(description="Adopt this plan", disabled=True, layout=widgets.Layout(width="auto"))
    start.add_class("sf-plan-start")
    adopt.add_class("sf-plan-adopt")
    why = widgets.Button(description="Why, and what if?", disabled=True, layout=widgets.Layout(width="auto"),
                         tooltip="what drives each box, and what leaving one out would change; a minute at the most")
    why.add_class("sf-plan-why")
    reasons = show.Html(session)
    reasons.add_class("sf-plan-reasons")
    said = show.Html(session)
    said.add_class("sf-plan-answer")
    state: dict[str, object] = {"stop": False}

    async def run() -> None:
        job = session.job
        start.disabled, stop.disabled, adopt.disabled, state["stop"] = True, False, True, False
        said.value = "Looking ..."
        try:
            question = choice.question(job, unit_costs(job))
            loop = asyncio.get_running_loop()

            def progress(seconds: float, best: float, bound: float) -> None:
                text = (f"Best so far {best:,.0f}, installed cost and cable on the floor together; none has less than "
                        f"{max(0.0, bound):,.0f}; {seconds:.0f} s.")
                loop.call_soon_threadsafe(setattr, said, "value", text)

            plan = await asyncio.to_thread(solve_whole, question, seconds=SECONDS, progress=progress,
                                           stop=lambda: bool(state["stop"]))
            state["question"], state["plan"] = question, plan
            said.value = f'<div class="sf">{answer(job, question, plan)}</div>'
            adopt.disabled = why.disabled = False
            reasons.value = ""
        except Problem as problem:
            said.value = escape(problem.sentence)
        except PlannerError:
            log.exception("a plan broke the rules of its own check")
            said.value = NOT_SHOWN
        finally:
            start.disabled, stop.disabled = False, True

    async def ask() -> None:
        question, plan = state.get("question"), state.get("plan")
        if not isinstance(question, Question) or not isinstance(plan, Plan):
            return
        why.disabled, stop.disabled, state["stop"] = True, False, False
        reasons.value = "Asking what if, box by box and event by event ..."
        try:
            found = await asyncio.to_thread(explain, question, plan, WHAT_IF_SECONDS, lambda: bool(state["stop"]),
                                            lambda changed, seconds: solve_whole(changed, seconds),
                                            choice.surface_costs(session.job, unit_costs(session.job)))
            if found.adopted:
                state["plan"] = found.plan
                said.value = f'<div class="sf">{answer(session.job, question, found.plan)}</div>'
            names = plain_names(session.job, question)
            driven = set(drivers(found.plan))
            first = [s for s in found.sentences if s not in driven]
            side = beside(session.job, question, found.plan, found.alternatives)
            first = [lengths(s, session.job) for s in first]
            reasons.value = (f'<div class="sf"><h3>What if</h3>{sentences(first, names)}{side}' + show.folded(
                "Which event drives each box", sentences([s for s in found.sentences if s in driven], names)) + "</div>")
        except PlannerError:
            log.exception("a plan of a what-if broke the rules of its own check")
            reasons.value = NOT_SHOWN
        finally:
            why.disabled, stop.disabled = False, True

    def take(_: object) -> None:
        question, plan = state.get("question"), state.get("plan")
        if not isinstance(question, Question) or not isinstance(plan, Plan):
            return
        try:
            today = datetime.date.today().isoformat()
            session.edit("Plan adopted", lambda j: adopt_for(j, question, plan, today))
            said.value += show.paragraph("Adopted. Undo in the table of boxes takes it back.")
            adopt.disabled = True
        except Problem as problem:
            said.value += show.paragraph(problem.sentence)

    why.on_click(lambda _: session.start(ask()))
    start.on_click(lambda _: session.start(run()))
    stop.on_click(lambda _: state.update(stop=True))
    adopt.on_click(take)
    row = widgets.HBox([start, stop, adopt, why], layout=widgets.Layout(flex_flow="row wrap"))
    return show.stack(row, said, reasons)


def beside(job: Job, question: Question, plan: Plan, others: Sequence[Plan]) -> str:
    """The plan and its near-equal alternatives side by side; empty if there is none."""
    if not others:
        return ""
    names, plans = plain_names(job, question), [plan, *others]
    places = [{b.candidate: names.get(b.model, b.model) for b in p.boxes} for p in plans]
    spots = [c for c in dict.fromkeys(s for p in places for s in p)
             if any(p.get(c) != places[0].get(c) for p in places)]  # where all agree there is nothing to choose
    rows = [[names.get(c, c), *(p.get(c, "–") for p in places)] for c in spots]
    rows += [["Boxes and panels", *(str(len(p.boxes)) for p in plans)],
             ["Boxes and openings installed", *(f"{p.costs.installed:,.0f}" for p in plans)],
             ["Weight of cable on the floor", *(f"{p.costs.loose_cable:,.0f}" for p in plans)],
             ["Connections not served", *(str(sum(u.count for u in p.unserved)) for p in plans)]]
    heads = ["What differs", "The plan", *(f"Alternative {n}" for n in range(1, len(plans)))]
    return "<h3>Nearly as good, side by side</h3>" + show.table(heads, rows, range(1, len(plans) + 1))


def adopt_for(job: Job, question: Question, plan: Plan, date: str) -> Job:
    """The job with the plan; a Problem if the job is no longer the one that the plan was made for."""
    if choice.question(job, unit_costs(job)) != question:
        raise Problem("The job changed since this plan was made; look for the best plan again, then adopt it.")
    return choice.adopted(job, question, plan, date)


def plain_names(job: Job, question: Question) -> dict[str, str]:
    """What people call the ids of a question: points, events, models, boxes and new positions."""
    names = {r.id: r.name for cls in (Point, Event, BoxModel) for r in job.all(cls)}
    names |= {f"box:{b.id}": b.label for b in job.all(Box)}
    display = job.settings.units
    return {c.id: f"the new position {where_text(c.x, c.y, display)}" for c in question.candidates} | names


def sentences(found: Sequence[str], names: dict[str, str]) -> str:
    """Sentences of the planner as a list."""
    return "<ul>" + "".join(f"<li>{escape(in_words(s, names))}</li>" for s in found) + "</ul>"


def in_words(sentence: str, names: dict[str, str]) -> str:
    """A sentence of the planner with names in place of ids."""
    known = "|".join(re.escape(k) for k in sorted(names, key=len, reverse=True))
    return re.sub(f"'({known})'|({known})", lambda m: names[m[1] or m[2]], sentence) if known else sentence


def lengths(sentence: str, job: Job) -> str:
    """A sentence of the planner, which counts in metres, with lengths in the user's units: to the inch or centimetre."""
    display = job.settings.units
    least = INCH if display == "ft-in" else 0.01
    return re.sub(r"(\d+\.\d\d) m\b", lambda m: length_text(round(float(m[1]) / least) * least, display), sentence)


def answer(job: Job, question: Question, plan: Plan) -> str:
    """The plan in sentences first, its figures folded behind."""
    names = {p.id: p.name for p in job.all(Point)}
    events = {e.id: e.name for e in job.all(Event)}
    models = {m.id: m.label for m in job.all(BoxModel)}
    boxes = {f"box:{b.id}": b.label for b in job.all(Box)}
    places = {c.id: where_text(c.x, c.y, job.settings.units) for c in question.candidates}
    money = currency_words(job)
    money += " (no hours and rate are entered yet)" if money == TO_COMPARE else ""
    asked = {d.id for d in question.demands}
    left_out = [p.name for p in job.all(Point) if p.counts() and p.id not in asked]
    lead = f"Boxes and panels: {len(plan.boxes)}. They serve " + (
        "every event" if not plan.unserved and not left_out else "what can be served") + \
        f", for {plan.costs.installed:,.0f} {money} installed, without the electrician" + (
            " and without what is built." if any(c.existing for c in question.candidates) else ".")
    if not plan.boxes:
        lead = "No floor box or panel can be planned yet."
    both = f"installed cost and cable on the floor together ({plan.costs.served:,.0f}, as weighed here)"
    alike = "No other plan on these positions" + (" that serves as much" if plan.unserved else "")
    proof = f"{alike} has less of {both}." if plan.proven else \
        f"A better plan on these positions could have at most {plan.gap:.1%} less of {both}; this one was stopped or ran " \
        "out of time." if not plan.costs.unserved else \
        "A plan on these positions that serves more may exist; this one was stopped or ran out of time."
    rows = []
    for b in plan.boxes:
        points = sorted({names.get(s.demand, s.demand) for s in plan.services if s.candidate == b.candidate})
        rows.append((boxes.get(b.candidate) or places[b.candidate], models.get(b.model, b.model), ", ".join(points),
                     sum(n for k, n in b.openings.items() if k != "mains"), b.openings.get("mains", 0)))
    named = plain_names(job, question)
    why: dict[str, list[str]] = {}
    for u in plan.unserved:
        reason = f"{lengths(in_words(u.reason, named), job)} ({names.get(u.demand, u.demand)}, {u.kind})"
        why.setdefault(reason, []).append(events.get(u.event, u.event))
    missed = "".join(f"<li>{escape(reason)} Missing in: {escape(', '.join(where))}.</li>" for reason, where in why.items())
    notes = "".join(show.paragraph(lengths(in_words(n, named), job)) for n in (*plan.notes, *cannot_use(job),
                                                                                   *asks(job, plan)))
    if left_out:
        notes = show.paragraph(f"Left out, because their place is not entered: {', '.join(left_out)}. "
                               "They stay with the box that serves them.") + notes
    tried = str(len(question.candidates))
    if len(question.candidates) >= MOST_CANDIDATES:
        tried += "; no more are tried, but all that you mark"
    return (show.paragraph(lead, "lead") + (show.paragraph(proof) if plan.boxes else "")
            + (f"<p>Not served:</p><ul>{missed}</ul>" if missed else "") + notes
            + show.table(("Box", "Model", "Serves", "Openings", "Mains"), rows, (3, 4))
            + show.folded("Figures", show.table(("Part", "Amount"), [
                ("boxes set", f"{plan.costs.boxes:,.2f}"), ("openings with their lines", f"{plan.costs.openings:,.2f}"),
                ("weight of cable on the floor", f"{plan.costs.loose_cable:,.2f}"),
                ("no plan has less of all three than", f"{plan.least_served:,.2f}"),
                ("so a better plan could have less by at most", f"{plan.gap:.2%}"), ("seconds", f"{plan.seconds:.1f}"),
                ("positions tried", tried)], (1,))))
