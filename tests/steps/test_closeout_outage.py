"""A box, a line or a raceway out of service: small stages worked by hand, and the greatest flow by another library."""

import random

import pytest
from ortools.sat.python import cp_model

from stagefloor.core.problems import Problem
from stagefloor.entry.after import told_outage
from stagefloor.job.boxes import Opening
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import Event
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import closeout
from stagefloor.steps.closeout.outage import PARTLY, PATCHED, RUNS


def stage(points: list[tuple[float, int, str]], boxes: list[tuple[float, int, list[int]]], reach: str = "2 m",
          events: tuple[str, ...] = ("day", "night")) -> Job:
    """Points (x, microphones, event numbers as text) and boxes (x, openings, points that they serve) on one line y = 0."""
    job, known = add(Job(), "event", [{"label": e} for e in events])
    job = set_fields(job, "settings", "job", {"reach": reach, "units": "m"})
    job, ids = add(job, "point", [{"label": f"P{i}", "x": f"{x} m", "y": "0 m", "microphone": n,
                                   "events": [known[int(e)] for e in when]} for i, (x, n, when) in enumerate(points)])
    for number, (x, openings, serves) in enumerate(boxes):
        job, (box,) = add(job, "box", [{"label": f"B{number}", "x": f"{x} m", "y": "0 m",
                                        "points": [ids[s] for s in serves]}])
        for slot in range(openings):
            job, (opening,) = add(job, "opening", [{"box": box, "what": "microphone", "bay": 1, "slot": slot + 1}])
            job, _ = add(job, "circuit", [{"label": f"B{number}-M{slot + 1}", "openings": [opening]}])
    return job


def out(job: Job, kind: str, label: str) -> closeout.Outage:
    record = next(r for r in job.tables[kind].values() if r.name == label)
    return closeout.out_of_service(job, compute(job).lines, kind, record.id)


def test_a_box_out_is_patched_to_a_neighbour_that_is_free_in_that_event() -> None:
    # P0 needs 2 by day; B1 has 2, of which P1 uses 2 at night only
    job = stage([(0, 2, "0"), (1.5, 2, "1")], [(0, 2, [0]), (1.5, 2, [1])])
    found = out(job, "box", "B0")
    day, night = found.events
    assert found.lines == ("B0-M1", "B0-M2")
    assert (day.state, night.state) == (PATCHED, RUNS)
    (patch,) = day.patches
    assert (patch.point, patch.count, patch.box, patch.metres) == ("P0", 2, "Floor box B1", 1.5)


def test_what_is_out_of_reach_or_taken_is_lost() -> None:
    job = stage([(0, 2, "0"), (1.5, 2, "0")], [(0, 2, [0]), (1.5, 3, [1])])
    day, _ = out(job, "box", "B0").events
    assert day.state == PARTLY and day.lost == (("P0", "microphone", 1),)  # one of three is free
    assert [p.count for p in day.patches] == [1]
    far, _ = out(set_fields(job, "settings", "job", {"reach": "1 m"}), "box", "B0").events
    assert far.lost == (("P0", "microphone", 2),) and far.patches == ()


def test_one_line_out_uses_the_spare_opening_of_its_own_box() -> None:
    job = stage([(0, 2, "0")], [(0, 3, [0])])
    day, night = out(job, "circuit", "B0-M2").events
    assert (day.state, night.state, day.patches) == (RUNS, RUNS, ())
    tight = stage([(0, 2, "0")], [(0, 2, [0])])
    assert out(tight, "circuit", "B0-M2").events[0].lost == (("P0", "microphone", 1),)


def test_a_chain_of_patches_is_found() -> None:
    # B0 is out. P0 reaches B1 only; P1, at home in B1, can move on to B2
    job = stage([(0, 1, "0"), (1.8, 1, "0")], [(0, 1, [0]), (1.5, 1, [1]), (3.2, 1, [])])
    day, _ = out(job, "box", "B0").events
    assert day.state == PATCHED
    assert {(p.point, p.box) for p in day.patches} == {("P0", "Floor box B1"), ("P1", "Floor box B2")}


