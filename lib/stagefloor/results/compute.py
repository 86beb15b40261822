"""Every result of one job, each step when it is first asked for. A list of calls: it decides nothing."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from stagefloor.core.open_items import TO_DO, OpenItem, ordered
from stagefloor.core.units import long_length_text
from stagefloor.core.workings import Working
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import Survey
from stagefloor.reference.connections import connections
from stagefloor.steps import cables, closeout, inventory, labour
from stagefloor.steps.boxes import fit, schedule
from stagefloor.steps.boxes.fit_outline import POSITIONS
from stagefloor.steps.boxes.schedule import Contents, Layout
from stagefloor.steps.cables import Line, Raceway
from stagefloor.steps.closeout import Completeness, ReadingJudged
from stagefloor.steps.inventory import Peak
from stagefloor.steps.labour import Estimate

STEPS = ("job sheet", "inventory", "boxes", "cables", "labour", "closeout")


@dataclass(frozen=True)
class BoxResult:
    """One box: what it must hold, and in what it fits; None if no model takes it."""

    box: Box
    contents: Contents
    layout: Layout | None


@dataclass(frozen=True)
class Order:
    """One line of an order list."""

    item: str
    quantity: str
    note: str = ""


class Results:
    """Everything that is computed for one job, each step when it is first asked for, and once.

    Parameters
    ----------
    job : the job; faults : sentences about values of its file that could not be read
    """

    def __init__(self, job: Job, faults: Sequence[str] = ()) -> None:
        self.job = job
        self.faults = tuple(faults)

    @cached_property
    def peaks(self) -> dict[str, Peak]:
        """The need of each kind over the whole stage."""
        return inventory.peaks(self.job)

    @cached_property
    def event_totals(self) -> dict[str, dict[str, int]]:
        """Event id -> kind -> how many are connected in it."""
        return inventory.event_totals(self.job)

    @cached_property
    def boxes(self) -> tuple[BoxResult, ...]:
        """What each box must hold, and in what it fits."""
        return tuple(BoxResult(b, schedule.contents(self.job, schedule.points_of(self.job, b)),
                               schedule.layout(self.job, b)) for b in self.job.boxes())

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Every signal line with its way and length."""
        return tuple(cables.lines(self.job))

    @cached_property
    def raceways(self) -> tuple[Raceway, ...]:
        """Every raceway with what is in it."""
        return tuple(cables.raceways(self.job, list(self.lines)))

    @cached_property
    def quantities(self) -> dict[str, float]:
        """The takeoff."""
        return cables.takeoff(self.job, list(self.lines), list(self.raceways))

    @cached_property
    def estimate(self) -> Estimate:
        """Hours and money."""
        return labour.estimate(self.job, self.quantities)

    @cached_property
    def readings(self) -> tuple[ReadingJudged, ...]:
        """The last reading of each test, judged."""
        return tuple(closeout.judge(self.job, self.lengths()))

    @cached_property
    def closeout(self) -> Completeness:
        """How far the handover is."""
        return closeout.completeness(self.job, self.lengths())

    def items_of(self, step: str) -> tuple[OpenItem, ...]:
        """The open items of one step, the ones that matter most first, without working out the other steps."""
        if step not in self._items:
            self._items[step] = tuple(ordered(self._found(step)))
        return self._items[step]

    @cached_property
    def _items(self) -> dict[str, tuple[OpenItem, ...]]:
        return {}

    def _found(self, step: str) -> list[OpenItem]:
        job = self.job
        if step == "job sheet":
            return [*_file_items(self.faults), *sheet_items(job)]
        if step == "inventory":
            return inventory.open_items(job)
        if step == "boxes":
            return [*schedule.open_items(job), *fit.open_items(job)]
        if step == "cables":
            return cables.open_items(job, list(self.lines), list(self.raceways))
        if step == "labour":
            return labour.open_items(job, self.quantities, self.estimate)
        # the papers of the end are no business of a job that has no line yet
        return closeout.open_items(job, self.lengths()) if job.circuits() else []

    @cached_property
    def items(self) -> tuple[OpenItem, ...]:
        """All open items of the job."""
        return tuple(ordered([i for step in STEPS for i in self.items_of(step)]))

    def lengths(self) -> dict[str, float]:
        """Circuit id -> metres."""
        return {line.circuit.id: line.metres for line in self.lines}

    def order_list(self, box_id: str = "") -> list[Order]:
        """What to buy, for one box or for the whole job."""
        return order_list(self, box_id)

    def workings(self) -> list[Working]:
        """Every working behind the numbers that are shown to the office, each once; holds costs and hours."""
        names = {e.id: e.name for e in self.job.all(Event)}
        found = [p.working(names, "the whole stage") for p in self.peaks.values()]
        for b in self.boxes:
            if b.layout is not None:
                found.append(b.layout.working(b.box.title))
            found += [p.working(names, b.box.title) for p in b.contents.need.values()]
        found += [line.way.working(line.circuit.label, self.job.settings.units) for line in self.lines]
        found += [line.check for line in self.lines if line.check is not None]
        found += [r.fill for r in self.raceways if r.fill is not None]
        if self.lines:
            found.append(cables.total_working(cables.cable_totals(list(self.lines)), self.job.settings.units))
        e = self.estimate
        found += [e.likely_hours, e.cautious_hours, *e.build_up, *e.totals]
        found += [t.working for t in e.tasks] + [m.working for m in e.materials]
        found += [c.working for c in e.labour] + [r.working for r in e.risks]
        found += [j.working for j in self.readings if j.working is not None]
        found += [w for item in self.items for w in item.workings]
        return list({id(w): w for w in found}.values())  # equal workings of two raceways are two


