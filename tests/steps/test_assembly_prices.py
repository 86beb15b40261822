"""Ready-made assemblies in the price, and lines whose length nobody knows; by hand beside each check."""

from decimal import Decimal

import pytest

from stagefloor.job.boxes import Box
from stagefloor.job.cables import Cable, CableType, Circuit, Node
from stagefloor.job.edit import add, set_fields
from stagefloor.job.labour import Pricing
from stagefloor.job.model import Job
from stagefloor.results import compute
from stagefloor.steps import labour
from stagefloor.steps.cables import Line, lines, takeoff
from stagefloor.steps.cables.lines import check
from stagefloor.steps.labour import changes

FOOT = 0.3048


def stage(*types: str, sold: str = "50 ft", own_price: str = "", **fields: str) -> Job:
    """A line each of the types 'pair' (30.00 for 100 ft) and 'optic' (an assembly, 600.00), 30 ft from box to rack."""
    job = set_fields(Job(), "settings", "job", {"rack_x": "0", "rack_y": "0", "slack_box": "0", "slack_rack": "0"})
    job, _ = add(job, "node", [{"label": "R", "what": "rack", "x": "0", "y": "0"}, {"label": "A", "x": "30", "y": "0"}])
    job, _ = add(job, "segment", [{"label": "R-A", "start": "R", "end": "A", "string": "proved"}])
    job, _ = add(job, "box", [{"label": "FB-1", "x": "30", "y": "0"}])
    job, (_, optic) = add(job, "cabletype", [
        {"label": "pair", "what": "microphone", "price": "30"},
        {"label": "optic", "what": "microphone", "assembly": "yes", "price": "600", **fields}])
    if sold:
        job, _ = add(job, "reel", [{"type": optic, "length": sold, "price": own_price}])
    job, _ = add(job, "pricing", [{}])
    for n, name in enumerate(types):
        job, _ = add(job, "opening", [{"box": "FB-1", "label": f"1-M{n}"}])
        job, _ = add(job, "circuit", [{"label": f"1-M{n}", "openings": f"1-M{n}"}])
        job, _ = add(job, "cable", [{"label": f"1-M{n}", "circuits": f"1-M{n}", "type": name}])
    return job


def costs(job: Job) -> dict[str, Decimal]:
    return {m.item: m.cost for m in compute(job).estimate.materials}


def missing(job: Job) -> dict[str, str]:
    return {u.quantity: u.missing for u in compute(job).estimate.unpriced}


@pytest.mark.parametrize(("own", "cost"), [("", "300.00"), ("210", "210.00")])
def test_an_assembly_costs_what_its_length_sold_costs_and_leaves_cable_alone(own: str, cost: str) -> None:
    """30 ft of pair at 0.30 are 9.00; the 50 ft assembly is 50 x 6.00, or its own price."""
    job = stage("pair", "optic", own_price=own)
    assert costs(job) == {"pair": Decimal("9.00"), "optic, 50 ft": Decimal(cost)}
    assert not {"cable m: microphone", "assemblies: microphone"} & set(missing(job))
    quantities = takeoff(job)
    assert quantities["cable m: microphone"] == pytest.approx(30 * FOOT)
    assert (quantities["assemblies: microphone"], quantities["cable ends: microphone"]) == (1, 2)  # it comes with its ends


def test_assemblies_of_two_lengths_cost_each_its_own() -> None:
    """50 ft at 210.00 and 25 ft, typed as measured, at 120.00."""
    job = stage("optic", "optic", own_price="210")
    job, _ = add(job, "reel", [{"type": job.all(CableType)[1].id, "length": "25 ft", "price": "120"}])
    job = set_fields(job, "cable", job.all(Cable)[0].id, {"typed_length": "20 ft"})
    assert sum(costs(job).values()) == 330
    assert "assemblies: microphone" not in missing(job)


def test_an_assembly_without_a_length_or_a_price_is_said_whatever_hours_it_has() -> None:
    hours = {"task": "Pull assemblies", "quantity": "assemblies: microphone", "likely": "1"}
    for job in (stage("optic", sold=""), stage("optic", sold="29 ft"), stage("optic", price="")):
        assert missing(job)["assemblies: microphone"] == "a price"
        job = set_fields(add(job, "hourunit", [hours])[0], "pricing", job.all(Pricing)[0].id, {"rate": "50"})
        assert missing(job)["assemblies: microphone"] == "a price"
        assert costs(job) == {}
    # one of two is too long for what is sold
    job = stage("optic", "optic", own_price="210")
    job = set_fields(job, "cable", job.all(Cable)[0].id, {"typed_length": "60 ft"})
    assert missing(job)["assemblies: microphone"] == "a price for 1 of 2"
    # a row of the shop counts both
    job, _ = add(job, "pricerow", [{"item": "Assemblies", "quantity": "assemblies:", "cost": "400"}])
    assert (costs(job), missing(job).get("assemblies: microphone")) == ({"Assemblies": Decimal("800.00")}, None)


