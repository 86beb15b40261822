"""Every calculated number of a demo leads to its working, and every working names its basis.

The expected side of each check is what a page shows; the working must carry the same figure and stand there.
"""

import re
from decimal import Decimal
from html import escape
from pathlib import Path

import pytest

from stagefloor.core.units import FOOT
from stagefloor.entry import boxes, cables, inventory, labour, line_tests
from stagefloor.job import store
from stagefloor.job.inventory import Event
from stagefloor.package.extract_client import extract
from stagefloor.results import Results, compute
from stagefloor.steps.cables import cable_totals, total_working

DEMOS = sorted(p.parent for p in (Path(__file__).resolve().parents[2] / "demo_projects").glob("*/job.json"))
# Amounts of open items that are counts of things listed in the job, or figures that the sentence takes from its rule.
COUNTED = {
    "handover-not-begun", "old-line-not-first", "spare-or-key-open", "training-open", "warranty-open",
    "survey-open", "behind-unknown", "below-unknown", "rating-unknown", "old-line-untested", "hold-point-open",
    "as-built-position-open", "document-open", "lines-untested", "lines-part-tested", "mains-untested",
    "punch-item-open", "label-twice", "sleeve-open", "trunking-barrier", "camera-without-microphone", "audience-floor",
    "mains-no-circuit", "label-gap", "label-off-pattern", "label-long", "label-cable-twice", "label-face-twice",
    "label-face-missing",
}  # fmt: skip


@pytest.fixture(scope="module", params=DEMOS, ids=lambda p: p.name)
def results(request) -> Results:
    return compute(store.read(request.param).job)


def test_every_working_names_its_basis(results: Results) -> None:
    found = results.workings()
    assert len(found) > 5
    assert [w.name for w in found if not w.basis or not all(b.text.strip() for b in w.basis)] == []
    assert [w.name for w in found if not w.formula.strip()] == []


def test_the_need_is_the_result_of_its_working(results: Results) -> None:
    names = {e.id: e.name for e in results.job.all(Event)}
    page = inventory.need(results)
    for peak in results.peaks.values():
        working = peak.working(names, "the whole stage")
        assert working.result.amount == peak.count
        assert working.as_html() in page


def test_each_box_carries_the_working_of_its_places(results: Results) -> None:
    for b in results.boxes:
        if b.layout is not None:
            assert b.layout.working(b.box.title).as_html() in boxes.card(results, b)


def test_each_length_and_fill_leads_to_its_working(results: Results) -> None:
    display = results.job.settings.units
    per = FOOT if display == "ft-in" else 1.0
    everything = results.workings()
    for line in results.lines:
        way = line.way.working(line.circuit.label, display)
        assert way in everything
        if not line.typed:
            assert way.result.amount * per == pytest.approx(line.metres, abs=1e-6), line.circuit.label
        if line.check is not None:
            assert line.check.as_html() in cables.lines(results)
    total = total_working(cable_totals(list(results.lines)), display)
    if results.lines:
        assert total.as_html() in cables.lines(results)
    for raceway in results.raceways:
        if raceway.fill is not None:
            assert raceway.fill.as_html() in cables.fills(results)


def test_each_sum_of_money_and_hour_leads_to_its_working(results: Results) -> None:
    e = results.estimate
    if not e.tasks and e.selling is None:
        assert "Enter hours for tasks and prices" in labour.summary(
            results
        )  # no number, and nothing invented
        return
    page = labour.summary(results)
    shown = [e.likely_hours, e.cautious_hours, *e.build_up, *e.totals, *(t.working for t in e.tasks),
             *(m.working for m in e.materials), *(w.working for w in e.labour)]  # fmt: skip
    assert [w.name for w in shown if w.as_html() not in page] == []
    figures = [v for w in (*e.build_up, *e.totals) for v in (w.result, *w.also, *w.inputs)]
    # A section's price is the sum of the cells beside it; the sections add up to the price that is worked.
    cents = {Decimal(str(v.amount)).quantize(Decimal("0.01")) for v in figures}
    for part in ("material", "labour", "selling"):
        assert sum((getattr(s, part) for s in e.sections), Decimal(0)) in cents, part
    if e.selling:
        assert e.selling.total in cents


def test_each_expected_reading_leads_to_its_working(results: Results) -> None:
    page = line_tests.judged(results)
    for reading in results.readings:
        if reading.expected is not None or reading.low is not None or reading.high is not None:
            assert reading.working is not None, f"{reading.line}, {reading.test}"
            assert reading.working.as_html() in page


def test_each_open_item_with_a_calculated_amount_carries_its_working(results: Results) -> None:
    bare = {i.code for i in results.items if re.search(r"\d", i.amount) and not i.workings}
    assert bare - COUNTED == set()


def test_the_client_sees_the_basis_of_each_working(results: Results) -> None:
    file = extract(results)
    assert file.workings
    assert [w.name for w in file.workings if not w.basis or not all(b.text for b in w.basis)] == []
    names = {escape(w.name) for w in results.workings()}
    assert {escape(w.name) for w in file.workings} <= names
