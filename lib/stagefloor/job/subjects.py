"""What a picture can belong to, in the job's own words: which records there are of a kind, and what each is called."""

from collections import Counter
from collections.abc import Collection

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Node, Segment
from stagefloor.job.closeout import AsBuilt
from stagefloor.job.inventory import Point
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.pictures import HOMES, JOB, Picture
from stagefloor.job.record import Record

NOUNS = {"circuit": "Line", "node": "Node", "segment": "Raceway", "oldoutlet": "Old outlet", "holdpoint": "Hold point",
         "punch": "Punch item"}
THE_JOB = "The job"
GONE = "not there any more"


def subjects(job: Job, kind: str) -> list[tuple[str, str]]:
    """(id, title) of each record of one kind of HOMES that a picture can belong to, in the user's order."""
    if kind == JOB:
        return [("", THE_JOB)]
    found: list[Record] = list(job.boxes() if kind == "box" else job.circuits() if kind == "circuit" else
                               job.tables.get(kind, {}).values())
    return [(r.id, _title(job, r)) for r in found]


def title(job: Job, kind: str, record_id: str) -> str:
    """What people call the record; a record that was deleted is said to be."""
    if kind == JOB:
        return THE_JOB
    record = job.tables.get(kind, {}).get(record_id)
    return _title(job, record) if record is not None else f"{RECORDS[kind].noun.capitalize()} {GONE}"


def is_there(job: Job, kind: str, record_id: str) -> bool:
    """Whether the record is in the job."""
    return kind == JOB or record_id in job.tables.get(kind, {})


def home(job: Job, kind: str, record_id: str) -> tuple[str, str]:
    """Kind and id of an existing record, as a picture keeps them; a Problem if there is none."""
    if kind == JOB:
        return JOB, ""
    if kind not in HOMES:
        raise Problem(f"A picture can't belong to '{kind[:40]}'; choose from the list.")
    job.get(RECORDS[kind], record_id)
    return kind, record_id


def named(job: Job, words: str) -> tuple[str, str]:
    """The record that a phone sheet calls by these words: a survey line, a line, a box; the job itself if none."""
    wanted = words.strip().lower()
    for kind in ("survey", "box", "circuit"):
        for record_id, its_title in subjects(job, kind):
            if its_title.lower() == wanted:
                return kind, record_id
    return JOB, ""


def pictures_of(job: Job, kind: str, record_id: str) -> list[Picture]:
    """The pictures of one record, in the user's order."""
    return [p for p in job.all(Picture) if p.on == kind and (kind == JOB or p.to == record_id)]


def counts(job: Job) -> Counter[tuple[str, str]]:
    """How many pictures each record has, by kind and id."""
    return Counter((p.on, "" if p.on == JOB else p.to) for p in job.all(Picture))


def number_of(job: Job, kinds: Collection[str]) -> int:
    """How many pictures the records of these kinds have together."""
    return sum(p.on in kinds for p in job.all(Picture))


def _title(job: Job, record: Record) -> str:
    if isinstance(record, Box):
        return record.title
    if isinstance(record, AsBuilt):
        box = job.find(Box, record.box)
        return f"{box.title if box else 'A box'}, as built"
    if isinstance(record, Segment) and not record.label:
        ends = [n.name if (n := job.find(Node, i)) else "?" for i in (record.start, record.end)]
        return f"Raceway {ends[0]} to {ends[1]}"
    if isinstance(record, Point):
        return f"Point {record.name}" + (f", {record.what}" if record.what else "")
    return f"{NOUNS.get(record.kind, '')} {record.name}".strip()
