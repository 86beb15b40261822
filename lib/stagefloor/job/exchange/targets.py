"""Which record an entry of a phone sheet means, and which fields of it; everything else is refused in a sentence."""

from collections.abc import Mapping
from dataclasses import dataclass

from stagefloor.core.problems import Problem
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Cable, CableType, Circuit
from stagefloor.job.closeout import Punch
from stagefloor.job.exchange.sheet_file import Entry, shown
from stagefloor.job.exchange.survey_fields import AS_BUILT, PUNCH, READING, SURVEY_LINE, SURVEY_ROWS, survey_settings
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.reading_text import figure_in
from stagefloor.job.sheet import Settings
from stagefloor.job.sheets import SITE, SURVEY
from stagefloor.reference.tables import load


@dataclass(frozen=True)
class Target:
    """The record of an entry (`to` empty: a new one), the values to store by field, the words that name it.

    `fixed`: fields that are set when the record is made and never changed by a sheet. `typed`: what the phone's texts mean
    for these fields; `left_out`: why a field of it is not taken.
    """

    kind: str
    to: str
    fields: Mapping[str, str]
    subject: str
    typed: Mapping[str, str]
    fixed: frozenset[str] = frozenset()
    left_out: tuple[str, ...] = ()


def target_of(job: Job, sheet: str, entry: Entry, again: bool = False) -> Target:
    """The target of an entry of a survey or a site sheet; a Problem says why there is none.

    `again`: it was taken in before, and may be emptied now.
    """
    if sheet == SURVEY:
        if entry.on == "survey":
            return _row(job, entry, SURVEY_LINE, "topic", again, must=("topic",))
        if entry.on == "settings":
            return _settings(entry)
        if entry.on in SURVEY_ROWS:
            return _row(job, entry, SURVEY_ROWS[entry.on], SURVEY_ROWS[entry.on][0], again)
    if sheet == SITE:
        if entry.on == "reading":
            return _reading(job, entry, again)
        if entry.on == "asbuilt":
            return _as_built(job, entry, again)
        if entry.on == "length":
            return _length(job, entry)
        if entry.on == "punch":
            return _punch(job, entry)
    raise Problem(f"a {sheet} sheet has no entry of the kind '{shown(entry.on)}'")


def _only(entry: Entry, allowed: tuple[str, ...] | frozenset[str]) -> None:
    strange = [name for name in entry.fields if name not in allowed]
    if strange:
        raise Problem(f"the field '{shown(strange[0])}' can't be set from a sheet")
    if not entry.fields:
        raise Problem("nothing was entered in it")


def _row(job: Job, entry: Entry, allowed: tuple[str, ...], named_by: str, again: bool,
         must: tuple[str, ...] = ()) -> Target:
    _only(entry, allowed)
    cls = RECORDS[entry.on]
    record = job.find(cls, entry.to) if entry.to else None
    name = record.name if record is not None else entry.fields.get(named_by, "")
    if not entry.to and any(not entry.fields.get(n) for n in must):
        raise Problem(f"the new {cls.noun} has no name")
    if not entry.to and not again and not any(entry.fields.values()):
        raise Problem("nothing was entered in it")
    return Target(entry.on, entry.to, entry.fields, f"{cls.noun.capitalize()} {shown(name, 60)}".strip(), entry.fields)


def _settings(entry: Entry) -> Target:
    _only(entry, survey_settings())
    titles = [Settings.model_fields[n].title or n for n in entry.fields]
    return Target("settings", "job", entry.fields, f"Job sheet, {', '.join(titles).lower()}", entry.fields)


def _circuit(job: Job, word: str) -> Circuit:
    circuit = job.find(Circuit, word)
    if circuit is None or circuit.state == "retired":
        raise Problem(f"the line '{shown(word)}' is not in the job any more")
    return circuit


def _reading(job: Job, entry: Entry, again: bool) -> Target:
    _only(entry, READING)
    circuit = _circuit(job, entry.fields.get("circuit", ""))
    test = entry.fields.get("test", "")
    units = {r.text("test"): r.text("reading_in") for r in load("line_tests") if r.text("kind") == circuit.what}
    if test not in units:
        raise Problem(f"'{shown(test)}' is no test of a {circuit.what} line")
    fields, typed, result = dict(entry.fields), dict(entry.fields), entry.fields.get("result", "")
    left_out: tuple[str, ...] = ()
    if text := fields.get("value", ""):
        try:
            fields["value"], said = _value(text, test, units[test])
        except Problem as problem:
            if not result:
                raise
            left_out = (problem.sentence,)  # what was found does not go with the figure
            del fields["value"], typed["value"]
        else:
            if said:  # it says more than a plain pass; a fail stays one
                fields["result"] = typed["result"] = result if result == "fail" else said
                typed["value"] = ""
    if not again and not fields.get("value") and not fields.get("result"):
        raise Problem("neither a result nor a figure was entered")
    return Target("reading", "", fields, f"Line {circuit.name}, {test}", typed, frozenset({"circuit", "test"}), left_out)


def _value(text: str, test: str, unit: str) -> tuple[str, str]:
    """A reading as typed, in the unit of its test, as the record keeps it; or nothing and the result that it means."""
    if not unit:
        raise Problem(f"'{shown(text)}': this test has no figure, only pass or fail")
    value, said = figure_in(text, "", test, unit)
    return f"{value:.12g}" if value is not None else "", said


def _as_built(job: Job, entry: Entry, again: bool) -> Target:
    _only(entry, AS_BUILT)
    box = job.find(Box, entry.fields.get("box", ""))
    if box is None or box.state == "retired":
        raise Problem(f"the floor box '{shown(entry.fields.get('box', ''))}' is not in the job any more")
    entered = [n for n, v in entry.fields.items() if v and n not in ("box", "by", "date") and (n, v) != ("modified", "no")]
    if not entered and not entry.to and not again:
        raise Problem("nothing was entered in it")
    return Target("asbuilt", entry.to, entry.fields, f"As built, {box.title}", entry.fields, frozenset({"box"}))


def _length(job: Job, entry: Entry) -> Target:
    """The measured length of a line belongs to its cable; a line without one gets a cable of its own."""
    _only(entry, ("circuit", "typed_length"))
    circuit = _circuit(job, entry.fields.get("circuit", ""))
    text = entry.fields.get("typed_length", "")
    cable = next((c for c in job.all(Cable) if circuit.id in c.circuits), None)
    if cable is not None:
        others = len(cable.circuits) - 1
        subject = f"Length of line {circuit.name}" + (f", and of {others} more in cable {cable.name}" if others else "")
        return Target("cable", cable.id, {"typed_length": text, "circuit": ""}, subject, entry.fields,
                      frozenset({"circuit"}))
    if not text:
        raise Problem("nothing was entered in it")
    kind = next((t.id for t in job.all(CableType) if t.what == circuit.what), "")
    fields = {"label": circuit.label, "circuits": circuit.id, "type": kind, "typed_length": text}
    return Target("cable", "", fields, f"Length of line {circuit.name}", entry.fields, frozenset({"circuit"}))


def _punch(job: Job, entry: Entry) -> Target:
    _only(entry, PUNCH)
    if not entry.fields.get("label"):
        raise Problem("nothing was entered in it")
    return Target(Punch.kind, "", {**entry.fields, "audience": "crew"}, f"Punch item {shown(entry.fields['label'], 60)}",
                  entry.fields)


