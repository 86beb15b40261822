"""Change orders beside what is drawn: nothing counts twice, a signed sum stays, changes of one quantity add up; by hand."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.entry.labour_changes import issue_price, take_changes, told
from stagefloor.entry.session import Session
from stagefloor.job import store
from stagefloor.job.commercial import Change, ChangeLine, IssuedPrice
from stagefloor.job.edit import add, duplicate, set_fields
from stagefloor.job.labour import ByHand
from stagefloor.job.model import Job
from stagefloor.job.typed import cell_text
from stagefloor.results import compute
from stagefloor.steps import labour
from stagefloor.steps.labour import changes

# two hours of a trip at 50 are 100; a box costs 300; nothing is added to cost unless a test says so
TRIP = {"task": "Go there", "quantity": "trips", "likely": 2}
LID = {"item": "Box", "quantity": "floor boxes", "cost": "300", "section": "Floor boxes and panels"}
BY_OTHERS = {"task": "Set by others", "quantity": "floor boxes", "likely": 0}
Amounts = dict[str, float]


def shop(**pricing: object) -> Job:
    job = add(add(Job(), "pricerow", [LID])[0], "hourunit", [TRIP])[0]
    return add(job, "pricing", [{"rate": "50", **pricing}])[0]


def issued(job: Job, quantities: Amounts, label: str = "Issue 1") -> Job:
    return changes.issued(job, labour.estimate(job, quantities), quantities, label, "2026-01-01")


def order(job: Job, lines: Amounts, state: str = "accepted", **fields: object) -> Job:
    job, (change,) = add(job, "change", [{"label": f"CO{len(job.all(Change)) + 1}", "what": "change order", "state": state,
                                          **fields}])
    return add(job, "changeline", [{"change": change, "quantity": q, "amount": a} for q, a in lines.items()])[0]


def prices(job: Job, quantities: Amounts) -> list[Decimal]:
    return [c.price for c in labour.priced_changes(job, quantities, labour.estimate(job, quantities))]


def contract(job: Job, quantities: Amounts) -> Decimal:
    base = labour.estimate(job, quantities)
    return labour.contract_sum(job, base, labour.priced_changes(job, quantities, base))


# --- what is drawn since an issue, beside what change orders hold

@pytest.mark.parametrize(("orders", "drawn", "beyond", "waiting"), [
    ([("accepted", 1)], 2, {}, {}),  # one trip issued, one more agreed, two drawn
    ([("offered", 1)], 2, {}, {}),  # an offer covers it as well
    ([("declined", 1)], 2, {"trips": 1}, {}),
    ([("accepted", 1)], 4, {"trips": 2}, {}),  # three more drawn, one agreed
    ([("accepted", 3)], 2, {}, {"trips": 2}),  # three agreed, one of them drawn
    ([("accepted", 3)], 1, {}, {"trips": 3}),  # agreed and not drawn is no credit
    ([("accepted", 3)], 0, {"trips": -1}, {"trips": 3}),
    ([("accepted", 3), ("accepted", -1)], 3, {}, {}),
    ([("accepted", 3), ("accepted", -1)], 4, {}, {"trips": -1}),  # what was taken back is still drawn
    ([("accepted", 3), ("offered", -1)], 3, {}, {"trips": 1}),
    # of one that adds and one that takes away either may be drawn alone, in whichever order they stand
    ([("accepted", 10), ("accepted", -6)], -5, {}, {"trips": 10}),
    ([("accepted", -6), ("accepted", 10)], -5, {}, {"trips": 10}),
    ([("accepted", 10), ("accepted", -6)], 11, {}, {"trips": -6}),
    ([("accepted", -6), ("accepted", 10)], 11, {}, {"trips": -6}),
    ([("accepted", 10), ("accepted", -6)], -8, {"trips": -3}, {"trips": 10}),
    ([("accepted", 10), ("offered", -6)], -5, {}, {"trips": 10})])
def test_what_stands_in_a_change_order_is_no_difference(orders, drawn, beyond, waiting):
    """One trip is issued; `drawn` counts as a mere amount, so that it may fall below zero."""
    job = issued(shop(), {"trips": 1.0})
    for state, more in orders:
        job = order(job, {"trips": more}, state)
    since = labour.beyond_orders(job, {"trips": float(drawn)})
    assert (dict(since.beyond), dict(since.waiting)) == (beyond, waiting)


def test_an_option_that_is_only_offered_covers_nothing():
    job = order(issued(shop(), {"trips": 1.0}), {"trips": 1}, "offered", what="option")
    assert labour.beyond_orders(job, {"trips": 2.0}).beyond == (("trips", 1.0),)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A job with one box and a trip, 300 + 100, issued at 400."""
    folder = store.create(tmp_path / "job")
    opened = Session(folder)

    def start(job: Job) -> Job:
        job = add(add(add(job, "pricerow", [LID])[0], "hourunit", [TRIP, BY_OTHERS])[0], "pricing", [{"rate": "50"}])[0]
        return add(add(job, "box", [{"label": "A"}])[0], "byhand", [{"quantity": "trips", "amount": 1}])[0]

    opened.edit("start", start)
    issue_price(opened, "2026-01-01")
    return opened


