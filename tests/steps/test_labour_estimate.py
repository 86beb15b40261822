"""Hours, cost and price of small jobs, worked by hand beside each check."""

from dataclasses import fields
from decimal import Decimal

import pytest

from stagefloor.core.open_items import MEND, TO_DO
from stagefloor.core.problems import Problem
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.reference.tables import load
from stagefloor.steps import labour
from stagefloor.steps.labour import Selling


def job_with(**tables: list[dict[str, object]]) -> Job:
    job = Job()
    for kind, rows in tables.items():
        job, _ = add(job, kind, rows)
    return job


def hours(**fields_: object) -> dict[str, object]:
    return {"task": "Cut in", "quantity": "floor boxes", "section": "Floor boxes and panels", **fields_}


def test_hours_of_a_task_are_quantity_times_the_row():
    # by hand: 4 boxes at 2, 3, 4 h: 8, 12, 16 h; mean of a triangle (8 + 12 + 16) / 3 = 12
    found = labour.estimate(job_with(hourunit=[hours(low=2, likely=3, high=4)]), {"floor boxes": 4})
    (task,) = found.tasks
    assert (task.low, task.likely, task.high, task.hours) == (8, 12, 16, Decimal("12.00"))
    assert found.likely_hours.result.amount == 12


def test_hours_per_hundred_feet_in_metres():
    # by hand: 304.8 m is ten times 100 ft; (0.6 + 0.8 + 1.2) / 3 = 0.8667 h each: 8.67 h
    unit = hours(quantity="first cables m", per="30.48", low="0.6", likely="0.8", high="1.2")
    (task,) = labour.estimate(job_with(hourunit=[unit]), {"first cables m": 304.8}).tasks
    assert task.hours == Decimal("8.67")


def test_a_name_that_ends_in_a_colon_counts_the_family_without_mains():
    row = {"item": "Cable", "quantity": "cable m:", "cost": "1.00"}
    found = labour.estimate(
        job_with(pricerow=[row]), {"cable m: line": 10, "Cable m: data": 5, "cable m: mains": 99}
    )
    assert found.materials[0].cost == Decimal("15.00")
    named = labour.estimate(
        job_with(pricerow=[{**row, "quantity": "cable m: mains"}]), {"cable m: mains": 99}
    )
    assert named.materials[0].cost == Decimal("99.00")


def test_only_the_likely_hours_do_not_vary():
    found = labour.estimate(job_with(hourunit=[hours(likely=3)]), {"floor boxes": 2})
    assert found.tasks[0].hours == 6
    assert found.cautious_hours.result.amount == pytest.approx(6)
    assert found.drawn.hours.mean_error == 0


def test_low_and_high_without_likely_mean_anything_between():
    found = labour.estimate(job_with(hourunit=[hours(low=2, high=4)]), {"floor boxes": 1})
    assert found.tasks[0].hours == 3  # mean of a uniform spread
    assert found.cautious_hours.result.amount == pytest.approx(3.6, abs=0.03)  # eight tenths of the way


@pytest.mark.parametrize(
    ("row", "field", "words"),
    [
        ({"low": 4, "likely": 3, "high": 5}, "likely", "rising order"),
        ({"low": 2, "likely": 6, "high": 5}, "likely", "2, 6, 5 h"),
        ({}, "likely", "no hours are entered"),
        ({"low": 1, "likely": 2}, "high", "high is missing"),
        ({"likely": 2, "high": 3}, "low", "low is missing"),
        ({"likely": 2, "per": 0}, "per", "more than zero"),
        ({"likely": 2, "quantity": ""}, "quantity", "no quantity"),
        ({"likely": 2, "quantity": "flor boxes"}, "quantity", "did you mean 'floor boxes'?"),
    ],
)
def test_a_bad_row_is_named_left_out_and_nothing_else_is_lost(row, field, words):
    job = job_with(hourunit=[hours(**row), hours(task="Frame", quantity="framed openings", likely=3)])
    found = labour.estimate(job, {"floor boxes": 1, "framed openings": 1})
    (problem,) = found.problems
    assert problem.field == field
    assert words in problem.sentence
    assert "Cut in" in problem.sentence
    assert problem.record == ("hourunit", "hourunit-1")
    assert [t.task for t in found.tasks] == ["Frame"]
    assert [u.quantity for u in found.unpriced if u.quantity == "floor boxes"] == ["floor boxes"]
    items = labour.open_items(job, {"floor boxes": 1, "framed openings": 1})
    assert [i.record for i in items if i.state == MEND] == [("hourunit", "hourunit-1")]


