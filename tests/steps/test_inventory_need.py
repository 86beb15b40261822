"""The need of each kind, the most that is on at the same time: by hand, and by a search over all sets of events."""

import random
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.open_items import CHECK, TO_DO
from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.inventory import KINDS, Event, Point
from stagefloor.job.model import Job
from stagefloor.steps.inventory import Shares, event_totals, open_items, peaks, shares, together

DEMO = Path(__file__).resolve().parents[2] / "demo_projects" / "quillhaven_playhouse" / "job.json"


def stage(events: dict[str, str], points: list[tuple[str, int]]) -> Job:
    """Events (name -> the ones it runs together with) and points (events, microphones)."""
    job, _ = add(Job(), "event", [{"label": e} for e in events])
    for e in job.all(Event):
        job = set_fields(job, "event", e.id, {"together": events[e.label]})
    return add(job, "point", [{"label": f"P{i}", "events": use, "microphone": str(n)}
                              for i, (use, n) in enumerate(points)])[0]


def test_events_that_never_run_together_are_not_added() -> None:
    # musical 4 + 2 = 6, lecture 5, dance 1: the most at one time is 6, not 4 + 2 + 5 + 1 = 12
    job = stage({"Musical": "", "Lecture": "", "Dance": ""},
                [("Musical", 4), ("Musical", 2), ("Lecture", 5), ("Dance", 1)])
    found = peaks(job)["microphone"]
    assert (found.count, found.plain_sum) == (6, 12)
    assert [job.get(Event, e).label for e in found.drivers] == ["Musical"]
    assert list(peaks(job)) == ["microphone"]


def test_events_that_run_together_are_added_and_a_shared_point_counts_once() -> None:
    # bar 3 and foyer talk 2 run together and share a point of 4: 3 + 2 + 4 = 9; play alone 8
    job = stage({"Bar": "Talk", "Talk": "", "Play": ""}, [("Bar", 3), ("Talk", 2), ("Bar, Talk", 4), ("Play", 8)])
    found = peaks(job)["microphone"]
    assert (found.count, found.plain_sum) == (9, 17)
    assert [job.get(Event, e).label for e in found.drivers] == ["Bar", "Talk"]


def test_three_in_pairs_are_not_three_at_once() -> None:
    # A with B and B with C, never A with C: A + B = 5 + 1, B + C = 1 + 5, never 11
    job = stage({"A": "B", "B": "C", "C": ""}, [("A", 5), ("B", 1), ("C", 5)])
    assert peaks(job)["microphone"].count == 6
    assert [tuple(job.get(Event, e).label for e in g) for g in together(job)] == [("A", "B"), ("B", "C")]


def test_a_point_without_events_is_used_in_all_and_a_job_without_events_counts_all() -> None:
    assert peaks(stage({"A": "", "B": ""}, [("A", 5), ("B", 3), ("", 2)]))["microphone"].count == 7  # 5 + 2
    assert peaks(stage({}, [("", 5), ("", 3)]))["microphone"].count == 8
    assert peaks(Job()) == {}


def test_against_all_sets_of_events() -> None:
    rng = random.Random(11)
    for _ in range(60):
        names = [f"E{i}" for i in range(rng.randrange(1, 7))]
        pairs = {frozenset(p) for p in combinations(names, 2) if rng.random() < 0.4}
        events = {n: ", ".join(m for m in names if frozenset((n, m)) in pairs and rng.random() < 0.8) for n in names}
        said = {frozenset((n, m)) for n, others in events.items() for m in others.split(", ") if m}
        points = [(", ".join(n for n in names if rng.random() < 0.4), rng.randrange(5)) for _ in range(8)]
        # every set of events in which each two are said to run together, by sheer enumeration
        best = 0
        for size in range(1, len(names) + 1):
            for chosen in combinations(names, size):
                if all(frozenset(p) in said for p in combinations(chosen, 2)):
                    best = max(best, sum(n for use, n in points if not use or set(use.split(", ")) & set(chosen)))
        found = peaks(stage(events, points))
        assert (found["microphone"].count if found else 0) == best


