"""Plugs and lids: do lids close, is there room behind the plate and below the body, is the cover fit for its floor."""

from collections.abc import Iterable

from stagefloor.core.open_items import CHECK, MEND, STOP, TO_DO, OpenItem
from stagefloor.core.units import length_text
from stagefloor.core.workings import JOB, Basis, Working
from stagefloor.job.boxes import Box, BoxModel
from stagefloor.job.model import Job
from stagefloor.reference.connections import connections
from stagefloor.reference.tables import fact
from stagefloor.steps.boxes.fit_depth import depth
from stagefloor.steps.boxes.fit_outline import POSITIONS, Outlines, length_value, si, small_text, zone_at
from stagefloor.steps.boxes.schedule import layout


def _room(side: str, kind: str, needed: float, free: float, display: str) -> Working:
    """The depth that one connector needs, against what the model leaves."""
    return Working(f"Depth {side} the plate for a {connections()[kind].connector}", "d = the connector with its cord",
                   (length_value("d", "needed", needed, display),), length_value("d", "needed", needed, display),
                   (connections()[kind].basis, Basis("free depth of the box model", JOB)),
                   limit=length_value("", "free", free, display))


def depth_and_lid(job: Job, box: Box, shape: Outlines) -> list[OpenItem]:
    """Room below, in front of and behind the plate; listing; wet cleaning; a cover that the public walks over."""
    plan = layout(job, box)
    if plan is None:
        return []
    display, model = job.settings.units, plan.model
    where = ("box", box.id)
    items = depth(job, box, shape, plan)
    if model.front is not None and box.surface == "floor":
        tall = {k: connections()[k].depth_front for k in plan.contents.openings
                if connections()[k].depth_front > model.front.si + 1e-9}
        if tall:
            kind = max(tall, key=lambda k: tall[k])
            items.append(OpenItem("lid-wont-close", "boxes", box.title,
                                  f"the lid does not close over a {connections()[kind].connector} with its cord",
                                  f"{small_text(model.front.si, display)} free, {small_text(tall[kind], display)} "
                                  "needed", f"depth in front of the plate: {connections()[kind].basis.status}",
                                  "a sloped or lowered plate, right-angle connectors, or a deeper model; measure your "
                                  "own connectors", MEND, "panels ordered", where,
                                  workings=(_room("in front of", kind, tall[kind], model.front.si, display),)))
    if model.behind is not None and box.surface == "floor":
        long = {k: connections()[k].depth_behind for k in plan.contents.openings
                if connections()[k].depth_behind > model.behind.si + 1e-9}
        if long:
            kind = max(long, key=lambda k: long[k])
            items.append(OpenItem("behind-too-short", "boxes", box.title,
                                  f"little room behind the plate for {_and(long)}: body, tails and their bend",
                                  f"{small_text(model.behind.si, display)} free, {small_text(long[kind], display)} "
                                  "needed", f"depth behind the plate: {connections()[kind].basis.status}",
                                  "short or angled bodies, a tilted plate, or a deeper model; measure your own parts",
                                  CHECK, "panels ordered", where,
                                  workings=(_room("behind", kind, long[kind], model.behind.si, display),)))
    items += _public(job, box, model)
    if box.surface == "floor" and plan.contents.mains and model.listed != "yes":
        items.append(OpenItem("floor-listing", "boxes", box.title,
                              "whether the enclosure is listed for floors is not " + (
                                  "known" if model.listed == "unknown" else "so by the data sheet"),
                              model.listed, "NEC 314.27(B): boxes for receptacles in floors are listed for floors"
                              if job.settings.basis == "US" else "EN 60670-23 for floor boxes",
                              "ask the maker for the listing, the licensed electrician decides", CHECK,
                              "panels ordered", where, f"Is the model {model.label} listed for use in floors?"))
    if box.surface == "floor" and job.settings.wet_cleaning == "wet" and not model.gasket and \
            {"data", "video"} & set(plan.contents.openings):
        items.append(OpenItem("wet-cleaning", "boxes", box.title,
                              "data or video outlets in a floor that is cleaned wet, under a lid without a gasket",
                              "no gasket", "common practice: such outlets fail early", "a model with a gasket, or a wall "
                              "panel or riser face for these lines", CHECK, "panels ordered", where))
    return items


