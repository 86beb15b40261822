"""Which raceways are laid, and that price, takeoff, total and the client's table count the same ones.

Expected values: plain sums of what is entered. EMT inside diameters: NFPA 70 chapter 9 Table 4, as printed. One support for
each spacing begun: common practice, no source.
"""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.open_items import TO_DO, OpenItem
from stagefloor.core.units import FOOT
from stagefloor.entry.cables_routes import fills
from stagefloor.job import store
from stagefloor.job.cables import WAYS, Cable, CableType, Segment
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.package.extract_client import extract
from stagefloor.results import compute
from stagefloor.steps.cables import raceways, takeoff
from stagefloor.steps.raceway_total import new_raceways, open_ways

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
OPEN = ("free path", "fished through", "cable tray")


def trunk(**segment: str) -> Job:
    """Rack at 0, pull point A at 30 ft, box FB-1 on it; one raceway; pairs of 0.14 in and an assembly; no slack."""
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0", "slack_box": "0", "slack_rack": "0"})
    job, _ = add(job, "node", [{"label": "R", "what": "rack", "x": "0", "y": "0"}, {"label": "A", "x": "30", "y": "0"}])
    job, _ = add(job, "segment", [{"label": "R-A", "start": "R", "end": "A", "string": "proved", **segment}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "30", "y": "0"}])
    return add(job, "cabletype", [{"label": "pair", "what": "microphone", "diameter": "0.14 in"},
                                  {"label": "made up", "what": "video", "assembly": "yes", "head": "1.1 in"}])[0]


def with_lines(job: Job, how_many: int, cable: str = "pair") -> Job:
    kind = "video" if cable == "made up" else "microphone"
    for n in range(how_many):
        label = f"{cable}{n}"
        job, _ = add(job, "opening", [{"box": "FB-1", "label": label, "what": kind}])
        job, _ = add(job, "circuit", [{"label": label, "what": kind, "openings": label}])
        job, _ = add(job, "cable", [{"label": label, "circuits": label, "type": cable}])
    return job


def with_type(job: Job, **fields: str) -> Job:
    return set_fields(job, "cabletype", job.all(CableType)[0].id, fields)


def spare(job: Job, **fields: str) -> Job:
    return add(job, "segment", [{"label": "spare", "start": "R", "end": "A", "signal_class": "control", **fields}])[0]


def items(job: Job, code: str) -> list[OpenItem]:
    return [i for i in compute(job).items_of("cables") if i.code == code]


def feet(job: Job) -> dict[str, float]:
    """What the takeoff counts of ways: feet, or pieces."""
    return {k: round(v / FOOT, 6) if k.endswith(" m") or " m:" in k else v for k, v in takeoff(job).items()
            if k.startswith(("raceway", "pull strings", "cable tray", "cable supports"))}


def bought(job: Job) -> dict[str, float]:
    return {r.item: round(r.amount / FOOT, 3) if r.metres else r.amount for r in compute(job).purchase.rows
            if "Labels" not in r.item and "pair" not in r.item and "made up" not in r.item and "Floor box" not in r.item}


def client_table(job: Job) -> dict[str, str]:
    return {row.item: row.quantity for row in extract(compute(job)).scope}


# --- a cable without a diameter


def test_a_cable_type_without_a_diameter_does_not_empty_its_raceway() -> None:
    job = with_type(with_lines(trunk(), 5), diameter="")
    (raceway,) = raceways(job)
    assert (raceway.cables, raceway.carries, raceway.fill, raceway.grown, raceway.size) == (5, True, None, None, "")
    assert feet(job) == {"raceway m: size not known": 30, "pull strings": 1}
    assert bought(job) == {"EMT (size not known)": 30}
    assert new_raceways(compute(job).raceways, "ft-in").result.amount == pytest.approx(30)
    assert client_table(job)["Raceways with pull strings"] == "30 ft"
    (item,) = items(job, "cable-no-diameter")
    assert (item.state, item.what, item.record) == (TO_DO, "the diameter of pair is not entered",
                                                  ("cabletype", job.all(CableType)[0].id))
    assert item.amount == "1 raceway can't be judged"
    assert "not known: the diameter of pair is not entered" in fills(compute(job))
    assert not items(with_lines(trunk(), 5), "cable-no-diameter")


