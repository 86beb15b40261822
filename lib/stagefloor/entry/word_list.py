"""What the words of the workbook mean, folded at the head of each step; a few letters find one."""

from html import escape

import ipywidgets as widgets

from stagefloor.entry import show
from stagefloor.entry.folds import folds
from stagefloor.entry.session import Session, here
from stagefloor.reference.tables import load


def words() -> widgets.Widget:
    """Folded; made when it is opened."""
    return folds([("What a word means", lambda: _content(here()))])


def _content(session: Session) -> widgets.Widget:
    find = widgets.Text(placeholder="a word, or part of one", description="Find",
                        layout=widgets.Layout(width="min(100%, 340px)"))
    find.add_class("sf-word-find")
    shown = show.Html(session)
    shown.add_class("sf-words")

    def refresh(_: object = None) -> None:
        shown.value = f'<div class="sf">{listed(find.value, session)}</div>'

    find.observe(refresh, "value")
    refresh()
    return show.stack(find, shown)


def listed(part: str, session: Session) -> str:
    """The words that hold `part` in themselves, in their other name or in what they mean; all of them if it is empty.

    A part is looked for in the words of every country; those that are named so come before those that only speak of it.
    """
    wanted = part.strip().lower()

    def holds(text: str) -> bool:
        return wanted in text.lower() or wanted in session.words.text(text).lower()

    found = [(row.text("word"), row.text("also"), row.text("meaning")) for row in load("words")]
    named = [one for one in found if holds(f"{one[0]} {one[1]}")]
    chosen = named + [one for one in found if one not in named and holds(one[2])]
    if not chosen:
        return show.paragraph(f"No word here holds '{part.strip()[:40]}'. Ask whoever wrote it, and note the answer.")
    lines = "".join(f"<dt>{escape(word)}{f' <small>also {escape(also)}</small>' if also else ''}</dt>"
                    f"<dd>{escape(meaning[:1].upper() + meaning[1:])}.</dd>" for word, also, meaning in chosen)
    return f'<dl class="words" tabindex="0" role="group" aria-label="Words and what they mean">{lines}</dl>'
