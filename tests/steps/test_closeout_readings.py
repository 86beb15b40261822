"""Readings against limits worked by hand: 53 ohm/km, 30 m: loop 3.18 ohm, at most 3.539, at least 2.862.

The factors 1.05 and 0.9 and the 0.2 and 0.1 ohm for connectors are common practice, no source.
"""

import re
from html import unescape

import pytest

from stagefloor.calculations.tests_limits import loudspeaker_impedance
from stagefloor.core.open_items import CHECK, MEND, TO_DO
from stagefloor.entry import line_tests
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import TESTS
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import KINDS
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import closeout


def job_with_lines(*kinds: str, resistance: str = "53 ohm/km", awg: int = 0) -> tuple[Job, list[str]]:
    job, (cable_type,) = add(Job(), "cabletype", [{"label": "Type", "resistance": resistance, "awg": awg}])
    job, lines = add(job, "circuit", [{"label": f"L{i}", "what": kind} for i, kind in enumerate(kinds, 1)])
    job, _ = add(
        job,
        "cable",
        [{"label": f"K{i}", "circuits": [line], "type": cable_type} for i, line in enumerate(lines, 1)],
    )
    return job, lines


def judged(
    test: str, kind: str = "microphone", length: float | None = 30.0, **reading: object
) -> closeout.ReadingJudged:
    job, (line,) = job_with_lines(kind)
    job, _ = add(job, "reading", [{"circuit": line, "test": test, **reading}])
    (found,) = closeout.judge(job, {} if length is None else {line: length})
    return found


def test_limits_of_a_microphone_line_by_hand():
    job, (line,) = job_with_lines("microphone")
    limits = closeout.line_limits(job, job.get(Circuit, line), 30.0)
    loop = limits["loop resistance"]
    assert (loop.expected, loop.low, loop.high) == pytest.approx((3.18, 2.862, 3.539))
    assert limits["continuity"].high == pytest.approx(1.05 * 30 * 0.053 + 0.2)
    assert limits["isolation"].low == 1
    assert set(closeout.limits(job, job.get(Circuit, line), 30.0)) == {
        "loop resistance",
        "continuity",
        "isolation",
        "phantom",
        "leg match",
        "level",
        "noise",
    }
    # legs: 0.1 ohm and 1 % of 30 m x 53 ohm/km = 1.59 ohm; a loop of 3.18 ohm before 10 kohm: 20 log10(1.000318)
    assert limits["leg match"].high == pytest.approx(0.1 + 0.01 * 1.59)
    assert limits["level"].expected == pytest.approx(0.00276, abs=1e-5)
    assert (limits["noise"].high, limits["phantom"].low, limits["phantom"].high) == (3, 44, 52)


def test_limit_of_a_loudspeaker_line_by_hand():
    # 0.1 instead of 0.2 ohm for the connectors: 1.05 x 3.18 + 0.1 = 3.439
    job, (line,) = job_with_lines("loudspeaker")
    limits = closeout.line_limits(job, job.get(Circuit, line), 30.0)
    assert limits["loop resistance"].high == pytest.approx(3.439)
    assert set(limits) == {"loop resistance", "isolation"}


def test_a_length_that_was_not_measured_widens_the_band():
    # 30 m, 10 % off either way: 0.9 x 3.18 x 0.9 = 2.576 and 1.05 x 3.18 x 1.1 + 0.2 = 3.873
    job, (line,) = job_with_lines("microphone")
    loop = closeout.line_limits(job, job.get(Circuit, line), 30.0, 10.0)["loop resistance"]
    assert (loop.expected, loop.low, loop.high) == pytest.approx((3.18, 2.5758, 3.8729))
    job, _ = add(job, "reading", [{"circuit": line, "test": "loop resistance", "value": 3.7}])
    assert closeout.judge(job, {line: 30.0}, {line: 10.0})[0].good
    assert closeout.judge(job, {line: 30.0})[0].failing


