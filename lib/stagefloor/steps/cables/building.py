"""Open items about the building: walls that are sealed, air-handling spaces, metal raceway, supports, old cable, spares."""

from collections.abc import Sequence

from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO, OpenItem
from stagefloor.job.cables import Node, Segment
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.steps.cables.dates import STRINGS
from stagefloor.steps.cables.lines import Line
from stagefloor.steps.cables.raceways import FREE, Raceway, between, name_between

METAL = ("EMT", "RMC", "flexible metal conduit", "metal conduit in mm")
PLASTIC = ("PVC40", "plastic conduit in mm")
# What a jacket must be marked with at least, from the plainest up: a better one may replace it.
ORDER = ("general", "riser", "plenum")
NEEDS = {"air-handling (plenum)": "plenum", "riser between floors": "riser"}
MARKS = {"plenum": "CMP, CL3P or CL2P", "riser": "CMR, CL3R or CL2R, or a plenum type"}


def building_items(job: Job, known: Sequence[Line], found: Sequence[Raceway]) -> list[OpenItem]:
    """All open items of this module."""
    return [*_walls(job), *_ratings(job, known), *_metal(job), *_supports(job, found), *_old_cable(job),
            *_spares(job, found)]


def _walls(job: Job) -> list[OpenItem]:
    """Raceways through a rated wall that no seal is planned for; an open seal is told elsewhere."""
    items, seen = [], set()
    for s in job.all(Segment):
        key = (frozenset((s.start, s.end)), s.wall)
        if not s.wall or s.blocked or s.seal != "not needed" or key in seen:
            continue
        seen.add(key)
        fire = s.wall.startswith("fire")
        items.append(OpenItem(
            "wall-not-sealed", "cables", f"Raceway {name_between(job, s)}", f"passes a wall or floor that is {s.wall}, and "
            "no seal is planned", "1 opening", "NFPA 70 300.21; the rating of the wall is the architect's" if fire else
            "common practice, no source: one open gap undoes a sound-rated wall",
            "plan a tested firestop system for this opening, by whoever may fit it" if fire else
            "plan a seal that can be opened again", MEND, STRINGS, ("segment", s.id)))
    return items


def _ratings(job: Job, known: Sequence[Line]) -> list[OpenItem]:
    """Cables in air-handling spaces and shafts whose jacket is not rated for it; metal raceway makes it unnecessary."""
    segments = {s.id: s for s in job.all(Segment)}
    wrong: dict[tuple[str, str, str], set[str]] = {}
    for line in known:
        if line.type is None:
            continue
        for i in line.way.segments:
            s = segments.get(i)
            need = NEEDS.get(s.space) if s else None
            if s is None or need is None or s.way in METAL:
                continue
            has = line.type.rating
            if not has or ORDER.index(has) < ORDER.index(need):
                wrong.setdefault((line.type.id, s.space, has), set()).add(s.name)
    items = []
    for (type_id, space, has), names in wrong.items():
        label = next((line.type.name for line in known if line.type and line.type.id == type_id), type_id)
        us = job.settings.basis == "US"
        items.append(OpenItem(
            "cable-rating", "cables", f"Cable {label}", f"lies in a space that is {space}: "
            + (f"its jacket is rated '{has}'" if has else "what its jacket is rated for is not known"),
            f"{len(names)} raceways: {', '.join(sorted(names)[:4])}{' ...' if len(names) > 4 else ''}",
            "NFPA 70 300.22(C) and the cable substitution table (nec_cable_types)" if us else
            "reaction to fire by the national rules for construction products: ask (from memory)",
            (f"cable marked {MARKS[NEEDS[space]]}, or metal raceway" if us else
             "cable of the class that the building asks for, or metal raceway"), MEND if has else STOP, STRINGS,
            ("cabletype", type_id), "" if has else f"What is printed on the jacket of {label}?"))
    return items


