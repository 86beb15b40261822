"""The contract sum: an issue, orders on top of it, their tax, and payments that add up to it; by hand beside each check."""

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.entry.labour_changes import told
from stagefloor.job.commercial import Change, ChangeLine, IssuedPrice
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import labour
from stagefloor.steps.labour import changes
from stagefloor.steps.labour.materials import Offer

LID = {"item": "Box", "quantity": "floor boxes", "cost": "300", "section": "Floor boxes and panels"}
Amounts = dict[str, float]


def shop(**pricing: object) -> Job:
    return add(add(Job(), "pricerow", [LID])[0], "pricing", [pricing])[0]


def issue(job: Job, quantities: Amounts, label: str = "Issue 1") -> Job:
    return changes.issued(job, labour.estimate(job, quantities), quantities, label, "2026-01-01")


def order_of_what_changed(job: Job, quantities: Amounts, state: str = "accepted") -> Job:
    job = changes.as_change_order(job, labour.since_issue(job, quantities)[1], "CO")
    return set_fields(job, "change", job.all(Change)[-1].id, {"state": state})


def order(job: Job, boxes: float, **fields: object) -> Job:
    job, (change,) = add(job, "change", [{"label": "CO", "what": "change order", "state": "accepted", **fields}])
    return add(job, "changeline", [{"change": change, "quantity": "floor boxes", "amount": boxes}])[0]


def contract(job: Job, quantities: Amounts) -> Decimal:
    base = labour.estimate(job, quantities)
    return labour.contract_sum(job, base, labour.priced_changes(job, quantities, base))


def test_an_order_made_of_what_was_drawn_counts_once() -> None:
    """Two boxes of 300 are issued, a third is drawn: 600 + 300 = 900, in the contract and in its payments."""
    job = order_of_what_changed(issue(shop(), {"floor boxes": 2}), {"floor boxes": 3})
    assert contract(job, {"floor boxes": 3}) == 900
    # what is drawn and not agreed is no part of the contract
    offered = set_fields(job, "change", job.all(Change)[0].id, {"state": "offered"})
    assert contract(offered, {"floor boxes": 3}) == 600
    assert contract(issue(shop(), {"floor boxes": 2}), {"floor boxes": 3}) == 600


def test_without_an_issue_the_contract_is_the_price_with_what_was_accepted() -> None:
    assert contract(order(shop(), 1), {"floor boxes": 2}) == 900
    assert contract(order(shop(), 1, state="declined"), {"floor boxes": 2}) == 600


def test_a_price_that_nothing_was_typed_into_is_no_issue() -> None:
    job = add(order(shop(), 1), "issuedprice", [{"label": "to come"}])[0]
    assert contract(job, {"floor boxes": 2}) == 900
    assert labour.since_issue(job, {"floor boxes": 2}) == (None, [])


@pytest.mark.parametrize("metres", [129.312816, 60.96, 1234.56789])
def test_what_is_taken_away_is_held_against_the_issue(metres: float) -> None:
    """A row that the program wrote itself is no row to mend; 3 boxes issued, none drawn: 900 - 900."""
    job = issue(shop(), {"floor boxes": 3, "labels": 4, "assemblies: video": 2, "cable m: video": metres})
    job = order_of_what_changed(job, {})
    assert changes.faults(job, {}) == []
    assert contract(job, {}) == 0
    more = order(job, -4)
    assert [p.sentence for p in changes.faults(more, {})] == [
        "Line of 'CO': it takes away 4 of 0 floor boxes; take away at most what is there."]


def test_an_order_that_a_later_issue_holds_counts_once() -> None:
    """600 issued; a third box drawn and ordered, 900; issued again at 900 with the third box in it: 900, not 1,200."""
    drawn = {"floor boxes": 3.0}
    job = issue(order_of_what_changed(issue(shop(), {"floor boxes": 2}), drawn), drawn, "Issue 2")
    assert contract(job, drawn) == 900
    assert changes.faults(job, drawn) == []
    # a fourth after it counts on top
    four = {"floor boxes": 4.0}
    assert contract(order_of_what_changed(job, four), four) == 1200
    # an order that was agreed and never drawn is not in the new issue, and stays on top of it
    asked = issue(order(issue(shop(), {"floor boxes": 2}), 1), {"floor boxes": 2}, "Issue 2")
    assert contract(asked, {"floor boxes": 2}) == 900
    # the user may say otherwise
    told = set_fields(asked, "issuedprice", asked.all(IssuedPrice)[-1].id, {"holds": asked.all(Change)[0].name})
    assert contract(told, {"floor boxes": 2}) == 600