@pytest.mark.parametrize("fields", [{"size": "1/2"}, {"way": "trunking", "size": "50 x 50 mm"},
                                    {"way": "metal conduit in mm", "size": "25 mm, inside 22 mm"}])
def test_the_fill_is_not_known_while_one_diameter_is_not(fields: dict[str, str]) -> None:
    job, _ = add(with_lines(trunk(**fields), 3), "cabletype", [{"label": "thick", "what": "microphone"}])
    assert raceways(job)[0].fill is not None
    job = with_lines(job, 1, "thick")
    (raceway,) = raceways(job)
    assert (raceway.cables, raceway.fill, raceway.size) == (4, None, fields["size"])
    assert [i.what for i in items(job, "cable-no-diameter")] == ["the diameter of thick is not entered"]
    assert feet(job)[f"raceway m: {fields['size']}"] == 30
    filled = set_fields(job, "cabletype", job.all(CableType)[2].id, {"diameter": "0.2 in"})
    assert raceways(filled)[0].fill is not None
    assert not items(filled, "cable-no-diameter")


def test_a_type_is_asked_for_once_however_many_raceways_wait_for_it() -> None:
    job, _ = add(trunk(), "node", [{"label": "B", "x": "40", "y": "0"}])
    job, _ = add(job, "segment", [{"label": "A-B", "start": "A", "end": "B", "string": "proved"}])
    job = set_fields(job, "box", job.boxes()[0].id, {"x": "40", "feed": "B"})
    job = with_type(with_lines(job, 2), diameter="")
    assert [i.amount for i in items(job, "cable-no-diameter")] == ["2 raceways can't be judged"]
    for s in job.all(Segment):  # where cables lie open no diameter is asked for
        job = set_fields(job, "segment", s.id, {"way": "free path"})
    assert not items(job, "cable-no-diameter")


def test_cables_without_a_type_are_in_their_raceway_too() -> None:
    job = with_lines(trunk(), 2)
    for cable in job.all(Cable):
        job = set_fields(job, "cable", cable.id, {"type": ""})
    assert feet(job) == {"raceway m: size not known": 30, "pull strings": 1}
    assert items(job, "no-cable-type")
    assert raceways(job)[0].missing == "a cable has no type"


# --- assemblies and spares


def test_a_raceway_with_only_an_assembly_is_laid_at_the_size_of_its_head() -> None:
    # EMT inside diameters, Table 4: 1 1.049 in, 1-1/4 1.380 in; a head of 1.1 in needs 1-1/4
    job = with_lines(trunk(), 1, "made up")
    assert feet(job) == {"raceway m: 1-1/4": 30, "pull strings": 1}
    assert bought(job) == {"EMT 1-1/4 in": 30}
    assert client_table(job)["Raceways with pull strings"] == "30 ft"


def test_an_assembly_without_a_head_leaves_the_size_open() -> None:
    job = with_lines(trunk(), 1, "made up")
    job = set_fields(job, "cabletype", job.all(CableType)[1].id, {"head": ""})
    assert feet(job) == {"raceway m: size not known": 30, "pull strings": 1}
    (item,) = items(job, "assembly-no-head")
    assert (item.state, item.what) == (TO_DO, "the largest head of made up is not entered")
    sized = set_fields(with_lines(job, 3), "segment", job.all(Segment)[0].id, {"size": "2"})  # its pairs are judged
    assert raceways(sized)[0].fill is not None