def compute(job: Job, faults: Sequence[str] = ()) -> Results:
    """The results of a job; `faults` are sentences about values of the file that could not be read."""
    return Results(job, faults)


def order_list(results: Results, box_id: str = "") -> list[Order]:
    """Boxes, connectors, blank plates, mains outlets and cable, counted from the opening schedule."""
    models: Counter[str] = Counter()
    parts: Counter[str] = Counter()
    blanks = 0
    job = results.job
    for b in results.boxes:
        if (box_id and b.box.id != box_id) or b.layout is None:
            continue
        models[b.layout.model.label] += 1
        blanks += b.layout.spare_places
        parts.update(o.what for o in job.openings(b.box.id))
    orders = [Order(label, str(n), "with barrier where mains is in it") for label, n in models.items()]
    for kind, known in connections().items():
        if parts[kind]:
            note = "by the licensed electrician" if kind == "mains" else f"panel part: {known.panel_gender}"
            orders.append(Order(f"{known.connector}, {kind}", str(parts[kind]), note))
    if blanks:
        orders.append(Order("Blank plate, D-size", str(blanks), "for spare places: never left as open holes"))
    metres: dict[str, float] = defaultdict(float)
    rough = {line.type.label for line in results.lines if line.type and line.way.rough}
    for line in cables.one_a_cable(results.lines):
        if line.type and (not box_id or line.box.id == box_id):
            metres[line.type.label] += line.metres
    orders += [Order(label, long_length_text(m, job.settings.units) if m else "length not known",
                     "rough: no raceway is drawn yet" if label in rough else "routed, without waste and reel ends")
               for label, m in metres.items()]
    reused = sum(1 for line in results.lines if line.circuit.reused and (not box_id or line.box.id == box_id))
    if reused:
        orders.append(Order("Old lines reused", str(reused), "after test; no new cable"))
    return orders


def open_items(job: Job, faults: Sequence[str] = ()) -> list[OpenItem]:
    """All open items of a job, the ones that matter most first."""
    return list(compute(job, faults).items)


def _file_items(faults: Sequence[str]) -> list[OpenItem]:
    return [OpenItem("file-value", "job sheet", "Job file", sentence, "1 value", "the job file as read",
                     "type the value again where it belongs", TO_DO) for sentence in faults]


def sheet_items(job: Job) -> list[OpenItem]:
    """What was not looked at, as one item, and the two places every length depends on."""
    items = []
    unseen = [s.topic for s in job.all(Survey) if s.looked == "not looked at"]
    if unseen:
        named = "; ".join(unseen[:3]) + (f"; and {len(unseen) - 3} more" if len(unseen) > 3 else "")
        items.append(OpenItem("survey-open", "job sheet", "Survey", f"not looked at: {named}",
                              f"{len(unseen)} of {len(job.all(Survey))} lines", "survey of the job sheet",
                              "look, or write down that it could not be found out", TO_DO, POSITIONS,
                              question="\n".join(unseen)))
    s = job.settings
    if s.rack_x is None and s.rack_distance is None and job.all(Point):
        items.append(OpenItem("rack-unknown", "job sheet", "Rack", "neither its place nor the way to it is known",
                              "unknown", "every cable length depends on it", "enter the way to the rack, or its place",
                              TO_DO, POSITIONS, question="Where is the rack, and where do cables enter it?"))
    return items


def questions(items: Sequence[OpenItem]) -> list[str]:
    """The questions for the site, each once, in the order of what matters most."""
    return list(dict.fromkeys(q for i in items for q in i.question.splitlines() if q))
