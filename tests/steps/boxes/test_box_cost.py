"""What a box costs and what lies on the floor, by hand."""

import pytest

from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Settings
from stagefloor.steps.boxes.box_cost import box_cost, floor_cables
from stagefloor.steps.boxes.choice import UnitCosts, surface_costs
from stagefloor.steps.boxes.schedule import reconciled

KINDS = ("microphone", "line", "intercom", "loudspeaker", "video", "data", "control", "mains")
COSTS = UnitCosts(300.0, 150.0, dict.fromkeys(KINDS, 10.0), dict.fromkeys(KINDS, 8.0), dict.fromkeys(KINDS, 2.0), 1.0)


def job(**box: object) -> Job:
    settings = Settings(id="job", units="m", rack_x="10 m", rack_y="0 m", slack_box="0 m", slack_rack="0 m",
                        spare_percent=0.0)
    return reconciled(Job(settings=settings).with_records([
        Event(id="e", label="Play"), Event(id="f", label="Film"),
        Point(id="p", label="P", x="3 m", y="4 m", microphone=2, events=("e",)),
        Point(id="q", label="Q", x="0 m", y="2 m", mains=1),
        BoxModel(id="m", label="M", bays=2, mains_bays=1, openings=4, mains_outlets=2, cost="100"),
        Box(id="b", label="FB-1", x="0 m", y="0 m", points=("p", "q"), **box)]))


def test_a_box_costs_itself_its_setting_and_its_lines() -> None:
    """100 to buy, 300 to set; two microphones, each 10 for the opening, 2 x 8 for its ends and 10 m x 1.15 at 2 a metre;
    one mains outlet at 10, whose line is the electrician's: 100 + 300 + 2 x (10 + 16 + 23) + 10 = 508."""
    assert box_cost(job(), job().boxes()[0], COSTS, "EUR").result.amount == pytest.approx(508.0)
    built = job().boxes()[0].model_copy(update={"state": "built"})
    assert box_cost(job(), built, COSTS, "EUR").result.amount == 0.0  # what is there costs nothing more


def test_the_cable_on_the_floor_is_counted_for_each_event() -> None:
    """3 and 4 m make 5 m: in the play 2 x 5 + 1 x 2 = 12 m; in the film only the 2 m at Q, which is always in use."""
    assert [(c.event, c.cables, c.length) for c in floor_cables(job())] == [("Play", 3, pytest.approx(12.0)),
                                                                           ("Film", 1, pytest.approx(2.0))]


def test_a_surface_multicore_goes_from_the_rack_and_carries_no_mains() -> None:
    """From (10, 0) to (3, 4) is 11 m right-angled, 12.65 m with the detour of 15 %: 25.30 and two ends at 8."""
    found = surface_costs(job(), COSTS)
    assert found["p", "microphone"] == pytest.approx(41.3)
    assert ("p", "mains") not in found
    assert surface_costs(Job(), COSTS) == {}
