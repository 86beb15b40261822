"""Files of phone sheets taken in: added, changed, refused, never twice, never half; hostile content is neutral."""

import base64
import io
import json
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from stagefloor.core.problems import Problem
from stagefloor.job import edit, store
from stagefloor.job.cables import Cable
from stagefloor.job.closeout import AsBuilt, Punch, Reading
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Plan, carry_out
from stagefloor.job.exchange.sheet_file import MOST_BYTES, read_sheet, read_sheet_file
from stagefloor.job.exchange.taking import planned
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.sheet import FloorLayer, Survey
from stagefloor.job.sheets import Sheet


def photo(comment: bytes = b"", behind: bytes = b"") -> bytes:
    """A small JPEG, with a comment and something behind its end if wanted."""
    out = io.BytesIO()
    Image.new("RGB", (6, 4), "teal").save(out, "JPEG", comment=comment)
    return out.getvalue() + behind


@pytest.fixture
def job() -> Job:
    """Two boxes with a microphone and a data line, a survey line, and one sheet of each kind."""
    job, (line, _) = edit.add(Job(), "survey", [{"topic": "Rack position and cable entry"}, {"topic": "Traps"}])
    assert line == "survey-1"
    job, (box,) = edit.add(job, "box", [{"label": "FB-1", "x": "3", "y": "3"}])
    job, (mic, data) = edit.add(job, "opening", [{"box": box, "what": "microphone"}, {"box": box, "what": "data"}])
    job, lines = edit.add(job, "circuit", [{"label": "M-1", "openings": mic},
                                           {"label": "D-1", "what": "data", "openings": data}])
    job, _ = edit.add(job, "cable", [{"label": "M-1", "circuits": lines[0]}])
    assert [box, *lines] == ["box-3", "circuit-6", "circuit-7"]
    return edit.add(job, "sheet", [{"label": "Survey", "what": "survey", "key": "aaaa"},
                                   {"label": "Crew A", "what": "site", "key": "bbbb"}])[0]


def sheet(kind: str, entries: list[dict[str, Any]], export: int = 1, **more: object) -> bytes:
    key = {"survey": "aaaa", "site": "bbbb"}[kind]
    return json.dumps({"stagefloor_sheet": 1, "kind": kind, "sheet": key, "export": export, "by": "Kim",
                       "date": "2026-03-04", "entries": entries, **more}).encode()


def entry(id: str, on: str, to: str = "", was: dict[str, str] | None = None, **fields: str) -> dict[str, Any]:
    return {"id": id, "on": on, "to": to, "fields": fields, "was": was or {}}


def take(job: Job, data: bytes) -> Plan:
    return planned(job, read_sheet(data))


def states(plan: Plan) -> list[str]:
    return [line.state for line in plan.lines]


def survey_entries(found: str = "beyond the stage-left wall") -> list[dict[str, Any]]:
    was = {"looked": "not looked at", "found": "", "by": "", "date": ""}
    return [entry("survey-1", "survey", "survey-1", was, looked="looked", found=found, by="Kim", date="2026-03-04"),
            entry("settings.rack_x", "settings", "job", {"rack_x": ""}, rack_x="30"),
            entry("layer.1.abc", "layer", material="oak", thickness="22 mm"),
            entry("question.1f", "survey", topic="Where do cables enter?", looked="looked", found="sleeve S1")]


def test_a_survey_is_taken_in_once(job: Job) -> None:
    first = take(job, sheet("survey", survey_entries()))
    assert states(first) == [CHANGE, CHANGE, ADD, ADD]
    assert first.job.get(Survey, "survey-1").found == "beyond the stage-left wall"
    assert first.job.settings.rack_x is not None
    assert first.job.settings.rack_x.si == pytest.approx(30 * 0.3048)  # the international foot
    assert [(x.material, x.thickness.text) for x in first.job.all(FloorLayer) if x.thickness] == [("oak", "22 mm")]
    again = take(first.job, sheet("survey", survey_entries()))
    assert states(again) == [SAME] * 4
    assert again.job == first.job
    later = take(again.job, sheet("survey", survey_entries("up the wall"), export=2))
    assert states(later) == [CHANGE, SAME, SAME, SAME]
    assert len(later.job.all(FloorLayer)) == 1
    with pytest.raises(Problem, match="export 1 of its sheet, and export 2"):
        take(later.job, sheet("survey", survey_entries()))


