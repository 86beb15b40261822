"""The lists of the cables step: reels and cut list, what to buy, pull sheets, labels. They follow the job."""

import asyncio
from collections.abc import Sequence
from html import escape

import ipywidgets as widgets

from stagefloor.core.problems import Problem
from stagefloor.core.units import area_text, long_length_text
from stagefloor.core.words import counted
from stagefloor.drawings.labels import label_sheets
from stagefloor.drawings.svg import render
from stagefloor.entry import show
from stagefloor.entry.documents import writer
from stagefloor.entry.folds import folds
from stagefloor.entry.session import here
from stagefloor.entry.tables import Table
from stagefloor.job.lists import LabelRule, LabelSheet
from stagefloor.results import Results, compute
from stagefloor.steps.cut_list import CutList, cut_lists, cut_text, totals
from stagefloor.steps.labels import layout_of, relabelled, too_long
from stagefloor.steps.multicore import saved
from stagefloor.steps.pull_sheets import PullSheet
from stagefloor.steps.purchase import Purchase, each_by_length

LONGER_SECONDS = 20.0  # for one cable type
TYPES_SHOWN = 3  # cut lists that need no look shown before they are folded
NAMED = 6  # unpriced lines named in one sentence; the list has them all
SHEETS_SHOWN = 6  # pull sheets named before all are folded


def reels() -> widgets.Widget:
    """Reels sold and in the shop, and which cable is cut from which, in which order."""
    session = here()
    grid = folds([("Other reels that are sold, and leftovers in the shop", lambda: Table(
        session, "reel", ("label", "type", "what", "length", "count", "where", "price"), name="Reels",
        empty_hint="The reel length stands with the cable type. Press 'Add row' for another reel that is sold, or for a "
        "leftover in the shop.").grid)])
    button = widgets.Button(description="Look longer for a better cut list", layout=widgets.Layout(width="auto"))
    button.add_class("sf-reels-longer")
    said = show.Html(session)
    said.add_class("sf-reels-said")
    lists = show.view(session, cut_list, "reels")

    async def work() -> None:
        button.disabled, said.value = True, '<div class="sf"><p>Looking ...</p></div>'
        job, known = session.job, list(session.results().lines)
        try:
            plans = await asyncio.to_thread(cut_lists, job, known, LONGER_SECONDS)
            open_ = sum(p.plan is not None and not p.plan.proven for p in plans)
            words = "Every cut list is proven now." if not open_ else f"{open_} cut lists are still not proven."
            lists.value = f'<div class="sf">{cut_list(compute(job))}</div>'
        finally:
            button.disabled = False
        said.value = f'<div class="sf"><p>{words}</p></div>'

    button.on_click(lambda _: session.start(work()))
    return show.stack(grid, lists, button, said)


def cut_list(results: Results) -> str:
    """How many reels in all, then the cut list of each cable type, folded."""
    display, found = results.job.settings.units, results.cut_lists
    if not found:
        return show.paragraph("No cable is to be cut yet: boxes that serve points make lines, and lines make cables.")
    total = totals(found, display)
    figures = [(v.name, f"{v.amount:,.0f} {v.unit}") for v in (total.result, *total.also)]
    settled = [c for c in found if c.plan is not None and c.plan.proven and not c.problem and not c.plan.uncut]
    settled = settled if len(settled) > TYPES_SHOWN else []
    return show.figures(figures) + "".join(_of_type(c, display) for c in found if c not in settled) + (show.folded(
        "Cut lists that are proven", "".join(_of_type(c, display) for c in settled))
        if settled else "") + show.workings([total])


def _of_type(found: CutList, display: str) -> str:
    """One cable type: the sentence, what is missing, and the cuts in their order, longest first."""
    head = f"<h3>{escape(found.label)}</h3>" + show.paragraph(found.said)
    if found.plan is None or not found.plan.reels:
        return head
    names, where = dict(found.names), dict(found.reels)
    rows = [(f"{r.name}, no. {r.number}" if r.bought else r.name, where.get(r.name, ""),
             ", ".join(f"{names.get(i, i)} {cut_text(m, display)}" for i, m in r.cuts),
             long_length_text(r.left, display)) for r in found.plan.reels]
    there = any(r[1] for r in rows)
    body = show.table(("Reel", "Where", "Cut in this order", "Left"), rows, (3,)) if there else \
        show.table(("Reel", "Cut in this order", "Left"), [(a, c, d) for a, _, c, d in rows], (2,))
    uncut = f"Not cut: {', '.join(names.get(i, i) for i in found.plan.uncut)}." if found.plan.uncut else ""
    pulled = f"Pulled already, not cut again: {', '.join(found.pulled)}." if found.pulled else ""
    told = "".join(show.paragraph(p) for p in (found.problem, *found.plan.problems, uncut) if p)
    return head + told + show.folded("Cut list: which cable from which reel, longest first", body + (
        show.paragraph(pulled) if pulled else "")) + show.workings([w for w in (found.pieces, found.working) if w])


