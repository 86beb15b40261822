"""Lines, raceways and pulls as they come out: totals first, then what matters most, then every one folded."""

import ipywidgets as widgets

from stagefloor.core.units import area_text, length_text, long_length_text, number_text
from stagefloor.core.workings import Working
from stagefloor.entry import show
from stagefloor.entry.session import here
from stagefloor.entry.tables import Form
from stagefloor.job.cables import Segment
from stagefloor.job.inventory import kind_name
from stagefloor.results import Results
from stagefloor.steps.cables import Line, Raceway, cable_totals, total_working
from stagefloor.steps.cables.bundles import link_of
from stagefloor.steps.cables.cures import cure
from stagefloor.steps.cables.raceways import BY_SPACE

WORST = 5  # detours shown before the rest is folded
SHOWN = 6  # raceways shown in one table before all are folded
ALLOWED = {True: "kept", False: "missed", None: "–"}


def policies() -> widgets.Widget:
    """The shop's policies for raceways and pulls in this job."""
    session = here()
    by_space = session.job.settings.basis != "US" or any(s.way in BY_SPACE for s in session.job.all(Segment))
    return Form(session, ("growth_percent", *(("space_percent",) if by_space else ()), "spare_raceways", "pull_degrees",
                          "pull_length"), "Policies for raceways").grid


# --- lines


def lines(results: Results) -> str:
    """Totals by kind, the lines that miss a limit, the longest detours, then each line."""
    display = results.job.settings.units
    found = list(results.lines)
    if not found:
        return show.paragraph("No line yet: boxes that serve points make them.")
    totals = cable_totals(found)
    rough = any(line.way.rough for line in found)
    known = [line for line in found if line.metres > 0]
    if not known:
        return "<h3>Lines</h3>" + show.figures([("lines", str(len(found))), ("cable", "not known yet")]) + show.paragraph(
            "Enter the way to the rack, or its place, in the job sheet: lengths follow.")
    old = sum(bool(line.circuit.reused) for line in found)
    figures = [(f"{'new ' if old else ''}cable in all{', rough' if rough else ''}",
                long_length_text(sum(totals.values()), display)),
               (f"lines, {old} of them on old cable" if old else "lines", str(len(found)))]
    shortest, longest = min(known, key=lambda x: x.metres), max(known, key=lambda x: x.metres)
    figures += [(f"shortest, {shortest.circuit.label}", long_length_text(shortest.metres, display)),
                (f"longest, {longest.circuit.label}", long_length_text(longest.metres, display))]
    rows = [(kind_name(k), long_length_text(v, display)) for k, v in totals.items()]
    by_kind = show.table(("Kind", "Cable"), rows, (1,)) if rows else ""
    ways = {(line.box.id, line.signal_class): line.way.working(line.circuit.label, display) for line in found}
    return ("<h3>Lines</h3>" + show.figures(figures) + _missed(found, display) + by_kind
            + show.folded("Every line", circuits(results)) + show.folded("Way against straight distance, worst first",
                                                                         detours(found, display)
                                                                         + show.workings(results.detours()))
            + show.workings([total_working(totals, display), *ways.values()])
            + show.workings([line.check for line in found if line.check], "Each line at its own length"))


def _missed(found: list[Line], display: str) -> str:
    """Lines that miss their limit, with the cure; a plain sentence if none does."""
    missed = [line for line in found if line.check is not None and line.check.holds is False]
    if not missed:
        checked = sum(line.check is not None and line.check.holds is not None for line in found)
        return show.paragraph(f"Every line with a published limit keeps it at its own length: {checked} of {len(found)} "
                              "have one.") if checked else ""
    return "".join(show.paragraph(
        f"Line {line.circuit.label} misses its limit: {line.check.result.text()}"
        + (f" of {line.check.limit.text()}" if line.check.limit else "") + f". Cure: {cure(line, display)}.")
        for line in missed[:WORST] if line.check)


def circuits(results: Results) -> str:
    """Each line with both ends, its cable, way, length and result."""
    job, display = results.job, results.job.settings.units
    faces = {o.id: o.label for b in job.boxes() for o in job.openings(b.id)}
    count: dict[str, int] = {}
    for line in results.lines:
        if line.cable is not None:
            count[line.cable.id] = count.get(line.cable.id, 0) + 1
    rows = []
    for line in results.lines:
        c, cable = line.circuit, line.cable
        shared = f", one of {count[cable.id]} lines in it" if cable and count[cable.id] > 1 else ""
        what = "old line reused" if c.reused else f"{cable.label}{shared}" if cable else "–"
        result = line.check.result.text() if line.check else "–"
        tested = link_of(line.type, c.what)
        rows.append((
            c.label or "–", kind_name(c.what), f"{line.box.label}: {', '.join(faces.get(i, '?') for i in c.openings)}",
            c.rack or "–", what, line.type.label if line.type else "–",
            "–".join(line.way.through) or ("rough" if line.way.rough else "–"),
            long_length_text(line.metres, display) + (" typed" if line.typed else " rough" if line.way.rough else ""),
            f"{result} ({tested})" if tested else result, ALLOWED[line.check.holds if line.check else None]))
    return show.table(("Line", "Kind", "Box and opening", "Rack position", "Cable", "Type", "Way", "Length",
                       "At this length", "Limit"), rows, (7, 8))


