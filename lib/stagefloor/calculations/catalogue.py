"""What can be calculated: name, function, an example as typed, and what it was checked against."""

import csv
import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from stagefloor.calculations import (
    analogue,
    control,
    copper,
    data,
    fibre,
    floor,
    joists,
    labour,
    look_up,
    loudspeaker,
    mains,
    outlet_boxes,
    pulling,
    raceways,
    separation,
    tests_limits,
    video,
)
from stagefloor.core.problems import Problem, nearest
from stagefloor.core.workings import Working

CHECKS = Path(__file__).with_name("outside_checks.csv")
DOCUMENTED = re.compile(r"^    (\w+) : (.+(?:\n {8}.+)*)", re.MULTILINE)

# Ending of a parameter's name -> (kind of quantity, unit of a bare number). Longest ending first.
ENDINGS = {
    "_ohm_per_m": ("resistance_per_length", ""), "_bit_s": ("bitrate", ""), "_kg_m": ("mass_per_length", ""),
    "_n_m": ("force_per_length", ""), "_f_m": ("capacitance_per_length", ""), "_percent": ("percent", "%"),
    "_m2": ("area", ""), "_m3": ("volume", ""), "_ohm": ("resistance", ""), "_deg": ("angle", "deg"),
    "_db": ("level", "dB"), "_hz": ("frequency", ""), "_pa": ("pressure", ""), "_m": ("length", ""),
    "_v": ("voltage", ""), "_a": ("current", ""), "_w": ("power", ""), "_n": ("force", ""),
    "_s": ("time", ""),
    "_c": ("temperature", "degC"),
}  # fmt: skip


@dataclass(frozen=True)
class Parameter:
    """One input: `key` as typed, `name` in the function, `kind` of quantity, `form` one of FORM_OF."""

    key: str
    name: str
    kind: str
    default_unit: str
    form: str
    required: bool
    words: str


# What an annotation holds -> the form it is typed in. The first that fits counts.
FORM_OF = {
    "Straight": "segments", "tuple[float, float]": "points", "Mapping": "counts by gauge",
    "Sequence[float]": "numbers", "list[float]": "numbers", "Sequence[str]": "texts", "bool": "yes or no",
    "str": "text", "float": "number", "int": "count",
}  # fmt: skip


@dataclass(frozen=True)
class Calculation:
    """One entry: `example` is a complete set of inputs as typed."""

    name: str
    function: Callable[..., Working]
    example: dict[str, str]

    @property
    def line(self) -> str:
        """The first line of the docstring."""
        return (inspect.getdoc(self.function) or "").split("\n", 1)[0]

    @property
    def explained(self) -> str:
        """What the docstring says after its parameters: result, refusals, source."""
        text = inspect.getdoc(self.function) or ""
        found = text[text.find("Returns ") :] if "Returns " in text else ""
        return found.replace("Raises Problem", "Refused")

    @property
    def parameters(self) -> list[Parameter]:
        """The inputs in the order of the function."""
        words = dict(
            DOCUMENTED.findall("    " + (inspect.getdoc(self.function) or "").replace("\n", "\n    "))
        )
        found = []
        for p in inspect.signature(self.function).parameters.values():
            if p.name == "override":  # a shop's table belongs to a job, not to a line typed by hand
                continue
            key, kind, unit = _kind(p.name)
            form = _form(str(p.annotation))
            text = " ".join(words.get(p.name, "").split())
            found.append(Parameter(key, p.name, kind, unit, form, p.default is inspect.Parameter.empty, text))
        return found


def _kind(name: str) -> tuple[str, str, str]:
    if name == "ohm_per_m":
        return name, "resistance_per_length", ""
    for ending, (kind, unit) in ENDINGS.items():
        if name.endswith(ending):
            return name.removesuffix(ending), kind, unit
    return name, "ratio", ""


def _form(annotation: str) -> str:
    for mark, form in FORM_OF.items():
        if mark in annotation:
            return form
    raise ValueError(annotation)


def _entry(function: Callable[..., Working], name: str = "", **example: str) -> Calculation:
    return Calculation(name or function.__name__.replace("_", "-"), function, example)


