"""Phone sheets: nothing internal in any byte, nothing that runs but their own script, nothing fetched."""

import json
import re
import shutil
from base64 import b64encode
from hashlib import sha256
from pathlib import Path

import pytest
from browser import TOP
from package.test_canaries import marked, secrets

from stagefloor import __main__ as commands
from stagefloor.core.problems import Problem
from stagefloor.job import edit, store
from stagefloor.job.model import Job
from stagefloor.job.sheet import Survey
from stagefloor.job.sheets import Sheet
from stagefloor.package.checks import search_bytes
from stagefloor.package.extract_site import site_sheet
from stagefloor.package.sheets import make_sheet
from stagefloor.readers.phone import page
from stagefloor.results import compute
from stagefloor.steps.starter import started

# What a crew may read, field by field. A field that is new is internal until someone names it here.
CREW = {
    "settings": {"venue", "origin"}, "box": {"label", "remark", "scan"}, "opening": {"label"}, "circuit": {"label", "rack"},
    "cable": {"label"}, "cabletype": {"label"}, "segment": {"label"}, "oldoutlet": {"label"}, "asbuilt": {"note_text"},
    "reading": {"value", "date"}, "punch": {"closed"},
}  # fmt: skip
# What a surveyor may read: what the survey itself holds, and the names that questions speak of.
SURVEYOR = {
    "settings": {"venue", "origin"}, "survey": {"topic", "found", "evidence", "by", "date"}, "layer": {"material"},
    "zone": {"label", "below", "rating"}, "joists": {"label"}, "keepclear": {"label"}, "oldoutlet": {"label"},
    "box": {"label"}, "segment": {"label"},
}  # fmt: skip


@pytest.mark.parametrize(("kind", "allowed", "reader"), [("site", CREW, "crew"), ("survey", SURVEYOR, "surveyor")])
def test_nothing_internal_is_in_any_byte(tmp_path: Path, kind: str, allowed: dict[str, set[str]],
                                         reader: str) -> None:
    folder = demo(tmp_path)
    marks: list[str] = []

    def mark(job: Job) -> Job:
        after, found = marked(job, allowed, reader)
        marks.extend(found)
        return after

    store.transact(folder, mark, "marks")
    assert len(marks) > 300
    file = make_sheet(folder, kind, "Crew A")
    assert search_bytes(file.parent, [*marks, *secrets(folder), str(tmp_path)]) == []
    # the search looks in the right place
    assert search_bytes(file.parent, [{"site": "FB-A1", "survey": "Asbestos or heritage"}[kind]])


def test_a_planted_leak_is_found(tmp_path: Path) -> None:
    results = compute(store.read(demo(tmp_path)).job)
    sheet = site_sheet(results, "k", "2026-03-04", "Crew A")
    leak = sheet.model_copy(update={"remarks": ("rate 46.5371",)})
    (tmp_path / "leak").mkdir()
    (tmp_path / "leak" / "site.html").write_text(page("site", "Site", leak), encoding="utf-8")
    assert [h.word for h in search_bytes(tmp_path / "leak", ["46.5371"])]


def demo(folder: Path) -> Path:
    shutil.copy(TOP / "demo_projects" / "quillhaven_playhouse" / "job.json", folder)
    return folder


@pytest.mark.parametrize("kind", ["survey", "site"])
def test_only_its_own_script_may_run(tmp_path: Path, kind: str) -> None:
    words = "</script><script>alert(1)</script><!--\u2028"
    store.create(tmp_path / "job", {"venue": words})
    text = make_sheet(tmp_path / "job", kind, words).read_text("utf-8")
    scripts = re.findall(r"<script([^>]*)>(.*?)</script>", text, re.DOTALL)
    assert [attributes for attributes, _ in scripts] == [' type="application/json" id="given"', ""]
    assert json.loads(scripts[0][1])["venue"] == words
    policy = re.findall(r'Content-Security-Policy" content="([^"]*)"', text)[0]
    # by the web's own rule: base64 of the SHA-256 of what stands between the tags (Content Security Policy, level 3)
    assert f"script-src 'sha256-{b64encode(sha256(scripts[1][1].encode()).digest()).decode()}'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert not re.search(r"https?:|//[a-z]|\b(fetch|XMLHttpRequest|WebSocket|sendBeacon|innerHTML|eval)\b",
                         text.replace("</", "<"))
    assert len(text) < 120_000


