"""What is typed into a field becomes a value, or one plain sentence; nothing is guessed without a word."""

from decimal import Decimal

import pytest

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import BoxModel
from stagefloor.job.cables import Circuit
from stagefloor.job.edit import add, build, set_fields
from stagefloor.job.inventory import Point, read_counts
from stagefloor.job.labour import PriceRow, Pricing
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.sheet import FloorLayer, Joists, KeepClear, Settings
from stagefloor.job.typed import cell_text

FOOT = 0.3048  # m, exact: international foot of 1959
POUND = 0.45359237  # kg, exact


def one(kind: str, fields: dict[str, object], units: str = "ft-in") -> object:
    job = set_fields(Job(), "settings", "job", {"units": units})
    job, (record_id,) = add(job, kind, [fields])
    return job.tables[kind][record_id]


@pytest.mark.parametrize(("units", "typed", "metres"), [
    ("ft-in", "12", 12 * FOOT), ("m", "12", 12.0), ("ft-in", "12 m", 12.0), ("m", "12 ft", 12 * FOOT),
    ("ft-in", "12' 6 1/2\"", 12.5 * FOOT + 0.5 * 0.0254), ("ft-in", "-6", -6 * FOOT), ("m", "3,5", 3.5)])
def test_a_bare_length_is_in_the_units_of_the_job(units: str, typed: str, metres: float) -> None:
    point = one("point", {"x": typed}, units)
    assert isinstance(point, Point)
    assert point.x is not None
    assert point.x.si == pytest.approx(metres, abs=1e-12)


# A 2x10 joist is 1-1/2 by 9-1/4 in at 16 in centres, its metric neighbour 45 by 220 mm at 400 mm; a tape is read so on site.
@pytest.mark.parametrize(("units", "typed", "metres"), [
    ("ft-in", "9-1/4", 0.23495), ("ft-in", "16", 0.4064), ("ft-in", "1' 4\"", 0.4064), ("ft-in", "400 mm", 0.4),
    ("m", "400", 0.4), ("m", "0.4 m", 0.4), ("m", "16 in", 0.4064)])
def test_a_bare_number_of_a_joist_or_a_layer_is_in_inches_or_millimetres(units: str, typed: str, metres: float) -> None:
    joists = one("joists", {"spacing": typed, "depth": typed}, units)
    layer = one("layer", {"material": "ply", "thickness": typed}, units)
    assert isinstance(joists, Joists)
    assert isinstance(layer, FloorLayer)
    assert joists.spacing is not None
    assert joists.depth is not None
    assert layer.thickness is not None
    assert joists.spacing.si == joists.depth.si == layer.thickness.si == pytest.approx(metres, abs=1e-12)


def test_the_text_as_typed_is_kept_with_its_unit() -> None:
    point = one("point", {"x": "12", "y": "12' 6 1/2\""})
    assert isinstance(point, Point)
    assert point.x is not None
    assert point.y is not None
    assert (point.x.text, point.y.text) == ("12 ft", "12' 6 1/2\"")


def test_bare_force_mass_and_resistance() -> None:
    model = one("boxmodel", {"lid_load": "100"})
    assert isinstance(model, BoxModel)
    assert model.lid_load is not None
    assert model.lid_load.si == pytest.approx(100 * POUND * 9.80665)  # lbf: standard gravity, exact
    metric = one("boxmodel", {"lid_load": "100"}, "m")
    assert isinstance(metric, BoxModel)
    assert metric.lid_load is not None
    assert metric.lid_load.si == 100.0
    zone = one("keepclear", {"load": "330"})
    assert isinstance(zone, KeepClear)
    assert zone.load is not None
    assert zone.load.si == pytest.approx(330 * POUND)
    cable = one("cabletype", {"resistance": "53"})
    assert cable.resistance.si == pytest.approx(0.053)  # type: ignore[attr-defined]  # ohm per metre