def test_a_drawn_spare_is_laid_with_a_string_in_it() -> None:
    job = spare(with_lines(trunk(), 3), size="1")
    assert feet(job) == {"raceway m: 1/2": 30, "raceway m: 1": 30, "pull strings": 2}
    assert bought(job) == {"EMT 1/2 in": 30, "EMT 1 in": 30}
    assert client_table(job)["Raceways with pull strings"] == "60 ft"
    assert "mark one that is not laid as out of use" in fills(compute(job))
    for not_laid in ({"existing": "yes"}, {"blocked": "yes"}, {"signal_class": "mains"}):
        assert feet(spare(with_lines(trunk(), 3), size="1", **not_laid)) == {"raceway m: 1/2": 30, "pull strings": 1}


def test_a_spare_without_a_size_is_counted_and_asked_for() -> None:
    job = spare(with_lines(trunk(), 3))
    assert feet(job) == {"raceway m: 1/2": 30, "raceway m: size not known": 30, "pull strings": 2}
    (item,) = items(job, "raceway-spare-no-size")
    assert item.state == TO_DO
    assert item.what.endswith(": spare")
    assert not items(spare(with_lines(trunk(), 3), size="1"), "raceway-spare-no-size")
    assert not items(trunk(), "raceway-spare-no-size")  # drawn before any line


def test_raceways_that_share_a_compartment_are_one_length() -> None:
    # scenario of the hall: perimeter trunking of three compartments, one of them for mains; 44.66 m of it in eight runs
    # (1.66, 4.2, 3.7, 6.8 four times, 7.9), two compartments for signal: 89.32 m, among them those without a cable
    results = compute(store.read(DEMOS / "ondry_hall").job)
    assert results.quantities["raceway m: 50 x 50 mm compartment"] == pytest.approx(2 * (1.66 + 4.2 + 3.7 + 4 * 6.8 + 7.9))
    # 18 conduits, a string in each (microphone and line share one where both go): 2 + 1 + 1 + 2 + 2 + 2 + 3 + 3 + 2; none in
    # the trunking, into which cables are laid
    assert results.quantities["pull strings"] == 18


# --- ways in which nothing is laid


@pytest.mark.parametrize("way", ["free path", "fished through", "cable tray"])
def test_an_open_way_is_no_raceway_and_has_no_string(way: str) -> None:
    job = with_lines(trunk(way=way), 3)
    tray = {"cable tray m": 30} if way == "cable tray" else {}
    assert feet(job) == tray
    assert new_raceways(compute(job).raceways, "ft-in").result.amount == 0
    assert bought(job) == ({"cable tray (size not known)": 30} if tray else {})
    assert "Raceways with pull strings" not in client_table(job)
    assert client_table(job).get("Cable tray") == ("30 ft" if tray else None)


def test_a_row_for_raceways_prices_no_tray_and_no_supports() -> None:
    job, _ = add(with_lines(trunk(way="cable tray", size="12 in"), 3), "pricerow", [
        {"item": "conduit", "quantity": "raceway m:", "per": "3.048", "cost": "12"}])
    (row,) = [r for r in compute(job).purchase.rows if r.item.startswith("cable tray")]
    assert (row.item, row.cost) == ("cable tray 12 in", None)
    job, _ = add(job, "pricerow", [{"item": "tray", "quantity": "cable tray m", "per": "3.048", "cost": "50"}])
    results = compute(job)
    assert [str(r.cost) for r in results.purchase.rows if r.item.startswith("cable tray")] == ["150.00"]  # 10 ft: 50
    assert [str(m.cost) for m in results.estimate.materials if m.item == "tray"] == ["150.00"]


@pytest.mark.parametrize(("apart", "supports"), [("5", 6), ("4", 8), ("7", 5), ("40", 1), ("", 0)])
def test_supports_of_a_free_path(apart: str, supports: int) -> None:
    # 30 ft: 6 spacings of 5 ft, 7.5 of 4 ft, 4.3 of 7 ft
    job = with_lines(trunk(way="free path", supports=apart), 3)
    assert feet(job) == ({"cable supports": supports} if supports else {})
    assert bought(job) == ({"Supports for free cable paths": supports} if supports else {})
    assert client_table(job).get("Supports for free cable paths") == (str(supports) if supports else None)


