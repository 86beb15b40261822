"""Burden, waste, tax, contingency, changes, payments, the page of the price: worked by hand beside each check."""

import random
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from stagefloor.core.open_items import TO_DO
from stagefloor.job import store
from stagefloor.job.commercial import Change, ChangeLine
from stagefloor.job.edit import add, set_fields
from stagefloor.job.labour import HourUnit
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.steps import labour
from stagefloor.steps.labour import changes
from stagefloor.steps.labour.materials import Offer
from stagefloor.steps.labour.rows import apportioned

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
CENT = Decimal("0.01")


def job_with(**tables: list[dict[str, object]]) -> Job:
    job = Job()
    for kind, rows in tables.items():
        job, _ = add(job, kind, rows)
    return job


BOXES = {"task": "Cut in", "quantity": "floor boxes", "low": 2, "likely": 3, "high": 4, "section": "Floor boxes and panels"}
LID = {"item": "Box", "quantity": "floor boxes", "cost": "300", "section": "Floor boxes and panels"}
COAX = {"item": "Coax", "quantity": "cable m: video", "per": "30.48", "cost": "40", "section": "Cables and terminations"}


def test_the_rate_is_built_from_wages_and_burdens():
    """Remodelling trade magazine: nine burdens of 42.15 % on 20.00 an hour: 28.43."""
    parts = [7.65, 1, 10, 12, 4, 2, 2, 1, 2.5]
    found = labour.estimate(job_with(crewrole=[{"label": "Installer", "people": 1, "wage": "20.00"}],
                                     burden=[{"label": str(p), "percent": p} for p in parts]), {})
    assert found.crew.rate == Decimal("28.43")
    assert found.crew.people == 1
    # a lead at 30 and a helper at 20: mean 25 an hour, 25 x 1.4215 = 35.5375
    crew = [{"label": "Lead", "wage": "30"}, {"label": "Helper", "wage": "20"}]
    mixed = job_with(crewrole=crew, burden=[{"label": str(p), "percent": p} for p in parts])
    assert labour.estimate(mixed, {}).crew.rate == Decimal("35.54")
    typed, _ = add(mixed, "pricing", [{"rate": "50"}])
    assert labour.estimate(typed, {}).crew.rate == 50  # what is entered wins
    half, _ = add(job_with(crewrole=[*crew, {"label": "Apprentice"}]), "hourunit", [BOXES])
    found = labour.estimate(half, {"floor boxes": 1})
    assert found.crew.rate is None  # a wage is missing: no rate is made up
    assert any("Apprentice" in p.sentence for p in found.problems)


def test_conditions_add_up_and_concern_their_work():
    # cut in 3 h: occupied 15 % and heritage 25 % are 40 %, not 43.75 %: low 2 x 1.2, likely 3 x 1.4, high 4 x 1.8
    job = job_with(hourunit=[BOXES, {"task": "Label", "quantity": "labels", "likely": 1, "section": "Other"}],
                   condition=[{"what": "occupied building"}, {"what": "heritage building"}])
    cut, label = labour.estimate(job, {"floor boxes": 1, "labels": 1}).tasks
    assert (cut.low, cut.likely, cut.high) == (pytest.approx(2.4), pytest.approx(4.2), pytest.approx(7.2))
    assert label.likely == pytest.approx(1.15)
    assert "added up, not compounded" in cut.working.as_text()
    own = job_with(hourunit=[BOXES], condition=[{"what": "night work", "likely": 50, "work": "Raceways"}])
    assert labour.estimate(own, {"floor boxes": 1}).tasks[0].likely == 3
    wrong = job_with(hourunit=[BOXES], condition=[{"what": "other", "low": 30, "likely": 20}])
    found = labour.estimate(wrong, {"floor boxes": 1})
    assert found.tasks[0].likely == 3
    assert "rising order" in found.problems[0].sentence


@pytest.mark.parametrize(("form", "total"), [("off", 800), ("unit form", 534.6), ("cumulative-average form", 409.6)])
def test_learning_is_off_unless_chosen_and_both_forms_are_the_published_ones(form, total):
    """Cost-estimating textbook page and its contrast: 100 h, 80 %, 8 units: 409.6 cumulative average, 534.6 unit."""
    job = job_with(hourunit=[{**BOXES, "low": "", "likely": 100, "high": "", "learning": 80}], pricing=[{"learning": form}])
    found = labour.estimate(job, {"floor boxes": 8})
    assert found.tasks[0].hours == pytest.approx(Decimal(str(total)), abs=Decimal("0.05"))


