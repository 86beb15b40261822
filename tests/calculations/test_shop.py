"""A shop's file named on the line stands in for published rows of any table, and the result says so."""

import json

import pytest

from stagefloor.calculations.command import main
from stagefloor.reference import tables

HEAD = "mm2*,insulation*,single_phase [mV/A/m],three_phase [mV/A/m],source,status\n"
ROW = "2.5,thermoplastic 70 C,36,30,our data sheet,the shop's own value\n"
TYPED = ("voltage-drop-uk", "length=18m", "current=16A", "mm2=2.5")


def run(capsys, *words):
    status = main(list(words))
    return status, *capsys.readouterr()


def test_the_shops_row_is_used_and_named(capsys, tmp_path):
    file = tmp_path / "bs7671_voltage_drop.csv"
    file.write_text(HEAD + ROW)
    status, out, _ = run(capsys, *TYPED, "--shop", str(file), "--json")
    data = json.loads(out)
    assert status == 0
    assert data["result"]["amount"] == pytest.approx(36 * 16 * 18 / 1000)
    assert file.name in " ".join(data["notes"])
    assert [b["text"] for b in data["basis"] if b["status"] == "the shop's own value"]
    after = json.loads(run(capsys, *TYPED, "--json")[1])
    assert after["result"]["amount"] == pytest.approx(18 * 16 * 18 / 1000)  # published: 18 mV/A/m


@pytest.mark.parametrize("name", tables.names())
def test_any_table_takes_a_shops_file(tmp_path, name):
    file = tmp_path / f"{name}.csv"
    file.write_bytes((tables.FOLDER / f"{name}.csv").read_bytes())
    with tables.shop_file(file) as looked:
        assert all(row.overridden for row in tables.load(name))
    assert looked == {name}
    assert not any(row.overridden for row in tables.load(name))


@pytest.mark.parametrize(("name", "text", "named"), [
    ("bs7671.csv", HEAD + ROW, "bs7671.csv"),
    ("bs7671_voltage_drop.csv", HEAD + ROW.replace("36", "x"), "line 2"),
    ("bs7671_voltage_drop.csv", HEAD + ROW.replace("2.5", "2.6"), "2.6"),
    ("copper.csv", (tables.FOLDER / "copper.csv").read_text(), "does not use"),
])  # fmt: skip
def test_a_wrong_file_is_refused_in_one_sentence(capsys, tmp_path, name, text, named):
    (tmp_path / name).write_text(text)
    status, out, err = run(capsys, *TYPED, "--shop", str(tmp_path / name))
    assert (status, out) == (2, "")
    assert named in err
    assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize("words", [("--shop",), ("--shop", "mm2=4"), ("--shop", "absent.csv")])
def test_a_missing_file_is_refused(capsys, words):
    assert run(capsys, *TYPED, *words)[0] == 2
