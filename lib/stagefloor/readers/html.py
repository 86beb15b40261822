"""Small pieces of a page: headings, tables, lists, drawings in a frame. Everything that comes in is escaped."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stagefloor.drawings.svg import clean


@dataclass(frozen=True, repr=False)
class Html:
    """A piece of a page, ready escaped."""

    text: str

    def _repr_html_(self) -> str:
        return self.text

    def __repr__(self) -> str:
        return "a piece of a page"


def section(heading: str, *parts: str) -> str:
    """A section with a heading, or nothing if all its parts are empty."""
    body = "".join(parts)
    return f"<section><h2>{clean(heading)}</h2>{body}</section>" if body else ""


def paragraph(text: str, style: str = "") -> str:
    """A paragraph, or nothing for an empty text. Line breaks in the text are kept."""
    name = f' class="{style}"' if style else ""
    return f"<p{name}>{clean(text)}</p>" if text else ""


def bullets(sentences: Iterable[str], style: str = "") -> str:
    """A list of sentences, or nothing."""
    name = f' class="{style}"' if style else ""
    items = "".join(f"<li>{clean(s)}</li>" for s in sentences)
    return f"<ul{name}>{items}</ul>" if items else ""


def first_few(sentences: Sequence[str], style: str = "", shown: int = 5) -> str:
    """A list of which the first few are shown and the others are folded; on paper all are there."""
    rest = bullets(sentences[shown:], style)
    more = f'<details class="more"><summary>{len(sentences) - shown} more</summary>{rest}</details>' if rest else ""
    return bullets(sentences[:shown], style) + more


def folded(summary: str, body: str) -> str:
    """A block that opens on demand; on paper it is open."""
    return f'<details class="wide"><summary>{clean(summary)}</summary>{body}</details>' if body else ""


def facts(pairs: Iterable[tuple[str, str]]) -> str:
    """Names and values side by side; a pair with an empty value is left out."""
    rows = "".join(f"<div><dt>{clean(name)}</dt><dd>{clean(value)}</dd></div>" for name, value in pairs if value)
    return f'<dl class="facts">{rows}</dl>' if rows else ""


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]], style: str = "") -> str:
    """A table that folds into label and value on a narrow screen. The first cell of a row names the row.

    A column in which every cell is empty is left out, unless a `style` arranges the columns. No rows: nothing.
    Roles are written out because a folded table loses them.
    """
    body = [list(row) for row in rows]
    if not body:
        return ""
    kept = [i for i in range(len(heads)) if style or i == 0 or any(row[i] for row in body)]
    head = "".join(f'<th scope="col" role="columnheader">{clean(heads[i])}</th>' for i in kept)
    lines = []
    for row in body:
        first = (f'<th scope="row" role="rowheader" data-label="{clean(heads[0])}"{_wrapping(row[0])}>'
                 f"<span>{clean(row[0])}</span></th>")
        cells = "".join(f'<td role="cell" data-label="{clean(heads[i])}"{_wrapping(row[i])}>'
                        f"<span>{clean(row[i])}</span></td>" for i in kept if i)
        lines.append(f'<tr role="row">{first}{cells}</tr>')
    name = f' class="{style}"' if style else ""
    return (f'<table role="table"{name}><caption>{clean(caption)}</caption><thead role="rowgroup">'
            f'<tr role="row">{head}</tr></thead><tbody role="rowgroup">{"".join(lines)}</tbody></table>')


def _wrapping(text: str) -> str:
    """A class by which a cell breaks only where it may: never within a date or label, anywhere in an endless word."""
    longest = max((len(word) for word in text.split()), default=0)
    name = "empty" if not longest else "long" if longest > 24 else "tight" if longest == len(text) <= 14 else ""
    return f' class="{name}"' if name else ""


def frame(name: str, drawing: str, style: str = "") -> str:
    """A drawing that may be wider than the screen: it scrolls in its own frame, by keyboard too."""
    return f'<div class="frame {style}" role="group" aria-label="{clean(name)}" tabindex="0">{drawing}</div>'


def chooser(name: str, panels: Sequence[tuple[str, str]]) -> str:
    """Panels of which one is shown, chosen by radio buttons without a script; on paper all are shown.

    `name`: letters only, unique on the page. `panels`: (label as text, body as HTML).
    """
    parts = []
    for number, (label, body) in enumerate(panels):
        mark = " checked" if number == 0 else ""
        parts.append(f'<input type="radio" name="{name}" id="{name}{number}"{mark}>'
                     f'<label for="{name}{number}">{clean(label)}</label>'
                     f'<div class="panel"><h3>{clean(label)}</h3>{body}</div>')
    return f'<fieldset class="chooser"><legend>Choose an event</legend>{"".join(parts)}</fieldset>' if parts else ""