def test_supervision_counts_the_hours_of_the_other_tasks():
    job = job_with(hourunit=[{"task": "Supervise", "quantity": "hours of work", "likely": "0.1"}, BOXES])
    assert [t.hours for t in labour.estimate(job, {"floor boxes": 10}).tasks] == [3, 30]


def test_waste_is_bought_and_priced():
    # 100 m of coax and 10 % waste: 110 / 30.48 x 40 = 144.357
    job = job_with(pricerow=[COAX, LID], pricing=[{"waste": 10}])
    coax, box = labour.estimate(job, {"cable m: video": 100, "floor boxes": 2}).materials
    assert (coax.cost, coax.bought) == (Decimal("144.36"), pytest.approx(110))
    assert box.cost == 600  # the job's waste is for cable and raceway
    own = job_with(pricerow=[{**COAX, "waste": 0}, {**LID, "waste": 5}], pricing=[{"waste": 10}])
    assert [m.cost for m in labour.estimate(own, {"cable m: video": 30.48, "floor boxes": 2}).materials] == [40, 630]


def test_prices_of_models_and_cables_count_where_no_row_names_them():
    offers = (Offer("Two-bay box", "Floor boxes and panels", "floor boxes", 2, 1, Decimal(310), ("boxmodel", "m1")),)
    found = labour.estimate(job_with(pricing=[{}]), {"floor boxes": 2}, offers)
    assert [(m.item, m.cost) for m in found.materials] == [("Two-bay box", Decimal("620.00"))]
    assert [u.missing for u in found.unpriced] == ["hours"]
    short = labour.estimate(job_with(pricing=[{}]), {"floor boxes": 3}, (replace(offers[0], amount=2),))
    assert [u.missing for u in short.unpriced] == ["a price for 1 of 3 and hours"]  # no model, no price
    named = labour.estimate(job_with(pricerow=[LID]), {"floor boxes": 2}, offers)
    assert [m.item for m in named.materials] == ["Box"]  # the shop's row wins


def test_a_model_without_a_price_stays_unpriced():
    results = compute(store.read(DEMOS / "ondry_hall").job)
    assert results.offers == ()
    assert results.estimate.selling is None
    five = next(b for b in results.boxes if b.layout is not None)
    job = set_fields(add(results.job, "pricing", [{"rate": "50"}])[0], "boxmodel", five.layout.model.id, {"cost": "400"})
    begun = compute(job)
    have = sum(b.layout is not None and b.layout.model.id == five.layout.model.id for b in begun.boxes
               if b.box.surface == "floor")
    all_boxes = int(begun.quantities["floor boxes"])
    assert 0 < have < all_boxes
    assert sum(m.cost for m in begun.estimate.materials if m.quantity == "floor boxes") == 400 * have
    missing = {u.quantity: u.missing for u in begun.estimate.unpriced}["floor boxes"]
    assert missing == f"a price for {all_boxes - have} of {all_boxes} and hours"


TAXED = {"tax": 10, "material_markup": 50, "labour_markup": 20, "rate": "40"}


@pytest.mark.parametrize(("rule", "tax", "price", "total"), [
    # material 300 x 1.5 = 450, labour 3 h x 40 x 1.2 = 144
    ({}, "59.40", "594.00", "653.40"),
    ({"tax_on": "on material at its selling price"}, "45.00", "594.00", "639.00"),
    # the shop pays 30 on 300: (330) x 1.5 = 495
    ({"tax_on": "paid by the shop on material, not shown"}, None, "639.00", "639.00"),
    ({"exempt": "yes", "exempt_paper": "E-1"}, "0.00", "594.00", "594.00"),
    ({"exempt": "yes", "tax_on": "paid by the shop on material, not shown"}, None, "594.00", "594.00")])
def test_tax_by_the_rule_of_the_job(rule, tax, price, total):
    job = job_with(hourunit=[BOXES], pricerow=[LID], pricing=[{**TAXED, **rule}])
    found = labour.estimate(job, {"floor boxes": 1})
    assert found.selling is not None
    assert found.selling.tax == (None if tax is None else Decimal(tax))
    assert (found.selling.price, found.selling.total) == (Decimal(price), Decimal(total))
    open_codes = {i.code for i in labour.open_items(job, {"floor boxes": 1}, found) if i.state == TO_DO}
    assert ("exemption-open" in open_codes) == (bool(rule.get("exempt")) and "exempt_paper" not in rule)


