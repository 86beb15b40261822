"""What must not be counted twice: retainage, risks that the client pays, scans, conditions on supervision; units that are
only shown otherwise. By hand beside each check."""

from decimal import Decimal
from pathlib import Path

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.cables import CableType
from stagefloor.job.commercial import Application, ChangeLine
from stagefloor.job.edit import add, set_fields
from stagefloor.job.labour import ActualHours, HourUnit
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import labour
from stagefloor.steps.labour import changes
from stagefloor.steps.labour.listed import metre_price

DEMOS = Path(__file__).parents[2] / "demo_projects"


def job_with(**tables: list[dict[str, object]]) -> Job:
    job = Job()
    for kind, rows in tables.items():
        job, _ = add(job, kind, rows)
    return job


# --- units are display only

COAX = {"item": "Coax", "quantity": "cable m: video", "per": "30.48", "cost": "40", "section": "Cables and terminations"}


@pytest.mark.parametrize(("amount", "price"), [("100", 40), ("100 ft", 40), ("30.48 m", 40), ("1000'", 400)])
def test_a_change_of_cable_is_worth_the_same_in_any_units(amount, price):
    """Coax at 40 for 100 ft; the screen changes from feet to metres and back."""
    job = job_with(pricerow=[COAX], pricing=[{}], change=[{"label": "CO"}])
    job = add(job, "changeline", [{"change": "CO", "quantity": "cable m: video", "amount": amount}])[0]
    for units in ("ft-in", "m", "ft-in", "m"):
        job = set_fields(job, "settings", "job", {"units": units})
        (found,) = labour.priced_changes(job, {"cable m: video": 60.96}, labour.estimate(job, {"cable m: video": 60.96}))
        assert found.price == price
    # what is typed from now on is in the units of now: 30.48 m more are 40 more
    job = add(job, "changeline", [{"change": "CO", "quantity": "cable m: video", "amount": "30.48"}])[0]
    (found,) = labour.priced_changes(job, {"cable m: video": 60.96}, labour.estimate(job, {"cable m: video": 60.96}))
    assert found.price == price + 40


def test_pieces_have_no_unit_and_a_length_of_them_is_asked_back():
    job = job_with(pricerow=[COAX], pricing=[{}], change=[{"label": "CO"}], changeline=[
        {"change": "CO", "quantity": "labels", "amount": "4"}, {"change": "CO", "quantity": "labels", "amount": "4 ft"}])
    metric = set_fields(job, "settings", "job", {"units": "m"})
    assert next(r.amount for r in metric.all(ChangeLine)) == 4
    (problem,) = changes.faults(job, {"labels": 9.0})
    assert problem.field == "amount"
    assert "counted in pieces" in problem.sentence


def test_a_price_of_cable_stays_the_price_of_what_it_was_for():
    """19.50 for 100 ft is 0.6398 a metre whatever the screen shows; a new price in a job in metres is for 30 m."""
    job = job_with(cabletype=[{"label": "Pair", "price": "19.50"},
                              {"label": "Coax", "price": "420", "price_for": "1000 ft"}])
    prices = []
    for units in ("ft-in", "m", "ft-in"):
        job = set_fields(job, "settings", "job", {"units": units})
        prices.append([metre_price(job, kind)[0] for kind in job.all(CableType)])
    assert prices[0] == prices[1] == prices[2]
    assert [float(p) for p in prices[0]] == pytest.approx([19.50 / 30.48, 420 / 304.8])
    metric = set_fields(Job(), "settings", "job", {"units": "m"})
    metric = add(metric, "cabletype", [{"label": "Pair", "price": "19.50"}])[0]
    assert float(metre_price(metric, metric.all(CableType)[0])[0]) == pytest.approx(0.65)


@pytest.mark.parametrize("nothing", ["0", "0 ft", "0 m", "-0"])
def test_a_price_for_no_length_is_refused(nothing):
    with pytest.raises(Problem, match="is no length; type more than zero, or leave it empty") as refused:
        job_with(cabletype=[{"label": "Pair", "price": "19.50", "price_for": nothing}])
    assert refused.value.where == "price_for"


def test_a_file_with_a_price_for_no_length_opens_and_keeps_its_price_and_its_text(tmp_path):
    """It meant 100 ft until now: 19.50 for 30.48 m. The cell is asked about, and stays in the file as it was typed."""
    file = store.create(tmp_path / "job")
    store.transact(file, lambda j: add(j, "cabletype", [{"label": "Pair", "price": "19.50", "price_for": "7 ft"}])[0], "x")
    file.write_text(file.read_text().replace("7 ft", "0 ft"))
    opened = store.read(file)
    assert float(metre_price(opened.job, opened.job.all(CableType)[0])[0]) == pytest.approx(19.50 / 30.48)
    assert len(opened.faults) == 1
    store.transact(file, lambda j: set_fields(j, "settings", "job", {"units": "ft-in"}), "y")
    assert "0 ft" in file.read_text()


def test_the_demo_costs_the_same_in_metres():
    """Every price row taken out, so that the cable types speak: the same material in feet and in metres."""
    job = store.read(DEMOS / "quillhaven_playhouse").job
    for row in list(job.tables["pricerow"].values()):
        job = set_fields(job, "pricerow", row.id, {"cost": ""})
    task = next(u for u in job.all(HourUnit) if u.quantity == "first cables m")
    job = add(job, "actual", [{"job": "Old", "task": task.id, "amount": "500", "hours": 4}])[0]
    metric = set_fields(job, "settings", "job", {"units": "m"})
    feet, metres = compute(job), compute(metric)
    assert feet.estimate.selling.total == metres.estimate.selling.total
    assert [c.price for c in feet.changes] == [c.price for c in metres.changes]
    assert [x.evidence for x in feet.lessons] == [x.evidence for x in metres.lessons]
    assert str(metric.all(ActualHours)[-1].amount) == "500 ft"


