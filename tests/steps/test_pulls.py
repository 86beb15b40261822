"""Pulls between pull points: bends, length and tension, against published formulae redone in the comments."""

from math import exp, pi

import pytest

from stagefloor.core.open_items import CHECK, MEND, OpenItem
from stagefloor.job.cables import CableType, Segment
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.cables import Pull, lines, pulls
from stagefloor.steps.cables.pulls import cable_bears

G, POUND, FOOT = 9.80665, 0.45359237, 0.3048


def job(nodes: list[dict[str, str]], kind: str = "microphone", cables: int = 1, **segment: str) -> Job:
    """Points in a row from the rack, a raceway between each two, a box on the last; cable of 0.144 lb/ft."""
    made = set_fields(Job(), "settings", "job", {"slack_box": "0", "slack_rack": "0"})
    made, _ = add(made, "node", nodes)
    names = [n["label"] for n in nodes]
    made, _ = add(made, "segment", [{"label": f"{a}-{b}", "start": a, "end": b, "string": "proved", **segment}
                                    for a, b in zip(names, names[1:], strict=False)])
    last = nodes[-1]
    made, _ = add(made, "box", [{"label": "FB-1", "x": last["x"], "y": last["y"], "z": last.get("z", "0")}])
    made, _ = add(made, "cabletype", [{"label": "c", "what": kind, "diameter": "0.2 in", "awg": "22",
                                       "mass": "0.144 lb/ft"}])
    for n in range(cables):
        made, _ = add(made, "opening", [{"box": "FB-1", "label": f"o{n}", "what": kind}])
        made, _ = add(made, "circuit", [{"label": f"L{n}", "what": kind, "openings": f"o{n}"}])
        made, _ = add(made, "cable", [{"label": f"L{n}", "circuits": f"L{n}", "type": "c"}])
    return made


def rack(**more: str) -> dict[str, str]:
    return {"label": "R", "what": "rack", "x": "0", "y": "0", "z": "0", **more}


def one(made: Job) -> Pull:
    (found,) = pulls(made, lines(made))
    return found


def items(made: Job, code: str) -> list[OpenItem]:
    return [i for i in compute(made).items_of("cables") if i.code == code]


def test_the_published_straight_pull() -> None:
    # a conduit pulling manual: 500 ft straight, 0.144 lb/ft, friction 0.5: 36 lbf
    found = one(job([rack(), {"label": "A", "x": "500", "y": "0", "z": "0"}]))
    assert found.tension is not None
    assert found.tension.result.amount / (POUND * G) == pytest.approx(36.0)
    assert (found.metres / FOOT, found.degrees, found.cables) == (pytest.approx(500), 0, 1)


def test_then_one_right_angle_pulled_from_the_better_end() -> None:
    # the same manual: after 36 lbf one bend of 90 degrees at 0.5: 36 e^(0.5 pi / 2) = 78.96 lbf. The bend is at A's end:
    # fed at A the bend multiplies nothing and the straight adds 36: that is the better way, pulled at the rack.
    made = job([rack(), {"label": "B", "what": "bend", "x": "500", "y": "0", "z": "0"},
                {"label": "A", "x": "500", "y": "0.001", "z": "0"}])
    found = one(made)
    assert found.name == "R–B–A"
    assert found.degrees == 90
    assert found.tension is not None
    assert found.tension.result.amount / (POUND * G) == pytest.approx(36.0, abs=0.01)
    assert found.pull_at == "R"
    # a bend in the middle is the same from both ends: 18 e^(pi / 4) + 18
    middle = job([rack(), {"label": "B", "what": "bend", "x": "250", "y": "0", "z": "0"},
                  {"label": "A", "x": "250", "y": "250", "z": "0"}])
    tension = one(middle).tension
    assert tension is not None
    assert tension.result.amount / (POUND * G) == pytest.approx(18 * exp(pi / 4) + 18)


def test_a_pull_point_parts_the_run_and_a_wall_opening_does_not() -> None:
    row = [rack(), {"label": "W", "what": "wall opening", "x": "10", "y": "0", "z": "0"},
           {"label": "T", "what": "pull point", "x": "20", "y": "0", "z": "0"},
           {"label": "A", "x": "50", "y": "0", "z": "0"}]
    made = job(row)
    found = pulls(made, lines(made))
    assert [(p.name, round(p.metres / FOOT, 6)) for p in found] == [("R–W–T", 20), ("T–A", 30)]


