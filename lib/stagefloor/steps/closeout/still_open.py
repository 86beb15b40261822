"""Open items of the closeout: a group of like things is one item, a failing reading is one by itself."""

import re
from collections.abc import Mapping, Sequence

from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO, OpenItem
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.closeout import HoldPoint, Reading
from stagefloor.job.model import Job
from stagefloor.steps.closeout.built import as_built
from stagefloor.steps.closeout.handover import ANSWER, ELECTRICIAN, Need, needs_of
from stagefloor.steps.closeout.line_tests import required_tests
from stagefloor.steps.closeout.readings import EMPTY, NO_LIMIT, NO_NAME, NO_NUMBER, ReadingJudged, judge
from stagefloor.steps.closeout.recheck import refit

NAMED_AT_MOST = 6  # names listed in one sentence; the rest is counted
BLOCKS = {
    "work starts": "raceways in, strings proved",
    "opening the floor": "raceways in, strings proved",
    "pour": "raceways in, strings proved",
    "deck": "raceways in, strings proved",
    "finish": "floor finish",
    "breaker on": "first event",
    "first event": "first event",
}

CURES = {
    "as-built positions": "Measure each from the origin and enter across, up and height.",
    "hold points": "Enter who released it, when, on what evidence; a picture that was taken before counts.",
    "documents": "Ask who owes it; enter the date received.",
    "spares and keys": "Hand it over; enter to whom and when.",
    "training": "Hold it; enter who was there and when.",
    "warranties": "Enter what starts it by the contract, that date, and the months.",
    "punch items": "Mend it; enter the date closed.",
}


def open_items(
    job: Job, lengths: Mapping[str, float], readings: Sequence[ReadingJudged] | None = None
) -> list[OpenItem]:
    """Open items of the closeout: a group is one item, a failing reading is one by itself.

    `readings`: as they were judged already; None: they are judged here, with `lengths` in m by circuit id.
    """
    judged = judge(job, lengths) if readings is None else list(readings)
    needs = [n for n in needs_of(job, judged) if not n.done]
    items = [
        _item(
            "test-failing",
            j.line,
            j.sentence,
            f"off by {off.result.text()}" if (off := _off(j)) else "",
            "limits from the line's own length and cable",
            "Mend the line, then test again; the earlier readings stay listed.",
            MEND,
            ("reading", j.record),
            tuple(w for w in (j.working, off) if w),
        )
        for j in judged
        if j.failing
    ]
    items += [
        _item(
            "enclosure-drilled",
            *_parted(n.what, n.name),
            "",
            "an enclosure is listed unmodified",
            f"Ask {ANSWER}; list the answer as a document that names the box, with the date received.",
            STOP,
            n.record,
            question="May this enclosure stay as it is?",
        )
        for n in needs
        if n.part == "drilled enclosures"
    ]
    items += _untested(job, judged)
    items += _incomplete_readings(judged)
    items += _old_lines(needs, judged)
    items += _shifted(job)
    items += refit(job)
    items += _grouped(job, needs)
    lost = [r for r in job.all(Reading) if not r.circuit]
    if lost:
        items.append(
            _item(
                "test-without-line",
                "Tests",
                f"{_count(len(lost), 'reading')} without a line: " + _names([r.name for r in lost]) + ".",
                "",
                "this job's test records",
                "Choose the line that was tested.",
                MEND,
                ("reading", lost[0].id),
            )
        )
    return items


def _item(
    code: str,
    subject: str,
    what: str,
    amount: str,
    basis: str,
    cure: str,
    state: str,
    record: tuple[str, str] | None = None,
    workings: tuple[Working, ...] = (),
    *,
    question: str = "",
    blocks: str = "first event",
) -> OpenItem:
    # as in the other steps: no full stop, since amount and cure follow in sentences of their own
    what, cure = what.removesuffix("."), (cure[:1].lower() + cure[1:]).removesuffix(".")
    return OpenItem(
        code, "closeout", subject, what, amount, basis, cure, state, blocks, record, question, workings
    )


def _parted(sentence: str, subject: str) -> tuple[str, str]:
    """A sentence as its own subject and the rest, if it begins with a name; else under `subject`."""
    named = re.match(r"([^':]+ '[^']*') (is .+)", sentence) or re.match(r"((?:'[^']*'|[^':])+): (.+)", sentence)
    return (named[1], named[2]) if named else (subject, sentence)


def _untested(job: Job, judged: list[ReadingJudged]) -> list[OpenItem]:
    """Lines without any test, and lines with some of their tests; the licensed electrician's apart."""
    done = {(j.circuit, j.test) for j in judged}
    items = []
    for mains in (False, True):
        lines = [c for c in job.circuits() if (c.what == "mains") == mains and required_tests(c.what)]
        owed = {c.id: [t.test for t in required_tests(c.what) if (c.id, t.test) not in done] for c in lines}
        none = [c.name for c in lines if len(owed[c.id]) == len(required_tests(c.what))]
        some = [c.name for c in lines if 0 < len(owed[c.id]) < len(required_tests(c.what))]
        kind = "mains line" if mains else "line"
        who = f"Ask {ELECTRICIAN} for the record." if mains else "Test, and enter each reading."
        for code, names, words in (
            ("untested", none, "no test yet"),
            ("part-tested", some, "some of the tests, not all"),
        ):
            if names:
                verb = "has" if len(names) == 1 else "have"
                items.append(
                    _item(
                        f"{'mains' if mains else 'lines'}-{code}",
                        "Mains tests" if mains else "Line tests",
                        f"{len(names)} of {_count(len(lines), kind)} {verb} {words}: {_names(names)}.",
                        "",
                        "the tests that each kind of line needs",
                        who,
                        TO_DO,
                    )
                )
    return items