@pytest.mark.parametrize(
    ("load", "value", "outcome"),
    [
        ({"load_ohm": "8"}, 6.4 + 3.18, "fits"),  # 80 % of 8 ohm, with the loop of 30 m at 53 ohm/km in series
        ({"load_ohm": "8"}, 9.5, "below the limit"),
        # a coil that is broken or a load that is off: four times 8 ohm and the loop (common practice, no source)
        ({"load_ohm": "8"}, 32 + 3.18, "fits"),
        ({"load_ohm": "8"}, 35.2, "above the limit"),
        ({"load_ohm": "8"}, 5000, "above the limit"),
        # 100 V: 100 ohm take 100 W; 10 % more is 90.9 ohm, 20 % less 125 ohm
        ({"load_w": "100", "load_line": "100 V"}, 100, "fits"),
        ({"load_w": "100", "load_line": "100 V"}, 90.8, "below the limit"),
        ({"load_w": "100", "load_line": "100 V"}, 126, "above the limit"),
        ({}, 8, "no limit known"),
    ],
)
def test_the_impedance_follows_the_load(load, value, outcome):
    job, (line,) = job_with_lines("loudspeaker")
    job = set_fields(job, "circuit", line, load) if load else job
    job, _ = add(job, "reading", [{"circuit": line, "test": "impedance", "value": value}])
    assert closeout.judge(job, {line: 30.0})[0].outcome == outcome


@pytest.mark.parametrize(
    ("kind", "test", "value", "outcome"),
    [
        ("data", "link length", 31, "fits"),
        ("data", "link length", 26.9, "too low for its length: wrong line or a short midway"),  # 30 m less 10 %
        ("data", "link length", 33.1, "too high for its length: another line, a bad joint or a longer way"),
        ("data", "loop resistance", 3.2, "fits"),
        ("data", "loop resistance", 21.1, "above the limit"),
        ("video", "fibre loss", 1.6, "above the limit"),  # 0.03 km x 3 + 2 x 0.75 = 1.59 dB
        ("video", "fibre loss", 1.5, "fits"),
        ("video", "coax loss", 20.1, "above the limit"),
        ("microphone", "noise", 3.1, "above the limit"),
        ("microphone", "leg match", 0.2, "above the limit"),
    ],
)
def test_other_kinds_of_line_are_held_to_their_own_limits(kind, test, value, outcome):
    assert judged(test, kind, value=value).outcome == outcome


def test_more_than_the_meter_shows():
    open_line = judged("loop resistance", result="over range")
    assert open_line.outcome.startswith("open") and open_line.failing
    assert judged("continuity", result="over range").failing
    insulated = judged("isolation", result="over range")
    assert insulated.good and not insulated.failing


@pytest.mark.parametrize("load", [{}, {"load_ohm": "8"}, {"load_w": "100", "load_line": "100 V"}])
def test_a_loudspeaker_line_without_a_way_through_is_open(load):
    # a broken line shows more than any meter has; only insulation is the better for it
    job, (line,) = job_with_lines("loudspeaker")
    job = set_fields(job, "circuit", line, load) if load else job
    job, _ = add(job, "reading", [{"circuit": line, "test": "impedance", "result": "over range"},
                                  {"circuit": line, "test": "isolation", "result": "over range"}])
    outcomes = {j.test: j for j in closeout.judge(job, {line: 30.0})}
    assert outcomes["impedance"].failing and outcomes["impedance"].outcome.startswith("open")
    assert outcomes["isolation"].good


def test_a_sound_loudspeaker_at_its_peak_is_no_broken_one():
    # a maker's article on impedance: 4.5 ohm at least, so 4.5 / 0.8 = 5.6 ohm rated, and peaks of about 20 ohm
    job, (line,) = job_with_lines("loudspeaker")
    job = set_fields(job, "circuit", line, {"load_ohm": "5.6"})
    job, _ = add(job, "reading", [{"circuit": line, "test": "impedance", "value": 20}])
    assert closeout.judge(job, {line: 0.0})[0].good
    broken = loudspeaker_impedance(5.6, 0.0, 5000)
    assert "off or broken" in broken.notes[0] and "off or broken" not in loudspeaker_impedance(5.6, 0.0, 20).notes[0]


