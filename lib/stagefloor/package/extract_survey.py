"""From a job to the survey sheet's file: what was looked at, what to ask, and the fields asked with it, each by name."""

from hashlib import sha256

from stagefloor.core.words import local
from stagefloor.job import edit
from stagefloor.job.exchange.sheet_file import LIMITS
from stagefloor.job.exchange.survey_fields import RENAMED, SURVEY_ROWS, fields_of_topic, rows_of_topic, topics
from stagefloor.job.fields import extra_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.record import Record
from stagefloor.job.sheet import LOOKED, Settings, Survey
from stagefloor.job.typed import cell_text
from stagefloor.readers.survey import Field, Question, Row, Rows, SurveySheet, Topic
from stagefloor.results import Results
from stagefloor.results.compute import STEPS, questions

CAUTIONS = (
    "Mains: never open a mains box, panel or outlet. Look, read the label, take a photo; the licensed electrician opens.",
    "Structure: cut, drill and core nothing. What is in a slab, and where a joist runs, is written down, not tried out.",
    "Below the stage: never alone, with light, a mask against dust, and someone who knows where you are. Suspected "
    "asbestos or lead is left alone and written down.",
    "Open traps, pits and edges are guarded before you walk near them. The house's own rules come first.",
)
ASKED_OF = tuple(step for step in STEPS if step != "labour")  # hours and prices are no question for the site


def survey_sheet(results: Results, sheet: str, made: str) -> SurveySheet:
    """The survey sheet of a job. `sheet`: its key; `made`: the date."""
    job = results.job
    lines = job.all(Survey)
    known = {RENAMED.get(s.topic, s.topic) for s in lines}
    own = results.words.text
    listed = [_topic(job, s.topic, s) for s in lines] + [_topic(job, t) for t in topics() if t not in known]
    asked = questions([i for step in ASKED_OF for i in results.items_of(step)])
    known |= set(topics())
    known |= {s.topic for s in lines}
    return SurveySheet(
        sheet=sheet, made=made, venue=job.settings.venue or "the venue", unit=edit.default_unit(job, "length"),
        limits=LIMITS, states=LOOKED, topics=tuple(listed), cautions=tuple(map(own, CAUTIONS)),
        questions=tuple(Question(id=f"question.{sha256(q.encode()).hexdigest()[:12]}", words=own(q))
                        for q in asked if q not in known and own(q) not in known))


def _topic(job: Job, topic: str, line: Survey | None = None) -> Topic:
    fields = tuple(_field(job, Settings, name, job.settings) for name in fields_of_topic(topic))
    kind = rows_of_topic(topic)
    rows = _rows(job, kind) if kind else None
    if line is None:
        return Topic(topic=topic, looked=LOOKED[0], fields=fields, rows=rows)
    return Topic(id=line.id, topic=topic, looked=line.looked, found=line.found, evidence=line.evidence, by=line.by,
                 date=line.date, fields=fields, rows=rows)


def _field(job: Job, cls: type[Record], name: str, record: Record | None = None) -> Field:
    info, basis = cls.model_fields[name], job.settings.basis
    choices, value = extra_of(info, "choices") or (), cell_text(job, record, name) if record is not None else ""
    label = ", ".join(x for x in (local(info.title or name, basis), edit.unit_of(job, info)) if x)
    return Field(name=name, label=label, hint=local(info.description or "", basis),
                 choices=tuple(local(c, basis) for c in choices), value=local(value, basis) if choices else value)


def _rows(job: Job, kind: str) -> Rows:
    cls, names = RECORDS[kind], SURVEY_ROWS[kind]
    return Rows(kind=kind, noun=local(cls.noun, job.settings.basis), fields=tuple(_field(job, cls, n) for n in names),
                rows=tuple(Row(id=r.id, values={n: _field(job, cls, n, r).value for n in names})
                           for r in job.tables.get(kind, {}).values()))
