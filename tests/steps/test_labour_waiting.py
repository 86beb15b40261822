"""What the order of work waits for: deliveries by their lead time, curing that is typed, the floor finish."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.open_items import DATES
from stagefloor.entry import labour_order
from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.steps import labour
from stagefloor.steps.labour.calendar import Calendar, calendar
from stagefloor.steps.labour.waiting import working_days

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
OPENED, DELIVERY = "Open the floor and set boxes and panels", "Delivery of boxes and panels"
MONDAY = date(2026, 6, 1)


@pytest.fixture(scope="module")
def one_box() -> Job:
    job = store.read(DEMOS / "one_box").job
    return add(job, "workplan", [{"start": str(MONDAY)}])[0]


def with_lead(job: Job, days: int) -> Job:
    for model in job.tables["boxmodel"]:
        job = set_fields(job, "boxmodel", model, {"lead": str(days)})
    return job


def steps_of(results: Results) -> dict[str, labour.WorkStep]:
    return {s.what: s for s in results.order.steps}


def opened_on(job: Job) -> date | None:
    return calendar(job)[0].first(steps_of(compute(job))[OPENED].times.start)


def test_the_floor_is_opened_on_the_day_on_which_the_boxes_come(one_box: Job) -> None:
    """60 calendar days after Monday 1 June 2026 are Friday 31 July (calendar)."""
    assert opened_on(one_box) == MONDAY
    job = with_lead(one_box, 60)
    assert opened_on(job) == MONDAY + timedelta(days=60) == date(2026, 7, 31)
    delivery = steps_of(compute(job))[DELIVERY]
    assert delivery.others
    assert delivery.by == "the supplier, 60 days from the order"
    assert compute(job).order.finish > 44  # the plan ends with it, in July, not on the first day
    # the purchase list finds its longest lead time by itself
    assert compute(job).purchase.longest_lead.lead == 60


def test_an_order_that_went_out_before_counts_from_its_own_date(one_box: Job) -> None:
    """60 calendar days after 1 May 2026 are 30 June; 60 after 1 March are long over on 1 June."""
    job, (entered,) = add(with_lead(one_box, 60), "jobdate", [{"what": DATES[2], "date": "2026-05-01"}])
    assert opened_on(job) == date(2026, 6, 30)
    assert opened_on(set_fields(job, "jobdate", entered, {"date": "2026-03-01"})) == MONDAY


def test_a_price_row_says_the_lead_time_of_boxes_that_say_none_themselves(one_box: Job) -> None:
    row = next(i for i, r in one_box.tables["pricerow"].items() if r.quantity == "floor boxes")
    job = set_fields(one_box, "pricerow", row, {"lead": "14"})
    assert opened_on(job) == date(2026, 6, 15)
    assert opened_on(with_lead(job, 7)) == date(2026, 6, 8)  # as in the purchase list: the model first
    built = with_lead(job, 60)
    for box in built.tables["box"]:
        built = set_fields(built, "box", box, {"state": "built"})
    assert DELIVERY not in steps_of(compute(built))


def test_days_that_are_typed_are_the_lead_time(one_box: Job) -> None:
    job = with_lead(one_box, 60)
    for name in ("Order boxes and panels", DELIVERY):
        typed, _ = add(job, "worktask", [{"label": name, "days": 5, "others": "yes"}])
        assert opened_on(typed) == date(2026, 6, 8)


def test_the_date_of_the_order_is_held_against_the_day_on_which_it_can_go_out(one_box: Job) -> None:
    job, _ = add(one_box, "worktask", [{"label": "Order boxes and panels", "days": 20, "others": "yes"},
                                       {"label": "Samples approved", "days": 3, "before": "Order boxes and panels"}])
    # three days from Monday: the order goes out on Wednesday, however long the boxes then take
    ready = {d.what: d.ready for d in compute(job).ruling_dates}
    assert ready[DATES[2]] == date(2026, 6, 3)


def test_what_nobody_entered_is_said(one_box: Job) -> None:
    def codes(job: Job) -> set[str]:
        return {i.code for i in compute(job).items if i.code.endswith("-missing")}

    assert "lead-missing" in codes(one_box)
    assert "lead-missing" not in codes(with_lead(one_box, 60))
    assert "finish-missing" not in codes(one_box)
    job, _ = add(one_box, "jobdate", [{"what": DATES[3], "date": "2026-06-20"}])
    assert "finish-missing" in codes(job)
    assert "finish-missing" not in codes(add(job, "worktask", [{"label": "Floor finish", "days": 3}])[0])


@given(st.dates(date(2026, 1, 1), date(2026, 12, 31)), st.integers(-120, 120), st.integers(1, 180))
def test_working_days_of_a_lead_time_against_numpy(start: date, before: int, lead: int) -> None:
    """numpy counts the weekdays from the start up to, not with, the day on which the thing comes."""
    order = start + timedelta(days=before)
    days = Calendar(start, 5)
    assert working_days(lead, days, order) == max(np.busday_count(start, order + timedelta(days=lead)), 0)
    longest = max(np.busday_count(d, d + timedelta(days=lead)) for d in (start + timedelta(days=n) for n in range(7)))
    assert working_days(lead, days, None) == longest


def test_the_longest_lead_time_from_the_last_date_breaks_nothing(one_box: Job) -> None:
    job = with_lead(one_box, 999)  # no more can be entered
    assert DELIVERY in steps_of(compute(job))
    dated, _ = add(job, "jobdate", [{"what": DATES[2], "date": "2999-12-31"}])
    assert DELIVERY in steps_of(compute(dated))


def test_what_came_before_the_start_is_no_wait(one_box: Job) -> None:
    job, _ = add(with_lead(one_box, 60), "jobdate", [{"what": DATES[2], "date": "2026-03-01"}])
    told = labour_order.steps(compute(job).order.steps, calendar(job)[0])
    assert f"<td>{DELIVERY}</td><td>no wait</td><td>Mon 1 Jun</td>" in told
    assert "the supplier, 60 days from the order on 2026-03-01" in told


# --- curing


def grouted(*rows: dict[str, str], floor: str = "concrete slab on grade") -> tuple[Job, labour.Estimate]:
    job, _ = add(set_fields(Job(), "settings", "job", {"floor_type": floor}), "hourunit",
                 labour.default_hour_units(floor))
    job = add(job, "worktask", list(rows))[0] if rows else job
    return job, labour.estimate(job, {"floor boxes": 2, "first cables m": 30, "tests: line": 2, "raceway m: 1": 6})


def missing(job: Job, found: labour.Estimate) -> list[str]:
    return [i.what for i in labour.order_of_work(job, found.tasks).gaps if i.code == "curing-missing"]


def test_no_curing_time_is_made_up_and_its_lack_is_said():
    job, found = grouted()
    order = labour.order_of_work(job, found.tasks)
    assert not any("cur" in s.what.lower() for s in order.steps)
    (gap,) = [i for i in labour.open_items(job, {"floor boxes": 2}) if i.code == "curing-missing"]
    assert gap.what == ("no curing time is in the plan, although 'Cut in a floor box in a slab: saw, break, set, grout' is "
                        "in it")
    assert (gap.blocks, gap.amount) == (DATES[3], "")


@pytest.mark.parametrize(("rows", "floor", "point", "said"), [
    ((), "wood on joists", "", False),
    ((), "wood on joists", "pour", True),
    (({"label": "Pour the topping", "days": "1"},), "wood on joists", "", True),
    (({"label": "Curing", "days": "7"},), "concrete slab on grade", "pour", False),
    (({"label": "Curing", "days": "0"},), "concrete slab on grade", "", False),  # zero is an answer too
    (({"label": "Curing"},), "concrete slab on grade", "", True),
    (({"label": "Topping cures", "days": "7"}, {"label": "Pour the topping", "days": "1"}), "wood on joists", "", False),
    (({"label": "Secure the outpost", "days": "1"},), "wood on joists", "", False),  # no word within a word
])
def test_curing_is_asked_for_where_something_is_grouted_or_poured(rows, floor, point, said):
    job, found = grouted(*rows, floor=floor)
    if point:
        job, _ = add(job, "holdpoint", [{"label": "Rebar and boxes seen", "when": point}])
    assert bool(missing(job, found)) == said


@pytest.mark.parametrize("pour", [False, True])
def test_what_cures_takes_no_crew_and_nothing_is_pulled_or_covered_before(pour: bool) -> None:
    job, found = grouted({"label": "Curing", "days": "7"}, {"label": "Floor finish", "days": "2"})
    if pour:
        job, _ = add(job, "holdpoint", [{"label": "Boxes seen", "when": "pour"}])
    steps = {s.what: s for s in labour.order_of_work(job, found.tasks).steps}
    cured, began = steps["Curing"], steps["Raceways in, strings proved" if pour else OPENED]
    assert (cured.days, cured.others) == (7, True)
    assert cured.times.start == began.times.finish
    raceways = steps["Raceways and pull strings"].times
    assert raceways.finish < cured.times.finish or pour  # the crew goes on while it cures
    for name in ("Pull cables", "Floor finish"):
        assert steps[name].times.start >= cured.times.finish


def test_nobody_is_trained_on_a_wet_floor_and_power_comes_after_it():
    job, _ = add(Job(), "hourunit", labour.default_hour_units())
    job, _ = add(job, "worktask", [{"label": "Floor finish", "days": 3, "others": "yes", "by": "flooring contractor"}])
    found = labour.estimate(job, {"floor boxes": 1, "commissioning visits": 1, "training sessions": 1, "tests: line": 1})
    steps = {s.what: s for s in labour.order_of_work(job, found.tasks).steps}
    floor = steps["Floor finish"]
    assert floor.times.start == steps["Before the floor finish"].times.finish
    for name in ("Breaker on, after the electrician's test", "Commission", "Train the venue's people",
                 "Before the first event"):
        assert steps[name].times.start >= floor.times.finish