def test_what_is_above_its_limit_is_told_where_to_look() -> None:
    device = judged("trip time", "mains", value=9000, by="licensed electrician")
    assert "cable" not in device.sentence and "the licensed electrician looks at the device" in device.sentence
    assert "a thinner cable" in judged("continuity", value=9).sentence
    job, (line,) = job_with_lines("loudspeaker")
    job, _ = add(set_fields(job, "circuit", line, {"load_ohm": "8"}), "reading", [
        {"circuit": line, "test": "impedance", "value": 5000}])
    assert "a load that is off or broken" in closeout.judge(job, {line: 30.0})[0].sentence


@pytest.mark.parametrize(("kind", "test"), [("mains", "trip time"), ("video", "coax loss"), ("microphone", "phantom")])
def test_over_range_of_what_has_a_greatest_value_is_above_it(kind, test):
    # a device that never trips is no broken conductor
    found = judged(test, kind, result="over range", by="licensed electrician")
    assert found.failing and found.outcome == "above the limit" and "over range: above the limit; " in found.sentence


def test_a_mains_reading_needs_the_name_of_who_made_it():
    assert not judged("earth continuity", "mains", value=0.3).good
    assert judged("earth continuity", "mains", value=0.3, by="licensed electrician").outcome == "fits"
    assert judged("earth continuity", "mains", value=1.1, by="licensed electrician").outcome == "above the limit"
    assert judged("insulation resistance", "mains", value=0.9, by="licensed electrician").outcome == "below the limit"
    assert judged("mains test by the licensed electrician", "mains", result="pass").outcome.startswith("without a name")
    # the job is a US one: class A, 6 mA, (20/6)^1.43 = 5.59 s
    assert judged("trip time", "mains", value=5590, by="licensed electrician").outcome == "fits"
    assert judged("trip time", "mains", value=5600, by="licensed electrician").outcome == "above the limit"


def test_contacts_are_moved_with_phantom_on():
    needed = [t.test for t in closeout.required_tests("microphone")]
    assert "contacts moved, phantom on" in needed and needed.index("contacts moved, phantom on") > needed.index("phantom")
    assert judged("contacts moved, phantom on", result="fail").failing


def test_a_coupler_is_no_permanent_link():
    methods = {t.test: t.method for t in closeout.required_tests("data")}
    assert "modular-plug terminated link for a coupler" in methods["link result"]


@pytest.mark.parametrize(
    ("ohm", "outcome"),
    [
        (3.18, "fits"),
        (3.5389, "fits"),
        (3.54, "too high for its length: another line, a bad joint or a longer way"),
        (2.8621, "fits"),
        (2.861, "too low for its length: wrong line or a short midway"),
        (0, "too low for its length: wrong line or a short midway"),
        (-1, "not a possible reading"),
    ],
)
def test_a_loop_is_judged_by_its_own_length(ohm, outcome):
    found = judged("loop resistance", value=ohm)
    assert found.outcome == outcome
    assert found.expected == pytest.approx(3.18)
    assert outcome in found.sentence
    assert "Line L1, loop resistance" in found.sentence
    assert found.good == (outcome == "fits")
    assert found.failing != found.good


def test_the_same_reading_fits_another_length():
    assert judged("loop resistance", value=6.36).outcome.startswith("too high for its length")
    assert judged("loop resistance", value=6.36, length=60.0).outcome == "fits"


@pytest.mark.parametrize(
    ("test", "value", "outcome"),
    [
        ("phantom", 48, "fits"),
        ("phantom", 44, "fits"),
        ("phantom", 52, "fits"),
        ("phantom", 43.9, "below the limit"),
        ("phantom", 52.1, "above the limit"),
        ("isolation", 1, "fits"),
        ("isolation", 0.99, "below the limit"),
        ("isolation", 500, "fits"),
        ("continuity", 1.8, "fits"),
        ("continuity", 1.9, "above the limit"),
    ],
)
def test_the_other_figures_of_a_microphone_line(test, value, outcome):
    assert judged(test, value=value).outcome == outcome