def detours(found: list[Line], display: str) -> str:
    """One row a box and way: the way without slack against the straight distance, the worst first."""
    alike: dict[tuple[str, float], list[Line]] = {}
    for line in found:
        if line.way.ratio is not None:
            alike.setdefault((line.box.id, round(line.way.metres, 4)), []).append(line)
    rows = [(some[0].box.label, ", ".join(dict.fromkeys(x.signal_class for x in some)),
             length_text(some[0].way.metres - some[0].way.slack, display),
             length_text(some[0].way.straight or 0.0, display), f"{some[0].way.ratio:.2f}")
            for some in sorted(alike.values(), key=lambda x: -(x[0].way.ratio or 0.0))]
    return show.paragraph("No way or no straight distance is known yet.") if not rows else show.table(
        ("Box", "Class", "Way without slack", "Straight", "Way / straight"), rows, (2, 3, 4)) + show.paragraph(
        "Raceways run at right angles: a ratio up to 1.41 on the plan is no detour.")


# --- raceways


def fills(results: Results) -> str:
    """What each raceway holds now and with growth, and what is drawn in together."""
    display = results.job.settings.units
    used = [r for r in results.raceways if r.carries]
    if not used:
        return show.paragraph("No raceway carries a cable yet: lengths are rough, along a typical path.")
    growth = results.job.settings.growth_percent or 0
    over = sum(r.fill is not None and r.fill.holds is False for r in used)
    unknown = sum(bool(r.missing) for r in used)
    tight = sum(r.grown is not None and r.grown.holds is False for r in used) - over
    lead = f"Raceways that hold cable: {len(used)}" + (f", {over} too full" if over else "") + (
        f", {tight} without room for {growth:g} % growth" if tight else "") + (
        f", {unknown} not known yet" if unknown else "") + "."
    spare = [r.segment.name for r in results.raceways if r.spare]
    laid = " New ones are counted and laid all the same: mark one that is not laid as out of use." if any(
        r.spare and r.to_lay for r in results.raceways) else ""
    bad = [r for r in used if r.missing or any(w is not None and w.holds is False for w in (r.fill, r.grown))]
    heads: tuple[str, ...] = ("Raceway", "Class", "Length", "Cables", "Cable area", "Size now", "With growth", "Taken",
                              "Filled", "With growth", "Limit")
    by_size = any(r.size_now for r in used)  # else nothing goes by trade size
    heads = heads if by_size else (*heads[:5], *heads[7:])

    def listed(some: list[Raceway]) -> str:
        rows = [_fill_row(r, display) for r in some]
        return show.table(heads, rows if by_size else [(*row[:5], *row[7:]) for row in rows], range(2, len(heads)))

    few = len(used) <= SHOWN
    return ("<h3>What the raceways hold</h3>" + show.paragraph(lead)
        + (listed(used) if few else (listed(bad) if bad else "") + show.folded("All raceways", listed(used)))
        + (show.paragraph(f"Spare, without a cable: {', '.join(spare)}." + laid) if spare else "")
        + _pulls(results, display)
        + show.workings(_once([w for r in used for w in (None if r.unsized else r.area_working(display), r.fill, r.grown)
                                if w is not None])))


def _fill_row(r: Raceway, display: str) -> tuple[object, ...]:
    filled = r.fill.result.text() if r.fill else r.problem or (f"not known: {r.missing}" if r.missing else "–")
    limit = r.fill.limit.text() + ("" if r.fill.holds else ", missed") if r.fill and r.fill.limit else "–"
    return (r.segment.name, r.segment.signal_class, long_length_text(r.metres, display) if r.metres else "–",
            str(r.cables) + (f" + {r.assemblies} made up" if r.assemblies else ""),
            "not known" if r.unsized else area_text(r.area, display) if r.cables else "–",
            r.size_now or "–", r.size_grown or "–", r.size or "–", filled + (" shared" if r.shared else ""),
            r.grown.result.text() if r.grown else "–", limit)


def _pulls(results: Results, display: str) -> str:
    """Pulls between pull points, folded, with the tension from the better end."""
    if not results.pulls:
        return ""
    rows = [(p.name, p.signal_class, p.cables, length_text(p.metres, display),
             f"{number_text(p.degrees)}°" + (" assumed" if p.assumed else ""),
             p.tension.result.text() if p.tension else f"enter the {p.missing}" if p.missing else "–",
             p.tension.limit.text() if p.tension and p.tension.limit else "–", p.pull_at or "–") for p in results.pulls]
    return show.folded(f"{len(rows)} pulls between pull points: bends, length, tension", show.paragraph(
        "Bends marked 'assumed' are read off the points; count them and enter them with the raceway.") + show.table(
        ("Pull", "Class", "Cables", "Length", "Bends", "Tension", "Cables bear", "Pull at"), rows, (2, 3, 4, 5, 6))
        + show.workings(_once([w for p in results.pulls for w in (p.length_working(display), p.bends, p.tension)
                               if w is not None])))


def _once(found: list[Working]) -> list[Working]:
    return list({id(w): w for w in found}.values())
