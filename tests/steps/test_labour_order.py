"""The order of work: every task once, hold points where they belong and by whom."""

from datetime import date
from decimal import Decimal

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.dates import read_date
from stagefloor.core.open_items import CHECK, DATES, OpenItem
from stagefloor.core.problems import Problem
from stagefloor.entry import labour_order
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.steps import labour
from stagefloor.steps.labour import words
from stagefloor.steps.labour.calendar import calendar
from stagefloor.steps.labour.duties import open_items as duty_items


def small_job() -> tuple[Job, labour.Estimate]:
    job, _ = add(Job(), "hourunit", labour.default_hour_units())
    counted = {
        "floor boxes": 1,
        "old lines tested": 4,
        "old outlets removed": 4,
        "first cables m": 30,
        "cable ends: line": 4,
        "tests: line": 2,
        "labels": 2,
        "trips": 2,
        "raceway m: 1": 6,
    }
    return job, labour.estimate(job, counted)


def test_every_task_is_in_the_order_once_with_its_hours():
    job, found = small_job()
    steps = labour.order_of_work(job, found.tasks).steps
    listed = [t for s in steps if not s.hold for t in s.tasks]
    alongside = {"Travel, load and unload, one trip", "Supervision, an hour of work"}
    assert sorted([*listed, *alongside]) == sorted(t.task for t in found.tasks)
    order = labour.order_of_work(job, found.tasks)
    hours = sum((t.hours for t in found.tasks), Decimal(0))
    assert sum((s.hours for s in steps), Decimal(0)) + order.alongside == hours
    # the days of the steps hold all hours, those alongside too: 16 crew hours a day
    assert sum(s.days for s in steps) == pytest.approx(float(hours) / 16)
    assert order.finish == pytest.approx(float(hours) / 16)  # one crew, nothing by others


def test_hold_points_stand_before_what_they_hold():
    job, found = small_job()
    names = [s.what for s in labour.order_of_work(job, found.tasks).steps]
    # nothing is opened live: old outlets come out once the breaker is off, locked and proved dead
    assert (
        names.index("Breaker off, locked and proved dead")
        < names.index("Take out old outlets")
        < names.index("Open the floor and set boxes and panels")
    )
    assert names.index("Raceways in, strings proved") < names.index("Pull cables")
    assert (
        names.index("Terminate and label")
        < names.index("Test lines")
        < names.index("Before the floor finish")
        < names.index("Breaker on, after the electrician's test")
    )
    assert names[-1] == "Before the first event"


def test_who_releases_comes_from_the_job_and_is_not_made_up():
    job, found = small_job()
    by = {s.what: s.by for s in labour.order_of_work(job, found.tasks).steps}
    assert by["Breaker off, locked and proved dead"] == "nobody named yet"
    assert by["Breaker on, after the electrician's test"] == "nobody named yet, with the licensed electrician"
    job = set_fields(job, "settings", "job", {"breaker_role": "house electrician"})
    job, ids = add(job, "holdpoint", [{"label": "Finish", "when": "finish", "by": "site lead"}])
    steps = {s.what: s for s in labour.order_of_work(job, found.tasks).steps}
    assert steps["Breaker off, locked and proved dead"].by == "house electrician"
    assert (steps["Before the floor finish"].by, steps["Before the floor finish"].released) == (
        "site lead",
        False,
    )
    job = set_fields(job, "holdpoint", ids[0], {"date": "2026-04-02"})
    assert {s.what: s.released for s in labour.order_of_work(job, found.tasks).steps}["Before the floor finish"]


def ahead_of(steps: dict[str, labour.WorkStep], name: str) -> set[str]:
    """All that a step waits for, and what that waits for."""
    found: set[str] = set()
    left = list(steps[name].after)
    while left:
        one = left.pop()
        found.add(one)
        left += [n for n in steps[one].after if n not in found]
    return found


