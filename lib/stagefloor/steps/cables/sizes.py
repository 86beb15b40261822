"""Open items about the size of a raceway: too small, too full, no room for growth or a head, or not known."""

from collections import Counter
from dataclasses import replace

from stagefloor.core.open_items import CHECK, MEND, TO_DO, OpenItem
from stagefloor.core.units import INCH
from stagefloor.core.workings import JOB, Basis, Value, Working
from stagefloor.job.cables import CableType
from stagefloor.job.model import Job
from stagefloor.steps.cables.dates import STRINGS
from stagefloor.steps.cables.raceways import BY_SPACE, NOT_SIZED, Raceway, name_between, narrowest, trade_sizes


def size_items(job: Job, found: list[Raceway]) -> list[OpenItem]:
    """Every open item about the sizes of raceways, and about what must be entered before they can be judged."""
    items = [*_unknown_items(job, found), *_spare_items(found)]
    told: set[tuple[str, ...]] = set()
    for r in found:
        items += _head_items(job, r)
        if r.segment.way in BY_SPACE:
            if r.shared not in told:
                items += _space_items(job, r)
            told |= {r.shared} if r.shared else set()
        elif r.carries and r.segment.way not in NOT_SIZED:
            items += _trade_items(r)
    return items


def _trade_items(r: Raceway) -> list[OpenItem]:
    """Open items of a raceway that goes by trade size."""
    s, fill = r.segment, r.fill
    plain = OpenItem("", "cables", f"Raceway {s.name}", "", r.held, r.problem, "", MEND, STRINGS, ("segment", s.id))
    judged = replace(plain, amount=_filled(fill), basis="; ".join(b.line() for b in fill.basis[:2]),
                     workings=(fill,)) if fill is not None else plain
    sizes = trade_sizes(s.way)
    if s.size and s.size not in sizes:
        return [replace(plain, code="raceway-size-unknown", what=f"'{s.size[:20]}' is not a trade size of the table",
                        basis=r.problem or f"the sizes of {s.way} in the table: {', '.join(sizes)}",
                        cure="type it as the table has it, for example 1-1/4, or leave it empty")]
    if r.problem:
        return [replace(plain, code="raceway-no-size", what="no size of this kind takes the cables in it",
                        cure="add a raceway beside it")]
    if s.existing and not s.size:
        return [replace(plain, code="raceway-unmeasured", what="is there already; its size is not known: measure it",
                        amount=r.held + (f", {r.size_now} in at least for them alone" if r.size_now else ""),
                        basis="a raceway that is there has the size that it has", state=TO_DO,
                        cure="measure it, and enter its trade size and how full it is",
                        question=f"Which trade size is {s.name}, and how full is it?")]
    if fill is not None and fill.holds is False:
        if s.existing:
            return [replace(judged, code="raceway-too-full", cure="another raceway for some of them",
                            what=f"{r.cables} more cable{' is' if r.cables == 1 else 's are'} too many for the room in it")]
        grown = "" if r.size_grown == r.size_now else f" ({r.size_grown + ' in' if r.size_grown else 'no size'} with growth)"
        return [replace(judged, code="raceway-too-small", what=f"{s.size_source or 'the size entered'} gives {s.size} in, "
                        f"{r.held} {'needs' if r.held == '1 cable' else 'need'} {r.size_now} in{grown}",
                        cure=f"{r.size_grown or r.size_now} in, or a second raceway; tell the electrician before it is in")]
    if fill is not None and r.grown is not None and r.grown.holds is False:
        # beside what was found in it, the size for these cables alone is no answer
        larger = "" if s.existing and s.used_percent else r.size_grown
        return [replace(judged, code="raceway-no-growth", state=CHECK, workings=(fill, r.grown), basis="this job's growth "
                        "policy", what=f"{r.size} in takes the cables but not the growth of the job's policy",
                        amount=f"{larger} in with growth" if larger else _with_growth(r),
                        cure=(f"{larger} in" if larger else "a second raceway") + ", or accept it")]
    return []


def _filled(fill: Working) -> str:
    """'41 % filled, 40 % allowed'."""
    return f"{fill.result.text()} filled" + (f", {fill.limit.text()} allowed" if fill.limit else "")