def test_what_was_changed_here_stays(job: Job) -> None:
    first = take(job, sheet("survey", survey_entries())).job
    mine = edit.set_fields(first, "survey", "survey-1", {"found": "in the cellar"})
    # the phone did not touch it since: nothing to say about it
    assert states(take(mine, sheet("survey", survey_entries(), export=2)))[0] == SAME
    both = take(mine, sheet("survey", survey_entries("up the wall"), export=2))
    assert (both.lines[0].state, "in the cellar" in both.lines[0].words) == (REFUSE, True)
    assert both.job.get(Survey, "survey-1").found == "in the cellar"
    gone = edit.delete(first, "layer", [x.id for x in first.all(FloorLayer)])
    assert "deleted here" in take(gone, sheet("survey", survey_entries(), export=2)).lines[2].words


# --- two phones with one sheet


def reading(id: str = "circuit-6:loop-resistance:1", test: str = "loop resistance", **fields: str) -> dict[str, Any]:
    return entry(id, "reading", circuit="circuit-6", test=test, **{"result": "", "value": "", **fields})


def built(**fields: str) -> dict[str, Any]:
    start = {"x": "", "y": "", "z": "", "modified": "no", "note_text": ""}
    return entry("built:box-3", "asbuilt", box="box-3", **start | fields)


def test_two_phones_with_one_sheet_lose_nothing(job: Job) -> None:
    ann = take(job, sheet("site", [reading(value="5.1", by="Ann"), built(x="3 ft", y="2 ft", modified="yes", by="Ann")],
                          export=3, phone="aa1")).job
    bob_entries = [reading(result="pass", by="Bob"), built(x="4 ft", note_text="lid scratched", by="Bob")]
    bob = take(ann, sheet("site", bob_entries, phone="bb2"))  # its first export, and the other phone's third was there
    assert states(bob) == [ADD, REFUSE, CHANGE]
    assert [(r.value, r.result, r.by) for r in bob.job.all(Reading)] == [(5.1, "", "Ann"), (None, "pass", "Bob")]
    (one,) = bob.job.all(AsBuilt)  # of one box there is one
    assert (one.x and one.x.text, one.y and one.y.text, one.modified, one.note_text, one.by) == (
        "3 ft", "2 ft", True, "lid scratched", "Bob")
    assert "built across: changed here meanwhile to '3 ft', so '4 ft' was left out" in bob.lines[1].words
    assert bob.lines[2].words == "what is different: empty → lid scratched, by: Ann → Bob"
    assert take(bob.job, sheet("site", bob_entries, phone="bb2")).job == bob.job
    again = take(bob.job, sheet("site", [reading(value="5.3", by="Ann")], export=4, phone="aa1")).job
    assert [(r.value, r.by) for r in again.all(Reading)] == [(5.3, "Ann"), (None, "Bob")]
    with pytest.raises(Problem, match="export 3 of its sheet, and export 4 of the same phone"):
        take(again, sheet("site", [reading(value="5.1")], export=3, phone="aa1"))
    for phone in (7, "a/b", "x" * 30, None):
        with pytest.raises(Problem, match="which phone"):
            take(job, sheet("site", [], phone=phone))


BUILT = st.fixed_dictionaries({}, optional={
    "x": st.sampled_from(("3 ft", "4 ft")), "y": st.sampled_from(("1 ft", "2 ft")), "modified": st.just("yes"),
    "note_text": st.sampled_from(("scratched", "bent", "no"))})


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(first=BUILT, second=BUILT)
def test_no_phone_empties_what_another_entered(job: Job, first: dict[str, str], second: dict[str, str]) -> None:
    """Every field that somebody entered is there: of two values the one that came first."""
    for phone, fields in (("aa1", first), ("bb2", second), ("aa1", first)):
        job = take(job, sheet("site", [built(**fields)], phone=phone)).job
    entered = second | first
    found = job.all(AsBuilt)
    assert len(found) == bool(entered)
    for one in found:
        now = {"x": one.x.text if one.x else "", "y": one.y.text if one.y else "", "note_text": one.note_text,
               "modified": "yes" if one.modified else ""}
        assert {n: t for n, t in now.items() if t} == entered