def test_no_old_outlet_comes_out_before_it_is_dead_and_an_old_line_is_tested_first():
    """Locked out and proved dead before any part is opened; a line is tested at its outlet: common practice, no source."""
    job, found = small_job()
    steps = {s.what: s for s in labour.order_of_work(job, found.tasks).steps}
    out = steps["Take out old outlets"]
    assert out.tasks == ("Remove an old outlet",)
    assert {"Breaker off, locked and proved dead", "Test old lines"} <= ahead_of(steps, out.what)
    assert "Test old lines" not in ahead_of(steps, "Breaker off, locked and proved dead")  # testing may come early
    assert out.what in ahead_of(steps, "Open the floor and set boxes and panels")


def test_an_old_mains_outlet_is_the_electricians():
    job, found = small_job()
    name = "Take out old outlets"
    assert {s.what: s.by for s in labour.order_of_work(job, found.tasks).steps}[name] == ""
    job, _ = add(job, "oldoutlet", [{"label": "P1", "what": "mains"}, {"label": "M1", "what": "microphone"}])
    by = {s.what: s.by for s in labour.order_of_work(job, found.tasks).steps}[name]
    assert by == "the crew; mains outlets: the licensed electrician"


@pytest.mark.parametrize("field", ["after", "before"])
def test_a_job_that_names_the_old_step_keeps_its_place(field):
    job, found = small_job()
    job, _ = add(job, "worktask", [{"label": "Vacuum", "days": 1, field: "Test old lines, take out old outlets"}])
    order = labour.order_of_work(job, found.tasks)
    steps = {s.what: s for s in order.steps}
    assert order.problems == ()
    first, then = ("Take out old outlets", "Vacuum") if field == "after" else ("Vacuum", "Take out old outlets")
    assert first in steps[then].after


@pytest.mark.parametrize(("when", "step"), [
    ("work starts", "Permit and power agreed"),
    ("opening the floor", "Breaker off, locked and proved dead"),
    ("pour", "Raceways in, strings proved"),
    ("deck", "Raceways in, strings proved"),
    ("finish", "Before the floor finish"),
    ("breaker on", "Breaker on, after the electrician's test"),
    ("first event", "Before the first event"),
])
def test_every_hold_point_can_be_released_and_only_by_its_own_record(when, step):
    job, found = small_job()
    job, (point,) = add(job, "holdpoint", [{"label": "Seen", "when": when, "by": "the one who looked"}])

    def released(job: Job) -> list[str]:
        return [s.what for s in labour.order_of_work(job, found.tasks).steps if s.hold and s.released]

    assert released(job) == []  # a name without a date releases nothing
    assert released(set_fields(job, "holdpoint", point, {"date": "2026-04-02"})) == [step]


def test_no_tasks_no_order():
    assert labour.order_of_work(Job(), []).steps == ()


def steps_of(job: Job) -> dict[str, labour.WorkStep]:
    _, found = small_job()
    return {s.what: s for s in labour.order_of_work(job, found.tasks).steps}


def test_a_step_of_others_takes_time_but_not_the_crew():
    job, _ = small_job()
    before = steps_of(job)
    job, _ = add(job, "worktask", [
        {"label": "Sand the floor", "days": 3, "after": "Before the floor finish", "before": "Before the first event",
         "others": "yes", "by": "flooring contractor"},
        {"label": "Order boxes and panels", "days": 20, "others": "yes"}])
    after = steps_of(job)
    sand = after["Sand the floor"]
    assert (sand.by, sand.others, sand.days) == ("flooring contractor", True, 3)
    assert sand.times.start == after["Before the floor finish"].times.finish
    # boxes are set when they have come, after 20 days; before that the crew did the old outlets
    assert after["Open the floor and set boxes and panels"].times.start == pytest.approx(20)
    moved = after["Before the first event"].times.finish - before["Before the first event"].times.finish
    waited = 20 - before["Open the floor and set boxes and panels"].times.start
    assert moved == pytest.approx(waited + 3)
    assert after["Test old lines"].times.total_float > 19


