"""Jobs in which every field is filled as a page would take it, and some of them changed to the least, the most or the oddest
that their kind of field takes: a change is refused in one sentence, or everything of the job can still be worked out.
`tests/fuzz.py` runs a great many of them.
"""

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fuzz_job import DEMOS, HOW_OFTEN, TOP, content, one_sentence, shortened
from pydantic.fields import FieldInfo

from stagefloor.core.problems import Problem
from stagefloor.job import edit, store
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.package import extract_client, extract_crew, extract_site, extract_survey
from stagefloor.results import Results, compute
from stagefloor.results.scenes import box_face, stage_scene
from stagefloor.steps.boxes.schedule import reconciled

UNITS = {"length": "m", "mass": "kg", "force": "N", "resistance_per_length": "ohm/km", "mass_per_length": "kg/m"}
NUMBERS = ("0", "-5", "1e-9", "0.4", "1", "7", "45", "100", "101", "360", "1000", "1e9")
COUNTS = ("0", "1", "2", "7", "40")
TEXTS = ("x", "½", "12", "12 AWG", "2.5", "-5", "0", "50 x 50 mm", "25 mm, inside 22 mm", "2026-02-30", "2026-03-01",
         "9999-12-31", "a; b", "[n] [nnn] [box]", "openings: microphone", "cable m: microphone", "floor boxes", "x" * 4000)
READERS: tuple[Callable[[Results], object], ...] = (
    extract_client.extract, extract_crew.extract, lambda r: extract_site.site_sheet(r, "sheet", "2026-03-01", "crew"),
    lambda r: extract_survey.survey_sheet(r, "sheet", "2026-03-01"))


def value(job: Job, info: FieldInfo, rng: random.Random, *, odd: bool) -> Any:
    """Something that may be typed into a field; `odd`: also what nobody would type on purpose."""
    shape = shape_of(info)
    if shape in UNITS:
        return f"{rng.choice(NUMBERS if odd else ('0.4', '1', '7'))} {UNITS[shape]}"
    if shape in ("number", "money"):
        return rng.choice(NUMBERS if odd else ("1", "7", "45"))
    if shape == "count":
        return rng.choice(COUNTS if odd else COUNTS[1:3])
    if shape == "flag":
        return rng.choice(("yes", "no"))
    if shape == "choice":
        return rng.choice(extra_of(info, "choices"))
    if shape in ("ref", "refs"):
        ids = list(job.tables.get(extra_of(info, "ref"), {}))
        many = rng.sample(ids, min(len(ids), rng.choice((0, 1, 3)) if odd else 1))
        return many if shape == "refs" else "".join(many[:1])
    return rng.choice(TEXTS) if odd else "2026-03-01" if extra_of(info, "day") else "x"


def filled(name: str) -> Job:
    """A demo with a row of every kind, and something in every field that takes it."""
    rng = random.Random(name)
    job = store.from_data(json.loads(shortened(TOP / "demo_projects" / name / store.FILE)), Path(name)).job
    for _ in range(2):  # the second time round what refers to each other is there
        for kind, cls in RECORDS.items():
            if not job.tables.get(kind):
                job, _ids = edit.add(job, kind, [{}])
            for one, record in job.tables[kind].items():
                for field, info in cls.model_fields.items():
                    now = getattr(record, field)
                    gone = shape_of(info) == "ref" and now not in job.tables.get(extra_of(info, "ref"), {})
                    if field != "id" and (now in (None, "", (), 0) or gone):
                        job = changed(job, kind, one, field, value(job, info, rng, odd=False))
    return job


def changed(job: Job, kind: str, one: str, field: str, typed: Any) -> Job:
    """The job with one field typed; as it was if that is refused."""
    try:
        return edit.set_fields(job, kind, one, {field: typed})
    except Problem as problem:
        one_sentence(problem)
        return job


def all_of(job: Job) -> None:
    """Everything that is worked out from a job, and what each reader gets of it."""
    results = compute(job)
    results.workings()
    results.order_list()
    json.dumps([i.as_data() for i in results.items])
    stage_scene(job, True, True)
    for box in job.boxes():
        box_face(job, box)
    for reader in READERS:
        try:
            reader(results)
        except Problem as problem:
            one_sentence(problem)


class Values:
    """Jobs with strange values one after the other."""

    name = "values"

    def __init__(self, folder: Path) -> None:
        self.jobs = [filled(name) for name in DEMOS]

    def one(self, rng: random.Random) -> str:
        """'same' if all was refused, or 'changed'; anything else that happens is raised."""
        before = job = self.jobs[rng.choice(HOW_OFTEN)]
        for _ in range(rng.choice((1, 1, 2, 4))):
            kind = rng.choice(["settings", *job.tables])
            cls = type(job.settings) if kind == "settings" else RECORDS[kind]
            one = "job" if kind == "settings" else rng.choice(list(job.tables[kind]) or [""])
            if one:
                field = rng.choice([f for f in cls.model_fields if f != "id"])
                typed = "" if rng.random() < 0.15 else value(job, cls.model_fields[field], rng, odd=True)
                job = changed(job, kind, one, field, typed)
        if rng.random() < 0.3:
            job = reconciled(job)
        all_of(job)
        again = store.from_data(json.loads(store.to_text(job)), Path("again"))
        assert content(again.job) == content(job), "what was read is not what is written"
        assert not again.faults, f"what was taken is refused when it is read again: {again.faults}"
        return "same" if job is before else "changed"
