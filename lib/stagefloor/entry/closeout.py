"""The closeout step: tests beside what is expected, as-built, hold points, documents, and the client's documents."""

import asyncio
import os
import subprocess
import sys
from html import escape
from pathlib import Path

import ipywidgets as widgets

from stagefloor.entry import line_tests, show
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.results import Results

COMMAND = [sys.executable, "-m", "stagefloor", "package"]
WRITING_SECONDS = 180.0


def state() -> widgets.Widget:
    """How complete the handover is, computed."""
    return show.stack(show.style(), show.view(here(), complete, "complete"))


def complete(results: Results) -> str:
    """What is there, what is missing and from whom."""
    c = results.closeout
    rows = [(p.name, f"{p.done} of {p.of}") for p in c.parts if p.of]
    owed: dict[str, list[str]] = {}
    for n in c.missing:
        owed.setdefault(n.who, []).append(n.what)
    missing = "".join(show.folded(f"{who}: {len(what)} missing", "<ul>" + "".join(
        f"<li>{escape(w)}</li>" for w in what) + "</ul>") for who, what in owed.items())
    return "<h3>Handover</h3>" + show.figures([("there", f"{c.done} of {c.of}")]) + \
        show.table(("Part", "There"), rows, (1,)) + missing


def tests() -> widgets.Widget:
    """Readings in bulk, judged against limits from each line's own length."""
    session = here()
    return show.stack(line_tests.bulk(session), show.view(session, line_tests.judged, "judged"), line_tests.single(session))


def tester_file() -> widgets.Widget:
    """Readings from a tester's file."""
    return line_tests.TesterFileView(here()).view


def as_built() -> widgets.Widget:
    """Where boxes really are."""
    return Table(here(), "asbuilt", ("box", "x", "y", "z", "modified", "note_text", "by", "date"), name="As built").grid


def handover() -> widgets.Widget:
    """Hold points, punch list, documents, revisions."""
    session = here()
    return show.stack(
        Table(session, "holdpoint", ("label", "when", "by", "date", "evidence"), name="Hold points").grid,
        Table(session, "punch", ("label", "owner", "due", "closed", "audience"), name="Punch list").grid,
        Table(session, "document", ("label", "owner", "received"), name="Documents due at handover").grid,
        Table(session, "revision", ("label", "date", "words"), name="Revisions of the document set").grid)


def documents() -> widgets.Widget:
    """Write the client's document set."""
    session = here()
    button = widgets.Button(description="Write the client's documents", layout=widgets.Layout(width="auto"),
                            button_style="")
    button.add_class("sf-write")
    said = widgets.HTML()
    said.add_class("sf-written")

    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}

    async def write() -> None:
        button.disabled = True
        said.value = "Writing ..."
        try:
            # a process of its own, as the command is: what it starts and waits for can't meet this page's own loop
            done = await asyncio.to_thread(subprocess.run, COMMAND + [str(session.path.parent)], capture_output=True,
                                           text=True, encoding="utf-8", timeout=WRITING_SECONDS, env=environment)
            lines = [x for x in (done.stdout + done.stderr).splitlines() if x.strip()]
            told = [x for x in lines if x.startswith(("The documents are", "Needs attention"))] or lines[-1:]
            said.value = "".join(show.paragraph(x) for x in told)
        except (OSError, subprocess.TimeoutExpired):
            said.value = show.paragraph("The documents could not be written in time; nothing was changed. Try again.")
        finally:
            button.disabled = False

    button.on_click(lambda _: session.start(write()))
    return show.stack(button, said)


def open_items() -> widgets.Widget:
    """Open items of this step."""
    return show.open_items(here(), "closeout")
