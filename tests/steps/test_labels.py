"""The label plan: both ends of every cable, unique, without gaps; printed at true size; harmless in a spreadsheet.

Sizes on paper: CSS Values and Units, level 4, section 6.2: an inch is 96 px and 25.4 mm. Sheets are made up.
"""

import csv
import io
import re
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import pytest
from browser import QUIET, find_chromium, playwright
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.open_items import CHECK, MEND
from stagefloor.drawings.labels import LabelLayout, LabelMark, label_sheets
from stagefloor.drawings.svg import render
from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.lists import LabelSheet
from stagefloor.job.model import Job
from stagefloor.package.label_files import labels_csv, print_page, write
from stagefloor.results import Results, compute
from stagefloor.steps.cables import one_a_cable
from stagefloor.steps.labels import Label, csv_text, layout_of, relabelled

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
# 3 columns and 4 rows of 60 x 30 mm labels on A4, 65 mm and 35 mm from label to label, the first at 10, 12 mm.
LAYOUT = LabelLayout(page_width=0.210, page_height=0.297, rows=4, columns=3, width=0.060, height=0.030, pitch_across=0.065,
                     pitch_down=0.035, left=0.010, top=0.012, print_height=0.020, text_height=0.004, outline=True)


@pytest.fixture(scope="module", params=["quillhaven_playhouse", "ondry_hall", "one_box"])
def results(request: pytest.FixtureRequest) -> Results:
    return compute(store.read(DEMOS / request.param).job)


def test_every_cable_has_a_label_at_both_ends_and_every_opening_its_number(results: Results) -> None:
    cables = [x for x in results.labels if x.use == "cables"]
    new = len(one_a_cable(results.lines))
    reused = sum(line.cable is None for line in results.lines)
    assert len(cables) == 2 * (new + reused)
    assert all(n == 2 for n in Counter(x.text for x in cables).values())  # the demos' cable ids are unique
    assert Counter(x.end == "rack" for x in cables) == {True: new + reused, False: new + reused}
    faces = [x.text for x in results.labels if x.use == "faces"]
    assert Counter(faces) == Counter(o.label for b in results.job.boxes() for o in results.job.openings(b.id) if o.label)


def small(*names: str, kind: str = "microphone", states: tuple[str, ...] = ()) -> Job:
    """One box FB-A1 with lines of these names, each with its opening and cable of the same name."""
    job, (box,) = add(Job(), "box", [{"label": "FB-A1"}])
    for i, name in enumerate(names):
        job, (opening,) = add(job, "opening", [{"box": box, "what": kind, "label": name, "bay": "1", "slot": str(i + 1)}])
        job, (circuit,) = add(job, "circuit", [{"label": name, "what": kind, "openings": opening,
                                                "state": states[i] if states else "planned"}])
        job, _ = add(job, "cable", [{"label": name, "circuits": circuit}])
    return job


def found(job: Job) -> dict[str, tuple[str, str, str]]:
    return {i.code: (i.what, i.amount, i.state) for i in compute(job).items_of("cables") if i.code.startswith("label-")}


def test_a_number_that_is_left_out_is_named() -> None:
    assert found(small("A1-M1", "A1-M2", "A1-M3")) == {}
    assert found(small("A1-M1", "A1-M2", "A1-M5")) == {
        "label-gap": ("leave numbers out: A1-M3, A1-M4", "2 left out", CHECK)}
    # a retired line had the number: it is not left out
    assert found(small("A1-M1", "A1-M2", "A1-M3", states=("planned", "retired", "planned"))) == {}


def test_names_off_the_pattern_and_too_long_are_named() -> None:
    job, _ = add(small("M001", "A1-M2"), "labelrule", [{"what": "microphone", "pattern": "M[nnn]", "longest": "4"}])
    items = found(job)
    assert items["label-off-pattern"] == ("are not named by the pattern 'M[nnn]': A1-M2", "1 of 2", CHECK)
    assert items["label-long"] == ("have names longer than 4 characters: A1-M2", "1 of 2", CHECK)