@pytest.mark.parametrize(("row", "field", "words"), [
    ({"label": "Paint", "days": 1, "after": "Pul cables"}, "after", "did you mean 'Pull cables'?"),
    ({"label": "Paint", "after": "Test lines", "before": "Pull cables"}, "before",
     "Step 'Paint': it can't come before 'Pull cables', for which it waits already"),
    ({"label": "Paint", "days": 1, "after": "paint"}, "after", "Step 'Paint': it can't come after itself"),
])
def test_a_step_that_cannot_be_is_named_and_the_order_stays(row, field, words):
    job, found = small_job()
    plain = labour.order_of_work(job, found.tasks)
    order = labour.order_of_work(add(job, "worktask", [row])[0], found.tasks)
    (problem,) = order.problems
    assert problem.field == field
    assert words in problem.sentence
    assert {s.what for s in plain.steps} <= {s.what for s in order.steps}


def test_a_circle_costs_the_link_that_closes_it_and_nothing_else():
    """By hand: of all the steps, curing alone had no place; its 7 days and the other rows count."""
    job, found = small_job()
    job, _ = add(job, "worktask", [
        {"label": "Floor finish", "days": 3, "others": "yes", "by": "flooring contractor"},
        {"label": "Framing by the carpenter", "days": 2, "others": "yes",
         "before": "Open the floor and set boxes and panels"},
    ])
    job, _ = add(job, "jobdate", [{"what": DATES[3], "date": "2026-06-20"}])
    without = labour.order_of_work(job, found.tasks)
    job, (curing,) = add(job, "worktask", [{"label": "Curing", "days": 7, "after": "Pull cables"}])
    order = labour.order_of_work(job, found.tasks)
    steps = {s.what: s for s in order.steps}
    assert {n: steps[n].days for n in ("Floor finish", "Framing by the carpenter", "Curing")} == {
        "Floor finish": 3, "Framing by the carpenter": 2, "Curing": 7}
    (problem,) = order.problems
    assert (problem.record, problem.field) == (("worktask", curing), "after")
    assert "Step 'Curing': it can't come after 'Pull cables', which waits for it already" in problem.sentence
    (item,) = [i for i in labour.open_items(job, {}, found, order) if i.record == problem.record]
    assert (item.subject, item.what) == ("Step 'Curing'", problem.sentence)
    assert "left out of every sum" not in item.cure  # its days are in the plan
    assert order.finish > without.finish  # no days are lost by one entry more
    assert order.gaps == without.gaps == ()  # days are entered for all three, and none is asked for


ALWAYS = ("Open the floor and set boxes and panels", "Pull cables", "Terminate and label", "Test lines",
          "Before the floor finish", "Before the first event")  # what the small job has without being told
PLACES = (*ALWAYS, "Survey the site", "Order boxes and panels", "Curing", "Floor finish", "Commission")
OWN = ("Paint", "Sand", "Rig", "Sweep")


@st.composite
def typed_steps(draw: st.DrawFn) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = []
    for label in draw(st.lists(st.sampled_from((*PLACES, *OWN)), min_size=1, max_size=6, unique=True)):
        known = [*ALWAYS, *(r["label"] for r in rows), label]
        after, before = (draw(st.lists(st.sampled_from(known), max_size=2, unique=True)) for _ in range(2))
        rows.append({"label": label, "days": str(draw(st.integers(0, 9))), "after": "; ".join(after),
                     "before": "; ".join(before)})
    return rows


@settings(max_examples=60, deadline=None)
@given(typed_steps())
def test_every_typed_step_is_in_the_plan_and_only_what_closes_a_circle_is_not_against_networkx(rows):
    """Each row with its days; each link is in the plan, or is named at its row and would close a circle of the plan."""
    job, found = small_job()
    job, ids = add(job, "worktask", rows)
    order = labour.order_of_work(job, found.tasks)
    steps = {s.what: s for s in order.steps}
    plan = nx.DiGraph((waits_for, s.what) for s in order.steps for waits_for in s.after)
    plan.add_nodes_from(steps)
    assert nx.is_directed_acyclic_graph(plan)
    named = [(p.record[1], p.field) for p in order.problems]
    left_out = []
    for key, row in zip(ids, rows, strict=True):
        assert steps[row["label"]].days == int(row["days"])
        for field in ("after", "before"):
            for other in filter(None, row[field].split("; ")):
                link = (other, row["label"]) if field == "after" else (row["label"], other)
                if not plan.has_edge(*link):
                    left_out.append((key, field))
                    assert nx.has_path(plan, link[1], link[0])
    assert sorted(left_out) == sorted(named)