def test_contingency_as_p80_minus_base():
    # one uniform task of 2 to 4 h at 100: P80 is 2 + 0.8 x 2 = 3.6 h, 360; base 300; contingency about 60, whole money
    row = {**BOXES, "likely": ""}
    job = job_with(hourunit=[row], pricing=[{"rate": "100", "contingency_by": "P80 minus base"}])
    found = labour.estimate(job, {"floor boxes": 1})
    contingency = sum(s.contingency_labour for s in found.sections)
    assert contingency == contingency.to_integral_value()
    assert float(contingency) == pytest.approx(60, abs=1 + 4 * found.drawn.money.cautious_error)
    assert found.selling.price == 300 + contingency
    certain = labour.estimate(job_with(hourunit=[{**BOXES, "low": "", "high": ""}], pricing=[
        {"rate": "100", "contingency_by": "P80 minus base"}]), {"floor boxes": 1})
    assert certain.selling.price == 300


def test_material_moves_the_cost_by_its_own_spread():
    # cost 100, 90 to 130: P80 of the triangle 130 - sqrt(0.2 x 40 x 30) = 114.51
    job = job_with(pricerow=[{**LID, "cost": 100, "low": 90, "high": 130}])
    money = labour.estimate(job, {"floor boxes": 1}).drawn.money
    assert money.cautious == pytest.approx(114.51, abs=4 * money.cautious_error + 0.01)
    by_percent = job_with(pricerow=[{**LID, "cost": 100}], pricing=[{"price_low": 10, "price_high": 30}])
    assert labour.estimate(by_percent, {"floor boxes": 1}).drawn.money.cautious == pytest.approx(money.cautious)


def test_a_concealed_condition_by_the_piece():
    # 50 % chance of 2 to 6 joists, likely 4; 1 h at 50 and 30 of wood each: 0.5 x 4 x 80 = 160
    risk = {"label": "Rotten joists", "chance": 50, "low": 2, "likely": 4, "high": 6, "hours": 1, "cost": 30,
            "unit_price": "70"}
    found = labour.estimate(job_with(risk=[risk], pricing=[{"rate": "50"}]), {})
    assert (found.risks[0].expected, found.risks[0].piece) == (Decimal("160.00"), 80)
    # the client pays 70 of the 80: 0.5 x 4 x 10 = 20 are left to the shop
    assert found.drawn.money.mean == pytest.approx(20, abs=4 * found.drawn.money.mean_error)
    assert "less than the 80.00 that a piece costs" in found.risks[0].working.as_text()


def test_a_split_sum_adds_up_to_the_cent():
    rng = random.Random(4)
    for _ in range(300):
        total = Decimal(rng.randrange(0, 10**7)) / 100
        weights = [Decimal(rng.randrange(0, 10**6)) / 100 for _ in range(rng.randrange(1, 12))] + [Decimal(1)]
        parts = apportioned(total, weights)
        assert sum(parts) == total
        assert all(abs(p - total * w / sum(weights)) <= CENT for p, w in zip(parts, weights, strict=True))


# --- changes

def job_for_changes(**pricing: object) -> tuple[Job, dict[str, float], labour.Estimate]:
    job = job_with(hourunit=[BOXES, {"task": "Go there", "quantity": "trips", "likely": 2}], pricerow=[LID, COAX],
                   pricing=[{"rate": "50", "material_markup": 10, "labour_markup": 10, **pricing}])
    quantities = {"floor boxes": 4.0, "cable m: video": 60.96, "trips": 1.0}
    return job, quantities, labour.estimate(job, quantities)


def with_change(job: Job, lines: dict[str, object], **fields: object) -> Job:
    job, (change,) = add(job, "change", [fields])
    return add(job, "changeline", [{"change": change, "quantity": q, "amount": a} for q, a in lines.items()])[0]


def test_a_change_is_the_job_priced_again():
    job, quantities, base = job_for_changes()
    # one box less and 100 ft more of coax: -(300 + 3 x 50) x 1.1 + 40 x 1.1 = -451
    job = with_change(job, {"floor boxes": -1, "cable m: video": 100}, label="CO 1", what="change order", state="accepted")
    (found,) = labour.priced_changes(job, quantities, base)
    assert found.price == Decimal("-451.00")
    assert found.hours == -3
    assert dict(found.lines)["cable m: video"] == pytest.approx(30.48)
    assert labour.contract_sum(job, base, [found]) == base.selling.total - 451


@pytest.mark.parametrize(("cap", "price"), [("", 660), (5, 630), (15, 660)])
def test_the_cap_of_a_contract(cap, price):
    # two boxes 600 at 10 % markup; direct cost 600: 5 % cap gives 630, 15 % leaves 660
    job, quantities, base = job_for_changes(rate="")
    job = with_change(job, {"floor boxes": 2}, label="CO", what="change order", cap=cap)
    assert labour.priced_changes(job, quantities, base)[0].price == price


