"""Lengths of ways, against all simple paths enumerated from the raw data of the demos and an independent library."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import networkx as nx
import pytest

from stagefloor.core.units import parse
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Segment
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps.cables import lines
from stagefloor.steps.paths import graph, right_angled, segment_length, way, where_text

FOOT = 0.3048
DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
CLASS_OF = {"microphone": "microphone", "line": "line and intercom", "intercom": "line and intercom",
            "loudspeaker": "loudspeaker", "video": "video and data", "data": "video and data", "control": "control"}
MILLIMETRE = 0.001


def feet(text: str) -> float:
    """Feet of a text that has nothing but feet, such as -9.5 ft."""
    number, unit = text.split()
    assert unit == "ft"
    return float(number)


def place(row: dict[str, Any]) -> tuple[float, float, float]:
    return feet(row["x"]), feet(row["y"]), feet(row.get("z", "0 ft"))


def apart(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    return sum(abs(p - q) for p, q in zip(a, b, strict=True))


def simple_paths(edges: dict[str, list[tuple[str, float]]], at: str, goal: str, seen: frozenset[str] = frozenset(),
                 so_far: float = 0.0) -> Iterator[float]:
    """Length of every path that meets no node twice."""
    if at == goal:
        yield so_far
        return
    for other, length in edges.get(at, []):
        if other not in seen:
            yield from simple_paths(edges, other, goal, seen | {at}, so_far + length)


def by_hand(records: dict[str, Any], settings: dict[str, Any], box: dict[str, Any], signal_class: str) -> float:
    """Feet from a box of the raw file to the rack, over all simple paths from its feed, with slack at both ends."""
    slack = feet(settings.get("slack_box", "3 ft")) + feet(settings.get("slack_rack", "10 ft"))
    nodes = {n["id"]: n for n in records.get("node", [])}
    edges: dict[str, list[tuple[str, float]]] = {}
    for s in records.get("segment", []):
        if s["signal_class"] in ("any", signal_class):
            length = apart(place(nodes[s["start"]]), place(nodes[s["end"]]))
            edges.setdefault(s["start"], []).append((s["end"], length))
            edges.setdefault(s["end"], []).append((s["start"], length))
    rack = next((i for i, n in nodes.items() if n["what"] == "rack"), None)
    if rack is None:
        return feet(settings["rack_distance"]) + slack
    best = min(simple_paths(edges, box["feed"], rack))
    return best + apart(place(nodes[box["feed"]]), place(box)) + slack


def test_every_line_of_the_large_demo_to_the_millimetre() -> None:
    path = DEMOS / "quillhaven_playhouse" / "job.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    records = data["records"]
    boxes = {b["id"]: b for b in records["box"]}
    box_of = {o["id"]: o["box"] for o in records["opening"]}
    expected = {c["id"]: by_hand(records, data["settings"], boxes[box_of[c["openings"][0]]], CLASS_OF[c["what"]]) * FOOT
                for c in records["circuit"] if c["what"] != "mains"}
    found = {line.circuit.id: line.metres for line in lines(store.read(path).job)}
    assert found.keys() == expected.keys()
    assert len(found) == 97
    for circuit, metres in expected.items():
        assert found[circuit] == pytest.approx(metres, abs=MILLIMETRE)
    # FB-A2, by hand, feet: RK-W1 4 + 0 + 0.5; W1-T1 12 + 2; T1-T2 14; T2 to the box 0.17 + 7.5 + 1.5; slack 13
    a2 = next(c["id"] for c in records["circuit"] if c["label"] == "A2-M1")
    assert found[a2] == pytest.approx((4.5 + 14 + 14 + 9.17 + 13) * FOOT, abs=MILLIMETRE)


def test_the_small_demo_takes_the_way_as_entered() -> None:
    # 42 ft as entered + 3 ft at the box + 10 ft at the rack
    found = lines(store.read(DEMOS / "one_box" / "job.json").job)
    assert [line.metres for line in found] == pytest.approx([55 * FOOT] * 3, abs=MILLIMETRE)
    assert all(line.way.rough for line in found)


@pytest.mark.parametrize("signal_class", ["microphone", "line and intercom", "loudspeaker", "video and data"])
def test_against_floyd_and_warshall(signal_class: str) -> None:
    job = store.read(DEMOS / "quillhaven_playhouse" / "job.json").job
    raw = json.loads((DEMOS / "quillhaven_playhouse" / "job.json").read_text(encoding="utf-8"))["records"]
    nodes = {n["id"]: place(n) for n in raw["node"]}
    own = nx.Graph()
    own.add_weighted_edges_from((s["start"], s["end"], apart(nodes[s["start"]], nodes[s["end"]])) for s in raw["segment"]
                                if s["signal_class"] in ("any", signal_class))
    from_all = nx.floyd_warshall(own)
    rack = next(n["id"] for n in raw["node"] if n["what"] == "rack")
    for b in raw["box"]:
        if b["feed"] not in own:
            continue
        expected = (from_all[rack][b["feed"]] + apart(nodes[b["feed"]], place(b)) + 13) * FOOT
        assert way(job, job.get(Box, b["id"]), signal_class).metres == pytest.approx(expected, abs=MILLIMETRE)


def loop(**box: str) -> Job:
    """A rack at 0, a box at 40 ft; a short way by S (10 + 30 ft) and a long one by L (10 + 20 + 30 ft).

    Node places: rack 0,0; S 10,0; L 0,10; far 40,0 with the box on it. S-far 30 ft, rack-L 10, L-far 40 + 10.
    """
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0", "slack_box": "0", "slack_rack": "0"})
    job, _ = add(job, "node", [{"label": "R", "what": "rack", "x": "0", "y": "0"}, {"label": "S", "x": "10", "y": "0"},
                                 {"label": "L", "x": "0", "y": "10"}, {"label": "F", "x": "40", "y": "0"}])
    job, _ = add(job, "segment", [{"label": f"{a}-{b}", "start": a, "end": b}
                                  for a, b in (("R", "S"), ("S", "F"), ("R", "L"), ("L", "F"))])
    return add(job, "box", [{"label": "FB-1", "x": "40", "y": "0", **box}])[0]


def in_feet(job: Job, signal_class: str = "microphone") -> float:
    return way(job, job.all(Box)[0], signal_class).metres / FOOT


def segment(job: Job, label: str) -> Segment:
    return next(s for s in job.all(Segment) if s.label == label)


def test_the_shortest_way_slack_and_height() -> None:
    assert in_feet(loop()) == pytest.approx(40)
    job = set_fields(loop(), "settings", "job", {"slack_box": "3", "slack_rack": "10"})
    assert in_feet(job) == pytest.approx(53)
    assert in_feet(loop(z="-4")) == pytest.approx(44)  # the drop to the box counts
    assert in_feet(loop(x="38", y="5")) == pytest.approx(40 + 2 + 5)


def test_a_typed_length_wins() -> None:
    job = set_fields(loop(), "segment", segment(loop(), "S-F").id, {"typed_length": "33"})
    assert in_feet(job) == pytest.approx(43)
    assert segment_length(job, segment(job, "S-F")) == pytest.approx(33 * FOOT)
    job = set_fields(job, "segment", segment(job, "S-F").id, {"typed_length": "70"})
    assert in_feet(job) == pytest.approx(60)  # now the other way is shorter: 10 + 50


def test_a_blocked_raceway_sends_the_way_round_and_two_are_said() -> None:
    job = set_fields(loop(), "segment", segment(loop(), "S-F").id, {"blocked": "yes"})
    found = way(job, job.all(Box)[0], "microphone")
    assert (found.metres / FOOT, found.rough, found.problem) == (pytest.approx(60), False, "")
    job = set_fields(job, "segment", segment(job, "L-F").id, {"blocked": "yes"})
    job = set_fields(job, "box", job.all(Box)[0].id, {"feed": "F"})
    found = way(job, job.all(Box)[0], "microphone")
    assert found.rough
    assert "no raceway for microphone leads from FB-1 to the rack" in found.problem
    # the typical path then: right-angled 40 ft plus 15 %
    assert found.metres / FOOT == pytest.approx(46)


def test_a_raceway_of_another_class_is_not_used() -> None:
    job = set_fields(loop(), "segment", segment(loop(), "S-F").id, {"signal_class": "loudspeaker"})
    assert in_feet(job, "loudspeaker") == pytest.approx(40)
    assert in_feet(job, "microphone") == pytest.approx(60)


def test_of_two_raceways_side_by_side_the_shorter_is_taken() -> None:
    job, _ = add(loop(), "segment", [{"label": "S-F short", "start": "S", "end": "F", "typed_length": "25"},
                                     {"label": "S-F long", "start": "S", "end": "F", "typed_length": "90"}])
    assert in_feet(job) == pytest.approx(35)
    assert graph(job, "microphone").number_of_edges() == 4


def test_of_two_racks_the_nearer_one_is_used() -> None:
    job, _ = add(loop(), "node", [{"label": "R2", "what": "rack", "x": "45", "y": "0"}])
    job, _ = add(job, "segment", [{"label": "R2-F", "start": "R2", "end": "F"}])
    assert in_feet(job) == pytest.approx(5)


def test_without_raceways_the_path_is_rough_and_without_a_rack_it_is_said() -> None:
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0", "rack_z": "-2"})
    job, (box,) = add(job, "box", [{"label": "FB-1", "x": "20", "y": "-8"}])
    found = way(job, job.get(Box, box), "data")
    # (20 + 8 + 2) * 1.15 + 3 + 10 ft
    assert (found.metres / FOOT, found.rough, found.problem) == (pytest.approx(47.5), True, "")
    assert "rough" in found.working("1-D1", "ft-in").notes[0]
    nowhere = way(set_fields(job, "settings", "job", {"rack_x": ""}), job.get(Box, box), "data")
    assert (nowhere.metres, nowhere.rough) == (0, True)
    assert "neither the way to the rack nor its place is known for FB-1" in nowhere.problem


def test_the_working_adds_up_to_the_length() -> None:
    job = loop(z="-4")
    found = way(job, job.all(Box)[0], "microphone").working("1-M1", "ft-in")
    assert sum(v.amount for v in found.inputs) == pytest.approx(found.result.amount)
    assert [round(v.amount, 6) for v in found.inputs] == [10, 30, 4, 0, 0]


def test_right_angled_distance_and_stage_words() -> None:
    assert right_angled((0, 0, 0), (-3, 4, -1)) == 8
    nine_six = parse("9' 6\"", "length").si
    assert where_text(-nine_six, -3 * FOOT, "ft-in") == "9' 6\" stage right, 3' downstage"
    assert where_text(0, 0, "m") == "on centre, at the origin line"
    assert where_text(1.5, 2.25, "m") == "1.5 m stage left, 2.25 m upstage"


def test_the_way_against_the_straight_distance_by_hand() -> None:
    """Box at (36, 12, -9) ft: straight to the rack 39 ft (36, 12 and 9 squared are 39 squared). Way 10 + 30 along the
    raceways and 4 + 12 + 9 to the box: 65 ft, with 3 + 10 ft kept 78 ft; 65 / 39 = 1.667."""
    job = set_fields(loop(x="36", y="12", z="-9"), "settings", "job", {"slack_box": "3", "slack_rack": "10"})
    found = way(job, job.all(Box)[0], "microphone")
    assert found.ratio == pytest.approx(5 / 3)
    for display, unit, foot in (("ft-in", "ft", 1.0), ("m", "m", FOOT)):
        working = found.detour("1-M1", display)
        assert working is not None
        assert [(v.symbol, v.unit) for v in working.inputs] == [("L", unit), ("s", unit), ("d", unit)]
        assert [v.amount for v in working.inputs] == pytest.approx([78 * foot, 13 * foot, 39 * foot])
        assert (working.result.amount, working.result.unit) == (pytest.approx(65 / 39), "")
        without, most = working.also
        assert (without.amount, without.unit) == (pytest.approx(65 * foot), unit)
        assert most.amount == pytest.approx(1.41421, abs=1e-5)  # a square's diagonal against two of its sides, inverted