def test_a_pattern_without_a_number_must_be_mended() -> None:
    job, _ = add(small("A1-M1"), "labelrule", [{"what": "microphone", "pattern": "MIC"}])
    assert found(job)["label-no-number"][2] == MEND


def test_an_id_on_two_cables_and_a_number_on_two_faces_must_be_mended() -> None:
    job = small("A1-M1", "A1-M2")
    (_, second), (_, opening) = (list(job.tables[k]) for k in ("cable", "opening"))
    job = set_fields(job, "cable", second, {"label": "a1-m1"})
    job = set_fields(job, "opening", opening, {"label": "A1-M1 "})
    items = found(job)
    assert items["label-cable-twice"][1:] == ("2 cables", MEND)
    assert items["label-face-twice"][1:] == ("2 openings", MEND)


NAMES = st.lists(st.sampled_from(["A1-M1", "A1-M2", "M001", "M002", "M003", "x", "MIC 7"]), min_size=1, max_size=8)


@settings(max_examples=60, deadline=None)
@given(NAMES, st.lists(st.sampled_from(["planned", "pulled", "retired"]), min_size=8, max_size=8),
       st.sampled_from(["M[nnn]", "[box]-M[n]", "[n]/[box]"]))
def test_naming_by_the_pattern_gives_each_planned_line_its_own_name(names: list[str], states: list[str],
                                                                   pattern: str) -> None:
    job = small(*names, states=tuple(states))
    job, _ = add(job, "labelrule", [{"what": "microphone", "pattern": pattern}])
    after = relabelled(job)
    planned = [c for c in after.circuits() if c.state == "planned"]
    assert len({c.label for c in planned}) == len(planned)
    kept = {c.id: c.label for c in job.tables["circuit"].values() if c.state != "planned"}  # type: ignore[attr-defined]
    assert {c.id: c.label for c in after.tables["circuit"].values() if c.id in kept} == kept  # type: ignore[attr-defined]
    assert not {c.label for c in planned} & set(kept.values())
    shape = {"M[nnn]": r"M\d{3}", "[box]-M[n]": r"A1-M[1-9]\d*", "[n]/[box]": r"[1-9]\d*/A1"}[pattern]
    assert all(re.fullmatch(shape, c.label) for c in planned)
    cables = {c.circuits[0]: c.label for c in after.tables["cable"].values()}  # type: ignore[attr-defined]
    assert all(cables[c.id] == c.label for c in planned)
    assert relabelled(after) == after


@given(st.sampled_from(("", " ", "   ")), st.sampled_from("=+-@\t\r"), st.text(max_size=12))
def test_no_label_becomes_a_formula(spaces: str, start: str, text: str) -> None:
    """A cell that starts with = + - @, a tab or a return may be read as a formula; an apostrophe before it prevents that."""
    assert csv_text(spaces + start + text) == f"'{spaces}{start}{text}"


@given(st.text(max_size=12).filter(lambda text: text.lstrip(" ")[:1] not in tuple("=+-@\t\r")))
def test_any_other_label_stays_as_it_is(text: str) -> None:
    assert csv_text(text) == text


def test_the_table_reads_back_and_holds_no_formula() -> None:
    labels = [Label("cables", "=HYPERLINK(1)", "to rack, strip 1", "microphone", "red", "FB-1"),
              Label("faces", '+1 "a"', "-", "data", "", "@b")]
    rows = list(csv.reader(io.StringIO(labels_csv(labels))))
    assert rows[1:] == [["cables", "'=HYPERLINK(1)", "to rack, strip 1", "microphone", "red", "FB-1"],
                        ["faces", "'+1 \"a\"", "'-", "data", "", "'@b"]]