def test_own_work_under_a_published_cap():
    """State building commission supplement: 15 % on own work of 10 000: 11 500; no cap on a credit."""
    job = job_with(pricerow=[{**LID, "cost": "1000"}], pricing=[{"material_markup": 40}])
    more = with_change(job, {"floor boxes": 10}, label="CO", what="change order", cap=15)
    base = labour.estimate(more, {"floor boxes": 20})
    assert labour.priced_changes(more, {"floor boxes": 20}, base)[0].price == 11500
    less = with_change(job, {"floor boxes": -10}, label="CO", what="change order", cap=15)
    assert labour.priced_changes(less, {"floor boxes": 20}, base)[0].price == -14000


def test_options_are_priced_together_as_a_whole():
    # each option needs the same second trip at 2 h x 50 x 1.1 = 110; together one trip too many is in the sum of both
    job, quantities, base = job_for_changes()
    for label, line in (("A", "floor boxes"), ("B", "cable m: video")):
        job = with_change(job, {line: 1 if label == "A" else 100}, label=label)
    together = labour.combined(job, quantities, base)
    alone = {c.change.label: c.price for c in labour.priced_changes(job, quantities, base)}
    assert alone == {"A": Decimal("495.00"), "B": Decimal("44.00")}
    assert [(c.labels, c.price) for c in together] == [(("A", "B"), Decimal("539.00"))]
    for label in ("C", "D"):
        job = with_change(job, {"trips": 1}, label=label)
    assert [len(c.labels) for c in labour.combined(job, quantities, base)] == [4]
    declined = set_fields(job, "change", job.all(Change)[3].id, {"state": "declined"})
    assert [len(c.labels) for c in labour.combined(declined, quantities, base)] == [2, 2, 2, 3]


def test_now_or_later_with_the_shops_own_multiplier():
    job, quantities, base = job_for_changes(later=5)
    job = with_change(job, {"cable m: video": 100}, label="Spare", what="now or later")
    (found,) = labour.priced_changes(job, quantities, base)
    assert (found.price, found.later, found.even) == (44, 220, 20)  # cheaper now if the chance is above one in five
    none = set_fields(job, "pricing", job.pricing().id, {"later": ""})
    assert labour.priced_changes(none, quantities, base)[0].later is None  # no multiplier is made up


def test_a_change_that_takes_away_too_much_or_names_nothing_is_asked_back():
    job, quantities, _ = job_for_changes()
    job = with_change(job, {"floor boxes": -5, "flor boxes": 1}, label="CO")
    sentences = [p.sentence for p in changes.faults(job, quantities)]
    assert any("takes away 5 of 4" in s for s in sentences)
    assert any("did you mean 'floor boxes'?" in s for s in sentences)


def test_a_moved_price_is_split_into_what_is_counted_and_what_a_thing_costs():
    """By hand, 10 % markup on all: 4 boxes of 300 and 3 h, coax 80, a trip of 2 h at 50 an hour: 1980 x 1.1 = 2178.

    Now 5 boxes at 60 an hour: (5 x 480 + 80 + 120) x 1.1 = 2860; the four boxes at 60: (4 x 480 + 200) x 1.1 = 2332.
    """
    job, quantities, base = job_for_changes()
    assert labour.price_move(job, base) is None
    job = changes.issued(job, base, quantities, "Offer A", "2026-03-04")
    still = labour.price_move(job, base)
    assert (still.moved, still.counted, still.terms, still.sections) == (0, 0, 0, ())
    job = set_fields(job, "pricing", job.pricing().id, {"rate": "60"})
    found = labour.price_move(job, labour.estimate(job, {**quantities, "floor boxes": 5.0}))
    assert (found.moved, found.counted, found.terms) == (682, 528, 154)
    assert found.sections == (("Floor boxes and panels", Decimal("528.00")),)
    assert found.working.result.amount == 682


def test_changes_since_an_issue_become_a_change_order():
    job, quantities, base = job_for_changes()
    job = changes.issued(job, base, quantities, "Offer A", "2026-03-04")
    assert labour.since_issue(job, quantities)[1] == []
    later = {**quantities, "floor boxes": 5.0, "cable m: video": 91.44}
    issue, found = labour.since_issue(job, later)
    assert issue.price == base.selling.price
    assert dict(found) == {"floor boxes": 1, "cable m: video": pytest.approx(30.48)}
    made = changes.as_change_order(job, found, "CO 1")
    assert {r.quantity: str(r.amount) for r in made.all(ChangeLine)} == {
        "floor boxes": "1.0", "cable m: video": "100 ft"}
    assert labour.priced_changes(made, quantities, base)[0].price == labour.estimate(job, later).selling.price - \
        base.selling.price


