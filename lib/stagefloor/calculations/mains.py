"""Mains: voltage drop by rival methods, circuit loading, receptacle loads. For the electrician to confirm.

3 % and 5 % are recommendations, not rules. Every voltage drop states its conductor temperature.
"""

from math import floor, sqrt

from stagefloor.calculations.inputs import choice, not_negative, positive, whole, within
from stagefloor.core.problems import Problem
from stagefloor.core.units import FOOT, KINDS
from stagefloor.core.workings import Basis, Value, Working
from stagefloor.reference.tables import fact, load

PERCENT = 100.0
PHASES = ("single", "three")
ELECTRICIAN = "For the licensed electrician to confirm."
ADVICE = "3 % is a recommendation of the code's note, not a rule."


def _drop_limit(voltage_v: float) -> tuple[Value, Basis]:
    row = fact("nec_power_rules", "drop_branch")
    return Value(
        "", f"{row['value']:g} % of {voltage_v:g} V", row["value"] / PERCENT * voltage_v, "V"
    ), row.basis()


def _loads(length_m: float, current_a: float, voltage_v: float) -> None:
    not_negative("length_m", length_m, "m")
    not_negative("current_a", current_a, "A")
    positive("voltage_v", voltage_v, "V")


def voltage_drop_k(length_m: float, current_a: float, area_m2: float, voltage_v: float = 120.0) -> Working:
    """Voltage drop of a two-wire copper circuit by the K method, conductors at 75 C.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    current_a : current, A, zero or more
    area_m2 : conductor area, m2, above zero (12 AWG is 6530 cmil)
    voltage_v : circuit voltage, V, above zero

    Returns V against 3 %. Source: licence-exam lesson, V = 2 K L I / cmil with K 12.9 for copper at 75 C.
    """
    _loads(length_m, current_a, voltage_v)
    positive("area_m2", area_m2, "m2")
    k = fact("mains_practice", "k_copper_75")
    cmil = area_m2 / KINDS["area"][1]["cmil"]
    feet = length_m / FOOT
    drop = 2 * k["value"] * feet * current_a / cmil
    limit, basis = _drop_limit(voltage_v)
    return Working(
        "Voltage drop, K method",
        "V = 2 * K * L * I / A",
        (
            k.shown("K", "copper at 75 °C, ohm circular mil per foot"),
            Value("L", "one-way length", feet, "ft"),
            Value("I", "current", current_a, "A"),
            Value("A", "conductor area", cmil, "cmil"),
        ),
        Value("V", "drop", drop, "V"),
        (k.basis(), basis),
        limit,
        notes=("Conductors at 75 °C.", ADVICE, ELECTRICIAN),
        also=(Value("p", "of the circuit voltage", PERCENT * drop / voltage_v, "%", 3),),
    )


def voltage_drop_dc(
    length_m: float,
    current_a: float,
    awg: str,
    stranding: str = "stranded",
    temperature_c: float = 75.0,
    voltage_v: float = 120.0,
) -> Working:
    """Voltage drop of a two-wire copper circuit from the d.c. resistance table, at a stated temperature.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    current_a : current, A, zero or more
    awg : gauge as the table prints it, such as 12
    stranding : solid or stranded
    temperature_c : conductor temperature, degC, -40 to 120; the table is for 75
    voltage_v : circuit voltage, V, above zero

    Returns V against 3 %. Source: NFPA 70 chapter 9 Table 8 with its note 2, R2 = R1 (1 + a (T2 - 75)), a
    0.00323 at 75 C.
    """
    _loads(length_m, current_a, voltage_v)
    within(
        "temperature_c", temperature_c, -40.0, 120.0, "degC", "the linear law of copper is used in this range"
    )
    row, alpha = load("nec_ch9_table8_dc_75C").row(awg, stranding), fact("mains_practice", "alpha_75")
    at = fact("mains_practice", "k_temperature")["value"]
    drop = (
        2
        * length_m
        / FOOT
        / 1000
        * current_a
        * row["resistance"]
        * (1 + alpha["value"] * (temperature_c - at))
    )
    limit, basis = _drop_limit(voltage_v)
    return Working(
        "Voltage drop from d.c. resistance",
        "V = 2 * L / 1000 * I * R * (1 + a * (T - 75))",
        (
            Value("L", "one-way length", length_m / FOOT, "ft"),
            Value("I", "current", current_a, "A"),
            row.shown("R", f"{awg} AWG {stranding} at 75 °C", "resistance"),
            alpha.shown("a", "temperature coefficient at 75 °C"),
            Value("T", "temperature", temperature_c, "°C"),
        ),
        Value("V", "drop", drop, "V"),
        (row.basis(), alpha.basis(), basis),
        limit,
        notes=(f"Conductors at {temperature_c:g} °C.", ADVICE, ELECTRICIAN),
        also=(Value("p", "of the circuit voltage", PERCENT * drop / voltage_v, "%", 3),),
    )


