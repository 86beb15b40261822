"""Which price row is the price of a quantity: beside a model's price, beside a family, and in the purchase list; by hand."""

from decimal import Decimal
from pathlib import Path

import pytest

from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import labour
from stagefloor.steps.labour.listed import row_for
from stagefloor.steps.labour.materials import Offer

DEMOS = Path(__file__).parents[2] / "demo_projects"
BOX = Offer("Two bays", "Floor boxes and panels", "floor boxes", 2.0, 1.0, Decimal(310), ("boxmodel", "m"))


def priced(*rows: dict[str, object]) -> Job:
    return add(add(Job(), "pricing", [{}])[0], "pricerow", list(rows))[0]


def costs(job: Job, quantities: dict[str, float], offered: tuple[Offer, ...] = ()) -> dict[str, Decimal]:
    return {m.item: m.cost for m in labour.estimate(job, quantities, offered).materials}


def codes(job: Job, quantities: dict[str, float], offered: tuple[Offer, ...] = ()) -> list[str]:
    return [i.what for i in labour.open_items(job, quantities, labour.estimate(job, quantities, offered), offered=offered)
            if i.code == "price-instead"]


def test_small_material_is_bought_beside_the_box_that_carries_its_price():
    """Two boxes of 310 by their model, 4.00 of screws for each: 620 + 8; as the price of the box it is asked about."""
    screws = {"item": "Screws and sealant", "quantity": "floor boxes", "cost": "4.00"}
    beside = priced({**screws, "besides": "yes"})
    assert costs(beside, {"floor boxes": 2.0}, (BOX,)) == {"Screws and sealant": 8, "Two bays": 620}
    assert codes(beside, {"floor boxes": 2.0}, (BOX,)) == []
    instead = priced(screws)
    assert costs(instead, {"floor boxes": 2.0}, (BOX,)) == {"Screws and sealant": 8}
    (words,) = codes(instead, {"floor boxes": 2.0}, (BOX,))
    assert "'Screws and sealant' stands for it at 4.00 each, and not the 310.00" in words
    # a price near the model's is the shop's own word
    own = priced({"item": "Box", "quantity": "floor boxes", "cost": "300"})
    assert (costs(own, {"floor boxes": 2.0}, (BOX,)), codes(own, {"floor boxes": 2.0}, (BOX,))) == ({"Box": 600}, [])


def test_what_has_only_small_material_is_not_priced():
    job = priced({"item": "Screws", "quantity": "floor boxes", "cost": "4", "besides": "yes"})
    (missing,) = labour.estimate(job, {"floor boxes": 2.0}).unpriced
    assert missing.missing == "a price and hours"
    assert row_for(job, "floor boxes") is None


def test_a_row_of_a_family_counts_what_no_row_of_its_own_names():
    """90 openings at 6.80 and 7 for video at 12: 612 + 84, and the purchase list asks the same rows."""
    quantities = {"openings: microphone": 90.0, "openings: video": 7.0, "openings: mains": 19.0}
    job = priced({"item": "Connector", "quantity": "openings:", "cost": "6.80"},
                 {"item": "BNC", "quantity": "openings: video", "cost": "12"})
    assert costs(job, quantities) == {"Connector": 612, "BNC": 84}
    assert [row_for(job, q).item for q in quantities if q != "openings: mains"] == ["Connector", "BNC"]
    # a row that can't be used takes nothing away, and two of one name are two things that are bought
    faulty = set_fields(job, "pricerow", "pricerow-3", {"cost": ""})
    assert costs(faulty, quantities) == {"Connector": Decimal("659.60")}
    two = add(job, "pricerow", [{"item": "Isolator", "quantity": "openings: video", "cost": "9"}])[0]
    assert costs(two, quantities) == {"Connector": 612, "BNC": 84, "Isolator": 63}


def test_small_material_that_takes_the_place_of_its_family_is_asked_about():
    """90 and 7 openings at 6.80 and dust caps at 0.90 on the 90: 47.60 + 81; beside it 659.60 + 81."""
    quantities = {"openings: microphone": 90.0, "openings: video": 7.0, "cable m: video": 100.0}
    connector = {"item": "Connector", "quantity": "openings:", "cost": "13.60", "per": "2"}
    cap = {"item": "Dust cap", "quantity": "Openings: microphone", "cost": "0.90"}
    job = priced(connector, cap)
    assert costs(job, quantities) == {"Connector": Decimal("47.60"), "Dust cap": 81}
    (words,) = codes(job, quantities)
    assert words == ("openings: microphone: 'Dust cap' stands for it at 0.90 each, and not the 6.80 of its family, "
                     "'Connector'")
    beside = priced(connector, {**cap, "besides": "yes"})
    assert (costs(beside, quantities), codes(beside, quantities)) == ({"Connector": Decimal("659.60"), "Dust cap": 81}, [])
    # an own price near the family's or above it is the shop's own word: 6.80 / 1.5 is 4.53
    for cost, asked in (("4.50", 1), ("4.60", 0), ("12", 0), ("", 0)):
        assert len(codes(priced(connector, {**cap, "cost": cost}), quantities)) == asked
    assert codes(priced(connector, cap, {**cap, "item": "Insert", "cost": "5.90"}), quantities) == []  # together 6.80
    # what is not counted is not asked about
    assert codes(job, {"openings: video": 7.0}) == []
    foot = priced({"item": "Coax", "quantity": "cable m:", "cost": "60.96", "per": "30.48"},
                  {"item": "Tape", "quantity": "cable m: video", "cost": "1", "per": "30.48"})
    (words,) = codes(foot, quantities)
    assert "at 0.01 a foot, and not the 0.61 of its family, 'Coax'" in words  # 1 / 100 and 60.96 / 100


@pytest.mark.parametrize(("besides", "price"), [("yes", "950.34"), ("no", "507.04")])
def test_the_smallest_demo_with_screws(besides, price):
    """944.62 with its box of 310. Material of that section with 10 % contingency and 30 % markup: 330.40 + 33.04 + 109.03
    is 472.47; with 4.00 of screws beside it 334.40 + 33.44 + 110.35 = 478.19, 5.72 more; with the screws in place of the
    box 24.40 + 2.44 + 8.05 = 34.89, 437.58 less.
    """
    job = store.read(DEMOS / "one_box").job
    row = next(r for r in job.tables["pricerow"].values() if r.quantity == "floor boxes")
    job = set_fields(job, "pricerow", row.id, {"cost": ""})
    box = next(b for b in compute(job).boxes if b.layout is not None)
    job = set_fields(job, "boxmodel", box.layout.model.id, {"cost": "310"})
    assert compute(job).estimate.selling.total == Decimal("944.62")
    job = add(job, "pricerow", [{"item": "Screws and sealant, floor boxes", "quantity": "floor boxes", "cost": "4.00",
                                 "section": "Floor boxes and panels", "besides": besides}])[0]
    found = compute(job)
    assert found.estimate.selling.total == Decimal(price)
    assert any(i.code == "price-instead" for i in found.items) == (besides == "no")


def test_the_rows_of_the_demos_are_near_their_models():
    for name in ("one_box", "quillhaven_playhouse", "ondry_hall"):
        found = compute(store.read(DEMOS / name).job)
        assert [i.what for i in found.items if i.code == "price-instead"] == [], name
