"""Open items about the size of a raceway: too small, too full, no room for growth."""

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.steps.cables.dates import STRINGS
from stagefloor.steps.cables.raceways import BY_SPACE, Raceway, name_between


def size_items(job: Job, found: list[Raceway]) -> list[OpenItem]:
    items = []
    order = trade_order()
    told: set[tuple[str, ...]] = set()
    for r in found:
        s, subject = r.segment, f"Raceway {r.segment.name}"
        if s.way in BY_SPACE:
            if r.shared not in told:
                items += _space_items(job, r)
            told |= {r.shared} if r.shared else set()
            continue
        if r.problem and s.size and s.size not in order:
            items.append(OpenItem("raceway-size-unknown", "cables", subject,
                                  f"'{s.size[:20]}' is not a trade size of the table", f"{len(r.diameters)} cables",
                                  r.problem, "type it as the table has it, for example 1-1/4, or leave it empty", MEND,
                                  STRINGS, ("segment", s.id)))
        elif r.problem:
            items.append(OpenItem("raceway-no-size", "cables", subject, "no size of this kind takes the cables in it",
                                  f"{len(r.diameters)} cables", r.problem, "add a raceway beside it", MEND, STRINGS,
                                  ("segment", s.id)))
        elif s.size and r.size_now and order.get(s.size, 99) < order.get(r.size_now, 0):
            items.append(OpenItem(
                "raceway-too-small", "cables", subject,
                f"{s.size_source or 'the size entered'} gives {s.size} in, {len(r.diameters)} cables need "
                f"{r.size_now} in" + (f" ({r.size_grown} in with growth)" if r.size_grown != r.size_now else ""),
                f"{r.fill.result.text() if r.fill else ''} filled, {r.fill.limit.text() if r.fill and r.fill.limit else ''}"
                " allowed", "; ".join(b.line() for b in r.fill.basis[:2]) if r.fill else "",
                f"{r.size_grown or r.size_now} in, or a second raceway; tell the electrician before it goes in", MEND,
                STRINGS, ("segment", s.id), workings=(r.fill,) if r.fill else ()))
        elif r.fill is not None and r.fill.holds is False:
            items.append(OpenItem("raceway-too-full", "cables", subject,
                                  f"{len(r.diameters)} more cables are too many for what is free in it",
                                  f"{r.fill.result.text()} filled, {r.fill.limit.text() if r.fill.limit else ''} allowed",
                                  "; ".join(b.line() for b in r.fill.basis[:2]), "another raceway for some of them",
                                  MEND, STRINGS, ("segment", s.id), workings=(r.fill,)))
        elif s.size and r.size_grown and order.get(s.size, 99) < order.get(r.size_grown, 0):
            items.append(OpenItem("raceway-no-growth", "cables", subject, f"{s.size} in takes the cables but not the "
                                  "growth of the job's policy", f"{r.size_grown} in with growth",
                                  "this job's growth policy", f"{r.size_grown} in, or accept it", CHECK, STRINGS,
                                  ("segment", s.id), workings=(r.fill,) if r.fill else ()))
    return items


def _space_items(job: Job, r: Raceway) -> list[OpenItem]:
    """Open items of a raceway that goes by its inside area; one for all that share a compartment."""
    s = r.segment
    subject = f"Raceway {s.name}" if not r.shared else f"Raceway {name_between(job, s)}, compartment {s.compartment}"
    where = ("segment", s.id)
    if r.problem:
        return [OpenItem("raceway-inside-unknown", "cables", subject, "how full it is can't be said", f"{len(r.diameters)} "
                         "cables", r.problem, "enter its inside", TO_DO, STRINGS, where)]
    if r.fill is None or r.grown is None or r.fill.limit is None:
        return []
    full = r.fill.holds is False
    if not full and r.grown.holds is not False:
        return []
    shown = r.fill if full else r.grown
    return [OpenItem(
        "raceway-too-full" if full else "raceway-no-growth", "cables", subject,
        "more cables than its space factor allows" if full else "takes the cables but not the growth of the job's policy",
        f"{r.fill.result.text()} filled, {r.grown.result.text()} with growth, {r.fill.limit.text()} allowed",
        "; ".join(b.line() for b in shown.basis), "a larger one, a second one, or fewer cables in it"
        + ("" if full else "; or accept it"), MEND if full else CHECK, STRINGS, where, workings=(r.fill, r.grown))]


def trade_order() -> dict[str, int]:
    sizes = [r.key[1] for r in tables.load("nec_ch9_table4_raceways") if r.key[0] == "EMT"]
    return {s: i for i, s in enumerate(sizes)}
