"""The load of a loudspeaker line in its loss, its cure and its reading; by hand beside each check.

Copper of 12 AWG at 20 C has 1.588 ohm a thousand feet, of 10 AWG 0.9989 (handbook wire table, NBS circular 31).
"""

from math import log10

import pytest

from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.cables import lines
from stagefloor.steps.cables.cures import cure, longest
from stagefloor.steps.closeout.line_tests import line_limits

FOOT = 0.3048
LOOP = 2 * 150 * 1.588e-3  # 150 ft of 12 AWG there and back: 0.4764 ohm


def line_of(**load: str) -> Job:
    """One loudspeaker line of 150 ft on 12 AWG."""
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0", "slack_box": "0", "slack_rack": "0"})
    job, _ = add(job, "node", [{"label": "R", "what": "rack", "x": "0", "y": "0"}, {"label": "A", "x": "150", "y": "0"}])
    job, _ = add(job, "segment", [{"label": "R-A", "start": "R", "end": "A", "string": "proved"}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "150", "y": "0"}])
    job, _ = add(job, "cabletype", [{"label": "ls", "what": "loudspeaker", "awg": "12"}])
    job, _ = add(job, "opening", [{"box": "FB-1", "label": "1-L1", "what": "loudspeaker"}])
    job, _ = add(job, "circuit", [{"label": "1-L1", "what": "loudspeaker", "openings": "1-L1", **load}])
    return add(job, "cable", [{"label": "1-L1", "circuits": "1-L1", "type": "ls"}])[0]


# a line of 100 V with 60 W of taps is 100 x 100 / 60 = 166.7 ohm (line-impedance note, Z = U2/P); 70 V is 100 / sqrt(2)
@pytest.mark.parametrize(("load", "ohm", "kept"), [
    ({"load_ohm": "4"}, 4, False), ({"load_ohm": "16"}, 16, True), ({"load_line": "100 V", "load_w": "60"}, 1e4 / 60, True),
    ({"load_line": "70 V", "load_w": "50"}, 100, True), ({"load_line": "100 V", "load_ohm": "40"}, 40, True),
    ({"load_line": "100 V", "load_w": "2500"}, 4, False)])
def test_the_loss_goes_by_the_load_of_the_line(load: dict[str, str], ohm: float, kept: bool) -> None:
    (line,) = lines(line_of(**load))
    assert line.check is not None
    assert line.check.result.amount == pytest.approx(20 * log10((ohm + LOOP) / ohm), rel=2e-3)
    assert line.check.holds is kept
    assert "assumed" not in line.check.as_text()
    # as long as the loop makes half a decibel
    loop = ohm * (10 ** (0.5 / 20) - 1)
    assert longest(line) == pytest.approx(loop / (2 * 1.588e-3) * FOOT, rel=2e-3)


def test_eight_ohm_stand_only_where_nothing_is_entered_and_are_told() -> None:
    """8 ohm and 0.4764 ohm: 0.503 dB, more than half a decibel; 10 AWG makes 0.32 dB."""
    job = line_of()
    (line,) = lines(job)
    assert line.check is not None
    assert line.check.result.amount == pytest.approx(20 * log10((8 + LOOP) / 8), rel=2e-3)
    assert "8 ohm is assumed" in line.check.as_text()
    told = cure(line, "ft-in")
    assert told.startswith("load: 8 ohm is assumed")
    assert "gauge: 10 AWG" in told
    assert [i.code for i in compute(job).items if i.code == "line-limit"] == ["line-limit"]


def test_a_distributed_line_of_unknown_load_is_not_judged_as_eight_ohm() -> None:
    (line,) = lines(line_of(load_line="100 V"))
    assert line.check is None


def test_the_gauge_that_cures_goes_by_the_load() -> None:
    """4 ohm bear 0.2371 ohm: 10 AWG makes 0.2997, 8 AWG (0.6282) 0.1885. With 4 ohm on 100 V no other line is named."""
    (line,) = lines(line_of(load_ohm="4"))
    assert "gauge: 8 AWG" in cure(line, "ft-in")
    assert "70 or 100 V line" in cure(line, "ft-in")
    (line,) = lines(line_of(load_line="100 V", load_w="2500"))
    assert "70 or 100 V line" not in cure(line, "ft-in")


def test_the_reading_at_the_end_goes_by_the_same_load() -> None:
    """100 ohm on 70 V: 50 W of taps, the band is 80 to 110 % of them (common practice): 5000/55 to 5000/40 ohm."""
    for load in ({"load_line": "70 V", "load_w": "50"}, {"load_line": "70 V", "load_ohm": "100"}):
        job = line_of(**load)
        limit = line_limits(job, job.circuits()[0], 45.72)["impedance"]
        assert (limit.low, limit.high) == (pytest.approx(5000 / 55, rel=1e-3), pytest.approx(5000 / 40, rel=1e-3))
    job = line_of()
    assert "impedance" not in line_limits(job, job.circuits()[0], 45.72)  # no reading is held against an assumption
