"""A tester's file: 2,000 rows of which 40 are bad, columns that are remembered, units, duplicates, files cut off."""

from datetime import time

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


@pytest.mark.parametrize(("reading", "verdict", "kept"), [
    ("OL", "pass", "over range"), ("OL", "fail", "fail"), ("OL", "", "over range"), ("fail", "pass", "fail"),
    ("", "pass", "pass")])  # fmt: skip
def test_a_tester_that_says_pass_does_not_hide_what_it_read(reading, verdict, kept) -> None:
    for text in (f"Line,Test,Reading,Result\nM1,continuity,{reading},{verdict}\n",
                 f"Line,Reading of continuity,Result of continuity\nM1,{reading},{verdict}\n",
                 f"Line,Result of continuity,Reading of continuity\nM1,{verdict},{reading}\n"):
        found = look(job_with("M1"), text, {"Reading of continuity": ("reading of continuity", ""),
                                            "Result of continuity": ("result of continuity", "")})
        assert [(r.value, r.result) for r in found.taken] == [(None, kept)], text


def last_of(job: Job, *files: str) -> closeout.ReadingJudged:
    """The judged polarity of M1 after these files were taken one after the other."""
    for text in files:
        found = look(job, text)
        job = closeout.taken(job, found) if found.taken else job
    (judged,) = closeout.judge(job, {})
    return judged


def session(*rows: str, head: str = "Cable label,Test,Pass/Fail,Date,Time") -> str:
    """Polarity tests of M1: each row is a result, a day and a time."""
    return "\n".join([head, *(f"M1,polarity,{row}" for row in rows)]) + "\n"


# by a clock: 9:05 is before 10:20, noon before 1:05 in the afternoon, 12:10 AM is ten past midnight
@pytest.mark.parametrize(("before", "after"), [
    ("9:05", "10:20"), ("11:50 AM", "1:05 PM"), ("12:10 AM", "9:00 am"), ("9:05 a.m.", "12:01 p.m."), ("9 AM", "9:30 AM"),
    ("10:20", "10:20:30"), ("9:05:07.5", "9:05:07.75"), ("2026-05-02 9:05", "2026-05-02T10:20"),
    ("1899-12-30 9:05", "1899-12-30 10:20"),  # a time alone, as a spreadsheet writes it
])  # fmt: skip
def test_the_last_by_the_clock_counts_however_its_time_is_written(before, after) -> None:
    first, second = f"pass,2026-05-02,{before}", f"fail,2026-05-02,{after}"
    for rows in ((first, second), (second, first)):
        assert last_of(job_with("M1"), session(*rows)).failing, rows


def test_a_timestamp_keeps_its_time() -> None:
    head = "Cable label,Test,Pass/Fail,Timestamp"
    rows = ("fail,2026-05-02T10:20:00", "pass,2026-05-02T09:05:00")
    judged = last_of(job_with("M1"), session(*rows, head=head))
    assert judged.failing and [e.word for e in judged.earlier] == ["pass"]
    assert [r.time for r in look(job_with("M1"), session(*rows, head=head)).taken] == ["09:05:00", "10:20:00"]


@pytest.mark.parametrize("time", [
    "25:10", "10:61", "13:05 PM", "0:30 AM", "noon", "10h20", "0.43", "09:05 or so", "2026-13-01 9:05"])
def test_a_time_that_is_none_is_a_bad_row(time) -> None:
    found = look(job_with("M1"), session(f"fail,2026-05-02,{time}"))
    assert found.taken == () and (time in found.bad[0].reason or "not a date" in found.bad[0].reason)
    stamped = look(job_with("M1"), session("fail,2026-05-02 25:10", head="Cable label,Test,Pass/Fail,Timestamp"))
    assert stamped.taken == () and "'25:10' is no time of day" in stamped.bad[0].reason


def test_two_days_in_one_row_are_asked_back() -> None:
    found = look(job_with("M1"), session("fail,2026-05-02,2026-05-03 9:05"))
    assert found.taken == () and "two days" in found.bad[0].reason
    alone = look(job_with("M1"), session("fail,,2026-05-03 9:05"))
    assert [(r.date, r.time) for r in alone.taken] == [("2026-05-03", "09:05")]


