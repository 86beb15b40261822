"""What to buy: boxes, connectors, blank plates, mains outlets and cable, counted from the opening schedule."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from stagefloor.core.units import long_length_text
from stagefloor.job.boxes import Box
from stagefloor.job.model import Job
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.schedule import Layout
from stagefloor.steps.cables import Line, one_a_cable


@dataclass(frozen=True)
class Order:
    """One line of an order list."""

    item: str
    quantity: str
    note: str = ""


def order_list(job: Job, boxes: Sequence[tuple[Box, Layout | None]], lines: Sequence[Line],
               box_id: str = "") -> list[Order]:
    """The order list of one box, or of the whole job; boxes that fit no model are left out."""
    chosen = [(box, plan) for box, plan in boxes if plan is not None and box_id in ("", box.id)]
    models = Counter(plan.model.label for _, plan in chosen)
    parts = Counter(o.what for box, _ in chosen for o in job.openings(box.id))
    blanks = sum(plan.spare_places for _, plan in chosen)
    orders = [Order(label, str(n), "with barrier where mains is in it") for label, n in models.items()]
    for kind, known in connections().items():
        if parts[kind]:
            note = "by the licensed electrician" if kind == "mains" else \
                "" if known.panel_gender == "no choice" else f"panel part: {known.panel_gender}"
            orders.append(Order(f"{known.connector}, {kind}" if kind != "mains" else "Mains outlet", str(parts[kind]), note))
    if blanks:
        orders.append(Order("Blank plate, D-size", str(blanks), "for spare places: never left as open holes"))
    mine = [line for line in lines if box_id in ("", line.box.id)]
    metres: dict[str, float] = defaultdict(float)
    for line in one_a_cable(mine):
        if line.type:
            metres[line.type.label] += line.metres
    rough = {line.type.label for line in mine if line.type and line.way.rough}
    for label, m in metres.items():
        note = "rough: no raceway is drawn yet" if label in rough else "routed, without waste and reel ends"
        orders.append(Order(label, long_length_text(m, job.settings.units), note) if m else
                      Order(label, "length not known", "enter the way to the rack"))
    if reused := sum(bool(line.circuit.reused) for line in mine):
        orders.append(Order("Old lines reused", str(reused), "after test; no new cable"))
    return orders
