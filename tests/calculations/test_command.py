"""The `calc` command: it lists, explains and calculates; what it can't use it refuses in one sentence."""

import json

import pytest

from stagefloor.calculations.catalogue import ALL
from stagefloor.calculations.command import calculate, main

MALFORMED = [
    # (words as typed, what the sentence must name)
    *[([c.name, f"{c.parameters[0].key}="], c.parameters[0].key) for c in ALL if c.parameters],
    (["loudspeaker-loss", "length=100", "awg=12", "load=8ohm"], "length"),
    (["loudspeaker-loss", "length=100kg", "awg=12", "load=8ohm"], "length"),
    (["loudspeaker-loss", "length=-3m", "awg=12", "load=8ohm"], "length"),
    (["loudspeaker-loss", "length=1e999m", "awg=12", "load=8ohm"], "length"),
    (["loudspeaker-loss", "length=nan", "awg=12", "load=8ohm"], "length"),
    (["loudspeaker-loss", "length=1e308m", "awg=12", "load=1e-308ohm"], "load"),
    (["loudspeaker-loss", "length=10m", "awg=99", "load=8ohm"], "awg"),
    (["loudspeaker-loss", "length=10m", "awg=twelve", "load=8ohm"], "awg"),
    (["loudspeaker-loss", "length=10m", "awg=", "load=8ohm"], "awg"),
    (["loudspeaker-loss", "length=10m", "awg=12", "load=0ohm"], "load"),
    (["loudspeaker-loss", "length=10m", "awg=12", "load=8V"], "load"),
    (["loudspeaker-loss", "length=10m", "awg=12"], "load"),
    (["loudspeaker-loss", "length=10m", "awg=12", "load=8ohm", "temperature=900degC"], "temperature"),
    (["loudspeaker-loss", "length=10m", "awg=12", "load=8ohm", "lenght=3m"], "length"),
    (["loudspeaker-loss", "length=10m", "length=11m", "awg=12", "load=8ohm"], "length"),
    (["loudspeaker-loss", "length"], "length"),
    (["loudspeaker-loss", "=3"], "length"),
    (["loudspeaker-loss", "--colour"], "--colour"),
    (["loudspeaker-los"], "loudspeaker-loss"),
    (["xyzzy"], "xyzzy"),
    (["--jsom"], "--jsom"),
    (["raceway-fill", "cable_diameters=6mm,,7mm", "raceway=EMT", "trade_size=1"], "cable_diameters"),
    (["raceway-fill", "cable_diameters=", "raceway=EMT", "trade_size=1"], "cable_diameters"),
    (["raceway-fill", "cable_diameters=6mm", "raceway=EMTT", "trade_size=1"], "EMT"),
    (["raceway-fill", "cable_diameters=6mm", "raceway=EMT", "trade_size=9"], "trade size"),
    (["raceway-fill", "cable_diameters=0mm", "raceway=EMT", "trade_size=1"], "cable_diameters"),
    (["raceway-fill", "cable_diameters=6mm", "raceway=EMT", "trade_size=1", "system=radio"], "system"),
    (["raceway-fill", "cable_diameters=6mm", "raceway=EMT", "trade_size=1", "nipple=perhaps"], "nipple"),
    (["raceway-fill", "cable_diameters=6mm", "raceway=EMT", "trade_size=1", "growth=25%"], "growth"),
    (["raceway-fill", "cable_diameters=6mm", "raceway=EMT", "trade_size=1", "growth=-1"], "growth"),
    (["trade-size", "cable_diameters=300mm", "raceway=EMT"], "raceway"),
    (["bends-between-pull-points", "angles=400"], "angles"),
    (["bends-between-pull-points", "angles=90,x"], "angles"),
    (["bends-between-pull-points", "angles=90", "edition=1999"], "edition"),
    (["jam-ratio", "inside_diameter=5mm", "cable_diameter=6mm"], "cable_diameter"),
    (["jam-ratio", "inside_diameter=5mm", "cable_diameter=2mm", "model=mine"], "model"),
    (["trunking-fill", "cable_diameters=6mm", "width=50mm", "height=50mm", "space_factor=2"], "space_factor"),
    (["trunking-factors", "conductors=7", "insulation=thermoplastic"], "conductor"),
    (["trunking-factors", "conductors=4", "insulation=paper"], "insulation"),
    (["conduit-factors", "sizes_mm2=4", "length=3m", "bends=9"], "length"),
    (["conduit-factors", "sizes_mm2=4", "length=3m", "bends=1.5"], "bends"),
    (["pull-run", "segments=50ft,ninety", "mass=0.144lb/ft"], "segments"),
    (["pull-run", "segments=50ft,90deg", "mass=0.144lb"], "mass"),
    (["pull-run", "segments=50ft,900deg", "mass=0.144lb/ft"], "angle"),
    (["run-tension", "length=100ft", "mass=0.144lb/ft", "friction=9"], "friction"),
    (["sidewall-pressure", "tension=79lbf", "radius=0ft"], "radius"),
    (["sidewall-pressure", "tension=79lbf", "radius=1ft", "arrangement=five"], "arrangement"),
    (["weight-correction", "raceway=10mm", "cable=8mm"], "cable"),
    (["copper-tension", "area=1mm2", "conductors=0"], "conductors"),
    (["inside-radius", "centreline=1mm", "raceway=20mm"], "centreline"),
    (["gauge-for-resistance", "ohm_per_m=1e-9ohm/m"], "ohm_per_m"),
    (["metric-resistance", "mm2=3"], "mm2"),
    (["metric-resistance", "mm2=4", "conductor=gold"], "conductor"),
    (["level", "voltage=0V"], "voltage"),
    (["level", "voltage=1V", "unit=dBz"], "unit"),
    (["voltage-of-level", "level=1e9"], "level"),
    (["phantom-voltage", "current=30mA"], "current"),
    (["phantom-voltage", "current=10mA", "conductor=1Mohm"], "current"),
    (["phantom-voltage", "current=1mA", "supply=P99"], "supply"),
    (["corner-frequency", "source=100ohm", "length=0m", "capacitance=100pF/m"], "length"),
    (["thermal-noise", "resistance=150ohm", "temperature_k=-1"], "temperature_k"),
    (["loop-for-damping", "load=8ohm", "amplifier_damping=20", "wanted=25"], "wanted"),
    (["line-impedance", "power=100W", "line=50 V"], "line"),
    (["line-conductor", "length=1m", "power=1W", "line=100 V", "loss=100"], "loss"),
    (["cords-allowed", "fixed=95m"], "fixed"),
    (["cords-allowed", "fixed=85m", "cord_awg=28"], "cord_awg"),
    (["fixed-for-long-cord", "cord=40m"], "cord"),
    (["length-when-warm", "temperature=80"], "temperature"),
    (["insertion-loss", "category=9"], "category"),
    (["insertion-loss", "category=6", "connectors=9"], "connectors"),
    (["power-over-data", "device=90W", "source=44V", "loop=20ohm"], "loop"),
    (["power-class", "power_class=9"], "class"),
    (["coax-loss", "length=10m", "picture_format=9G"], "picture_format"),
    (["coax-attenuation", "frequency=750MHz", "points=100MHz:2"], "points"),
    (["coax-attenuation", "frequency=750MHz", "points=100MHz,200MHz"], "points"),
    (["dmx-length", "length=1m", "source=hearsay"], "source"),
    (["contact-loop", "loop=1ohm", "contact=1ohm", "supply=5V", "least=1A", "source=10ohm"], "source"),
    (["loss-budget", "length=1m", "fibre=glass"], "fibre"),
    (["loss-budget", "length=1m", "fibre=multimode 850 nm", "connectors=-1"], "connectors"),
    (["voltage-drop-dc", "length=1m", "current=1A", "awg=13"], "awg"),
    (["voltage-drop-uk", "length=1m", "current=1A", "mm2=2.5", "phases=two"], "phases"),
    (["effective-impedance", "resistance=1", "reactance=1", "power_factor=2"], "power_factor"),
    (["plugged-load", "current=1A", "rating=25A"], "rating"),
    (["box-fill", "conductors=12"], "conductors"),
    (["box-fill", "conductors=13:2"], "awg"),
    (["box-fill", "conductors=12:two"], "conductors"),
    (["outlet-box", "size=9x9", "shape=square"], "size"),
    (["separation", "distance=1m", "rule=two inches"], "rule"),
    (["separation-iec", "distance=1m", "cable_class=z", "circuits=3"], "class"),
    (["separation-iec", "distance=1m", "cable_class=b", "circuits=0"], "circuits"),
    (["clear-bay", "spacing=1in", "joist_width=2in"], "joist_width"),
    (["joist-notch", "depth=9in", "notch=1in", "position=0.7"], "position"),
    (["joist-notch", "depth=12in", "notch=1in", "position=0.2", "rule=UK"], "depth"),
    (["joist-hole", "depth=9in", "hole=10in", "edge=1in"], "hole"),
    (["notched-shear", "breadth=1in", "depth=2in", "left=3in", "shear_strength=1MPa"], "left"),
    (["lid-load", "load=1kN", "rated=5kN", "margin=0.5"], "margin"),
    (["modules-for-openings", "openings=-1"], "openings"),
    (["gfci-trip-time", "current=1A"], "current"),
    (["insulation", "measured=1Mohm", "circuit=any"], "circuit"),
    (["beta", "low=3", "likely=2", "high=4"], "likely"),
    (["beta", "low=3h", "likely=2", "high=4"], "low"),
    (["path-sum", "means=1,2", "deviations=1"], "deviations"),
    (["price-from-margin", "cost=1", "margin=100"], "margin"),
    (["productive-hours", "off_hours=3000"], "off_hours"),
    (["wright", "first_unit=1", "units=0", "rate=80"], "units"),
    (["crawford", "first_unit=1", "units=9999999", "rate=80"], "units"),
    (["payment-due", "completed=2", "certified_before=0", "contract=1"], "completed"),
    (["microphone-below-cell", "x=1"], "x"),
]  # fmt: skip


