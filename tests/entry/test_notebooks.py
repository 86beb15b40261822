"""Every step runs top to bottom on every demo job, stored without outputs, its cells a few lines."""

import re
import shutil
from pathlib import Path

import nbformat
import pytest
from browser import TOP
from digits import Sources, untraced
from nbclient import NotebookClient

from stagefloor.job import store
from stagefloor.results import compute

STEPS = sorted((TOP / "workbook").glob("*.ipynb"))
DEMOS = sorted(p.parent for p in (TOP / "demo_projects").glob("*/job.json"))
MOST_LINES = 4


@pytest.mark.notebook
@pytest.mark.parametrize("demo", DEMOS, ids=lambda p: p.name)
@pytest.mark.parametrize("step", STEPS, ids=lambda p: p.stem)
def test_a_step_runs_on_a_demo(step: Path, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copy(demo / "job.json", tmp_path)
    monkeypatch.setenv("STAGEFLOOR_JOB", str(tmp_path))
    monkeypatch.setenv("PYTHONPATH", str(TOP / "lib"))
    notebook = nbformat.read(step, as_version=4)
    NotebookClient(
        notebook, timeout=120, resources={"metadata": {"path": str(tmp_path)}}, store_widget_state=True
    ).execute()
    code = [c for c in notebook.cells if c.cell_type == "code"]
    shown = [o for c in code for o in c.outputs]
    assert len([o for o in shown if "application/vnd.jupyter.widget-view+json" in o.get("data", {})]) == len(code)
    assert not [o for o in shown if o.output_type == "stream"]
    if step.stem != "calculations":  # a lesson shows nothing of the job
        widgets = notebook.metadata["widgets"]["application/vnd.jupyter.widget-state+json"]["state"].values()
        page = " ".join(w["state"].get("value", "") for w in widgets if w["model_name"] == "HTMLModel")
        assert untraced(page, Sources(compute(store.read(demo).job))) == [], "numbers that lead to no working"


@pytest.mark.parametrize("path", sorted((TOP / "workbook").rglob("*.ipynb")), ids=lambda p: p.stem)
def test_notebooks_are_thin_and_stored_without_outputs(path: Path) -> None:
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None
            assert len(cell.source.splitlines()) <= MOST_LINES


@pytest.mark.parametrize("step", STEPS, ids=lambda p: p.stem)
def test_a_step_says_at_its_head_what_is_on_the_page(step: Path) -> None:
    prose = [c.source for c in nbformat.read(step, as_version=4).cells if c.cell_type == "markdown"]
    sections = re.findall(r"^## (.+)$", "\n".join(prose), re.MULTILINE)
    links = re.findall(r"\[([^]]+)\]\(#([^)]+)\)", prose[0])
    assert links == [(name, name.replace(" ", "-")) for name in sections]