FAIL, PASS, AGAIN = "fail,2026-05-02,9:05", "pass,2026-05-02,9:30", "fail,2026-05-02,10:20"


def test_a_new_failure_equal_to_an_earlier_one_is_taken() -> None:
    # the same tester, day and result: only the time tells that it is another test
    assert last_of(job_with("M1"), session(FAIL, PASS, AGAIN)).failing
    assert last_of(job_with("M1"), session(FAIL, PASS), session(FAIL, PASS, AGAIN)).failing
    assert last_of(job_with("M1"), session(FAIL), session(PASS), session(AGAIN)).failing
    # files that come in late do not turn it round
    assert last_of(job_with("M1"), session(AGAIN), session(PASS), session(FAIL)).failing
    assert not last_of(job_with("M1"), session(PASS), session(FAIL)).failing
    # and a clock without seconds has several tests in one minute
    minute = [f"{word},2026-05-02,9:05" for word in ("fail", "pass", "fail", "fail")]
    found = look(job_with("M1"), session(*minute))
    assert [r.result for r in found.taken] == ["fail", "pass", "fail"] and found.bad[0].number == 5


def test_without_a_time_a_row_is_known_as_often_as_the_job_holds_it() -> None:
    rows = ("fail,2026-05-02", "pass,2026-05-02", "fail,2026-05-02")
    head = "Cable label,Test,Pass/Fail,Date"
    job = closeout.taken(job_with("M1"), look(job_with("M1"), session(*rows, head=head)))
    assert [r.result for r in job.all(Reading)] == ["fail", "pass", "fail"]
    again = look(job, session(*rows, head=head))
    assert (len(again.taken), len(again.known), len(again.bad)) == (0, 3, 0)
    assert last_of(job_with("M1"), session(*rows[:2], head=head), session(*rows, head=head)).failing
    # one right behind the other is a row that was written twice
    doubled = look(job_with("M1"), session(rows[0], rows[0], head=head))
    assert len(doubled.taken) == 1 and "the same as row 2" in doubled.bad[0].reason


def test_readings_that_were_kept_without_their_time_are_not_taken_again() -> None:
    job = job_with("M1")
    (line,) = job.circuits()
    job, _ = add(job, "reading", [{"circuit": line.id, "test": "polarity", "result": "fail", "date": "2026-05-02"}])
    found = look(job, session(FAIL, AGAIN))
    assert ([r.time for r in found.known], [r.time for r in found.taken]) == (["09:05"], ["10:20"])


def test_a_row_of_several_tests_is_the_same_only_if_all_are() -> None:
    found = look(job_with("M1"), "Line,Loop resistance (ohm),Phantom [V],Date\nM1,2.5,48,2026-05-02\n"
                                 "M1,9,48,2026-05-02\nM1,9,48,2026-05-02\n")
    assert [r.value for r in found.taken if r.test == "loop resistance"] == [2.5, 9.0]
    assert [b.number for b in found.bad] == [4]


def test_an_undated_row_is_not_put_before_a_dated_one() -> None:
    # nobody knows when it was: then the order of the file stands
    assert last_of(job_with("M1"), session("pass,2026-05-02,9:05", "fail,,")).failing
    # a file without days is of one day: its times tell
    assert last_of(job_with("M1"), session("fail,,10:20", "pass,,9:05")).failing


@given(st.permutations([(h, m) for h in (0, 9, 12, 13, 23) for m in (5, 40)]))
def test_the_order_of_rows_and_the_way_a_time_is_written_change_nothing(order) -> None:
    """Against the standard library's own clock: the latest fails, all before it pass."""
    latest = max(order)
    rows = []
    for i, (hour, minute) in enumerate(order):
        at = time(hour, minute)
        text = (at.strftime("%H:%M"), at.strftime("%I:%M %p"), at.strftime("%H:%M:%S"), f"{hour}:{minute:02}")[i % 4]
        rows.append(f"{'fail' if (hour, minute) == latest else 'pass'},2026-05-02,{text}")
    judged = last_of(job_with("M1"), session(*rows))
    assert judged.failing and len(judged.earlier) == len(order) - 1


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
