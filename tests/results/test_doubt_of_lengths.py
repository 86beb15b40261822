"""What a line may read by how well its length is known: measured on the cable, drawn, or a typical path. By hand.

23.395 m of a pair of 53 ohm/km: a loop of 2 x 23.395 x 0.053 = 2.4799 ohm. At most 1.05 of it and 0.2 ohm for connectors, at
least 0.9 of it; a drawn way may be off by 10 %, a typical path by 25 % (all common practice, no source).
"""

from pathlib import Path

import pytest

from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import Results, compute

DEMO = Path(__file__).resolve().parents[2] / "demo_projects" / "ondry_hall"


def loop_of(results: Results, label: str) -> tuple[float | None, float | None, float | None]:
    (line,) = [x.circuit.id for x in results.lines if x.circuit.label == label]
    limit = results.limits_of(line)["loop resistance"]
    return limit.low, limit.expected, limit.high


def one_line(**cable: str) -> Job:
    """The same line in a job of its own: 23.395 m to the rack as entered, no slack, no way drawn."""
    job = set_fields(Job(), "settings", "job", {"units": "m", "rack_distance": "23.395 m", "slack_box": "0",
                                                "slack_rack": "0"})
    job, (kind,) = add(job, "cabletype", [{"label": "pair", "what": "microphone", "resistance": "53 ohm/km"}])
    job, (box,) = add(job, "box", [{"label": "FB-B9"}])
    job, openings = add(job, "opening", [{"box": box, "label": "B9-M3", "what": "microphone"}])
    job, circuits = add(job, "circuit", [{"label": "B9-M3", "what": "microphone", "openings": openings[0]}])
    return add(job, "cable", [{"label": "B9-M3", "circuits": circuits, "type": kind, **cable}])[0]


def test_a_drawn_way_is_off_by_a_tenth() -> None:
    """0.9 x 0.9 x 2.4799 = 2.009; 1.05 x 1.1 x 2.4799 + 0.2 = 3.064."""
    results = compute(store.read(DEMO).job)
    assert loop_of(results, "B9-M3") == pytest.approx((2.009, 2.480, 3.064), abs=5e-4)
    (judged,) = [r for r in results.readings if r.line == "B9-M3" and r.test == "loop resistance"]
    assert (judged.low, judged.high) == pytest.approx((2.009, 3.064), abs=5e-4)


def test_a_typical_path_is_off_by_a_quarter() -> None:
    """0.9 x 0.75 x 2.4799 = 1.674; 1.05 x 1.25 x 2.4799 + 0.2 = 3.455."""
    assert loop_of(compute(one_line()), "B9-M3") == pytest.approx((1.674, 2.480, 3.455), abs=5e-4)


def test_a_length_that_was_measured_on_the_cable_is_not_off() -> None:
    """0.9 x 2.4799 = 2.232; 1.05 x 2.4799 + 0.2 = 2.804."""
    results = compute(one_line(typed_length="23.395 m"))
    assert loop_of(results, "B9-M3") == pytest.approx((2.232, 2.480, 2.804), abs=5e-4)


def test_the_doubt_is_in_what_one_conductor_may_read_too() -> None:
    """1.05 x 23.395 x 0.053 + 0.2 = 1.502 as measured; 1.25 of the length by a typical path: 1.827."""
    for job, most in ((one_line(typed_length="23.395 m"), 1.502), (one_line(), 1.827)):
        results = compute(job)
        assert results.limits_of(results.lines[0].circuit.id)["continuity"].high == pytest.approx(most, abs=5e-4)
