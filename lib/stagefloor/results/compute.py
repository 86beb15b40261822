"""Every result of one job, each step when it is first asked for. A list of calls: it decides nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from stagefloor.core.open_items import MEND, OpenItem, ordered
from stagefloor.core.words import Words
from stagefloor.core.workings import Working
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Circuit
from stagefloor.job.inventory import Event
from stagefloor.job.model import Job
from stagefloor.job.wording import words_of
from stagefloor.results.unit_costs import currency_words, unit_costs
from stagefloor.steps import (
    background,
    cables,
    closeout,
    cut_list,
    inventory,
    label_checks,
    labels,
    labour,
    mains,
    multicore,
    orders,
    pull_sheets,
    purchase,
    sheet,
)
from stagefloor.steps.boxes import fit, schedule
from stagefloor.steps.boxes.box_cost import FloorCable, all_routes, box_cost, floor_cables
from stagefloor.steps.boxes.schedule import Contents, Layout
from stagefloor.steps.boxes.trim_out import TrimOut, trim_out
from stagefloor.steps.cables import Line, Pull, Raceway
from stagefloor.steps.closeout import Completeness, Limit, ReadingJudged
from stagefloor.steps.inventory import Peak
from stagefloor.steps.labour import Estimate
from stagefloor.steps.labour.offer import offer_working
from stagefloor.steps.mains import Branch
from stagefloor.steps.raceway_total import new_raceways, open_ways

STEPS = ("job sheet", "inventory", "boxes", "cables", "labour", "closeout")


@dataclass(frozen=True)
class BoxResult:
    """One box: what it must hold, and in what it fits; None if no model takes it."""

    box: Box
    contents: Contents
    layout: Layout | None


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
    def words(self) -> Words:
        """The words of the job's country, for every edge where text leaves."""
        return words_of(self.job)

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
        return tuple(BoxResult(b, schedule.contents_of(self.job, b),
                               schedule.layout(self.job, b)) for b in self.job.boxes())

    @cached_property
    def box_costs(self) -> dict[str, Working]:
        """Box id -> what it costs installed, as the planner counts."""
        costs, known = unit_costs(self.job), all_routes(self.job)
        money = currency_words(self.job)
        return {b.id: box_cost(self.job, b, costs, money, known) for b in self.job.boxes()}

    @cached_property
    def floor_cables(self) -> tuple[FloorCable, ...]:
        """Cable on the floor, event by event."""
        return tuple(floor_cables(self.job))

    @cached_property
    def trim_outs(self) -> tuple[TrimOut, ...]:
        """Who fits and terminates what in each box."""
        return tuple(trim_out(self.job, b) for b in self.job.boxes())

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Every signal line with its way and length."""
        return tuple(cables.lines(self.job))

    @cached_property
    def raceways(self) -> tuple[Raceway, ...]:
        """Every raceway with what is in it."""
        return tuple(cables.raceways(self.job, list(self.lines)))

    @cached_property
    def pulls(self) -> tuple[Pull, ...]:
        """Every pull between two pull points."""
        return tuple(cables.pulls(self.job, self.lines))

    @cached_property
    def branches(self) -> tuple[Branch, ...]:
        """Every mains circuit that is asked for, with what is on it."""
        return tuple(mains.branches(self.job))

    @cached_property
    def quantities(self) -> dict[str, float]:
        """The takeoff, with the amounts that were entered by hand."""
        return labour.counted(self.job, cables.takeoff(self.job, list(self.lines), list(self.raceways)))

    @cached_property
    def offers(self) -> tuple[labour.Offer, ...]:
        """Prices that box models and cable types carry; used where no price row names their quantity."""
        if not labour.begun(self.job):
            return ()
        return labour.offers(self.job, [(b.box, b.layout.model if b.layout else None) for b in self.boxes], self.lines)

    @cached_property
    def cut_lists(self) -> tuple[cut_list.CutList, ...]:
        """Which cable is cut from which reel, for each cable type."""
        return tuple(cut_list.cut_lists(self.job, self.lines))

    @cached_property
    def assemblies(self) -> tuple[cut_list.Assembly, ...]:
        """Ready-made assemblies, which are never cut."""
        return tuple(cut_list.assemblies(self.job, self.lines))

    @cached_property
    def pull_sheets(self) -> tuple[pull_sheets.PullSheet, ...]:
        """What the crew pulls through which raceway, in the order of work."""
        return tuple(pull_sheets.pull_sheets(self.job, self.lines, self.cut_lists, self.raceways, self.pulls))

    @cached_property
    def labels(self) -> tuple[labels.Label, ...]:
        """Every label of the job: those of the faces, then two for each cable."""
        return (*labels.face_labels(self.job), *labels.cable_labels(self.job, self.lines))

    @cached_property
    def purchase(self) -> purchase.PurchaseList:
        """What to buy, with prices: for the office."""
        return purchase.purchase_list(self.job, [(b.box, b.layout) for b in self.boxes], self.lines, self.raceways,
                                      self.cut_lists, self.assemblies)

    @cached_property
    def multicores(self) -> tuple[list[multicore.Comparison], list[str]]:
        """Multicores against single cables, and what lacks a price: for the office."""
        return multicore.comparisons(self.job, self.lines)

    @cached_property
    def estimate(self) -> Estimate:
        """Hours and money."""
        return labour.estimate(self.job, self.quantities, self.offers)

    @cached_property
    def changes(self) -> tuple[labour.PricedChange, ...]:
        """Options and changes, each priced against the last issue, or the price as it stands."""
        return tuple(labour.priced_changes(self.job, self.quantities, self.estimate, self.offers))

    @cached_property
    def price_move(self) -> labour.PriceMove | None:
        """Why the price is not the issued one."""
        return labour.price_move(self.job, self.estimate, self.offers)

    @cached_property
    def options_together(self) -> tuple[labour.Combined, ...]:
        """Options that are not declined, priced together."""
        return tuple(labour.combined(self.job, self.quantities, self.estimate, self.offers))

    @cached_property
    def payments(self) -> tuple[labour.Instalment, ...]:
        """The schedule of payments of the contract."""
        return tuple(labour.schedule(self.job, self.contract)[0])

    @cached_property
    def contract(self) -> Decimal:
        """The issued total, or the price as it stands, with the accepted options and change orders and their tax."""
        return labour.contract_sum(self.job, self.estimate, self.changes)

    @cached_property
    def contract_working(self) -> Working | None:
        """The sum of the contract from its parts; None without a price."""
        return labour.contract_working(self.job, self.estimate, self.changes)

    @cached_property
    def applications(self) -> tuple[Working, ...]:
        """What is due by each application for payment."""
        return tuple(labour.applications(self.job, self.contract)[0])

    @cached_property
    def lessons(self) -> tuple[labour.Lesson, ...]:
        """What closed jobs teach about the shop's hours."""
        return tuple(labour.lessons(self.job, self.quantities)[0])

    @cached_property
    def order(self) -> labour.WorkOrder:
        """The order of work with its critical path."""
        known = labour.leads(self.job, self.quantities,
                             [(b.box, b.layout.model if b.layout else None) for b in self.boxes], self.lines)
        return labour.order_of_work(self.job, self.estimate.tasks, self.estimate.crew.hours_of_a_day, known)

    @cached_property
    def ruling_dates(self) -> tuple[labour.RulingDate, ...]:
        """The five dates that rule the job, with what is open before each."""
        return labour.ruling_dates(self.job, self.order, self.items)

    @cached_property
    def duties(self) -> tuple[labour.Shared, ...]:
        """Who furnishes, installs, terminates and tests each item."""
        return labour.duties(self.job, self.quantities)

    @cached_property
    def doubts(self) -> dict[str, float]:
        """Circuit id -> by how much its length may be off, percent."""
        return {line.circuit.id: closeout.length_doubt(line.typed, line.way.rough) for line in self.lines}

    def limits_of(self, circuit_id: str) -> dict[str, Limit]:
        """What each test of one line may read."""
        if circuit_id not in self._limits:
            circuit = self.job.get(Circuit, circuit_id)
            known = closeout.line_length(self.job, circuit, self.lengths())
            self._limits[circuit_id] = closeout.line_limits(self.job, circuit, known, self.doubts.get(circuit_id, 0.0))
        return self._limits[circuit_id]

    @cached_property
    def _limits(self) -> dict[str, dict[str, Limit]]:
        return {}

    @cached_property
    def readings(self) -> tuple[ReadingJudged, ...]:
        """The last reading of each test, judged."""
        return tuple(closeout.judge(self.job, self.lengths(), self.doubts))

    @cached_property
    def closeout(self) -> Completeness:
        """How far the handover is."""
        return closeout.completeness(self.job, self.lengths(), self.readings)

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
            return [*_file_items(self.faults), *sheet.open_items(job)]
        if step == "inventory":
            return inventory.open_items(job)
        if step == "boxes":
            return [*schedule.open_items(job), *fit.open_items(job)]
        if step == "cables":
            return [*cables.open_items(job, list(self.lines), list(self.raceways), list(self.pulls)),
                    *mains.open_items(job, self.branches), *label_checks.open_items(job, self.lines)]
        if step == "labour":
            return labour.open_items(job, self.quantities, self.estimate, self.order, self.contract,
                                     self.offers)
        # the papers of the end are no business of a job that has no line yet
        return closeout.open_items(job, self.lengths(), self.readings) if job.circuits() else []

    @cached_property
    def items(self) -> tuple[OpenItem, ...]:
        """All open items of the job."""
        return tuple(ordered([i for step in STEPS for i in self.items_of(step)]))

    def detours(self) -> list[Working]:
        """One for each box and way: the way against the straight distance, the worst first."""
        ways = {(line.box.id, round(line.way.metres, 4)): line for line in self.lines}
        found = [w for line in ways.values() if (w := line.way.detour(line.box.label, self.job.settings.units))]
        return sorted(found, key=lambda w: -w.result.amount)

    def loose(self, box: Box) -> list[Working]:
        """The loose cable of each point that a box serves."""
        return [w for p in schedule.points_of(self.job, box) if p.counts() and (w := fit.loose_working(self.job, box, p))]

    def lengths(self) -> dict[str, float]:
        """Circuit id -> metres; a line whose way is not known yet has no length, and none is made up."""
        return {line.circuit.id: line.metres for line in self.lines if line.metres > 0}

    def order_list(self, box_id: str = "") -> list[orders.Order]:
        """What to buy, for one box or for the whole job."""
        return orders.order_list(self.job, [(b.box, b.layout) for b in self.boxes], self.lines, box_id)

    def workings(self) -> list[Working]:
        """Every working behind the numbers that are shown to the office, each once; holds costs and hours."""
        names = {e.id: e.name for e in self.job.all(Event)}
        found = [p.working(names, "the whole stage") for p in self.peaks.values()]
        for b in self.boxes:
            if b.layout is not None:
                found.append(b.layout.working(b.box.title))
            found += [p.working(names, b.box.title) for p in b.contents.need.values()]
            found += self.loose(b.box)
        found += [line.way.working(line.circuit.label, self.job.settings.units) for line in self.lines]
        found += [line.check for line in self.lines if line.check is not None]
        found += [*self.box_costs.values(), *(c.working for c in self.floor_cables)]
        found += self.detours()
        found += [r.area_working(self.job.settings.units) for r in self.raceways if r.diameters and not r.unsized]
        found += [p.length_working(self.job.settings.units) for p in self.pulls]
        found += [r.fill for r in self.raceways if r.fill is not None]
        found += [r.grown for r in self.raceways if r.grown is not None and r.grown is not r.fill]
        found += [w for b in self.branches for w in (b.load, b.drop) if w is not None]
        found += [w for p in self.pulls for w in (p.bends, p.tension) if w is not None]
        if self.lines:
            found.append(cables.total_working(cables.cable_totals(list(self.lines)), self.job.settings.units))
        found += [w for c in self.cut_lists for w in (c.pieces, c.working) if w is not None]
        if self.cut_lists:
            found.append(cut_list.totals(self.cut_lists, self.job.settings.units))
        found += [r.working for r in self.purchase.rows if r.working is not None]
        found += [w for w in (self.purchase.total, self.purchase.on_reels) if w is not None]
        found += [c.working for c in self.multicores[0]]
        if self.multicores[0]:
            found.append(multicore.saved(self.multicores[0]))
        if self.raceways:
            display = self.job.settings.units
            found += [new_raceways(self.raceways, display), *open_ways(self.raceways, display)]
        if self.estimate.selling:
            found.append(offer_working(self.estimate.selling))
        found += self.estimate.workings()
        found += [c.working for c in self.changes] + [c.working for c in self.options_together]
        found += [self.price_move.working] if self.price_move is not None else []
        found += [self.contract_working] if self.contract_working is not None else []
        found += [p.working for p in self.payments]
        found += list(self.applications) + [x.working for x in self.lessons]
        found += [self.order.longest] if self.order.longest is not None else []
        found += [w for j in self.readings for x in (j, *j.earlier) if (w := x.working) is not None]
        found += [d.working for d in closeout.as_built(self.job) if d.working is not None]
        found += [b.working for b in closeout.built_lengths(self.lines)]
        found += [w for item in self.items for w in item.workings]
        found += background.workings_of(self.job)
        return list({id(w): w for w in found}.values())  # equal workings of two raceways are two


def compute(job: Job, faults: Sequence[str] = ()) -> Results:
    """The results of a job; `faults` are sentences about values of the file that could not be read."""
    return Results(job, faults)


def open_items(job: Job, faults: Sequence[str] = ()) -> list[OpenItem]:
    """All open items of a job, the ones that matter most first."""
    return list(compute(job, faults).items)


def _file_items(faults: Sequence[str]) -> list[OpenItem]:
    return [OpenItem("file-value", "job sheet", "Job file", sentence, "1 value", "the job file as read",
                     "type the value again where it belongs", MEND) for sentence in faults]


def questions(items: Sequence[OpenItem]) -> list[str]:
    """The questions for the site, each once, in the order of what matters most."""
    return sheet.asked_once([q for i in items for q in i.question.splitlines() if q])
