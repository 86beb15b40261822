"""From a job to the client's file: every field that crosses over is named here, one by one, as words.

Hours, costs, margins, suppliers, office and crew remarks are never read here. Selling amounts come from
`Estimate.selling` alone.
"""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Literal

from stagefloor.core.units import length_text
from stagefloor.core.workings import Working
from stagefloor.drawings.face import place_name
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.closeout import Document, Punch, Remark, Revision
from stagefloor.job.commercial import Term
from stagefloor.job.inventory import Event, Point, kind_name
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.package.extract_closeout import as_built_rows, closeout_told, closeout_workings, line_tests
from stagefloor.package.extract_pictures import pictures_for
from stagefloor.readers.client import record as client
from stagefloor.reference.connections import connections
from stagefloor.results import BoxResult, Results, compute
from stagefloor.results.compute import questions
from stagefloor.results.scenes import box_face, kinds_text, stage_scene
from stagefloor.steps.boxes.fit import unserved
from stagefloor.steps.boxes.schedule import points_of
from stagefloor.steps.inventory import in_use
from stagefloor.steps.labour import Selling
from stagefloor.steps.labour.duties import OTHER, RACEWAYS, shop_of
from stagefloor.steps.labour.offer import offer_working
from stagefloor.steps.paths import where_text
from stagefloor.steps.raceway_total import new_raceways, open_ways

CAUTIONS = (
    "Structure: openings in joists, beams and slabs wait for the structural engineer's answer in writing. A slab is "
    "never cut or cored before it is scanned.",
    "Mains: only the licensed electrician opens, wires and tests the mains part of a box. The lid of that part stays "
    "shut for everyone else.",
    "Open floors are guarded or covered, marked and secured while work goes on; dust rules for silica, lead and "
    "asbestos stand.",
    "Local codes and the authority having jurisdiction decide. This document reports; it is no permission.",
)
CARE = (
    "Keep lids shut when nothing is plugged in; an open lid is a trip hazard.",
    "Keep water away from the boxes: wring mops well and dry around the lids at once.",
    "Never paint a lid shut, never carpet over a box that is in use.",
    "Vacuum the boxes before each season and after sanding.",
)


def client_file(job_path: Path | str) -> tuple[client.ClientFile, list[str]]:
    """The client's file of a job, and sentences that the sender should read before it goes out."""
    opened = store.read(job_path)
    results = compute(opened.job, opened.faults)
    file, said = whole(results, store.job_file(job_path).parent)
    return file, [*attention(results), *said]


def whole(results: Results, job_folder: Path) -> tuple[client.ClientFile, list[str]]:
    """The client's file with the pictures that were chosen for the client, and sentences about those that are not in it."""
    pictures, said = pictures_for(results.job, job_folder, "client")
    file = extract(results).model_copy(update={"pictures": pictures})
    if pictures and not file.closeout.begun:
        said.append("The pictures for the client are not in the documents yet: their page, 'As built', comes with the first "
                    "test or measured place.")
    return file, said


def extract(results: Results) -> client.ClientFile:
    """The client's file from the results of a job."""
    job = results.job
    scene = stage_scene(job)
    return client.ClientFile(
        title=_title(job), told_us=_told_us(job), scene=scene,
        served=tuple(_served(job, e) for e in job.all(Event)),
        not_served=tuple(dict.fromkeys(s for r in scene.replay for s in r.unserved)),
        boxes=tuple(_card(results, b) for b in results.boxes),
        before_after=tuple(_old(job, o) for o in job.all(OldOutlet)),
        scope=_scope(results), assumptions=_assumptions(results), to_be_proved=_to_be_proved(results),
        price=_price(results.estimate.selling),
        terms=tuple(client.TermRow(about=t.what, words=t.words) for t in job.all(Term) if t.words),
        tests=line_tests(results),
        as_built=as_built_rows(job), closeout=closeout_told(results), documents=tuple(
            client.DocumentRow(label=d.label, owed_by=d.owner, state="done" if d.received else "to do")
            for d in job.all(Document)),
        punch=tuple(client.PunchRow(label=p.label, owner=p.owner, due=p.due) for p in job.all(Punch)
                    if p.audience == "client" and not p.closed),
        care=(*((job.settings.care,) if job.settings.care else ()), *CARE),
        cautions=CAUTIONS,
        warranty=job.settings.warranty, workings=(*(_working(w) for w in _workings(results)),
                                                   *(_working(w, "tests") for w in closeout_workings(results))),
        remarks=tuple(client.Remark(about=r.about, words=r.words) for r in job.all(Remark)
                      if r.audience == "client" and r.words))


