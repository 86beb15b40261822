"""Every number with a unit, a fraction or cents on the client's pages stands in a working of that set, or was typed.

The live steps are looked at in the same way where they are run (`tests/entry/test_notebooks.py`).
"""

from pathlib import Path

import nbformat
import pytest
from digits import Sources, shown, untraced

from stagefloor.core.workings import Basis, Value, Working
from stagefloor.job import store
from stagefloor.package.extract_client import extract
from stagefloor.readers import client
from stagefloor.readers.client.record import ClientFile, ShownWorking
from stagefloor.results import compute

TOP = Path(__file__).resolve().parents[2]
DEMOS = sorted(p.parent for p in (TOP / "demo_projects").glob("*/job.json"))


def page(file: ClientFile) -> str:
    """What all page notebooks of the client show, in their order."""
    parts = []
    for path in sorted((TOP / "workbook" / "pages" / "client").glob("*.ipynb")):
        for cell in nbformat.read(path, as_version=4).cells:
            if cell.cell_type == "code" and cell.source.startswith("client."):
                parts.append(getattr(client, cell.source[7:].split("(")[0])(file)._repr_html_())
    return "".join(parts)


def plain(w: ShownWorking) -> Working:
    def value(v) -> Value:
        return Value(v.symbol, v.name, v.amount, v.unit)

    return Working(
        w.name, w.formula, tuple(map(value, w.inputs)), value(w.result), (Basis("as shown"),),
        value(w.limit) if w.limit else None, w.sense or "<=", (), tuple(map(value, w.also)),
    )  # fmt: skip


@pytest.mark.parametrize("demo", DEMOS, ids=lambda p: p.name)
def test_each_number_leads_to_a_working_of_the_same_set(demo: Path) -> None:
    results = compute(store.read(demo).job)
    file = extract(results)
    assert untraced(page(file), Sources(results, [plain(w) for w in file.workings])) == []


def test_a_number_from_nowhere_is_found() -> None:
    results = compute(store.read(TOP / "demo_projects" / "quillhaven_playhouse").job)
    file = extract(results)
    sources = Sources(results, [plain(w) for w in file.workings])
    assert len(untraced("<p>a loss of 3.217 dB, 11' 7 3/16\" and 1,234.56 in all</p>", sources)) == 3
    # how sharp the sieve is: a figure that is 7 % off is seldom another figure of the job
    figures = list(shown(page(file)))
    assert len(figures) > 100
    assert sum(sources.holds(f, 1.07) for f in figures) < 0.35 * len(figures)