@pytest.mark.parametrize(("kind", "field", "typed", "words"), [
    ("point", "x", "twelve", ["twelve", "is not a length", "12' 6 1/2\""]),
    ("point", "x", "12 kg", ["kg", "is not a unit of length"]),
    ("point", "x", "1e999", ["too large"]),
    ("point", "x", "9" * 400 + "/1 in", ["9999", "is not a length"]),
    ("point", "microphone", "-1", ["-1", "whole number"]),
    ("point", "microphone", "2.5", ["2.5", "whole number"]),
    ("point", "microphone", "40000", ["40000", "more than 999"]),
    ("point", "microphone", "²", ["whole number"]),
    ("point", "microphone", "\ud83dx", ["'x'", "whole number"]),
    ("point", "events", "Plau", ["no event called 'Plau'", "did you mean 'Play'?"]),
    ("point", "colour", "red", ["no field 'colour'"]),
    ("point", "id", "point-7", ["no field 'id'"]),
    ("event", "per_year", "often", ["often", "is not a number"]),
    ("event", "per_year", "nan", ["is not a number"]),
    ("box", "surface", "flor", ["'flor' is not a choice", "did you mean floor?"]),
    ("box", "pinned", "perhaps", ["perhaps", "neither yes nor no"]),
    ("box", "label", "x" * 4001, ["4001 characters", "4,000"]),
    ("circuit", "load_w", "1,200", ["1,200", "as thousands or as a decimal", "leave the comma out"]),
    ("circuit", "load_w", "-1,200.5", ["as thousands or as a decimal"]),
    ("point", "x", "1,200 m", ["as thousands or as a decimal"]),
    ("hourunit", "likely", "50 %", ["'50 %' is a share, and a number in h belongs here"]),
    ("pricerow", "cost", "cheap", ["cheap", "not an amount of money"]),
    ("pricerow", "cost", "1.250,00", ["1.250,00", "not an amount of money"]),
    ("pricerow", "cost", "1e400", ["not an amount of money"]),
    ("segment", "typed_length", "-5 ft", ["-5 ft", "less than nothing"]),
    ("boxmodel", "across", "-12 in", ["-12 in", "less than nothing"]),
    ("joists", "spacing", "-16 in", ["-16 in", "less than nothing"]),
    ("mainsload", "amps", "-5", ["-5", "less than nothing"]),
    ("hourunit", "likely", "−2", ["−2", "less than nothing"])])
def test_what_cannot_be_read_is_one_plain_sentence_at_its_field(kind: str, field: str, typed: str,
                                                                  words: list[str]) -> None:
    job, _ = add(Job(), "event", [{"label": "Play"}])
    with pytest.raises(Problem) as told:
        add(job, kind, [{field: typed}])
    assert told.value.where == field
    assert all(w in told.value.sentence for w in words), told.value.sentence
    assert "\n" not in told.value.sentence
    assert "Traceback" not in told.value.sentence
    assert len(told.value.sentence) < 300


@pytest.mark.parametrize("typed", ["1250.125", "1234567.5", "0.1", "1e-09", "12", "-7.25"])
def test_a_number_is_shown_with_every_digit_that_was_typed(typed: str) -> None:
    job, (reading,) = add(Job(), "reading", [{"test": "loop resistance", "value": typed}])
    assert cell_text(job, job.tables["reading"][reading], "value") == typed


# A decimal comma is the usual sign in much of the world (ISO 80000-1, 7.3.2); no thousands begin with 0.
@pytest.mark.parametrize(("typed", "number"), [("1,5", 1.5), ("0,125", 0.125), ("−2,25", -2.25), ("1200", 1200.0)])
def test_a_decimal_comma_is_read_alike_in_numbers_and_in_lengths(typed: str, number: float) -> None:
    job, (reading,) = add(Job(), "reading", [{"test": "level", "value": typed}])
    assert job.tables["reading"][reading].value == number  # type: ignore[attr-defined]
    point = one("point", {"x": f"{typed} m"})
    assert isinstance(point, Point)
    assert point.x is not None
    assert point.x.si == number


@pytest.mark.parametrize(("typed", "amount"), [
    ("1,250.00", "1250.00"), ("$1,250", "1250"), ("12,50", "12.50"), ("1250.5", "1250.5"), ("€ 12", "12"),
    ("1,250,000", "1250000")])
def test_money_is_decimal_and_a_decimal_comma_is_no_thousand(typed: str, amount: str) -> None:
    row = one("pricerow", {"cost": typed})
    assert isinstance(row, PriceRow)
    assert row.cost == Decimal(amount)


def test_an_emptied_field_goes_back_to_its_default_and_counts_as_assumed() -> None:
    job = set_fields(Job(), "settings", "job", {"reach": "10 ft"})
    assert "reach" in job.settings.model_fields_set
    job = set_fields(job, "settings", "job", {"reach": "  "})
    assert "reach" not in job.settings.model_fields_set
    assert job.settings.reach is not None
    assert job.settings.reach.text == "6 ft"


