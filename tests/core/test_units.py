"""Units at the edge: what is typed is read rightly, kept as typed, and refused in one sentence if it can't be."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import KINDS, area_text, length_text, long_length_text, number_text, parse

UREG = pint.UnitRegistry()
NUMBERS = st.floats(1e-6, 1e6)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("12' 6 1/2\"", 12 * 0.3048 + 6.5 * 0.0254),
        ("12ft 6-1/2in", 12 * 0.3048 + 6.5 * 0.0254),
        ("3.81 m", 3.81),
        ("3,81 m", 3.81),
        ("7 3/8 in", 7.375 * 0.0254),
        ("-3 ft", -0.9144),
        ("−3 ft", -0.9144),
        ("5/8\"", 0.625 * 0.0254),
        ("1e2 mm", 0.1),
    ],
)  # fmt: skip
def test_lengths_as_typed(text, metres):
    """The foot is 0.3048 m and the inch 25.4 mm by definition (international yard and pound, 1959)."""
    found = parse(text, "length")
    assert found.si == pytest.approx(metres)
    assert found.text == text.strip()


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("", "length"), ("abc", "length"), ("12", "length"), ("12 kg", "length"), ("1/0 in", "length"),
        ("1.5 1/2 in", "length"), ("1' 2' ", "length"), ("1.5' 3\"", "length"), ("12 m/s", "length"),
        ("5 MHZ2", "frequency"), ("2.5", "mass"), ("3 apples", "count"), ("2.5", "count"), ("-1", "count"),
        ("1,2,3 m", "length"), ("--3 m", "length"), ("1e m", "length"), ("∞ m", "length"), ("5 m5", "length"),
    ],
)  # fmt: skip
def test_what_is_not_a_quantity_is_refused_in_one_sentence(text, kind):
    with pytest.raises(Problem) as refused:
        parse(text, kind)
    assert "\n" not in refused.value.sentence
    assert refused.value.sentence.endswith(".")


@given(NUMBERS, st.sampled_from([(k, u) for k, (_, units) in KINDS.items() for u in units]))
def test_reading_what_was_written_gives_it_back(number, kind_unit):
    kind, unit = kind_unit
    factor = KINDS[kind][1][unit]
    assert parse(f"{number!r} {unit}", kind).si == pytest.approx(number * factor, rel=1e-12)


@given(st.floats(-500, 500))
def test_feet_and_inches_are_read_back_to_a_sixteenth(metres):
    text = length_text(metres, "ft-in")
    assert parse(text, "length").si == pytest.approx(metres, abs=0.0254 / 32 + 1e-9)


@given(st.floats(0, 500), st.sampled_from(["m", "mm", "ft"]))
def test_other_length_texts_are_read_back(metres, display):
    step = {"m": 0.0005, "mm": 0.0005, "ft": 0.005 * 0.3048}[display]
    assert parse(length_text(metres, display), "length").si == pytest.approx(metres, abs=step * 1.001)


@given(st.floats(-50, 200))
def test_fahrenheit_against_pint(degrees):
    assert parse(f"{degrees!r} degF", "temperature").si == pytest.approx(
        UREG.Quantity(degrees, "degF").to("degC").magnitude, abs=1e-9
    )


def test_letter_case_is_forgiven_only_where_it_is_safe():
    assert parse("5 MM", "length").si == parse("5 mm", "length").si
    assert parse("5 Mohm", "resistance").si == 5e6
    assert parse("5 mohm", "resistance").si == 5e-3
    with pytest.raises(Problem):
        parse("5 MOHM", "resistance")


def test_a_bare_number_takes_the_default_unit_and_says_so():
    found = parse("12", "length", "ft")
    assert found.si == pytest.approx(3.6576)
    assert found.text == "12 ft"


@pytest.mark.parametrize(
    ("metres", "display", "text"),
    [
        (3.81, "m", "3.81 m"), (0.0127, "mm", "13 mm"), (3.81, "ft-in", "12' 6\""), (0.3048, "ft-in", "1'"),
        (0.0254 * 0.0625, "ft-in", '1/16"'), (0.0, "ft-in", '0"'), (-0.3048, "ft-in", "-1'"),
        (0.30479, "ft-in", "1'"), (30.48, "ft", "100 ft"),
    ],
)  # fmt: skip
def test_lengths_to_read(metres, display, text):
    assert length_text(metres, display) == text


def test_long_lengths_and_areas_to_read():
    assert long_length_text(304.8, "ft-in") == "1,000 ft"
    assert long_length_text(304.8, "m") == "304.8 m"
    assert area_text(0.0254**2, "ft-in") == "1.000 in²"
    assert area_text(1e-4, "m") == "100 mm²"


@pytest.mark.parametrize(
    ("value", "text"), [(0, "0"), (1234567, "1235000"), (0.00012, "0.00012"), (-2.5, "−2.5")]
)
def test_numbers_to_read_have_no_exponent(value, text):
    assert number_text(value) == text


def test_nearest_choice():
    assert nearest("lenght", ["length", "load"]) == "length"
    assert nearest("xyz", ["length", "load"]) == ""


# a foot has 12 inches; 1 ft = 0.3048 m and 1 in = 0.0254 m exactly (international yard and pound, 1959)
@pytest.mark.parametrize(("text", "feet", "inches"), [
    ("6-0", 6, 0), ("9'-6", 9, 6), ("9'6", 9, 6), ("9-6 1/2", 9, 6.5), ("9-11.5", 9, 11.5), ("9-6\"", 9, 6)])
def test_feet_and_inches_as_on_a_tape_in_a_job_in_feet(text, feet, inches):
    found = parse(text, "length", "ft")
    assert found.si == pytest.approx(feet * 0.3048 + inches * 0.0254, abs=1e-12)
    assert parse(found.text, "length").si == found.si  # what is kept reads the same without the job
    assert parse("-" + text, "length", "ft").si == -found.si


def test_a_dash_is_no_guess_elsewhere():
    assert parse("6-1/2", "length", "ft").si == pytest.approx(6.5 * 0.3048)  # six and a half, as before
    for text, unit in (("6-0", "m"), ("6-0", ""), ("6-14", "ft"), ("6-", "ft")):
        with pytest.raises(Problem):
            parse(text, "length", unit)