# --- retainage

def test_retainage_is_released_by_a_line_of_its_own():
    """18,548.56 in 30, 40 and 30 %: 5,564.57, 7,419.42, 5,564.57; a tenth kept of each, 1,854.86 paid at the end."""
    job = job_with(payment=[{"label": "Deposit", "percent": 30}, {"label": "Progress", "percent": 40}, {"label": "Final"}],
                   pricing=[{"retainage": 10}])
    found, problems = labour.schedule(job, Decimal("18548.56"))
    assert problems == []
    assert [p.paid for p in found] == [Decimal(a) for a in ("5008.11", "6677.48", "5008.11", "1854.86")]
    assert sum(p.paid for p in found) == sum(p.amount for p in found) == Decimal("18548.56")
    assert found[-1].working.result.amount == 1854.86
    none = set_fields(job, "pricing", job.pricing().id, {"retainage": ""})
    assert len(labour.schedule(none, Decimal("18548.56"))[0]) == 3


def test_the_last_application_pays_out_what_was_kept():
    """10,000 of 18,548.56 at 10 %: 9,000 due; the whole: 16,693.70 less 9,000; without retainage: the rest, 1,854.86."""
    job = job_with(pricing=[{"retainage": 10}], application=[
        {"label": "1", "completed": "10000"}, {"label": "2", "completed": "18548.56"},
        {"label": "3", "completed": "18548.56", "retainage": "0"}])
    found, problems = labour.applications(job, Decimal("18548.56"))
    assert problems == []
    assert [w.result.amount for w in found] == [9000, 7693.70, 1854.86]
    assert [w.also[1].amount for w in found][-1] == 0
    # other terms from now on leave alone what was sent
    later = set_fields(job, "pricing", job.pricing().id, {"retainage": "5"})
    assert [r.retainage for r in later.all(Application)] == [10, 10, 0]
    assert [w.result.amount for w in labour.applications(later, Decimal("18548.56"))[0]] == [9000, 7693.70, 1854.86]
    wrong = set_fields(job, "application", job.all(Application)[0].id, {"retainage": "120"})
    (problem,) = labour.applications(wrong, Decimal("18548.56"))[1]
    assert "The retainage of '1' is 120 %" in problem.sentence


@pytest.mark.parametrize("pricing", [[], [{"rate": 50}]])
def test_retainage_that_is_agreed_later_leaves_alone_what_was_sent(pricing):
    """5,000 sent without retainage stays 5,000; of 10,000 at 10 %, 9,000 less 5,000 are due."""
    job = job_with(pricing=pricing, application=[{"label": "1", "date": "2026-01-31", "completed": "5000"},
                                                 {"label": "2", "completed": "10000"}])
    later = set_fields(job, "pricing", job.pricing().id, {"retainage": "10"}) if pricing else \
        add(job, "pricing", [{"retainage": "10"}])[0]
    assert [r.retainage for r in later.all(Application)] == [0, None]  # what has no date is not sent yet
    assert [w.result.amount for w in labour.applications(later, Decimal("18548.56"))[0]] == [5000, 4000]


# --- the estimate

JOISTS = {"label": "Rotten joists", "chance": 60, "low": 10, "likely": 10, "high": 10, "cost": 138}


@pytest.mark.parametrize(("unit_price", "mean"), [("", 828), ("240", 0), ("100", 228)])
def test_a_risk_that_the_client_pays_is_not_in_the_contingency_as_well(unit_price, mean):
    """Ten joists of 138 at 60 %: 828; at a unit price of 240 nothing is left to the shop, at 100 ten times 38 at 60 %."""
    job = job_with(risk=[{**JOISTS, "hours": 2, "unit_price": unit_price}], pricing=[{}])
    found = labour.estimate(job, {})
    assert found.drawn.money.mean == pytest.approx(mean, abs=4 * found.drawn.money.mean_error + 1e-9)
    assert found.risks[0].expected == 828
    # the days go on all the same: ten times 2 h at 60 %
    assert found.drawn.hours.mean == pytest.approx(12, abs=4 * found.drawn.hours.mean_error)


def test_a_scan_is_counted_by_its_visits():
    """A visit of 4, 4, 6 h for however many cores: 14 / 3 h once, and the cores by themselves."""
    job = add(Job(), "hourunit", labour.default_hour_units("slab"))[0]
    scans = [t for t in labour.estimate(job, {"cores": 4.0, "scans": 1.0}).tasks if "scan" in t.task.lower()]
    assert [(t.quantity, float(t.hours)) for t in scans] == [("scans", pytest.approx(14 / 3, abs=0.006))]


def test_supervision_is_slowed_once():
    """10 h of cutting in, a tenth of it supervision: 11 h; half as much again by the site is 16.5 h, not 17.25."""
    rows = [{"task": "Cut in", "quantity": "floor boxes", "likely": 10, "section": "Floor boxes and panels"},
            {"task": "Supervision", "quantity": "hours of work", "likely": 0.1}]

    def hours(**condition: object) -> float:
        job = job_with(hourunit=rows, condition=[{"what": "other", "likely": 50, **condition}] if condition else [])
        return labour.estimate(job, {"floor boxes": 1.0}).likely_hours.result.amount

    assert hours(low="") == pytest.approx(16.5)
    assert hours(work="Floor boxes and panels") == pytest.approx(16.5)
    assert hours(quantity="hours of work") == pytest.approx(11.5)  # what is said of supervision itself
