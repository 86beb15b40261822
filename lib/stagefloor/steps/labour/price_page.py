"""The price on one page, from quantities to total: every line with its quantity, every sum from the lines above it."""

from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.workings import Working
from stagefloor.steps.labour.estimate import Estimate

RULE = ("Each line is rounded to the cent, half up; every sum is a sum of rounded lines; the contingency of a section and "
        "its markups are rounded each; a sum that is split over the sections is split so that the parts add up to it.")


@dataclass(frozen=True)
class PageLine:
    """One line: what it is, the quantity it counts, how much was counted, how it becomes money, and the money.

    `amount` is in pieces, or metres for cable and raceway; `bought` is with waste, or None for hours.
    """

    what: str
    quantity: str
    amount: float
    bought: float | None
    becomes: str
    cost: Decimal
    working: Working


@dataclass(frozen=True)
class PageSection:
    """One section: its lines, then (name, amount) for each step from their sum to the section's price."""

    name: str
    lines: tuple[PageLine, ...]
    steps: tuple[tuple[str, Decimal], ...]
    price: Decimal


@dataclass(frozen=True)
class PricePage:
    """The whole page: sections, price before tax, tax if there is any, total, and the rule of rounding."""

    sections: tuple[PageSection, ...]
    price: Decimal
    tax: Decimal | None
    total: Decimal
    rule: str = RULE


def price_page(known: Estimate) -> PricePage | None:
    """The page of an estimate; None while nothing has a price."""
    if known.selling is None:
        return None
    sections = []
    for s in known.sections:
        lines = [PageLine(m.item, m.quantity, m.amount, m.bought, "", m.cost, m.working)
                 for m in known.materials if m.section == s.section]
        lines += [PageLine(w.task, w.quantity, t.amount, None, f"{w.hours} h at {known.crew.rate}", w.cost, w.working)
                  for t, w in zip(known.tasks, known.labour, strict=False) if w.section == s.section]
        steps = [("Material", s.material), ("Labour", s.labour), ("Tax that the shop pays on material", s.tax_material),
                 ("Contingency on material", s.contingency_material), ("Contingency on labour", s.contingency_labour),
                 ("Markup on material", s.markup_material), ("Markup on labour", s.markup_labour)]
        sections.append(PageSection(s.section, tuple(lines), tuple(x for x in steps if x[1]), s.selling))
    return PricePage(tuple(sections), known.selling.price, known.selling.tax, known.selling.total)

