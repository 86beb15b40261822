"""What the workings of price and risk show, figure by figure: worked by hand, or by closed forms of handbook statistics."""

from decimal import Decimal
from math import pi, sqrt

import pytest

from stagefloor.core.workings import Working
from stagefloor.job.edit import add
from stagefloor.job.model import Job
from stagefloor.steps import labour
from stagefloor.steps.labour.offer import offer_working

SECTION = "Floor boxes and panels"
CUT = {"task": "Cut in", "quantity": "floor boxes", "low": 2, "likely": 3, "high": 4, "section": SECTION}
LID = {"item": "Box", "quantity": "floor boxes", "cost": "300", "section": SECTION}
COAX = {"item": "Coax", "quantity": "cable m: video", "per": "30.48", "cost": "40", "section": "Cables and terminations"}
PRICING = {"tax": 10, "material_markup": 50, "labour_markup": 20, "rate": "40"}
COUNTED = {"floor boxes": 1.0, "cable m: video": 60.96}
DRAWS = 20_000


def job_with(**tables: list[dict[str, object]]) -> Job:
    job = Job()
    for kind, rows in tables.items():
        job, _ = add(job, kind, rows)
    return job


def named(working: Working) -> dict[str, float]:
    return {v.name: v.amount for v in (*working.inputs, working.result, *working.also)}


def test_the_offer_adds_up_as_the_client_sees_it() -> None:
    """300 x 1.5 + 3 h x 40 x 1.2 = 594.00; 60.96 m of coax are 80 x 1.5 = 120.00; 10 % on 714.00: 71.40, in all 785.40."""
    for pricing, parts in (({"show_sections": "yes"}, {SECTION: 594.0, "Cables and terminations": 120.0}),
                           ({"show_sections": "no"}, {"price": 714.0})):
        job = job_with(hourunit=[CUT], pricerow=[LID, COAX], pricing=[{**PRICING, **pricing}])
        selling = labour.estimate(job, COUNTED).selling
        assert selling is not None
        working = offer_working(selling)
        *sums, tax = working.inputs
        assert {v.name: v.amount for v in sums} == parts
        assert (tax.name.partition(",")[0], tax.amount) == ("tax", 71.4)
        assert working.result.amount == 785.4
        assert (working.result.name, working.formula) == ("total", "P = P1 + P2 + ... + T")
    job = job_with(hourunit=[CUT], pricerow=[LID, COAX], pricing=[{**PRICING, "tax": "", "show_sections": "no"}])
    selling = labour.estimate(job, COUNTED).selling
    assert selling is not None
    assert named(offer_working(selling)) == {"price": 714.0, "total": 714.0}


def test_a_section_from_cost_to_price() -> None:
    """Material 300, 30 tax that the shop pays, 33 contingency, 50 % on 363: 181.50. Labour 120, 12, 20 % on 132: 26.40."""
    job = job_with(hourunit=[CUT], pricerow=[LID], pricing=[
        {**PRICING, "contingency": 10, "tax_on": "paid by the shop on material, not shown"}])
    (section,) = labour.estimate(job, COUNTED).sections
    assert named(section.working) == {
        "material": 300, "labour": 120, "tax that the shop pays on material": 30, "contingency": 45, "markups": 207.9,
        "price of the section": 702.9, "contingency on material": 33, "contingency on labour": 12,
        "markup on material": 181.5, "markup on labour": 26.4}  # fmt: skip
    assert section.working.result.amount == float(section.selling) == 702.9


