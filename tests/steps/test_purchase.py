"""What to buy and what it costs, by hand; multicores against every other mix, by an independent solver."""

import random
from decimal import Decimal
from pathlib import Path

import pytest
from ortools.sat.python import cp_model

from stagefloor.entry.cables_lists import buying, multicores
from stagefloor.job import store
from stagefloor.job.cables import Cable, CableType
from stagefloor.job.edit import add, set_fields
from stagefloor.job.lists import Reel
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.steps.multicore import cheapest_mix, saved
from stagefloor.steps.purchase import each_by_length

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"


def priced(prices: dict[str, str]) -> Job:
    """Six microphone lines of 25 m to one box: a single cable, a reel of 100 m, a multicore of 8 lines."""
    job = set_fields(Job(), "settings", "job", {"units": "m"})
    job = set_fields(job, "settings", "job", {"rack_distance": "25", "slack_box": "0 m", "slack_rack": "0 m"})
    job, types = add(job, "cabletype", [
        {"label": "pair", "what": "microphone", "diameter": "3 mm", "price": prices.get("pair", ""), "lead": "14"},
        {"label": "eight", "what": "microphone", "diameter": "10 mm", "lines": "8", "price": prices.get("eight", "")}])
    job, _ = add(job, "reel", [{"type": types[0], "length": "100", "price": prices.get("reel", "")}])
    job, (box,) = add(job, "box", [{"label": "FB-1"}])
    for i in range(6):
        job, (opening,) = add(job, "opening", [{"box": box, "bay": "1", "slot": str(i), "label": f"1-M{i}"}])
        job, (circuit,) = add(job, "circuit", [{"label": f"1-M{i}", "openings": opening}])
        job, _ = add(job, "cable", [{"label": f"1-M{i}", "circuits": circuit, "type": types[0]}])
    return job


def test_reels_and_what_stays_on_them_by_hand() -> None:
    """3 cables of 25 m on a reel of 100 m (75 + 2; 23 left), two reels. At 30.00 for 30 m a reel is 100.00, 46 m stay."""
    results = compute(priced({"pair": "30"}))
    (box, cable, labels) = results.purchase.rows
    assert (cable.item, cable.amount, cable.each, cable.cost, cable.lead) == \
        ("pair, 100.0 m reel", 2, Decimal(100), Decimal("200.00"), 14)
    assert (box.item, labels.amount, labels.each) == ("Floor box FB-1, model not chosen", 6, None)
    assert results.purchase.total.result.amount == 200.0
    assert results.purchase.on_reels.result.amount == 46.0
    page = buying(results)
    assert "2 of 3 unpriced: Floor box FB-1, model not chosen; Labels, both ends of a line." in page
    assert "14 days" in page


def test_a_reels_own_price_rules() -> None:
    rows = compute(priced({"pair": "30", "reel": "88.50"})).purchase.rows
    assert (rows[1].cost, rows[1].price_from) == (Decimal("177.00"), "the reel's own price")


def test_without_prices_nothing_is_invented() -> None:
    found = compute(priced({})).purchase
    assert (len(found.unpriced), len(found.rows), found.total, found.on_reels) == (3, 3, None, None)
    assert "3 of 3 unpriced" in buying(compute(priced({})))


def test_a_multicore_by_hand() -> None:
    """Six of 25 m at 1.00 a metre: 150.00. One multicore of 25 m at 4.00 a metre: 100.00. It saves 50.00."""
    results = compute(priced({"pair": "30", "eight": "120"}))
    (c,), missing = results.multicores
    assert (c.singles, c.mixed, c.mix, c.saving, missing) == (150, 100, (("eight", 1),), 50, [])
    assert (c.area_mixed / c.area_singles) == pytest.approx(100 / (6 * 9))  # areas go by the square of the diameter
    assert "Cheaper in 1 of 1 places" in multicores(results)
    assert c.working in results.workings()


def test_a_multicore_without_a_price_is_said() -> None:
    found, missing = compute(priced({"pair": "30"})).multicores
    assert (found, missing) == ([], ["eight: no price, so it is not compared."])


@pytest.mark.parametrize("seed", range(20))
def test_the_cheapest_mix_against_an_independent_solver(seed: int) -> None:
    rng = random.Random(seed)
    options = [(1, Decimal(rng.randint(5, 30))), *((rng.choice((2, 4, 8, 12)), Decimal(rng.randint(10, 200)))
                                                   for _ in range(rng.randint(1, 3)))]
    lines = rng.randint(1, 30)
    model = cp_model.CpModel()
    counts = [model.new_int_var(0, lines, "") for _ in options]
    model.add(sum(c * carries for c, (carries, _) in zip(counts, options, strict=True)) >= lines)
    model.minimize(sum(c * int(cost) for c, (_, cost) in zip(counts, options, strict=True)))
    solver = cp_model.CpSolver()
    assert solver.solve(model) == cp_model.OPTIMAL
    cost, mix = cheapest_mix(lines, options)
    assert int(cost) == solver.objective_value
    assert sum(n * carries for n, (carries, _) in zip(mix, options, strict=True)) >= lines
    assert sum(n * c for n, (_, c) in zip(mix, options, strict=True)) == cost