def test_working_days_leave_out_weekends_and_days_off():
    job, _ = add(Job(), "workplan", [{"start": "2026-03-05", "off": "2026-03-09; 2026-03-10"}])
    days, problems = calendar(job)
    assert problems == []
    # Thursday the 5th, Friday; the 7th and 8th are a weekend (calendar of 2026), Monday and Tuesday off
    assert [days.day(n) for n in range(3)] == [date(2026, 3, 5), date(2026, 3, 6), date(2026, 3, 11)]
    assert days.first(0.5) == date(2026, 3, 5)
    assert days.last(1.0) == date(2026, 3, 5)
    assert days.first(1.0) == date(2026, 3, 6)
    assert days.between(date(2026, 3, 6), date(2026, 3, 12)) == 2
    assert days.between(date(2026, 3, 12), date(2026, 3, 6)) == -2


@pytest.mark.parametrize("text", ["4.3.2026", "2026-02-30", "soon"])
def test_a_date_that_is_none_is_asked_back(text):
    job, _ = add(Job(), "workplan", [{"start": text}])
    assert "year first" in calendar(job)[1][0]
    with pytest.raises(Problem):
        read_date(text)


def test_the_five_dates_say_what_blocks_them_and_what_is_late():
    job, found = small_job()
    order = labour.order_of_work(job, found.tasks)
    job, _ = add(job, "workplan", [{"start": "2026-03-02"}])
    job, _ = add(job, "jobdate", [{"what": DATES[1], "date": "2026-03-02"}, {"what": DATES[4], "date": "2026-03-31"}])
    blocking = OpenItem("x", "boxes", "FB-1", "what", "", "basis", "cure", CHECK, DATES[1])
    dates = labour.ruling_dates(job, order, [blocking])
    assert [d.what for d in dates] == list(DATES)
    assert [d.blocking for d in dates] == [(), (blocking,), (), (), ()]
    strings, event = dates[1], dates[4]
    assert strings.ready == date(2026, 3, 2)  # all before it: less than one day of two people
    assert strings.spare == 0
    # about 13 h of 16 a day: ready on the first day; the 3rd to the 31st of March 2026 are 21 working days
    assert (event.ready, event.spare) == (date(2026, 3, 2), 21)
    late = labour.open_items(*late_job())
    (item,) = [i for i in late if i.code == "date-missed"]
    assert (item.amount, item.blocks) == ("1 working day late", DATES[4])


@pytest.mark.parametrize(("entered", "crossed"), [
    ({DATES[4]: "2026-05-20", DATES[3]: "2026-06-01", DATES[1]: "2026-09-26"},
     [("floor finish", DATES[1]), ("first event", DATES[1])]),
    ({DATES[0]: "2026-06-02", DATES[4]: "2026-06-01"}, [("first event", DATES[0])]),
    ({DATES[2]: "2026-08-02", DATES[3]: "2026-08-01"}, [("floor finish", DATES[2])]),
    ({DATES[2]: "2026-05-15", DATES[0]: "2026-05-29", DATES[1]: "2026-06-26"}, []),  # panels ordered early
    ({DATES[3]: "2026-08-03", DATES[4]: "2026-08-03"}, []),
])
def test_dates_in_an_order_that_can_not_be_are_told(entered, crossed):
    job = small_job()[0]
    job, _ = add(job, "jobdate", [{"what": what, "date": on} for what, on in entered.items()])
    items = [i for i in labour.open_items(job, {}) if i.code == "dates-crossed"]
    assert [(i.subject, i.what) for i in items] == [
        (f"Date: {what}", f"{entered[what]} stands before {before} ({entered[before]})") for what, before in crossed]


