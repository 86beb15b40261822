"""How much raceway a job needs in all, and what open ways need instead: tray, supports."""

from collections.abc import Sequence

from stagefloor.core.units import FOOT
from stagefloor.core.workings import JOB, PRACTICE, Basis, Value, Working
from stagefloor.steps.cables import Raceway
from stagefloor.steps.cables.takeoff import is_tray, supports


def new_raceways(raceways: Sequence[Raceway], display: str) -> Working:
    """The length of all raceways that are to be laid, spare ones among them, in the user's unit."""
    return _length("New raceways in all", "raceway", [r for r in raceways if r.to_lay], display)


def open_ways(raceways: Sequence[Raceway], display: str) -> list[Working]:
    """The length of new cable tray in the user's unit, and the number of supports of free paths; each only if there are."""
    trays = [r for r in raceways if is_tray(r) and r.metres]
    hung = [(r.segment.name, n) for r in raceways if (n := supports(r))]
    found = [_length("New cable tray in all", "cable tray", trays, display)] if trays else []
    return found if not hung else [*found, Working(
        "Supports of free paths", "n = n1 + n2 + ..., each one for every spacing begun",
        tuple(Value(f"n{i}", name, n) for i, (name, n) in enumerate(hung, 1)),
        Value("n", "supports", sum(n for _, n in hung)),
        (Basis("one for each spacing begun", PRACTICE), Basis("free paths of this job", JOB)))]


def _length(name: str, what: str, counted: Sequence[Raceway], display: str) -> Working:
    unit, per = ("ft", 1 / FOOT) if display == "ft-in" else ("m", 1.0)
    lengths = [(r.segment.name, (r.metres or 0.0) * per) for r in counted]
    return Working(name, "L = l1 + l2 + ...",
                   tuple(Value(f"l{n}", label, length, unit) for n, (label, length) in enumerate(lengths, 1)),
                   Value("L", what, sum(length for _, length in lengths), unit, 5),
                   (Basis("this job's raceways, each of them counted", JOB),))
