"""Where each floor box was planned and where it is: the shift, and what was changed on it."""

from dataclasses import dataclass
from math import hypot

from stagefloor.core.units import Quantity, length_text
from stagefloor.core.workings import PRACTICE, Basis, Value, Working
from stagefloor.job.boxes import Box
from stagefloor.job.closeout import AsBuilt
from stagefloor.job.model import Job

TOLERANCE = 0.025  # m, shift that is worth a note; common practice, no source
AXES = (("x", "across"), ("y", "up"), ("z", "height"))

Place = tuple[float | None, float | None, float | None]


@dataclass(frozen=True)
class BuiltDifference:
    """One box: planned and built place, m (None: not known); `shift` in 3-D, m, if both are known.

    `missing` names what keeps the shift from being known; `modified`: the enclosure was drilled or trimmed.
    """

    box: str
    title: str
    planned: Place
    built: Place
    shift: float | None
    missing: tuple[str, ...]
    modified: bool
    note: str
    by: str
    date: str
    sentence: str
    working: Working | None

    @property
    def measured(self) -> bool:
        """Whether all three built measures are there."""
        return None not in self.built

    @property
    def beyond(self) -> bool:
        """Whether the shift is more than the tolerance."""
        return self.shift is not None and self.shift > TOLERANCE


def as_built(job: Job) -> list[BuiltDifference]:
    """Each box that is not retired, in the user's order; the last as-built entry of a box counts."""
    entries = {entry.box: entry for entry in job.all(AsBuilt)}
    return [_difference(job, box, entries.get(box.id)) for box in job.boxes()]


def _difference(job: Job, box: Box, entry: AsBuilt | None) -> BuiltDifference:
    planned = _place(box.x, box.y, box.z)
    built = _place(entry.x, entry.y, entry.z) if entry is not None else (None, None, None)
    missing = tuple(
        [f"planned {word}" for p, (_, word) in zip(planned, AXES, strict=True) if p is None]
        + [f"built {word}" for b, (_, word) in zip(built, AXES, strict=True) if b is None]
    )
    shift, working = None, None
    if not missing:
        deltas = tuple((b or 0.0) - (p or 0.0) for p, b in zip(planned, built, strict=True))
        shift = hypot(*deltas)
        working = Working(
            f"Shift of {box.title}",
            "s = sqrt(dx^2 + dy^2 + dz^2)",
            tuple(Value(f"d{axis}", word, d, "m") for (axis, word), d in zip(AXES, deltas, strict=True)),
            Value("s", "shift", shift, "m"),
            (Basis("geometry of the planned and the measured place; tolerance of the shop", PRACTICE),),
            Value("s_max", "worth a note above", TOLERANCE, "m"),
        )
    return BuiltDifference(
        box.id,
        box.title,
        planned,
        built,
        shift,
        missing,
        bool(entry and entry.modified),
        entry.note_text if entry else "",
        entry.by if entry else "",
        entry.date if entry else "",
        _sentence(job, box, entry, shift, missing),
        working,
    )


def _sentence(
    job: Job, box: Box, entry: AsBuilt | None, shift: float | None, missing: tuple[str, ...]
) -> str:
    if entry is None:
        return f"{box.title}: no as-built entry yet."
    if shift is None:
        text = f"{box.title}: the shift is not known, {', '.join(missing)} missing"
    elif shift > TOLERANCE:
        text = (
            f"{box.title} is {length_text(shift, job.settings.units)} from where it was planned, "
            f"more than {length_text(TOLERANCE, job.settings.units)}"
        )
    else:
        text = f"{box.title} is where it was planned, within {length_text(TOLERANCE, job.settings.units)}"
    return text + ("; its enclosure was drilled or trimmed." if entry.modified else ".")


def _place(x: Quantity | None, y: Quantity | None, z: Quantity | None) -> Place:
    return (x.si if x else None, y.si if y else None, z.si if z else None)