def test_boxes_priced_by_their_model_go_out_of_the_contract_at_their_price() -> None:
    """5 boxes of 300 by the model's price issued, 3 drawn: 1,500 - 600 = 900."""
    def offers(n: float) -> tuple[Offer, ...]:
        return (Offer("Box", "Floor boxes and panels", "floor boxes", n, 1.0, Decimal(300), ("boxmodel", "m")),)

    job = add(Job(), "pricing", [{}])[0]
    job = changes.issued(job, labour.estimate(job, {"floor boxes": 5.0}, offers(5)), {"floor boxes": 5.0}, "I", "")
    now = {"floor boxes": 3.0}
    job = order_of_what_changed(job, now)
    base = labour.estimate(job, now, offers(3))
    (found,) = labour.priced_changes(job, now, base, offers(3))
    assert (found.price, found.missing) == (-600, ("floor boxes",))  # hours are not entered, and said
    assert labour.contract_sum(job, base, [found]) == 900
    moved = labour.price_move(job, base, offers(3))
    assert moved is not None
    assert (moved.moved, moved.counted, moved.terms) == (-600, -600, 0)
    # a third box without a model is unpriced, before the issue and after
    part = labour.estimate(job, now, offers(2))
    assert [u.missing for u in part.unpriced] == ["a price for 1 of 3 and hours"]


# --- tax

WHOLE, MATERIAL, INSIDE = ("on the whole price", "on material at its selling price",
                           "paid by the shop on material, not shown")


@pytest.mark.parametrize(("boxes", "total"), [(1, "990.00"), (-1, "330.00"), (-2, "0.00")])
def test_tax_stands_on_a_change_and_comes_back_with_a_credit(boxes: float, total: str) -> None:
    """10 % tax: 600 + 60; a box more 300 + 30, a box less gives 330 back."""
    job = order(shop(tax="10"), boxes)
    assert contract(job, {"floor boxes": 2}) == Decimal(total)
    assert contract(order(issue(shop(tax="10"), {"floor boxes": 2}), boxes), {"floor boxes": 2}) == Decimal(total)


@pytest.mark.parametrize(("rule", "tax"), [
    ({"tax_on": MATERIAL}, "45.00"),  # 300 x 1.5 = 450 of material
    ({"tax_on": INSIDE}, "0"), ({"exempt": "yes", "exempt_paper": "E-1"}, "0"), ({}, "59.40"),
    # direct cost 300 + 120 = 420, at most 10 % on it: 462; a tenth of that
    ({"cap": 10}, "46.20"),
    # 450 of 594 is material, of the 462 as well: 45 x 462 / 594 = 35.00
    ({"cap": 10, "tax_on": MATERIAL}, "35.00")])
def test_the_tax_of_a_change_goes_by_the_rule_of_the_job(rule: dict[str, object], tax: str) -> None:
    """Material 300 x 1.5 = 450 and 3 h x 40 x 1.2 = 144: 594 before tax, tax 10 %."""
    cap = {"cap": rule.pop("cap")} if "cap" in rule else {}
    job = shop(tax="10", material_markup="50", labour_markup="20", rate="40", **rule)
    job = add(job, "hourunit", [{"task": "Cut in", "quantity": "floor boxes", "likely": 3,
                                 "section": "Floor boxes and panels"}])[0]
    job, quantities = order(job, 1, **cap), {"floor boxes": 2.0}
    base = labour.estimate(job, quantities)
    (found,) = labour.priced_changes(job, quantities, base)
    assert found.tax == Decimal(tax)
    assert base.selling is not None
    assert labour.contract_sum(job, base, [found]) == base.selling.total + found.price + Decimal(tax)


