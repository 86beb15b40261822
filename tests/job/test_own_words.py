"""Names that the workbook itself gives, in a cell that a user can also type: told and taken in the country's words."""

import pytest

from stagefloor.job.edit import add, set_fields
from stagefloor.job.labour import HourUnit
from stagefloor.job.model import Job
from stagefloor.job.typed import cell_text
from stagefloor.job.wording import words_of


@pytest.mark.parametrize(("basis", "typed", "told"), [
    ("US", "mains requests", "branch power requests"), ("US", "Branch power requests", "branch power requests"),
    ("US", "openings: branch power", "openings: branch power"), ("US", "cable m: power box", "cable m: power box"),
    ("IEC/UK", "mains requests", "mains requests")])
def test_a_quantity_is_told_and_taken_in_the_words_of_the_country(basis: str, typed: str, told: str) -> None:
    job = set_fields(Job(), "settings", "job", {"basis": basis})
    job, (record_id,) = add(job, "hourunit", [{"task": "Agree an outlet", "quantity": typed}])
    record = job.get(HourUnit, record_id)
    inside = told.replace("branch power", "mains").replace("power box", "mains box")
    assert record.quantity == inside  # one vocabulary inside, whatever was typed
    assert cell_text(job, record, "quantity") == told
    assert words_of(job).text(f"12 of 12 unpriced: {record.quantity} (a price)") == f"12 of 12 unpriced: {told} (a price)"


def test_a_text_of_ones_own_stays_as_it_was_typed() -> None:
    job, (record_id,) = add(Job(), "hourunit", [{"task": "Ask about mains", "quantity": "trips"}])
    assert cell_text(job, job.get(HourUnit, record_id), "task") == "Ask about mains"
    assert "Ask about mains" in words_of(job).text("Open: Ask about mains")