def test_cautious_hours_of_a_triangle() -> None:
    """Of 14, 22, 26 h: mean 62 / 3; P50 14 + sqrt(0.5 x 12 x 8); P80 26 - sqrt(0.2 x 12 x 4); two people, 8 h a day each.

    Standard errors: of the mean s / sqrt(n) with s2 = (a2 + m2 + b2 - am - ab - mb) / 18; of a percentile
    sqrt(p (1 - p) / n) over the density there, 2 x 6.928 / 96 at P50 and 2 x 3.098 / 48 at P80.
    """
    job = job_with(hourunit=[{**CUT, "low": 14, "likely": 22, "high": 26}], crewrole=[{"label": "Installer", "people": 2}],
                   pricing=[{"rate": "50", "hours_a_day": 8}])
    estimate = labour.estimate(job, COUNTED)
    working, drawn = estimate.cautious_hours, estimate.drawn.hours
    found = named(working)
    cautious, error = 26 - sqrt(9.6), sqrt(0.16 / DRAWS) / (2 * sqrt(9.6) / 48)
    assert found["draws"] == DRAWS
    assert found["hours"] == working.result.amount == pytest.approx(cautious, abs=4 * error)
    assert found["mean of the draws, named risks included"] == pytest.approx(62 / 3, abs=0.07)
    assert found["as likely to be over as under"] == pytest.approx(14 + sqrt(48), abs=0.1)
    assert found["standard error of the mean"] == pytest.approx(2.494 / sqrt(DRAWS), rel=0.02)
    assert found["standard error of P50"] == pytest.approx(sqrt(0.25 / DRAWS) / (2 * sqrt(48) / 96), rel=0.15)
    assert found["standard error of P80"] == pytest.approx(error, rel=0.15)
    # a percentile's error is itself known to a tenth only; what is shown is what the draws gave (test_labour_simulation.py)
    assert (found["standard error of P50"], found["standard error of P80"]) == (drawn.median_error, drawn.cautious_error)
    low, high = found["P80 lies between, 95 in 100"], found["and"]
    assert low < found["hours"] < high
    assert high - low == pytest.approx(2 * 1.96 * error, rel=0.2)
    assert found["days of the crew"] == pytest.approx(cautious / 16, abs=4 * error / 16)
    assert found["labour cost of these hours"] == pytest.approx(50 * round(working.result.amount, 2))


def test_cautious_cost_of_a_uniform_task() -> None:
    """2 to 4 h at 100: P50 300, P80 360, base 300; contingency 60, a fifth. Standard error of P80: sqrt(0.16 / n) x 200."""
    job = job_with(hourunit=[{**CUT, "likely": ""}], pricing=[{"rate": "100"}])
    estimate = labour.estimate(job, COUNTED)
    working = estimate.cautious_cost
    found, error = named(working), sqrt(0.16 / DRAWS) * 200
    assert found["cost that eight draws in ten stay at or below"] == pytest.approx(360, abs=4 * error)
    assert found["base: material and labour as priced, before contingency"] == 300
    assert found["P50 of the cost"] == pytest.approx(300, abs=4 * sqrt(0.25 / DRAWS) * 200)
    assert found["standard error of C_80"] == pytest.approx(error, rel=0.15)
    assert found["standard error of C_80"] == estimate.drawn.money.cautious_error
    low, high = found["C_80 lies between, 95 in 100"], found["and"]
    assert high - low == pytest.approx(2 * 1.96 * error, rel=0.2)
    assert (low + high) / 2 == pytest.approx(found["cost that eight draws in ten stay at or below"], abs=error)
    assert working.result.amount == pytest.approx(60, abs=1 + 4 * error)
    assert Decimal(repr(working.result.amount)) % 1 == 0
    assert found["share of the base"] == pytest.approx(100 * working.result.amount / 300)


def test_what_drives_the_spread_of_the_hours() -> None:
    """A uniform task of 2 to 4 h, variance 4 / 12, and one chance in two of 6 h more, variance 36 / 4: in all 28 / 3.

    Shares 27 and 1 of 28. The task takes a = sqrt(0.3) of the score F of the site: corr(task, F) = sqrt(3 / pi) a.
    """
    job = job_with(hourunit=[{**CUT, "likely": ""}], risk=[{"label": "Wet slab", "chance": 50, "hours": 6}],
                   pricing=[{"rate": "100"}])
    working = labour.estimate(job, COUNTED).drivers
    found = named(working)
    assert working.result.amount == pytest.approx(sqrt(28 / 3), rel=0.01)
    assert list(found) == ["Risk: Wet slab", "Cut in", "standard deviation of the hours", "goes with the site"]
    assert found["Risk: Wet slab"] == pytest.approx(100 * 27 / 28, abs=0.7)
    assert found["Cut in"] == pytest.approx(100 / 28, abs=0.7)
    assert found["goes with the site"] == pytest.approx(100 * 0.3 * 3 / pi / 28, abs=0.45)