def test_the_job_knows_its_sheets(tmp_path: Path) -> None:
    store.create(tmp_path / "job")
    store.transact(tmp_path / "job", started, "start")
    file = make_sheet(tmp_path / "job", "site", "Crew ../B", today="2026-03-04")
    assert file.parent == tmp_path / "job" / "sheets"
    assert re.fullmatch(r"site-crew-b-[0-9a-f]{4}\.html", file.name)
    (sheet,) = store.read(tmp_path / "job").job.all(Sheet)
    assert (sheet.what, sheet.label, sheet.made, len(sheet.key)) == ("site", "Crew ../B", "2026-03-04", 16)
    with pytest.raises(Problem, match="There is no sheet 'other'"):
        make_sheet(tmp_path / "job", "other")


def test_a_crew_gets_its_own_boxes(tmp_path: Path) -> None:
    job = store.read(demo(tmp_path)).job
    first = job.boxes()[1]
    sheet = site_sheet(compute(job), "k", "2026-03-04", "Crew A", (first.id,))
    assert [b.title for b in sheet.boxes] == [first.title]
    assert {line.starts.split(", ")[0] for line in sheet.lines} == {first.title}
    job = edit.set_fields(job, "box", first.id, {"state": "retired"})
    assert site_sheet(compute(job), "k", "2026-03-04", "Crew A", (first.id,)).boxes == ()


def test_what_to_expect_fits_the_line(tmp_path: Path) -> None:
    """By hand: FB-A2 at (-0.17, -3.5, 0) ft, T2 at (0, 4, -1.5): 0.17 + 7.5 + 1.5 = 9.17 ft; with 14 + 14 + 4.5 ft of
    raceway and 3 + 10 ft of slack 54.67 ft. 22 AWG: 16.14 ohm a 1000 ft at 20 degrees C (NBS Handbook 100, from memory)."""
    sheet = site_sheet(compute(store.read(demo(tmp_path)).job), "k", "2026-03-04", "Crew A")
    line = next(x for x in sheet.lines if x.label == "A2-M1")
    loop = next(t for t in line.tests if t.test == "loop resistance")
    assert line.length == "about 55 ft"
    assert float(loop.expected.removesuffix(" ohm")) == pytest.approx(2 * 54.67 * 16.14 / 1000, abs=0.01)
    assert loop.below == "too low for its length: wrong line or a short midway"


def test_from_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store.create(tmp_path / "job")
    assert commands.main(["sheet", str(tmp_path / "job"), "survey"]) == 0
    assert "survey-" in capsys.readouterr().out
    key = store.read(tmp_path / "job").job.all(Sheet)[0].key
    file = tmp_path / "survey.json"
    entries = [{"id": "more.1", "on": "survey", "fields": {"topic": "Roof", "found": "leaks"}},
               {"id": "more.2", "on": "pricing", "fields": {"rate": "0"}}]
    file.write_text(json.dumps({"stagefloor_sheet": 1, "kind": "survey", "sheet": key, "export": 1, "entries": entries}))
    for arguments, said, lines in (([], "Nothing was taken in yet", 0), (["--yes"], "Taken in.", 1),
                                   (["--yes"], "1 refused, 1 there already.", 1)):
        assert commands.main(["take", str(tmp_path / "job"), str(file), *arguments]) == 0
        assert said in capsys.readouterr().out
        assert len(store.read(tmp_path / "job").job.all(Survey)) == lines
    assert commands.main(["take", str(tmp_path / "job"), str(tmp_path / "none.json")]) == 2
    assert capsys.readouterr().err == "none.json can't be read: No such file or directory.\n"
