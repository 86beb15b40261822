"""A tester's file: 2,000 rows of which 40 are bad, columns that are remembered, units, duplicates, files cut off."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.closeout import ColumnMeaning, Reading
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.steps import closeout

LINES = 400
TESTS = ("continuity", "polarity", "loop resistance", "isolation", "phantom")
HEAD = "Cable label,Test,Value,Unit,Pass/Fail,Date,Time,Tester,Operator"


def job_with(*labels: str, kind: str = "microphone") -> Job:
    return add(Job(), "circuit", [{"label": label, "what": kind} for label in labels])[0]


def look(job: Job, text: str | bytes, chosen: dict[str, tuple[str, str]] | None = None) -> closeout.Preview:
    file = closeout.read_file("tester.csv", text.encode() if isinstance(text, str) else text)
    return closeout.preview(job, file, closeout.columns(job, file.headings, chosen))


def good_row(number: int) -> str:
    label, test = f"M{number % LINES + 1}", TESTS[number // LINES]
    figures = {"loop resistance": ("2.48", "ohm"), "isolation": ("500", "Mohm"), "phantom": ("47.9", "V")}
    value, unit = figures.get(test, ("", ""))
    return f"{label},{test},{value},{unit},pass,2026-05-02,10:{number % 60:02d},tester 7,crew lead"


# what is wrong, what a row says in its place, what the reason must say
BAD = (
    ("unknown label", lambda r: "X" + r, "no line is called 'XM"),
    ("no label", lambda r: "," + r.partition(",")[2], "no line is named"),
    ("unknown test", lambda r: ",".join([r.split(",")[0], "smell", *r.split(",")[2:]]), "no test that is known"),
    ("no figure", lambda r: ",".join([*r.split(",")[:2], "n/a", *r.split(",")[3:]]), "'n/a' is not a figure"),
    ("wrong unit", lambda r: ",".join([r.split(",")[0], "phantom", "3", "ohm", *r.split(",")[4:]]), "read in V, not in ohm"),
    ("unknown unit", lambda r: ",".join([*r.split(",")[:2], "3", "furlong", *r.split(",")[4:]]), "no unit that is known"),
    ("bad result", lambda r: ",".join([*r.split(",")[:4], "maybe", *r.split(",")[5:]]), "'maybe' is no result"),
    ("bad date", lambda r: ",".join([*r.split(",")[:5], "2 May", *r.split(",")[6:]]), "not a date"),
    ("too few cells", lambda r: ",".join(r.split(",")[:4]), "4 cells, but 9 headings"),
    ("too large", lambda r: ",".join([*r.split(",")[:2], "9e99", *r.split(",")[3:]]), "too large a figure"),
)


@pytest.fixture(scope="module")
def big() -> tuple[str, dict[int, str]]:
    """2,000 rows with 40 bad ones: the text, and row number -> words of its reason."""
    rows = [good_row(n) for n in range(2000)]
    spoilt: dict[int, str] = {}
    for n in range(36):
        at = 17 + 53 * n
        _, spoil, words = BAD[n % len(BAD)]
        rows[at] = spoil(rows[at])
        spoilt[at + 2] = words  # the heading is row 1
    for n in range(4):  # and four rows that are there twice
        at = 1950 + 5 * n
        rows[at] = rows[100 + 7 * n]
        spoilt[at + 2] = f"the same as row {102 + 7 * n}"
    return "\n".join([HEAD, *rows]) + "\n", spoilt


@pytest.fixture(scope="module")
def house() -> Job:
    return job_with(*(f"M{n}" for n in range(1, LINES + 1)))


def test_forty_bad_rows_of_two_thousand_are_named_with_their_reason(house, big) -> None:
    text, spoilt = big
    found = look(house, text)
    assert len(spoilt) == 40
    assert {b.number for b in found.bad} == set(spoilt)
    for b in found.bad:
        assert spoilt[b.number] in b.reason, b.sentence
        assert b.sentence.startswith(f"Row {b.number}")
    assert len(found.taken) == 1960
    assert found.faults == ()


def test_nothing_is_taken_before_it_is_agreed_and_then_in_one_transaction(tmp_path, house, big) -> None:
    text, _ = big
    path = store.create(tmp_path / "job")
    store.transact(path, lambda _: house, "lines")
    before = store.read(path).job
    found = look(before, text)
    assert store.read(path).job.sequence == before.sequence  # looking changes nothing
    after = store.transact(path, lambda j: closeout.taken(j, found), "Tester's file")
    assert after.sequence == before.sequence + 1
    assert len(after.all(Reading)) == 1960
    store.undo(path, after.sequence)
    assert store.read(path).job.all(Reading) == []  # taken back as one


def test_the_same_file_again_doubles_nothing(house, big) -> None:
    text, _ = big
    once = closeout.taken(house, look(house, text))
    again = look(once, text)
    assert (len(again.taken), len(again.known), len(again.bad)) == (0, 1960, 40)
    assert not again.usable
    with pytest.raises(Problem, match="nothing new"):
        closeout.taken(once, again)


def test_a_job_that_changed_meanwhile_is_looked_at_again(house) -> None:
    text = f"{HEAD}\nM1,phantom,47,V,,2026-05-02,,,\n"
    found = look(house, text)
    meanwhile = closeout.taken(house, found)
    with pytest.raises(Problem, match="look at it again"):
        closeout.taken(meanwhile, found)


def test_what_columns_mean_is_remembered() -> None:
    job = job_with("M1")
    text = "Strand;Ring ohms;Note\nM1;2.48;fine\n"
    first = look(job, text)
    assert first.faults and not first.usable
    chosen = {"Strand": ("line", ""), "Ring ohms": ("reading of loop resistance", "ohm"), "Note": ("leave out", "")}
    job = closeout.taken(job, look(job, text, chosen))
    assert [(c.heading, c.meaning, c.unit) for c in job.all(ColumnMeaning)] == [
        ("Strand", "line", ""), ("Ring ohms", "reading of loop resistance", "ohm"), ("Note", "leave out", "")]
    later = look(job, "Strand;Ring ohms;Note\nM1;2.60;again\n")
    assert later.faults == () and [r.value for r in later.taken] == [2.6]
    changed = closeout.taken(job, look(job, "Strand;Ring ohms\nM1;2.6\n", chosen | {"Ring ohms": chosen["Ring ohms"]}))
    assert len(changed.all(ColumnMeaning)) == 3  # the same headings stay one entry each


def test_a_column_for_each_test() -> None:
    found = look(job_with("M1", "M2"), "Line,Loop resistance (ohm),Phantom [V],Polarity\nM1,2.5,47.8,pass\nM2,,48,fail\n")
    assert [(r.line, r.test, r.value, r.result) for r in found.taken] == [
        ("M1", "loop resistance", 2.5, ""), ("M1", "phantom", 47.8, ""), ("M1", "polarity", None, "pass"),
        ("M2", "phantom", 48.0, ""), ("M2", "polarity", None, "fail")]
    # a row is taken whole or not at all
    half = look(job_with("M1"), "Line,Loop resistance (ohm),Phantom [V]\nM1,2.5,plenty\n")
    assert half.taken == () and "'plenty' is not a figure" in half.bad[0].reason


@pytest.mark.parametrize(("text", "unit", "test", "value"), [
    ("2480", "mohm", "loop resistance", 2.48), ("0.00248", "kohm", "loop resistance", 2.48),
    ("2.48", "\u03a9", "loop resistance", 2.48), ("2.48", "\u2126", "loop resistance", 2.48),
    ("2480 mΩ", "", "loop resistance", 2.48), ("0,5", "Gohm", "isolation", 500), ("2000000", "ohm", "isolation", 2),
    ("47900", "mV", "phantom", 47.9), ("2.48", "", "loop resistance", 2.48),
])  # fmt: skip
def test_units_are_brought_to_the_unit_of_the_test(text, unit, test, value) -> None:
    found = look(job_with("M1"), f'Line,Test,Reading,Unit\nM1,{test},"{text}",{unit}\n')
    assert [r.value for r in found.taken] == [pytest.approx(value)]


def test_a_unit_in_another_letter_case_is_not_guessed() -> None:
    found = look(job_with("M1"), "Line,Test,Reading,Unit\nM1,isolation,5,MOHM\nM1,isolation,\"1,250\",Mohm\n")
    assert "is it M" in found.bad[0].reason
    assert "thousands or a decimal comma" in found.bad[1].reason


@pytest.mark.parametrize("text", ["OL", "O.L", ">2000", "over range"])
def test_more_than_the_meter_shows(text) -> None:
    found = look(job_with("M1"), f"Line,Test,Reading\nM1,isolation,{text}\n")
    assert [(r.value, r.result) for r in found.taken] == [(None, "over range")]


def test_retests_in_a_file_stay_in_the_order_of_their_time() -> None:
    found = look(job_with("M1"), f"{HEAD}\nM1,loop resistance,2.5,ohm,,2026-05-02,14:00,,\n"
                                 "M1,loop resistance,0.9,ohm,,2026-05-02,9:00,,\n")
    assert [r.value for r in found.taken] == [0.9, 2.5]
    assert found.retests == 1


def test_a_file_that_ends_within_a_row_is_said_so_and_the_rest_is_whole() -> None:
    found = look(job_with("M1", "M2"), f"{HEAD}\nM1,phantom,47,V,,2026-05-02,,,\nM2,phantom,4")
    assert [r.line for r in found.taken] == ["M1"]
    assert "ends within this row" in found.bad[0].reason and found.bad[0].number == 3


@pytest.mark.parametrize(("data", "words"), [
    (b"", "is empty"), (b"   \n", "is empty"), (b"Line\nM1\n", "no columns"), (HEAD.encode(), "no row below"),
    (b"\x89PNG\x00\x00\x01", "no text file"), (b"Line,Test,line\nM1,phantom,47\n", "two columns called"),
])  # fmt: skip
def test_a_file_that_is_none_is_refused_in_a_sentence(data, words) -> None:
    with pytest.raises(Problem, match=words):
        closeout.read_file("tester.csv", data)


@pytest.mark.parametrize(("typed", "day", "time"), [
    ("4 Mar 2026", "2026-03-04", ""), ("2026-03-04T10:01:30Z", "2026-03-04", "10:01:30"),
    ("2026-03-04 10:01", "2026-03-04", "10:01"), ("March 4, 2026 9:05", "2026-03-04", "09:05"),
    ("2026-03-04 9:05 pm", "2026-03-04", "21:05"), ("2026-03-04 12:05 AM", "2026-03-04", "00:05"), ("", "", "")])
def test_a_day_is_read_as_everywhere_in_the_workbook(typed, day, time) -> None:
    found = look(job_with("M1"), f'Line;Test;Reading;Date\nM1;phantom;47;"{typed}"\n')
    assert [(r.date, r.time) for r in found.taken] == [(day, time)]


# ISO 8601: no such days
@pytest.mark.parametrize("typed", ["2026-13-45", "2026-02-30", "04/03/2026", "2026-03-04x", "10:01"])
def test_a_day_that_is_none_is_refused(typed) -> None:
    found = look(job_with("M1"), f"Line,Test,Reading,Date\nM1,phantom,47,{typed}\n")
    assert found.taken == () and "is not a date" in found.bad[0].reason


def test_a_decimal_comma_without_quotes_puts_nothing_under_another_head() -> None:
    found = look(job_with("M1"), "Line,Test,Reading\nM1,phantom,47,9\n")
    assert found.taken == () and found.bad[0].reason.startswith("4 cells, but 3 heads; put quotes around")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_files_of_other_programs_are_read(encoding) -> None:
    found = look(job_with("Bühne 1"), "Line;Test;Reading\r\nBühne 1;phantom;47,9\r\n".encode(encoding))
    assert [(r.line, r.value) for r in found.taken] == [("Bühne 1", 47.9)]


def test_two_lines_of_one_name_and_a_test_of_another_kind() -> None:
    found = look(job_with("M1", "m1"), "Line,Test,Reading\nM1,phantom,47\n")
    assert "2 lines are called" in found.bad[0].reason
    data = look(job_with("D1", kind="data"), "Line,Test,Reading\nD1,phantom,47\n")
    assert "no test of a data line" in data.bad[0].reason


def test_a_reading_taken_from_a_file_is_judged_like_any_other() -> None:
    # 23.4 m at 53 ohm/km: 2.48 ohm; 0.9 ohm is another line, or a short midway
    job, (kind,) = add(job_with("B9-M3"), "cabletype", [{"label": "Pair", "resistance": "53 ohm/km"}])
    (line,) = job.circuits()
    job, _ = add(job, "cable", [{"label": "B9-M3", "circuits": [line.id], "type": kind, "typed_length": "23.4 m"}])
    job = closeout.taken(job, look(job, "Line,Test,Reading\nB9-M3,loop resistance,0.9\n"))
    (judged,) = closeout.judge(job, {})
    assert judged.expected == pytest.approx(2.4804) and judged.outcome.startswith("too low for its length")


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=200) | st.binary(max_size=200))
def test_no_file_ends_in_anything_but_a_sentence(text) -> None:
    try:
        found = look(job_with("M1"), text)
    except Problem as problem:
        assert problem.sentence
        return
    assert all(b.sentence for b in found.bad)


def test_readings_in_bulk_keep_what_was_there() -> None:
    job = job_with("M1")
    (line,) = job.circuits()
    about = {"instrument": "meter 2", "by": "crew lead", "date": "2026-05-02"}
    job = closeout.entered(job, line.id, "phantom", "43 V", about)
    job = closeout.entered(job, line.id, "phantom", "47.9", about)
    job = closeout.entered(job, line.id, "isolation", "OL", about)
    judged = closeout.judge(job, {})
    text, wrong = closeout.cells(judged)
    assert text == {(line.id, "phantom"): "47.9", (line.id, "isolation"): "over range"} and wrong == {}
    assert [e.outcome for j in judged for e in j.earlier] == ["below the limit"]
    assert [r.by for r in job.all(Reading)] == ["crew lead"] * 3
    with pytest.raises(Problem, match="kept once it is made"):
        closeout.entered(job, line.id, "phantom", " ", about)
    with pytest.raises(Problem, match="not a figure"):
        closeout.entered(job, line.id, "phantom", "loud", about)
    _, wrong = closeout.cells(closeout.judge(closeout.entered(job, line.id, "phantom", "60", about), {}))
    assert wrong == {(line.id, "phantom"): "Above the limit."}
