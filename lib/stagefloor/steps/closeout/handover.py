"""What is still missing for the handover, and from whom: found from the records, never ticked by hand."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from stagefloor.core.dates import day_of
from stagefloor.job.boxes import Box
from stagefloor.job.closeout import Document, HoldPoint, Punch, Spare, Training
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.job.subjects import pictures_of
from stagefloor.reference.tables import load
from stagefloor.steps.closeout.built import as_built
from stagefloor.steps.closeout.line_tests import required_tests
from stagefloor.steps.closeout.readings import ReadingJudged, judge
from stagefloor.steps.closeout.warranties import warranty_terms

TESTER, ELECTRICIAN, CREW, NOBODY = "the tester", "the licensed electrician", "the crew", "nobody named yet"
ANSWER = "the maker or the inspector"
# Hold points after which nobody can look any more.
COVERED = {"pour": "before the pour", "deck": "before the deck closes it", "finish": "before the finish covers it"}
PARTS = ("old lines tested first", "tests", "as-built positions", "drilled enclosures", "hold points", "documents",
         "spares and keys", "training", "warranties", "punch items")


@dataclass(frozen=True)
class Need:
    """One thing that the handover needs: whether it is there, its name, a sentence, who owes it."""

    part: str
    done: bool
    name: str
    what: str
    who: str
    record: tuple[str, str] | None = None


@dataclass(frozen=True)
class Part:
    """How many things of one part are there."""

    name: str
    done: int
    of: int


@dataclass(frozen=True)
class Completeness:
    """How much of the handover is there; `missing` in the order of the parts."""

    parts: tuple[Part, ...]
    missing: tuple[Need, ...]

    @property
    def done(self) -> int:
        return sum(p.done for p in self.parts)

    @property
    def of(self) -> int:
        return sum(p.of for p in self.parts)

    @property
    def share(self) -> float:
        """Share that is there, 0 to 1; hold points, documents and the like are asked for even if none is entered."""
        return self.done / self.of


def _who(owner: str) -> str:
    """Who owes a thing, as entered; a role that is known here has one name."""
    name = owner.strip()
    return next((r for r in (TESTER, ELECTRICIAN, CREW) if name.lower() in (r, r.removeprefix("the "))), name or NOBODY)


def default_documents() -> list[dict[str, str]]:
    """The papers that are usually due, as texts for the fields of a document; the job says who owes each."""
    return [
        {"label": f"{r.text('document')[:1].upper()}{r.text('document')[1:]}", "owner": "", "received": ""}
        for r in load("closeout_documents")
    ]


def completeness(
    job: Job, lengths: Mapping[str, float], judged: Sequence[ReadingJudged] | None = None
) -> Completeness:
    """What is there and what is missing for the handover.

    Parameters
    ----------
    lengths : circuit id -> one-way length, m
    judged : the readings as they were judged already, None: they are judged here
    """
    needs = needs_of(job, judge(job, lengths) if judged is None else judged)
    parts = tuple(
        Part(name, sum(n.done for n in needs if n.part == name), sum(n.part == name for n in needs))
        for name in PARTS
    )
    return Completeness(parts, tuple(n for n in needs if not n.done))


def needs_of(job: Job, judged: Sequence[ReadingJudged]) -> list[Need]:
    """All that the handover needs, there or not, in the order of the parts."""
    return [*_old_lines(job), *_tests(job, judged), *_boxes(job), *_hold_points(job), *_documents(job),
            *_handed_over(job), *_warranties(job), *_punch(job)]


def _old_lines(job: Job) -> list[Need]:
    """Old lines that are reused: each is tested before anything is built on it."""
    needs = []
    for circuit in job.circuits():
        old = job.find(OldOutlet, circuit.reused) if circuit.reused else None
        if old is not None:
            needs.append(Need(
                "old lines tested first", old.tested == "passed", circuit.name,
                f"Line {circuit.name} reuses the old line {old.name}, which "
                + ("failed its test: pull a new one." if old.tested == "failed" else "is not tested yet."),
                ELECTRICIAN if circuit.what == "mains" else TESTER, ("oldoutlet", old.id)))
    return needs


def _handed_over(job: Job) -> list[Need]:
    """Spare parts, tools and keys, and the people who were shown how the boxes are used and looked after."""
    spares, shown = job.all(Spare), job.all(Training)
    needs = [Need("spares and keys", bool(s.date.strip() and s.given_to.strip()), s.name,
                  f"'{s.name}' is not handed over yet." if not s.date.strip() else f"'{s.name}': to whom is not entered.",
                  _who(s.owner), ("spare", s.id)) for s in spares]
    needs += [] if spares else [Need("spares and keys", False, "Spares and keys",
                                     "No spare, tool or key is listed: enter at least the keys and how many.", NOBODY)]
    needs += [Need("training", bool(t.date.strip() and t.who.strip()), t.name,
                   f"Training '{t.name}' is not held yet." if not t.date.strip() else
                   f"Training '{t.name}': who was there is not entered.",
                   _who(t.owner), ("training", t.id)) for t in shown]
    return needs + ([] if shown else [Need("training", False, "Training", "No training is entered: users, stage crew and "
                                           "cleaners are shown the boxes.", NOBODY)])


def _warranties(job: Job) -> list[Need]:
    terms = warranty_terms(job)
    return [Need("warranties", t.last is not None, t.label, t.sentence, NOBODY, ("warranty", t.record)) for t in terms] or [
        Need("warranties", False, "Warranties", "No warranty is entered: what starts it by the contract, and how long it "
             "runs.", NOBODY)]


def _tests(job: Job, judged: Sequence[ReadingJudged]) -> list[Need]:
    last = {(j.circuit, j.test): j for j in judged}
    needs = []
    for circuit in job.circuits():
        who = ELECTRICIAN if circuit.what == "mains" else TESTER
        for required in required_tests(circuit.what):
            found = last.get((circuit.id, required.test))
            what = found.sentence if found else f"Line {circuit.name}: no {required.test} yet."
            needs.append(
                Need(
                    "tests",
                    bool(found and found.good),
                    circuit.name,
                    what,
                    who,
                    ("reading", found.record) if found else ("circuit", circuit.id),
                )
            )
    return needs


def _boxes(job: Job) -> list[Need]:
    built = as_built(job)
    places = [
        Need("as-built positions", d.measured, d.title, d.sentence, CREW, ("box", d.box)) for d in built
    ]
    drilled = [
        Need(
            "drilled enclosures",
            answered(job, job.get(Box, d.box)),
            d.title,
            f"{d.title}: its enclosure was drilled or trimmed, and no answer is on file.",
            ANSWER,
            ("box", d.box),
        )
        for d in built
        if d.modified
    ]
    return [*places, *drilled]


def answered(job: Job, box: Box) -> bool:
    """Whether a received document names this box as a whole word: the answer on its drilled enclosure."""
    if not box.label.strip():
        return False
    named = re.compile(rf"(?<![\w-]){re.escape(box.label.strip())}(?![\w-])", re.IGNORECASE)
    return any(d.received.strip() and named.search(d.label) for d in job.all(Document))


def _hold_points(job: Job) -> list[Need]:
    points = job.all(HoldPoint)
    if not points:
        return [
            Need(
                "hold points",
                False,
                "Hold points",
                "No hold point is entered: enter at least who releases the breaker and the floor finish.",
                NOBODY,
            )
        ]
    return [
        Need(
            "hold points",
            not (lacking := _lacking(job, p)),
            p.name,
            f"Hold point '{p.name}', before {p.when}: " + (lacking or "released") + ".",
            _who(p.by),
            ("holdpoint", p.id),
        )
        for p in points
    ]


def _lacking(job: Job, p: HoldPoint) -> str:
    """What a hold point lacks: a name, a date, what was seen.

    A measure, a report number, or a picture that is not dated after the release will do for the last. Pictures before
    concrete or floor covers a box: common practice, no source.
    """
    pictures = pictures_of(job, HoldPoint.kind, p.id)
    noted = bool(p.evidence.strip() or p.photo.strip())
    if not p.by.strip():
        covered = p.when in COVERED and not noted and not pictures
        return "not released yet" + (f", and no picture of it {COVERED[p.when]}" if covered else "")
    if not p.date.strip():
        return f"released by {p.by} without a date"
    released = day_of(p.date)
    late = [x for x in pictures if released and (taken := day_of(x.date)) and taken > released]
    if noted or len(late) < len(pictures):
        return ""
    if late:
        return (f"released by {p.by} on {p.date}, and every picture of it is dated later, the first {late[0].date}: "
                "evidence of what was seen before is missing")
    return f"released by {p.by} without evidence of what was seen" + (
        f", such as a picture taken {COVERED[p.when]}" if p.when in COVERED else "")


def _documents(job: Job) -> list[Need]:
    papers = job.all(Document)
    if not papers:
        return [
            Need("documents", False, "Documents", "No document is listed: start from the usual list.", NOBODY)
        ]
    return [
        Need(
            "documents",
            bool(d.received.strip()),
            d.name,
            f"Document '{d.name}' is not received yet.",
            _who(d.owner),
            ("document", d.id),
        )
        for d in papers
    ]


def overdue(job: Job, today: date) -> list[Punch]:
    """Punch items that are open past their date, the longest first; a due date is read if typed as 2026-05-31."""
    late = [(due, p) for p in job.all(Punch) if not p.closed.strip() and (due := day_of(p.due)) and due < today]
    return [p for _, p in sorted(late, key=lambda x: x[0])]


def _punch(job: Job) -> list[Need]:
    return [
        Need(
            "punch items",
            bool(p.closed.strip()),
            p.name,
            f"Punch item '{p.name}' is open" + (f", due {p.due}." if p.due.strip() else "."),
            _who(p.owner),
            ("punch", p.id),
        )
        for p in job.all(Punch)
    ]
