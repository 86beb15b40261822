"""Ways and sizes chosen together: asked, read, adopted or left."""

import asyncio

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.entry import show
from stagefloor.entry.session import here
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Node
from stagefloor.job.model import Job
from stagefloor.results.joint_ways import joint_ways, ways_taken
from stagefloor.steps.cables.joint import Joint

LEAST = 0.005  # share of the cost below which nothing is gained that anybody would notice


def together() -> widgets.Widget:
    """A button, the answer in sentences, and a button to adopt it."""
    session = here()
    ask = widgets.Button(description="Compare", layout=widgets.Layout(width="auto"))
    take = widgets.Button(description="Adopt these ways", disabled=True, layout=widgets.Layout(width="auto"))
    ask.add_class("sf-joint-ask")
    take.add_class("sf-joint-take")
    said = show.Html(session)
    said.add_class("sf-joint")
    state: dict[str, Joint] = {}

    async def work() -> None:
        ask.disabled, take.disabled, said.value = True, True, "Working it out ..."
        try:
            found = await asyncio.to_thread(joint_ways, session.results())
            state["found"] = found
            said.value = f'<div class="sf">{answer(session.job, found)}</div>'
            take.disabled = not _worth(found)
        except Problem as problem:
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'
        finally:
            ask.disabled = False

    def adopt(_: object) -> None:
        try:
            session.edit("Ways and sizes chosen together", lambda j: ways_taken(j, state["found"]))
            said.value = f'<div class="sf">{show.paragraph("Adopted. Undo in the table of raceways takes it back.")}</div>'
            take.disabled = True
        except Problem as problem:
            said.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'

    ask.on_click(lambda _: session.start(work()))
    take.on_click(adopt)
    return show.stack(widgets.HBox([ask, take]), said)


def _worth(found: Joint) -> bool:
    return found.shortest - found.best > LEAST * found.shortest


def answer(job: Job, found: Joint) -> str:
    """What would be saved, which boxes leave the shortest way, and how sure it is."""
    unit = found.working.result.unit
    proof = "Every combination of the ways tried was looked at." if found.proven else \
        "There are too many combinations to look at each: a better one may exist."
    if not _worth(found):
        return show.paragraph(f"The shortest ways cost the least together, or nearly: {found.shortest:,.0f} {unit}. {proof}")
    names = {n.id: n.name for n in job.all(Node)}
    rows = [(job.get(Box, b).label, "–".join(names.get(v, v) for v in via) or "straight") for b, via in found.via.items()]
    return (show.paragraph(f"Together they cost {found.best:,.0f} instead of {found.shortest:,.0f} {unit}: "
                           f"{found.shortest - found.best:,.0f} less.", "lead")
            + show.paragraph(proof) + show.table(("Box that leaves its shortest way", "Goes by"), rows)
            + show.workings([found.working]))
