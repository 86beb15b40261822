"""Checks of the label plan: duplicates, gaps, names off their pattern or too long, faces without a number.

The same designator on two lines is found with the lines themselves, in `steps.cables`.
"""

from collections import defaultdict
from collections.abc import Sequence

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Cable, Circuit
from stagefloor.job.inventory import KINDS, kind_name
from stagefloor.job.lists import LabelRule
from stagefloor.job.model import Job
from stagefloor.steps.cables import Line
from stagefloor.steps.labels import box_of, pattern_of, rules, written

PANELS = "panels ordered"
BASIS = "this job's label plan"


def open_items(job: Job, lines: Sequence[Line]) -> list[OpenItem]:
    """What is wrong with the label plan."""
    return [*_twice(job, lines), *_patterns(job), *_faces(job)]


def _item(code: str, subject: str, what: str, amount: str, cure: str, state: str,
          record: tuple[str, str] | None = None) -> OpenItem:
    return OpenItem(code, "cables", subject, what, amount, BASIS, cure, state, PANELS, record)


def _twice(job: Job, lines: Sequence[Line]) -> list[OpenItem]:
    """Cable ids and face numbers that stand on two different ones."""
    items = []
    cables: dict[str, set[str]] = defaultdict(set)
    for line in lines:
        if line.cable is not None and line.cable.label.strip():
            cables[line.cable.label.strip().lower()].add(line.cable.id)
    for ids in cables.values():
        if len(ids) > 1:
            first = job.get(Cable, min(ids, key=list(job.tables["cable"]).index))
            items.append(_item("label-cable-twice", f"Cable {first.label}", "this id stands on more than one cable",
                               f"{len(ids)} cables", "give each cable an id of its own before labels are printed", MEND,
                               ("cable", first.id)))
    faces: dict[str, list[Opening]] = defaultdict(list)
    for box in job.boxes():
        for o in job.openings(box.id):
            if o.label.strip():
                faces[o.label.strip().lower()].append(o)
    for held in faces.values():
        if len(held) > 1:
            where = ", ".join(b.label for o in held if (b := job.find(Box, o.box)) is not None)
            items.append(_item("label-face-twice", f"Opening {held[0].label}",
                               f"this number stands on more than one opening ({where})", f"{len(held)} openings",
                               "give each opening a number of its own", MEND,
                               ("opening", held[0].id)))
    return items


def _patterns(job: Job) -> list[OpenItem]:
    """Lines that do not follow the pattern of their kind, numbers left out, names too long to read at a glance."""
    known, items = rules(job), []
    for kind in KINDS:
        held = [c for c in job.circuits() if c.what == kind and c.label.strip()]
        if kind == "mains" or not held:
            continue  # mains is named by the licensed electrician
        rule, subject = known[kind], f"{kind_name(kind).capitalize()} lines"
        if "[n" not in rule.pattern:
            items.append(_item("label-no-number", subject, "get the same name, because the pattern "
                               f"'{rule.pattern[:30]}' has no number", "0 numbers", "add [n] to it", MEND,
                               ("labelrule", rule.id)))
            continue
        off, gaps = _against(job, rule)
        if off:
            items.append(_item("label-off-pattern", subject, f"are not named by the pattern '{rule.pattern}': {_some(off)}",
                               f"{len(off)} of {len(held)}", "name them by the pattern, or change it", CHECK))
        if gaps:
            items.append(_item("label-gap", subject, f"leave numbers out: {_some(gaps)}", f"{len(gaps)} left out",
                               "find out whether a line is missing or only a number", CHECK))
        long = [c.label for c in held if rule.longest and len(c.label) > rule.longest]
        if long:
            items.append(_item("label-long", subject, f"have names longer than {rule.longest} characters: {_some(long)}",
                               f"{len(long)} of {len(held)}", "a shorter pattern", CHECK))
    return items


def _against(job: Job, rule: LabelRule) -> tuple[list[str], list[str]]:
    """Labels off the pattern, and labels of the pattern that no line has or had."""
    off: list[str] = []
    numbers: dict[str, set[int]] = defaultdict(set)
    boxes: dict[str, Box] = {}
    for c in [c for c in job.all(Circuit) if c.what == rule.what and c.label.strip()]:
        box = box_of(job, c)
        found = pattern_of(rule, box).match(c.label)
        if found is None and c.state != "retired":
            off.append(c.label)
        elif found is not None:
            group = box.id if box and "[box]" in rule.pattern else ""
            if box:
                boxes[group] = box
            numbers[group].add(int(found["n"]))
    return off, [written(rule, boxes.get(group), n) for group, there in numbers.items()
                 for n in sorted(set(range(1, max(there))) - there)]


def _faces(job: Job) -> list[OpenItem]:
    bare = [f"{b.label} {o.what}" for b in job.boxes() for o in job.openings(b.id) if not o.label.strip()]
    return [_item("label-face-missing", "Openings", f"have no number on the face: {_some(bare)}", f"{len(bare)} without",
                  "give each opening its number", TO_DO)] if bare else []


def _some(words: Sequence[str]) -> str:
    return ", ".join(words[:6]) + (f" and {len(words) - 6} more" if len(words) > 6 else "")