def test_labels_lie_on_the_sheet_as_the_layout_says() -> None:
    """The fifth label: second row, second column; with two used up it is in the seventh place: third row, first column."""
    marks = tuple(LabelMark(text=f"A1-M{i}", detail="to rack", colour="red") for i in range(1, 15))
    for used, place in ((0, (10 + 65, 12 + 35)), (2, (10, 12 + 70))):
        pages = label_sheets(LAYOUT, marks, used)
        assert len(pages) == 2
        root = ElementTree.fromstring(render(pages[0], "q", true_size=True))
        assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
        _, _, wide, _ = (float(v) for v in root.get("viewBox", "").split())
        px = wide / 210
        assert px == pytest.approx(96 / 25.4, rel=1e-4)
        outlines = [e for e in root.iter("polygon") if "#8d9aa6" in (e.get("stroke") or "")]
        corners = [tuple(float(v) for v in p.split(",")) for p in outlines[4].get("points", "").split()]
        across, down = [x / px for x, _ in corners], [y / px for _, y in corners]
        assert (min(across), min(down)) == pytest.approx(place, abs=0.05)
        assert (max(across) - min(across), max(down) - min(down)) == pytest.approx((60, 30), abs=0.05)


@pytest.mark.parametrize(("fields", "words"), [
    ({}, ""), ({"pitch_across": "30 mm"}, "overlap"), ({"columns": "9"}, "216 mm wide"), ({"rows": "20"}, "279 mm high"),
    ({"rows": "0"}, "above zero"), ({"width": "0 mm"}, "label width must be above zero"),
])
def test_a_layout_that_can_not_be_printed_is_a_sentence(fields: dict[str, str], words: str) -> None:
    job, (sheet,) = add(Job(), "labelsheet", [{"label": "S", **fields}])
    layout, fault = layout_of(job.get(LabelSheet, sheet), job.settings.basis)
    assert words in fault
    assert (layout is None) == bool(words)


@pytest.mark.parametrize(("basis", "typed", "page"), [
    # ANSI/ASME Y14.1 size A: 8.5 x 11 in; ISO 216 A4: 210 x 297 mm
    ("US", {}, (8.5 * 0.0254, 11 * 0.0254)), ("IEC/UK", {}, (0.210, 0.297)),
    ("US", {"page_width": "210 mm"}, (0.210, 11 * 0.0254)), ("US", {"page_width": "0 mm"}, None)])
def test_the_page_is_the_paper_of_the_country_unless_it_was_typed(basis: str, typed: dict[str, str],
                                                                  page: tuple[float, float] | None) -> None:
    job, (sheet,) = add(Job(), "labelsheet", [{"label": "S", **typed}])
    layout, _ = layout_of(job.get(LabelSheet, sheet), basis)
    assert (layout and (layout.page_width, layout.page_height)) == (page and pytest.approx(page))


def test_the_files_of_a_demo(tmp_path: Path) -> None:
    job = store.read(DEMOS / "one_box").job
    job, _ = add(job, "labelsheet", [{"label": "Wraps", "width": "8 mm"}, {"label": "Bad", "columns": "40"}])
    files, said = write(compute(job), tmp_path / "labels")
    assert [f.name for f in files] == ["labels.csv", "labels_1_cables.html"]
    assert any("printed smaller to fit" in s for s in said) and any("'Bad'" in s for s in said)


@pytest.mark.browser
def test_printed_sheets_are_to_scale() -> None:
    """In the browser and on paper: pages of 210 x 297 mm (595.28 x 841.89 points), a label 60 x 30 mm at 10, 12 mm."""
    labels = [Label("cables", f"A1-M{i}", "to rack, strip 1", "microphone", "red", "FB-A1") for i in range(14)]
    browser = playwright().chromium.launch(executable_path=find_chromium(), args=list(QUIET))
    try:
        page = browser.new_page()
        page.set_content(print_page(LAYOUT, labels, 0, "Test"))
        box = page.evaluate("""() => { const s = document.querySelector('svg').getBoundingClientRect();
            const l = document.querySelector('svg polygon').getBoundingClientRect();
            return [s.width, s.height, l.width, l.height, l.left - s.left, l.top - s.top].map(v => v * 25.4 / 96); }""")
        assert box == pytest.approx([210, 297, 60, 30, 10, 12], abs=0.2)  # the outline's own line is 0.16 mm wide
        printed = page.pdf(prefer_css_page_size=True, print_background=True)
    finally:
        browser.close()
    sizes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", printed)
    assert len(sizes) == 2  # 14 labels, 12 on a sheet
    for wide, high in sizes:
        assert (float(wide), float(high)) == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.6)