def test_a_cable_is_laid_into_trunking_without_a_string() -> None:
    assert feet(with_lines(trunk(way="trunking", size="50 x 50 mm"), 3)) == {"raceway m: 50 x 50 mm": 30}


# --- one count for all


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(WAYS), st.sampled_from(("", "3/4", "50 x 50 mm", "25 mm, inside 22 mm")),
                          st.booleans(), st.booleans(), st.integers(1, 60)), min_size=1, max_size=5),
       st.integers(0, 4), st.integers(0, 2), st.sampled_from(("0.14 in", "")))
def test_takeoff_purchase_total_and_client_count_the_same(drawn: list[tuple[str, str, bool, bool, int]], pairs: int,
                                                          made_up: int, diameter: str) -> None:
    """Whatever is drawn: all that is new, not out of use and no open way, carrying or spare, and nothing else."""
    job = trunk(size="1")
    for way, size, existing, blocked, length in drawn:
        job, _ = add(job, "segment", [{"label": "x", "start": "R", "end": "A", "way": way, "size": size, "signal_class":
                                       "control", "typed_length": str(length), "existing": "yes" if existing else "no",
                                       "blocked": "yes" if blocked else "no"}])
    job = with_type(with_lines(with_lines(job, pairs), made_up, "made up"), diameter=diameter)
    expected = 30 + sum(length for way, _, existing, blocked, length in drawn
                        if not existing and not blocked and way not in OPEN)
    results = compute(job)
    total = new_raceways(results.raceways, "ft-in").result.amount
    counted = sum(v for k, v in results.quantities.items() if k.startswith("raceway m:")) / FOOT
    buy = sum(r.amount for r in results.purchase.rows if r.metres and not r.item.startswith("cable tray")) / FOOT
    assert (total, counted) == (pytest.approx(expected), pytest.approx(expected))
    assert buy == pytest.approx(expected, abs=0.02)  # each row to the millimetre
    assert client_table(job)["Raceways with pull strings"] == f"{expected:,.0f} ft"


# --- what is summed and shown


def test_tray_and_supports_in_all_by_hand() -> None:
    """Tray of 30 and of 12.5 ft: 42.5 ft. Supports on 30 ft: 6 at 5 ft and, each spacing begun, 5 at 7 ft: 11."""
    tray = raceways(with_lines(trunk(way="cable tray"), 3)) + raceways(
        with_lines(trunk(way="cable tray", typed_length="12.5"), 3))
    hung = [r for apart in ("5", "7") for r in raceways(with_lines(trunk(way="free path", supports=apart), 3))]
    long, many = open_ways([*tray, *hung], "ft-in")
    assert [v.amount for v in long.inputs] == pytest.approx([30, 12.5])
    assert (long.result.name, long.result.amount, long.result.unit) == ("cable tray", pytest.approx(42.5), "ft")
    assert ([v.amount for v in many.inputs], many.result.amount) == ([6, 5], 11)
    assert open_ways(tray, "m")[0].result.amount == pytest.approx(42.5 * 0.3048)
    assert open_ways(raceways(with_lines(trunk(), 3)), "m") == []


def test_the_cable_area_in_a_raceway_by_hand() -> None:
    """Three of 0.14 in and one of 0.2 in: pi / 4 x (3 x 0.0196 + 0.04) = 0.077597 in2, x 645.16 = 50.063 mm2."""
    job, _ = add(trunk(), "cabletype", [{"label": "thick", "what": "microphone", "diameter": "0.2 in"}])
    (raceway,) = raceways(with_lines(with_lines(job, 3), 1, "thick"))
    inches, metric = raceway.area_working("ft-in"), raceway.area_working("m")
    assert [v.amount for v in inches.inputs] == pytest.approx([3, 0.14, 1, 0.2])
    assert (inches.result.amount, inches.result.unit) == (pytest.approx(0.077597, abs=1e-6), "in²")
    assert [v.amount for v in metric.inputs] == pytest.approx([3, 3.556, 1, 5.08])
    assert (metric.result.amount, metric.result.unit) == (pytest.approx(50.063, abs=1e-3), "mm²")
