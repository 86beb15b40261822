"""Every printed value is met within its tolerance; the list that `calc --checks` shows is the true one."""

import csv
import sys
from types import CodeType

import pytest
from published.all_checks import CHECKS, outside_rows, transcription_slips
from published.check import rows
from published.table_laws import LAWS

from stagefloor.calculations.catalogue import CHECKS as SHOWN
from stagefloor.calculations.catalogue import by_name
from stagefloor.core.workings import ARITHMETIC, PUBLISHED


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: f"{c.calculation}: {c.what} ({c.source})")
def test_value_as_printed(check):
    assert check.difference() <= check.allowed + 1e-12, (
        f"{check.source} prints {check.printed}, we find {check.value()}"
    )


@pytest.mark.parametrize("law", LAWS, ids=lambda c: f"{c.source}: {c.what}")
def test_law_of_a_whole_table(law):
    assert law.kept(), f"{law.printed} by the law, {law.value()} in the table"


def _called(check) -> set[CodeType]:
    """The functions that a check runs."""
    called = set()
    sys.setprofile(lambda frame, event, _: called.add(frame.f_code) if event == "call" else None)
    try:
        check.value()
    finally:
        sys.setprofile(None)
    return called


def test_each_check_runs_the_calculation_that_it_is_listed_under():
    functions = {name: c.function.__code__ for name, c in by_name().items()}
    astray = [f"{c.calculation}: {c.what}" for c in CHECKS if functions[c.calculation] not in _called(c)]
    assert astray == []


def test_a_wider_tolerance_has_its_reason():
    assert [c.what for c in CHECKS if c.tolerance is not None and not c.reason] == []


def test_there_are_enough_values_from_enough_sources():
    outside = [c for c in CHECKS if c.status != ARITHMETIC]
    assert len(outside) >= 220
    assert len({c.source for c in outside}) >= 30


def test_the_list_shown_to_users_is_what_is_compared():
    with SHOWN.open(encoding="utf-8", newline="") as file:
        shown = list(csv.reader(file))[1:]
    assert shown == outside_rows(), "run `python -m published.all_checks` in tests to write the list again"
    assert {row[0] for row in shown} <= set(by_name())


def test_the_shipped_tables_agree_with_the_figures_as_printed():
    assert transcription_slips() == []


def test_each_figure_as_printed_names_its_source_and_its_digits():
    for r in rows("as_printed"):
        assert r["source"] and r["status"] == PUBLISHED, r
        assert "e" in r["printed"] or int(r["digits"]) == len(r["printed"].partition(".")[2]), r