def test_the_sum_of_the_contract_leads_to_its_working() -> None:
    job = order(issue(shop(tax="10"), {"floor boxes": 2}), 1)
    base = labour.estimate(job, {"floor boxes": 2})
    working = labour.contract_working(job, base, labour.priced_changes(job, {"floor boxes": 2}, base))
    assert working is not None
    assert (working.result.amount, [v.amount for v in working.inputs]) == (990, [660, 330])
    assert labour.contract_working(Job(), labour.estimate(Job(), {}), []) is None


# --- payments

def payments(*shares: object) -> Job:
    return add(Job(), "payment", [{"label": str(i), "percent": s} for i, s in enumerate(shares)])[0]


@pytest.mark.parametrize(("total", "shares", "amounts"), [
    ("1000.01", (50, 50), ("500.01", "500.00")),  # 500.005 is 500.01, the last is what is left
    ("1000.01", ("33.3", "33.3", "33.4"), ("333.00", "333.00", "334.01")),
    ("0.01", (50, 50), ("0.01", "0.00")), ("0.05", (10,) * 10, ("0.01",) * 5 + ("0.00",) * 5),
    ("100", (60, 40, ""), ("60.00", "40.00", "0.00")), ("100", (50, 50, 0), ("50.00", "50.00", "0.00"))])
def test_shares_that_reach_the_whole_pay_the_whole(total: str, shares: tuple[object, ...], amounts: tuple[str, ...]) -> None:
    found, problems = labour.schedule(payments(*shares), Decimal(total))
    assert problems == []
    assert [p.amount for p in found] == [Decimal(a) for a in amounts]


def test_shares_that_miss_the_whole_by_little_are_named() -> None:
    for shares, words in (((50, "49.99"), "add up to 99.99 %"), ((50, "50.01"), "more than 100 %")):
        (problem,) = labour.schedule(payments(*shares), Decimal("1.00"))[1]  # where a cent shows nothing
        assert words in problem.sentence


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**9), st.lists(st.integers(0, 10_000), min_size=1, max_size=8))
def test_payments_of_any_shares_add_up(cents: int, cuts: list[int]) -> None:
    ends = [0, *sorted(cuts), 10_000]
    total = Decimal(cents) / 100
    found, problems = labour.schedule(payments(*(f"{(b - a) / 100:.2f}" for a, b in pairwise(ends))), total)
    assert problems == []
    assert sum((p.amount for p in found), Decimal(0)) == total
    assert all(p.amount >= 0 for p in found)


def test_a_change_line_is_written_short() -> None:
    """A third of a metre more or less is no news; lengths are written to the thousandth."""
    job = issue(shop(), {"floor boxes": 1, "cable m: video": 100.0})
    made = order_of_what_changed(job, {"floor boxes": 1, "cable m: video": 100.0 + 1 / 3})
    assert [str(r.amount) for r in made.all(ChangeLine)] == ["1.094 ft"]  # 0.3333 m / 0.3048 = 1.0936 ft


def test_the_page_says_the_sum_once_and_what_stands_in_an_issue_already() -> None:
    """600 + 60 issued; a third box drawn and accepted: 300 + 30 more, 990; issued again with it: 990."""
    job = add(add(shop(tax="10"), "box", [{"label": "A"}, {"label": "B"}])[0], "payment", [{"label": "All"}])[0]
    two = compute(job)
    job = add(changes.issued(job, two.estimate, two.quantities, "Issue 1", ""), "box", [{"label": "C"}])[0]
    three = compute(order_of_what_changed(job, compute(job).quantities))
    page = told(three)
    assert "Sum of the contract: USD 990.00: the total of &#x27;Issue 1&#x27;, 660.00, and 1 accepted change." in page
    assert ("330.00" in page, [p.amount for p in three.payments]) == (True, [Decimal("990.00")])
    assert three.contract_working in three.workings()
    again = compute(changes.issued(three.job, three.estimate, three.quantities, "Issue 2", ""))
    page = told(again)
    assert "Sum of the contract: USD 990.00, the total of &#x27;Issue 2&#x27;." in page
    assert "accepted, in &#x27;Issue 2&#x27; already" in page
