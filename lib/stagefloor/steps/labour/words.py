"""Hours, days and shares as people say them: rounded, in words first."""

from math import ceil, floor

FEW_HOURS, FEW_DAYS = 10.0, 4.0
SMALL = 1e-6  # days that floating-point sums may lose


def hours(amount: float) -> str:
    """Hours as people see them: to the half hour when they are few, whole otherwise."""
    if amount <= 0:
        return "no hours"
    if amount < FEW_HOURS:
        half = max(round(amount * 2), 1) / 2
        return "half an hour" if half < 1 else f"{half:g} {'hour' if half == 1 else 'hours'}".replace(".5", "½")
    return f"{amount:,.0f} hours"


def days(amount: float) -> str:
    """Days as people see them: to the half day when they are few, else up to the next whole one."""
    if amount <= 0:
        return "no days"
    half = max(ceil(amount * 2 - 0.05), 1) / 2  # a few minutes more are no half day, and work is never no time at all
    return _halves(half) if half < FEW_DAYS else f"{ceil(amount - 0.05)} days"


def slip(amount: float) -> str:
    """Days that may be lost, rounded down: nobody is told of more than there is."""
    if amount <= SMALL:
        return "nothing"
    half = floor(amount * 2 + SMALL) / 2
    if not half:
        return "under half a day"
    return _halves(half) if half < FEW_DAYS else f"{floor(amount + SMALL)} days"


def _halves(half: float) -> str:
    return {0.5: "half a day", 1.0: "1 day"}.get(half, f"{half:g} days".replace(".5", "½"))


def likely_and_cautious(likely: float, cautious: float) -> str:
    """'about 6 days, cautious 8 days'; one figure where they are the same."""
    a, b = days(likely), days(cautious)
    return f"about {a}" if a == b else f"about {a}, cautious {b}"


def share(part: float) -> str:
    """A share of the spread in words."""
    return f"{100 * part:.0f} %" if part >= 0.01 else "under 1 %"