def _with_growth(r: Raceway) -> str:
    """'37 % filled, 47 % with growth, 45 % allowed'."""
    if r.fill is None or r.grown is None or r.fill.limit is None:
        return ""
    return f"{r.fill.result.text()} filled, {r.grown.result.text()} with growth, {r.fill.limit.text()} allowed"


def _space_items(job: Job, r: Raceway) -> list[OpenItem]:
    """Open items of a raceway that goes by its inside area; one for all that share a compartment."""
    s = r.segment
    subject = f"Raceway {s.name}" if not r.shared else f"Raceway {name_between(job, s)}, compartment {s.compartment}"
    where = ("segment", s.id)
    if r.problem:
        return [OpenItem("raceway-inside-unknown", "cables", subject, "how full it is can't be said", r.held, r.problem,
                         "enter its inside", TO_DO, STRINGS, where)]
    if r.fill is None or r.grown is None or r.fill.limit is None:
        return []
    full = r.fill.holds is False
    if not full and r.grown.holds is not False:
        return []
    shown = r.fill if full else r.grown
    return [OpenItem(
        "raceway-too-full" if full else "raceway-no-growth", "cables", subject,
        "more cables than its space factor allows" if full else "takes the cables but not the growth of the job's policy",
        _with_growth(r), "; ".join(b.line() for b in shown.basis), "a larger one, a second one, or fewer cables in it"
        + ("" if full else "; or accept it"), MEND if full else CHECK, STRINGS, where, workings=(r.fill, r.grown))]


def _head_items(job: Job, r: Raceway) -> list[OpenItem]:
    """An assembly whose head does not go through the raceway; nothing while its inside is not known."""
    inside, head = narrowest(r), max(r.heads, default=0.0)
    if inside is None or head < inside:
        return []
    unit, per = ("in", 1 / INCH) if job.settings.units == "ft-in" else ("mm", 1e3)
    working = Working(f"Head through {r.segment.name}", "h = largest head; it must be smaller than the inside",
                      (Value("h", "largest head of the assemblies in it", head * per, unit, 3),),
                      Value("h", "largest head", head * per, unit, 3), (Basis("cable types of this job", JOB),),
                      Value("", "inside" if r.segment.way != "trunking" else "smaller inside", inside * per, unit, 3))
    return [OpenItem(
        "raceway-head", "cables", f"Raceway {r.segment.name}", "a ready-made assembly has a head that does not go through",
        f"{working.result.text()} head, {inside * per:.3g} {unit} inside", "the head must be smaller than the inside",
        "a larger raceway, a smaller head, or cable that is ended on site", MEND, STRINGS, ("segment", r.segment.id),
        workings=(working,))]


def _unknown_items(job: Job, found: list[Raceway]) -> list[OpenItem]:
    """Cable types without a diameter and assemblies without a head, once each; without them no raceway can be judged."""
    items = []
    ruled = [r for r in found if r.segment.way not in NOT_SIZED]
    for code, what, cure, in_each in (
            ("cable-no-diameter", "diameter", "enter its outside diameter, from the data sheet or measured",
             [r.unsized for r in ruled]),
            ("assembly-no-head", "largest head", "enter its largest head, from the data sheet or measured",
             [r.headless for r in ruled])):
        many = Counter(i for ids in in_each for i in set(ids))
        for kind in job.all(CableType):
            if n := many[kind.id]:
                items.append(OpenItem(
                    code, "cables", f"Cable type {kind.name}", f"the {what} of {kind.name} is not entered",
                    f"{n} raceway{'' if n == 1 else 's'} can't be judged", "your cable types", cure, TO_DO, STRINGS,
                    ("cabletype", kind.id)))
    return items


def _spare_items(found: list[Raceway]) -> list[OpenItem]:
    """Spare raceways that nobody gave a size: nothing in them says which; silent while no raceway carries a cable yet."""
    bare = [r.segment for r in found if r.to_lay and not r.carries and not r.size]
    if not bare or not any(r.carries for r in found):
        return []
    return [OpenItem(
        "raceway-spare-no-size", "cables", "Spare raceways", "carry no cable, and their size is not entered: "
        + ", ".join(s.name for s in bare[:6]) + (" ..." if len(bare) > 6 else ""),
        f"{len(bare)} raceway{'' if len(bare) == 1 else 's'}", "a raceway that is drawn is counted and laid",
        "enter the size, or mark what is not laid as out of use", TO_DO, STRINGS, ("segment", bare[0].id))]
