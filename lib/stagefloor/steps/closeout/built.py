"""Planned against built: each box's place, height, model, feed, connectors and cuts; each line's length.

The planned values stay; `built_job` is the job as it stands on site, for drawings and for a second look at the fit.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import hypot

from stagefloor.core.dates import in_order
from stagefloor.core.units import Quantity, length_text
from stagefloor.core.workings import PRACTICE, Basis, Value, Working
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.cables import Node
from stagefloor.job.closeout import AsBuilt, Revision
from stagefloor.job.model import Job
from stagefloor.reference.tables import fact
from stagefloor.steps.cables import Line

PERCENT = 100.0
UNCUT, BOTH_CUT = "no", "lid and enclosure"
AXES = (("x", "across"), ("y", "up"), ("z", "height"))

Place = tuple[float | None, float | None, float | None]


@dataclass(frozen=True)
class BuiltDifference:
    """One box: planned and built place, m (None: not known); `shift` in 3-D, m, if both are known.

    `missing` names what keeps the shift from being known; `modified`: lid or enclosure was drilled or trimmed.
    `tolerance`: the shift that is worth a note, m. `others`: what else is not as planned, in a few words each.
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
    tolerance: float
    others: tuple[str, ...] = ()
    photo: str = ""

    @property
    def deltas(self) -> tuple[float | None, float | None, float | None]:
        """How far it moved across, up and in height, m."""
        across, up, height = (None if p is None or b is None else b - p
                              for p, b in zip(self.planned, self.built, strict=True))
        return across, up, height

    @property
    def measured(self) -> bool:
        """Whether all three built measures are there."""
        return None not in self.built

    @property
    def beyond(self) -> bool:
        """Whether the shift is more than the tolerance."""
        return self.shift is not None and self.shift > self.tolerance + 1e-9


@dataclass(frozen=True)
class BuiltLength:
    """One line: the length of its drawn way and the one measured on the cable, m."""

    circuit: str
    line: str
    drawn: float
    measured: float
    working: Working

    @property
    def beyond(self) -> bool:
        """Whether they differ by more than a drawn way may be off."""
        return self.working.holds is False


@dataclass(frozen=True)
class Change:
    """One thing that was built otherwise than planned. `date` as it was written down, empty if not."""

    date: str
    subject: str
    what: str
    planned: str
    built: str
    by: str = ""
    note: str = ""
    photo: str = ""


def built_job(job: Job) -> Job:
    """The job as it is on site: each box where it was measured, of the model that was set, fed from where it is."""
    entries = _entries(job)
    return job.with_records(
        box.model_copy(update={
            k: v for k, v in {"x": e.x, "y": e.y, "z": e.z, "model": e.model, "feed": e.feed}.items() if v})
        for box in job.boxes() if (e := entries.get(box.id)) is not None
    )


def built_lengths(lines: Sequence[Line]) -> list[BuiltLength]:
    """Lines whose cable was measured, beside the length of the way that is drawn for them."""
    row = fact("acceptance", "length_doubt_drawn")
    found = []
    for line in lines:
        drawn = line.way.metres
        if not line.typed or line.way.rough or drawn <= 0:
            continue
        working = Working(
            f"Length of line {line.circuit.name}, built against drawn",
            "d = abs(L_b / L_p - 1) * 100",
            (Value("L_p", "drawn way", drawn, "m"), Value("L_b", "measured on the cable", line.metres, "m")),
            Value("d", "difference", abs(line.metres / drawn - 1) * PERCENT, "%"),
            (row.basis(),),
            row.shown("", "worth a note above"),
        )
        found.append(BuiltLength(line.circuit.id, line.circuit.name, drawn, line.metres, working))
    return found


def changes(job: Job, lines: Sequence[Line]) -> list[Change]:
    """The change log: every entry of a box that is not as planned, lengths that differ, issues of the documents; by date."""
    display = job.settings.units
    found = []
    for entry, so_far in _as_made(job):
        box = job.find(Box, entry.box)
        if box is None:
            continue
        d = _difference(job, box, so_far)
        if d.beyond and (entry.x or entry.y or entry.z):
            found.append(Change(entry.date, d.title, "place", _place_text(d.planned, display), _place_text(d.built, display),
                                entry.by, entry.note_text, entry.photo))
        found += [Change(entry.date, d.title, what, before, after, entry.by, entry.note_text, entry.photo)
                  for what, before, after in _other_changes(job, box, entry)]
    found += [Change("", f"Line {b.line}", "length", length_text(b.drawn, display), length_text(b.measured, display))
              for b in built_lengths(lines) if b.beyond]
    found += [Change(r.date, "Document set", f"revision {r.label}", "", "", "", r.words) for r in job.all(Revision)]
    return sorted(found, key=lambda c: (not c.date, c.date))


