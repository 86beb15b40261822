"""The planner's cost coefficients from the shop's hours and prices of the job, or even ones while there are none."""

from stagefloor.core.units import FOOT
from stagefloor.job.inventory import KINDS
from stagefloor.job.labour import HourUnit, PriceRow
from stagefloor.job.model import Job
from stagefloor.steps.boxes.choice import UnitCosts

# Weights for comparing plans while the shop has entered no money; they are no prices.
EVEN = {"box": 300.0, "opening": 10.0, "end": 8.0, "metre": 2.0}
TO_COMPARE = "points of comparison"  # what costs count in then
LOOSE_METRE = 1.0  # a mild preference for short cables on the floor, the shop's own to judge


def unit_costs(job: Job) -> UnitCosts:
    """Coefficients in the job's currency; without a labour cost an hour they are weights for comparing plans."""
    rate = float(job.pricing().rate or 0)

    def hours(quantity: str) -> float:
        return sum((h.likely or 0.0) / (h.per or 1.0) for h in job.all(HourUnit) if _is(h.quantity, quantity))

    def material(quantity: str) -> float:
        return sum(float(p.cost or 0) / (p.per or 1.0) for p in job.all(PriceRow) if _is(p.quantity, quantity))

    if not rate or not job.all(HourUnit):
        opening, end, metre = (dict.fromkeys(KINDS, EVEN[what]) for what in ("opening", "end", "metre"))
        return UnitCosts(EVEN["box"], EVEN["box"] / 2, opening, end, metre, LOOSE_METRE)
    added = hours("added cables m")
    return UnitCosts(hours("floor boxes") * rate, hours("wall panels") * rate,
                     {k: hours(f"openings: {k}") * rate + material(f"openings: {k}") for k in KINDS},
                     {k: hours(f"cable ends: {k}") * rate for k in KINDS},
                     {k: material(f"cable m: {k}") + added * rate for k in KINDS}, LOOSE_METRE / FOOT)


def currency_words(job: Job) -> str:
    """What the coefficients count in: the job's currency, or points while the shop has entered no labour cost."""
    return job.settings.currency if job.pricing().rate and job.all(HourUnit) else TO_COMPARE


def _is(pattern: str, quantity: str) -> bool:
    pattern = pattern.strip().lower()
    return quantity.startswith(pattern) if pattern.endswith(":") else quantity == pattern
