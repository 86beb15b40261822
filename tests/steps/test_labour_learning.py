"""What closed jobs teach: against a published table, a closed form, and generated jobs whose true hours are known."""

from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.entry.labour_learning import told
from stagefloor.job.edit import add, set_fields
from stagefloor.job.labour import ActualHours, HourUnit
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps.labour.learning import (
    Belief,
    Lesson,
    adopted,
    belief_of,
    lessons,
    new_hours,
    student,
    triangle_of,
    updated,
)

# low, likely, high of a dozen tasks: the shop's figures before the jobs
UNITS = [(2, 3, 4), (1, 1.5, 2.5), (0.5, 0.75, 1.25), (0.25, 0.5, 1), (0.35, 0.5, 0.65), (0.6, 0.8, 1.2),
         (0.13, 0.18, 0.25), (0.07, 0.1, 0.13), (0.15, 0.25, 0.35), (6, 9, 12), (0.05, 0.1, 0.2), (1, 1.5, 2.5)]


@pytest.mark.parametrize(("freedom", "point"), [
    (2, 1.886), (4, 1.533), (5, 1.476), (7, 1.415), (10, 1.372), (30, 1.310)])
def test_points_of_students_distribution(freedom, point):
    """Handbook of engineering statistics (a national institute of standards), table of t, upper tenth."""
    assert student(0.9, freedom) == pytest.approx(point, abs=0.0006)


def test_an_update_by_hand():
    # middle 0 of weight 1; two figures of exp(0.3) and exp(0.6): mean 0.45, middle (0 + 0.9)/3 = 0.3
    # squares 1 + (0.15^2 + 0.15^2) + 1 x 2/3 x 0.45^2 = 1 + 0.045 + 0.135 = 1.18
    after = updated(Belief(0.0, 1.0, 4.0, 1.0), [exp(0.3), exp(0.6)])
    assert (after.middle, after.weight, after.freedom) == (pytest.approx(0.3), 3, 6)
    assert after.squares == pytest.approx(1.18)


def test_the_order_of_the_jobs_does_not_matter_and_none_changes_nothing():
    before = belief_of(2, 3, 4)
    one = updated(updated(before, [3.5, 2.1]), [4.4])
    assert updated(before, [4.4, 2.1, 3.5]) == Belief(*(pytest.approx(getattr(one, f)) for f in
                                                        ("middle", "weight", "freedom", "squares")))
    assert updated(before, []) == before


@pytest.mark.parametrize("unit", UNITS)
def test_without_evidence_the_figures_come_back(unit):
    low, likely, high = unit
    tenth, ninetieth = belief_of(*unit).interval()
    # a tenth of a triangle lies below low + sqrt(0.1 (b - a)(c - a))
    assert tenth == pytest.approx(low + sqrt(0.1 * (high - low) * (likely - low)))
    assert triangle_of(tenth, likely, ninetieth) == (pytest.approx(low, rel=0.01), pytest.approx(high, rel=0.01))


def shop(units: list[tuple[float, float, float]]) -> Job:
    job, _ = add(Job(), "hourunit", [{"task": f"T{i}", "quantity": "floor boxes", "low": a, "likely": m, "high": b}
                                     for i, (a, m, b) in enumerate(units)])
    return job


def closed(job: Job, truth: list[float], scatter: float, rng: np.random.Generator) -> Job:
    """Three closed jobs, 1 to 12 units each, whose hours scatter around the true unit."""
    rows = []
    for name in ("First", "Second", "Third"):
        for unit, true in zip(job.all(HourUnit), truth, strict=True):
            amount = int(rng.integers(1, 13))
            rows.append({"job": name, "task": unit.id, "amount": amount,
                         "hours": f"{amount * true * exp(scatter * rng.standard_normal()):.6g}"})
    return add(job, "actual", rows)[0]


def test_three_closed_jobs_move_the_hours_towards_the_truth():
    """Truth 40 % above or 30 % below the shop's figures; jobs scatter by 15 %; over 25 generated sets of three jobs."""
    rng = np.random.default_rng(7)
    truth = [m * (1.4 if i % 2 else 0.7) for i, (_, m, _) in enumerate(UNITS)]
    nearer = left = whole = 0.0
    for _ in range(25):
        found, problems = lessons(closed(shop(UNITS), truth, 0.15, rng), {})
        assert problems == []
        assert len(found) == len(UNITS)
        for lesson, true in zip(found, truth, strict=True):
            before, after = abs(log(lesson.old[1] / true)), abs(log(lesson.new[1] / true))
            nearer += after < before
            whole += before
            left += after
    assert nearer / (25 * len(UNITS)) > 0.97
    assert left / whole < 0.5  # three jobs against a weight of one: about a quarter of the way is left, and the scatter


