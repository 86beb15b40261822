"""A button that writes the document set of one reader, and says where it is."""

import asyncio
import os
import subprocess
import sys
from pathlib import Path

import ipywidgets as widgets

from stagefloor.entry import show
from stagefloor.entry.session import Session

COMMAND = [sys.executable, "-m", "stagefloor", "package"]
WRITING_SECONDS = 180.0


def writer(session: Session, reader: str, words: str) -> widgets.Widget:
    """A button and, under it, what was said. `reader`: for whom, as the command line names it; `words`: on the button."""
    button = widgets.Button(description=words, layout=widgets.Layout(width="auto"), button_style="")
    button.add_class("sf-write" if reader == "client" else f"sf-write-{reader}")
    said = show.Html(session)
    said.add_class("sf-written" if reader == "client" else f"sf-written-{reader}")
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}

    said.also = (str(session.path.parent),)  # a folder is no word to be put into those of a country

    async def write() -> None:
        button.disabled = True
        said.value = "Writing ..."
        try:
            # a process of its own, as the command is: what it starts and waits for can't meet this page's own loop
            done = await asyncio.to_thread(subprocess.run, [*COMMAND, str(session.path.parent), "--for", reader],
                                           capture_output=True, text=True, encoding="utf-8", timeout=WRITING_SECONDS,
                                           env=environment)
            lines = [x for x in (done.stdout + done.stderr).splitlines() if x.strip()]
            told = [x for x in lines if x.startswith(("The documents are", "Needs attention"))] or lines[-1:]
            said.value = "".join(show.paragraph(x) for x in told)
        except (OSError, subprocess.TimeoutExpired):
            said.value = show.paragraph("The documents could not be written in time; nothing was changed. Try again.")
        finally:
            button.disabled = False

    button.on_click(lambda _: session.start(write()))
    return show.stack(button, said)
