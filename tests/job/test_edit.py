"""Adding, copying, ordering and deleting records, with what lives and dies with them."""

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Circuit, RestingCable
from stagefloor.job.edit import add, delete, duplicate, find_named, reorder, set_fields
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job, references


def ids(job: Job, kind: str) -> list[str]:
    return list(job.tables.get(kind, {}))


def dangling(job: Job) -> list[str]:
    return [i for t in job.tables.values() for r in t.values() for _, k, i in references(r)
            if i not in job.tables.get(k, {})]


def test_new_records_stand_at_the_end_or_behind_the_one_named() -> None:
    job, _ = add(Job(), "event", [{"label": "a"}, {"label": "b"}])
    job, _ = add(job, "event", [{"label": "c"}], after="event-1")
    job, _ = add(job, "event", [{"label": "d"}])
    assert [e.label for e in job.all(Event)] == ["a", "c", "b", "d"]
    assert ids(job, "event") == ["event-1", "event-3", "event-2", "event-4"]


def test_an_edit_keeps_the_order_and_the_rest_of_the_record() -> None:
    job, _ = add(Job(), "point", [{"label": "a", "microphone": "2"}, {"label": "b"}])
    job = set_fields(job, "point", "point-1", {"label": "z"})
    assert [(p.label, p.microphone) for p in job.all(Point)] == [("z", 2), ("b", 0)]
    assert ids(reorder(job, "point", ["point-2", "point-1", "point-9", "point-2"]), "point") == ["point-2", "point-1"]
    assert ids(reorder(job, "point", ["point-2"]), "point") == ["point-2", "point-1"]


def test_the_job_before_is_untouched(small: Job) -> None:
    before = repr(small)
    set_fields(small, "point", small.all(Point)[0].id, {"label": "other"})
    delete(small, "box", [small.all(Box)[0].id])
    assert repr(small) == before


def test_a_copy_stands_behind_its_original_with_a_name_that_says_so(small: Job) -> None:
    old = small.all(Point)[0]
    job, (new_id,) = duplicate(small, "point", [old.id])
    copy = job.get(Point, new_id)
    assert [p.label for p in job.all(Point)] == ["A01", "A01 copy"]
    assert (copy.x, copy.events, copy.microphone) == (old.x, old.events, old.microphone)
    assert new_id not in ids(small, "point")


def test_ids_are_never_used_again_after_a_delete() -> None:
    job, (first,) = add(Job(), "event", [{"label": "a"}])
    job = delete(job, "event", [first])
    job, (second,) = add(job, "event", [{"label": "b"}])
    assert (first, second) == ("event-1", "event-2")


def test_a_record_in_use_is_not_deleted_and_the_sentence_names_the_user(small: Job) -> None:
    play = small.all(Event)[0]
    with pytest.raises(Problem, match="Play is still used by connection point A01"):
        delete(small, "event", [play.id])
    job = delete(small, "event", [small.all(Event)[1].id])
    assert [e.label for e in job.all(Event)] == ["Play"]


def test_a_point_leaves_the_box_that_serves_it(small: Job) -> None:
    point = small.all(Point)[0].id
    assert [b.points for b in small.boxes()] == [(point,)]
    job = delete(small, "point", [point])
    assert ids(job, "point") == []
    assert [(b.label, b.points) for b in job.boxes()] == [("FB-1", ())]


def test_events_that_name_each_other_can_go_together() -> None:
    job, (a, b) = add(Job(), "event", [{"label": "a"}, {"label": "b"}])
    job = set_fields(job, "event", a, {"together": "b"})
    with pytest.raises(Problem, match="b is still used by event a"):
        delete(job, "event", [b])
    assert ids(delete(job, "event", [a, b]), "event") == []


def test_a_box_takes_openings_lines_cables_readings_and_as_built_entries_along(small: Job) -> None:
    job = delete(small, "box", [small.all(Box)[0].id])
    left = {k: len(t) for k, t in job.tables.items() if t}
    assert left == {"event": 2, "point": 1}
    assert dangling(job) == []


def test_a_line_with_two_openings_lives_on_with_one(small: Job) -> None:
    box = small.all(Box)[0].id
    job, (second,) = add(small, "opening", [{"box": box, "bay": "1", "slot": "2"}])
    circuit = job.all(Circuit)[0]
    job = set_fields(job, "circuit", circuit.id, {"openings": [*circuit.openings, second]})
    job = delete(job, "opening", [circuit.openings[0]])
    assert job.all(Circuit)[0].openings == (second,)
    assert len(job.tables["cable"]) == 1
    job = delete(delete(job, "reading", ids(job, "reading")), "opening", [second])
    assert not job.tables["circuit"]
    assert not job.tables["cable"]


