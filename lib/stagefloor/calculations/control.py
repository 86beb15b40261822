"""Control lines: DMX512 and RS-485 by length and load, contact closures by loop resistance."""

from stagefloor.calculations.inputs import choice, not_negative, positive, whole
from stagefloor.core.problems import Problem
from stagefloor.core.workings import ARITHMETIC, Basis, Value, Working
from stagefloor.reference.tables import fact

CIRCUIT = Basis("circuit theory", ARITHMETIC)
DMX_SOURCES = {
    "planning": "dmx_plan",
    "24 AWG": "dmx_24awg",
    "22 AWG": "dmx_22awg",
    "encyclopedia": "dmx_encyclopedia",
    "ideal cable": "rs485_length",
}


def rs485_length(rate_bit_s: float) -> Working:
    """Greatest length of an RS-485 segment at a bit rate.

    Parameters
    ----------
    rate_bit_s : bit rate, bit/s, above zero

    Returns m. Source: router manual, length x rate at most 10^8 bit/s m; installation instructions, at most
    1200 m.
    """
    positive("rate_bit_s", rate_bit_s, "bit/s")
    product, most = fact("control", "rs485_rate_length"), fact("control", "rs485_length")
    return Working(
        "Longest RS-485 segment",
        "L = min(K / B, L_max)",
        (
            product.shown("K", "length times rate"),
            Value("B", "bit rate", rate_bit_s, "bit/s", 7),
            most.shown("L_max", "at any rate"),
        ),
        Value("L", "length", min(product["value"] / rate_bit_s, most["value"]), "m"),
        (product.basis(), most.basis()),
    )


def dmx_length(length_m: float, source: str = "planning") -> Working:
    """Length of a DMX512 segment against a limit; sources say 300 to 1200 m.

    Parameters
    ----------
    length_m : length of the segment, m, zero or more
    source : planning (300 m), 24 AWG (300), 22 AWG (500), encyclopedia (400) or ideal cable (1200)

    Returns m. Source: on the row; 300 m is the planning value, common practice, no source. Microphone cable
    is not suitable.
    """
    not_negative("length_m", length_m, "m")
    row = fact("control", DMX_SOURCES[choice("source", source, list(DMX_SOURCES))])
    return Working(
        "DMX512 segment",
        "L = length",
        (Value("L", "length", length_m, "m"),),
        Value("L", "length", length_m, "m"),
        (row.basis(),),
        row.shown("", f"limit, {source}"),
        notes=(
            "120 ohm data cable, terminated once, at the far end; microphone cable is not suitable.",
            "Five-pin connectors: the sender is female, the other way round from audio.",
        ),
    )


def receivers(count: int, load_share: float = 1.0) -> Working:
    """Receivers on one segment against 32 unit loads.

    Parameters
    ----------
    count : receivers, zero or more
    load_share : unit loads of each, above zero, at most 1 for most receivers

    Returns unit loads; their resistance together stands under 'also'. Source: data-radio note, 32 unit
    loads of 12 kohm.
    """
    n = whole("count", count)
    positive("load_share", load_share)
    limit, one = fact("control", "unit_loads"), fact("control", "unit_load")
    loads = n * load_share
    also = (Value("R", "receivers together", one.si() / loads, "ohm"),) if loads else ()
    return Working(
        "Receivers on a segment",
        "u = n * s",
        (Value("n", "receivers", n), Value("s", "unit loads of each", load_share)),
        Value("u", "unit loads", loads),
        (limit.basis(), one.basis()),
        limit.shown("", "limit"),
        also=also,
    )


def receiver_voltage(wire_ohm: float) -> Working:
    """Voltage left at the far end of a terminated line, against the threshold of a receiver.

    Parameters
    ----------
    wire_ohm : resistance of each wire, ohm, zero or more

    Returns V against 0.2 V. Source: lighting network article: 2 V driver, 120 ohm termination.
    """
    not_negative("wire_ohm", wire_ohm, "ohm")
    driver, end, least = (
        fact("control", "driver_voltage"),
        fact("control", "termination"),
        fact("control", "receiver_threshold"),
    )
    return Working(
        "Voltage at the far receiver",
        "U = U_d * R_t / (R_t + 2 * R_w)",
        (
            driver.shown("U_d", "driver"),
            end.shown("R_t", "termination"),
            Value("R_w", "each wire", wire_ohm, "ohm"),
        ),
        Value("U", "voltage", driver["value"] * end["value"] / (end["value"] + 2 * wire_ohm), "V"),
        (driver.basis(), least.basis()),
        least.shown("", "threshold"),
        ">=",
    )


def contact_loop(
    loop_ohm: float, contact_ohm: float, supply_v: float, least_a: float, source_ohm: float = 0.0
) -> Working:
    """Loop and contact resistance of a contact closure against what its input bears.

    Parameters
    ----------
    loop_ohm : resistance of the line, out and back, ohm, zero or more
    contact_ohm : resistance of the contact, ohm, zero or more
    supply_v : voltage of the input, V, above zero
    least_a : least current that the input takes for closed, A, above zero
    source_ohm : internal resistance of the input, ohm, zero or more

    Returns ohm. Raises Problem if the input never reaches its own current. Source: arithmetic on the
    input's data sheet.
    """
    for name, value in (("loop_ohm", loop_ohm), ("contact_ohm", contact_ohm), ("source_ohm", source_ohm)):
        not_negative(name, value, "ohm")
    limit = positive("supply_v", supply_v, "V") / positive("least_a", least_a, "A") - source_ohm
    if limit < 0:
        raise Problem(
            "The input's own resistance already keeps it below its least current; check its data sheet.",
            "source_ohm",
        )
    return Working(
        "Loop of a contact closure",
        "R = R_l + R_k",
        (Value("R_l", "line", loop_ohm, "ohm"), Value("R_k", "contact", contact_ohm, "ohm")),
        Value("R", "loop", loop_ohm + contact_ohm, "ohm"),
        (CIRCUIT,),
        Value("R_max", "what the input bears", limit, "ohm"),
    )
