"""The label plan: what stands on each face and on both ends of each cable, by a rule for each kind.

The user's number stands on the face, the cable's id on the cable. Knows no money.
"""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from stagefloor.core.units import length_text
from stagefloor.core.words import PAPERS, paper_of
from stagefloor.drawings.labels import LabelLayout, LabelMark, fits
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Cable, Circuit
from stagefloor.job.lists import LabelRule, LabelSheet
from stagefloor.job.model import Job
from stagefloor.reference.connections import connections
from stagefloor.steps.cables import Line
from stagefloor.steps.pull_sheets import sheet_cables

TOKEN = re.compile(r"\[(box|n{1,4})\]")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
TOLERANCE = 1e-6


@dataclass(frozen=True)
class Label:
    """One printed label. `use`: 'cables' or 'faces'; `end`: where it sticks; `detail`: where the cable leads."""

    use: str
    text: str
    detail: str
    kind: str
    colour: str
    end: str

    def mark(self) -> LabelMark:
        return LabelMark(text=self.text, detail=self.detail, colour=self.colour,
                         said=f"{self.text}, {self.detail or self.kind}, at {self.end}")


def rules(job: Job) -> dict[str, LabelRule]:
    """The rule of each kind: the first one entered, else the names that the boxes step gives."""
    found = {kind: LabelRule(id=f"default {kind}", what=kind, pattern=f"[box]-{known.letter}[n]")
             for kind, known in connections().items()}
    for rule in reversed(job.all(LabelRule)):
        found[rule.what] = rule if rule.pattern.strip() else rule.model_copy(update={"pattern": found[rule.what].pattern})
    return found


def short_name(box: Box) -> str:
    """The end of a box's name, as it stands in a designator: A1 of FB-A1."""
    return box.label.rsplit("-", 1)[-1] if "-" in box.label else box.label


def pattern_of(rule: LabelRule, box: Box | None) -> "re.Pattern[str]":
    """What the labels of one box must look like; the number is the group 'n'."""
    parts, at, numbered = [], 0, False
    for token in TOKEN.finditer(rule.pattern):
        parts.append(re.escape(rule.pattern[at:token.start()]))
        word, at = token[1], token.end()
        if word == "box":
            parts.append(re.escape(short_name(box)) if box else r".+?")
        elif not numbered:
            parts.append(r"(?P<n>[1-9]\d*)" if word == "n" else rf"(?P<n>\d{{{len(word)}}})")
            numbered = True
    return re.compile("".join([*parts, re.escape(rule.pattern[at:])]) + r"\Z")


def written(rule: LabelRule, box: Box | None, number: int) -> str:
    """A label by the rule."""
    return TOKEN.sub(lambda t: (short_name(box) if box else "") if t[1] == "box" else str(number).zfill(len(t[1])),
                     rule.pattern)


def box_of(job: Job, circuit: Circuit) -> Box | None:
    """The box of a line's first opening."""
    first = next((o for i in circuit.openings if (o := job.find(Opening, i)) is not None), None)
    return job.find(Box, first.box) if first else None


def cable_labels(job: Job, lines: Sequence[Line]) -> list[Label]:
    """Two labels for each cable, new or reused, box by box: one at the box, one at the rack."""
    colour, known = {k: r.colour for k, r in rules(job).items()}, sheet_cables(job, lines, ())
    found, seen = [], set()
    for line in lines:
        if line.cable is not None and line.cable.id in seen:
            continue
        kind = line.circuit.what
        if line.cable is not None:
            seen.add(line.cable.id)
            c = known[line.cable.id]
            text, box_end, rack_end = c.label, c.box_end, c.rack_end
            more = f", {'+'.join(c.lines)}" if len(c.lines) > 1 or c.lines != (text,) else ""
        else:
            text, box_end, rack_end, more = line.circuit.label, line.box.label, line.circuit.rack or "rack", ""
        found += [Label("cables", text, f"to {rack_end}{more}", kind, colour[kind], line.box.label),
                  Label("cables", text, f"to {box_end}{more}", kind, colour[kind], "rack")]
    return found


def face_labels(job: Job) -> list[Label]:
    """One label for each opening, in use or spare, box by box in the order of bays and places."""
    colour = {k: r.colour for k, r in rules(job).items()}
    return [Label("faces", o.label, "spare" if o.state == "spare" else "", o.what, colour[o.what], box.label)
            for box in job.boxes() for o in job.openings(box.id) if o.label]