def effective_impedance(resistance: float, reactance: float, power_factor: float = 0.85) -> Working:
    """Effective impedance of a conductor at a power factor.

    Parameters
    ----------
    resistance : a.c. resistance to neutral, ohm per 1000 ft, zero or more
    reactance : reactance to neutral, ohm per 1000 ft, zero or more
    power_factor : power factor of the load, above 0, at most 1

    Returns ohm per 1000 ft. Source: NFPA 70 chapter 9 Table 9 note, Z = R cos + X sin.
    """
    not_negative("resistance", resistance, "ohm/kft")
    not_negative("reactance", reactance, "ohm/kft")
    within("power_factor", power_factor, 0.01, 1.0, "", "a power factor lies between 0 and 1")
    return Working(
        "Effective impedance",
        "Z = R * F + X * sqrt(1 - F^2)",
        (
            Value("R", "resistance", resistance, "ohm/kft"),
            Value("X", "reactance", reactance, "ohm/kft"),
            Value("F", "power factor", power_factor),
        ),
        Value("Z", "impedance", resistance * power_factor + reactance * sqrt(1 - power_factor**2), "ohm/kft"),
        (Basis("NFPA 70 chapter 9 Table 9, note 2"),),
        notes=("At 75 °C if the resistance is.",),
    )


def voltage_drop_impedance(
    length_m: float,
    current_a: float,
    awg: str,
    material: str = "steel",
    power_factor: float = 0.85,
    voltage_v: float = 120.0,
    phases: str = "single",
) -> Working:
    """Voltage drop from the a.c. impedance table, conductors at 75 C.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    current_a : current, A, zero or more
    awg : gauge as the table prints it, such as 12
    material : material of the raceway: steel (EMT too), aluminium or PVC
    power_factor : power factor of the load, above 0, at most 1
    voltage_v : circuit voltage, V, above zero
    phases : single (out and back) or three (line to line)

    Returns V against 3 %. Source: NFPA 70 chapter 9 Table 9.
    """
    _loads(length_m, current_a, voltage_v)
    row = load("nec_ch9_table9_ac_75C").row(awg, material)
    each = effective_impedance(row["resistance"], row["reactance"], power_factor).result.amount
    factor = 2.0 if choice("phases", phases, PHASES) == "single" else sqrt(3)
    drop = factor * length_m / FOOT / 1000 * current_a * each
    limit, basis = _drop_limit(voltage_v)
    return Working(
        "Voltage drop from impedance",
        "V = m * L / 1000 * I * Z",
        (
            Value("m", "out and back, or the root of 3", factor),
            Value("L", "one-way length", length_m / FOOT, "ft"),
            Value("I", "current", current_a, "A"),
            Value("Z", f"{awg} AWG in {material}, power factor {power_factor:g}", each, "ohm/kft"),
        ),
        Value("V", "drop", drop, "V"),
        (row.basis(), basis),
        limit,
        notes=("Conductors at 75 °C.", ADVICE, ELECTRICIAN),
        also=(Value("p", "of the circuit voltage", PERCENT * drop / voltage_v, "%", 3),),
    )


def voltage_drop_uk(
    length_m: float,
    current_a: float,
    mm2: str,
    insulation: str = "thermoplastic 70 C",
    voltage_v: float = 230.0,
    phases: str = "single",
    use: str = "other",
) -> Working:
    """Voltage drop by the tabulated millivolts per ampere and metre.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    current_a : design current, A, zero or more
    mm2 : conductor area as the table prints it, such as 2.5
    insulation : thermoplastic 70 C or thermosetting 90 C; the temperature is the conductor's
    voltage_v : circuit voltage, V, above zero
    phases : single or three
    use : lighting (3 %) or other (5 %), public supply

    Returns V. Source: BS 7671 appendix 4; limits IEC 60364-5-52 Table G.52.1, 0.005 % a metre more beyond
    100 m, at most 0.5 %.
    """
    _loads(length_m, current_a, voltage_v)
    choice("use", use, ("lighting", "other"))
    row = load("bs7671_voltage_drop").row(mm2, insulation)
    column = "single_phase" if choice("phases", phases, PHASES) == "single" else "three_phase"
    drop = row[column] * current_a * length_m / 1000
    rule = fact("iec_rules", f"drop_{use}_public")
    more = min(
        fact("iec_rules", "drop_per_metre_beyond")["value"]
        * max(length_m - fact("iec_rules", "drop_long_run_from")["value"], 0),
        fact("iec_rules", "drop_long_run_most")["value"],
    )
    limit = (rule["value"] + more) / PERCENT * voltage_v
    return Working(
        "Voltage drop, tabulated mV/A/m",
        "V = v * I * L / 1000",
        (
            row.shown("v", f"{mm2} mm², {phases} phase", column),
            Value("I", "design current", current_a, "A"),
            Value("L", "one-way length", length_m, "m"),
        ),
        Value("V", "drop", drop, "V"),
        (row.basis(), rule.basis()),
        Value("", f"{rule['value'] + more:g} % of {voltage_v:g} V", limit, "V"),
        notes=(f"Conductors at the temperature of their insulation: {insulation}.", ELECTRICIAN),
        also=(Value("p", "of the circuit voltage", PERCENT * drop / voltage_v, "%", 3),),
    )


