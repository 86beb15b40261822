"""The trim-out of each box: who solders, crimps or punches what, in which order, and what becomes of old outlets.

Counts from the opening schedule. Knows no hour and no money.
"""

from collections import Counter
from dataclasses import dataclass

from stagefloor.job.boxes import Box
from stagefloor.job.cables import Cable, Circuit
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.fit_slab import uncut
from stagefloor.steps.boxes.schedule import Layout, layout

BEHIND = {"downstage": "upstage", "upstage": "downstage", "stage left": "stage right", "stage right": "stage left"}
ASK = "ask the venue"


@dataclass(frozen=True)
class Spot:
    """One place of the face in its order. `use`: 'in use', 'spare' (connector without a line) or 'blank'."""

    place: str
    kind: str = ""
    connector: str = ""
    panel_part: str = ""
    label: str = ""
    line: str = ""
    cable: str = ""
    use: str = "blank"


@dataclass(frozen=True)
class Task:
    """Connectors of one kind: who fits and terminates them, on the bench and in place, with what."""

    kind: str
    connector: str
    count: int
    ends: int
    who: str
    bench: str
    in_place: str
    tool: str
    hardware: str
    time_class: str
    labels: tuple[str, ...]


@dataclass(frozen=True)
class OldLine:
    """An outlet that the box takes the place of: what becomes of it, and of its line."""

    outlet: str
    after: str
    line: str


@dataclass(frozen=True)
class TrimOut:
    """All that trims one box out. `parts`: (what, how many); `exit`: where cables leave under the closed lid."""

    box: Box
    model: str
    hinge: str
    exit: str
    spots: tuple[Spot, ...]
    tasks: tuple[Task, ...]
    parts: tuple[tuple[str, int], ...]
    old: tuple[OldLine, ...]
    ask: tuple[str, ...]


def trim_out(job: Job, box: Box) -> TrimOut:
    """The trim-out of one box; without a fitting model its openings stand in no place and no plate is counted."""
    plan = layout(job, box)
    spots = _spots(job, box, plan)
    lid = box.surface == "floor"
    return TrimOut(
        box, plan.model.label if plan else "", f"towards {box.hinge}" if lid else "",
        # common practice, no source: the free edge of the lid, away from the hinge
        f"{BEHIND[box.hinge]}, on the side away from the hinge" if lid else "",
        spots, _tasks(spots), _parts(plan, spots), _old(job, box), (*uncut(job, box), *_ask(box, spots)))


def _spots(job: Job, box: Box, plan: Layout | None) -> tuple[Spot, ...]:
    lines = {i: c for c in job.circuits() for i in c.openings}
    cables = {i: c.label for c in job.all(Cable) for i in c.circuits}
    known = connections()
    spots, taken = [], set()
    for o in job.openings(box.id):
        circuit = lines.get(o.id)
        row = known[o.what]
        taken.add((o.bay, o.slot))
        spots.append(Spot(f"{o.bay}.{o.slot}" if o.bay else "no place", o.what, row.connector, row.panel_gender, o.label,
                          circuit.label if circuit else "", _cable(circuit, cables),
                          "spare" if o.state == "spare" or circuit is None else "in use"))
    if plan is not None:
        for bay in range(1, plan.model.bays + 1):
            mains = bay > plan.model.bays - plan.mains_bays
            spots += [Spot(f"{bay}.{slot}", kind="mains" if mains else "")
                      for slot in range(1, (plan.model.mains_outlets if mains else plan.model.openings) + 1)
                      if (bay, slot) not in taken]
    return tuple(sorted(spots, key=_order))


def _order(spot: Spot) -> tuple[int, int]:
    bay, dot, slot = spot.place.partition(".")
    return (int(bay), int(slot)) if dot else (10**6, 0)


def _cable(circuit: Circuit | None, cables: dict[str, str]) -> str:
    if circuit is None:
        return ""
    if circuit.reused:
        return "old line, after test"
    return "by the electrician" if circuit.what == "mains" else cables.get(circuit.id, "")


def _tasks(spots: tuple[Spot, ...]) -> tuple[Task, ...]:
    found = []
    for kind, row in connections().items():
        mine = [s for s in spots if s.kind == kind and s.use != "blank"]
        if mine:
            # two openings that parallel one line are two connectors and two ends
            found.append(Task(kind, row.connector, len(mine), sum(s.use == "in use" for s in mine), row.who, row.bench,
                              row.in_place, row.tool, row.hardware, row.time_class, tuple(s.label for s in mine)))
    return tuple(found)


def _parts(plan: Layout | None, spots: tuple[Spot, ...]) -> tuple[tuple[str, int], ...]:
    parts: Counter[str] = Counter()
    if plan is not None:
        parts[plan.model.label] += 1
        parts["module plate for D-size connectors"] += plan.signal_bays
        parts["mains module with barrier, by the electrician"] += plan.mains_bays
    known = connections()
    for spot in spots:
        if spot.use == "blank":
            parts["blank plate for a mains outlet, by the electrician" if spot.kind == "mains"
                  else "blank plate, D-size"] += 1
            continue
        row = known[spot.kind]
        gender = "" if row.panel_gender == "no choice" else f", {row.panel_gender}"
        parts[f"{row.connector}{gender}" + (", by the electrician" if spot.kind == "mains" else "")] += 1
    d_size = sum((s.use == "blank" and s.kind != "mains") or (s.use != "blank" and known[s.kind].d_size) for s in spots)
    parts["countersunk screw M3, two a D-size plate"] += 2 * d_size  # two holes a plate, from memory of drawings
    return tuple((what, n) for what, n in parts.items() if n)


def _old(job: Job, box: Box) -> tuple[OldLine, ...]:
    found = []
    for old in job.all(OldOutlet):
        if old.box != box.id:
            continue
        here = [c.label for c in job.circuits() if c.reused == old.id]
        state = {"passed": "tested, passed", "failed": "tested, failed: not reused"}.get(
            old.tested, "test it before you land it")
        if old.what == "mains":
            line = "by the licensed electrician"
        elif old.reuse and old.tested != "failed":
            line = f"line reused for {', '.join(here)}; {state}" if here else f"line kept as a spare, marked; {state}"
        else:
            line = "line made dead, capped and marked at both ends" + (f"; {state}" if old.tested == "failed" else "")
        count = f"{old.count} x " if old.count > 1 else ""
        found.append(OldLine(f"{count}{old.name} ({old.what})", old.after, line))
    return tuple(found)


def _ask(box: Box, spots: tuple[Spot, ...]) -> tuple[str, ...]:
    found = []
    unsure = [s.label for s in spots if s.panel_part == ASK]
    if unsure:
        found.append(f"Ask the venue which gender {', '.join(unsure)} shall have, before the plate is ordered.")
    homeless = [s.label for s in spots if s.place == "no place"]
    if homeless:
        found.append(f"{', '.join(homeless)}: no place in {box.title} yet, since no model takes them.")
    nowhere = [s.label for s in spots if s.use == "in use" and s.kind != "mains" and not s.cable]
    if nowhere:
        found.append(f"{', '.join(nowhere)}: no cable is entered for the line.")
    return tuple(found)
