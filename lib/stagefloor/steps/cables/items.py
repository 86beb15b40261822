"""What is wrong or unknown about raceways, cables and labels."""

from collections import Counter

from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO, OpenItem
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import Circuit, Segment
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.steps.cables.building import building_items
from stagefloor.steps.cables.bundles import bundle_items
from stagefloor.steps.cables.cures import cure
from stagefloor.steps.cables.dates import PANELS, STRINGS
from stagefloor.steps.cables.jams import jam_items
from stagefloor.steps.cables.lines import Line, lines
from stagefloor.steps.cables.pulls import Pull, pull_items, pulls
from stagefloor.steps.cables.raceways import Raceway, raceways
from stagefloor.steps.cables.sizes import size_items
from stagefloor.steps.cables.surroundings import beside_items, trunking_items, under_items


def _label_items(job: Job) -> list[OpenItem]:
    seen: dict[str, list[Circuit]] = {}
    for c in job.circuits():
        seen.setdefault(c.label.strip().lower(), []).append(c)
    openings, boxes = {o.id: o for o in job.all(Opening)}, {b.id: b for b in job.all(Box)}
    items = []
    for group in seen.values():
        if len(group) > 1 and group[0].label.strip():
            where = [boxes[openings[c.openings[0]].box].label for c in group
                     if c.openings and c.openings[0] in openings and openings[c.openings[0]].box in boxes]
            items.append(OpenItem("label-twice", "cables", f"Line {group[0].label}",
                                  f"{len(group)} lines carry this designator ({', '.join(where)})",
                                  f"{len(group)} of the same", "labels are unique and stand at both ends",
                                  "give one of them another label before labels are printed", MEND, PANELS,
                                  ("circuit", group[0].id)))
        if not group[0].label.strip():
            items.append(OpenItem("label-missing", "cables", f"{len(group)} lines", "have no designator",
                                  f"{len(group)} without", "labels stand at both ends", "label them", TO_DO, PANELS))
    return items


def open_items(job: Job, known: list[Line] | None = None, found: list[Raceway] | None = None,
               drawn: list[Pull] | None = None) -> list[OpenItem]:
    """What is wrong or unknown about raceways, cables and labels."""
    all_lines = lines(job) if known is None else known
    in_raceways = raceways(job, all_lines) if found is None else found
    items = [*size_items(job, in_raceways), *jam_items(in_raceways),
             *pull_items(job, pulls(job, all_lines) if drawn is None else drawn),
             *building_items(job, all_lines, in_raceways), *bundle_items(job, all_lines), *under_items(job, all_lines),
             *beside_items(job), *trunking_items(job), *_label_items(job)]
    for s in job.all(Segment):
        if s.existing and s.string == "unknown":
            items.append(OpenItem("string-unknown", "cables", f"Raceway {s.name}",
                                  "is there already, and nobody knows whether it has a pull string",
                                  f"{s.used_percent} % filled, string not known" if s.used_percent
                                  else "string not known",
                                  "a raceway counts as usable when a string or rod went through",
                                  "prove it with a string or rod before anything relies on it", STOP, STRINGS,
                                  ("segment", s.id), f"Is {s.name} open from end to end, with a string in it?",
                                  (_found_fill(s),) if s.used_percent else ()))
    # once, however many classes of signal have no way for one and the same reason
    for problem in dict.fromkeys(line.way.problem for line in all_lines if line.way.problem and not line.typed):
        items.append(OpenItem("no-way", "cables", "Ways", problem, "length not known" if "neither" in problem
                              else "rough length", "the raceways entered", "enter the rack and the raceways, or the way "
                              "to the rack", TO_DO, STRINGS, question="Which way can cables take to the rack, and how "
                              "long is it?"))
    waiting = [o for o in job.all(OldOutlet) if o.reuse and o.what != "mains" and o.tested == "not yet"]
    if waiting:
        items.append(OpenItem("old-line-untested", "cables", "Old lines", "shall be reused and are not tested yet: "
                              + ", ".join(o.name for o in waiting), f"{len(waiting)} of "
                              f"{sum(o.reuse for o in job.all(OldOutlet))}", "old lines are tested before they are "
                              "reused", "test them first; a line that fails is replaced", CHECK, STRINGS))
    untyped = Counter(line.circuit.what for line in all_lines if line.cable and line.type is None)
    for kind, count in untyped.items():
        items.append(OpenItem("no-cable-type", "cables", f"{kind.capitalize()} lines", "have no cable type",
                              f"{count} lines", "your cable types", f"add a cable type for {kind}", TO_DO, STRINGS))
    for line in all_lines:
        if line.check is not None and line.check.holds is False:
            items.append(OpenItem("line-limit", "cables", f"Line {line.circuit.label}",
                                  f"{line.check.name.lower()} at its own length misses the limit",
                                  line.check.result.text() + (f" of {line.check.limit.text()}" if line.check.limit
                                                              else ""),
                                  "; ".join(b.line() for b in line.check.basis[:2]),
                                  cure(line, job.settings.units) or "another medium, or a shorter way", MEND, STRINGS,
                                  ("circuit", line.circuit.id), workings=(line.check,)))
    return items


def _found_fill(segment: Segment) -> Working:
    """The fill that was found on site, as entered."""
    found = Value("f", "filled, as found", segment.used_percent, "%")
    return Working(f"Fill of {segment.name}", "f as entered", (found,), found, (Basis("found on site", JOB),))