@pytest.mark.parametrize(
    ("row", "field", "words"),
    [
        ({"cost": "-1"}, "cost", "below zero"),
        ({"cost": "1", "per": "0"}, "per", "more than zero"),
        ({"cost": "1", "quantity": "cable"}, "quantity", "the takeoff does not have"),
    ],
)
def test_a_bad_price_is_named(row, field, words):
    job = job_with(pricerow=[{"item": "Lid", "quantity": "floor boxes", **row}])
    found = labour.estimate(job, {"floor boxes": 2})
    assert [(p.field, words in p.sentence, "Lid" in p.sentence) for p in found.problems] == [
        (field, True, True)
    ]
    assert found.selling is None


@pytest.mark.parametrize("amount", [-1.0, float("nan"), float("inf")])
def test_a_quantity_that_cannot_be_is_said_and_left_out(amount):
    job = job_with(hourunit=[hours(likely=1), hours(task="Core", quantity="cores", likely=1)])
    found = labour.estimate(job, {"floor boxes": amount, "cores": 2})
    assert [t.task for t in found.tasks] == ["Core"]
    assert any("'floor boxes'" in n and "zero or more" in n for n in found.notes)
    assert any("'floor boxes'" in i.what for i in labour.open_items(job, {"floor boxes": amount}))


def test_zero_quantities_make_no_lines_and_are_not_counted():
    found = labour.estimate(job_with(hourunit=[hours(likely=1)]), {"floor boxes": 0})
    assert (found.tasks, found.unpriced, found.counted, found.likely_hours.result.amount) == ((), (), 0, 0)


def test_nothing_entered_gives_quantities_and_no_money():
    found = labour.estimate(
        Job(), {"floor boxes": 2, "cable m: line": 30, "labels": 2, "pulls": 1, "circuits: line": 4}
    )
    assert found.selling is None
    assert found.build_up == found.totals == ()
    assert {u.quantity: u.missing for u in found.unpriced} == {
        "floor boxes": "a price and hours",
        "cable m: line": "a price",
        "labels": "hours",
    }
    assert found.counted == 3  # pulls and circuits are only counted
    assert labour.open_items(Job(), {"floor boxes": 2}) == []  # no list was begun: not yet a gap in it


def test_hours_without_a_rate_have_no_money():
    job = job_with(
        hourunit=[hours(likely=3)], pricerow=[{"item": "Lid", "quantity": "floor boxes", "cost": "10"}]
    )
    found = labour.estimate(job, {"floor boxes": 2})
    assert found.labour == ()
    assert found.likely_hours.result.amount == 6
    assert found.selling is not None
    assert (found.selling.price, found.selling.unpriced, found.selling.counted) == (Decimal("20.00"), 1, 1)
    assert any("labour cost an hour" in n for n in found.notes)
    (item,) = [i for i in labour.open_items(job, {"floor boxes": 2}) if i.state == TO_DO]
    assert item.what.startswith("1 of 1 unpriced: floor boxes (the labour cost of an hour)")


@pytest.mark.parametrize("rate", ["0", "-5"])
def test_a_rate_that_cannot_be_is_named(rate):
    found = labour.estimate(
        job_with(hourunit=[hours(likely=3)], pricing=[{"rate": rate}]), {"floor boxes": 2}
    )
    assert [p.field for p in found.problems] == ["rate"]
    assert found.labour == ()