def attention(results: Results) -> list[str]:
    """What the sender should know before the set goes out."""
    must = [i for i in results.items if i.must_mend]
    found = []
    if must:
        found.append(f"{len(must)} open items must be mended or known first; see them with: check")
    e = results.estimate
    if e.selling is None:
        found.append("No price is in the documents: no hours and prices are entered yet.")
    elif e.selling.unpriced:
        found.append(f"{e.selling.unpriced} of {e.selling.counted} quantities are unpriced, and not in the price.")
    others = [w for d in results.duties if d.item == RACEWAYS for w in d.who[:2] if w and w != shop_of(results.job)]
    if others and e.selling and any(name == "Raceways" for name, _ in e.selling.sections):
        found.append(f"The price has a section Raceways, but by 'Who does what' they are the work of {others[0]}.")
    if not results.job.all(Revision):
        found.append("The documents carry no revision: add one in the step Closeout.")
    if not results.job.settings.client:
        found.append("The documents name no client: enter one in the job sheet.")
    return found


def _title(job: Job) -> client.Title:
    s, revisions = job.settings, job.all(Revision)
    last = revisions[-1] if revisions else None
    return client.Title(venue=s.venue or "Venue not named yet", client=s.client, shop=s.shop, contact=s.contact,
                        revision=last.label if last else "", date=last.date if last else "", validity=s.validity,
                        revisions=tuple(client.RevisionRow(label=r.label, date=r.date, words=r.words)
                                        for r in revisions))


def _told_us(job: Job) -> client.ToldUs:
    names = {e.id: e.name for e in job.all(Event)}
    return client.ToldUs(
        events=tuple(client.EventTold(label=e.name, per_year=f"{e.per_year:g} times a year" if e.per_year else "")
                     for e in job.all(Event)),
        points=tuple(client.PointTold(label=p.label, what=p.what, counts=kinds_text(p.counts()),
                                      events=", ".join(names[i] for i in p.events if i in names) or "every event")
                     for p in job.all(Point)))


def _served(job: Job, event: Event) -> client.Served:
    missed = {p.id for p, _ in unserved(job, event.id)}
    boxes = [b for b in job.boxes() if any(in_use(p, event.id) and p.id not in missed for p in points_of(job, b))]
    points = [p for p in job.all(Point) if in_use(p, event.id) and p.counts() and p.id not in missed]
    total: dict[str, int] = {}
    for p in points:
        for kind, n in p.counts().items():
            total[kind] = total.get(kind, 0) + n
    kinds = kinds_text(total)
    number = f"{len(points)} connection point{'' if len(points) == 1 else 's'}"
    sentence = f"{number}: {kinds}." if points else "Nothing is served yet."
    return client.Served(event=event.name, boxes=tuple(b.title for b in boxes), sentence=sentence)


def _card(results: Results, found: BoxResult) -> client.BoxCard:
    job, box, plan = results.job, found.box, found.layout
    display = job.settings.units
    known = connections()
    size = ""
    if plan and plan.model.across and plan.model.along:
        size = f"cutout {length_text(plan.model.across.si, display)} by {length_text(plan.model.along.si, display)}"
        if plan.model.depth:
            size += f", {length_text(plan.model.depth.si, display)} deep"
    position = where_text(box.x.si, box.y.si, display) if box.x and box.y else "place not fixed yet"
    if job.settings.origin and box.x:
        position += f" (from {job.settings.origin})"
    rows = tuple(client.OpeningRow(place=place_name(o.bay, o.slot) if o.bay else "to be fixed",
                                   kind=kind_name(o.what),
                                   connector=known[o.what].connector, label=o.label,
                                   use="spare" if o.state == "spare" else "in use") for o in job.openings(box.id))
    far = {p.id for event in job.all(Event) for p, _ in unserved(job, event.id)}
    serves = ", ".join((p.label if p.what in ("", p.label) else f"{p.label} {p.what}") + " (too far off)" * (p.id in far)
                       for p in points_of(job, box))
    return client.BoxCard(title=box.title, position=position, model=plan.model.label if plan else "to be chosen",
                          size=size, openings=rows, face=box_face(job, box), serves=serves)


def _old(job: Job, old: OldOutlet) -> client.OldOutletRow:
    box, what = job.find(Box, old.box), old.what
    if old.what == "mains":
        line = "mains taken over by the licensed electrician"
    elif old.reuse and old.tested != "failed":
        line = "line reused" + (" (tested)" if old.tested == "passed" else " after test")
    else:
        line = "line given up"
    return client.OldOutletRow(outlet=f"{old.label} ({what})" if old.label else what,
                               what_happens=f"old outlet {old.after}; {line}", into=box.title if box else "")


