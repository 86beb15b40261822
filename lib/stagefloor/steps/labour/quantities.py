"""The names of the takeoff's quantities, and which of them a row of hours or prices counts."""

from collections.abc import Collection, Mapping
from math import isfinite

from stagefloor.core.problems import nearest
from stagefloor.job import measured
from stagefloor.job.labour import ByHand
from stagefloor.job.model import Job
from stagefloor.steps.cables.takeoff import NO_LENGTH

SINGLE = (
    "floor boxes",
    "wall panels",
    "framed openings",
    "cores",
    "old outlets removed",
    "old outlets blanked",
    "old lines tested",
    "pull strings",
    "cable tray m",
    "cable supports",
    "pulls",
    "first cables m",
    "added cables m",
    "labels",
    "mains requests",
    "trips",
    "surveys",
    "scans",
    "commissioning visits",
    "training sessions",
    "document sets",
    "hours of work",
)
HOURS = "hours of work"  # the mean hours of all other tasks, for supervision
FAMILIES = ("openings:", "cable ends:", "cable m:", "assemblies:", "raceway m:", "circuits:", "tests:")

# What is bought, what is worked on; circuits and pulls are only counted. Any other name needs either.
MATERIAL = ("floor boxes", "wall panels", "openings:", "cable m:", "assemblies:", "raceway m:", "cable tray m",
            "cable supports")
COUNTED_ONLY = ("circuits:", "pulls", HOURS, NO_LENGTH)
WORK = (*(n for n in SINGLE if n not in COUNTED_ONLY), "openings:", "cable ends:", "raceway m:", "tests:")
# Mains is the licensed electrician's work: the shop counts it and prices none of it.
OF_OTHERS = ("openings: mains", "cable ends: mains", "cable m: mains", "tests: mains", "circuits: mains")


def plain(name: str) -> str:
    """A name in small letters with single blanks, so that 'Cable m:  Microphone' is found."""
    return " ".join(name.lower().split())


def is_of(name: str, pattern: str) -> bool:
    """Whether a quantity is the one meant; a pattern that ends in ':' is the family less what others do."""
    name, pattern = plain(name), plain(pattern)
    if pattern.endswith(":"):
        return name.startswith(pattern) and name not in OF_OTHERS
    return name == pattern


def is_any(name: str, patterns: tuple[str, ...]) -> bool:
    return any(is_of(name, p) for p in patterns)


def amount(quantities: Mapping[str, float], pattern: str) -> float:
    """The amount that a row counts; zero if the takeoff has none of it."""
    return sum(q for n, q in quantities.items() if is_of(n, pattern))


def is_length(pattern: str) -> bool:
    """Whether a row counts metres of cable or raceway."""
    return measured.is_length(pattern)


def counted(job: Job, takeoff: Mapping[str, float]) -> dict[str, float]:
    """The takeoff with the amounts that no drawing shows and that were entered by hand."""
    found = dict(takeoff)
    for row in job.all(ByHand):
        if row.amount:
            found[row.quantity] = found.get(row.quantity, 0.0) + row.amount
    return found


def unknown(pattern: str, quantities: Collection[str]) -> str:
    """Why a row counts nothing, as the end of a sentence; empty if its quantity is known."""
    name = plain(pattern)
    if not name:
        return "has no quantity to count by; choose one, for example 'floor boxes'"
    choices = [*SINGLE, *FAMILIES, *(plain(q) for q in quantities)]
    if name in choices or any(name.startswith(f) and len(name) > len(f) for f in FAMILIES):
        return ""
    near = nearest(name, choices)
    return f"counts '{pattern[:40]}', which the takeoff does not have; " + (
        f"did you mean '{near}'?" if near else f"choose one of: {', '.join([*SINGLE, *FAMILIES])}"
    )


def usable(quantities: Mapping[str, float]) -> tuple[dict[str, float], list[str]]:
    """The quantities that can be counted, and a sentence for each that can't."""
    good: dict[str, float] = {}
    bad: list[str] = []
    for name, value in quantities.items():
        if isfinite(value) and value >= 0:
            good[name] = float(value)
        else:
            bad.append(
                f"The quantity '{name}' is {value:g}; it must be zero or more, so it was left out: "
                "check what it is counted from."
            )
    return good, bad
