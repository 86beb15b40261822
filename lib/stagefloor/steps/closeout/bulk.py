"""Readings in bulk: a line a row, a test a column. What is typed is a new reading; what was there stays as its history."""

from collections.abc import Mapping, Sequence

from stagefloor.core.problems import Problem
from stagefloor.core.units import number_text
from stagefloor.job.cables import Circuit
from stagefloor.job.closeout import Reading
from stagefloor.job.edit import add
from stagefloor.job.inventory import KINDS
from stagefloor.job.model import Job
from stagefloor.steps.closeout.line_tests import possible_tests
from stagefloor.steps.closeout.reading_text import figure
from stagefloor.steps.closeout.readings import ReadingJudged

About = Mapping[str, str]


def kinds_with_lines(job: Job) -> list[str]:
    """The kinds of which this job has lines."""
    there = {c.what for c in job.circuits()}
    return [k for k in KINDS if k in there and possible_tests(k)]


def cells(judged: Sequence[ReadingJudged]) -> tuple[dict[tuple[str, str], str], dict[tuple[str, str], str]]:
    """(circuit, test) -> what was read last as text, and -> what is wrong with it in a few words, if anything is."""
    text: dict[tuple[str, str], str] = {}
    wrong: dict[tuple[str, str], str] = {}
    for j in judged:
        key = (j.circuit, j.test)
        text[key] = number_text(j.measured) if j.measured is not None else j.word
        if j.failing:
            expected = "" if j.expected is None else f" ({number_text(j.expected, 3)} {j.unit} expected)"
            wrong[key] = j.outcome[:1].upper() + j.outcome[1:] + expected + "."
    return text, wrong


def entered(job: Job, circuit_id: str, test: str, text: str, about: About) -> Job:
    """The job with one more reading. A Problem says what can't be read, or that an emptied cell deletes nothing.

    `about`: instrument, by and date of what is typed now.
    """
    circuit = job.get(Circuit, circuit_id)
    if not text.strip():
        raise Problem("A reading is kept once it is made; undo takes back the last one, the list below deletes others.")
    value, result = figure(text.strip(), "", test, circuit.what)
    fields: dict[str, object] = {"circuit": circuit_id, "test": test, "result": result, **about}
    return add(job, Reading.kind, [fields | ({} if value is None else {"value": value})])[0]