def test_two_phones_answer_one_question_of_a_survey(job: Job) -> None:
    def answer(**fields: str) -> list[dict[str, Any]]:
        return [entry("question.1f", "survey", topic="Where?", **{"looked": "not looked at", "found": "", **fields})]

    ann = take(job, sheet("survey", answer(looked="looked", found="sleeve S1", by="Ann"), phone="aa1")).job
    bob = take(ann, sheet("survey", answer(evidence="drawing 4", by="Bob"), phone="bb2"))
    assert states(bob) == [CHANGE]
    line = bob.job.all(Survey)[-1]
    assert (len(bob.job.all(Survey)), line.looked, line.found, line.evidence) == (3, "looked", "sleeve S1", "drawing 4")


def test_a_sheet_is_not_for_any_number_of_phones(job: Job) -> None:
    known = " ".join(f"p{n}=1" for n in range(100))
    full = job.with_records([s.model_copy(update={"phones": known}) for s in job.all(Sheet)])
    assert take(full, sheet("site", [], export=2, phone="p7")).job.get(Sheet, "sheet-10").phones.split()[7] == "p7=2"
    with pytest.raises(Problem, match="100 are the most"):
        take(full, sheet("site", [], phone="other"))


def test_a_sheet_that_names_no_phone_goes_on_as_it_was(job: Job) -> None:
    first = take(job, sheet("site", site_entries(), export=2)).job
    assert first.get(Sheet, "sheet-10").exported == 2
    with pytest.raises(Problem, match="nothing in it is newer"):
        take(first, sheet("site", site_entries()))
    assert states(take(first, sheet("site", site_entries(), phone="aa1")))[0] == ADD  # another phone


# --- what is shown before anything is taken in


def test_the_preview_says_what_is_emptied(job: Job) -> None:
    first = take(job, sheet("site", [reading(value="5.1", by="Ann")])).job
    plan = take(first, sheet("site", [reading(result="fail", by="Ann")], export=2))
    assert [line.words for line in plan.lines] == ["result: empty → fail, reading: 5.1 → empty"]
    long = take(job, sheet("survey", survey_entries("along the wall " * 10)))
    later = take(long.job, sheet("survey", survey_entries("along the wall " * 10 + "to the hatch"), export=2))
    assert later.lines[0].words.endswith("to the hatch")
    old, new = later.lines[0].words.split(" → ")
    assert (old[-14:], new[:3]) == ("along the wall", "...")


def test_what_was_emptied_on_the_phone_is_emptied_here(job: Job) -> None:
    sent = [reading(value="5.1"), entry("layer.1.abc", "layer", material="oak", thickness="22 mm"), built(x="3 ft")]
    first = take(job, sheet("site", sent[::2])).job
    first = take(first, sheet("survey", sent[1:2])).job
    plan = take(first, sheet("site", [reading(), built()], export=2))
    assert states(plan) == [CHANGE, CHANGE]
    assert [(r.value, r.result) for r in plan.job.all(Reading)] == [(None, "")]
    assert plan.job.all(AsBuilt)[0].x is None
    here = first.all(AsBuilt)[0].id  # another sheet knows it by its id
    plan = take(first, sheet("site", [entry("built:box-3", "asbuilt", here, {"x": "3 ft"}, box="box-3", x="")], phone="aa1"))
    assert plan.job.all(AsBuilt)[0].x is None
    plan = take(first, sheet("survey", [entry("layer.1.abc", "layer", material="", thickness="")], export=2))
    assert [line.words for line in plan.lines] == ["material: oak → empty, thickness: 22 mm → empty"]
    assert take(job, sheet("site", [reading()])).of(REFUSE)  # nothing was ever entered


def test_a_refusal_is_not_followed_by_as_it_is(job: Job) -> None:
    first = take(job, sheet("survey", survey_entries())).job
    mine = edit.set_fields(first, "survey", "survey-1", {"found": "in the cellar"})
    assert states(take(mine, sheet("survey", survey_entries("up the wall")[:1], export=2))) == [REFUSE]


# --- nothing is called changed that nobody changed