def test_words_and_figures():
    assert judged("polarity", result="pass").outcome == "passed, as recorded"
    assert judged("polarity", result="fail").outcome == "failed, as recorded"
    assert judged("polarity").outcome == "no result entered"
    assert judged("continuity", result="pass").good
    assert judged("loop resistance", value=3.18, result="fail").outcome == "failed, as recorded"
    assert not judged("impedance", "loudspeaker").good
    # where a figure could have been compared, a word does not stand for it
    assert judged("loop resistance", result="pass").outcome == "passed without a reading"
    assert judged("impedance", "loudspeaker", value=7.9).outcome == "no limit known"
    assert judged("impedance", "loudspeaker", value=7.9, result="pass").good


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("length", "its length is not known"),
        ("type", "has no type"),
        ("cable", "no cable carries this line yet"),
        ("resistance", "neither a resistance nor a gauge"),
    ],
)
def test_no_limit_says_what_is_missing(change, words):
    job, (line,) = job_with_lines("microphone", resistance="" if change == "resistance" else "53 ohm/km")
    if change == "type":
        job = set_fields(job, "cable", next(iter(job.tables["cable"])), {"type": ""})
    if change == "cable":
        job = set_fields(job, "cable", next(iter(job.tables["cable"])), {"circuits": ""})
    job, _ = add(job, "reading", [{"circuit": line, "test": "loop resistance", "value": 3}])
    (found,) = closeout.judge(job, {} if change == "length" else {line: 30.0})
    assert found.outcome == "no limit known"
    assert words in found.sentence
    assert not found.good
    assert not found.failing


def test_a_measured_cable_gives_the_length_if_the_way_does_not():
    job, (line,) = job_with_lines("microphone")
    job = set_fields(job, "cable", next(iter(job.tables["cable"])), {"typed_length": "30 m"})
    job, _ = add(job, "reading", [{"circuit": line, "test": "loop resistance", "value": 3.2}])
    assert closeout.judge(job, {})[0].outcome == "fits"


def test_a_retest_counts_and_the_earlier_reading_stays():
    job, (line,) = job_with_lines("microphone")
    job, ids = add(
        job,
        "reading",
        [
            {"circuit": line, "test": "loop resistance", "value": 9, "date": "2026-03-05"},
            {"circuit": line, "test": "loop resistance", "value": 3.2, "date": "2026-03-09"},
        ],
    )
    (found,) = closeout.judge(job, {line: 30.0})
    assert found.outcome == "fits"
    assert [(e.record, e.outcome) for e in found.earlier] == [
        (ids[0], "too high for its length: another line, a bad joint or a longer way")
    ]
    # a date that was entered late still tells the order; without dates the order of entry does
    job = set_fields(job, "reading", ids[0], {"date": "2026-03-10"})
    assert closeout.judge(job, {line: 30.0})[0].record == ids[0]
    job = set_fields(job, "reading", ids[0], {"date": "spring"})
    assert closeout.judge(job, {line: 30.0})[0].record == ids[1]


def test_a_retired_line_is_not_judged():
    job, (line,) = job_with_lines("microphone")
    job, _ = add(job, "reading", [{"circuit": line, "test": "polarity", "result": "fail"}])
    assert closeout.judge(set_fields(job, "circuit", line, {"state": "retired"}), {}) == []


def test_every_kind_has_tests_that_a_reading_can_be_entered_for():
    for kind in KINDS:
        tests = closeout.required_tests(kind)
        assert tests
        assert {t.test for t in tests} <= set(TESTS)
    assert closeout.required_tests("smoke") == ()
    assert "phantom" in {t.test for t in closeout.required_tests("microphone")}
    assert [t.test for t in closeout.required_tests("mains")] == ["mains test by the licensed electrician"]