def _place_text(place: Place, display: str) -> str:
    words = [f"{word} {length_text(p, display)}" for p, (_, word) in zip(place, AXES, strict=True) if p is not None]
    return ", ".join(words)


def _other_changes(job: Job, box: Box, entry: AsBuilt) -> list[tuple[str, str, str]]:
    """What, planned and built, of everything but the place."""
    found = []
    if entry.model and entry.model != box.model:
        old, new = job.find(BoxModel, box.model), job.find(BoxModel, entry.model)
        found.append(("model", old.name if old else "the smallest that takes it", new.name if new else "?"))
    if entry.feed and entry.feed != box.feed:
        before, after = job.find(Node, box.feed), job.find(Node, entry.feed)
        found.append(("fed from", before.name if before else "the nearest", after.name if after else "?"))
    if entry.connector:
        found.append(("connectors", "as in the opening schedule", entry.connector))
    if entry.changed:
        found.append(("lid or enclosure", "as listed", entry.trimmed if entry.trimmed != UNCUT else "drilled or trimmed"))
    return found


def _as_made(job: Job) -> list[tuple[AsBuilt, AsBuilt]]:
    """Each as-built entry, those of a box in the order of their days, with what is known of its box by then."""
    of: dict[str, list[AsBuilt]] = {}
    for entry in job.all(AsBuilt):
        of.setdefault(entry.box, []).append(entry)
    made = [in_order(entries, lambda e: (e.date, "")) for entries in of.values()]
    return [pair for entries in made for pair in zip(entries, accumulate(entries, _together), strict=True)]


def _together(before: AsBuilt, entry: AsBuilt) -> AsBuilt:
    """Two entries of one box as one: of each field the later that says something; what was cut stays cut."""
    said = {name: value for name in type(entry).model_fields if (value := getattr(entry, name)) and name != "trimmed"}
    cut = {before.trimmed, entry.trimmed} - {UNCUT}
    return before.model_copy(update={**said, "trimmed": cut.pop() if len(cut) == 1 else BOTH_CUT if cut else UNCUT})


def _entries(job: Job) -> dict[str, AsBuilt]:
    """Box id -> all that its as-built entries say."""
    return {entry.box: so_far for entry, so_far in _as_made(job)}


def as_built(job: Job) -> list[BuiltDifference]:
    """Each box that is not retired, in the user's order, by all of its as-built entries."""
    entries = _entries(job)
    return [_difference(job, box, entries.get(box.id)) for box in job.boxes()]


def _difference(job: Job, box: Box, entry: AsBuilt | None) -> BuiltDifference:
    planned = _place(box.x, box.y, box.z)
    built = _place(entry.x, entry.y, entry.z) if entry is not None else (None, None, None)
    missing = tuple(
        [f"planned {word}" for p, (_, word) in zip(planned, AXES, strict=True) if p is None]
        + [f"built {word}" for b, (_, word) in zip(built, AXES, strict=True) if b is None]
    )
    tolerance = job.settings.built_tolerance.si if job.settings.built_tolerance else 0.0
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
            Value("s_max", "worth a note above", tolerance, "m"),
        )
    return BuiltDifference(
        box.id,
        box.title,
        planned,
        built,
        shift,
        missing,
        bool(entry and entry.changed),
        entry.note_text if entry else "",
        entry.by if entry else "",
        entry.date if entry else "",
        _sentence(job, box, entry, shift, missing, tolerance),
        working,
        tolerance,
        tuple(f"{what}: {after}" for what, _, after in _other_changes(job, box, entry)) if entry else (),
        entry.photo if entry else "",
    )


def _sentence(
    job: Job, box: Box, entry: AsBuilt | None, shift: float | None, missing: tuple[str, ...], tolerance: float
) -> str:
    if entry is None:
        return f"{box.title}: no as-built entry yet."
    if shift is None:
        text = f"{box.title}: the shift is not known, {', '.join(missing)} missing"
    elif shift > tolerance + 1e-9:
        text = (
            f"{box.title} is {length_text(shift, job.settings.units)} from where it was planned, "
            f"more than {length_text(tolerance, job.settings.units)}"
        )
    else:
        text = f"{box.title} is where it was planned, within {length_text(tolerance, job.settings.units)}"
    return text + ("; its enclosure was drilled or trimmed." if entry.changed else ".")


def _place(x: Quantity | None, y: Quantity | None, z: Quantity | None) -> Place:
    return (x.si if x else None, y.si if y else None, z.si if z else None)
