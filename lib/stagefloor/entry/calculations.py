"""A page for instructors: any calculation by itself, inputs as typed, its working. Knows no job."""

from html import escape

import ipywidgets as widgets

from stagefloor.calculations.catalogue import ALL, Calculation, Parameter, find, outside_checks
from stagefloor.calculations.command import calculate
from stagefloor.core.problems import Problem
from stagefloor.core.units import KINDS
from stagefloor.entry import show

UNITS_NAMED = 6  # units of a kind that a hint names
FIRST = "voltage-drop-dc"  # the calculation on show when the page opens


class Page:
    """Calculations to choose, a field an input, the working below; a refused text stays in its field."""

    def __init__(self) -> None:
        self.choose = widgets.Dropdown(
            options=[(f"{c.name}: {c.line}", c.name) for c in ALL],
            value=FIRST,
            description="Calculation",
            layout=widgets.Layout(width="100%"),
        )
        self.form = widgets.VBox(layout=widgets.Layout(width="100%"))
        self.working = widgets.HTML(layout=widgets.Layout(width="100%"))
        self.working.add_class("sf-working-shown")
        self.fields: dict[str, widgets.Text] = {}
        self._said: dict[str, widgets.HTML] = {}
        self._typed: dict[str, dict[str, str]] = {}
        self.choose.observe(lambda _: self._open(), "value")
        self._open()

    @property
    def calculation(self) -> Calculation:
        return find(self.choose.value)

    def _open(self) -> None:
        """Fields for the chosen calculation, with what was typed before or else its example."""
        chosen = self.calculation
        kept = self._typed.setdefault(chosen.name, dict(chosen.example))
        self.fields, self._said, rows = {}, {}, []
        for p in chosen.parameters:
            field = widgets.Text(
                value=kept.get(p.key, ""),
                description=p.key.replace("_", " "),
                continuous_update=False,
                tooltip=hint(p),
                style={"description_width": "150px"},
                layout=widgets.Layout(width="420px", max_width="100%"),
            )
            field.observe(lambda _: self._refresh(), "value")
            self.fields[p.key], self._said[p.key] = field, widgets.HTML()
            rows.append(
                widgets.VBox(
                    [
                        widgets.HBox(
                            [field, widgets.HTML(f"<small>{escape(hint(p))}</small>")],
                            layout=widgets.Layout(flex_flow="row wrap"),
                        ),
                        self._said[p.key],
                    ]
                )
            )
        self.form.children = rows
        self._refresh()

    def _refresh(self) -> None:
        chosen = self.calculation
        texts = {key: field.value for key, field in self.fields.items()}
        self._typed[chosen.name] = texts
        for said in self._said.values():
            said.value = ""
        try:
            found = calculate(chosen, {key: text for key, text in texts.items() if text.strip()})
            body = found.as_html().replace("<details", "<details open", 1)
        except Problem as problem:
            beside = self._said.get(problem.where)
            if beside is not None:
                beside.value = f'<div class="sf">{show.paragraph(problem.sentence)}</div>'
                body = show.paragraph("The working appears when the field above is mended.")
            else:
                body = show.paragraph(problem.sentence)
        self.working.value = f'<div class="sf">{body}{compared(chosen)}</div>'


def hint(p: Parameter) -> str:
    """What an input means, in which units it may be typed, and whether it may be left out."""
    several = "; several with commas between them" if p.form in ("numbers", "texts", "segments") else ""
    units = "" if p.kind == "ratio" else f" [{', '.join(list(KINDS[p.kind][1])[:UNITS_NAMED])}]"
    return f"{p.words}{several}{units}{'' if p.required else ', may be left empty'}"


def compared(chosen: Calculation) -> str:
    """What the calculation was compared with, folded."""
    found = outside_checks().get(chosen.name, [])
    if not found:
        return show.paragraph("This calculation was compared with no outside source.")
    return show.folded(
        "What it was compared with",
        show.table(
            ("Source", "Values", "How they were read"), [(c.source, c.values, c.status) for c in found], (1,)
        ),
    )


def calculations() -> widgets.Widget:
    """The whole page: choose, type, read the working."""
    page = Page()
    return show.stack(show.style(), page.choose, page.form, page.working)