def drawn_from(belief: Belief, rng: np.random.Generator, jobs: int) -> tuple[float, list[float]]:
    """A shop whose truth the belief describes, and hours of its jobs: middle, then hours."""
    variance = belief.squares / rng.chisquare(belief.freedom)
    middle = belief.middle + sqrt(variance / belief.weight) * rng.standard_normal()
    return exp(middle), [exp(middle + sqrt(variance) * rng.standard_normal()) for _ in range(jobs)]


def test_the_stated_intervals_hold_what_they_say():
    """80 % intervals for the next job and for the true middle, over 2000 shops with three closed jobs each."""
    rng = np.random.default_rng(11)
    held_next = held_middle = 0
    for k in range(2000):
        before = belief_of(*UNITS[k % len(UNITS)])
        middle, hours = drawn_from(before, rng, 4)
        after = updated(before, hours[:3])
        low, high = after.interval()
        held_next += low <= hours[3] <= high
        low, high = after.middle_interval()
        held_middle += low <= middle <= high
    assert 0.77 < held_next / 2000 < 0.83
    assert 0.77 < held_middle / 2000 < 0.83


def test_the_new_low_and_high_hold_the_next_job():
    """Generated shops as their figures describe them, three closed jobs each of 1 to 12 units, through the whole step:
    the next job lies between the tenth and the ninetieth hundredth of the new triangle in 80 of 100."""
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(60):
        rows, job, coming = [], shop(UNITS), []
        for unit, figures in zip(job.all(HourUnit), UNITS, strict=True):
            _, hours = drawn_from(belief_of(*figures), rng, 4)
            amounts = rng.integers(1, 13, 3)
            rows += [{"job": str(n), "task": unit.id, "amount": int(a), "hours": f"{a * h:.6g}"}
                     for n, a, h in zip(range(3), amounts, hours, strict=False)]
            coming.append(hours[3])
        for lesson, hour in zip(lessons(add(job, "actual", rows)[0], {})[0], coming, strict=True):
            low, likely, high = lesson.new
            held += (low + sqrt(0.1 * (high - low) * (likely - low)) <= hour
                     <= high - sqrt(0.1 * (high - low) * (high - likely)))
    assert 0.74 < held / (60 * len(UNITS)) < 0.86  # one standard error is 1.5 in 100


@pytest.mark.parametrize(("off", "scatter"), [(1.0, 0.3), (1.2, 0.25), (0.85, 0.2)])
def test_a_shop_that_was_wrong_about_its_spread_learns_it_from_a_dozen_jobs(off, scatter):
    """Truth up to 20 % off, and jobs that scatter two or three times as much as the shop's figures say."""
    rng = np.random.default_rng(13)
    held = {3: 0, 12: 0}
    for _ in range(1200):
        low, likely, high = UNITS[0]
        hours = likely * off * np.exp(scatter * rng.standard_normal(13))
        for jobs in held:
            a, b = updated(belief_of(low, likely, high), list(hours[:jobs])).interval()
            held[jobs] += a <= hours[12] <= b
    assert 0.72 < held[12] / 1200 < 0.88
    assert held[3] / 1200 > 0.55  # three jobs do not yet mend a wrong spread: it is stated, not hidden


def test_nothing_changes_without_adopting_and_evidence_counts_once():
    job = closed(shop(UNITS[:1]), [4.2], 0.1, np.random.default_rng(3))
    found, _ = lessons(job, {})
    assert job.all(HourUnit)[0].likely == 3
    after = adopted(job, found[0])
    unit = after.all(HourUnit)[0]
    assert unit.likely == pytest.approx(found[0].new[1], rel=0.01)
    assert "3 closed jobs over 2, 3, 4 h" in unit.source
    assert all(r.taken for r in after.all(ActualHours))
    assert lessons(after, {}) == ([], [])


def test_the_conditions_of_a_closed_job_are_taken_out_and_its_own_takeoff_counts():
    # 8 h at 60 % slower are 5 h; 2 boxes by the takeoff of this job: 2.5 h each
    job = shop(UNITS[:1])
    job, _ = add(job, "actual", [{"job": "This one", "task": "hourunit-1", "hours": 8, "factor": 60}])
    (lesson,), _ = lessons(job, {"floor boxes": 2})
    assert lesson.evidence == (("This one", pytest.approx(2.5)),)


@pytest.mark.parametrize(("row", "field"), [({"hours": 4}, "task"), ({"task": "T0", "amount": 1}, "hours"),
                                            ({"task": "T0", "hours": 2}, "hours")])
def test_actual_hours_that_cannot_be_used_are_named(row, field):
    job, _ = add(shop(UNITS[:1]), "actual", [{"job": "J", **row}])
    found, (problem,) = lessons(job, {})
    assert found == []
    assert problem.field == field


# --- the mean that is priced, rows of one job, amounts with units

