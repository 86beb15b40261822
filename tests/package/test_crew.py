"""The crew's set: whole, closed to the outside, and nothing of hours, money, suppliers or the office in any byte of it."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from browser import TOP
from package.test_canaries import marked, secrets

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.package import build
from stagefloor.package.build import Built, build_from_file
from stagefloor.package.checks import page_faults, search_bytes
from stagefloor.package.extract_crew import crew_file
from stagefloor.readers.crew import pages
from stagefloor.readers.crew.record import CrewFile, Title
from stagefloor.results import compute

# What the crew may read, field by field. A field that is new is not theirs until someone names it here.
CREWS = {
    "settings": {"venue", "shop", "contact", "units", "growth_percent", "stage_left", "stage_right", "stage_down",
                 "stage_up"},
    "box": {"label", "surface", "x", "y", "z", "remark", "hinge", "turned", "scan"},
    "oldoutlet": {"label", "what", "after", "tested"},
    "boxmodel": {"label", "across", "along", "flange", "bays", "mains_bays", "openings", "mains_outlets"},
    "opening": {"label", "what"}, "circuit": {"label", "what", "rack"}, "cable": {"label"},
    "node": {"label", "what", "x", "y"},
    "segment": {"label", "way", "size", "signal_class", "string"}, "cabletype": {"label", "what", "diameter"},
    "reel": {"label", "where", "length"}, "labelrule": {"what", "colour", "pattern"}, "labelsheet": {"label", "use"},
    "revision": {"label", "date"},
}  # fmt: skip


@pytest.fixture(scope="module")
def crew(tmp_path_factory: pytest.TempPathFactory) -> tuple[Built, list[str], Path]:
    """The set of a demo in which every text and figure that is not the crew's is marked."""
    folder = tmp_path_factory.mktemp("crew")
    shutil.copy(TOP / "demo_projects" / "quillhaven_playhouse" / "job.json", folder)
    found: list[str] = []

    def change(job: Job) -> Job:
        kind = next(iter(job.tables["cabletype"]))
        job, _ = add(job, "reel", [{"label": "L-3", "type": kind, "what": "in the shop", "length": "700 ft",
                                    "where": "shelf 2", "price": "61.83"}])
        job, _ = add(job, "labelsheet", [{"label": "Wraps"}])
        after, marks = marked(job, CREWS, "crew")
        found[:] = marks
        return after

    store.transact(folder, change, "marks")
    return build(folder, reader="crew"), found, folder


@pytest.mark.slow
def test_no_hour_no_money_and_no_office_remark_in_any_byte(crew: tuple[Built, list[str], Path]) -> None:
    built, marks, folder = crew
    results = compute(store.read(folder).job)
    costs = [f"{r.cost:,.2f}" for r in results.purchase.rows if r.cost is not None and r.cost > 10]
    assert len(marks) > 300 and len(costs) > 10
    assert search_bytes(built.folder, [*marks, *secrets(folder), *costs]) == []
    # the search does find what the crew may read
    assert {h.word for h in search_bytes(built.folder, ["A9-M1", "L-3", "shelf 2"])} == {"A9-M1", "L-3", "shelf 2"}


@pytest.mark.slow
def test_a_planted_leak_is_found(crew: tuple[Built, list[str], Path], tmp_path: Path) -> None:
    _, marks, folder = crew
    file, _ = crew_file(folder)
    leak = file.model_copy(update={"cautions": (*file.cautions, f"Costs {marks[7]}")})
    hits = search_bytes(build_from_file(leak, tmp_path / "leak", reader="crew").folder, marks)
    assert {h.word for h in hits} == {marks[7]}


@pytest.mark.slow
def test_the_set_is_whole_and_closed_to_the_outside(crew: tuple[Built, list[str], Path]) -> None:
    built, _, _ = crew
    assert built.pages == ["index.html", "cuts.html", "labels.html", "lines.html", "boxes.html"]
    assert page_faults(built.folder) == []
    assert json.loads((built.folder / "manifest.json").read_text(encoding="utf-8"))["reader"] == "crew"
    text = {p: (built.folder / p).read_text(encoding="utf-8") for p in built.pages}
    for words in ("Pull a new string in", "licensed electrician", "FB-A9 1.1"):
        assert words in text["index.html"]
    assert "No joints" in text["cuts.html"]
    assert 'width="215.9mm"' in text["labels.html"]
    assert "Raceway sections" in text["lines.html"]
    for words in ("Rear of Floor box FB-A1", "left and right are swapped", "whoever solders",
                  "the licensed electrician only"):
        assert words in text["boxes.html"]
    assert "minutes" not in text["boxes.html"]


def test_the_file_names_each_field_and_reads_back() -> None:
    file, _ = crew_file(TOP / "demo_projects" / "ondry_hall")
    assert CrewFile.model_validate_json(file.model_dump_json()) == file
    with pytest.raises(ValueError, match="hours"):
        CrewFile.model_validate({"title": {"venue": "x"}, "hours": 3})


def test_an_empty_job_says_so_on_each_page() -> None:
    file = CrewFile(title=Title(venue="x"))
    said = [f(file).text for f in (pages.pull_sheets, pages.cut_list, pages.label_sheets, pages.routes, pages.diagram,
                                   pages.trim_outs)]
    assert all("yet" in s or "No label sheet" in s for s in said)


def test_the_crews_pages_load_neither_job_nor_results() -> None:
    look = "import json, sys, stagefloor.readers.crew; print(json.dumps(sorted(sys.modules)))"
    answer = subprocess.run([sys.executable, "-c", look], env={"PYTHONPATH": str(TOP / "lib")}, capture_output=True,
                            text=True, check=True)
    ours = {name.split(".")[1] for name in json.loads(answer.stdout) if name.startswith("stagefloor.")}
    assert ours == {"core", "drawings", "readers"}


def test_a_reader_that_is_not_there_is_named() -> None:
    with pytest.raises(Problem, match="client, crew"):
        build(TOP / "demo_projects" / "one_box", reader="crow")