def test_the_demo_by_hand() -> None:
    job = store.read(DEMO).job
    # microphones, musical: A02 4, A05 6, A06 8, A07 8, A08 1, A09 2, A10 2, A11 2 = 33
    # data, musical: A02 1, A05 2, A06 1, A07 1, A08 3, A09 4, A10 1, A11 1 = 14
    # mains, musical: A03 1, A04 1, A05 2, A06 2, A07 2, A08 2, A09 2, A10 1, A11 1, A13 1, A14 1 = 16
    found = peaks(job)
    assert {k: found[k].count for k in ("microphone", "data", "mains")} == {"microphone": 33, "data": 14, "mains": 16}
    assert [job.get(Event, e).label for e in found["microphone"].drivers] == ["Musical"]
    # all points: 2+4+6+8+8+1+2+2+2+6 = 41 microphones
    assert found["microphone"].plain_sum == 41
    film = next(e.id for e in job.all(Event) if e.label == "Film night")
    # film night: A01 (2 microphone, 1 line, 1 video, 2 data, 1 mains)
    # and A15 (1 line, 1 loudspeaker, 2 video, 2 data, 1 mains)
    assert {k: n for k, n in event_totals(job)[film].items() if n} == {
        "microphone": 2, "line": 2, "loudspeaker": 1, "video": 3, "data": 4, "mains": 2}


def test_points_that_can_share() -> None:
    job = stage({"A": "B", "B": "", "C": ""}, [("A", 1), ("B", 1), ("C", 1), ("", 1)])
    found = shares(job)
    assert [(a.label, b.label) for a, b in found.first] == [("P0", "P2"), ("P1", "P2")] and found.pairs == 2
    assert shares(job, most=1).pairs == 2 and len(shares(job, most=1).first) == 1


def test_points_of_a_job_without_events_share_nothing() -> None:
    assert shares(stage({}, [("", 1), ("", 1)])) == Shares(0, ())


@given(st.data())
def test_pairs_that_can_share_are_those_a_look_at_every_pair_finds(data: st.DataObject) -> None:
    names = ["A", "B", "C", "D"]
    events = {n: data.draw(st.sampled_from(["", *names])) for n in names}
    used = data.draw(st.lists(st.lists(st.sampled_from(names), unique=True, max_size=3), max_size=8))
    job = stage(events, [(", ".join(u), 1) for u in used])
    # two points meet if some event of the one and some event of the other are the same or run together
    meets = {(e.id, o) for e in job.all(Event) for o in (e.id, *e.together)}
    meets |= {(b, a) for a, b in meets}
    every = [e.id for e in job.all(Event)]
    apart = [(a, b) for a, b in combinations(job.all(Point), 2)
             if not any((x, y) in meets for x in a.events or every for y in b.events or every)]
    found = shares(job, most=5)
    assert found.pairs == len(apart) and list(found.first) == apart[:5]


def test_the_working_names_the_driver_and_both_sums() -> None:
    job = stage({"Musical": "", "Talk": ""}, [("Musical", 4), ("Talk", 5)])
    working = peaks(job)["microphone"].working({e.id: e.label for e in job.all(Event)}, "the stage")
    assert working.result.amount == 5
    assert [v.amount for v in working.inputs] == [5, 9]
    assert "Talk" in working.notes[0]
    assert working.basis


def test_open_items_of_the_inventory() -> None:
    job = stage({"A": "", "Unused": ""}, [("A", 2), ("A", 0)])
    items = {(i.code, i.subject): i for i in open_items(job)}
    assert items["point-empty", "Point P1"].state == TO_DO
    assert items["event-unused", "Event Unused"].state == CHECK
    assert items["point-no-place", "Point P0"].question
    job = set_fields(job, "settings", "job", {"streaming_needs_microphone": "yes"})
    job, _ = add(job, "point", [{"label": "Cam", "what": "Camera, balcony", "video": "1", "x": "1", "y": "1"}])
    assert ("camera-without-microphone", "Point Cam") in {(i.code, i.subject) for i in open_items(job)}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_counted_alike(kind: str) -> None:
    job, _ = add(Job(), "point", [{"label": "P", kind: "3"}, {"label": "Q", kind: "2"}])
    assert {k: p.count for k, p in peaks(job).items()} == {kind: 5}
    assert {k: p.count for k, p in peaks(job, [job.all(Point)[0]]).items()} == {kind: 3}