def run(capsys, *words: str) -> tuple[int, str, str]:
    status = main(list(words))
    found = capsys.readouterr()
    return status, found.out, found.err


def test_there_are_a_hundred_malformed_inputs():
    assert len(MALFORMED) >= 100


@pytest.mark.parametrize(
    ("words", "named"), MALFORMED, ids=lambda v: v if isinstance(v, str) else " ".join(v)
)
def test_malformed_input_is_refused_in_one_sentence(capsys, words, named):
    status, out, err = run(capsys, *words)
    assert status == 2, out
    assert out == ""
    assert named in err
    assert len(err.strip().splitlines()) == 1
    assert "Traceback" not in err


@pytest.mark.parametrize("calculation", ALL, ids=lambda c: c.name)
def test_each_is_explained_and_runs_its_example(capsys, calculation):
    status, out, _ = run(capsys, calculation.name, "--help")
    assert status == 0
    for heading in ("Inputs", "Formula", "Source", "Basis", "Checked against", "Example"):
        assert heading in out, heading
    assert all(p.words for p in calculation.parameters)
    typed = [f"{k}={v}" for k, v in calculation.example.items()]
    status, out, _ = run(capsys, calculation.name, *typed, "--json")
    assert status == 0
    data = json.loads(out)
    worked = calculate(calculation, calculation.example)
    assert data["result"]["amount"] == worked.result.amount
    assert [v["amount"] for v in data["also"]] == [v.amount for v in worked.also]
    assert data["basis"]


