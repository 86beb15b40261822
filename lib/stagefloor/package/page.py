"""Turns a page notebook that has run into one HTML page through our own template: what is not allowed is not there."""

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import nh3
from jinja2 import Environment
from jupyter_core.paths import jupyter_path
from markupsafe import Markup
from nbconvert.exporters.templateexporter import TemplateExporter
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

import stagefloor.package.lean_import  # noqa: F401  (before nbconvert)
from stagefloor.core.words import Words

HERE = Path(__file__).resolve().parent / "template"
PAGE_TAG = "page"
PROSE_TAGS = {"h1", "h2", "h3", "p", "ul", "ol", "li", "em", "strong", "code", "blockquote", "br"}


def prose(source: str) -> Markup:
    """Markdown of a page notebook as HTML, reduced to plain tags without attributes."""
    rendered = str(MarkdownWithMath(renderer=IPythonRenderer(anchor_link_text="")).render(source))
    return Markup(nh3.clean(rendered, tags=PROSE_TAGS, attributes={}))


def css_text(text: str) -> Markup:
    """A text for a CSS string: every character but letters, digits and the space is written as an escape.

    The space after an escape belongs to it (CSS Syntax Module Level 3, section 4.3.7).
    """
    return Markup("".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in text))


def shown_output(output: Any) -> Markup:
    """The HTML of one output, if it is the value of a cell; printed text, errors, widgets and scripts are left out."""
    if output.get("output_type") not in ("execute_result", "display_data"):
        return Markup("")
    return Markup(output.get("data", {}).get("text/html", ""))


class PageExporter(TemplateExporter):  # type: ignore[misc]
    """nbconvert with our template, escaping by default; it reads no template from the user's own set-up."""

    def __init__(self) -> None:
        shares = [Path(sys.prefix) / "share" / "jupyter", *(Path(p) for p in jupyter_path())]
        base = next(s / "nbconvert" / "templates" for s in shares
                    if (s / "nbconvert" / "templates" / "base" / "null.j2").exists())
        super().__init__(template_paths=[str(HERE), str(base)], template_file="page.html.j2", file_extension=".html")

    def _create_environment(self) -> Environment:
        environment = super()._create_environment()
        environment.autoescape = True
        environment.filters |= {"prose": prose, "css_text": css_text, "shown_output": shown_output}
        return environment


def page_html(exporter: PageExporter, notebook: Any, title: dict[str, str], pages: Iterable[dict[str, str]],
              here: str, words: Words | None = None) -> str:
    """One page, in the words of the job's country; without `words` in those of the workbook.

    Parameters
    ----------
    notebook : has run; only cells tagged 'page' are shown
    title : venue, document, shop, contact, revision and date, as typed
    pages : name, file and title of every page in order; here : the name of this one
    """
    listed = list(pages)
    place = [p["name"] for p in listed].index(here)
    words = words or Words("")
    resources = {"language": words.language, "paper": words.paper, "title": title, "pages": listed,
                 "here": here, "page_tag": PAGE_TAG,
                 "style": Markup((HERE / "style.css").read_text(encoding="utf-8")),
                 "before": listed[place - 1] if place else None,
                 "after": listed[place + 1] if place + 1 < len(listed) else None}
    body, _ = exporter.from_notebook_node(notebook, resources=resources)
    return words.html(str(body))
