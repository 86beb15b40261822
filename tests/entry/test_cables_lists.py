"""The lists of the cables step as a user meets them: typed reels change the cut list, buttons name lines and write files."""

import asyncio
import re
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import pytest
from browser import TOP

from stagefloor.entry import cables_drawings, cables_lists
from stagefloor.entry.session import Session
from stagefloor.job import store
from stagefloor.job.cables import CableType
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.results import compute

AMOUNT = re.compile(r"\d[\d,]*\.\d\d(?!\d)")
OWN = ("reel", "labelrule", "labelsheet")


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    """A demo without the reels, label rules and label sheets that it comes with."""
    shutil.copy(TOP / "demo_projects" / "ondry_hall" / "job.json", tmp_path)
    store.transact(tmp_path, lambda j: replace(j, tables={k: t for k, t in j.tables.items() if k not in OWN}), "bare")
    opened = Session(tmp_path)
    for module in (cables_lists, cables_drawings):
        monkeypatch.setattr(module, "here", lambda: opened)
    return opened


def found(widget: widgets.Widget, css: str) -> widgets.Widget:
    """The part of a widget with a class."""
    parts = [widget]
    while parts:
        part = parts.pop(0)
        if css in getattr(part, "_dom_classes", ()):
            return part
        parts += getattr(part, "children", ())
    raise AssertionError(f"nothing has the class {css}")


def rows(job: Job, kind: str, cells: list[dict[str, object]]) -> Job:
    return add(job, kind, cells)[0]


def test_a_leftover_that_is_typed_is_in_the_cut_list_at_once(session: Session) -> None:
    """39 microphone cables need three reels of 300 m; what does not fit on two comes from a leftover of 290 m."""
    view = found(cables_lists.reels(), "sf-reels")
    assert "39 cables: 3 reels to buy. Proven" in view.value
    kind = next(t.id for t in session.job.all(CableType) if t.label == "Screened pair, 22 AWG")
    session.edit("leftover", lambda j: rows(j, "reel", [{"label": "L-9", "type": kind, "what": "in the shop",
                                                          "length": "290 m", "where": "van"}]))
    session.tell()
    assert "39 cables: 2 reels to buy, 1 from the shop. Proven" in view.value
    assert "<td>L-9</td><td>van</td>" in view.value


def test_looking_longer_says_what_came_of_it(session: Session) -> None:
    async def press() -> str:
        stack = cables_lists.reels()
        button, said = found(stack, "sf-reels-longer"), found(stack, "sf-reels-said")
        button.click()
        for _ in range(400):
            await asyncio.sleep(0.02)
            if "Looking" not in said.value and said.value:
                return str(said.value)
        raise AssertionError("no answer")

    with ThreadPoolExecutor(1) as apart:  # a loop of its own, whatever runs in this thread
        assert "Every cut list is proven now." in apart.submit(asyncio.run, press()).result()


def test_lines_are_named_by_a_rule_and_undone(session: Session) -> None:
    stack = cables_lists.labels()
    button, said = found(stack, "sf-labels-name"), found(stack, "sf-labels-said")
    button.click()
    assert "enter a rule first" in said.value
    before = {c.id: c.label for c in session.job.circuits()}
    session.edit("rule", lambda j: rows(j, "labelrule", [{"what": "data", "pattern": "D[nnn]", "colour": "yellow"}]))
    button.click()
    assert "14 lines got another name" in said.value
    data = [c.label for c in session.job.circuits() if c.what == "data"]
    assert sorted(data) == [f"D{n:03d}" for n in range(1, 15)]
    assert not [i for i in compute(session.job).items_of("cables") if i.code.startswith("label-")]
    session.undo()
    assert {c.id: c.label for c in session.job.circuits()} == before


def test_label_files_are_written_beside_the_job(session: Session) -> None:
    session.edit("sheet", lambda j: rows(j, "labelsheet", [{"label": "Wraps"}, {"label": "Faces", "use": "faces"}]))
    stack = cables_lists.labels()
    found(stack, "sf-labels-write").click()
    folder = session.path.parent / "documents" / "labels"
    assert sorted(p.name for p in folder.iterdir()) == ["labels.csv", "labels_1_cables.html", "labels_2_faces.html"]
    assert "labels.csv" in found(stack, "sf-labels-said").value
    assert len((folder / "labels.csv").read_text("utf-8-sig").splitlines()) == 1 + 2 * 72 + 88


def test_the_views_of_an_empty_job_say_what_to_do(tmp_path: Path) -> None:
    results = compute(Job())
    for view in (cables_lists.cut_list, cables_lists.buying, cables_lists.multicores, cables_lists.sheets,
                 cables_lists.label_plan, cables_drawings.routes, cables_drawings.diagram, cables_drawings.sections):
        said = view(results)
        assert any(w in said for w in ("yet", "Nothing", "enter a multicore")), said


def test_no_price_is_on_what_the_crew_reads(session: Session) -> None:
    """Prices stand in the purchase list only: 300 m at 0.87 are 261.00, three reels 783.00, 72 labels at 0.43 30.96."""
    def priced(job: Job) -> Job:
        return rows(job, "pricerow", [{"item": "Pair", "quantity": "cable m: microphone", "per": "1", "cost": "0.87"},
                                      {"item": "Label", "quantity": "labels", "per": "1", "cost": "0.43"}])

    session.edit("price", priced)
    results = compute(session.job)
    money = {"0.87", "261.00", "783.00", "0.43", "30.96", "813.96"}
    assert money <= set(AMOUNT.findall(cables_lists.buying(results)))
    assert results.purchase.total is not None
    known = [results.purchase.total.result.amount, *(v for r in results.purchase.rows for v in (r.each, r.cost) if v)]
    money |= {f"{v:,.2f}" for v in known}
    for view in (cables_lists.cut_list, cables_lists.sheets, cables_lists.label_plan, cables_drawings.routes,
                 cables_drawings.diagram, cables_drawings.sections):
        assert not money & set(AMOUNT.findall(view(results))), view.__name__