PRINTED = [
    # (words as typed, the figure as its source prints it, the source)
    (["line-conductor", "length=300m", "power=100W", "line=100 V", "loss=10"], 0.945, "note on line loss, mm2"),
    (["line-impedance", "power=100W", "line=100 V"], 100, "line-impedance note, ohm"),
    (["line-power-band", "measured=100ohm", "line=100V", "tapped=100W"], 100, "line-impedance note: 100 V over 100 ohm, W"),
]


@pytest.mark.parametrize(("words", "printed", "source"), PRINTED, ids=lambda v: v if isinstance(v, str) else None)
def test_what_is_typed_gives_the_printed_figure(capsys, words, printed, source):
    status, out, _ = run(capsys, *words, "--json")
    assert status == 0
    assert json.loads(out)["result"]["amount"] == pytest.approx(printed, abs=0.0005), source


def test_the_list_names_every_calculation(capsys):
    status, out, _ = run(capsys)
    assert status == 0
    assert [line.split()[0] for line in out.splitlines()] == [c.name for c in ALL]


def test_units_of_either_system_give_the_same(capsys):
    feet = json.loads(run(capsys, "loudspeaker-loss", "length=100ft", "awg=12", "load=8ohm", "--json")[1])
    metres = json.loads(run(capsys, "loudspeaker-loss", "length=30.48m", "awg=12", "load=8ohm", "--json")[1])
    assert feet["result"]["amount"] == pytest.approx(metres["result"]["amount"])


def test_checks_say_what_has_no_outside_source(capsys):
    status, out, _ = run(capsys, "--checks")
    assert status == 0
    assert "No outside source: " in out
    assert "weight-correction" in out.split("No outside source: ")[1]


def test_points_of_a_data_sheet_replace_the_generic_cable(capsys):
    status, out, _ = run(capsys, "coax-attenuation", "frequency=1GHz", "points=100MHz:2,2000MHz:10")
    assert status == 0
    assert "data sheet" in out
