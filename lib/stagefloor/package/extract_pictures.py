"""Pictures that were chosen for one reader, made small for a page. Those of other readers are never opened."""

from base64 import b64encode
from collections.abc import Mapping
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import AsBuilt, Punch
from stagefloor.job.exchange.picture_file import CleanPicture, small_picture
from stagefloor.job.exchange.picture_folder import read_picture
from stagefloor.job.model import Job
from stagefloor.job.pictures import HOMES, JOB, Picture
from stagefloor.job.subjects import is_there, title
from stagefloor.readers.pictures import ShownPicture

MOST_BYTES = 5_000_000  # of all pictures on one page
SIDES = (800, 560, 400, 280)  # points of the longer side: the largest with which all fit
# Kinds of record whose names a reader may read; the words of other records stay inside.
NAMED: Mapping[str, frozenset[str]] = {
    "client": frozenset(HOMES) - {"punch"},
    "crew": frozenset({JOB, "box", "circuit", "node", "segment", "asbuilt"}),
}


def pictures_for(job: Job, job_folder: Path, reader: str) -> tuple[tuple[ShownPicture, ...], list[str]]:
    """The pictures whose audience is this reader, boxes first, and sentences about those that could not be shown."""
    chosen = [p for p in job.all(Picture) if p.audience == reader]
    order = {b.title: n for n, b in enumerate(job.boxes())}
    chosen.sort(key=lambda p: order.get(_group(job, p, reader), len(order)))
    said, read = [], []
    for picture in chosen:
        try:
            if picture.what == "sketch":
                raise Problem("a sketch stays in the workbook: only photos go into documents.")
            read.append((picture, read_picture(job_folder, picture.file)))
        except Problem as problem:
            said.append(f"A picture of {title(job, picture.on, picture.to)} is not in the documents: {problem.sentence}")
    small: list[tuple[Picture, CleanPicture]] = []
    for side in SIDES:
        small = []
        for picture, data in read:
            try:
                small.append((picture, small_picture(data, side, picture.file)))
            except Problem as problem:
                said.append(f"A picture of {title(job, picture.on, picture.to)} is not in the documents: {problem.sentence}")
        if sum(len(s.data) for _, s in small) <= MOST_BYTES:
            break
    said = list(dict.fromkeys(said))
    shown, total = [], 0
    for picture, made in small:
        total += len(made.data)
        if total <= MOST_BYTES:
            shown.append(_shown(job, picture, made, reader))
    if len(shown) < len(small):
        said.append(f"{len(small) - len(shown)} of {len(small)} pictures are not in the documents: the page would be too "
                    "heavy for a telephone. Choose fewer for this reader.")
    return tuple(shown), said


def _shown(job: Job, picture: Picture, made: CleanPicture, reader: str) -> ShownPicture:
    group, about = _group(job, picture, reader), ""
    if picture.on in NAMED[reader] or _may_read(job, picture, reader):
        about = title(job, picture.on, picture.to) if is_there(job, picture.on, picture.to) else ""
    return ShownPicture(group=group, about="" if about == group or picture.on == JOB else about, caption=picture.label,
                        date=picture.date, wide=made.wide, high=made.high, data=b64encode(made.data).decode())


def _may_read(job: Job, picture: Picture, reader: str) -> bool:
    item = job.find(Punch, picture.to) if picture.on == Punch.kind else None
    return item is not None and item.audience == reader


def _group(job: Job, picture: Picture, reader: str) -> str:
    """The box that a picture shows, or the kind of thing."""
    box_id = picture.to if picture.on == Box.kind else ""
    if picture.on == AsBuilt.kind and (entry := job.find(AsBuilt, picture.to)):
        box_id = entry.box
    if picture.on == Circuit.kind and (line := job.find(Circuit, picture.to)):
        box_id = next((o.box for i in line.openings if (o := job.find(Opening, i))), "")
    box = job.find(Box, box_id) if box_id else None
    if box is not None:
        return box.title
    return HOMES[picture.on] if picture.on in NAMED[reader] and picture.on != JOB else "The job"