def test_bulk_cable_prices_no_assembly() -> None:
    """A row for cable by the metre says nothing of a cable with its ends on; a row for assemblies does."""
    bulk = {"item": "Bulk", "quantity": "cable m: microphone", "per": "30.48", "cost": "30"}
    job, _ = add(stage("optic", price=""), "pricerow", [bulk])
    (row,) = [r for r in compute(job).purchase.rows if r.item.startswith("optic")]
    assert (row.each, costs(job)) == (None, {})
    job, _ = add(job, "pricerow", [{"item": "Made up", "quantity": "assemblies: microphone", "cost": "250"}])
    (row,) = [r for r in compute(job).purchase.rows if r.item.startswith("optic")]
    assert (row.cost, row.price_from) == (250, "price row 'Made up'")


def test_a_pulled_assembly_stays_in_the_price() -> None:
    job = stage("optic", own_price="210")
    job = set_fields(job, "circuit", job.all(Circuit)[0].id, {"state": "pulled"})
    assert costs(job) == {"optic, 50 ft": Decimal("210.00")}


# --- lines whose length nobody knows

def test_a_line_without_a_length_is_said_by_price_and_client() -> None:
    """FB-2 has no place: its line has no length, 1 of 2 lines; the other is 30 ft at 0.30."""
    job, _ = add(stage("pair"), "box", [{"label": "FB-2"}])
    assert "lines without a length" not in missing(job)
    job, _ = add(job, "opening", [{"box": "FB-2", "label": "2-M1"}])
    job, _ = add(job, "circuit", [{"label": "2-M1", "openings": "2-M1"}])
    job, _ = add(job, "cable", [{"label": "2-M1", "circuits": "2-M1", "type": "pair"}])
    found = compute(job)
    assert missing(job)["lines without a length"] == "the length of 1 of 2 lines"
    assert costs(job) == {"pair": Decimal("9.00")}
    assert found.estimate.selling is not None
    before = compute(set_fields(job, "box", job.all(Box)[1].id, {"x": "30", "y": "0"}))
    assert before.estimate.selling is not None
    # the client's note counts it: one more of one more
    assert (found.estimate.selling.unpriced, found.estimate.selling.counted) == (
        before.estimate.selling.unpriced + 1, before.estimate.selling.counted + 1)


def test_a_length_that_was_found_is_no_change_of_the_work() -> None:
    job, _ = add(stage("pair"), "pricing", [{}])
    then = {"floor boxes": 1.0, "cable m: microphone": 9.144, "lines without a length": 1.0}
    job = changes.issued(job, compute(job).estimate, then, "I", "")
    assert labour.since_issue(job, {"floor boxes": 1.0, "cable m: microphone": 9.144})[1] == []


def test_a_node_without_a_place_is_no_way_of_no_length() -> None:
    """FB-1 is fed from B, whose place nobody entered: the last bit is not known, and neither is the way."""
    job = stage("pair")
    job, _ = add(job, "node", [{"label": "B"}])
    job, _ = add(job, "segment", [{"label": "A-B", "start": "A", "end": "B", "typed_length": "20", "string": "proved"}])
    job = set_fields(job, "box", job.boxes()[0].id, {"feed": "B"})
    (line,) = lines(job)
    assert isinstance(line, Line)
    assert (line.metres, line.way.legs) == (0, ())
    assert "the place of B" in line.way.problem
    assert missing(job)["lines without a length"] == "the length of 1 of 1 line"
    assert [i.amount for i in compute(job).items if i.code == "no-way"] == ["length not known"]
    # with its place 30 ft out, at the box: 30 ft to A, 20 ft as typed, nothing more
    (line,) = lines(set_fields(job, "node", job.all(Node)[2].id, {"x": "30", "y": "0"}))
    assert line.metres == pytest.approx(50 * FOOT)


# --- what an assembly is not judged by

@pytest.mark.parametrize("kind", ["video", "data"])
def test_an_assembly_is_not_judged_by_the_limits_of_cable_that_is_cut(kind: str) -> None:
    """ISO/IEC 11801 and TIA-568: a permanent link is installed cable between fixed connectors; SMPTE ST 424: coax."""
    made = CableType(id="a", label="optic", what=kind, assembly=True)
    assert check(kind, made, 120.0) is None
    bulk = check(kind, CableType(id="b", label="bulk", what=kind), 120.0)
    assert bulk is not None
    assert bulk.holds is False
