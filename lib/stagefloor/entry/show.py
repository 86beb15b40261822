"""Pieces of a live page: views that follow the job, tables, open items, workings. Escapes every text; does no sums."""

from collections.abc import Callable, Sequence
from html import escape
from pathlib import Path

import ipywidgets as widgets
import traitlets

from stagefloor.core.open_items import OpenItem
from stagefloor.core.problems import Problem
from stagefloor.core.workings import Working
from stagefloor.entry.session import Session
from stagefloor.job.wording import words_of
from stagefloor.results import Results

STYLE = (Path(__file__).parent / "show.css").read_text("utf-8")
FIRST = 5  # open items shown before the rest is folded


class Html(widgets.HTML):
    """HTML in the words of the job's country: the one way from the pages to the screen. What was typed stays.

    `also`: texts that were typed, but not in the job as it is now: in an earlier state, in a file.
    """

    def __init__(self, session: Session, value: str = "") -> None:
        self._session = session
        self.also: tuple[str, ...] = ()
        super().__init__(value=value, layout=widgets.Layout(width="100%"))

    @traitlets.validate("value")
    def _in_words(self, proposal: dict[str, str]) -> str:
        words = words_of(self._session.job, self.also) if self.also else self._session.words
        return words.html(proposal["value"])


def view(session: Session, render: Callable[[Results], str], name: str = "", *, first: bool = False) -> widgets.HTML:
    """HTML that is made anew from the results after every edit. `name` becomes a class to find it by.

    `first`: made before other views, and also while a box is still under the hand.
    """
    box = Html(session)
    if name:
        box.add_class(f"sf-{name}")

    def put(results: Results) -> None:
        try:
            body = render(results)
        except Problem as problem:
            body = paragraph(problem.sentence)
        box.value = f'<div class="sf">{body}</div>'  # travels only if it is another text

    put(session.results())
    session.listen(lambda: put(session.results()), first=first)
    if first:
        session.listen_to_previews(put)
    return box


def style() -> widgets.HTML:
    """The style of all live pages; shown once a notebook."""
    return widgets.HTML(f"<style>{STYLE}</style>")


def paragraph(text: str, css: str = "") -> str:
    return f'<p class="{css}">{escape(text)}</p>' if css else f"<p>{escape(text)}</p>"


def table(heads: Sequence[str], rows: Sequence[Sequence[object]], numbers: Sequence[int] = (), *,
          raw: Sequence[int] = (), caption: str = "") -> str:
    """A table; columns in `numbers` stand right, columns in `raw` hold HTML made here."""
    def cell(tag: str, index: int, value: object) -> str:
        css = ' class="n"' if index in numbers else ""
        body = str(value) if index in raw and tag == "td" else escape(str(value))
        return f"<{tag}{css}>{body}</{tag}>"

    head = "".join(cell("th", i, h) for i, h in enumerate(heads))
    body = "".join("<tr>" + "".join(cell("td", i, v) for i, v in enumerate(r)) + "</tr>" for r in rows)
    title = f"<caption>{escape(caption)}</caption>" if caption else ""
    return f'<div class="wide"><table>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def whole(text: str) -> str:
    """A name that is not broken at its hyphen, as HTML."""
    return f'<span class="whole">{escape(text)}</span>'


def folded(summary: str, body: str) -> str:
    return f"<details><summary>{escape(summary)}</summary>{body}</details>"


def figures(pairs: Sequence[tuple[str, str]]) -> str:
    """The few numbers that matter, large."""
    return '<div class="figures">' + "".join(f"<div><b>{escape(v)}</b>{escape(k)}</div>" for k, v in pairs) + "</div>"


def workings(found: Sequence[Working], summary: str = "How these figures come about") -> str:
    return folded(summary, "".join(w.as_html() for w in found)) if found else ""


def item(one: OpenItem) -> str:
    """One open item: what, by how much, on what basis, what would cure it, which date it blocks."""
    blocks = f" Blocks: {one.blocks}." if one.blocks else ""
    shown = "".join(w.as_html() for w in one.workings)
    return (f'<div class="item{" must" if one.must_mend else ""}"><p><span class="state">{escape(one.state)}</span> '
            f"<b>{escape(one.subject)}</b>: {escape(one.said)}</p>"
            f"<p>{escape(one.cure[:1].upper() + one.cure[1:])}.</p><p><small>Basis: {escape(one.basis)}.{escape(blocks)}"
            f"</small></p>{shown}</div>").replace("..<", ".<")


def items(found: Sequence[OpenItem], none: str = "Nothing is open here.") -> str:
    """The open items that matter most, the rest folded."""
    if not found:
        return paragraph(none)
    body = "".join(item(i) for i in found[:FIRST])
    rest = found[FIRST:]
    return body + (folded(f"{len(rest)} more", "".join(item(i) for i in rest)) if rest else "")


def open_items(session: Session, step: str = "") -> widgets.HTML:
    """The open items of one step, or of the whole job."""
    def render(results: Results) -> str:
        found = results.items_of(step) if step else results.items
        where = " in this step" if step else " in the job"
        return f"<h3>Open items{where}: {len(found)}</h3>" + items(found)

    return view(session, render, "open-items", first=bool(step))


def stack(*parts: widgets.Widget) -> widgets.VBox:
    """Parts one below the other, at full width."""
    return widgets.VBox(list(parts), layout=widgets.Layout(width="100%"))


def svg_name(what: str, record_id: str) -> str:
    """A prefix for names inside one drawing, so that two drawings on a page don't meet: letters and digits only."""
    return "".join(c for c in f"{what}{record_id}" if c.isascii() and c.isalnum())