def test_words_of_the_country_are_the_same_choice(job: Job) -> None:
    us = edit.set_fields(job, "settings", "job", {"basis": "US"})
    us, (old,) = edit.add(us, "oldoutlet", [{"label": "Old 1", "what": "mains"}])
    was = {"label": "Old 1", "what": "branch power", "count": "1", "tested": "not yet"}
    plan = take(us, sheet("survey", [entry(f"oldoutlet:{old}", "oldoutlet", old, was, **was | {"what": "data"})]))
    assert [(line.state, line.words) for line in plan.lines] == [(CHANGE, "kind: mains → data")]
    same = take(us, sheet("survey", [entry(f"oldoutlet:{old}", "oldoutlet", old, was, **was | {"count": "2"})]))
    assert states(same) == [CHANGE]
    assert same.job.tables["oldoutlet"][old].model_dump()["what"] == "mains"


@pytest.mark.parametrize("end", [" ", "\n", "\r\n", "\u00a0"])
def test_a_note_that_ends_with_a_blank_was_not_changed(job: Job, end: str) -> None:
    job, (line,) = edit.add(job, "survey", [{"topic": "Pit", "found": f"wet{end}"}])
    was = {"topic": "Pit", "looked": "not looked at", "found": f"wet{end}"}
    entries = [entry(line, "survey", line, was, topic="Pit", looked="looked", found="wet and dark")]
    plan = take(job, sheet("survey", entries))
    assert states(plan) == [CHANGE]
    assert plan.job.get(Survey, line).found == "wet and dark"
    untouched = take(job, sheet("survey", [entry(line, "survey", line, was, **was | {"looked": "looked"})]))
    assert states(untouched) == [CHANGE]


# --- readings as testers show them


@pytest.mark.parametrize(("text", "result", "value", "stored"), [
    (">200", "pass", None, "over range"), ("OL", "", None, "over range"), (">200", "fail", None, "fail"),
    ("500 M\u03a9", "pass", 500.0, "pass"), ("2 Gohm", "", 2000.0, ""), (".5", "", 0.5, ""), ("1,5", "", 1.5, ""),
])  # fmt: skip
def test_a_reading_as_the_tester_shows_it(job: Job, text: str, result: str, value: float | None, stored: str) -> None:
    """A gigaohm is a thousand megohm (SI prefixes, ISO 80000-1)."""
    one = reading(test="isolation", value=text, result=result)
    plan = take(job, sheet("site", [one]))
    assert states(plan) == [ADD]
    assert [(r.value, r.result) for r in plan.job.all(Reading)] == [(value, stored)]
    assert take(plan.job, sheet("site", [one])).job == plan.job
    now = take(plan.job, sheet("site", [reading(test="isolation", value="50", result=result)], export=2))
    assert [(r.value, r.result) for r in now.job.all(Reading)] == [(50.0, result)]


def test_a_figure_that_cant_be_read_does_not_take_the_result_with_it(job: Job) -> None:
    plan = take(job, sheet("site", [reading(test="isolation", value="1,000", result="pass")]))
    assert states(plan) == [REFUSE, ADD]
    assert "thousands or a decimal comma" in plan.lines[0].words
    assert [(r.value, r.result) for r in plan.job.all(Reading)] == [(None, "pass")]
    later = take(plan.job, sheet("site", [reading(test="isolation", value="1000", result="pass")], export=2))
    assert [(line.state, line.words) for line in later.lines] == [(CHANGE, "reading: empty → 1000")]


def test_a_test_of_any_unit_is_read(job: Job) -> None:
    one = entry("circuit-7:link-length:1", "reading", circuit="circuit-7", test="link length", value="100 ft")
    (read,) = take(job, sheet("site", [one])).job.all(Reading)
    assert read.value == pytest.approx(30.48)  # the international foot


@pytest.mark.parametrize(("strokes", "dimensions", "words"), [
    (501, 0, "501 lines, 500 are the most"), (1, 61, "61 dimensions, 60 are the most"),
])  # fmt: skip
def test_a_sketch_that_is_too_full_says_so(job: Job, strokes: int, dimensions: int, words: str) -> None:
    one = {"id": "s1", "about": "", "label": "", "strokes": [[[1, 2], [3, 4]]] * strokes,
           "dimensions": [{"from": [0, 0], "to": [9, 9], "text": "3 ft"}] * dimensions}
    (line,) = take(job, sheet("survey", [], sketches=[one])).lines
    assert words in line.words