def purchase() -> widgets.Widget:
    """What to buy, with prices where the shop has them; and whether multicores would be cheaper. For the office."""
    session = here()
    return show.stack(show.view(session, buying, "purchase"), show.view(session, multicores, "multicores"))


def buying(results: Results) -> str:
    """What is to buy: how much is priced, what takes longest, then the list."""
    found, display, currency = results.purchase, results.job.settings.units, results.job.settings.currency
    if not found.rows:
        return show.paragraph("Nothing is to buy yet: boxes make openings, and lines make cables.")
    figures = [("items", str(len(found.rows)))]
    if found.total is not None:
        figures.append(("what is priced", f"{currency} {found.total.result.amount:,.2f}"))
    if found.on_reels is not None:
        figures.append(("of it stays on reels", f"{currency} {found.on_reels.result.amount:,.2f}"))
    if found.longest_lead is not None:
        figures.append((f"longest lead time, {found.longest_lead.item}", f"{found.longest_lead.lead} days"))
    bare = found.unpriced
    named = "; ".join(r.item for r in bare[:NAMED]) + (f"; and {len(bare) - NAMED} more" if len(bare) > NAMED else "")
    words = f"{len(bare)} of {len(found.rows)} unpriced: {named}." if bare else "Every line is priced."
    unknown = sum(not r.lead for r in found.rows)
    if unknown:
        words += f" No lead time is entered for {unknown} of them."
    rows = [(r.item, _amount(r, display), f"{r.each:,.2f}" if r.each is not None and not r.metres else
             _by_length(r, display) if r.each is not None else "unpriced",
             f"{r.cost:,.2f}" if r.cost is not None else "–", f"{r.lead} days" if r.lead else "–", r.price_from, r.note)
            for r in found.rows]
    workings = [w for w in (found.total, found.on_reels) if w] + [r.working for r in found.rows if r.working]
    return (show.figures(figures) + show.paragraph(words) + show.folded("Purchase list", show.table(
        ("Item", "How many", "Each", "Cost", "Lead time", "Price from", "Note"), rows, (1, 2, 3, 4)))
        + show.workings(workings))


def _amount(row: Purchase, display: str) -> str:
    return long_length_text(row.amount, display) if row.metres else f"{row.amount:g}"


def _by_length(row: Purchase, display: str) -> str:
    """The price of a foot or metre."""
    return f"{each_by_length(row, display):,.2f} a {'foot' if display == 'ft-in' else 'metre'}"


def multicores(results: Results) -> str:
    """Each box and kind where a multicore could carry the lines: what both ways cost."""
    found, missing = results.multicores
    display, currency = results.job.settings.units, results.job.settings.currency
    head = "<h3>Multicore against single cables</h3>"
    if not found and not missing:
        return head + show.paragraph("Nothing to compare: enter a multicore among the cable types, with the lines in it "
                                     "and its price.")
    better = [c for c in found if c.saving > 0]
    words = (f"Cheaper in {len(better)} of {len(found)} places: {currency} {saved(found).result.amount:,.2f} less for "
             "cable. It is a comparison: no cable of the job was changed." if better else
             f"Single cables cost least in all {len(found)} places that were compared." if found else "")
    rows = [(f"{c.box.label}, {c.lines} {c.kind}", f"{c.singles:,.2f}", f"{c.mixed:,.2f}",
             ", ".join(f"{n} × {label}" for label, n in c.mix), f"{c.saving:,.2f}",
             area_text(c.area_singles, display) if c.area_singles else "–",
             area_text(c.area_mixed, display) if c.area_mixed else "–") for c in found]
    return (head + (show.paragraph(words) if words else "") + "".join(show.paragraph(m) for m in missing)
            + (show.folded("Every comparison", show.table(("Lines", "Single cables", "Cheapest mix", "Of", "Saves",
                                                           "Area, single", "Area, mix"), rows, (1, 2, 4, 5, 6))) if rows
               else "") + show.workings([*(c.working for c in found), saved(found)] if found else []))


def pull_sheets() -> widgets.Widget:
    """What the crew pulls through which raceway, in the order of work; and their set to print. No money is on it."""
    session = here()
    return show.stack(show.view(session, sheets, "pull-sheets"),
                      writer(session, "crew", "Write the crew's set: pull sheets, cut list, labels, drawings"))


def sheets(results: Results) -> str:
    """One folded sheet for each raceway, the far ends first."""
    found, display = results.pull_sheets, results.job.settings.units
    if not found:
        return show.paragraph("Nothing is to pull yet.")
    waiting = sum(bool(s.cables) for s in found)
    lead = show.paragraph(f"{counted(len(found), 'raceway')}, {waiting} with cables to pull. From the far ends towards the "
                          "rack: all cables of a raceway lie ready at its far end before it is pulled, so each is pulled "
                          "once.")
    each = "".join(_sheet(s, display) for s in found)
    return lead + (each if len(found) <= SHEETS_SHOWN else show.folded("All of them, in the order of work", each))