def _and(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _public(job: Job, box: Box, model: BoxModel) -> list[OpenItem]:
    """A floor box where the public walks: the aisle, and how far the cover stands proud."""
    zone = zone_at(job, si(box.x), si(box.y))
    if box.surface != "floor" or zone is None or not zone.public:
        return []
    where = ("box", box.id)
    us = job.settings.basis == "US"
    flat, most = (fact("floor_rules", k) for k in (("level_vertical", "level_total") if us else
                                                   ("chamfer_england", "threshold_england")))
    limits = (f"{length_text(flat.si(), 'mm')} upright, {length_text(most.si(), 'mm')} in all with the part above "
              + ("bevelled" if us else "chamfered or rounded"))
    basis = "; ".join(dict.fromkeys(r.basis().line() for r in (flat, most)))
    items = [OpenItem("audience-floor", "boxes", box.title,
                      f"stands in {zone.name}, where the public walks: its build-up, aisles and trip rules are its own",
                      f"change of level: {limits}", basis, "keep it out of aisles and ways out; lid flush, cable exit "
                      "closed when nothing is plugged in, no cable across an aisle; the local authority decides", CHECK,
                      POSITIONS, where)]
    if model.proud is None:
        items.append(OpenItem("cover-level-unknown", "boxes", box.title,
                              "how far its cover stands proud where the public walks is not known", "unknown", basis,
                              "read it in the data sheet, or measure a sample", STOP, POSITIONS, where,
                              f"How far does the cover of {model.label} stand proud of the floor?"))
    elif model.proud.si > flat.si() + 1e-9:
        over = model.proud.si > most.si() + 1e-9
        items.append(OpenItem("cover-proud", "boxes", box.title,
                              "its cover stands too proud where the public walks" if over else
                              "its cover stands proud where the public walks: only with its edge bevelled or rounded",
                              f"{length_text(model.proud.si, 'mm')}; {limits}", basis, "a flush cover", MEND if over
                              else CHECK, POSITIONS, where))
    return items


def models_unknown(job: Job) -> list[OpenItem]:
    """One item for each depth that nobody has entered of models in use: its check is not made without it."""
    used = {plan.model.id: plan.model for b in job.boxes() if b.surface == "floor"
            and (plan := layout(job, b)) is not None}
    rows = connections().values()
    asked = (("size-unknown", [m.label for m in used.values() if m.across is None or m.along is None], "size of the cutout",
              "joists, edges, zones and other boxes are checked against it", POSITIONS, "How large is the cutout"),
             ("depth-unknown", [m.label for m in used.values() if m.depth is None], "body depth below the finished floor",
              "what is clear below the floor is checked against it", POSITIONS,
              "How deep is the body below the finished floor"),
             ("front-unknown", [m.label for m in used.values() if m.front is None], "free depth over the plate",
              f"a plug with its cord takes {_span([r.depth_front for r in rows])}", "panels ordered",
              "How deep is the free space over the plate, lid closed"),
             ("behind-unknown", [m.label for m in used.values() if m.behind is None], "free depth behind the plate",
              f"bodies, tails and their bend take {_span([r.depth_behind for r in rows])}", "panels ordered",
              "How deep is the free space behind the plate"))
    return [OpenItem(code, "boxes", "Box models", f"{what} is not entered: {'; '.join(names)}",
                     f"{len(names)} of {len(used)} models in use", basis, "enter it from the data sheet", TO_DO, blocks,
                     question=f"{question}, by the data sheet or measured?")
            for code, names, what, basis, blocks, question in asked if names]


def _span(metres: list[float]) -> str:
    """The least to the most of a column of the connections, in words."""
    return f"{min(metres) * 1000:.0f} to {max(metres) * 1000:.0f} mm (common practice, no source)"