def _metal(job: Job) -> list[OpenItem]:
    """Plastic raceway in a room for an audience."""
    plastic = [s for s in job.all(Segment) if s.way in PLASTIC and not s.blocked and not s.existing
               and not s.space.startswith("concrete")]
    if not plastic:
        return []
    mains = any(s.signal_class in ("mains", "any") for s in plastic)
    us = job.settings.basis == "US"
    return [OpenItem(
        "raceway-not-metal", "cables", "Plastic raceway", f"is planned where an audience gathers: "
        f"{', '.join(s.name for s in plastic[:6])}{' ...' if len(plastic) > 6 else ''}", f"{len(plastic)} raceways",
        "NFPA 70 518.4(A) and 520.5(A): metal raceway, or 2 in of concrete over it; signal wiring has its own articles "
        "(from memory)" if us else "fire and smoke rules of the building: ask (from memory)",
        "metal raceway, or ask the authority" + (" and the licensed electrician" if mains else ""), CHECK, STRINGS,
        ("segment", plastic[0].id))]


def _supports(job: Job, found: Sequence[Raceway]) -> list[OpenItem]:
    """Free paths whose supports nobody has planned, and cable fished where nobody has looked."""
    items = []
    bare = [r.segment for r in found if r.carries and r.segment.way == "free path" and r.segment.supports is None]
    if bare:
        items.append(OpenItem(
            "path-supports", "cables", "Free paths", f"have no supports planned: {', '.join(s.name for s in bare[:6])}"
            + (" ..." if len(bare) > 6 else ""), f"{len(bare)} paths", "common practice, no source: supports of their "
            "own every 4 to 5 ft (1.2 to 1.5 m), never on a ceiling, pipe or sprinkler", "plan hooks or rings, and enter "
            "how far apart", TO_DO, STRINGS, ("segment", bare[0].id)))
    fished = [r.segment for r in found if r.carries and r.segment.way == "fished through"
              and r.segment.string in ("unknown", "in, not proved")]
    if fished:
        names = ", ".join(s.name for s in fished[:6])
        items.append(OpenItem(
            "path-not-proved", "cables", "Fished cable", f"nobody has had a rod through yet: {names}",
            f"{len(fished)} paths",
            "a path counts as usable when a rod or string went through", "try it with a rod before the price is firm", CHECK,
            STRINGS, ("segment", fished[0].id), f"Does a rod go through {names}, and what is in the way?"))
    return items


def _old_cable(job: Job) -> list[OpenItem]:
    """Lines that nobody reuses: what can be reached of them comes out, or is tagged for later."""
    left = [o for o in job.all(OldOutlet) if o.what != "mains" and (not o.reuse or o.tested == "failed")]
    if not left:
        return []
    us = job.settings.basis == "US"
    return [OpenItem(
        "cable-abandoned", "cables", "Old cable", f"is not reused: {', '.join(o.name for o in left[:6])}"
        + (" ..." if len(left) > 6 else ""), f"{sum(max(1, o.count) for o in left)} lines",
        "NFPA 70 640.6, 725.25 and 800.25: abandoned cable that can be reached is removed (from memory)" if us else
        "common practice, no source: cable left in place feeds a fire and confuses the next crew",
        "take out what can be reached, or tag it for later use; price it either way", TO_DO, STRINGS,
        ("oldoutlet", left[0].id))]


def _spares(job: Job, found: Sequence[Raceway]) -> list[OpenItem]:
    """Trunks (raceways from the rack or a pull point to another) without the spare ones that the job's policy asks for."""
    wanted = job.settings.spare_raceways
    if not wanted:
        return []
    spare = {r.segment.id for r in found if r.spare}
    nodes = {n.id: n for n in job.all(Node)}
    short = []
    for (a, b), group in between(job).items():
        trunk = all(i in nodes and nodes[i].what in ("rack", "pull point", "wall opening") for i in (a, b))
        new = [s for s in group if s.id not in spare and s.signal_class != "mains" and not s.existing
               and s.way not in (*FREE, "trunking")]
        if trunk and new and sum(s.id in spare for s in group) < wanted:
            short.append((name_between(job, group[0]), group[0].id))
    if not short:
        return []
    return [OpenItem("no-spare-raceway", "cables", "Trunks", f"have fewer spare raceways than {wanted}: "
                     + ", ".join(name for name, _ in short), f"{len(short)} trunks", "this job's policy for spare raceways",
                     "lay one more beside it while the floor is open, with a string in it", CHECK, STRINGS,
                     ("segment", short[0][1]))]
