"""From a job to the crew's file: every field that crosses over is named here, one by one, as words.

Hours, prices, suppliers, office and client remarks are never read here.
"""

from pathlib import Path

from stagefloor.core.units import long_length_text
from stagefloor.job import store
from stagefloor.job.closeout import Remark, Revision
from stagefloor.job.lists import LabelSheet
from stagefloor.package.extract_pictures import pictures_for
from stagefloor.readers.crew import record as crew
from stagefloor.results import Results, compute
from stagefloor.results.cable_drawings import line_diagram_record, route_plan_record, section_records
from stagefloor.results.scenes import box_face
from stagefloor.steps.boxes.trim_out import TrimOut
from stagefloor.steps.cut_list import CutList, cut_text
from stagefloor.steps.labels import layout_of
from stagefloor.steps.paths import where_text
from stagefloor.steps.pull_sheets import PullSheet

CAUTIONS = (
    "Mains: only the licensed electrician opens, wires and tests the mains part of a box. Signal cables stay out of it.",
    "No hole, notch or core that is not on the drawings: ask first. A slab is never cut before it is scanned.",
    "Open floors and lids are guarded or covered, marked and secured whenever nobody works there.",
    "Drilling, sanding and cutting: dust rules for silica, lead and asbestos stand. Work at height: as your rules say.",
    "Local codes and the authority having jurisdiction decide. These sheets report; they are no permission.",
)


def crew_file(job_path: Path | str) -> tuple[crew.CrewFile, list[str]]:
    """The crew's file of a job, and sentences that the sender should read before it goes out."""
    opened = store.read(job_path)
    results = compute(opened.job, opened.faults)
    file, said = whole(results, store.job_file(job_path).parent)
    return file, [*attention(results), *said]


def whole(results: Results, job_folder: Path) -> tuple[crew.CrewFile, list[str]]:
    """The crew's file with the pictures that were chosen for the crew, and sentences about those that are not in it."""
    pictures, said = pictures_for(results.job, job_folder, "crew")
    return extract(results).model_copy(update={"pictures": pictures}), said


def extract(results: Results) -> crew.CrewFile:
    """The crew's file from the results of a job."""
    job, display = results.job, results.job.settings.units
    revisions = job.all(Revision)
    last = revisions[-1] if revisions else None
    return crew.CrewFile(
        title=crew.Title(venue=job.settings.venue or "Venue not named yet", shop=job.settings.shop,
                         contact=job.settings.contact, revision=last.label if last else "", date=last.date if last else ""),
        sheets=tuple(_sheet(s, display) for s in results.pull_sheets),
        cuts=tuple(_cut(c, display) for c in results.cut_lists),
        assemblies=tuple(crew.AssemblyRow(cable=a.label, type=a.type.label, length=long_length_text(a.length, display)
                                          if a.length else a.problem) for a in results.assemblies),
        label_sheets=tuple(s for sheet in job.all(LabelSheet) if (s := _label_sheet(results, sheet)) is not None),
        labels=tuple(crew.LabelRow(text=x.text, use=x.use, end=x.end, detail=x.detail, kind=x.kind, colour=x.colour)
                     for x in results.labels),
        trim_outs=tuple(_trim_out(results, t) for t in results.trim_outs),
        routes=route_plan_record(results), diagram=line_diagram_record(results), sections=tuple(section_records(results)),
        remarks=tuple([crew.Remark(about=r.about, words=r.words) for r in job.all(Remark)
                       if r.audience == "crew" and r.words]
                      + [crew.Remark(about=b.title, words=b.remark) for b in job.boxes() if b.remark]),
        cautions=CAUTIONS)


def attention(results: Results) -> list[str]:
    """What the sender should know before the set goes out."""
    found = []
    must = [i for i in results.items_of("cables") if i.must_mend]
    if must:
        found.append(f"{len(must)} open items of the cables must be mended or known first; see them with: check")
    if any(line.way.rough for line in results.lines if line.cable):
        found.append("Some lengths are rough, because no raceway is drawn: do not cut by them.")
    unproven = sum(c.plan is not None and not c.plan.proven for c in results.cut_lists)
    if unproven:
        found.append(f"{unproven} cut lists are not proven; a longer search may find others. Use one printed list.")
    return found


def _sheet(sheet: PullSheet, display: str) -> crew.PullSheetCard:
    about = ", ".join(w for w in (f"{sheet.way} {sheet.size}".strip(), sheet.signal_class,
                                  long_length_text(sheet.metres, display) if sheet.metres else "") if w)
    rows = tuple(crew.PulledRow(cable=c.label, carries="+".join(c.lines) if c.lines != (c.label,) else "", box_end=c.box_end,
                                rack_end=c.rack_end, type=c.type,
                                length=cut_text(c.length, display) if c.length > 0 else "not known", reel=c.reel)
                 for c in sheet.cables)
    return crew.PullSheetCard(number=sheet.number, name=sheet.name, about=about, far=sheet.far, near=sheet.near, cables=rows,
                              already=", ".join(c.label for c in sheet.already), todo=(*sheet.hints, sheet.string))


def _trim_out(results: Results, t: TrimOut) -> crew.TrimOutCard:
    box = t.box
    return crew.TrimOutCard(
        title=box.title, model=t.model, hinge=t.hinge, exit=t.exit, face=box_face(results.job, box), ask=t.ask,
        position=where_text(box.x.si, box.y.si, results.job.settings.units) if box.x and box.y else "",
        spots=tuple(crew.SpotRow(place=s.place, connector=s.connector or "blank plate", panel_part=s.panel_part,
                                 label=s.label, line=s.line, cable=s.cable) for s in t.spots),
        tasks=tuple(crew.TrimTask(openings=", ".join(k.labels), connector=f"{k.count} x {k.connector}", who=k.who,
                                  bench=k.bench, in_place=k.in_place, tool=k.tool, hardware=k.hardware) for k in t.tasks),
        parts=tuple(crew.PartRow(part=what, number=n) for what, n in t.parts),
        old=tuple(crew.OldLineRow(outlet=o.outlet, after=o.after, line=o.line) for o in t.old))


def _cut(found: CutList, display: str) -> crew.CutCard:
    names, where = dict(found.names), dict(found.reels)
    reels = tuple(crew.ReelRow(reel=f"{r.name}, no. {r.number}" if r.bought else r.name, where=where.get(r.name, ""),
                               cuts=", ".join(f"{names.get(i, i)} {cut_text(m, display)}" for i, m in r.cuts),
                               left=long_length_text(r.left, display)) for r in found.plan.reels) if found.plan else ()
    notes = list(found.plan.problems) if found.plan else []
    if found.problem:
        notes.append(found.problem)
    if found.pulled:
        notes.append(f"Pulled already, not cut again: {', '.join(found.pulled)}.")
    count = f"{found.cables} cable{'s' if found.cables != 1 else ''} to cut, {len(reels)} reel" \
            f"{'s' if len(reels) != 1 else ''}. No joints." if reels else ""
    return crew.CutCard(label=found.label, said=count, reels=reels, notes=tuple(notes))


def _label_sheet(results: Results, sheet: LabelSheet) -> crew.LabelSheetCard | None:
    marks = tuple(x.mark() for x in results.labels if x.use == sheet.use)
    layout, _ = layout_of(sheet, results.job.settings.basis)
    return crew.LabelSheetCard(title=sheet.name, layout=layout, marks=marks, used=sheet.used) if layout and marks else None