def priced(**pricing: object) -> labour.Estimate:
    job = job_with(
        hourunit=[
            hours(likely=3),
            hours(task="Pull", quantity="added cables m", likely="0.1", section="Cables and terminations"),
        ],
        pricerow=[
            {
                "item": "Floor box",
                "quantity": "floor boxes",
                "cost": "310.55",
                "section": "Floor boxes and panels",
            },
            {
                "item": "Cable",
                "quantity": "cable m: microphone",
                "per": "30.48",
                "cost": "28.35",
                "section": "Cables and terminations",
            },
        ],
        pricing=[
            {
                "rate": "61.50",
                "contingency": 5,
                "material_markup": 20,
                "labour_markup": 35,
                "tax": "8.25",
                **pricing,
            }
        ],
    )
    return labour.estimate(job, {"floor boxes": 3, "cable m: microphone": 200, "added cables m": 80})


def test_the_whole_build_up_by_hand():
    # material 3 x 310.55 = 931.65; 200 / 30.48 x 28.35 = 186.0236 -> 186.02
    # labour   9 h x 61.50 = 553.50; 8 h x 61.50 = 492.00
    # contingency 5 %: 46.5825 -> 46.58; 9.301 -> 9.30; 27.675 -> 27.68; 24.60
    # markup 20 % of 978.23 = 195.646 -> 195.65; of 195.32 = 39.064 -> 39.06
    # markup 35 % of 581.18 = 203.413 -> 203.41; of 516.60 = 180.81
    found = priced()
    boxes, cables = found.sections
    assert (boxes.material, boxes.labour, cables.material, cables.labour) == tuple(
        map(Decimal, ("931.65", "553.50", "186.02", "492.00"))
    )
    assert (boxes.contingency_material, cables.contingency_material) == (Decimal("46.58"), Decimal("9.30"))
    assert (boxes.contingency_labour, cables.contingency_labour) == (Decimal("27.68"), Decimal("24.60"))
    assert (boxes.markup_material, cables.markup_material) == (Decimal("195.65"), Decimal("39.06"))
    assert (boxes.markup_labour, cables.markup_labour) == (Decimal("203.41"), Decimal("180.81"))
    selling = found.selling
    assert selling is not None
    assert selling.sections == (
        ("Floor boxes and panels", Decimal("1958.47")),
        ("Cables and terminations", Decimal("931.79")),
    )
    assert selling.price == Decimal("2890.26")
    assert selling.tax == Decimal("238.45")  # 238.44645
    assert selling.total == Decimal("3128.71")
    # margin: cost with contingency 2271.33; (2890.26 - 2271.33) / 2890.26 = 21.414 %
    assert found.build_up[-1].result.amount == pytest.approx(21.414, abs=0.0005)
    assert selling.unpriced == 0


def test_every_line_of_money_shows_its_working():
    found = priced()
    for line in (*found.materials, *found.labour):
        assert line.working.result.amount == float(line.cost)
    texts = [w.as_text() for w in (*found.build_up, *found.totals)]
    assert any(t.startswith("Price before tax: 2890.26") for t in texts)
    assert any("half up" in t for t in texts)


@pytest.mark.parametrize(
    ("cost", "shown"), [("2.675", "2.68"), ("0.125", "0.13"), ("0.005", "0.01"), ("1.004", "1.00")]
)
def test_a_line_is_rounded_half_up_in_decimals(cost, shown):
    job = job_with(pricerow=[{"item": "Lid", "quantity": "floor boxes", "cost": cost}])
    assert labour.estimate(job, {"floor boxes": 1}).materials[0].cost == Decimal(shown)


def test_only_selling_amounts_can_travel():
    assert [f.name for f in fields(Selling)] == [
        "currency",
        "sections",
        "price",
        "tax_percent",
        "tax",
        "total",
        "unpriced",
        "counted",
    ]
    assert priced(show_sections="no").selling.sections == ()
    untaxed = priced(tax="").selling
    assert (untaxed.tax, untaxed.tax_percent, untaxed.total) == (None, None, untaxed.price)
    assert priced(tax="0").selling.tax == 0


@pytest.mark.parametrize(("kind", "row"), [
    ("hourunit", {"low": -1}), ("pricerow", {"per": "-2"}), ("pricing", {"contingency": -1}), ("pricing", {"tax": -1}),
    ("risk", {"chance": -1}), ("risk", {"hours": -1}), ("payment", {"percent": -1}),
    ("actual", {"hours": -2}), ("worktask", {"days": -1})])