# --- payments

def test_payments_add_up_to_the_total_and_retainage_is_kept():
    job = job_with(payment=[{"label": "Deposit", "percent": 33.3}, {"label": "Progress", "percent": "33.3"},
                            {"label": "Final"}], pricing=[{"retainage": 10}])
    found, problems = labour.schedule(job, Decimal("1000.01"))
    assert problems == []
    # 333.00333 -> 333.00 twice; the rest 334.01; a tenth kept of each
    *parts, released = found
    assert [p.amount for p in parts] == [Decimal("333.00"), Decimal("333.00"), Decimal("334.01")]
    assert sum(p.paid + p.kept for p in parts) == Decimal("1000.01")
    assert released.paid == Decimal("100.00")  # 33.30 + 33.30 + 33.40
    assert found[0].kept == Decimal("33.30")


@pytest.mark.parametrize(("shares", "words"), [((60, 50), "more than"), ((60, 30), "is in no payment"),
                                               (("", 50), "only the last one"), ((101, ""), "from 0 to 100")])
def test_payments_that_cannot_be_are_named(shares, words):
    job = job_with(payment=[{"label": str(s), "percent": s} for s in shares])
    assert any(words in p.sentence for p in labour.schedule(job, Decimal(100))[1])


def test_an_application_for_payment():
    """Application-for-payment form, lines 4 to 8: 40 000; 26 000 done; 10 %; 13 500 before: due 9 900, balance 16 600."""
    job = job_with(pricing=[{"retainage": 10}], application=[
        {"label": "1", "completed": "15000"}, {"label": "2", "completed": "20000", "stored": "6000"}])
    first, second = labour.applications(job, Decimal(40_000))[0]
    assert first.result.amount == 13_500
    assert (second.result.amount, [v.amount for v in second.also]) == (9_900, [23_400, 16_600])
    over = add(job, "application", [{"label": "3", "completed": "50000"}])[0]
    assert "contract sum" in labour.applications(over, Decimal(40_000))[1][0].sentence


# --- the page

@pytest.fixture(scope="module")
def playhouse() -> Results:
    return compute(store.read(DEMOS / "quillhaven_playhouse").job)


def test_the_demos_price_from_quantities_to_total(playhouse):
    """Each line worked again from the job's own rows in decimal, then each sum from the lines: to the cent."""
    page, job = labour.price_page(playhouse.estimate), playhouse.job
    assert page is not None
    pricing, rate = job.pricing(), playhouse.estimate.crew.rate
    count = 0
    total = Decimal(0)
    for section in page.sections:
        for line in section.lines:
            count += 1
            names = [q for q in playhouse.quantities if q.lower() == line.quantity or (
                line.quantity.endswith(":") and q.startswith(line.quantity) and not q.endswith(": mains"))]
            assert names, line
            assert line.amount == pytest.approx(sum(playhouse.quantities[q] for q in names))
            if line.becomes:
                hours = Decimal(line.becomes.split(" h at ")[0])
                assert line.cost == (hours * rate).quantize(CENT, ROUND_HALF_UP)
        steps = dict(section.steps)
        assert sum(x.cost for x in section.lines) == steps.get("Material", 0) + steps.get("Labour", 0)
        assert section.price == sum(steps.values())
        total += section.price
        if pricing.contingency_by == "the percentage":
            share = Decimal(repr(pricing.contingency)) / 100
            for what in ("Material", "Labour"):
                spare = (steps.get(what, Decimal(0)) * share).quantize(CENT, ROUND_HALF_UP)
                assert steps.get(f"Contingency on {what.lower()}", Decimal(0)) == spare
    assert count == len(playhouse.estimate.materials) + len(playhouse.estimate.labour)
    assert page.price == total
    assert page.total == total + (page.tax or 0)


def test_the_hours_of_the_page_come_from_the_jobs_rows(playhouse):
    units = {u.task: u for u in playhouse.job.all(HourUnit)}
    for task in playhouse.estimate.tasks:
        unit = units[task.task]
        mean = (unit.low + unit.likely + unit.high) / 3 * task.amount / (unit.per or 1)
        assert float(task.hours) == pytest.approx(mean, abs=0.0051), task.task
