"""Pictures added to a record: each becomes a record of its own and one file; the same picture twice is one file."""

from collections.abc import Sequence

from stagefloor.job import edit
from stagefloor.job.exchange.picture_file import CleanPicture
from stagefloor.job.exchange.picture_folder import FOLDER
from stagefloor.job.exchange.preview import ADD, SAME, Line, Plan
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.subjects import home, pictures_of, title


def attached(job: Job, pictures: Sequence[CleanPicture], on: str, to: str, *, caption: str = "", by: str = "",
             date: str = "", audience: str = "") -> Plan:
    """The job with these pictures at one record, and the files to write; one that is there already is left out.

    `date` empty: what the camera noted, if it did. Raises Problem if the record is gone or a text can't be kept.
    """
    on, to = home(job, on, to)
    lines, files = [], {}
    known = {p.file for p in pictures_of(job, on, to)}
    for picture in pictures:
        words = f"Picture {picture.wide} by {picture.high}, {title(job, on, to)}"
        if picture.name in known:
            lines.append(Line(SAME, words))
            continue
        known.add(picture.name)
        job, _ = edit.add(job, Picture.kind, [{
            "label": caption, "what": "photo", "file": picture.name, "by": by, "date": date or picture.taken, "on": on,
            "to": to, "audience": audience}])
        files[f"{FOLDER}/{picture.name}"] = picture.data
        lines.append(Line(ADD, words, caption))
    return Plan(job, tuple(lines), files)
