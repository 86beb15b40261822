"""Amounts of a quantity of the takeoff, as typed: pieces, or a length with or without its unit.

A bare number stands in the units that the job had when it was typed. An edit that changes what it stands in, the units
or the retainage of the job, therefore writes beside it what it stood in so far: such an edit changes what is shown,
never what was agreed.
"""

from stagefloor.core.units import FOOT, Quantity, parse
from stagefloor.job.cables import CableType
from stagefloor.job.commercial import Application, ChangeLine
from stagefloor.job.labour import ActualHours, HourUnit
from stagefloor.job.model import Job
from stagefloor.job.record import Record

Measured = float | Quantity | None
HUNDRED_FEET, THIRTY_METRES = "100 ft", "30 m"  # what the price of a cable type is for, if nothing else is said


def is_length(quantity: str) -> bool:
    """Whether a quantity of the takeoff is counted in metres of cable or raceway."""
    name = " ".join(quantity.lower().split())
    return name.startswith(("cable m:", "raceway m:")) or name.endswith((" cables m", " tray m"))


def in_si(job: Job, quantity: str, amount: Measured) -> float:
    """An amount in pieces or metres; zero for a length of what is counted in pieces (`misfit` says so)."""
    if isinstance(amount, Quantity):
        return amount.si if is_length(quantity) else 0.0
    return (amount or 0.0) * (per_unit(job.settings.units) if is_length(quantity) else 1.0)


def misfit(quantity: str, amount: Measured) -> str:
    """What is wrong with an amount as the end of a sentence; empty if nothing is."""
    if isinstance(amount, Quantity) and not is_length(quantity):
        return f"is counted in pieces, and '{amount}' is a length; enter a bare number"
    return ""


def per_unit(units: str) -> float:
    """Metres in a bare number of a job in these units."""
    return FOOT if units == "ft-in" else 1.0


def with_unit(job: Job, quantity: str, amount: float) -> str:
    """An amount in pieces or metres as a text to be stored: lengths in the job's units, with the unit."""
    if not is_length(quantity):
        return f"{round(amount, 3):.10g}"
    unit = "ft" if job.settings.units == "ft-in" else "m"
    return f"{round(amount / per_unit(job.settings.units), 3):.10g} {unit}"


def price_length(job: Job, kind: CableType) -> float:
    """The metres that the price of a cable type is for."""
    said: Quantity | None = kind.price_for
    return said.si if said is not None else parse(_usual(job.settings.units), "length").si


def _usual(units: str) -> str:
    return HUNDRED_FEET if units == "ft-in" else THIRTY_METRES


def kept(before: Job, after: Job) -> Job:
    """The job after an edit, with everything that is bare standing in what it stood in before."""
    records: list[Record] = []
    if before.settings.units != after.settings.units:
        records += _lengths(after, before.settings.units)
    share = before.pricing().retainage
    if share != after.pricing().retainage:  # without a share before, only what has a date was sent on its terms
        records += [r.model_copy(update={"retainage": share or 0.0}) for r in after.all(Application)
                    if r.retainage is None and (share is not None or r.date)]
    return after.with_records(records) if records else after


def _lengths(job: Job, units: str) -> list[Record]:
    tasks = {u.id: u.quantity for u in job.all(HourUnit)}
    amounts: list[tuple[Record, Measured, str]] = [
        *((r, r.amount, r.quantity) for r in job.all(ChangeLine)),
        *((r, r.amount, tasks.get(r.task, "")) for r in job.all(ActualHours))]
    unit = "ft" if units == "ft-in" else "m"
    found = [r.model_copy(update={"amount": parse(f"{a:.15g} {unit}", "length")})
             for r, a, quantity in amounts if isinstance(a, float) and is_length(quantity)]
    usual = parse(_usual(units), "length")
    return found + [r.model_copy(update={"price_for": usual}) for r in job.all(CableType)
                    if r.price is not None and r.price_for is None]