def test_choices_ignore_letter_case_and_control_characters_are_dropped() -> None:
    circuit = one("circuit", {"what": "LOUDSPEAKER", "label": "A\x00B\ud83dC\nD"})
    assert isinstance(circuit, Circuit)
    assert (circuit.what, circuit.label) == ("loudspeaker", "ABC\nD")


def test_a_name_that_two_records_share_is_asked_back() -> None:
    job, _ = add(Job(), "event", [{"label": "Play"}, {"label": "play"}])
    with pytest.raises(Problem, match="2 records of the kind event are called 'Play'"):
        add(job, "point", [{"events": "Play"}])


def test_counts_from_words() -> None:
    assert read_counts("2 mics, 1 speaker and 1 power") == {"microphone": 2, "loudspeaker": 1, "mains": 1}
    with pytest.raises(Problem, match="'banjos' is not a kind of connection; the kinds are microphone"):
        read_counts("2 banjos")
    with pytest.raises(Problem, match="did you mean video"):
        read_counts("2 vidio")
    with pytest.raises(Problem, match="is not a number and a kind"):
        read_counts("lots of data")


def test_every_field_describes_itself_and_every_record_has_a_noun() -> None:
    for cls in [*RECORDS.values(), Settings]:
        assert cls.noun, cls
        assert cls.step, cls
        assert cls.__doc__, cls
        for name, info in cls.model_fields.items():
            if name != "id":
                assert info.title, f"{cls.kind}.{name}"
                assert isinstance(info.json_schema_extra, dict), f"{cls.kind}.{name}"


def test_build_refuses_with_a_sentence_and_keeps_a_good_value() -> None:
    assert build(Pricing, {"id": "p", "rate": "46.50"}).rate == Decimal("46.50")
    with pytest.raises(Problem, match="not a field that this version knows"):
        build(Pricing, {"id": "p", "hourly": "46.50"})


@pytest.mark.parametrize(("field", "typed", "kept"), [
    ("units", "feet", "ft-in"), ("units", "Metres", "m"), ("floor_type", "wood", "wood on joists"),
    ("floor_type", "Timber", "wood on joists"), ("floor_type", "slab on grade", "concrete slab on grade"),
    ("floor_type", "raised", "raised access floor"), ("floor_type", "don't know", ""), ("basis", "BS 7671", "IEC/UK")])
def test_plain_words_for_a_choice_are_taken(field: str, typed: str, kept: str) -> None:
    assert getattr(set_fields(Job(), "settings", "job", {field: typed}).settings, field) == kept


@pytest.mark.parametrize("typed", ["concrete", "slab"])
def test_a_word_that_can_mean_two_floors_is_asked_back(typed: str) -> None:
    with pytest.raises(Problem, match="can mean more than one thing for floor; choose one of: concrete slab on grade"):
        set_fields(Job(), "settings", "job", {"floor_type": typed})


@pytest.mark.parametrize("typed", ["found", "at", "not"])
def test_a_part_of_a_choice_that_says_the_opposite_is_not_taken(typed: str) -> None:
    job, (line,) = add(Job(), "survey", [{"topic": "Joists"}])
    with pytest.raises(Problem):
        set_fields(job, "survey", line, {"looked": typed})


# Dressed sizes of American softwood lumber, DOC PS 20: 2x10 is 1-1/2 by 9-1/4 in.
@pytest.mark.parametrize("typed", ["2x10", "2 x 10", "2X10", "2×10"])
def test_a_nominal_size_of_lumber_means_its_dressed_size(typed: str) -> None:
    joists = one("joists", {"width": typed, "depth": typed})
    assert isinstance(joists, Joists)
    assert joists.width is not None
    assert joists.depth is not None
    assert (joists.width.si, joists.depth.si) == pytest.approx((1.5 * 0.0254, 9.25 * 0.0254))
    assert joists.depth.text == "9.25 in"
    with pytest.raises(Problem):
        one("joists", {"depth": "7x77"})


# English plurals, read by a person: the rule ends the noun itself, not what stands behind it.
@pytest.mark.parametrize(("kind", "several"), [
    ("box", "floor boxes"), ("segment", "raceways"), ("warranty", "warranties"), ("asbuilt", "as-built entries"),
    ("survey", "survey lines"), ("byhand", "amounts by hand"), ("jobdate", "dates of the job"), ("spare", "spares and keys"),
    ("actual", "actual hours"), ("hourunit", "hours for tasks"), ("worktask", "steps of the work"),
    ("duty", "who does what")])
def test_several_of_a_kind_have_a_name(kind: str, several: str) -> None:
    assert RECORDS[kind].several() == several
