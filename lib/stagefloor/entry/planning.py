"""The planner on screen: start, progress, stop, the answer in sentences, adopt it or leave it."""

import asyncio
import datetime
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.session import Session
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.results.unit_costs import unit_costs
from stagefloor.steps.boxes import choice
from stagefloor.steps.boxes.planner_whole import solve_whole
from stagefloor.steps.boxes.planner_problem import Plan
from stagefloor.steps.boxes.planner_problem import Problem as Question

SECONDS = 30.0


def planner_view(session: Session) -> widgets.Widget:
    """Buttons and answer of the planner."""
    start = widgets.Button(description="Look for the least-cost plan", layout=widgets.Layout(width="auto"))
    stop = widgets.Button(description="Stop, keep the best so far", disabled=True, layout=widgets.Layout(width="auto"))
    adopt = widgets.Button(description="Adopt this plan", disabled=True, layout=widgets.Layout(width="auto"))
    start.add_class("sf-plan-start")
    adopt.add_class("sf-plan-adopt")
    said = widgets.HTML()
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
                text = f"Best so far {best:,.0f}; none can cost less than {max(0.0, bound):,.0f}; {seconds:.0f} s."
                loop.call_soon_threadsafe(setattr, said, "value", text)

            plan = await asyncio.to_thread(solve_whole, question, seconds=SECONDS, progress=progress,
                                           stop=lambda: bool(state["stop"]))
            state["question"], state["plan"] = question, plan
            said.value = f'<div class="sf">{answer(job, question, plan)}</div>'
            adopt.disabled = False
        except Problem as problem:
            said.value = escape(problem.sentence)
        finally:
            start.disabled, stop.disabled = False, True

    def take(_: object) -> None:
        question, plan = state.get("question"), state.get("plan")
        if not isinstance(question, Question) or not isinstance(plan, Plan):
            return
        try:
            today = datetime.date.today().isoformat()
            session.edit("Plan adopted", lambda j: choice.adopted(j, question, plan, today))
            said.value += show.paragraph("Adopted. Undo in the table of boxes takes it back.")
            adopt.disabled = True
        except Problem as problem:
            said.value += show.paragraph(problem.sentence)

    start.on_click(lambda _: session.start(run()))
    stop.on_click(lambda _: state.update(stop=True))
    adopt.on_click(take)
    row = widgets.HBox([start, stop, adopt], layout=widgets.Layout(flex_flow="row wrap"))
    return show.stack(row, said)


def answer(job: Job, question: Question, plan: Plan) -> str:
    """The plan in sentences first, its figures folded behind."""
    names = {p.id: p.name for p in job.all(Point)}
    events = {e.id: e.name for e in job.all(Event)}
    models = {m.id: m.label for m in job.all(BoxModel)}
    boxes = {f"box:{b.id}": b.label for b in job.all(Box)}
    money = job.settings.currency if job.pricing().rate else "points of comparison"
    lead = f"{len(plan.boxes)} boxes and panels serve " + (
        "every event" if not plan.unserved else "what can be served") + \
        f", for {plan.costs.boxes + plan.costs.openings:,.0f} {money} installed, without the electrician."
    proof = "No other plan on these positions costs less." if plan.proven else \
        f"A better plan on these positions could save at most {plan.gap:.1%}; it was stopped or ran out of time."
    rows = []
    for b in plan.boxes:
        points = sorted({names.get(s.demand, s.demand) for s in plan.services if s.candidate == b.candidate})
        rows.append((boxes.get(b.candidate, "new position"), models.get(b.model, b.model), ", ".join(points),
                     sum(n for k, n in b.openings.items() if k != "mains"), b.openings.get("mains", 0)))
    missed = "".join(f"<li>{escape(u.reason)} ({escape(names.get(u.demand, u.demand))}, {escape(u.kind)}, "
                     f"{escape(events.get(u.event, u.event))})</li>" for u in plan.unserved)
    notes = "".join(show.paragraph(n) for n in plan.notes)
    return (show.paragraph(lead, "lead") + show.paragraph(proof)
            + (f"<p>Not served:</p><ul>{missed}</ul>" if missed else "") + notes
            + show.table(("Box", "Model", "Serves", "Openings", "Mains"), rows, (3, 4))
            + show.folded("Figures", show.table(("Part", "Amount"), [
                ("boxes set", f"{plan.costs.boxes:,.2f}"), ("openings with their lines", f"{plan.costs.openings:,.2f}"),
                ("weight of cable on the floor", f"{plan.costs.loose_cable:,.2f}"), ("bound", f"{plan.bound:,.2f}"),
                ("gap", f"{plan.gap:.2%}"), ("seconds", f"{plan.seconds:.1f}"),
                ("positions tried", str(len(question.candidates)))], (1,))))