ALL = (
    # raceways
    _entry(raceways.raceway_fill, cable_diameters="6mm,6mm,0.25in", raceway="EMT", trade_size="3/4"),
    _entry(raceways.trade_size, cable_diameters="6mm,6mm,6mm,8mm", raceway="EMT", growth="0.25"),
    _entry(raceways.conductor_count, raceway="EMT", trade_size="3/4", conductor_area="0.0133in2"),
    _entry(raceways.trunking_fill, cable_diameters="6mm,6mm,8mm", width="50mm", height="50mm"),
    _entry(raceways.conduit_space, cable_diameters="6mm,6mm,8mm", inside="22mm"),
    _entry(raceways.trunking_factors, conductors="4,4,6", insulation="thermoplastic"),
    _entry(raceways.conduit_factors, sizes_mm2="4,4,4,4,4,4", length="3m"),
    _entry(raceways.bends_between_pull_points, angles="90,90,45"),
    _entry(raceways.jam_ratio, inside_diameter="20.9mm", cable_diameter="7mm"),
    _entry(raceways.area_of, "cable-area", diameters="6mm,0.25in"),
    # pulling
    _entry(pulling.pull_run, segments="50ft,90deg,20ft", mass="0.144lb/ft"),
    _entry(pulling.run_tension, length="100ft", mass="0.144lb/ft", bends="90,90"),
    _entry(pulling.tension_straight, length="500ft", mass="0.144lb/ft"),
    _entry(pulling.tension_bend, tension_in="36lbf", angle="90"),
    _entry(pulling.longest_straight, tension="340lbf", mass="0.144lb/ft"),
    _entry(pulling.sidewall_pressure, tension="79lbf", radius="1ft"),
    _entry(pulling.weight_correction, raceway="26.6mm", cable="8mm"),
    _entry(pulling.copper_tension, area="6530cmil", conductors="3"),
    _entry(pulling.data_cable_tension, tension="50lbf", cables="4"),
    _entry(pulling.grip_tension, tension="200lbf"),
    _entry(pulling.inside_radius, centreline="150mm", raceway="26.6mm"),
    # copper
    _entry(copper.gauge_diameter, awg="12"),
    _entry(copper.gauge_resistance, awg="22", temperature="20degC"),
    _entry(copper.gauge_for_resistance, ohm_per_m="20ohm/km"),
    _entry(copper.loop_resistance, length="100ft", ohm_per_m="16.14ohm/kft"),
    _entry(copper.resistance_at_temperature, resistance="1.588ohm", temperature="75degC"),
    _entry(copper.metric_resistance, mm2="1.5", conductor="class5 plain"),
    # analogue
    _entry(analogue.level, voltage="1.228V"),
    _entry(analogue.voltage_of_level, level="-10", unit="dBV"),
    _entry(analogue.level_gap, voltage_1="1.5V", voltage_2="15mV"),
    _entry(analogue.microphone_below_cell),
    _entry(analogue.differential_capacitance, pair="100pF/m", screen="200pF/m"),
    _entry(analogue.corner_frequency, source="100ohm", length="500ft", capacitance="32pF/ft"),
    _entry(analogue.roll_off, frequency="20kHz", corner="40kHz"),
    _entry(analogue.bridging_loss, source="150ohm", load="1.5kohm"),
    _entry(analogue.thermal_noise, resistance="150ohm"),
    _entry(analogue.phantom_voltage, current="10mA", conductor="5ohm", screen="3ohm"),
    _entry(analogue.phantom_short),
    _entry(analogue.balance_lost, common_mode="10kohm", difference="10ohm"),
    _entry(analogue.digital_audio_length, length="60m"),
    # loudspeaker
    _entry(loudspeaker.loudspeaker_loss, length="100ft", awg="12", load="8ohm"),
    _entry(loudspeaker.longest_for_loss, loss="0.5", awg="12", load="8ohm"),
    _entry(loudspeaker.system_damping, load="4ohm", amplifier_damping="500", loop="0.0964ohm"),
    _entry(loudspeaker.loop_for_damping, load="8ohm", amplifier_damping="400", wanted="25"),
    _entry(loudspeaker.power_in_cable, drive="24.5V", load="8ohm", loop="0.3264ohm"),
    _entry(loudspeaker.line_impedance, power="100W", line="70 V"),
    _entry(loudspeaker.line_conductor, length="300m", power="100W", line="100 V"),
    _entry(loudspeaker.parallel_load, loads="8ohm,8ohm"),
    # data
    _entry(data.channel_length, fixed="80m", cords="12m"),
    _entry(data.permanent_link_length, fixed="80m"),
    _entry(data.cords_allowed, fixed="85m"),
    _entry(data.fixed_for_long_cord, cord="20m"),
    _entry(data.length_when_warm, temperature="40degC"),
    _entry(data.insertion_loss, category="5e"),
    _entry(data.data_loop, length="90m", ohm_per_m="84.2ohm/km"),
    _entry(data.power_loop, length="100m", ohm_per_m="84.2ohm/km"),
    _entry(data.power_over_data, device="25.5W", source="50V", loop="12.5ohm"),
    _entry(data.power_class, power_class="4"),
    # video, control, fibre
    _entry(video.coax_attenuation, frequency="750MHz"),
    _entry(video.coax_loss, length="250ft", picture_format="3G"),
    _entry(video.coax_length, picture_format="HD"),
    _entry(video.display_cable, length="12m"),
    _entry(control.rs485_length, rate="250kb/s"),
    _entry(control.dmx_length, length="250m"),
    _entry(control.receivers, count="20"),
    _entry(control.receiver_voltage, wire="200ohm"),
    _entry(control.contact_loop, loop="106ohm", contact="1ohm", supply="5V", least="2mA"),
    _entry(fibre.loss_budget, length="120m", fibre="multimode 850 nm"),
    _entry(fibre.ten_gigabit, length="400m", grade="OM4"),
    _entry(fibre.power_margin, budget="13", losses="2,2.5,1,0.5"),
    # mains
    _entry(mains.voltage_drop_k, length="100ft", current="20A", area="6530cmil"),
    _entry(mains.voltage_drop_dc, length="100ft", current="20A", awg="12"),
    _entry(mains.voltage_drop_impedance, length="100ft", current="16A", awg="12"),
    _entry(mains.voltage_drop_uk, length="18m", current="16A", mm2="2.5"),
    _entry(mains.voltage_drop_iec, length="30m", current="16A", area="2.5mm2"),
    _entry(mains.effective_impedance, resistance="0.054", reactance="0.052"),
    _entry(mains.circuit_load, continuous="10A", other="4A", rating="20A"),
    _entry(mains.plugged_load, current="12A", rating="20A"),
    _entry(mains.receptacle_load, yokes="8"),
    _entry(mains.receptacles_on_circuit, rating="20A"),
    _entry(mains.multioutlet_load, length="12ft"),
    _entry(outlet_boxes.box_fill, conductors="12:4", yokes="12", clamps="yes", grounds="2",
           largest_ground="12", volume="21in3"),
    _entry(outlet_boxes.outlet_box, size="4x1-1/2", shape="square"),
    _entry(separation.separation, distance="6in", rule="five inches"),
    _entry(separation.separation_iec, distance="100mm", cable_class="b", circuits="10"),
    # floor
    _entry(floor.clear_bay, spacing="16in", joist_width="1.5in"),
    _entry(floor.cutout_in_bay, cutout="12in", bay="14.5in"),
    _entry(floor.lid_load, load="2.4kN", rated="5kN"),
    _entry(floor.contact_pressure, load="3000lbf", patch="20.25in2"),
    _entry(floor.deck_load, load="2.4kN", area="0.58m2", uniform="7.18kPa"),
    _entry(floor.code_patch_pressure, load="2000lbf"),
    _entry(floor.change_of_level, step="5mm"),
    _entry(floor.gap_in_floor, gap="10mm"),
    _entry(floor.conduit_in_slab, diameter="27mm", slab="6in"),
    _entry(floor.slab_for_box, box_depth="100mm", slab="6in"),
    _entry(floor.openings_in_plate, width="60mm", height="66mm"),
    _entry(floor.modules_for_openings, openings="11"),
    _entry(floor.lid_clearance, depth="100mm", plug="65mm", cord_diameter="6mm"),
    _entry(floor.cable_exit, diameters="6mm,6mm,8mm", exit="8cm2"),
    _entry(joists.joist_notch, depth="9.25in", notch="1in", position="0.2"),
    _entry(joists.joist_hole, depth="9.25in", hole="2in", edge="3in"),
    _entry(joists.largest_hole, depth="5.5in"),
    _entry(joists.notched_shear, breadth="150mm", depth="350mm", left="250mm", shear_strength="0.85MPa"),
    _entry(joists.section_left, depth="9.25in", notch="1.5in"),
    _entry(joists.stress_at_notch, position="0.3333", left="0.8333"),
    _entry(joists.opening_framing, header_span="3ft", trimmer_distance="2ft"),
    # tests of a line
    _entry(tests_limits.expected_loop, length="50m", ohm_per_m="53ohm/km", measured="5.4ohm"),
    _entry(tests_limits.conductor_limit, length="50m", ohm_per_m="53ohm/km"),
    _entry(tests_limits.leg_difference, leg_2="2.6ohm", leg_3="2.7ohm"),
    _entry(tests_limits.phantom_range, pin_2="47.6V", pin_3="47.5V"),
    _entry(tests_limits.gfci_trip_time, current="6mA"),
    _entry(tests_limits.rcd_trip_time, measured="28ms", test="general, 1x"),
    _entry(tests_limits.insulation, measured="200Mohm"),
    _entry(tests_limits.loudspeaker_impedance, nominal="8ohm", loop="0.4ohm", measured="7.9ohm"),
    _entry(tests_limits.link_length, length="42m", measured="40.8m"),
    _entry(tests_limits.earth_continuity, measured="0.3ohm"),
    _entry(tests_limits.line_power_band, measured="50ohm", line="70.7V", tapped="100W"),
    _entry(look_up.table_row, table="fibre", key="connector"),
    # hours and money
    _entry(labour.beta, low="14", likely="22", high="26"),
    _entry(labour.triangular, low="14", likely="22", high="26"),
    _entry(labour.path_sum, means="3,8,6", deviations="1,2,2"),
    _entry(labour.chance_within, mean="17", deviation="3", limit="20"),
    _entry(labour.price_from_markup, cost="500", markup="40"),
    _entry(labour.price_from_margin, cost="500", margin="28.57"),
    _entry(labour.margin, cost="500", price="700"),
    _entry(labour.burdened_rate, wage="20", burdens="7.65,1,10,12,4,2,2,1,2.5"),
    _entry(labour.productive_hours),
    _entry(labour.wright, first_unit="100", units="8", rate="80"),
    _entry(labour.crawford, first_unit="100", units="8", rate="80"),
    _entry(labour.payment_due, completed="26000", certified_before="13500", contract="40000"),
    _entry(labour.change_cap, direct_cost="10000"),
    _entry(labour.takeoff_length, plan="30m", verticals="6m", ends="3.3m"),
)  # fmt: skip


@lru_cache(maxsize=1)
def by_name() -> dict[str, Calculation]:
    """All calculations by name."""
    return {c.name: c for c in ALL}


def find(name: str) -> Calculation:
    """The calculation of a name; Problem with the nearest one if there is none."""
    found = by_name().get(name)
    if found is None:
        near = nearest(name, list(by_name()))
        raise Problem(
            f"There is no calculation '{name}'"
            + (f"; did you mean {near}?" if near else "; 'calc' alone lists them."),
            "calc",
        )
    return found


@dataclass(frozen=True)
class Compared:
    """One outside source of a calculation: how many values the tests compare, and how they were read."""

    source: str
    values: int
    status: str


@lru_cache(maxsize=1)
def outside_checks() -> dict[str, list[Compared]]:
    """By calculation: the sources it is compared with. A test holds the list to what the tests compare."""
    found: dict[str, list[Compared]] = {}
    with CHECKS.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            one = Compared(row["source"], int(row["values"]), row["status"])
            found.setdefault(row["calculation"], []).append(one)
    return found