def trips(session: Session, amount: int) -> None:
    session.edit("trips", lambda j: set_fields(j, "byhand", j.all(ByHand)[0].id, {"amount": amount}))


def accept(session: Session, index: int = -1, state: str = "accepted") -> Change:
    session.edit(state, lambda j: set_fields(j, "change", j.all(Change)[index].id, {"state": state}))
    return session.job.all(Change)[index]


def pricing(session: Session, **fields: object) -> None:
    session.edit("pricing", lambda j: set_fields(j, "pricing", j.pricing().id, fields))


def test_a_trip_that_is_agreed_and_then_drawn_counts_once(session):
    """400 issued, a trip of 100 accepted: 500; once it is entered nothing is left to order, however often one asks."""
    session.edit("order", lambda j: order(j, {"trips": 1}, "offered"))
    accept(session)
    trips(session, 2)
    take_changes(session)
    take_changes(session)
    assert len(session.job.all(Change)) == 1
    assert session.results().contract == 500
    page = told(session.results())
    assert "1 quantity changed; all of it stands in change orders, accepted or offered." in page
    trips(session, 5)
    take_changes(session)
    take_changes(session)
    assert [c.price for c in session.results().changes] == [100, 300]
    accept(session)
    assert session.results().contract == 800


def test_without_an_issue_an_accepted_change_is_asked_about():
    job = order(shop(), {"trips": 1}, price="100")
    codes = {i.code for i in labour.open_items(job, {"trips": 1.0})}
    assert "change-unissued" in codes
    told_apart = order(issued(shop(), {"trips": 1.0}), {"trips": 1}, price="100")
    assert {i.code for i in labour.open_items(told_apart, {"trips": 1.0})} & {"change-unissued", "change-price"} == set()
    assert "change-price" in {i.code for i in labour.open_items(order(issued(shop(), {"trips": 1.0}), {"trips": 1}),
                                                                {"trips": 1.0})}


# --- a signed sum stays

def test_an_accepted_change_keeps_its_price_and_its_tax(session):
    """A trip of 100 accepted at 10 % tax: 110, whatever becomes of markup and rate."""
    pricing(session, tax="10")
    session.edit("order", lambda j: order(j, {"trips": 1}, "offered"))
    signed = accept(session)
    assert (signed.price, signed.tax) == (100, 10)
    pricing(session, labour_markup="50", rate="80", tax="20")
    (found,) = session.results().changes
    assert (found.price, found.tax, found.today, found.tax_today) == (100, 10, 240, 48)  # 2 h x 80 x 1.5; a fifth of it
    assert session.results().contract == 510
    assert found.working.result.amount == 100
    assert "at the terms of now 240.00" in told(session.results())
    # what is agreed no more is priced as any other, and agreed anew at the terms of then
    again = accept(session, state="offered")
    assert (again.price, again.tax) == (None, None)
    assert accept(session).price == 240


def test_a_change_is_agreed_at_the_price_that_it_was_offered_at(session):
    """Three boxes at 300 and a cap: 10 % on a direct cost of 900 is 990, where 25 % markup would ask 1,125."""
    pricing(session, material_markup="25")
    session.edit("order", lambda j: order(order(j, {"floor boxes": 3}, "offered", cap="10"), {"trips": 1}, "offered"))
    assert [c.price for c in session.results().changes] == [990, 100]
    accept(session, 1)  # in another order than they stand in
    accept(session, 0)
    assert [c.price for c in session.job.all(Change)] == [990, 100]
    # drawn and issued again, it stays what was agreed: 400 + 25 % on the first box, and 990 + 100
    for label in "BCD":
        session.edit("box", lambda j, name=label: add(j, "box", [{"label": name}])[0])
    trips(session, 2)
    assert session.results().contract == 400 + 1090
    issue_price(session, "2026-02-01")
    issue = session.job.all(IssuedPrice)[-1]
    assert (len(issue.holds), issue.price, session.results().contract) == (2, 475 + 1090, 475 + 1090)
    assert session.results().price_move.moved == 0
    pricing(session, material_markup="35")  # one box at the terms of the job, three as agreed: 30 more
    moved = session.results().price_move
    assert (moved.moved, moved.counted, moved.terms) == (30, 0, 30)


