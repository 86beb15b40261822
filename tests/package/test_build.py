"""A document set is whole, closed to the outside, the same however it is made, and never takes another's place."""

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from package.sample import sample

from stagefloor.core.problems import Problem
from stagefloor.package import build, build_from_file
from stagefloor.package.build import PAGES
from stagefloor.package.checks import manifest_faults, page_faults, search_bytes
from stagefloor.readers.client.record import ClientFile, Title

NOTEBOOKS = sorted((PAGES / "client").glob("*.ipynb"))
TOP = PAGES.parents[1]


def files_of(folder):
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def test_pages_and_manifest(built):
    assert built.pages == ["index.html", "needs.html", "plan.html", "boxes.html", "scope.html", "handover.html",
                           "lines.html", "as_built.html", "users.html"]
    manifest = json.loads((built.folder / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["revision"] == "B"
    assert manifest["reader"] == "client"
    assert sorted(manifest["files"]) == sorted(built.pages)
    for name, digest in manifest["files"].items():
        assert hashlib.sha256((built.folder / name).read_bytes()).hexdigest() == digest
    assert sorted(p.name for p in built.folder.iterdir()) == sorted([*built.pages, "manifest.json"])
    assert sorted(p.name for p in built.folder.parent.iterdir()) == ["client"], "nothing is left beside it"


def test_what_the_sample_says_is_on_the_pages(built):
    index = (built.folder / "index.html").read_text(encoding="utf-8")
    assert "Quillhaven Community Playhouse" in index
    assert "Revision B, 2026-03-04" in index
    assert "30,550.00 USD" in (built.folder / "scope.html").read_text(encoding="utf-8")


def test_nothing_leads_or_loads_outside(built):
    assert page_faults(built.folder) == []
    for name, content in files_of(built.folder).items():
        for word in (b"http://", b"https://", b"<script", b"javascript:", b"@import", b"file:", b"url(h"):
            assert word not in content.lower(), (name, word)
        for place in (str(TOP), str(Path.home()), "/tmp/", "/home/"):
            assert place.encode() not in content, (name, place)


def test_pages_show_no_code_and_no_prompts(built):
    """Words that stand in the cells of the page notebooks, and in nbconvert's own pages."""
    for word in ("import stagefloor", "from stagefloor", "open_file", "client.", "Out[", "In [", "application/vnd",
                 "_repr_html_", "a piece of a page", "ipython", "jupyter"):
        assert search_bytes(built.folder, [word]) == []


def test_the_same_file_gives_the_same_bytes_shared_or_not(built, tmp_path):
    """One process for all pages shares its modules; a process for each page must give the very same set."""
    apart = build_from_file(sample(), tmp_path / "client", own_process_each=True)
    assert files_of(apart.folder) == files_of(built.folder)


def test_a_planted_leak_is_found(tmp_path):
    """The guard is seen to find a word that crosses over; without the plant it finds nothing."""
    canary = "Zimtkuchen 4711"
    file = sample()
    planted = file.model_copy(update={"care": (*file.care, f"Hours: {canary}")})
    assert search_bytes(build_from_file(file, tmp_path / "clean").folder, [canary]) == []
    hits = search_bytes(build_from_file(planted, tmp_path / "leaky").folder, [canary])
    assert {h.file for h in hits} == {"handover.html"}


def test_hostile_text_makes_no_fault(tmp_path):
    bad = '</style></title><script src="https://example.org/x.js"></script>"\\" }'
    title = Title(venue=bad, client=bad, shop=bad, contact=bad, revision=bad, date=bad)
    file = sample().model_copy(update={"title": title, "care": (bad,), "not_served": (bad,)})
    made = build_from_file(file, tmp_path / "set")
    assert page_faults(made.folder) == []
    assert all(b"<script" not in (made.folder / page).read_bytes() for page in made.pages)


def test_the_smallest_file_makes_a_set(tmp_path):
    made = build_from_file(ClientFile(title=Title(venue="Hall")), tmp_path / "deep" / "er")
    assert len(made.pages) == 6
    assert manifest_faults(made.folder) == []


def test_a_second_set_replaces_the_first(tmp_path):
    build_from_file(ClientFile(title=Title(venue="First Hall")), tmp_path / "set")
    build_from_file(ClientFile(title=Title(venue="Second Hall")), tmp_path / "set")
    assert search_bytes(tmp_path / "set", ["First Hall"]) == []
    assert search_bytes(tmp_path / "set", ["Second Hall"])
    assert [p.name for p in tmp_path.iterdir()] == ["set"]


def test_a_folder_that_is_not_ours_is_left_alone(tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "note.txt").write_text("keep me")
    with pytest.raises(Problem, match="no manifest of a document set"):
        build_from_file(sample(), tmp_path / "letters")
    assert (tmp_path / "letters" / "note.txt").read_text() == "keep me"


@pytest.mark.parametrize("what", ["added", "changed"])
def test_a_set_touched_by_hand_is_left_alone(built, tmp_path, what):
    mine = tmp_path / "set"
    mine.mkdir()
    for name, content in files_of(built.folder).items():
        (mine / name).write_bytes(content)
    target = mine / ("notes.txt" if what == "added" else "index.html")
    target.write_text("my own words")
    with pytest.raises(Problem, match=f"'{target.name}' was {what}"):
        build_from_file(sample(), mine)
    assert target.read_text() == "my own words"


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "set").write_text("x")
    with pytest.raises(Problem, match="is not a folder"):
        build_from_file(sample(), tmp_path / "set")
    with pytest.raises(Problem, match="Nothing can be written"):
        build_from_file(sample(), tmp_path / "set" / "deeper")


def test_a_reader_without_pages_is_named(tmp_path):
    with pytest.raises(Problem, match="Did you mean 'client'"):
        build(tmp_path, reader="cliennt")


def test_progress_is_told(tmp_path):
    said = []
    build_from_file(ClientFile(title=Title(venue="Hall")), tmp_path / "set", progress=said.append)
    assert "Page 1 of 6: Cover" in said
    assert said[-1] == "Checking the pages"


def test_a_page_that_fails_leaves_everything_as_it_was(tmp_path, monkeypatch):
    pages = tmp_path / "pages" / "client"
    pages.mkdir(parents=True)
    broken = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1 / 0")],
                                      metadata={"stagefloor": {"page": "index", "title": "Cover"}})
    nbformat.write(broken, pages / "1_broken.ipynb")
    old = build_from_file(ClientFile(title=Title(venue="Hall")), tmp_path / "set")
    before = files_of(old.folder)
    monkeypatch.setattr(sys.modules["stagefloor.package.build"], "PAGES", pages.parent)
    with pytest.raises(Problem, match="'1_broken' could not be made"):
        build_from_file(sample(), tmp_path / "set")
    assert files_of(tmp_path / "set") == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["pages", "set"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_page_notebooks_are_small_and_without_outputs(path):
    page = nbformat.read(path, as_version=4)
    nbformat.validate(page)
    ids = [c.id for c in page.cells]
    assert len(ids) == len(set(ids))
    for cell in page.cells:
        assert len(cell.source.splitlines()) <= 3
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


def test_neither_pandas_nor_plotly_is_loaded_to_make_pages(tmp_path):
    code = ("import sys; sys.path[:0] = sys.argv[1:3]\n"
            "from package.sample import sample; from stagefloor.package import build_from_file\n"
            "build_from_file(sample(), sys.argv[3])\n"
            "print(sorted({'pandas', 'plotly', 'rfc3987_syntax'} & {k for k, v in sys.modules.items() if v}))")
    answer = subprocess.run([sys.executable, "-c", code, str(TOP / "lib"), str(TOP / "tests"), str(tmp_path / "set")],
                            capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
