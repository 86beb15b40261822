"""Every line of both drawn demos against shortest paths of an independent library, from the file's own text.

The graph is made here from the raw JSON with its own reading of units, and searched by Bellman and Ford's algorithm of
networkx (the tool uses Dijkstra's). Orientation figures: the scenario of each demo, worked by hand there.
"""

import json
from collections import Counter
from pathlib import Path
from typing import Any

import networkx as nx
import pytest

from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import set_fields
from stagefloor.steps.cables import lines
from stagefloor.steps.paths import routes, way

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
METRES = {"ft": 0.3048, "m": 1.0, "mm": 0.001, "in": 0.0254}  # exact, international yard of 1959
CARRIES = {"microphone": "microphone", "line": "line and intercom", "intercom": "line and intercom",
           "loudspeaker": "loudspeaker", "video": "video and data", "data": "video and data"}
MILLIMETRE = 0.001
DRAWN = ("quillhaven_playhouse", "ondry_hall")


def metres(text: str) -> float:
    number, unit = text.split()
    return float(number) * METRES[unit]


def place(row: dict[str, Any]) -> tuple[float, ...]:
    return tuple(metres(row.get(axis, "0 m")) for axis in "xyz")


def apart(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return sum(abs(p - q) for p, q in zip(a, b, strict=True))


def independent(demo: str) -> dict[str, tuple[str, float]]:
    """Circuit id -> (kind, metres), from the text of the job file alone."""
    data = json.loads((DEMOS / demo / "job.json").read_text(encoding="utf-8"))
    records, settings = data["records"], data["settings"]
    slack = metres(settings["slack_box"]) + metres(settings["slack_rack"])
    node = {n["id"]: n for n in records["node"]}
    rack = next(i for i, n in node.items() if n["what"] == "rack")
    box = {b["id"]: b for b in records["box"]}
    box_of = {o["id"]: o["box"] for o in records["opening"]}
    from_rack: dict[str, dict[str, float]] = {}
    for carried in set(CARRIES.values()):
        graph = nx.MultiGraph()
        graph.add_node(rack)
        for s in records["segment"]:
            if s["signal_class"] in ("any", carried) and not s.get("blocked"):
                length = metres(s["typed_length"]) if "typed_length" in s else apart(place(node[s["start"]]),
                                                                                      place(node[s["end"]]))
                graph.add_edge(s["start"], s["end"], weight=length)
        from_rack[carried] = nx.single_source_bellman_ford_path_length(graph, rack)
    found = {}
    for c in records["circuit"]:
        if c["what"] != "mains" and c.get("state") != "retired":
            b = box[box_of[c["openings"][0]]]
            run = from_rack[CARRIES[c["what"]]][b["feed"]]
            found[c["id"]] = (c["what"], run + apart(place(node[b["feed"]]), place(b)) + slack)
    return found


@pytest.mark.parametrize("demo", DRAWN)
def test_every_line_to_the_millimetre(demo: str) -> None:
    expected = independent(demo)
    found = {line.circuit.id: line for line in lines(store.read(DEMOS / demo).job)}
    assert found.keys() == expected.keys()
    for circuit, (_, length) in expected.items():
        assert found[circuit].metres == pytest.approx(length, abs=MILLIMETRE), found[circuit].circuit.label
        assert not found[circuit].way.rough


# Kinds with their totals as the scenario's hand script has them: Manhattan routing, home runs, slack at both ends.
STATED = {
    "quillhaven_playhouse": (0.3048, 97, 37.7, 72.5, 5433, {"microphone": 2294, "line": 1063, "data": 1089, "video": 401,
                                                            "loudspeaker": 384, "intercom": 202}),
    "ondry_hall": (1.0, 72, 11.6, 29.5, 1480, {"microphone": 815, "data": 292, "line": 193, "video": 104, "loudspeaker": 45,
                                               "intercom": 33}),
}


@pytest.mark.parametrize("demo", DRAWN)
def test_totals_are_the_scenarios(demo: str) -> None:
    """No difference but rounding: the tool's whole numbers are the stated ones."""
    unit, number, shortest, longest, total, by_kind = STATED[demo]
    known = lines(store.read(DEMOS / demo).job)
    got: Counter[str] = Counter()
    for line in known:
        got[line.circuit.what] += line.metres / unit  # type: ignore[assignment]
    assert len(known) == number
    assert {k: round(v) for k, v in got.items()} == by_kind
    assert round(sum(got.values())) == total
    each = [line.metres / unit for line in known]
    assert (round(min(each), 1), round(max(each), 1)) == (shortest, longest)


@pytest.mark.parametrize("demo", DRAWN)
def test_the_nearest_node_is_found_as_a_plain_search_finds_it(demo: str) -> None:
    """Boxes without a chosen feed: the sorted search against a look at every node."""
    job = store.read(DEMOS / demo).job
    for x in range(-9, 10):
        for y in range(-4, 9, 2):
            free = set_fields(job, "box", job.boxes()[0].id, {"feed": "", "x": f"{x}.37 m", "y": f"{y}.21 m"})
            box = free.get(Box, job.boxes()[0].id)
            known = routes(free, "microphone")
            here = (box.x.si, box.y.si, box.z.si)  # type: ignore[union-attr]
            best = min(known.feeds, key=lambda n: apart(here, (n.x.si, n.y.si, n.z.si)))  # type: ignore[union-attr]
            assert known.nearest(here) is best
            assert way(free, box, "microphone", known).metres == way(free, box, "microphone").metres
