"""Units in the heads of a table: taken, or said; never dropped. Lengths are checked with pint, an independent library."""

import io

import openpyxl
import pint
import pytest

from stagefloor.job import edit
from stagefloor.job.cables import CableType
from stagefloor.job.exchange.heads import Column, matched, said_of
from stagefloor.job.exchange.preview import ADD, REFUSE, Plan
from stagefloor.job.exchange.table_file import read_table
from stagefloor.job.exchange.tables import planned
from stagefloor.job.inventory import Point
from stagefloor.job.labour import HourUnit, PriceRow, Risk
from stagefloor.job.model import Job
from stagefloor.job.sheet import Joists

OTHER = pint.UnitRegistry()


def take(text: str | bytes, kind: str = "point", job: Job | None = None) -> Plan:
    file = read_table(text.encode() if isinstance(text, str) else text, "list.csv")
    return planned(job or Job(), kind, file, matched(kind, file.heads))


def metres(plan: Plan) -> float:
    (point,) = plan.job.all(Point)
    assert point.x is not None
    return point.x.si


@pytest.mark.parametrize(("head", "unit"), [
    ("Across (meters)", "meter"), ("Across m", "meter"), ("Across [M]", "meter"), ("Across [MM]", "millimeter"),
    ("across, mm", "millimeter"), ("Across / cm", "centimeter"), ("Across (millimetres)", "millimeter"),
    ("ACROSS (Metres)", "meter"), ("Across, feet", "foot"), ("Across Inches", "inch"), ("Across in mm", "millimeter"),
    ("Across in", "inch"), ("Across (in.)", "inch"), ("Across(ft)", "foot"), ("x m", "meter"), ("Acros mm", "millimeter"),
    ('Across (")', "inch"), ("Across", "foot"), ("Across [m]:", "meter")])
@pytest.mark.parametrize("cell", ["3.5", "0.35E1", "3 1/2"])
def test_a_unit_in_a_head_is_for_its_bare_numbers(head: str, unit: str, cell: str) -> None:
    plan = take(f'Name;{head}\nA;{cell}\n')
    assert metres(plan) == pytest.approx(OTHER.Quantity(3.5, unit).to("meter").magnitude, rel=1e-12)


def test_what_is_stored_is_what_is_shown_for_a_new_row() -> None:
    (line,) = take("Name,Across (meters),Up [MM],Mics\nA,3.5,2000,two\nB,3.5,2000,2\n").of(ADD)
    assert line.words == "across: 3.5 m, up: 2000 mm, microphone: 2"
    (bare,) = take("Name,Across\nA,3.5\n").of(ADD)
    assert bare.words == "across: 3.5 ft"


@pytest.mark.parametrize("end", ["", " [USD]", " (USD)"])
def test_a_price_of_cable_comes_in_under_the_head_that_it_had_in_older_exports(end: str) -> None:
    plan = take(f"Cable type;For;Buying price for 100 ft or 30 m{end};Reel\nPair;microphone;19.50;1000 ft\n", "cabletype")
    (kind,) = plan.job.all(CableType)
    assert (str(kind.price), kind.price_for, str(kind.reel)) == ("19.50", None, "1000 ft")


@pytest.mark.parametrize("head", ["Across (smoots)", "Across [px]", "Across dm", "Across, kg"])
def test_a_head_with_a_word_that_is_no_unit_of_its_field_refuses_its_bare_numbers(head: str) -> None:
    plan = take(f"Name;{head}\nA;3.5\nB;-1e3\nC;3.5 m\n")
    assert [x.state for x in plan.lines] == [REFUSE, REFUSE, ADD]
    assert plan.lines[0].words.startswith("Across: '3.5' has no unit, and '")
    assert plan.lines[0].words.endswith("write the head as Across [ft], or the unit in each cell")
    assert metres(plan) == 3.5


def test_a_remark_in_a_head_stays_a_remark_and_the_unit_is_said_beside_it() -> None:
    heads = ("Point (as painted)", "Across (from the middle)", "Up [m]", "Mics (new)", "In which events")
    columns = matched("point", heads)
    assert [c.field for c in columns] == ["label", "x", "y", "microphone", "events"]
    assert [said_of(Job(), "point", c) for c in columns] == [
        "", "bare numbers are in ft", "bare numbers are in m, as its head says", "", ""]
    strange = Column("Across (smoots)", "x")
    assert said_of(Job(), "point", strange) == "'smoots' in its head is no unit for it: bare numbers are refused"
    metric = edit.set_fields(Job(), "settings", "job", {"units": "m"})
    assert said_of(metric, "joists", Column("Depth", "depth")) == "bare numbers are in mm"
    assert said_of(metric, "point", Column("Distance in ft", "x")) == "bare numbers are in ft, as its head says"
    assert said_of(metric, "point", Column("Colour", "")) == ""


def test_a_column_that_is_counted_in_its_own_unit_is_read_in_no_other() -> None:
    plan = take("Task,Likely [hours],High (min)\nPull,1.5,\nFit,2,90\n", "hourunit")
    assert [x.state for x in plan.lines] == [ADD, REFUSE]
    assert plan.lines[1].words == ("High: '90' stands under a head that says 'min', but high is read in h; change the "
                                   "numbers, and take it out of the head")
    assert [u.likely for u in plan.job.all(HourUnit)] == [1.5]


def test_money_under_the_sign_of_another_currency_is_refused() -> None:
    heads = {c.title or n: n for n, c in PriceRow.model_fields.items()}
    cost = next(title for title, n in heads.items() if n == "cost")
    for said, state in (("USD", ADD), ("$", ADD), ("€", REFUSE), ("GBP", REFUSE), ("per metre", ADD)):
        assert [x.state for x in take(f"Item;{cost} [{said}]\nPlate;12.50\n", "pricerow").lines] == [state], said


def test_a_nominal_size_of_lumber_is_none_in_the_unit_of_the_head() -> None:
    # DOC PS 20: a 2x10 is 1-1/2 by 9-1/4 in
    plan = take("Name,Depth [mm]\nA,2x10\nB,220\n", "joists")
    assert [j.depth.si for j in plan.job.all(Joists) if j.depth] == [pytest.approx(9.25 * 0.0254), pytest.approx(0.22)]


@pytest.mark.parametrize(("form", "value", "chance"), [
    ("0%", 0.25, 25.0), ("0.0 %", 0.125, 12.5), ("0%", 1, 100.0), ('0.00" %"', 25, 25.0), ("0\\%", 25, 25.0),
    ("General", 25, 25.0)])
def test_a_share_of_a_spreadsheet_is_read_as_it_is_shown(form: str, value: float, chance: float) -> None:
    """ECMA-376 part 1, 18.8.31: % in a number format multiplies by 100, unless it is quoted or marked as a letter."""
    book = openpyxl.Workbook()
    book.active.append(["Risk", "Chance", "Hours if it happens"])
    book.active.append(["Rain", value, 3])
    book.active["B2"].number_format = form
    out = io.BytesIO()
    book.save(out)
    (risk,) = take(out.getvalue(), "risk").job.all(Risk)
    assert (risk.chance, risk.hours) == (chance, 3.0)


def test_a_share_is_no_number_of_hours() -> None:
    plan = take("Risk,Chance,Hours if it happens\nRain,25 %,25%\n", "risk")
    assert [(x.state, x.words) for x in plan.lines] == [
        (REFUSE, "Hours if it happens: '25%' is a share, and a number in h belongs here.")]