@pytest.mark.parametrize("kind", ["opening", "circuit"])
def test_a_line_with_readings_is_not_deleted_and_the_sentence_says_what_to_do(small: Job, kind: str) -> None:
    before = small.tables
    with pytest.raises(Problem, match="1-M1 is not deleted: line 1-M1 has 1 test reading.*Delete the readings.*Closeout"):
        delete(small, kind, ids(small, kind))
    assert small.tables is before
    freed = delete(delete(small, "reading", ids(small, "reading")), kind, ids(small, kind))
    assert ids(freed, "circuit") == ids(freed, "cable") == []


@pytest.mark.parametrize("state", ["roughed in", "built"])
def test_a_box_that_is_there_is_not_deleted_with_its_readings(small: Job, state: str) -> None:
    there = set_fields(small, "box", "box-4", {"state": state})
    with pytest.raises(Problem, match="FB-1 is not deleted: line 1-M1 has 1 test reading.*retire it"):
        delete(there, "box", ["box-4"])
    freed = delete(delete(there, "reading", ids(there, "reading")), "box", ["box-4"])
    assert ids(freed, "box") == ids(freed, "opening") == []


def test_a_point_that_goes_leaves_a_retired_box_too(small: Job) -> None:
    box, point = small.all(Box)[0], small.all(Point)[0]
    job = set_fields(small, "box", box.id, {"state": "retired"})
    assert dangling(delete(job, "point", [point.id])) == []


def test_a_retired_record_is_not_meant_by_its_name(small: Job) -> None:
    box = small.all(Box)[0]
    job = set_fields(small, "box", box.id, {"state": "retired"})
    with pytest.raises(Problem, match="The floor box 'fb-1' is retired"):
        find_named(job, "box", "fb-1")
    assert find_named(job, "box", box.id) == box.id  # what is stored is its id
    job, (new,) = add(job, "box", [{"label": "FB-1"}])
    assert find_named(job, "box", "fb-1") == new


def test_what_rests_goes_with_its_line_its_type_or_its_cable(small: Job) -> None:
    circuit, cable = ids(small, "circuit")[0], ids(small, "cable")[0]
    job, (kind,) = add(small, "cabletype", [{"label": "thin"}])
    job = job.with_records([RestingCable(id=cable, circuits=(circuit,), type=kind)])
    assert dangling(delete(job, "cabletype", [kind])) == []
    assert job.all(RestingCable)[0].type == kind
    assert not delete(job, "cable", [cable]).all(RestingCable)
    no_readings = delete(job, "reading", ids(job, "reading"))
    assert not delete(no_readings, "circuit", [circuit]).all(RestingCable)


def test_a_circuit_leaves_a_shared_cable_to_the_others(small: Job) -> None:
    first = small.all(Circuit)[0]
    job, (second,) = add(small, "circuit", [{"label": "1-M2"}])
    cable = next(iter(job.tables["cable"]))
    job = set_fields(job, "cable", cable, {"circuits": f"{first.id}; {second}"})
    job = delete(delete(job, "reading", ids(job, "reading")), "circuit", [first.id])
    assert job.tables["cable"][cable].circuits == (second,)  # type: ignore[attr-defined]
    assert dangling(job) == []


def test_a_box_named_by_a_risk_stays(small: Job) -> None:
    job, _ = add(small, "risk", [{"label": "Rot", "box": "FB-1"}])
    with pytest.raises(Problem, match="FB-1 is still used by risk Rot"):
        delete(job, "box", [job.all(Box)[0].id])


def test_what_is_gone_is_said() -> None:
    with pytest.raises(Problem, match="no event with the id 'event-9'"):
        set_fields(Job(), "event", "event-9", {"label": "a"})
    with pytest.raises(Problem, match="no event with the id 'event-9'"):
        delete(Job(), "event", ["event-9"])


def test_a_copy_of_a_box_serves_nothing_and_is_not_built_yet(small: Job) -> None:
    box = small.all(Box)[0]
    built = set_fields(small, "box", box.id, {"state": "built"})
    job, (copy,) = duplicate(built, "box", [box.id])
    assert job.get(Box, box.id).points == box.points != ()
    assert (job.get(Box, copy).points, job.get(Box, copy).state) == ((), "planned")
    assert job.get(Box, copy).x == box.x
