"""Who furnishes, installs, terminates and tests each item, and what nobody has taken on."""

from collections.abc import Mapping
from dataclasses import dataclass

from stagefloor.core.open_items import CHECK, OpenItem
from stagefloor.core.units import FOOT
from stagefloor.job.model import Job
from stagefloor.job.workplan import Duty
from stagefloor.steps.labour import quantities as names

RACEWAYS = "Raceways with pull strings"
FOUR = ("furnished", "installed", "terminated", "tested")
NOBODY = {"", "nobody", "none", "?", "–", "-", "unknown"}
OTHER = "Other"  # trade of the items that the user added
US, ELECTRICIAN, GENERAL = "us", "the licensed electrician", "the carpenter or general contractor"


@dataclass(frozen=True)
class Item:
    """An item of the work: the trade, the quantities it stands for, who does it by custom; None: not needed."""

    trade: str
    name: str
    counts: tuple[str, ...]
    custom: tuple[str | None, str | None, str | None, str | None]
    unit: str = ""


# Who does what by custom: a school auditorium bid and a county school master specification split it this way
# (read on public pages); cores and framing have no custom, so they are asked.
ITEMS = (
    Item("Sound", "Floor boxes with covers", ("floor boxes",), (US, US, None, US)),
    Item("Sound", "Wall panels", ("wall panels",), (US, US, None, US)),
    Item("Sound", "Signal openings with connectors", ("openings:",), (US, US, US, US)),
    Item("Sound", "Lines, labelled at both ends", ("labels",), (US, US, US, US)),
    Item("Electrical", RACEWAYS, ("raceway m:",), (ELECTRICIAN, ELECTRICIAN, None, US), "m"),
    Item("Electrical", "Cable tray", ("cable tray m",), (ELECTRICIAN, ELECTRICIAN, None, None), "m"),
    Item("Sound", "Supports for free cable paths", ("cable supports",), (US, US, None, None)),
    Item("Electrical", "Mains outlets behind the barrier", ("openings: mains",), (ELECTRICIAN,) * 4),
    Item("Sound", "Old outlets removed or blanked (mains: the electrician)",
         ("old outlets removed", "old outlets blanked"), (US, US, None, US)),
    Item("General", "Framing, patching and floor finish around boxes, as the engineer says", ("floor boxes",),
         (GENERAL, GENERAL, None, None)),
    Item("General", "Cores and pockets in the slab, as the engineer says", ("cores",), ("", "", None, None)),
)


@dataclass(frozen=True)
class Shared:
    """One item with who does each of the four; None: not needed, empty: nobody. `assumed` columns go by custom."""

    trade: str
    item: str
    quantity: str
    who: tuple[str | None, str | None, str | None, str | None]
    assumed: tuple[str, ...] = ()
    record: tuple[str, str] | None = None

    @property
    def orphans(self) -> tuple[str, ...]:
        """What nobody has taken on, of the four."""
        return tuple(f for f, w in zip(FOUR, self.who, strict=True) if w == "")


def shop_of(job: Job) -> str:
    """The name of the shop, or its trade while it has none."""
    return job.settings.shop.strip() or "the sound contractor"


def duties(job: Job, quantities: Mapping[str, float]) -> tuple[Shared, ...]:
    """Each item that the job has, as entered or by custom, then the rows that the user added."""
    rows = {r.item.strip().lower(): r for r in job.all(Duty) if r.item.strip()}
    shop, found = shop_of(job), []
    for item in ITEMS:
        amount = sum(names.amount(quantities, p) for p in item.counts)
        row = rows.pop(item.name.lower(), None)
        if amount or row is not None:
            found.append(_shared(job, item, amount, row, shop))
    for row in rows.values():
        who = tuple(_named(getattr(row, f)) for f in FOUR)
        found.append(Shared(OTHER, row.item.strip(), "", (who[0], who[1], who[2], who[3]), (), (row.kind, row.id)))
    return tuple(found)


def _shared(job: Job, item: Item, amount: float, row: Duty | None, shop: str) -> Shared:
    who: list[str | None] = []
    assumed = []
    for field, custom in zip(FOUR, item.custom, strict=True):
        typed = getattr(row, field).strip() if row is not None else ""
        if typed:
            who.append(_named(typed))
        else:
            who.append(shop if custom == US else custom)
            if custom:
                assumed.append(field)
    quantity = f"{amount:g}"
    if item.unit:
        quantity = f"{amount / FOOT:,.0f} ft" if job.settings.units == "ft-in" else f"{amount:,.0f} m"
    if item.name.startswith("Framing"):
        quantity = "as needed"
    return Shared(item.trade, item.name, quantity, (who[0], who[1], who[2], who[3]), tuple(assumed),
                  None if row is None else (row.kind, row.id))


def _named(word: str) -> str:
    return "" if word.strip().lower() in NOBODY else word.strip()


def open_items(found: tuple[Shared, ...]) -> list[OpenItem]:
    """One item for each row with something that nobody has taken on."""
    return [OpenItem("duty-orphan", "labour", d.item, f"nobody is named by whom it is {' and '.join(d.orphans)}", "",
                     "who does what, as entered or by custom", "name someone, and have them confirm it", CHECK,
                     record=d.record, question="" if d.trade == OTHER else  # a name that the office typed stays inside
                     f"By whom is this {' and '.join(d.orphans)}: {d.item[:1].lower()}{d.item[1:]}?")
            for d in found if d.orphans]