def layout_of(sheet: LabelSheet, basis: str) -> tuple[LabelLayout | None, str]:
    """The layout of a sheet in a job of a code basis, or a sentence why it can't be printed."""
    names = ("page_width", "page_height", "width", "height", "pitch_across", "pitch_down", "text_height")
    paper = dict(zip(names, PAPERS[paper_of(basis)], strict=False))
    size = {n: at for n in names if (at := q.si if (q := getattr(sheet, n)) is not None else paper.get(n, 0.0)) > 0}
    missing = [str(LabelSheet.model_fields[n].title).lower() for n in names if n not in size]
    if missing or not sheet.rows or not sheet.columns:
        return None, f"Sheet '{sheet.name}': {', '.join(missing) or 'rows and columns'} must be above zero."
    layout = LabelLayout(**size, rows=sheet.rows, columns=sheet.columns, left=sheet.left.si if sheet.left else 0.0,
                         top=sheet.top.si if sheet.top else 0.0, outline=sheet.outline,
                         print_height=min(size["height"], sheet.print_height.si) if sheet.print_height
                         and sheet.print_height.si > 0 else size["height"])
    for pitch, own, word in ((layout.pitch_across, layout.width, "across"), (layout.pitch_down, layout.height, "down")):
        if pitch < own - TOLERANCE:
            return None, (f"Sheet '{sheet.name}': labels overlap, because the pitch {word} ({length_text(pitch, 'mm')}) is "
                          f"less than the label ({length_text(own, 'mm')}).")
    across = layout.left + (layout.columns - 1) * layout.pitch_across + layout.width
    down = layout.top + (layout.rows - 1) * layout.pitch_down + layout.height
    for need, page, word in ((across, layout.page_width, "wide"), (down, layout.page_height, "high")):
        if need > page + TOLERANCE:
            return None, (f"Sheet '{sheet.name}': the labels reach to {length_text(need, 'mm')}, but the page is "
                          f"{length_text(page, 'mm')} {word}; check margins, pitch and count.")
    return layout, ""




def too_long(layout: LabelLayout, labels: Sequence[Label]) -> list[str]:
    """Texts of the labels that have to be printed smaller than the letter height entered."""
    return list(dict.fromkeys(x.text for x in labels if fits(layout, x.mark()) < 1 - TOLERANCE))


def relabelled(job: Job) -> Job:
    """The job with every planned line named by the rules entered; what is pulled or tested keeps its name.

    The cable and the opening take the new name where they carried the old one. No name is given twice.
    """
    by_kind = {r.what: rules(job)[r.what] for r in job.all(LabelRule)}
    kept = {c.label for c in job.all(Circuit) if c.what not in by_kind or c.state != "planned"}
    opening_of = {i: c for c in job.circuits() for i in c.openings}
    changed: list[Cable | Circuit | Opening] = []
    name: dict[str, str] = {}
    last: dict[tuple[str, str], int] = defaultdict(int)
    for circuit in job.circuits():
        rule = by_kind.get(circuit.what)
        if rule is None or circuit.state != "planned" or "[n" not in rule.pattern:
            continue
        box = box_of(job, circuit)
        group = (circuit.what, box.id if box and "[box]" in rule.pattern else "")
        while True:
            last[group] += 1
            label = written(rule, box, last[group])
            if label not in kept:
                break
        kept.add(label)
        name[circuit.id] = label
        if label != circuit.label:
            changed.append(circuit.model_copy(update={"label": label}))
    for cable in job.all(Cable):
        old = job.find(Circuit, cable.circuits[0]) if len(cable.circuits) == 1 else None
        if old is not None and old.id in name and cable.label in ("", old.label) and cable.label != name[old.id]:
            changed.append(cable.model_copy(update={"label": name[old.id]}))
    for opening in job.all(Opening):
        line = opening_of.get(opening.id)
        if line is not None and line.id in name and len(line.openings) == 1 and opening.label != name[line.id] \
                and opening.label in ("", line.label):
            changed.append(opening.model_copy(update={"label": name[line.id]}))
    return job.with_records(changed)


def csv_text(value: object) -> str:
    """A text for a cell of a spreadsheet that is never taken for a formula: an apostrophe goes before it."""
    text = str(value)
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA_STARTS) else text