def _sheet(sheet: PullSheet, display: str) -> str:
    about = ", ".join(w for w in (f"{sheet.way} {sheet.size}".strip(), sheet.signal_class,
                                  long_length_text(sheet.metres, display) if sheet.metres else "") if w)
    rows = [(show.whole(c.label), "+".join(c.lines) if c.lines != (c.label,) else "", show.whole(c.box_end), c.rack_end,
             c.type, cut_text(c.length, display) if c.length else "not known", c.reel or "–") for c in sheet.cables]
    already = show.paragraph("In it already: " + ", ".join(c.label for c in sheet.already) + ".") if sheet.already else ""
    heads = ("Cable", "Carries", "Box end", "Rack end", "Type", "Cut length", "From reel")
    table = show.table(heads, rows, (5,), raw=(0, 2)) if rows else ""
    hints = "".join(show.paragraph(h) for h in (*sheet.hints, sheet.string))
    cables = counted(len(sheet.cables), "cable")
    return show.folded(f"{sheet.number}. {sheet.name}: {cables} from {sheet.far} to {sheet.near}",
                       show.paragraph(about) + table + already + hints)


def labels() -> widgets.Widget:
    """The label plan: rules, sheets, what is wrong with it, and the files to print."""
    session = here()
    entries = folds([
        ("Label rules: how lines are named", lambda: Table(
            session, "labelrule", ("what", "pattern", "colour", "longest"), name="Label rules",
            empty_hint="Without a rule lines are named by box, letter and number, such as A1-M1. Press 'Add row' for your "
            "own pattern.").grid),
        ("Label sheets: the paper they are printed on", lambda: Table(
            session, "labelsheet", ("label", "use", "page_width", "page_height", "rows", "columns", "width", "height",
                                    "pitch_across", "pitch_down", "left", "top", "print_height", "text_height", "used",
                                    "outline"), name="Label sheets",
            empty_hint="Press 'Add row' and enter the sheet as its maker gives it: rows, columns, sizes, pitch.").grid)])
    rename = widgets.Button(description="Name planned lines by the rules", layout=widgets.Layout(width="auto"))
    rename.add_class("sf-labels-name")
    files = widgets.Button(description="Write label sheets and table", layout=widgets.Layout(width="auto"))
    files.add_class("sf-labels-write")
    said = show.Html(session)
    said.add_class("sf-labels-said")

    def tell(sentences: Sequence[str]) -> None:
        said.value = f'<div class="sf">{"".join(show.paragraph(s) for s in sentences)}</div>'

    def name_lines(_: object) -> None:
        before = {c.id: c.label for c in session.job.circuits()}
        try:
            session.edit("Lines named by the label rules", relabelled)
        except Problem as problem:
            tell([problem.sentence])
            return
        changed = sum(c.label != before.get(c.id) for c in session.job.circuits())
        tell([f"{counted(changed, 'line')} got another name; undo takes it back." if changed else
              "Nothing to change: enter a rule first." if not session.job.all(LabelRule) else "All names fit already."])

    def write_files(_: object) -> None:
        from stagefloor.package.label_files import write  # here: it loads what the step itself never needs

        try:
            made, mend = write(session.results(), session.path.parent / "documents" / "labels")
            tell([f"Written: {', '.join(str(p) for p in made)}.", *mend])
        except Problem as problem:
            tell([problem.sentence])

    rename.on_click(name_lines)
    files.on_click(write_files)
    buttons = widgets.HBox([rename, files], layout=widgets.Layout(flex_flow="row wrap"))
    return show.stack(entries, show.view(session, label_plan, "labels"), buttons, said)


def label_plan(results: Results) -> str:
    """How many labels, the first sheet of each kind as it prints, then all of them."""
    found = results.labels
    if not found:
        return show.paragraph("No label yet: boxes make openings, and lines make cables.")
    cables, faces = ([x for x in found if x.use == use] for use in ("cables", "faces"))
    parts = [show.figures([("labels on cables, both ends", str(len(cables))), ("numbers on faces", str(len(faces)))])]
    for number, sheet in enumerate(results.job.all(LabelSheet)):
        mine = cables if sheet.use == "cables" else faces
        layout, fault = layout_of(sheet, results.job.settings.basis)
        if layout is None or not mine:
            parts.append(show.paragraph(fault or f"Sheet '{sheet.name}': no label for it yet."))
            continue
        pages = label_sheets(layout, tuple(x.mark() for x in mine), sheet.used, sheet.name)
        small = too_long(layout, mine)
        words = f"{counted(len(mine), 'label')} on {counted(len(pages), 'sheet')}."
        if small:
            words += f" {len(small)} texts are too long for this letter height and print smaller, such as {small[0]}."
        drawn = render(pages[0], f"labelsheet{number}", true_size=True)
        parts.append(show.paragraph(f"{sheet.name}: {words}") + show.folded(
            f"{sheet.name}, the first sheet", f'<div class="wide sheet">{drawn}</div>'))
    rows = [(x.text, x.use, x.end, x.detail, x.kind, x.colour) for x in found]
    parts.append(show.folded("Every label", show.table(("Label", "For", "At", "Leads to", "Kind", "Colour"), rows)))
    return "".join(parts)
