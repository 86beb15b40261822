"""How much raceway a job needs in all."""

from collections.abc import Sequence

from stagefloor.core.units import FOOT
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.steps.cables import Raceway


def new_raceways(raceways: Sequence[Raceway], display: str) -> Working:
    """The length of all raceways that carry a cable and are not there yet, in the user's unit."""
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    counted = [(r.segment.name, (r.metres or 0.0) * per) for r in raceways if r.diameters and not r.segment.existing]
    return Working("New raceways in all", "L = l1 + l2 + ...",
                   tuple(Value(f"l{n}", name, length, unit) for n, (name, length) in enumerate(counted, 1)),
                   Value("L", "raceway", sum(length for _, length in counted), unit, 5),
                   (Basis("this job's raceways, each of them counted", JOB),))
