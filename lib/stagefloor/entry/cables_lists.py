"""The lists of the cables step: reels and cut list. They follow the job; a longer search is asked for."""

import asyncio
from html import escape

import ipywidgets as widgets

from stagefloor.core.units import length_text, long_length_text
from stagefloor.entry import show
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.results import Results, compute
from stagefloor.steps.cut_list import CutList, cut_lists

LONGER_SECONDS = 20.0  # for one cable type


def reels() -> widgets.Widget:
    """Reels sold and in the shop, and which cable is cut from which, in which order."""
    session = here()
    grid = Table(session, "reel", ("label", "type", "what", "length", "count", "where", "price"), name="Reels",
                 empty_hint="The reel length stands with the cable type. Press 'Add row' for another reel that is sold, or "
                 "for a leftover in the shop.").grid
    button = widgets.Button(description="Look longer for a better cut list", layout=widgets.Layout(width="auto"))
    button.add_class("sf-reels-longer")
    said = widgets.HTML(layout=widgets.Layout(width="100%"))
    said.add_class("sf-reels-said")
    lists = show.view(session, cut_list, "reels")

    async def work() -> None:
        button.disabled, said.value = True, '<div class="sf"><p>Looking ...</p></div>'
        job, known = session.job, list(session.results().lines)
        try:
            plans = await asyncio.to_thread(cut_lists, job, known, LONGER_SECONDS)
            open_ = sum(p.plan is not None and not p.plan.proven for p in plans)
            words = "Every cut list is proven now." if not open_ else f"{open_} cut lists are still not proven."
            lists.value = f'<div class="sf">{cut_list(compute(job))}</div>'
        finally:
            button.disabled = False
        said.value = f'<div class="sf"><p>{words}</p></div>'

    button.on_click(lambda _: session.start(work()))
    return show.stack(grid, lists, button, said)


def cut_list(results: Results) -> str:
    """How many reels in all, then the cut list of each cable type, folded."""
    display, found = results.job.settings.units, results.cut_lists
    if not found:
        return show.paragraph("No cable is to be cut yet: boxes that serve points make lines, and lines make cables.")
    plans = [c.plan for c in found if c.plan is not None]
    bought = [r for p in plans for r in p.reels if r.bought]
    figures = [("reels to buy", str(len(bought))), ("on them", long_length_text(sum(r.metres for r in bought), display)),
               ("reels from the shop", str(sum(not r.bought for p in plans for r in p.reels))),
               ("left on all", long_length_text(sum(r.left for p in plans for r in p.reels), display))]
    return show.figures(figures) + "".join(_of_type(c, display) for c in found)


def _of_type(found: CutList, display: str) -> str:
    """One cable type: the sentence, what is missing, and the cuts in their order, longest first."""
    head = f"<h3>{escape(found.label)}</h3>" + show.paragraph(found.said)
    if found.plan is None or not found.plan.reels:
        return head
    names, where = dict(found.names), dict(found.reels)
    rows = [(f"{r.name}, no. {r.number}" if r.bought else r.name, where.get(r.name, ""),
             ", ".join(f"{names.get(i, i)} {length_text(m, display)}" for i, m in r.cuts),
             long_length_text(r.left, display)) for r in found.plan.reels]
    there = any(r[1] for r in rows)
    body = show.table(("Reel", "Where", "Cut in this order", "Left"), rows, (3,)) if there else \
        show.table(("Reel", "Cut in this order", "Left"), [(a, c, d) for a, _, c, d in rows], (2,))
    uncut = f"Not cut: {', '.join(names.get(i, i) for i in found.plan.uncut)}." if found.plan.uncut else ""
    pulled = f"Pulled already, not cut again: {', '.join(found.pulled)}." if found.pulled else ""
    told = "".join(show.paragraph(p) for p in (found.problem, *found.plan.problems, uncut) if p)
    return head + told + show.folded("Cut list: which cable from which reel, longest first", body + (
        show.paragraph(pulled) if pulled else "")) + show.workings([found.working] if found.working else [])
