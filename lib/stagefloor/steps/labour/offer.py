"""The price as the client may see it, as a sum: selling prices and tax, no cost, no hour, no markup."""

from stagefloor.core.workings import ARITHMETIC, Basis, Working
from stagefloor.steps.labour.price import Selling
from stagefloor.steps.labour.rows import money


def offer_working(selling: Selling) -> Working:
    """The total as the sum of the sections that are shown, or of the one price, and the tax."""
    parts = selling.sections or (("price", selling.price),)
    values = [money(f"P{n}", name, amount) for n, (name, amount) in enumerate(parts, 1)]
    if selling.tax is not None and selling.tax_percent is not None:
        values.append(money("T", f"tax, {float(selling.tax_percent):g} %", selling.tax))
    return Working("Price in all", "P = P1 + P2 + ... + T" if selling.tax is not None else "P = P1 + P2 + ...",
                   tuple(values), money("P", "total", selling.total),
                   (Basis("each amount rounded to the cent; the total is the sum of the rounded amounts", ARITHMETIC),))