def _scope(results: Results) -> tuple[client.ScopeRow, ...]:
    """Who does what, as entered or by custom; items that the office named itself stay inside."""
    raceways = new_raceways(results.raceways, results.job.settings.units).result
    rows = []
    for d in results.duties:
        if d.trade == OTHER:
            continue
        furnished, installed, terminated, tested = ("–" if w is None else w or "to be agreed" for w in d.who)
        quantity = f"{raceways.amount:,.0f} {raceways.unit}" if d.item == RACEWAYS else d.quantity
        rows.append(client.ScopeRow(trade=d.trade, item=d.item, quantity=quantity, furnished_by=furnished,
                                    installed_by=installed, terminated_by=terminated, tested_by=tested))
    return tuple(rows)


def _assumptions(results: Results) -> tuple[str, ...]:
    job, s = results.job, results.job.settings
    found = []
    if s.reach:
        found.append(f"A loose cable from a box to what plugs in is at most {length_text(s.reach.si, s.units)} long.")
    if s.spare_percent:
        found.append(f"{s.spare_percent:g} % spare openings are included in each box and kind.")
    found += _growth(results)
    if any(line.way.rough for line in results.lines if line.cable):
        found.append("Cable lengths are rough until the ways are walked.")
    if s.floor_type:
        found.append(f"The floor is: {s.floor_type}.")
    found.append(f"Code basis: {s.basis}{', edition ' + s.edition if s.edition else ''}; the authority decides.")
    if job.all(Event):
        found.append("Events run one at a time, except where said otherwise.")
    if s.breaker_role:
        found.append(f"Breakers are switched off and on by {s.breaker_role}, and by nobody else.")
    return tuple(found)


def _growth(results: Results) -> list[str]:
    """The room that raceways keep for later; those that do not, or of which it is not known, are named."""
    asked = [r for r in results.raceways if r.keeps_growth is not None]
    without = list(dict.fromkeys(r.segment.name for r in asked if not r.keeps_growth))
    if not results.job.settings.growth_percent or len(without) == len(asked):
        return []
    return [f"Raceways keep {results.job.settings.growth_percent:g} % of the cable area free for later"
            + (f", except {'; '.join(without)}." if without else ".")]


def _to_be_proved(results: Results) -> tuple[str, ...]:
    """The questions for the site, and that the plan is not final while something on it must be mended."""
    mend = sum(i.must_mend for i in results.items)
    words = "This plan is not final: " + ("1 finding on it" if mend == 1 else f"{mend} findings on it") + \
        " must be mended or known before work starts."
    return ((words,) if mend else ()) + tuple(questions(results.items))


def _price(selling: Selling | None) -> client.Price | None:
    if selling is None:
        return None

    def money(amount: Decimal) -> str:
        return f"{selling.currency} {amount:,.2f}"

    rows = [client.PriceRow(section=name, amount=money(a)) for name, a in selling.sections]
    tax = ""
    if selling.tax_percent is not None and selling.tax is not None:
        rows.append(client.PriceRow(section=f"Tax, {float(selling.tax_percent):g} %", amount=money(selling.tax)))
        tax = f"{money(selling.tax)} of it is tax." if selling.tax else "No tax is in it."
    note = f"{selling.unpriced} of {selling.counted} quantities are not priced yet and not included. " \
        if selling.unpriced else ""
    return client.Price(currency=selling.currency, rows=tuple(rows), tax=tax, total=money(selling.total),
                        note=f"{note}Mains work is the licensed electrician's, and not included.")


def _workings(results: Results) -> list[Working]:
    names = {e.id: e.name for e in results.job.all(Event)}
    found = [p.working(names, "the whole stage") for p in results.peaks.values()]
    found += [b.layout.working(b.box.title) for b in results.boxes if b.layout]
    found += [w for b in results.boxes for w in results.loose(b.box)]
    if results.raceways:
        display = results.job.settings.units
        found += [new_raceways(results.raceways, display), *open_ways(results.raceways, display)]
    if results.estimate.selling:
        found.append(offer_working(results.estimate.selling))
    return found


def _working(w: Working, topic: Literal["", "tests"] = "") -> client.ShownWorking:
    def value(v: object) -> client.ShownValue:
        return client.ShownValue(symbol=v.symbol, name=v.name, amount=v.amount, unit=v.unit, digits=v.digits)  # type: ignore[attr-defined]

    def values(found: Sequence[object]) -> tuple[client.ShownValue, ...]:
        return tuple(value(v) for v in found)

    return client.ShownWorking(
        topic=topic, name=w.name, formula=w.formula, inputs=values(w.inputs), result=value(w.result),
        limit=value(w.limit) if w.limit else None, sense=w.sense if w.limit else None, margin=w.margin, holds=w.holds,
        also=values(w.also), notes=w.notes, basis=tuple(client.ShownBasis(text=b.text, status=b.status)
                                                         for b in w.basis))