@pytest.mark.parametrize(("spare", "said"), [(1, "1 day"), (-1, "late by 1 day"), (-2, "late by 2 days"), (0, "0 days"),
                                             (None, "–")])
def test_one_day_is_one_day(spare, said):
    assert labour_order.ruling(labour.RulingDate("first event", None, None, spare))[3] == said


@pytest.mark.parametrize(("amount", "takes", "slips"), [
    (0, "no days", "nothing"), (0.01, "half a day", "under half a day"), (0.11, "half a day", "under half a day"),
    (0.5, "half a day", "half a day"), (0.99, "1 day", "half a day"), (1.3, "1½ days", "1 day"),
    (2.29, "2½ days", "2 days"), (4.9, "5 days", "4 days"),
])
def test_work_is_rounded_up_and_what_may_slip_is_rounded_down(amount, takes, slips):
    assert (words.days(amount), words.slip(amount)) == (takes, slips)


def test_what_may_slip_is_told_of_the_plan_of_one_crew():
    """One crew without idle time: whatever is late makes the end late, also beside the critical path."""
    job, found = small_job()
    order = labour.order_of_work(job, found.tasks)
    beside = next(s for s in order.steps if s.what == "Test old lines")
    assert beside.times.total_float > 0
    rows = labour_order.steps(order.steps, calendar(job)[0])
    assert "half a day</td><td>–</td><td>nothing" in rows
    assert "may slip: what is late in any step makes the end late" in labour_order.strict(order)
    # the boxes come after 20 days: what the crew does meanwhile may slip, the rest may not
    job, _ = add(job, "worktask", [{"label": "Order boxes and panels", "days": 20, "others": "yes"}])
    waiting = labour.order_of_work(job, found.tasks)
    assert labour_order.strict(waiting).startswith(" Nothing may slip in: order boxes and panels, open the floor")
    assert "test old lines" not in labour_order.strict(waiting)
    assert "<td>19 days</td>" in labour_order.steps(waiting.steps, calendar(job)[0])


def late_job() -> tuple[Job, dict[str, float]]:
    job, _ = add(Job(), "hourunit", [{"task": "Cut in", "quantity": "floor boxes", "likely": 24}])  # a day and a half
    job, _ = add(job, "workplan", [{"start": "2026-03-02"}])
    job, _ = add(job, "jobdate", [{"what": DATES[4], "date": "2026-03-02"}])
    return job, {"floor boxes": 1}


def test_who_does_what_by_custom_by_entry_and_nobody():
    job = set_fields(Job(), "settings", "job", {"shop": "Our shop"})
    counted = {"floor boxes": 2, "openings: mains": 2, "cores": 1, "raceway m: 1": 30.48}
    custom = {d.item: d for d in labour.duties(job, counted)}
    assert custom["Mains outlets behind the barrier"].who == ("the licensed electrician",) * 4
    assert custom["Floor boxes with covers"].who == ("Our shop", "Our shop", None, "Our shop")
    assert custom["Raceways with pull strings"].quantity == "100 ft"
    assert custom["Cores and pockets in the slab, as the engineer says"].orphans == ("furnished", "installed")
    (item,) = duty_items(labour.duties(job, counted))
    assert "furnished and installed" in item.what
    job, _ = add(job, "duty", [
        {"item": "Cores and pockets in the slab, as the engineer says", "furnished": "a coring firm",
         "installed": "a coring firm"},
        {"item": "Floor boxes with covers", "tested": "nobody"},
        {"item": "Acoustic seals", "furnished": "Our shop", "installed": "carpenter", "terminated": "-",
         "tested": "acoustician"}])
    after = {d.item: d for d in labour.duties(job, counted)}
    assert after["Cores and pockets in the slab, as the engineer says"].orphans == ()
    assert after["Floor boxes with covers"].orphans == ("tested",)
    assert after["Acoustic seals"].orphans == ("terminated",)
