"""Charts of the live pages. They follow the job; each stands beside a table with the same figures."""

from collections.abc import Callable
from html import escape

import ipywidgets as widgets
import plotly.graph_objects as go

from stagefloor.entry.session import Session
from stagefloor.job.inventory import KINDS, Event, kind_name

# Own order of muted fills; each bar also carries its kind in words and a pattern, so colour is not needed.
FILLS = ("#3f5f7f", "#8a6d3b", "#5f7f5f", "#7f4f4f", "#6b5b8c", "#4f7f80", "#8c7a6b", "#55636f")
PATTERNS = ("", "/", ".", "x", "-", "\\", "|", "+")


def _figure(title: str, across: str) -> go.FigureWidget:
    figure = go.FigureWidget()
    figure.update_layout(title={"text": title, "font": {"size": 15}}, barmode="stack", template="none", height=340,
                         margin={"l": 130, "r": 20, "t": 50, "b": 50}, xaxis_title=across,
                         font={"family": "system-ui, sans-serif", "size": 13}, legend={"orientation": "h", "y": -0.2},
                         yaxis={"autorange": "reversed"})
    return figure


def _or_sentence(figure: go.FigureWidget, sentence: str) -> tuple[widgets.Widget, Callable[[bool], None]]:
    """The figure, or a sentence in its place while there is nothing to draw; and what says which."""
    said = widgets.HTML(f'<div class="sf"><p>{escape(sentence)}</p></div>')
    said.add_class("sf-no-chart")
    box = widgets.VBox([said], layout=widgets.Layout(width="100%"))

    def tell(something: bool) -> None:
        wanted = (figure,) if something else (said,)
        if box.children != wanted:
            box.children = wanted

    return box, tell


def need_by_event(session: Session) -> widgets.Widget:
    """What is connected in each event, by kind."""
    figure = _figure("Connections in each event", "connections")
    for kind, fill, pattern in zip(KINDS, FILLS, PATTERNS, strict=True):
        figure.add_bar(orientation="h", name=kind, marker={"color": fill, "pattern": {"shape": pattern}})

    shown, tell = _or_sentence(figure, "Nothing to draw yet: enter an event, and a point with a count, and the bars "
                                       "appear here.")

    def refresh() -> None:
        totals = session.results().event_totals
        names = [e.name for e in session.job.all(Event)]
        with figure.batch_update():
            for bar, kind in zip(figure.data, KINDS, strict=True):
                bar.name = session.words.text(kind_name(kind))
                bar.y, bar.x = names, [t[kind] for t in totals.values()]
                bar.visible = any(t[kind] for t in totals.values())
        tell(any(any(t.values()) for t in totals.values()))

    refresh()
    session.listen(refresh)
    return shown


def short(name: str, most: int = 46) -> str:
    """A name that fits beside a bar: whole, or cut after a word with three dots."""
    return name if len(name) <= most else name[:most].rsplit(" ", 1)[0].rstrip(",;") + " …"


def hours_by_task(session: Session) -> widgets.Widget:
    """Likely hours of the longest tasks, with low and high."""
    figure = _figure("Hours by task, likely with low and high", "hours")
    figure.add_bar(orientation="h", name="likely", marker={"color": FILLS[0]})
    figure.update_layout(showlegend=False, margin={"l": 330}, height=420)

    shown, tell = _or_sentence(figure, "Nothing to draw yet: the longest tasks appear here as soon as there are hours.")

    def refresh() -> None:
        tasks = sorted(session.results().estimate.tasks, key=lambda t: -float(t.hours))[:12]
        with figure.batch_update():
            bar = figure.data[0]
            bar.y, bar.x = [short(session.words.text(t.task)) for t in tasks], [float(t.hours) for t in tasks]
            bar.error_x = {"type": "data", "symmetric": False, "array": [max(0.0, t.high - float(t.hours)) for t in tasks],
                           "arrayminus": [max(0.0, float(t.hours) - t.low) for t in tasks]}
        tell(any(t.hours for t in tasks))

    refresh()
    session.listen(refresh)
    return shown