def voltage_drop_iec(
    length_m: float,
    current_a: float,
    area_m2: float,
    power_factor: float = 0.8,
    voltage_v: float = 230.0,
    phases: str = "single",
) -> Working:
    """Voltage drop by the formula of IEC 60364-5-52.

    Parameters
    ----------
    length_m : one-way length, m, zero or more
    current_a : design current, A, zero or more
    area_m2 : conductor area, m2, above zero
    power_factor : power factor, above 0, at most 1; 0.8 if unknown
    voltage_v : line-to-neutral voltage, V, above zero
    phases : single (b = 2) or three (b = 1, line to neutral)

    Returns V against 5 %. Source: IEC 60364-5-52:2009 annex G: 0.0225 ohm mm2/m in service, 0.08 mohm/m
    (from memory).
    """
    _loads(length_m, current_a, voltage_v)
    positive("area_m2", area_m2, "m2")
    within("power_factor", power_factor, 0.01, 1.0, "", "a power factor lies between 0 and 1")
    rho, reactance, rule = (
        fact("iec_rules", "resistivity_copper"),
        fact("iec_rules", "reactance"),
        fact("iec_rules", "drop_other_public"),
    )
    factor = 2 if choice("phases", phases, PHASES) == "single" else 1
    drop = (
        factor
        * (
            rho["value"] * length_m / (area_m2 * 1e6) * power_factor
            + reactance.si() * length_m * sqrt(1 - power_factor**2)
        )
        * current_a
    )
    return Working(
        "Voltage drop, IEC formula",
        "u = b * (k * L / S * F + x / 1000 * L * sqrt(1 - F^2)) * I",
        (
            Value("b", "2 single phase, 1 three phase", factor),
            rho.shown("k", "resistivity in service"),
            Value("L", "one-way length", length_m, "m"),
            Value("S", "conductor area", area_m2 * 1e6, "mm²"),
            Value("F", "power factor", power_factor),
            reactance.shown("x", "reactance"),
            Value("I", "design current", current_a, "A"),
        ),
        Value("u", "drop", drop, "V"),
        (rho.basis(), reactance.basis(), rule.basis()),
        Value("", f"{rule['value']:g} % of {voltage_v:g} V", rule["value"] / PERCENT * voltage_v, "V"),
        notes=("Conductors in service temperature.", ELECTRICIAN),
    )


def circuit_load(continuous_a: float, other_a: float, rating_a: float, full_rated: bool = False) -> Working:
    """Rating that a branch circuit's overcurrent device needs: 125 % of the continuous load and the rest.

    Parameters
    ----------
    continuous_a : load of three hours or more, A, zero or more
    other_a : other load, A, zero or more
    rating_a : rating of the device, A, above zero
    full_rated : whether the assembly is listed for 100 %

    Returns A against the rating. Source: NFPA 70 210.20(A).
    """
    not_negative("continuous_a", continuous_a, "A")
    not_negative("other_a", other_a, "A")
    positive("rating_a", rating_a, "A")
    row = fact("nec_power_rules", "continuous_listed_full" if full_rated else "continuous")
    return Working(
        "Load of a branch circuit",
        "I = p / 100 * I_c + I_o",
        (
            row.shown("p", "on the continuous load"),
            Value("I_c", "continuous", continuous_a, "A"),
            Value("I_o", "other", other_a, "A"),
        ),
        Value("I", "rating needed", row["value"] / PERCENT * continuous_a + other_a, "A"),
        (row.basis(),),
        Value("", "rating", rating_a, "A"),
        notes=(ELECTRICIAN,),
    )


