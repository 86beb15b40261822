"""What would cure a line that misses its limit at its own length: gauge, medium, route or extender. Metres."""

from stagefloor.calculations.data import permanent_link_length
from stagefloor.calculations.loudspeaker import longest_for_loss
from stagefloor.calculations.video import coax_length
from stagefloor.core.problems import Problem
from stagefloor.core.units import length_text
from stagefloor.steps.cables.lines import PICTURE_FORMAT, Line
from stagefloor.steps.cables.loads import load_for_loss

GAUGES = (14, 12, 10, 8, 6)  # that loudspeaker cable is sold in, AWG
LOWER = {"12G": "6G", "6G": "3G", "3G": "HD", "HD": "270M"}


def longest(line: Line) -> float | None:
    """The greatest length at which the line's own check is kept, m; None if it has no limit."""
    check = line.check
    if check is None or check.limit is None:
        return None
    if line.circuit.what == "data":
        limit = permanent_link_length(line.metres).limit
        return limit.amount if limit else None
    if line.circuit.what == "video":
        return coax_length(PICTURE_FORMAT).result.amount
    load = load_for_loss(line.circuit)
    if line.circuit.what == "loudspeaker" and line.type and line.type.awg and load is not None:
        return longest_for_loss(check.limit.amount, line.type.awg, load.ohm).result.amount
    return None


def cure(line: Line, display: str) -> str:
    """The cure of a line that misses its limit, the cheapest first; empty if it keeps its limit or has none."""
    if line.check is None or line.check.holds is not False:
        return ""
    parts = [p for p in (_load(line), _gauge(line), _route(line, display), _medium(line)) if p]
    return "; or ".join(parts)


def _load(line: Line) -> str:
    load = load_for_loss(line.circuit) if line.circuit.what == "loudspeaker" else None
    return f"load: {load.ohm:g} ohm is assumed, enter what hangs on the line" if load is not None and load.assumed else ""


def _gauge(line: Line) -> str:
    if line.circuit.what != "loudspeaker" or line.type is None or line.check is None or line.check.limit is None:
        return ""
    load = load_for_loss(line.circuit)
    if load is None:
        return ""
    for awg in GAUGES:
        try:
            if awg < (line.type.awg or 0) and longest_for_loss(line.check.limit.amount, awg, load.ohm).result.amount \
                    >= line.metres:
                return f"gauge: {awg} AWG keeps the limit at this length"
        except Problem:
            continue
    return "no gauge on the list keeps the limit at this length"


def _route(line: Line, display: str) -> str:
    """A shorter way helps if even the straight one with its slack is within the limit."""
    allowed = longest(line)
    if allowed is None:
        return ""
    over = length_text(line.metres - allowed, display)
    if line.way.straight is None or line.typed:
        return f"route: {over} shorter"
    if line.way.straight + line.way.slack <= allowed:
        return f"route: {over} shorter; the straight distance with slack is " \
               f"{length_text(line.way.straight + line.way.slack, display)}"
    return ""


def _medium(line: Line) -> str:
    if line.circuit.what == "data":
        return "medium: fibre, or a network switch on the way"
    if line.circuit.what == "video":
        less = LOWER.get(PICTURE_FORMAT)
        return "medium: coax with less loss, or fibre with an extender at each end" + (
            f"; a picture format of {less} if the venue can live with it" if less else "")
    if line.circuit.what == "loudspeaker":
        return "medium: the amplifier nearer to the stage" + (
            "" if line.circuit.load_line else ", or a 70 or 100 V line where the music allows it")
    return ""