def test_open_items_group_what_is_missing_and_name_what_fails():
    job, lines = job_with_lines(*["microphone"] * 8, "mains", "loudspeaker")
    job, ids = add(
        job,
        "reading",
        [
            {"circuit": lines[0], "test": "loop resistance", "value": 9},
            {"circuit": lines[1], "test": "loop resistance", "value": 0.1},
            {"circuit": lines[9], "test": "impedance", "value": 8},
            {"circuit": lines[2], "test": "loop resistance", "result": "pass"},
            {"test": "polarity", "result": "pass"},
        ],
    )
    items = {i.code: i for i in closeout.open_items(job, dict.fromkeys(lines, 30.0))}
    failing = [i for i in closeout.open_items(job, dict.fromkeys(lines, 30.0)) if i.code == "test-failing"]
    assert [(i.subject, i.state, i.record) for i in failing] == [
        ("L1", MEND, ("reading", ids[0])),
        ("L2", MEND, ("reading", ids[1])),
    ]
    assert failing[0].amount == "off by 5.46 ohm"  # 9 - 3.539
    assert failing[0].workings
    assert items["lines-untested"].what == "5 of 9 lines have no test yet: L4; L5; L6; L7; L8"
    assert items["lines-part-tested"].what.startswith("4 of 9 lines have some of the tests")
    assert items["mains-untested"].what == "1 of 1 mains line has no test yet: L9"
    assert "licensed electrician" in items["mains-untested"].cure
    assert items["test-no-limit"].state == CHECK
    assert items["test-no-figure"].state == TO_DO
    assert items["test-without-line"].record == ("reading", ids[4])


def test_a_long_list_of_lines_is_one_item():
    job, lines = job_with_lines(*["line"] * 97)
    job, _ = add(
        job,
        "reading",
        [
            {"circuit": line, "test": t.test, "result": "pass"}
            for line in lines[:74]
            for t in closeout.required_tests("line")
        ],
    )
    (item,) = [i for i in closeout.open_items(job, {}) if i.code == "lines-untested"]
    assert item.what.startswith("23 of 97 lines have no test yet: L75; ")
    assert item.what.endswith("and 17 more")


def said(*readings: dict[str, object]) -> str:
    """What the closeout step says at the head of its readings, without marks."""
    job, lines = job_with_lines("microphone", "mains", "loudspeaker")
    of = {"microphone": lines[0], "mains": lines[1], "loudspeaker": lines[2]}
    job, _ = add(job, "reading", [{"circuit": of[str(r.pop("kind"))], **r} for r in map(dict, readings)])
    return unescape(re.sub("<[^>]+>", "", line_tests.judged(compute(job)).partition("</p>")[0]))


GOOD = {"kind": "microphone", "test": "polarity", "result": "pass"}
NAMELESS = {"kind": "mains", "test": "mains test by the licensed electrician", "result": "pass"}
UNJUDGED = (NAMELESS,
            {"kind": "microphone", "test": "isolation", "result": "pass"},  # a word for a figure
            {"kind": "microphone", "test": "phantom"},  # nothing entered
            {"kind": "loudspeaker", "test": "impedance", "value": 8})  # no load, so no limit


@pytest.mark.parametrize("reading", UNJUDGED, ids=["no name", "no number", "empty", "no limit"])
def test_a_reading_that_nobody_can_judge_does_not_fit(reading) -> None:
    assert said(GOOD) == "1 reading; all fit their line."
    assert said(GOOD, reading) == "2 readings: 1 fits its line, 1 can't be judged yet."


def test_what_fits_what_does_not_and_what_nobody_can_judge_are_counted_apart() -> None:
    bad = {"kind": "microphone", "test": "isolation", "value": 0.1}
    assert said(GOOD, bad) == "2 readings: 1 fits its line, 1 outside what fits the line."
    assert said(GOOD, bad, NAMELESS, UNJUDGED[2]) == (
        "4 readings: 1 fits its line, 1 outside what fits the line, 2 can't be judged yet.")
    assert said(NAMELESS) == "1 reading: 1 can't be judged yet."


def test_a_mains_test_without_a_name_is_an_open_item() -> None:
    job, (line,) = job_with_lines("mains")
    test = {"circuit": line, "test": "mains test by the licensed electrician", "result": "pass"}
    job, (reading,) = add(job, "reading", [test])
    (item,) = [i for i in closeout.open_items(job, {}) if i.code == "test-no-name"]
    assert (item.state, item.record) == (TO_DO, ("reading", reading))
    assert item.what.startswith("1 reading with no name") and "L1" in item.what and "who made" in item.cure
    named = set_fields(job, "reading", reading, {"by": "licensed electrician"})
    assert not [i for i in closeout.open_items(named, {}) if i.code == "test-no-name"]
