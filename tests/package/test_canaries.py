"""Nothing internal reaches a byte of the client's folder: every field that is not named as the client's is marked."""

import shutil
from decimal import Decimal
from pathlib import Path

import pytest
from browser import TOP

from stagefloor.job import edit, store
from stagefloor.job.fields import shape_of
from stagefloor.job.model import Job
from stagefloor.job.record import Record
from stagefloor.package import build
from stagefloor.package.build import build_from_file
from stagefloor.package.checks import search_bytes
from stagefloor.package.extract_client import client_file
from stagefloor.results import compute

pytestmark = pytest.mark.slow
# What a client may read, field by field. A field that is new is internal until someone names it here.
CLIENTS = {
    "settings": {"venue", "client", "shop", "contact", "units", "basis", "edition", "currency", "floor_type", "origin",
                 "reach", "spare_percent", "growth_percent", "breaker_role", "warranty", "validity", "care",
                 "stage_left", "stage_right", "stage_down", "stage_up"},
    "survey": {"topic", "looked"}, "event": {"label", "per_year"}, "point": {"label", "what", "x", "y"},
    "keepclear": {"label", "what", "x0", "y0", "x1", "y1", "width"}, "oldoutlet": {"label", "what", "after", "tested"},
    "boxmodel": {"label", "surface", "across", "along", "depth", "flange", "bays", "mains_bays", "openings",
                 "mains_outlets"},
    "box": {"label", "surface", "x", "y", "z", "hinge", "turned"}, "opening": {"label", "what"},
    "circuit": {"label", "what", "rack"}, "segment": {"label"}, "node": {"label"}, "cabletype": {"label"},
    # who measured is not told; who released a hold point is: that is its evidence
    "reading": {"test", "result", "value", "date", "instrument"},
    "asbuilt": {"x", "y", "z", "note_text", "date", "model", "feed", "connector", "trimmed", "photo"},
    "spare": {"label", "quantity", "owner", "given_to", "date"}, "training": {"label", "who", "owner", "date"},
    "warranty": {"label", "starts", "date", "months", "contact"}, "document": {"label", "owner", "received"},
    "revision": {"label", "date", "words"},
    "holdpoint": {"label", "when", "by", "date", "evidence", "photo"},
    # who does what is for all to know, though not an item that the office named itself
    "term": {"what", "words"}, "duty": {"furnished", "installed", "terminated", "tested"},
    "pricing": {"tax", "show_sections"}, "pricerow": {"section"}, "hourunit": {"section"},
}
# Figures whose odd digits can't come about by chance.
FIGURES = {"rate": "46.5371", "material_markup": "25.7193", "labour_markup": "41.3197", "contingency": "8.1937",
           "likely": "1.73913", "low": "1.13791", "high": "2.91737", "cost": "317.4193", "hours": "6.19373",
           "chance": "21.7391", "price": "19.5137", "wage": "38.6171", "percent": "13.1739", "unit_price": "61.3719",
           "retainage": "9.37193", "later": "5.17391", "waste": "3.71937", "price_low": "4.19373",
           "price_high": "11.3719", "hours_a_day": "7.39173", "factor": "14.7191", "cap": "12.7193", "days": "3.19371",
           "completed": "4193.71", "stored": "517.193", "amount": "2.39171", "tax": "17.3791"}
# a price row's lowest and highest stand around its cost
OWN = {"pricerow.low": "311.7193", "pricerow.high": "331.9173"}


def marked(job: Job, allowed: dict[str, set[str]] = CLIENTS, reader: str = "client") -> tuple[Job, list[str]]:
    """The job with a mark in every text that the reader may not see and odd figures in every such number; all the marks."""
    marks: list[str] = []
    records: list[Record] = []
    for kind, table in {**job.tables, "settings": {"job": job.settings}}.items():
        for record in table.values():
            update: dict[str, object] = {}
            for name, info in type(record).model_fields.items():
                if name == "id" or name in allowed.get(kind, set()):
                    continue
                if kind in ("remark", "punch") and getattr(record, "audience", "") == reader and name != "closed":
                    continue
                shape = shape_of(info)
                if shape in ("text", "note") and name not in ("quantity", "size"):
                    marks.append(f"Zq{len(marks):04d}Wx")
                    update[name] = marks[-1]
                elif name in FIGURES and shape in ("number", "money"):
                    figure = OWN.get(f"{kind}.{name}", FIGURES[name])
                    update[name] = Decimal(figure) if shape == "money" else float(figure)
            if kind == "punch" and record.audience != "client":  # type: ignore[attr-defined]
                update["closed"] = ""
            records.append(record.model_copy(update=update))
    return job.with_records(records), [*marks, *FIGURES.values(), *OWN.values()]


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    folder = tmp_path_factory.mktemp("canaries")
    shutil.copy(TOP / "demo_projects" / "quillhaven_playhouse" / "job.json", folder)
    found: list[str] = []

    def mark(before: Job) -> Job:
        drawing = {"label": "sheet", "file": f"{'0' * 24}.png", "shown": "yes", "distance": "52 ft"}
        after, marks = marked(edit.add(before, "background", [drawing])[0])
        found[:] = marks
        return after

    store.transact(folder, mark, "marks")
    return folder, found


def secrets(folder: Path) -> list[str]:
    """Figures that are worked out inside: hours, costs, contingency, markup, risk, changes, as a page would write them."""
    results = compute(store.read(folder).job)
    e = results.estimate
    amounts = [a for s in e.sections for a in (s.material, s.labour, s.contingency_material + s.contingency_labour,
                                               s.markup_material + s.markup_labour)]
    spread = e.drawn.money
    amounts += [spread.mean, spread.median, spread.cautious, *(c.price for c in results.changes),
                *(p.kept for p in results.payments), *(c.later for c in results.changes if c.later)]
    assert len(results.changes) > 2  # options, and raceway now or later
    assert len(results.lessons) > 1
    amounts += [m.cost for m in e.materials] + [w.cost for w in e.labour] + [r.expected for r in e.risks]
    words = [f"{a:,.2f}" for a in amounts if a > 10] + [f"{a:.2f}" for a in amounts if a > 10]
    hours = [e.likely_hours, e.cautious_hours, e.cautious_cost, e.build_up[-1], *(x.working for x in results.lessons)]
    return [*words, *(w.result.text() for w in hours if len(w.result.text()) > 4)]


def test_nothing_internal_is_in_any_byte(job: tuple[Path, list[str]]) -> None:
    folder, marks = job
    assert len(marks) > 300
    built = build(folder)
    assert search_bytes(built.folder, [*marks, *secrets(folder)]) == []
    # the search does find what the client may read: it is looking in the right place
    assert search_bytes(built.folder, ["FB-A1"])


def test_a_planted_leak_is_found(job: tuple[Path, list[str]], tmp_path: Path) -> None:
    """One office remark put where the client reads: the search names it."""
    folder, marks = job
    file, _ = client_file(folder)
    leak = file.model_copy(update={"assumptions": (*file.assumptions, f"Margin note {marks[5]}")})
    hits = search_bytes(build_from_file(leak, tmp_path / "leak").folder, marks)
    assert {h.word for h in hits} == {marks[5]}