def test_parts_of_one_export_come_in_in_any_order(job: Job) -> None:
    """Each part has all that was entered, and some of the photos."""
    data = base64.b64encode(photo()).decode()
    parts = [sheet("survey", survey_entries(), phone="aa1", part=n, parts=2, pictures=[
        {"id": f"p{n}", "about": "Where do cables enter?", "label": f"photo {n}", "data": data}]) for n in (1, 2)]
    second = take(job, parts[1])
    both = take(second.job, parts[0])
    assert (states(second), states(both)) == ([CHANGE, CHANGE, ADD, ADD, ADD], [SAME] * 4 + [ADD])
    assert [p.on for p in both.job.all(Picture)] == ["survey", "survey"]


def site_entries() -> list[dict[str, Any]]:
    return [entry("circuit-6:loop-resistance:1", "reading", circuit="circuit-6", test="loop resistance", result="",
                  value="2600 mohm", instrument="meter 4", by="Kim", date="2026-03-04"),
            entry("built:box-3", "asbuilt", box="box-3", x="3' 1/2\"", y="3", z="0", modified="yes",
                  note_text="lid trimmed"),
            entry("length:circuit-6", "length", was={"typed_length": ""}, circuit="circuit-6", typed_length="52' 6\""),
            entry("length:circuit-7", "length", was={"typed_length": ""}, circuit="circuit-7", typed_length="16 m"),
            entry("punch.1.x", "punch", label="Line M-1: lid scrapes")]


def test_a_site_sheet_is_taken_in_once(job: Job) -> None:
    first = take(job, sheet("site", site_entries()))
    assert states(first) == [ADD, ADD, CHANGE, ADD, ADD]
    reading = first.job.all(Reading)[0]
    assert (reading.value, reading.by, reading.circuit) == (2.6, "Kim", "circuit-6")  # 2600 mohm
    built = first.job.all(AsBuilt)[0]
    assert built.x is not None
    assert built.x.si == pytest.approx(36.5 * 0.0254)  # 3 ft 1/2 in, by the inch of 25.4 mm
    assert built.modified
    lengths = {c.circuits: c.typed_length.si for c in first.job.all(Cable) if c.typed_length}
    assert lengths == {("circuit-6",): pytest.approx(630 * 0.0254), ("circuit-7",): 16.0}
    assert [(p.label, p.audience) for p in first.job.all(Punch)] == [("Line M-1: lid scrapes", "crew")]
    again = take(first.job, sheet("site", site_entries()))
    assert states(again) == [SAME] * 5
    assert again.job == first.job
    changed = site_entries()
    changed[0]["fields"]["value"] = "2.5"
    later = take(first.job, sheet("site", changed, export=2))
    assert states(later) == [CHANGE, SAME, SAME, SAME, SAME]
    assert [r.value for r in later.job.all(Reading)] == [2.5]


@pytest.mark.parametrize(("bad", "words"), [
    (entry("a", "reading", circuit="circuit-99", test="continuity", result="pass"), "not in the job"),
    (entry("a", "reading", circuit="circuit-6", test="wire map", result="pass"), "no test of a microphone line"),
    (entry("a", "reading", circuit="circuit-6", test="continuity", value="3"), "only pass or fail"),
    (entry("a", "reading", circuit="circuit-6", test="loop resistance", value="3 m"), "read in ohm, not in m"),
    (entry("a", "reading", circuit="circuit-6", test="loop resistance", value="9" * 400), "too large"),
    (entry("a", "reading", circuit="circuit-6", test="loop resistance", result="maybe"), "not a choice"),
    (entry("a", "asbuilt", box="box-3", x="1e999 ft"), "too large"),
    (entry("a", "asbuilt", box="../../box", x="1"), "not in the job"),
    (entry("a", "pricing", rate="0"), "no entry of the kind"),
    (entry("a", "survey", topic="x", looked="looked"), "no entry of the kind"),
    (entry("a", "punch", label="x", audience="client"), "can't be set"),
    (entry("a", "length", circuit="circuit-6", typed_length="-3 m"), "less than nothing"),
    ({"id": "a", "on": "punch", "fields": {"label": 5}}, "no text"),
    ({"id": "a", "on": "punch", "fields": {"__proto__": "x"}}, "not a field"),
    ({"id": "../a", "on": "punch", "fields": {"label": "x"}}, "no name"),
    ({"id": "a", "on": "punch", "fields": {"label": "x" * 5000}}, "4,000 are the most"),
    ({"id": "a", "on": ["punch"], "fields": {}}, "does not say what it is"),
    (7, "no record"),
])  # fmt: skip
def test_one_bad_entry_is_refused_alone(job: Job, bad: Any, words: str) -> None:
    plan = take(job, sheet("site", [bad, entry("good", "punch", label="lid scrapes")]))
    assert sorted(states(plan)) == [ADD, REFUSE]
    assert words in plan.of(REFUSE)[0].words
    assert plan.job.all(Reading) == []
    assert [p.label for p in plan.job.all(Punch)] == ["lid scrapes"]


