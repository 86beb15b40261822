"""Three equal cables that may jam: NFPA 70 chapter 9 Table 1, informational note 2 (ratio 2.8 to 3.2), and only they."""

import pytest

from stagefloor.core.open_items import CHECK, OpenItem
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.boxes.schedule import reconciled


def found(diameter: str, cables: str = "3", size: str = "1", used: str = "") -> list[OpenItem]:
    """One box with loudspeaker lines through one EMT conduit, inside 1.049 in at trade size 1 (chapter 9 Table 4)."""
    job, _ = add(Job(), "boxmodel", [{"label": "model", "across": "12", "along": "14", "depth": "5", "bays": "4"}])
    job, _ = add(job, "cabletype", [{"label": "two", "what": "loudspeaker", "diameter": diameter, "awg": "12"}])
    job, _ = add(job, "node", [{"label": "RK", "what": "rack", "x": "30", "y": "0", "z": "0"},
                               {"label": "T1", "what": "pull point", "x": "10", "y": "0", "z": "0"}])
    job, _ = add(job, "segment", [{"label": "trunk", "start": "RK", "end": "T1", "signal_class": "loudspeaker", "way": "EMT",
                                   "size": size, "used_percent": used, "existing": "yes" if used else "no"}])
    job, _ = add(job, "point", [{"label": "P1", "x": "9", "y": "1", "loudspeaker": cables}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "9", "y": "1", "points": "P1", "feed": "T1"}])
    results = compute(reconciled(job))
    assert [len(r.diameters) for r in results.raceways] == [int(cables)]
    jams = [i for i in results.items_of("cables") if i.code == "raceway-jam"]
    assert all(w in results.workings() for i in jams for w in i.workings)
    return jams


def test_three_equal_cables_near_a_third_of_the_inside_are_told() -> None:
    (item,) = found("0.36 in")  # 1.049 / 0.36 = 2.91
    assert item.state == CHECK
    assert "2.91" in item.amount
    assert item.workings[0].result.amount == pytest.approx(1.049 / 0.36, abs=0.001)


@pytest.mark.parametrize(("diameter", "cables", "size", "used"), [
    ("0.25 in", "3", "1", ""),  # 4.2: too small to jam
    ("0.36 in", "4", "1", ""), ("0.36 in", "2", "1", ""),  # not three
    ("0.36 in", "3", "1-1/4", ""),  # 1.380 / 0.36 = 3.83
    ("0.36 in", "3", "1", "20")])  # others are in it already
def test_others_are_not(diameter: str, cables: str, size: str, used: str) -> None:
    assert found(diameter, cables, size, used) == []
