"""The commands: what they find, what they say, and how a job's copies of the steps are kept."""

import json
from pathlib import Path

import pytest

from stagefloor import __main__ as commands
from stagefloor.core.open_items import OpenItem
from stagefloor.core.problems import Problem
from stagefloor.entry.step_copies import digest, place_steps, shipped_steps

STEPS = Path(__file__).parent / "steps"


@pytest.fixture
def demos(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of two demo jobs in place of ours."""
    folder = tmp_path / "demo_projects"
    for name in ("small_hall", "black_room"):
        (folder / name).mkdir(parents=True)
        (folder / name / "job.json").write_text("{}")
    monkeypatch.setattr(commands, "DEMOS", folder)
    return folder


def test_a_job_is_found_by_folder_by_file_by_name_and_by_standing_in_it(demos: Path) -> None:
    hall = demos / "small_hall"
    assert commands.find_job(str(hall), demos) == hall
    assert commands.find_job(str(hall / "job.json"), demos) == hall
    assert commands.find_job("small_hall", demos) == hall
    assert commands.find_job(None, hall) == hall


def test_no_job_is_a_sentence_that_names_the_demos(demos: Path, tmp_path: Path) -> None:
    with pytest.raises(Problem, match=r"demo_projects/black_room, demo_projects/small_hall"):
        commands.find_job(None, tmp_path)
    with pytest.raises(Problem, match=r"did you mean demo_projects/small_hall\?"):
        commands.find_job("small_hal", tmp_path)


def test_a_problem_is_one_sentence_and_status_2(demos: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert commands.main(["open", str(demos / "nowhere")]) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    assert "There is no job in" in said.err
    assert said.out == ""


def test_an_unknown_step_is_a_sentence(demos: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert commands.main(["open", "small_hall", "--no-browser", "--step", "bokses"]) == 2
    said = capsys.readouterr().err
    assert "There is no step 'bokses'; the steps are job_sheet, inventory" in said


@pytest.mark.parametrize("wrong", [["opne"], ["open", "a", "b"], ["test", "--slow"]])
def test_a_mistyped_command_is_refused_with_usage(
    wrong: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        commands.main(wrong)
    assert ended.value.code == 2
    assert "usage: python3 lib" in capsys.readouterr().err


def test_a_new_job_has_its_steps_and_is_not_made_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(commands, "WORKBOOK", STEPS)
    folder = tmp_path / "our hall"
    assert commands.main(["new", str(folder)]) == 0
    assert (folder / "job.json").is_file()
    assert sorted(path.name for path in folder.glob("*.ipynb")) == sorted(
        p.name for p in STEPS.glob("*.ipynb")
    )
    before = (folder / "job.json").read_bytes()
    capsys.readouterr()
    assert commands.main(["new", str(folder)]) == 2
    assert (folder / "job.json").read_bytes() == before


def test_open_items_in_words_and_for_programs(capsys: pytest.CaptureFixture[str]) -> None:
    item = OpenItem(
        code="slab", step="boxes", subject="The floor", what="the slab is not known", amount="",
        basis="site visit", cure="ask the engineer", state="stop (unknown)", blocks="floor finish",
    )  # fmt: skip
    commands.print_items([item])
    words = capsys.readouterr().out
    assert words.startswith("stop (unknown): The floor: the slab is not known\n")
    assert "    cure: ask the engineer\n" in words
    assert "amount" not in words
    assert words.splitlines()[-1].startswith("1 open item, 1 ")
    commands.print_items([item], as_json=True)
    (told,) = json.loads(capsys.readouterr().out)
    assert {"state", "subject", "what", "amount", "basis", "cure", "blocks", "must_mend"} <= told.keys()
    assert told["must_mend"] is True
    assert told["blocks"] == "floor finish"


def test_starting_loads_nothing_heavy() -> None:
    """A command must answer at once, so pandas, plotly and Jupyter wait until one needs them."""
    import subprocess
    import sys

    look = (
        "import sys, stagefloor.__main__; "
        "print({'pandas', 'plotly', 'jupyterlab', 'pydantic', 'highspy'} & set(sys.modules))"
    )
    environment = {"PYTHONPATH": str(Path(commands.__file__).parents[1])}
    done = subprocess.run(
        [sys.executable, "-c", look], capture_output=True, text=True, check=True, env=environment
    )
    assert done.stdout.strip() == "set()"


# Copies of the steps.


def write(path: Path, *texts: str) -> None:
    """A notebook with these markdown cells."""
    cells = [{"cell_type": "markdown", "metadata": {}, "source": text} for text in texts]
    notebook = (
        json.loads(path.read_text())
        if path.exists()
        else {"metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    )
    path.write_text(json.dumps({**notebook, "cells": cells}))


def test_steps_come_in_the_order_of_a_job() -> None:
    assert [path.stem for path in shipped_steps(STEPS)] == [
        "job_sheet", "inventory", "boxes", "cables", "labour", "closeout"
    ]  # fmt: skip


def test_an_untouched_copy_follows_the_workbook_and_a_changed_one_stays(tmp_path: Path) -> None:
    workbook, job = tmp_path / "workbook", tmp_path / "job"
    workbook.mkdir()
    write(workbook / "boxes.ipynb", "first")
    assert place_steps(workbook, job) == []
    copy = job / "boxes.ipynb"

    write(workbook / "boxes.ipynb", "second")
    assert place_steps(workbook, job) == []
    assert json.loads(copy.read_text())["cells"][0]["source"] == "second"

    write(copy, "second", "my own words")
    assert place_steps(workbook, job) == []
    assert "my own words" in copy.read_text()

    write(workbook / "boxes.ipynb", "third")
    (sentence,) = place_steps(workbook, job)
    assert "boxes.ipynb" in sentence
    assert "yours is kept" in sentence
    assert "my own words" in copy.read_text()


@pytest.mark.parametrize("damaged", ["", "{", "[]", '"text"', "{}"])
def test_a_damaged_copy_is_kept(tmp_path: Path, damaged: str) -> None:
    place_steps(STEPS, tmp_path)
    (tmp_path / "boxes.ipynb").write_text(damaged)
    assert len(place_steps(STEPS, tmp_path)) == 1
    assert (tmp_path / "boxes.ipynb").read_text() == damaged


def test_what_jupyter_adds_is_not_a_change() -> None:
    plain = {"cells": [{"cell_type": "code", "source": "a\nb", "outputs": [], "metadata": {}}]}
    saved = {
        "cells": [{"cell_type": "code", "source": ["a\n", "b"], "outputs": [1], "metadata": {"trusted": True},
                   "id": "x", "execution_count": 4}],
        "metadata": {"language_info": {}},
    }  # fmt: skip
    assert digest(plain) == digest(saved)
    assert digest(plain) != digest({"cells": [{"cell_type": "code", "source": "a\nc"}]})


def test_start_asks_which_job_and_makes_a_new_one_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened: list[str] = []
    monkeypatch.setattr(commands, "TOP", tmp_path)
    monkeypatch.setattr(commands, "open_command", lambda options: opened.append(options.job) or 0)
    for typed in ("Öl hall", "1", "", "99"):
        monkeypatch.setattr("builtins.input", lambda _prompt, typed=typed: typed)
        status = commands.main(["start"])
        assert status == (2 if typed == "99" else 0)
    assert opened == [str(tmp_path / "Öl hall")] * 2  # made, then chosen by its number
    said = capsys.readouterr()
    assert "1  Öl hall" in said.out
    assert "(a demo)" in said.out
    assert "There is no job 99 in the list" in said.err