@pytest.mark.parametrize("data", [
    b"", b"\0" * 100, b"{", b"[]", b"null", b"[" * 100_000, b'{"stagefloor_sheet":' + b"9" * 5000 + b"}", b"\xff\xfe{",
    b'{"a":' * 50_000, json.dumps({"stagefloor_sheet": 2}).encode(), json.dumps({"stagefloor_sheet": True}).encode(),
    b'{"stagefloor_sheet": 1, "kind": "survey", "sheet": "aaaa", "export": NaN}',
    b'{"stagefloor_sheet": 1, "kind": "survey", "sheet": "../aaaa", "export": 1}',
    b'{"stagefloor_sheet": 1, "kind": "survey", "sheet": "zzzz", "export": 1}',
    b'{"stagefloor_sheet": 1, "kind": "site", "sheet": "aaaa", "export": 1}',
])  # fmt: skip
def test_no_sheet_is_one_sentence(job: Job, data: bytes) -> None:
    with pytest.raises(Problem) as told:
        take(job, data)
    assert "\n" not in told.value.sentence
    assert len(told.value.sentence) < 300


def test_a_file_of_fifty_megabytes_is_not_even_read(tmp_path: Path) -> None:
    large = tmp_path / "large.json"
    with open(large, "wb") as handle:
        handle.truncate(50_000_000)
    with pytest.raises(Problem, match="50 MB; 40 MB are the most"):
        read_sheet_file(large)
    with pytest.raises(Problem, match="40 MB are the most"):
        read_sheet(bytes(MOST_BYTES + 1))


def test_markup_stays_text(job: Job) -> None:
    words = '<script>alert(1)</script>"><img src=x onerror=alert(1)>'
    plan = take(job, sheet("survey", [entry("more.1", "survey", topic=words, found=words)],
                           sketches=[{"id": "s1", "about": words, "label": words, "strokes": [[[1, 2], [3, 4]]],
                                      "dimensions": [{"from": [0, 0], "to": [9, 9], "text": words}]}]))
    assert plan.job.all(Survey)[-1].found == words  # kept as it was typed
    (name, drawing), = plan.files.items()
    assert name.endswith(".svg")
    assert b"<script" not in drawing
    assert b"<img" not in drawing


def test_pictures_get_names_of_our_own(job: Job) -> None:
    pictures = [{"id": "photo.1.a", "about": "Rack", "label": "../../etc/passwd", "name": "../x.sh",
                 "data": base64.b64encode(photo(b"51.4778 N, 0.0015 W", b"<script>alert(1)</script>")).decode()}]
    plan = take(job, sheet("survey", [], pictures=pictures))
    (name, data), = plan.files.items()
    folder, file = name.split("/")
    assert (folder, file[-4:], len(file), set(file[:-4]) <= set("0123456789abcdef")) == ("pictures", ".jpg", 28, True)
    assert b"51.4778" not in data  # what the camera wrote and what stood behind the picture are gone
    assert b"script" not in data
    assert Image.open(io.BytesIO(data)).size == (6, 4)
    assert [p.file for p in plan.job.all(Picture)] == [file]
    again = take(plan.job, sheet("survey", [], export=2, pictures=pictures))
    assert states(again) == [SAME]
    assert again.files == {}


