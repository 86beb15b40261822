"""The formula that a reader sees gives the result that is shown, on the numbers that are shown."""

import math
import re

import pytest

from stagefloor.calculations.catalogue import ALL
from stagefloor.calculations.command import calculate

WORDS = {
    "sqrt": math.sqrt, "log10": math.log10, "log": math.log, "exp": math.exp, "pi": math.pi, "erf": math.erf,
    "sin": math.sin, "cos": math.cos, "min": min, "max": max, "abs": abs, "floor": lambda x:
    math.floor(x + 1e-9),
    "ceil": lambda x: math.ceil(x - 1e-9), "round": lambda x, n: round(x, int(n)),
}  # fmt: skip

# Formulae that are a sum over a list, a look-up or a choice: words, not an expression in the values shown.
IN_WORDS = {
    "trunking-factors", "conduit-factors", "bends-between-pull-points", "cable-area", "pull-run",
    "metric-resistance",
    "gauge-for-resistance", "parallel-load", "length-when-warm", "display-cable", "path-sum",
    "crawford", "outlet-box",
    "digital-audio-length", "dmx-length", "grip-tension", "change-of-level", "gap-in-floor",
    "opening-framing",
    "rcd-trip-time", "link-length", "table-row", "insulation", "separation", "cable-exit",
}  # fmt: skip
# The formula gives the limit, and the result is what stands against it.
OF_THE_LIMIT = {
    "separation-iec",
    "joist-notch",
    "joist-hole",
    "conduit-in-slab",
    "plugged-load",
    "expected-loop",
    "loudspeaker-impedance",
}


def evaluated(working) -> float:
    right = working.formula.split(" = ", 1)[1].replace("^", "**")
    names = {v.symbol: v.amount for v in working.inputs}
    assert re.fullmatch(r"[\w .,()+*/-]+", right), right
    return eval(right, {"__builtins__": {}}, WORDS | names)


@pytest.mark.parametrize("calculation", [c for c in ALL if c.name not in IN_WORDS], ids=lambda c: c.name)
def test_formula_gives_the_result(calculation):
    working = calculate(calculation, calculation.example)
    wanted = working.limit if calculation.name in OF_THE_LIMIT else working.result
    assert evaluated(working) == pytest.approx(wanted.amount, rel=1e-9, abs=1e-12)


def test_the_exceptions_are_calculations():
    assert {c.name for c in ALL} >= IN_WORDS | OF_THE_LIMIT


def test_a_wrong_formula_would_be_seen():
    working = calculate(
        next(c for c in ALL if c.name == "clear-bay"), {"spacing": "16in", "joist_width": "2in"}
    )
    assert evaluated(working) != pytest.approx(working.result.amount + 0.001)
