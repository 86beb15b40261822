"""Backgrounds of the plan beside the job: taken in under names made here, read back as if anybody had touched them."""

import re
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job import edit
from stagefloor.job.background import Background
from stagefloor.job.exchange.apart import Drawing
from stagefloor.job.exchange.outlines import from_bytes
from stagefloor.job.exchange.preview import ADD, CHANGE, SAME, Line, Plan
from stagefloor.job.model import Job

FOLDER = "backgrounds"
MOST_KEPT = 12_000_000  # bytes of a file that is shown
MOST_SIDE = 10_000  # points
NAME = re.compile(r"[0-9a-f]{24}\.(png|jpg|json)")
TYPES = {"png": "image/png", "jpg": "image/jpeg", "json": "application/json"}
AGAIN = "take the drawing in again, or choose another background. The plan works without it."


@dataclass(frozen=True)
class Stored:
    """A background as it is shown: its bytes and their type, its size in its own points.

    `metres` : length of one point as the drawing's own units say, None if it has none; `unit` : these units in words
    """

    data: bytes
    type: str
    wide: int
    high: int
    metres: float | None = None
    unit: str = ""

    @property
    def middle(self) -> complex:
        return complex(self.wide, self.high) / 2


def planned(job: Job, drawing: Drawing, folder: Path) -> Plan:
    """What taking the drawing in does to the job of a folder: a new background lies behind the plan instead of the one
    before, or the file of a known one is put back where it is missing or damaged."""
    file = f"{sha256(drawing.data).hexdigest()[:24]}.{drawing.end}"
    label = drawing.name + (f", page {drawing.page}" if drawing.pages > 1 else "")
    same = next((b for b in job.all(Background) if b.file == file), None)
    files = {f"{FOLDER}/{file}": drawing.data}
    if same is not None and same.shown:
        if _is_there(folder, same):
            return Plan(job, (Line(SAME, label),))
        return Plan(job, (Line(CHANGE, label, "its file is put back"),), files)
    if same is None:
        job, (shown,) = edit.add(job, Background.kind, [{"label": label, "file": file}])
    else:
        shown = same.id
    return Plan(show(job, shown), (Line(ADD, label, "behind the plan"),), files)


def _is_there(folder: Path, background: Background) -> bool:
    try:
        stored(folder, background)
    except Problem:
        return False
    return True


def show(job: Job, background_id: str) -> Job:
    """The job with this background behind the plan and no other; empty: none."""
    return job.with_records([b.model_copy(update={"shown": b.id == background_id}) for b in job.all(Background)
                             if b.shown != (b.id == background_id)])


def shown(job: Job) -> Background | None:
    """The background that lies behind the plan."""
    return next((b for b in job.all(Background) if b.shown), None)


def stored(folder: Path, background: Background) -> Stored:
    """The background's file in the job's folder; a Problem if it is missing, damaged or leads elsewhere."""
    match = NAME.fullmatch(background.file)
    path = folder / FOLDER / background.file
    called = background.label[:60] or "The background"
    try:
        if match is None or path.is_symlink() or path.parent.is_symlink() or not path.is_file():
            raise Problem(f"The file of '{called}' is not in the folder '{FOLDER}' of this job; {AGAIN}")
        status = path.stat()
        return _read(path, status.st_mtime_ns, status.st_size)
    except (OSError, ValueError, RecursionError):
        raise Problem(f"The file of '{called}' in the folder '{FOLDER}' is damaged; {AGAIN}") from None


@lru_cache(maxsize=2)
def _read(path: Path, _time: int, size: int) -> Stored:
    if size > MOST_KEPT:
        raise ValueError("too large")
    data = path.read_bytes()
    if sha256(data).hexdigest()[:24] != path.stem:
        raise ValueError("changed")
    end = path.suffix[1:]
    if end == "json":
        found = from_bytes(data)
        return Stored(data, TYPES[end], found.wide, found.high, found.metres, found.unit)
    wide, high = _size(data, end)
    return Stored(data, TYPES[end], wide, high)


def _size(data: bytes, end: str) -> tuple[int, int]:
    """Width and height of a picture, from its head; ValueError if it is none."""
    from stagefloor.job.exchange.picture_file import size_of  # loaded only where a picture lies behind the plan

    wide, high = size_of(data, end)
    if max(wide, high) > MOST_SIDE:
        raise ValueError("too large")
    return wide, high
