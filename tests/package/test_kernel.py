"""The page process holds the reader's file and nothing of the job."""

import nbformat
import pytest
from jupyter_core.utils import run_sync

from stagefloor.core.problems import Problem
from stagefloor.package import kernel
from stagefloor.package.kernel import PageProcess


def outputs_of(folder, *sources, each_fresh=False):
    """Run cells, by default as one notebook, and give back what they printed; a list a notebook."""
    groups = [[s] for s in sources] if each_fresh else [list(sources)]

    async def run():
        process = PageProcess(folder, folder / "client.json")
        try:
            await process.start()
            found = []
            for number, group in enumerate(groups):
                page = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(s) for s in group])
                nbformat.write(page, folder / f"{number}.ipynb")
                ran = await process.run(folder / f"{number}.ipynb")
                found.append("".join(o.get("text", "") for c in ran.cells for o in c.outputs))
            return found
        finally:
            await process.stop()

    return run_sync(run)()


def test_the_process_can_not_reach_the_job(tmp_path, monkeypatch):
    monkeypatch.setenv("STAGEFLOOR_JOB", "/some/job")
    monkeypatch.setenv("SECRET_TOKEN", "x")
    look = ("import os, importlib\n"
            "print(os.environ.get('STAGEFLOOR_JOB'), os.environ.get('SECRET_TOKEN'), os.path.basename(os.getcwd()))\n"
            "for name in ('job', 'job.store', 'steps', 'results', 'entry', 'package', 'calculations'):\n"
            "    try:\n        importlib.import_module('stagefloor.' + name); print('reached', name)\n"
            "    except ImportError:\n        print('no', name)\n"
            "import stagefloor.readers.client; print('pages')")
    said = outputs_of(tmp_path, look)[0].splitlines()
    assert said[0] == f"None None {tmp_path.name}"
    walled = ("job", "job.store", "steps", "results", "entry", "package", "calculations")
    assert said[1:-1] == [f"no {name}" for name in walled]
    assert said[-1] == "pages"


def test_names_do_not_pass_from_one_page_to_the_next(tmp_path):
    said = outputs_of(tmp_path, "left_over = 1", "print('left_over' in globals())", each_fresh=True)
    assert said[1].strip() == "False"


def test_a_page_that_takes_too_long_is_a_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel, "CELL_SECONDS", 1)
    with pytest.raises(Problem, match="took longer than 1 s"):
        outputs_of(tmp_path, "import time; time.sleep(30)")


def test_a_process_that_dies_is_a_sentence(tmp_path):
    with pytest.raises(Problem, match="stopped or took longer"):
        outputs_of(tmp_path, "import os; os._exit(1)")