def one_job(*hours: float, unit: tuple[float, float, float] = UNITS[0]) -> Lesson:
    job = shop([unit])
    return lessons(add(job, "actual", [{"job": f"J{n}", "task": "T0", "amount": 1, "hours": f"{h:.6g}"}
                                       for n, h in enumerate(hours)])[0], {})[0][0]


@pytest.mark.parametrize("hours", [0.3, 1.5, 9, 30])
def test_one_closed_job_moves_the_priced_hours_towards_it_and_not_beyond(hours):
    """2, 3, 4 h are priced at 3: one job at 0.3 h makes them cheaper, one at 30 h dearer, and neither as far as itself."""
    before, then = one_job(hours).priced
    assert before == 3
    assert min(3, hours) < then < max(3, hours)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(UNITS), st.lists(st.floats(0.02, 50), min_size=1, max_size=5))
def test_the_priced_hours_lie_between_those_so_far_and_the_closed_jobs(unit, shares):
    figures = [unit[1] * s for s in shares]
    low, likely, high = new_hours(unit, figures)
    assert 0 <= low <= likely <= high
    ends = sorted((sum(unit) / 3, sum(figures) / len(figures)))
    assert ends[0] * (1 - 1e-9) <= (low + likely + high) / 3 <= ends[1] * (1 + 1e-9)


def test_a_figure_that_is_far_off_is_asked_about():
    assert [one_job(h).far for h in (0.9, 1.1, 8.9, 9.1)] == [("J0",), (), (), ("J0",)]  # a third of 3 h, and three times
    job = add(shop(UNITS[:1]), "actual", [{"job": "Barn", "task": "T0", "amount": 1, "hours": 30}])[0]
    page = told(compute(job))
    assert "More than 3 times off, check the entry first: Barn (T0)." in page
    assert "30 h (check this entry)" in page
    assert "3.00 h" in page


def test_rows_of_one_closed_job_count_as_one_job():
    """Two boxes in 7 h and one more in 2: 9 h for 3 boxes, 3 h each, whoever wrote them down on how many days."""
    job = shop(UNITS[:1])
    rows = [{"job": "Barn", "task": "T0", "amount": 2, "hours": 7}, {"job": " barn", "task": "T0", "amount": 1, "hours": 2}]
    (lesson,), _ = lessons(add(job, "actual", rows)[0], {})
    assert lesson.evidence == (("Barn", pytest.approx(3)),)
    assert len(lesson.rows) == 2
    # one row of 9 h for 3 boxes says the same
    (one,), _ = lessons(add(job, "actual", [{"job": "Barn", "task": "T0", "amount": 3, "hours": 9}])[0], {})
    assert lesson.new == pytest.approx(one.new)
    assert "1 closed job over" in adopted(add(job, "actual", rows)[0], lesson).all(HourUnit)[0].source
    # hours of this job itself on two days: its takeoff counts once; with conditions taken out of each day by itself
    days = [{"job": "This", "task": "T0", "hours": 4}, {"job": "This", "task": "T0", "hours": 3, "factor": 50}]
    (own,), _ = lessons(add(job, "actual", days)[0], {"floor boxes": 2})
    assert own.evidence == (("This", pytest.approx(3)),)  # (4 + 3 / 1.5) / 2


PULL = {"task": "Pull", "quantity": "first cables m", "per": "30.48", "low": 0.6, "likely": 0.8, "high": 1.2}


@pytest.mark.parametrize(("units", "amount", "hours"), [
    ("ft-in", "500", 0.8), ("ft-in", "500 ft", 0.8), ("m", "152.4", 0.8), ("m", "500 ft", 0.8), ("ft-in", "152.4 m", 0.8)])
def test_an_amount_of_cable_is_in_the_units_of_the_job_or_in_its_own(units, amount, hours):
    """500 ft in 4 h are 0.8 h for 100 ft."""
    job = set_fields(add(Job(), "hourunit", [PULL])[0], "settings", "job", {"units": units})
    job = add(job, "actual", [{"job": "J", "task": "Pull", "amount": amount, "hours": 4}])[0]
    (lesson,), problems = lessons(job, {})
    assert (problems, lesson.evidence) == ([], (("J", pytest.approx(hours)),))
    # the units of the screen may change: what was done does not
    other = set_fields(job, "settings", "job", {"units": "m" if units == "ft-in" else "ft-in"})
    assert lessons(other, {})[0][0].evidence == lesson.evidence


def test_a_length_of_boxes_is_asked_back():
    job = add(shop(UNITS[:1]), "actual", [{"job": "J", "task": "T0", "amount": "5 ft", "hours": 4}])[0]
    found, (problem,) = lessons(job, {})
    assert (found, problem.field) == ([], "amount")
    assert "counted in pieces" in problem.sentence