def test_what_cannot_be_less_than_nothing_is_not_taken(kind, row):
    with pytest.raises(Problem, match="less than nothing"):
        add(Job(), kind, [row])


@pytest.mark.parametrize("field", ["material_markup", "labour_markup"])
def test_a_percentage_below_zero_is_named_and_not_used(field):
    found = priced(**{field: -1})
    assert [p.field for p in found.problems] == [field]
    without = priced(**{field: ""})
    assert found.selling == without.selling
    assert found.sections == without.sections


def test_a_risk_is_listed_and_moves_only_the_cautious_hours():
    # by hand: 25 % of (400 + 10 h x 50) = 225
    rows = {"hourunit": [hours(likely=3)], "pricing": [{"rate": "50"}]}
    calm = labour.estimate(job_with(**rows), {"floor boxes": 2})
    risky = labour.estimate(
        job_with(**rows, risk=[{"label": "Duct", "chance": 25, "hours": 10, "cost": "400"}]),
        {"floor boxes": 2},
    )
    assert risky.risks[0].expected == Decimal("225.00")
    assert risky.selling == calm.selling
    assert risky.likely_hours.result == calm.likely_hours.result
    assert risky.cautious_hours.result.amount == pytest.approx(16)  # it happens in more than two of ten draws
    assert risky.drawn.hours.mean == pytest.approx(8.5, abs=0.2)  # 6 h and a quarter of 10 h


@pytest.mark.parametrize(
    ("risk", "field"),
    [
        ({}, "chance"),
        ({"chance": 101}, "chance"),
        ({"chance": 5, "cost": "-1"}, "cost"),
    ],
)
def test_a_risk_that_cannot_be_is_named(risk, field):
    found = labour.estimate(job_with(risk=[{"label": "Duct", **risk}]), {})
    assert [(p.field, "'Duct'" in p.sentence) for p in found.problems] == [(field, True)]
    assert found.risks == ()


def test_the_rows_to_start_from_go_into_a_job_and_say_where_they_come_from():
    rows = labour.default_hour_units()
    job, ids = add(Job(), "hourunit", rows)
    assert len(ids) == len(rows) == len(load("hour_units")) - 1  # of two ways to cut in a box, the floor names one
    quantities = {
        r["quantity"] if not r["quantity"].endswith(":") else r["quantity"] + " line": 1.0 for r in rows
    }
    found = labour.estimate(job, quantities)
    assert found.problems == ()
    assert len(found.tasks) == len(rows)
    assert all("from memory" in t.working.as_text() for t in found.tasks)


@pytest.mark.parametrize(
    ("own", "table"),
    [
        ("Cut in a floor box, wood deck, no framing", "cut-in floor box, wood deck, no framing"),
        ("Cut in a floor box in a slab: saw, break, set, grout", "cut-in floor box in slab (saw, break, set, grout)"),
        ("Frame an opening with headers and hangers", "frame opening with headers and hangers"),
        (
            "Core 3 in through a 6 in slab, set-up included",
            "core 3 in dia through 6 in slab, rig, set-up incl.",
        ),
        ("EMT 1, couplings and straps included, 10 ft", "EMT 1 in"),
        ("EMT 1-1/4, couplings and straps included, 10 ft", "EMT 1-1/4 in"),
        ("Pull the first cable of a pull in conduit, 100 ft", "pull one cable in conduit"),
        ("Each added cable in the same pull, 100 ft", "each added cable in the same pull"),
        (
            "Solder a 3-pin XLR, one end, microphone",
            "3-pin XLR, solder, one end (strip, tin, solder, sleeve)",
        ),
        ("Locking loudspeaker connector, 4-pole, one end", "locking loudspeaker connector 4-pole"),
        ("75 ohm BNC, crimped, one end", "75 ohm BNC crimp"),
        ("Label both ends of a line", "label both ends"),
        ("Test a line and write it down, microphone", "analogue line test and record"),
    ],
)
def test_the_two_tables_of_hours_agree(own, table):
    a, b = load("hour_units").row(own), load("labour_units").row(table)
    assert (a["low"], a["likely"], a["high"]) == (b["low"], b["mid"], b["high"])