def test_a_photo_stands_with_the_record_that_the_phone_named(job: Job) -> None:
    about = ("Rack position and cable entry", "Line M-1", "Floor box FB-1", "something else")
    pictures = [{"id": f"p{n}", "about": words, "label": "", "data": base64.b64encode(photo()).decode()}
                for n, words in enumerate(about)]
    plan = take(job, sheet("site", [], pictures=pictures))
    assert [(p.on, p.to) for p in plan.job.all(Picture)] == [
        ("survey", "survey-1"), ("circuit", "circuit-6"), ("box", "box-3"), ("job", "")]
    (one, *_) = plan.job.all(Picture)
    moved = edit.set_fields(plan.job, "picture", one.id, {"on": "box", "to": "box-3"})
    again = take(moved, sheet("site", [], export=2, pictures=pictures))
    assert again.job.get(Picture, one.id).on == "box"  # what was moved here stays moved


def test_what_is_no_photo_is_refused_alone(job: Job) -> None:
    datas = [photo(), photo()[:40], b"GIF89a", photo().replace(struct.pack(">HH", 4, 6), struct.pack(">HH", 60000, 60000))]
    pictures = [{"id": f"p{n}", "about": "Rack", "label": "", "data": base64.b64encode(d).decode()}
                for n, d in enumerate(datas)]
    plan = take(job, sheet("survey", [], pictures=pictures))
    assert states(plan) == [REFUSE] * 3 + [ADD]
    assert len(plan.files) == 1


def test_all_or_nothing_on_disk(tmp_path: Path, job: Job) -> None:
    store.create(tmp_path / "job")
    folder = tmp_path / "job"
    store.transact(folder, lambda _: job, "start")
    pictures = [{"id": "photo.1.a", "about": "Rack", "label": "", "data": base64.b64encode(photo()).decode()}]
    file = read_sheet(sheet("survey", survey_entries(), pictures=pictures))

    def run(name: str, change: Callable[[Job], Job]) -> object:
        return store.transact(folder, change, name)

    shown = planned(store.read(folder).job, file)
    store.transact(folder, lambda j: edit.set_fields(j, "survey", "survey-1", {"found": "mine"}), "meanwhile")
    with pytest.raises(Problem, match="changed meanwhile"):
        carry_out(folder, run, "sheet", lambda j: planned(j, file), shown.lines)
    assert not (folder / "pictures").exists()

    shown = planned(store.read(folder).job, file)
    (folder / "pictures").write_text("a file in the way")
    with pytest.raises(Problem, match="nothing was taken in"):
        carry_out(folder, run, "sheet", lambda j: planned(j, file), shown.lines)
    assert store.read(folder).job.all(FloorLayer) == []
    (folder / "pictures").unlink()

    (tmp_path / "elsewhere").mkdir()
    (folder / "pictures").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(Problem, match="leads elsewhere"):
        carry_out(folder, run, "sheet", lambda j: planned(j, file), shown.lines)
    assert list((tmp_path / "elsewhere").iterdir()) == []
    (folder / "pictures").unlink()

    before = len(store.edits(folder))
    carry_out(folder, run, "sheet", lambda j: planned(j, file), shown.lines)
    assert len(store.edits(folder)) == before + 1  # one transaction
    taken = store.read(folder).job
    assert len(list((folder / "pictures").iterdir())) == len(taken.all(Picture)) == 1
    store.undo(folder, store.edits(folder)[-1].sequence)
    undone = store.read(folder).job
    assert (undone.all(FloorLayer), undone.all(Picture), undone.get(Sheet, "sheet-9").exported) == ([], [], 0)
    assert states(planned(undone, file)).count(ADD) == 3  # after an undo it can be taken in again


@settings(max_examples=300, deadline=None)
@given(cut=st.integers(0, 2000), noise=st.binary(max_size=6))
def test_torn_bytes_never_trip_the_reader(cut: int, noise: bytes) -> None:
    whole = sheet("site", site_entries())
    try:
        read_sheet(whole[:cut] + noise + whole[cut + len(noise):])
    except Problem as problem:
        assert problem.sentence