def _incomplete_readings(judged: list[ReadingJudged]) -> list[OpenItem]:
    items = []
    for outcome, code, words, cure, state in (
        (
            NO_LIMIT,
            "test-no-limit",
            "no limit to compare with",
            "Enter what is missing, or record pass or fail.",
            CHECK,
        ),
        (
            NO_NUMBER,
            "test-no-figure",
            "'pass' without the figure that was read",
            "Enter the figure: it can be compared.",
            TO_DO,
        ),
        (EMPTY, "test-empty", "neither a result nor a figure", "Enter one of them.", TO_DO),
        (
            NO_NAME,
            "test-no-name",
            "no name",
            f"Enter who made it; such a test is that of {ELECTRICIAN}.",
            TO_DO,
        ),
    ):
        found = [j for j in judged if j.outcome == outcome]
        if found:
            items.append(
                _item(
                    code,
                    "Test readings",
                    f"{_count(len(found), 'reading')} with {words}: "
                    f"{_names([f'{j.line} {j.test}' for j in found])}.",
                    "",
                    found[0].sentence,
                    cure,
                    state,
                    ("reading", found[0].record),
                )
            )
    return items


def _old_lines(needs: list[Need], judged: list[ReadingJudged]) -> list[OpenItem]:
    """Lines that were tested as new ones while the old cable that they use was never tested."""
    tested = {j.line for j in judged}
    found = [n for n in needs if n.part == "old lines tested first" and n.name in tested]
    if not found:
        return []
    return [
        _item(
            "old-line-not-first",
            "Old lines reused",
            f"{_count(len(found), 'line')} tested like new, on old cable that is not known to be sound: "
            + _names([n.name for n in found]) + ".",
            "",
            "an old line is tested before it is reused, by the limits of a new one",
            "Enter the outcome of its own test at the old outlet in the job sheet.",
            CHECK,
            found[0].record,
        )
    ]


def _shifted(job: Job) -> list[OpenItem]:
    all_built = as_built(job)
    found = [d for d in all_built if d.beyond]
    if not found:
        return []
    return [
        _item(
            "built-elsewhere",
            "As-built positions",
            f"{len(found)} of {len(all_built)} {'is' if len(found) == 1 else 'are'} not where planned: "
            + " ".join(d.sentence for d in found[:NAMED_AT_MOST]),
            "",
            "tolerance of the shop (common practice, no source)",
            "Check reach, joists and edge at the new place, and tell who planned with the old one; "
            "a cut member is for the engineer.",
            CHECK,
            ("box", found[0].box),
            tuple(d.working for d in found if d.working),
        )
    ]


def _grouped(job: Job, needs: list[Need]) -> list[OpenItem]:
    """One item a group: as-built positions, documents, punch items, hold points by the date they block."""
    groups: dict[tuple[str, str], list[Need]] = {}
    when = {p.id: BLOCKS.get(p.when, "first event") for p in job.all(HoldPoint)}
    not_begun = [n for n in needs if n.record is None and n.part in ("spares and keys", "training", "warranties")]
    for n in needs:
        if n.part in CURES and n not in not_begun:
            blocks = (
                when.get(n.record[1], "first event")
                if n.part == "hold points" and n.record
                else "first event"
            )
            groups.setdefault((n.part, blocks), []).append(n)
    items = []
    if not_begun:
        items.append(
            _item(
                "handover-not-begun",
                "Handover",
                "nothing is entered yet for " + ", ".join(n.part for n in not_begun) + ".",
                "",
                "this job's closeout records",
                "Enter what is owed, and by whom; what is there is counted from the entries.",
                TO_DO,
            )
        )
    for (part, blocks), found in groups.items():
        words, state = {
            "as-built positions": ("as-built position", "missing"),
            "hold points": ("hold point", "not released"),
            "documents": ("document", "not received"),
            "spares and keys": ("spare or key", "not handed over"),
            "training": ("training", "not held"),
            "warranties": ("warranty", "without its dates"),
            "punch items": ("punch item", "open"),
        }[part]
        owed = _names(list(dict.fromkeys(n.who for n in found)))
        subject, what = (
            _parted(found[0].what, part.capitalize())
            if len(found) == 1
            else (part.capitalize(), f"{len(found)} {state}, owed by {owed}: " + _names([n.name for n in found]))
        )
        items.append(
            _item(
                f"{words.replace(' ', '-')}-open",
                subject,
                what,
                "",
                "this job's closeout records",
                CURES[part],
                TO_DO,
                found[0].record,
                blocks=blocks,
            )
        )
    return items


def _off(judged: ReadingJudged) -> Working | None:
    """How far a reading lies outside its limits."""
    if judged.measured is None:
        return None
    end = judged.high if judged.high is not None and judged.measured > judged.high else judged.low
    if end is None:
        return None
    return Working(f"How far off, line {judged.line}, {judged.test}", "d = |R - E|",
                   (Value("R", "reading", judged.measured, judged.unit), Value("E", "nearer limit", end, judged.unit)),
                   Value("d", "off by", abs(judged.measured - end), judged.unit, 3),
                   (Basis("limits from the line's own length and cable", JOB),))


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _names(names: list[str]) -> str:
    rest = len(names) - NAMED_AT_MOST
    return "; ".join(names[:NAMED_AT_MOST]) + (f" and {rest} more" if rest > 0 else "")
