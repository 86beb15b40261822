"""The job's own costs for choosing ways and sizes together, and the choice as an edit."""

from stagefloor.job.edit import set_fields
from stagefloor.job.labour import HourUnit, PriceRow
from stagefloor.job.model import Job
from stagefloor.reference import tables
from stagefloor.results.compute import Results
from stagefloor.results.unit_costs import TO_COMPARE, unit_costs
from stagefloor.steps.cables.joint import Joint, joint

# Weights while a size has no price: a metre of raceway against a metre of cable. They are no prices.
EVEN_RACEWAY = 4.0  # for the smallest size, more in proportion to the inside diameter


def joint_ways(results: Results) -> Joint:
    """Ways and sizes together at the shop's hours and prices; even weights as long as a size has neither."""
    job = results.job
    cable = unit_costs(job).metre
    sizes = [r.key[1] for r in tables.load("nec_ch9_table4_raceways") if r.key[0] == "EMT"]
    bore = {r.key[1]: r.si("id") for r in tables.load("nec_ch9_table4_raceways") if r.key[0] == "EMT"}
    priced = {s: _of(job, f"raceway m: {s}") for s in sizes}
    used = {r.size_grown for r in results.raceways if r.size_grown}
    complete = bool(used) and all(priced.get(s) for s in used) and bool(job.pricing().rate)
    if complete:
        return joint(job, results.lines, lambda k: cable.get(k, 0.0),
                     lambda s: priced.get(s) or max(priced.values()), job.settings.currency)
    smallest = min(bore.values())
    return joint(job, results.lines, lambda k: 1.0, lambda s: EVEN_RACEWAY * bore.get(s, smallest) / smallest, TO_COMPARE)


def _of(job: Job, quantity: str) -> float:
    """Hours and material of a metre of raceway, in the job's currency; 0 if neither is entered."""
    rate = float(job.pricing().rate or 0)
    name = quantity.lower()

    def counts(pattern: str) -> bool:
        pattern = pattern.strip().lower()
        return name.startswith(pattern) if pattern.endswith(":") else name == pattern

    hours = sum((h.likely or 0.0) / (h.per or 1.0) for h in job.all(HourUnit) if counts(h.quantity))
    return hours * rate + sum(float(p.cost or 0) / (p.per or 1.0) for p in job.all(PriceRow) if counts(p.quantity))


def ways_taken(job: Job, found: Joint) -> Job:
    """The job with the ways of a joint choice; boxes that keep the shortest way go by nothing."""
    for box in job.boxes():
        via = found.via.get(box.id, ())
        if tuple(box.via) != via:
            job = set_fields(job, "box", box.id, {"via": ", ".join(via)})
    return job