def at_once(job: Job, *pairs: tuple[str, str]) -> Job:
    """The job in which these events run at the same time."""
    for one, other in pairs:
        a, b = (next(e for e in job.all(Event) if e.label == x) for x in (one, other))
        job = set_fields(job, "event", a.id, {"together": [*a.together, b.id]})
    return job


def test_two_events_at_once_do_not_share_an_opening() -> None:
    # P0 by day and P1 at night both lose B0; B1 has two openings for their three connections
    job = stage([(0, 2, "0"), (0.5, 1, "1")], [(0, 3, [0, 1]), (1.5, 2, [])])
    day, night = out(job, "box", "B0").events
    assert (day.state, night.state) == (PATCHED, PATCHED)  # one after the other both have room
    day, night = out(at_once(job, ("day", "night")), "box", "B0").events
    patched = sum(p.count for e in (day, night) for p in e.patches)
    lost = sum(n for e in (day, night) for *_, n in e.lost)
    assert (patched, lost) == (2, 1)
    assert {p.point for p in day.patches} <= {"P0"} and {p.point for p in night.patches} <= {"P1"}


def test_an_opening_that_another_event_needs_at_the_same_time_is_not_free() -> None:
    # the stage of the first test: B1 is free by day alone, not while P1 uses it at night
    job = stage([(0, 2, "0"), (1.5, 2, "1")], [(0, 2, [0]), (1.5, 2, [1])])
    day, night = out(at_once(job, ("night", "day")), "box", "B0").events
    assert day.lost == (("P0", "microphone", 2),) and day.patches == ()
    assert (night.state, night.patches, night.lost) == (RUNS, (), ())


def test_a_point_of_two_events_at_once_plugs_in_once() -> None:
    job = stage([(0, 2, "01")], [(0, 2, [0]), (1.5, 2, [])])
    day, night = out(at_once(job, ("day", "night")), "box", "B0").events
    assert day.patches == night.patches and [p.count for p in day.patches] == [2]
    assert day.lost == night.lost == ()


def test_an_event_that_runs_with_one_or_another_is_told_for_each() -> None:
    # by day P0 moves to B1; at night P1 needs B1; the matinee needs nothing there
    job = stage([(0, 2, "0"), (1.5, 2, "1"), (9, 1, "2")], [(0, 2, [0]), (1.5, 2, [1]), (9, 1, [2])],
                events=("day", "night", "matinee"))
    found = out(at_once(job, ("day", "night"), ("day", "matinee")), "box", "B0").events
    assert [(e.event, e.along, e.state) for e in found] == [
        ("day", ("night",), PARTLY), ("day", ("matinee",), PATCHED), ("night", (), RUNS), ("matinee", (), RUNS)]
    assert [e.title for e in found] == ["day (while night runs)", "day (while matinee runs)", "night", "matinee"]


def test_the_step_counts_an_event_once_and_tells_each_of_its_cases() -> None:
    job = stage([(0, 2, "0"), (1.5, 2, "1"), (9, 1, "2")], [(0, 2, [0]), (1.5, 2, [1]), (9, 1, [2])],
                events=("day", "night", "matinee"))
    job = at_once(job, ("day", "night"), ("day", "matinee"))
    box = next(b for b in job.boxes() if b.label == "B0")
    said = told_outage(compute(job), "box", box.id)
    assert "2 of 3 events run as they are." in said and "As they are: night, matinee." in said
    assert "day (while night runs)" in said and "day (while matinee runs)" in said


def patching(points, boxes):
    """A constraint model of what can be patched within 3 m while the first box is out, and its counts by point and box."""
    model = cp_model.CpModel()
    moved = {(p, b): model.new_int_var(0, n, f"{p}-{b}") for p, (x, n, _) in enumerate(points)
             for b, (at, _, serves) in enumerate(boxes) if b and (p in serves or abs(at - x) <= 3 + 1e-9)}
    for p, (_, n, _) in enumerate(points):
        model.add(sum(v for (q, _), v in moved.items() if q == p) <= n)
    for b, (_, room, _) in enumerate(boxes):
        model.add(sum(v for (_, c), v in moved.items() if c == b) <= room)
    return model, moved


