"""Mains as a request: figures against published rules and tables, worked in the comments; items always ask."""

import pytest

from stagefloor.core.open_items import CHECK, TO_DO, OpenItem
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.edit import add, delete, set_fields
from stagefloor.job.mains import BranchCircuit, MainsLoad
from stagefloor.job.model import Job
from stagefloor.steps.mains import branches, open_items

FOOT = 0.3048


def stage(outlets: int = 2, basis: str = "US", **branch: str) -> Job:
    """One box with mains outlets, panel 20 ft or m away, a circuit of 20 A on 12 AWG (or 20 A on 2.5 mm2)."""
    job = set_fields(Job(), "settings", "job", {"basis": basis, "units": "ft-in" if basis == "US" else "m",
                                                "panel_x": "0", "panel_y": "0", "panel_ways": "2"})
    job, _ = add(job, "box", [{"label": "FB-1", "x": "20", "y": "0"}])
    for n in range(outlets):
        job, _ = add(job, "opening", [{"box": "FB-1", "label": f"P{n}", "what": "mains"}])
    job, _ = add(job, "circuit", [{"label": "1-P", "what": "mains", "openings": ", ".join(f"P{n}" for n in range(outlets))}])
    return add(job, "branchcircuit", [{"label": "L1", "feeds": "1-P", "rating": "20",
                                       "conductor": "12" if basis == "US" else "2.5", **branch}])[0]


def plugged(job: Job, amps: str, **more: str) -> Job:
    return add(job, "mainsload", [{"label": "keys", "at": "1-P", "amps": amps, **more}])[0]


def found(job: Job) -> dict[str, OpenItem]:
    return {i.code: i for i in open_items(job)}


def test_the_published_drop_of_twelve_gauge() -> None:
    # NFPA 70 chapter 9 Table 8, 12 AWG stranded at 75 C: 1.98 ohm a thousand feet. 2 x 100 ft x 20 A: 7.92 V, against
    # 3 % of 120 V = 3.6 V, which is a recommendation.
    job = plugged(stage(way="100 ft"), "20")
    (b,) = branches(job)
    assert b.drop is not None
    assert b.drop.result.amount == pytest.approx(7.92, abs=0.005)
    assert "75" in " ".join(b.drop.notes)
    item = found(job)["mains-drop"]
    assert (item.state, item.amount) == (CHECK, "7.92 V of 3.6 V")
    assert "licensed electrician" in item.cure
    assert "mains-drop" not in found(plugged(stage(way="40 ft"), "20"))  # 3.17 V


@pytest.mark.parametrize(("amps", "lasting", "over"), [("16", "yes", False), ("16.1", "yes", True), ("20", "no", False),
                                                       ("20.1", "no", True)])
def test_what_runs_on_counts_at_125_percent(amps: str, lasting: str, over: bool) -> None:
    # NFPA 70 210.20(A): 125 % of the continuous load and the rest; 16 A x 1.25 = 20 A
    job = plugged(stage(outlets=1, way="1 ft"), amps, continuous=lasting)
    assert ("mains-load" in found(job)) == over


def test_outlets_without_loads_count_180_va_each() -> None:
    # NFPA 70 220.14(I): 180 VA a yoke; 10 outlets 1,800 VA, at 120 V 15 A; 14 outlets 21 A, more than 20
    (b,) = branches(stage(outlets=10))
    assert (b.amps, b.assumed) == (pytest.approx(15.0), True)
    assert "mains-load" not in found(stage(outlets=10))
    item = found(stage(outlets=14))["mains-load"]
    assert "loads assumed" in item.what
    assert item.amount == "21 A of 20 A"


@pytest.mark.parametrize(("outlets", "amps", "told"), [(2, "16", False), (2, "16.5", True), (1, "16.5", False)])
def test_one_plugged_in_load_takes_at_most_80_percent(outlets: int, amps: str, told: bool) -> None:
    # NFPA 70 210.23: one cord-and-plug load not over 80 % of a 20 A circuit that has more outlets, 16 A
    job = plugged(stage(outlets=outlets, way="1 ft"), amps)
    assert ("mains-one-load" in found(job)) == told


def test_the_other_basis() -> None:
    # BS 7671 appendix 4: 2.5 mm2 18 mV/A/m; 16 A over 30 m: 8.64 V, against 5 % of 230 V = 11.5 V; 45 m: 12.96 V
    job = plugged(stage(basis="IEC/UK", way="30 m"), "16")
    (b,) = branches(job)
    assert b.drop is not None
    assert b.drop.result.amount == pytest.approx(8.64)
    assert b.load is not None
    assert (b.load.result.amount, b.volts) == (16.0, 230.0)  # no 125 % there
    assert not {"mains-drop", "mains-load", "mains-one-load"} & set(found(job))
    far = plugged(stage(basis="IEC/UK", way="45 m"), "16")
    assert found(far)["mains-drop"].amount == "12.96 V of 11.5 V"
    assert "mains-load" in found(plugged(stage(basis="IEC/UK", way="1 m"), "20.5"))


def test_a_way_that_nobody_measured_is_rough() -> None:
    # 20 ft right-angled from the panel and 15 % more: 23 ft
    (b,) = branches(stage())
    assert (b.metres, b.rough) == (pytest.approx(23 * FOOT), True)
    (b,) = branches(set_fields(stage(), "settings", "job", {"panel_x": ""}))
    assert b.metres is None
    assert "place of the panel" in found(set_fields(stage(), "settings", "job", {"panel_x": ""}))["mains-unknown"].what


