"""Only what is allowed reaches a page."""

import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from stagefloor.package.page import PageExporter, css_text, page_html, prose

TITLE = {"venue": "A & B <Hall>", "shop": "Shop", "contact": "", "issue": "Revision A"}
PAGES = [{"name": "index", "file": "index.html", "title": "Cover"}, {"name": "two", "file": "two.html", "title": "Two"}]


def page_of(*cells):
    return page_html(PageExporter(), nbformat.v4.new_notebook(cells=list(cells)), TITLE, PAGES, "index")


def code_cell(*outputs, tags=("page",)):
    return nbformat.v4.new_code_cell("SECRET_SOURCE", outputs=list(outputs), metadata={"tags": list(tags)})


def shown(**data):
    return nbformat.v4.new_output("execute_result", {k.replace("_", "/"): v for k, v in data.items()})


def test_html_of_a_tagged_cell_is_shown_and_its_source_is_not():
    page = page_of(code_cell(shown(text_html="<p>hello</p>", text_plain="SECRET_PLAIN")))
    assert "<p>hello</p>" in page
    assert "SECRET" not in page


@pytest.mark.parametrize("cell", [
    code_cell(shown(text_html="<p>SECRET</p>"), tags=()),
    code_cell(nbformat.v4.new_output("stream", name="stdout", text="SECRET")),
    code_cell(nbformat.v4.new_output("stream", name="stderr", text="SECRET")),
    code_cell(nbformat.v4.new_output("error", ename="SECRET", evalue="SECRET", traceback=["SECRET"])),
    code_cell(shown(**{"application_vnd.jupyter.widget-view+json": {"model_id": "SECRET"}})),
    code_cell(shown(application_javascript="SECRET()")),
    code_cell(shown(text_plain="SECRET")),
    code_cell(shown(image_png="SECRET")),
    nbformat.v4.new_markdown_cell("SECRET"),
    nbformat.v4.new_raw_cell("SECRET", metadata={"tags": ["page"]}),
], ids=["untagged", "printed", "warned", "error", "widget", "script", "plain", "image", "markdown", "raw"])
def test_everything_else_is_left_out(cell):
    assert "SECRET" not in page_of(cell)


def test_notebook_metadata_does_not_travel():
    book = nbformat.v4.new_notebook(cells=[], metadata={"widgets": {"SECRET": 1}, "title": "SECRET"})
    assert "SECRET" not in page_html(PageExporter(), book, TITLE, PAGES, "index")


def test_title_is_escaped_and_the_page_is_closed_to_the_outside():
    page = page_of()
    assert "A &amp; B &lt;Hall&gt;" in page
    assert "<Hall>" not in page
    assert "content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\"" in page
    assert 'aria-current="page"' in page
    assert "Next: Two" in page
    assert "Back:" not in page


def test_prose_keeps_plain_tags_only():
    made = prose("# Head\n\nA *word* <script>x()</script> [link](https://example.org) ![i](https://example.org/i.png)")
    assert made.strip().startswith("<h1>Head</h1>")
    assert "<em>word</em>" in made
    for word in ("<script", "http", "img", "<a", "¶"):
        assert word not in made


def test_css_text_by_hand():
    """U+0026 is the ampersand, U+0022 the quote, U+00E9 the e acute (Unicode)."""
    assert css_text('A&"\u00e9 1') == "A\\26 \\22 \\e9  1"


def test_the_slow_optional_package_is_kept_out_and_nbconvert_works_without_it():
    """It saves about two seconds; the day that nbformat needs it, this fails."""
    code = ("import sys; import stagefloor.package.page, nbformat\n"
            "nbformat.validate(nbformat.v4.new_notebook())\n"
            "print(sys.modules.get('rfc3987_syntax'))")
    library = Path(__file__).resolve().parents[2] / "lib"
    answer = subprocess.run([sys.executable, "-c", code], env={"PYTHONPATH": str(library)}, capture_output=True,
                            text=True, check=True)
    assert answer.stdout.strip() == "None"
