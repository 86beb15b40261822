"""The loader refuses a table with a missing source, a repeated key, an unknown unit or status; a shop may override."""

import subprocess
import sys

import pytest

from stagefloor.calculations import raceways
from stagefloor.core.problems import Problem
from stagefloor.core.workings import PUBLISHED, SHOP
from stagefloor.reference import tables

GOOD = "kind*,width [mm],note,source,status\nA,1.5,x,a book,from memory\nB,,y,a book,from memory\n"


def written(folder, text: str, name: str = "own.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", tables.names())
def test_each_shipped_table_loads_and_says_where_each_row_comes_from(name):
    table = tables.load(name)
    assert len(table) > 0
    assert all(row.source and row.status for row in table)


def test_a_good_table_is_read(tmp_path):
    table = tables.read(written(tmp_path, GOOD))
    assert table.row("A")["width"] == 1.5
    assert table.row("A").si("width") == pytest.approx(0.0015)
    assert not table.row("B").has("width")
    with pytest.raises(Problem, match="no width for B"):
        table.row("B")["width"]


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("A,1.5,x,a book,", "A,1.5,x,,", "no source"),
        ("B,,y", "A,,y", "repeats the key"),
        ("[mm]", "[furlong]", "furlong"),
        ("from memory\nB", "hearsay\nB", "hearsay"),
        ("1.5", "wide", "wide"),
        ("1.5", "nan", "nan"),
        ("1.5", "inf", "inf"),
        ("kind*", "kind", "key column"),
        (",source,status", ",origin,status", "source"),
        ("A,1.5,x,", "A,1.5,", "cells"),
        ("A,1.5", ",1.5", "empty key"),
        ("note,source", "width [mm],source", "twice"),
    ],
)
def test_a_bad_table_is_refused_with_its_place(tmp_path, old, new, named):
    assert old in GOOD
    with pytest.raises(Problem) as refused:
        tables.read(written(tmp_path, GOOD.replace(old, new, 1)))
    assert named in refused.value.sentence
    assert "own.csv" in refused.value.sentence


def test_an_empty_or_unreadable_file_is_refused(tmp_path):
    with pytest.raises(Problem, match="empty"):
        tables.read(written(tmp_path, "\n"))
    with pytest.raises(Problem, match="can't be read"):
        tables.read(tmp_path / "missing.csv")
    (tmp_path / "bad.csv").write_bytes(b"\xff\xfe\xff")
    with pytest.raises(Problem, match="can't be read"):
        tables.read(tmp_path / "bad.csv")


def test_a_wrong_name_or_key_gets_the_nearest():
    with pytest.raises(Problem, match="did you mean analogue"):
        tables.load("analog")
    with pytest.raises(Problem, match="did you mean EMT"):
        tables.load("nec_ch9_table4_raceways").row("ENT", "1/2")
    with pytest.raises(Problem, match="trade size '7'"):
        tables.load("nec_ch9_table4_raceways").row("EMT", "7")


HEADS = "raceway*,trade_size*,metric_designator,article,id [in],area_100 [in2],source,status\n"


def test_a_shops_row_replaces_the_published_one_and_says_so(tmp_path):
    path = written(tmp_path, HEADS + "EMT,3/4,21,358,0.8,0.5,our supplier's sheet,the shop's own value\n")
    table = tables.load("nec_ch9_table4_raceways", path)
    row = table.row("EMT", "3/4")
    assert row["area_100"] == 0.5
    assert "our supplier's sheet" in row.overridden
    assert row.basis().status == SHOP
    assert "overridden by our supplier's sheet" in row.basis().text
    assert len(table) == len(tables.load("nec_ch9_table4_raceways"))
    other = table.row("EMT", "1")
    assert not other.overridden
    assert other.basis().status == PUBLISHED
    working = raceways.raceway_fill([0.006], "EMT", "3/4", override=path)
    assert working.inputs[2].amount == 0.5
    assert "our supplier's sheet" in working.as_text()
    assert raceways.raceway_fill([0.006], "EMT", "3/4").inputs[2].amount == 0.533


def test_a_changed_override_is_read_again(tmp_path):
    import os

    path = written(tmp_path, HEADS + "EMT,3/4,21,358,0.8,0.5,ours,the shop's own value\n")
    assert tables.load("nec_ch9_table4_raceways", path).row("EMT", "3/4")["area_100"] == 0.5
    written(tmp_path, HEADS + "EMT,3/4,21,358,0.8,0.6,ours,the shop's own value\n")
    os.utime(path, ns=(1, 1))
    assert tables.load("nec_ch9_table4_raceways", path).row("EMT", "3/4")["area_100"] == 0.6


def test_an_override_with_another_key_or_column_is_refused(tmp_path):
    with pytest.raises(Problem, match="trade size"):
        tables.load(
            "nec_ch9_table4_raceways", written(tmp_path, HEADS + "EMT,9,1,1,1,1,ours,the shop's own value\n")
        )
    with pytest.raises(Problem, match="columns"):
        tables.load("nec_ch9_table4_raceways", written(tmp_path, GOOD, "other.csv"))


@pytest.mark.parametrize(
    ("subject", "edition", "label"),
    [
        ("bends", "2017", "358.26"),
        ("bends", "2020", "358.26"),
        ("bends", "2023", "358.24(B)"),
        ("bends", "2026", "300.24 (all types together)"),
        ("class 2 and 3 sources", "2023", "725.60"),
        ("floor boxes", "2026", "clause not looked up"),
    ],
)
def test_clause_by_edition(subject, edition, label):
    """Section numbers of NFPA 70 by edition, read in public copies."""
    assert tables.clause(subject, edition) == label


def test_an_unknown_edition_names_the_known_ones():
    with pytest.raises(Problem, match="2017, 2020, 2023, 2026"):
        tables.clause("bends", "1999")


@pytest.mark.parametrize(
    ("table", "where", "factor", "low", "high"),
    [
        ("nec_ch9_table4_raceways", "area_100", "id", 0.995, 1.005),
        ("nec_ch9_table5_conductors", "area", "diameter", 0.99, 1.01),
    ],
)
def test_printed_areas_are_those_of_the_printed_diameters(table, where, factor, low, high):
    for row in tables.load(table):
        area = 3.141592653589793 / 4 * row[factor] ** 2
        assert low < row[where] / area < high, row.key


def test_bigger_sizes_are_bigger():
    for raceway in tables.load("nec_ch9_table4_raceways").values("raceway"):
        areas = [r["area_100"] for r in tables.load("nec_ch9_table4_raceways") if r.key[0] == raceway]
        assert areas == sorted(areas)
    for name in ("uk_trunking_capacity", "uk_conduit_short_capacity"):
        column = [r["factor"] for r in tables.load(name)]
        assert min(column) > 0


def test_starting_stays_fast():
    """The tables and calculations import neither pandas nor numpy."""
    code = "import sys, stagefloor.calculations.catalogue; print({'pandas', 'numpy'} & set(sys.modules))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.strip() == "set()"
