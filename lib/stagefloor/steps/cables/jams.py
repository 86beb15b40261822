"""Three equal cables in a round raceway that may jam in a bend: a risk to be looked at before the pull, not a rule."""

from stagefloor.calculations.raceways import jam_ratio, jam_risk
from stagefloor.core.open_items import CHECK, OpenItem
from stagefloor.core.workings import Working
from stagefloor.steps.cables.dates import STRINGS
from stagefloor.steps.cables.raceways import Raceway, inside_diameter

CABLES = 3  # the note speaks of three; more are very unlikely to jam
ALIKE = 0.05  # share by which diameters may differ and still count as equal; common practice, no source


def jam_working(r: Raceway) -> Working | None:
    """The jam ratio of a raceway that holds three equal cables and nothing else; None for any other."""
    thin, thick = min(r.diameters, default=0.0), max(r.diameters, default=0.0)
    inside = inside_diameter(r)
    alone = r.cables == len(r.diameters) == CABLES and not r.assemblies and not r.segment.used_percent
    if not alone or inside is None or thick >= inside or thick > thin * (1 + ALIKE):
        return None
    return jam_ratio(inside, sum(r.diameters) / CABLES)


def jam_items(found: list[Raceway]) -> list[OpenItem]:
    """One item for each raceway in which three equal cables may jam."""
    items = []
    for r in found:
        working = jam_working(r)
        if working is not None and jam_risk(working):
            items.append(OpenItem(
                "raceway-jam", "cables", f"Raceway {r.segment.name}", "three equal cables may jam in its bends",
                f"{working.result.name} {working.result.amount:.2f}, {working.notes[0].split(':')[0]}",
                "; ".join(b.line() for b in working.basis), "another size; else pull slowly, "
                "all three side by side, with lubricant", CHECK, STRINGS, ("segment", r.segment.id), workings=(working,)))
    return items