def everything_priced(job: Job) -> Job:
    return add(job, "pricerow", [{"item": "Labels", "quantity": "labels", "cost": "1"}])[0]


def test_what_no_list_can_hold_yet_is_an_unpriced_line() -> None:
    """Six cables of 25 m, all priced; then what is missing, each by itself."""
    job = everything_priced(priced({"pair": "30"}))
    job = set_fields(job, "box", job.boxes()[0].id, {"state": "built"})
    assert compute(job).purchase.unpriced == ()
    assert "Every line is priced." in buying(compute(job))

    def told(changed: Job, *items: tuple[str, float]) -> None:
        found = compute(changed)
        assert [(r.item, r.amount, r.each) for r in found.purchase.unpriced] == [(i, n, None) for i, n in items]
        page = buying(found)
        assert "Every line is priced." not in page
        assert f"{len(items)} of {len(found.purchase.rows)} unpriced" in page
        for row in found.purchase.unpriced:
            assert (row.note != "", row.working in found.workings()) == (True, True)

    no_reel = job.without(Reel, [job.all(Reel)[0].id])
    told(no_reel, ("pair, cables without a cut list", 6))
    no_type = job
    for cable in job.all(Cable)[:2]:
        no_type = set_fields(no_type, "cable", cable.id, {"type": ""})
    told(no_type, ("no cable type, cables without a cut list", 2))
    told(set_fields(job, "cable", job.all(Cable)[0].id, {"typed_length": "120"}), ("pair, cable 1-M0: not cut", 1))
    # no length: two boxes, one of them nowhere
    nowhere = set_fields(job, "settings", "job", {"rack_distance": ""})
    told(nowhere, ("pair, cables without a cut list", 6))
    typed = set_fields(nowhere, "cable", nowhere.all(Cable)[0].id, {"typed_length": "25"})
    told(typed, ("pair, cables without a cut list", 5))
    # a box that no model takes, of which none is entered
    told(set_fields(job, "box", job.boxes()[0].id, {"state": "planned"}), ("Floor box FB-1, model not chosen", 1))
    ready = set_fields(job, "cabletype", job.all(CableType)[0].id, {"assembly": "yes"})
    told(set_fields(ready, "cable", job.all(Cable)[0].id, {"typed_length": "120"}), ("pair, ready-made, for 1-M0", 1))


@pytest.fixture(scope="module")
def playhouse() -> Results:
    return compute(store.read(DEMOS / "quillhaven_playhouse").job)


def test_the_demos_list_adds_up_and_leaves_mains_to_the_electrician(playhouse: Results) -> None:
    found = playhouse.purchase
    assert not [r.item for r in found.rows if "mains" in r.item.lower()]
    shown = sum((r.cost for r in found.rows if r.cost is not None), Decimal(0))
    assert found.total is not None
    assert Decimal(str(found.total.result.amount)) == shown
    everything = playhouse.workings()
    page = buying(playhouse)
    for row in found.rows:
        if row.working is not None:
            assert row.working in everything
            assert row.working.as_html() in page


def test_what_multicores_save_in_all_places_by_hand() -> None:
    """Six of 25 m at 1.00 are 150.00; a multicore of 25 m at 4.00, 3.50 or 8.00: 50.00, 62.50 and nothing saved."""
    found = [compute(priced({"pair": "30", "eight": price})).multicores[0][0] for price in ("120", "105", "240")]
    assert [c.saving for c in found] == [Decimal("50.00"), Decimal("62.50"), 0]
    total = saved(found)
    assert [v.amount for v in total.inputs] == [50.0, 62.5]
    assert total.result.amount == 112.5
    page = multicores(compute(priced({"pair": "30", "eight": "120"})))
    assert "Cheaper in 1 of 1 places: USD 50.00 less for cable." in page


def test_the_price_of_a_foot_and_of_a_metre_of_raceway() -> None:
    """12.00 for 10 ft (3.048 m by definition of the foot): 1.20 a foot, 3.94 a metre; 45.5 ft of it: 54.60."""
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0"})
    job, _ = add(job, "node", [{"label": "R", "what": "rack", "x": "0", "y": "0"}, {"label": "A", "x": "45.5", "y": "0"}])
    job, _ = add(job, "segment", [{"label": "spare", "start": "R", "end": "A", "size": "3/4"}])
    job, _ = add(job, "pricerow", [{"item": "conduit", "quantity": "raceway m: 3/4", "per": "3.048", "cost": "12"}])
    results = compute(job)
    (row,) = results.purchase.rows
    assert (each_by_length(row, "ft-in"), each_by_length(row, "m")) == (Decimal("1.20"), Decimal("3.94"))
    assert row.cost == Decimal("54.60")
    assert "1.20 a foot" in buying(results)
    assert "3.94 a metre" in buying(compute(set_fields(job, "settings", "job", {"units": "m"})))