def test_a_change_that_is_not_wholly_priced_keeps_no_price(session):
    """A panel has no price yet: nothing is frozen, and it is asked for. At 200 it is then 200, and 300 with a trip."""
    panel, task = {"item": "Panel", "cost": "200"}, {"task": "By others", "likely": 0}
    session.edit("order", lambda j: order(order(j, {"wall panels": 1}, "offered"), {"trips": 1, "wall panels": 1},
                                          "offered"))
    assert [accept(session, i).price for i in (0, 1)] == [None, None]
    asked = [i.subject for i in session.results().items if i.code == "change-price"]
    assert asked == ["CO1", "CO2"]
    session.edit("price", lambda j: add(j, "pricerow", [{**panel, "quantity": "wall panels"}])[0])
    assert [c.price for c in session.results().changes] == [200, 300]
    session.edit("hours", lambda j: add(j, "hourunit", [{**task, "quantity": "wall panels"}])[0])
    accept(session, 0, "offered")
    assert accept(session, 0).price == 200


def test_a_lump_sum_that_is_agreed_counts_without_quantities(session):
    """400 issued and 500 agreed with nothing counted: 900 at 10 % tax is 440 + 550; it stays on top of the next issue."""
    session.edit("lump", lambda j: add(j, "change", [{"label": "Lump", "what": "change order", "state": "accepted",
                                                      "price": "500"}])[0])
    assert session.results().contract == 900
    assert [i.what for i in session.results().items if i.code.startswith("change-")] == []
    assert "at the terms of now" not in told(session.results())
    issue_price(session, "2026-02-01")
    assert (session.job.all(IssuedPrice)[-1].holds, session.results().contract) == ((), 900)
    assert contract(order(issued(shop(tax="10"), {"floor boxes": 1.0}), {}, price="500"), {"floor boxes": 1.0}) == 330 + 550
    # without a sum it counts nowhere, and is asked for
    session.edit("empty", lambda j: set_fields(j, "change", j.all(Change)[0].id, {"price": ""}))
    assert session.results().contract == 400
    assert [i.subject for i in session.results().items if i.code == "change-price"] == ["Lump"]
    session.edit("declined", lambda j: set_fields(j, "change", j.all(Change)[0].id, {"state": "declined", "price": "500"}))
    assert session.results().contract == 400


def test_a_signed_change_whose_quantities_are_altered_is_asked_about(session):
    """One trip agreed at 100, then three: still 100 and no word of terms. At one again, or agreed anew, all is well."""
    def amount(trips: int) -> list[str]:
        session.edit("line", lambda j: set_fields(j, "changeline", j.all(ChangeLine)[0].id, {"amount": trips}))
        return [i.what for i in session.results().items if i.code == "change-altered"]

    session.edit("order", lambda j: order(j, {"trips": 1}, "offered"))
    assert accept(session).agreed_for == "trips = 1"
    (words,) = amount(3)
    assert words == "its quantities are other than those that its price, 100.00, was agreed for: trips 3 for 1"
    assert session.results().contract == 500
    assert "at the terms of now" not in told(session.results())
    assert "with its quantities of now 300.00" in told(session.results())
    assert amount(1) == []
    assert amount(3) != []
    session.edit("price", lambda j: set_fields(j, "change", j.all(Change)[0].id, {"price": "280"}))
    assert ([i.code for i in session.results().items if i.code == "change-altered"], session.results().contract) == ([], 680)
    # what is agreed no more forgets what it was agreed for; so does a copy
    assert accept(session, state="offered").agreed_for == ""
    assert (accept(session).price, accept(session).agreed_for) == (300, "trips = 3")
    session.edit("copy", lambda j: duplicate(j, "change", [j.all(Change)[0].id])[0])
    assert session.job.all(Change)[1].agreed_for == ""


def test_the_quantities_agreed_stand_in_the_words_of_the_country(session):
    session.edit("us", lambda j: set_fields(j, "settings", "job", {"basis": "US"}))
    session.edit("order", lambda j: order(j, {"openings: mains": 2, "trips": 1}, price="90"))
    change = session.job.all(Change)[0]
    assert change.agreed_for == "openings: mains = 2\ntrips = 1"
    assert cell_text(session.job, change, "agreed_for") == "openings: branch power = 2\ntrips = 1"
    again = set_fields(session.job, "change", change.id, {"agreed_for": "openings: branch power = 3\ntrips = 1"})
    assert again.all(Change)[0].agreed_for == "openings: mains = 3\ntrips = 1"


def test_lines_that_are_added_to_a_typed_price_are_no_alteration(session):
    """A sum is typed and accepted first and its quantities after it, as in a file of before: nothing is asked."""
    session.edit("lump", lambda j: add(j, "change", [{"label": "CO", "state": "accepted", "price": "90"}])[0])
    session.edit("line", lambda j: add(j, "changeline", [{"change": "CO", "quantity": "trips", "amount": 1}])[0])
    assert (session.results().contract, session.job.all(Change)[0].agreed_for) == (490, "")
    assert [i for i in session.results().items if i.code == "change-altered"] == []