def test_a_charger_in_a_shut_box() -> None:
    # 120 V x 0.5 A = 60 W at most
    item = found(plugged(stage(), "0.5", shut_in="yes"))["mains-shut-in"]
    assert (item.state, item.amount) == (CHECK, "up to 60 W")
    assert "mains-shut-in" not in found(plugged(stage(), "0.5"))
    job, _ = add(stage(), "mainsload", [{"label": "radio charger", "at": "1-P", "shut_in": "yes"}])
    assert found(job)["mains-shut-in"].amount == "power not known"
    assert found(job)["mains-load-unknown"].state == TO_DO


def test_outlets_on_no_circuit_and_a_full_panel() -> None:
    job = stage(outlets=3)
    bare = job.without(BranchCircuit, [b.id for b in job.all(BranchCircuit)])
    item = found(bare)["mains-no-circuit"]
    assert (item.state, item.amount) == (TO_DO, "3 mains outlets in 1 box")
    assert item.question
    assert "mains-no-circuit" not in found(job)
    for n in range(2):
        job, _ = add(job, "branchcircuit", [{"label": f"M{n}", "feeds": "1-P"}])
    assert found(job)["mains-panel-full"].amount == "3 circuits, 2 spare ways"
    assert found(job)["mains-unknown"].state == TO_DO


def test_a_conductor_that_no_table_has() -> None:
    assert found(stage(conductor="thick"))["mains-conductor"].state == TO_DO


def test_it_always_asks_and_never_decides() -> None:
    job = plugged(plugged(stage(outlets=14, way="300 ft"), "19"), "9", shut_in="yes", continuous="yes")
    items = open_items(job)
    assert {"mains-load", "mains-drop", "mains-one-load", "mains-shut-in"} <= {i.code for i in items}
    for i in items:
        assert "licensed electrician" in i.basis + i.cure
        assert i.state in (CHECK, TO_DO)
        assert not any(w in (i.what + i.cure).lower() for w in ("approved", "compliant", "is safe", "certified"))


def test_a_deleted_box_leaves_its_mains_circuit_and_its_load() -> None:
    job = plugged(stage(), "3")
    job = delete(job, "box", [job.all(Box)[0].id])
    assert [b.feeds for b in job.all(BranchCircuit)] == [()]
    assert [x.at for x in job.all(MainsLoad)] == [""]
    assert set(found(job)) == {"mains-load-nowhere"}  # nothing is fed; where the load shall plug in is to be said


# --- loads that are nowhere, outlets that are fed twice

def test_a_load_of_a_retired_outlet_is_on_no_breaker_and_is_asked_for() -> None:
    """5 A on an outlet in use, 18 A on one that was retired: 5 A; the 18 A have no outlet any more."""
    job = plugged(stage(outlets=1), "5")
    job, _ = add(job, "box", [{"label": "FB-2", "x": "20", "y": "0"}])
    job, _ = add(job, "opening", [{"box": "FB-2", "label": "Q0", "what": "mains"}])
    job, (other,) = add(job, "circuit", [{"label": "2-P", "what": "mains", "openings": "Q0"}])
    job = set_fields(job, "branchcircuit", job.all(BranchCircuit)[0].id, {"feeds": "1-P, 2-P"})
    job, _ = add(job, "mainsload", [{"label": "amp", "at": "2-P", "amps": "18"}])
    (b,) = branches(job)
    assert (b.amps, [x.name for x in b.loads]) == (23, ["keys", "amp"])
    assert "mains-load-nowhere" not in found(job)
    gone = (set_fields(job, "opening", job.all(Opening)[1].id, {"state": "retired"}),
            set_fields(job, "box", job.all(Box)[1].id, {"state": "retired"}),
            set_fields(job, "circuit", other, {"state": "retired"}))
    for changed in gone:
        (b,) = branches(changed)
        assert (b.amps, [x.name for x in b.loads]) == (5, ["keys"])
        item = found(changed)["mains-load-nowhere"]
        assert (item.state, item.amount) == (TO_DO, "1 load, 18 A")
        assert "amp" in item.what
        assert "keys" not in item.what


def test_a_load_that_is_plugged_in_nowhere_is_asked_for() -> None:
    job, _ = add(stage(), "mainsload", [{"label": "desk", "amps": "4"}, {"label": "lamp"}])
    item = found(job)["mains-load-nowhere"]
    assert (item.state, item.amount, item.record) == (TO_DO, "2 loads, 4 A", ("mainsload", job.all(MainsLoad)[0].id))
    assert "desk, lamp" in item.what
    assert branches(job)[0].assumed  # nothing is on the circuit: outlets count by themselves


def test_outlets_fed_by_two_circuits_are_to_be_checked() -> None:
    job = plugged(stage(), "5")
    assert "mains-fed-twice" not in found(job)
    job, _ = add(job, "branchcircuit", [{"label": "L2", "feeds": "1-P", "rating": "20"}])
    item = found(job)["mains-fed-twice"]
    assert (item.state, item.amount) == (CHECK, "1-P: L1, L2")
    assert [b.amps for b in branches(job)] == [5, 5]  # on the safe side: its loads count on each
    assert "licensed electrician" in item.cure
    # what is retired is fed by nobody
    assert "mains-fed-twice" not in found(set_fields(job, "box", job.all(Box)[0].id, {"state": "retired"}))