def plugged_load(current_a: float, rating_a: float, kind: str = "one plugged-in load") -> Working:
    """A load on a multi-outlet branch circuit against its permitted share of the rating.

    Parameters
    ----------
    current_a : current of the load, A, zero or more
    rating_a : rating of the circuit, A, 15, 20 or 30
    kind : 'one plugged-in load' (80 %) or 'fixed equipment beside others' (50 %, 15 and 20 A only)

    Returns A. Source: NFPA 70 210.23(A) up to 2020, 210.23(B) and (C) in 2023.
    """
    not_negative("current_a", current_a, "A")
    positive("rating_a", rating_a, "A")
    choice("kind", kind, ("one plugged-in load", "fixed equipment beside others"))
    small = rating_a in (15, 20)
    if (not small and rating_a != 30) or (kind != "one plugged-in load" and not small):
        raise Problem(
            "The rule covers circuits of 15, 20 and 30 A (fixed equipment 15 and 20 A), not "
            f"{rating_a:g} A; ask the electrician.",
            "rating_a",
        )
    row = fact(
        "nec_power_rules",
        "fixed_with_others_15_20"
        if kind != "one plugged-in load"
        else "one_cord_load_15_20"
        if small
        else "one_cord_load_30",
    )
    return Working(
        kind.capitalize(),
        "I_max = p / 100 * I_r",
        (row.shown("p", "share of the rating"), Value("I_r", "rating", rating_a, "A")),
        Value("I", "load", current_a, "A"),
        (row.basis(),),
        Value("I_max", "permitted", row["value"] / PERCENT * rating_a, "A"),
        notes=(ELECTRICIAN,),
    )


def receptacle_load(yokes: int, devices_of_four: int = 0) -> Working:
    """Calculated load of general receptacle outlets.

    Parameters
    ----------
    yokes : yokes with one or more receptacles each, a whole number, zero or more
    devices_of_four : devices with four or more receptacles, counted in receptacles, zero or more

    Returns VA. Source: NFPA 70 220.14(I), Article 120 in 2026.
    """
    one, four = fact("nec_power_rules", "receptacle_yoke"), fact("nec_power_rules", "receptacle_of_four")
    n, m = whole("yokes", yokes), whole("devices_of_four", devices_of_four)
    return Working(
        "Load of receptacles",
        "S = n * a + m * b",
        (
            Value("n", "yokes", n),
            one.shown("a", "one yoke"),
            Value("m", "receptacles in devices of four or more", m),
            four.shown("b", "each of them"),
        ),
        Value("S", "load", n * one["value"] + m * four["value"], "VA"),
        (one.basis(), four.basis()),
        notes=(ELECTRICIAN,),
    )


def receptacles_on_circuit(rating_a: float, voltage_v: float = 120.0, continuous: bool = False) -> Working:
    """Receptacle yokes that a branch circuit takes at 180 VA each.

    Parameters
    ----------
    rating_a : rating of the circuit, A, above zero
    voltage_v : circuit voltage, V, above zero
    continuous : whether the load runs three hours or more (then 80 % of the rating)

    Returns a whole number. Source: NFPA 70 220.14(I) and 210.20(A).
    """
    positive("rating_a", rating_a, "A")
    positive("voltage_v", voltage_v, "V")
    one, more = (
        fact("nec_power_rules", "receptacle_yoke"),
        fact("nec_power_rules", "continuous" if continuous else "continuous_listed_full"),
    )
    count = floor(rating_a * PERCENT / more["value"] * voltage_v / one["value"] + 1e-9)
    return Working(
        "Receptacles on a circuit",
        "n = floor(I * 100 / p * U / a)",
        (
            Value("I", "rating", rating_a, "A"),
            more.shown("p", "on the load"),
            Value("U", "circuit voltage", voltage_v, "V"),
            one.shown("a", "one yoke"),
        ),
        Value("n", "yokes", count),
        (one.basis(), more.basis()),
        notes=(ELECTRICIAN,),
    )


def multioutlet_load(length_m: float, simultaneous: bool = False) -> Working:
    """Calculated load of a fixed multioutlet strip.

    Parameters
    ----------
    length_m : length, m, above zero
    simultaneous : whether its outlets are used at the same time (each foot) or not (each 5 ft)

    Returns VA; a part of a step counts whole. Source: NFPA 70 220.14(H).
    """
    positive("length_m", length_m, "m")
    row = fact(
        "nec_power_rules", "multioutlet_simultaneous" if simultaneous else "multioutlet_not_simultaneous"
    )
    step = fact("mains_practice", "multioutlet_step_simultaneous" if simultaneous else "multioutlet_step")
    steps = -floor(-(length_m / step.si()) + 1e-9)
    return Working(
        "Load of a multioutlet strip",
        "S = ceil(L / s) * a",
        (Value("L", "length", length_m / FOOT, "ft"), step.shown("s", "step"), row.shown("a", "each step")),
        Value("S", "load", steps * row["value"], "VA"),
        (row.basis(),),
        notes=(ELECTRICIAN,),
    )