def test_a_copy_of_a_signed_change_is_not_signed(session):
    session.edit("order", lambda j: order(j, {"trips": 1}, "offered"))
    accept(session)
    session.edit("copy", lambda j: duplicate(j, "change", [j.all(Change)[0].id])[0])
    copy = session.job.all(Change)[1]
    assert (copy.state, copy.price, copy.tax) == ("offered", None, None)


def test_a_price_that_was_typed_wins_and_its_tax_goes_by_the_rule_of_the_job():
    job = order(shop(tax="10"), {"trips": 1}, price="90")
    base = labour.estimate(job, {"trips": 1.0})
    (found,) = labour.priced_changes(job, {"trips": 1.0}, base)
    assert (found.price, found.tax, found.today) == (90, 9, 100)
    declined = set_fields(job, "change", job.all(Change)[0].id, {"state": "declined"})
    assert prices(declined, {"trips": 1.0}) == [100]


# --- changes that touch the same quantity

def test_two_changes_cannot_take_away_more_than_there_is():
    """Seven boxes of 300; five go, then five more: only two are left, 2,100 in all, and the second is asked back."""
    job = order(order(issued(shop(), {"floor boxes": 7.0}), {"floor boxes": -5}), {"floor boxes": -5})
    assert prices(job, {"floor boxes": 7.0}) == [-1500, -600]
    (problem,) = changes.faults(job, {"floor boxes": 7.0})
    assert "takes away 5 of 2 floor boxes" in problem.sentence
    assert contract(job, {"floor boxes": 7.0}) == 0


def test_three_trips_and_one_back_are_two():
    """One trip of 100 issued; three more and one back: 100 + 300 - 100."""
    job = order(order(issued(shop(), {"trips": 1.0}), {"trips": 3}), {"trips": -1})
    assert prices(job, {"trips": 1.0}) == [300, -100]
    assert changes.faults(job, {"trips": 1.0}) == []
    assert contract(job, {"trips": 1.0}) == 300
    # and none was there to begin with
    none = order(order(issued(shop(), {"floor boxes": 1.0}), {"trips": 3}), {"trips": -1})
    assert (prices(none, {"floor boxes": 1.0}), changes.faults(none, {"floor boxes": 1.0})) == ([300, -100], [])
    # an issue of what is drawn holds both; of what is half drawn, the first
    for drawn, held in ((3.0, 2), (4.0, 1), (1.0, 0)):
        again = issued(job, {"trips": drawn}, "Issue 2")
        assert len(again.all(IssuedPrice)[-1].holds) == held
        assert contract(again, {"trips": drawn}) == 300


def test_an_option_that_was_accepted_is_no_more_among_those_to_be_put_together():
    """Boxes of 300: A, B and C add one each. With A in the contract, B and C together are 600, and nothing else."""
    def options(job: Job, *states: str) -> Job:
        for state in states:
            job = order(job, {"floor boxes": 1}, state, what="option")
        return job

    job = options(issued(shop(), {"floor boxes": 2.0}), "accepted", "offered", "offered")
    base = labour.estimate(job, {"floor boxes": 2.0})
    assert [(c.labels, c.price) for c in labour.combined(job, {"floor boxes": 2.0}, base)] == [(("CO2", "CO3"), 600)]
    held = issued(job, {"floor boxes": 3.0}, "Issue 2")
    assert held.all(IssuedPrice)[-1].holds == (held.all(Change)[0].id,)
    base = labour.estimate(held, {"floor boxes": 3.0})
    assert [(c.labels, c.price) for c in labour.combined(held, {"floor boxes": 3.0}, base)] == [(("CO2", "CO3"), 600)]
    assert prices(held, {"floor boxes": 3.0}) == [300, 300, 300]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["trips", "floor boxes"]), st.integers(-4, 4).filter(bool)), max_size=6))
def test_accepted_changes_add_up_to_the_job_with_all_of_them(lines):
    """The sum of the changes is the price with all of them less the price with none, wherever nothing is taken twice."""
    have = {"trips": 9.0, "floor boxes": 9.0}
    job, after = issued(shop(labour_markup="40", material_markup="30", contingency="8"), have), dict(have)
    for name, amount in lines:
        if after[name] + amount >= 0:
            job, after = order(job, {name: amount}), {**after, name: after[name] + amount}
    with_all, without = (labour.estimate(job, q).selling for q in (after, have))
    assert sum(prices(job, have), Decimal(0)) == (with_all.price if with_all else 0) - without.price
    assert changes.faults(job, have) == []


def test_the_demo_keeps_its_price():
    found = compute(store.read(Path(__file__).parents[2] / "demo_projects" / "quillhaven_playhouse").job)
    assert found.estimate.selling.total == Decimal("18548.56")
