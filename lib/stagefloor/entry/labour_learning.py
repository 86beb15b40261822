"""What closed jobs teach, on screen: old, evidence, new, and a button for each task. Nothing changes without a click."""

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.folds import folds
from stagefloor.entry.labour import amount
from stagefloor.entry.session import Session, here
from stagefloor.entry.tables import Table
from stagefloor.results import Results
from stagefloor.steps.labour import Lesson, lessons
from stagefloor.steps.labour.learning import FAR, adopted


def learning() -> widgets.Widget:
    """Lessons, with a choice of task and a button to take its new hours."""
    session = here()
    which = widgets.Dropdown(description="Task", layout=widgets.Layout(width="min(100%, 480px)"))
    take = widgets.Button(description="Take the new hours", layout=widgets.Layout(width="auto"))
    said = show.Html(session)
    take.add_class("sf-learn")
    row = widgets.HBox([which, take], layout=widgets.Layout(flex_flow="row wrap"))

    def refresh() -> None:
        found = session.results().lessons
        options = [("all of them", "")] + [(x.unit.name, x.unit.id) for x in found]
        if list(which.options) != options:
            which.options, which.value = options, ""
        row.layout.display = "flex" if found else "none"

    def clicked(_: object) -> None:
        try:
            said.value = show.paragraph(adopt(session, which.value or ""))
        except Problem as problem:
            said.value = show.paragraph(problem.sentence)

    take.on_click(clicked)
    refresh()
    session.listen(refresh)
    return show.stack(show.view(session, told, "lessons"), row, said)


def adopt(session: Session, unit_id: str) -> str:
    """Take the new hours of one task, or of all of them, in one edit; says what was done."""
    chosen = [x for x in session.results().lessons if unit_id in ("", x.unit.id)]

    def change(job):  # type: ignore[no-untyped-def]
        for lesson in lessons(job, session.results().quantities)[0]:
            if unit_id in ("", lesson.unit.id):
                job = adopted(job, lesson)
        return job

    session.edit("Hours from closed jobs", change)
    return f"Taken for {len(chosen)} {'task' if len(chosen) == 1 else 'tasks'}. Undo in the table of hours takes it back."


def told(results: Results) -> str:
    """Old and new hours beside their evidence."""
    found = results.lessons
    if not found:
        return "<h3>What closed jobs teach</h3>" + show.paragraph(
            "Nothing yet. Enter the hours that tasks really took, here and on closed jobs: new figures appear beside the "
            "old ones, and you decide.")
    jobs = len({name for x in found for name, _ in x.evidence})
    lead = f"{jobs} closed {'job speaks' if jobs == 1 else 'jobs speak'} for new hours of {len(found)} " \
           f"{'task' if len(found) == 1 else 'tasks'}. Nothing is changed until you take them."
    feet = results.job.settings.units == "ft-in"
    if far := [f"{name} ({x.unit.name})" for x in found for name in x.far]:
        lead += f" More than {FAR:g} times off, check the entry first: {', '.join(far)}."
    return ("<h3>What closed jobs teach</h3>" + show.paragraph(lead, "lead")
            + show.table(("Task", "So far", "Priced so far", "Closed jobs", "New", "Priced then"),
                         [row(x, feet) for x in found], (2, 5))
            + show.folded("How it is worked out", show.paragraph(
                "A closed job gives one figure for a task, with that job's own conditions taken out; each job counts one. "
                "The hours so far weigh as much as one job for the middle and as two for how far jobs scatter. Low and high "
                "are the ends of a spread whose inner part is meant to hold eight jobs in ten, cut to what the hours so far "
                "and the closed jobs reach. The price takes the mean of the three; it moves towards the closed jobs and "
                "never beyond them. After three jobs that is only as good "
                "as the spread was before: if jobs scatter far more than the hours so far say, it takes a dozen to show.")
                + "".join(x.working.as_html() for x in found)))


def row(x: Lesson, feet: bool) -> tuple[str, ...]:
    """One task: hours so far, what they are priced at, the closed jobs, new hours, what those would be priced at."""
    per = "" if (x.unit.per or 1.0) == 1.0 else f" for {amount(x.unit.per or 1.0, x.unit.quantity, feet)}"
    seen = ", ".join(f"{n} {v:.2g} h" + (" (check this entry)" if n in x.far else "") for n, v in x.evidence)
    before, then = (f"{v:.2f} h" for v in x.priced)
    return x.unit.name, spread(x.old) + per, before, seen, spread(x.new) + per, then


def spread(figures: tuple[float, float, float]) -> str:
    """'2 to 4 h, likely 3 h'."""
    return f"{figures[0]:.2g} to {figures[2]:.2g} h, likely {figures[1]:.2g} h"


def entries() -> widgets.Widget:
    """Actual hours."""
    session = here()
    return folds([("Actual hours", lambda: Table(
        session, "actual", ("job", "task", "amount", "hours", "factor", "taken"), name="Actual hours",
        empty_hint="Press 'Add row': the closed job, the task, how much was done, and the hours it took.").grid)])