def test_typed_bends_win_over_the_points_and_both_are_told_apart() -> None:
    row = [rack(), {"label": "A", "x": "30", "y": "20", "z": "-4"}]
    assumed = one(job(row))
    assert (assumed.degrees, assumed.assumed) == (180, True)  # across, up, down: two corners
    typed = one(job(row, bends="1", other_bends="30"))
    assert (typed.degrees, typed.assumed) == (120, False)
    # 54 ft in all, whatever the number of bends
    assert typed.metres / FOOT == pytest.approx(54)
    longer = one(job(row, bends="1", typed_length="64 ft"))
    assert longer.metres / FOOT == pytest.approx(64)


@pytest.mark.parametrize(("bends", "more", "state"), [("2", "", None), ("2", "10", CHECK), ("4", "", CHECK),
                                                      ("4", "30", MEND)])
def test_360_degrees_are_the_most_and_180_the_policy(bends: str, more: str, state: str | None) -> None:
    # NFPA 70 358.26 (358.24(B) in 2023): not more than 360 degrees between pull points; 180 is the job's policy
    found = items(job([rack(), {"label": "A", "x": "30", "y": "0", "z": "0"}], bends=bends, other_bends=more), "pull-bends")
    assert [i.state for i in found] == ([state] if state else [])
    if state == MEND:
        assert found[0].amount == "390 deg of 360 deg"


def test_a_long_pull_asks_for_a_pull_point() -> None:
    made = job([rack(), {"label": "A", "x": "101", "y": "0", "z": "0"}])
    assert items(made, "pull-long")[0].amount == "101' of 100'"
    assert not items(set_fields(made, "settings", "job", {"pull_length": "150"}), "pull-long")


def test_what_the_cables_bear() -> None:
    # four pairs: 110 N each by the cabling standards; 22 AWG copper 642.4 circular mils x 0.008 lbf x 2 conductors
    data = CableType(id="d", what="data", awg=23)
    assert cable_bears(data) == 110
    pair = cable_bears(CableType(id="p", what="microphone", awg=22))
    assert pair == pytest.approx(642.4 * 0.008 * 2 * POUND * G, rel=2e-3)
    assert cable_bears(CableType(id="q", what="microphone", awg=22, pull_limit="25 lbf")) == pytest.approx(25 * POUND * G)
    assert cable_bears(CableType(id="r", what="microphone")) is None


def test_too_much_tension_is_an_item_and_an_unknown_mass_is_named() -> None:
    # one 23 AWG four-pair cable of 0.144 lb/ft over 400 ft: 28.8 lbf = 128 N, more than 110 N
    made = job([rack(), {"label": "A", "x": "400", "y": "0", "z": "0"}], kind="data")
    (item,) = items(made, "pull-tension")
    assert item.state == MEND
    assert item.workings[0].result.amount == pytest.approx(28.8 * POUND * G)
    bare = set_fields(made, "cabletype", made.all(CableType)[0].id, {"mass": ""})
    assert (one(bare).tension, one(bare).missing) == (None, "mass of c")


@pytest.mark.parametrize("way", ["trunking", "free path", "cable tray", "fished through"])
def test_what_is_laid_is_not_pulled(way: str) -> None:
    made = job([rack(), {"label": "A", "x": "400", "y": "0", "z": "0"}], way=way, size="50 x 50 mm")
    assert pulls(made, lines(made)) == []


def test_a_rise_costs_its_weight_and_the_fall_gives_it_back() -> None:
    # 10 ft up, alone: fed below 0.144 x 10 = 1.44 lbf; fed above the cable runs down by itself
    made = job([rack(), {"label": "A", "x": "0", "y": "0", "z": "10"}])
    found = one(made)
    assert found.tension is not None
    assert found.tension.result.amount == 0
    assert found.pull_at == "R"
    assert any("hold it back" in n for n in found.tension.notes)
    assert made.all(Segment)[0].bends == 0


def test_the_length_of_a_pull_raceway_by_raceway_by_hand() -> None:
    """10 ft to a wall opening and 32 ft behind it, 12 of them up: 42 ft in one pull, 12.8016 m."""
    made = job([rack(), {"label": "W", "what": "wall opening", "x": "10", "y": "0", "z": "0"},
                {"label": "A", "x": "30", "y": "0", "z": "12"}])
    found = one(made)
    feet, metres = found.length_working("ft-in"), found.length_working("m")
    assert [v.name for v in feet.inputs] == ["R-W", "W-A"]
    assert [v.amount for v in feet.inputs] == pytest.approx([10, 32])
    assert (feet.result.amount, feet.result.unit) == (pytest.approx(42), "ft")
    assert [v.amount for v in metres.inputs] == pytest.approx([3.048, 9.7536])
    assert (metres.result.amount, metres.result.unit) == (pytest.approx(12.8016), "m")
