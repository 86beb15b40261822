"""Mains as a request to the licensed electrician: outlets, circuits, loads, and what comes of them."""

import ipywidgets as widgets

from stagefloor.core.units import long_length_text
from stagefloor.core.words import counted
from stagefloor.entry import show
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.results import Results
from stagefloor.steps.mains import Branch


def mains() -> widgets.Widget:
    """The request, then the two tables it is made of."""
    session = here()
    return show.stack(
        show.view(session, request, "mains"),
        Table(session, "branchcircuit", ("label", "feeds", "rating", "voltage", "conductor", "way", "dedicated", "agreed"),
              name="Mains circuits", empty_hint="Press 'Add row' for the first circuit that is asked for or given.").grid,
        Table(session, "mainsload", ("label", "at", "amps", "continuous", "shut_in"), name="What plugs in",
              empty_hint="Press 'Add row' for what plugs in: each outlet counts at its published load until then.").grid)


def request(results: Results) -> str:
    """What is asked, circuit by circuit; every figure is the electrician's to confirm."""
    job = results.job
    outlets = sum(o.what == "mains" for b in job.boxes() for o in job.openings(b.id))
    if not outlets:
        return show.paragraph("No box has a mains outlet.")
    fed = sum(b.outlets for b in results.branches)
    if outlets == 1:
        lead = f"1 mains outlet is wanted; it is {'' if fed else 'not '}on a circuit."
    else:
        lead = f"{outlets} mains outlets are wanted; " + (
            "all of them are" if fed >= outlets else f"{fed} of them are" if fed else "none of them is") + " on a circuit."
    if job.settings.panel_ways:
        lead += (f" Circuits asked for: {len(results.branches)}; the panel has "
                 f"{counted(job.settings.panel_ways, 'spare way')}.")
    body = show.paragraph(lead) + show.paragraph("A request only: the licensed electrician designs, connects and tests "
                                                 "mains, and the local code decides.")
    if results.branches:
        display = job.settings.units
        body += show.table(("Circuit", "Feeds", "Outlets", "Loads", "Current", "Breaker", "Needs", "Way", "Drop"),
                           [_row(b, display) for b in results.branches], (2, 4, 5, 6, 7, 8))
    return body + show.workings([w for b in results.branches for w in (b.load, b.drop) if w is not None])


def _row(b: Branch, display: str) -> tuple[object, ...]:
    def judged(holds: bool | None, text: str) -> str:
        return text + ("" if holds is not False else ", ask")

    return (b.record.name + (", agreed" if b.record.agreed.strip() else ""), ", ".join(b.boxes) or "–", b.outlets,
            ", ".join(x.name for x in b.loads) or "–", f"{b.amps:.1f} A" + (" assumed" if b.assumed else ""),
            f"{b.record.rating:g} A" if b.record.rating else "–",
            judged(b.load.holds, b.load.result.text()) if b.load else "–",
            long_length_text(b.metres, display) + (" rough" if b.rough else "") if b.metres is not None else "–",
            judged(b.drop.holds, f"{b.drop.also[0].text()}") if b.drop else "–")