@pytest.mark.parametrize("seed", range(8))
def test_no_other_patching_of_events_at_once_serves_more(seed: int) -> None:
    """Against a constraint solver (OR-tools): the greatest number that both events of a set can have between them."""
    chance = random.Random(100 + seed)
    boxes = [(round(chance.uniform(0, 8), 2), chance.randint(1, 4), []) for _ in range(4)]
    points = [(round(chance.uniform(0, 8), 2), chance.randint(1, 3), chance.choice(("0", "1", "01"))) for _ in range(6)]
    for i in range(len(points)):
        chance.choice(boxes)[2].append(i)
    day, night = out(at_once(stage(points, boxes, "3 m"), ("day", "night")), "box", "B0").events
    model, moved = patching(points, boxes)
    model.maximize(sum(moved.values()))
    solver = cp_model.CpSolver()
    assert solver.solve(model) == cp_model.OPTIMAL
    lost = {(point, n) for e in (day, night) for point, _, n in e.lost}  # a point of both events is told in both
    assert sum(n for _, n in lost) == sum(n for _, n, _ in points) - round(solver.objective_value)
    for e, own in ((day, "0"), (night, "1")):
        assert {name for name, *_ in e.lost} | {patch.point for patch in e.patches} <= {
            f"P{i}" for i, (*_, when) in enumerate(points) if own in when}


def test_a_raceway_out_takes_its_lines_and_says_what_another_way_would_cost() -> None:
    from pathlib import Path

    from stagefloor.job import store

    job = store.read(Path(__file__).resolve().parents[2] / "demo_projects" / "ondry_hall").job
    known = compute(job).lines
    # the trunking is a ring: a run on the way of some lines can be gone round
    used = next(s for line in known for s in line.way.segments if line.circuit.label == "B8-L1")
    found = closeout.out_of_service(job, known, "segment", used)
    assert "B8-L1" in found.lines
    assert set(found.lines) == {x.circuit.name for x in known if used in x.way.segments}
    assert all(more >= -1e-9 for _, more in found.other_way)  # the way that is drawn is the shortest


def test_only_known_things_can_be_out() -> None:
    with pytest.raises(Problem):
        closeout.out_of_service(stage([(0, 1, "0")], [(0, 1, [0])]), [], "roof", "x")


@pytest.mark.parametrize("seed", range(12))
def test_no_other_patching_serves_more_or_needs_less_loose_cable(seed: int) -> None:
    """Against a constraint solver (OR-tools) on random stages: as many served, and as little loose cable (in cm)."""
    chance = random.Random(seed)
    boxes = [(round(chance.uniform(0, 8), 2), chance.randint(1, 4), []) for _ in range(4)]
    points = [(round(chance.uniform(0, 8), 2), chance.randint(1, 3), "0") for _ in range(5)]
    for i in range(len(points)):
        chance.choice(boxes)[2].append(i)
    job = stage(points, boxes, "3 m")
    day, _ = out(job, "box", "B0").events
    model, moved = patching(points, boxes)
    cost = {(p, b): 0 if p in boxes[b][2] else 100 + round(abs(boxes[b][0] - points[p][0]) * 100) for p, b in moved}
    model.maximize(sum((100_000 - cost[k]) * v for k, v in moved.items()))
    solver = cp_model.CpSolver()
    assert solver.solve(model) == cp_model.OPTIMAL
    served = sum(solver.value(v) for v in moved.values())
    assert sum(n for *_, n in day.lost) == sum(n for _, n, _ in points) - served
    assert sum(p.count * (100 + round(p.metres * 100)) for p in day.patches) == sum(
        cost[k] * solver.value(v) for k, v in moved.items())


def test_an_opening_that_no_line_serves_is_no_place_to_patch_to() -> None:
    job = stage([(0, 1, "0")], [(0, 1, [0]), (1, 1, [])])
    job = job.without(type(job.circuits()[0]), [c.id for c in job.circuits() if c.label == "B1-M1"])
    assert len(job.all(Opening)) == 2
    assert out(job, "box", "B0").events[0].lost == (("P0", "microphone", 1),)
