"""A calculation that can show itself: formula, values, basis, result, and the margin to a limit.

Every number that a user is meant to trust comes as a Working. It prints as text, as HTML and as plain data.
"""

from dataclasses import dataclass, field
from html import escape

from stagefloor.core.units import number_text

PUBLISHED = "read in a published table"
PRACTICE = "common practice, no source"
MEMORY = "from memory"
JOB = "this job's own value"
SHOP = "the shop's own value"
ARITHMETIC = "arithmetic"
ROUNDING = 1e-9  # share of a limit that floating-point arithmetic may lose
STATUSES = (PUBLISHED, PRACTICE, MEMORY, JOB, SHOP, ARITHMETIC)


@dataclass(frozen=True)
class Value:
    """One named number: `symbol` in the formula, `amount` in `unit`, shown with `digits` significant digits."""

    symbol: str
    name: str
    amount: float
    unit: str = ""
    digits: int = 4

    def text(self) -> str:
        return f"{number_text(self.amount, self.digits)} {self.unit}".strip()


@dataclass(frozen=True)
class Basis:
    """Where a formula or value comes from: clause, edition, table row or assumption, and how it was read."""

    text: str
    status: str = PUBLISHED

    def __post_init__(self) -> None:
        if self.status not in STATUSES:
            raise ValueError(f"unknown status {self.status!r}")

    def line(self) -> str:
        if self.text and self.status.startswith(self.text):
            return self.status  # 'common practice' need not be said twice
        if self.status in self.text:
            return self.text
        return self.text if self.status == PUBLISHED else f"{self.text} ({self.status})"


@dataclass(frozen=True)
class Working:
    """One calculation with its working.

    Attributes
    ----------
    name : what was calculated, a noun; formula : in mathematical notation with the symbols of `inputs`
    inputs : the values; result : the value found; basis : where it comes from
    limit : a limit on the result, if there is one; sense : '<=' if the result must not exceed it, '>=' otherwise
    notes : assumptions and warnings, such as an extrapolation
    also : further values that the same calculation finds
    """

    name: str
    formula: str
    inputs: tuple[Value, ...]
    result: Value
    basis: tuple[Basis, ...]
    limit: Value | None = None
    sense: str = "<="
    notes: tuple[str, ...] = field(default=())
    also: tuple[Value, ...] = field(default=())

    @property
    def margin(self) -> float | None:
        """Distance to the limit in the result's unit, positive where it holds; None without a limit."""
        if self.limit is None:
            return None
        distance = self.limit.amount - self.result.amount
        return distance if self.sense == "<=" else -distance

    @property
    def holds(self) -> bool | None:
        """Whether the limit is kept; None without a limit. Equal to the limit, but for rounding, is kept."""
        if self.margin is None or self.limit is None:
            return None
        return self.margin >= -ROUNDING * abs(self.limit.amount)

    def _limit_text(self) -> str:
        if self.limit is None or self.margin is None:
            return ""
        words = "at most" if self.sense == "<=" else "at least"
        left = Value("", "", abs(self.margin), self.result.unit, 3).text()
        return f"{words} {self.limit.text()}: " + (f"kept, {left} to spare" if self.holds else f"missed by {left}")

    def as_text(self) -> str:
        """Plain text, one fact a line."""
        lines = [f"{self.name}: {self.result.text()}", f"  {self.formula}"]
        lines += [f"  {v.symbol} = {v.text()}  ({v.name})" for v in self.inputs]
        if self.limit is not None:
            lines.append(f"  limit: {self._limit_text()}")
        lines += [f"  also: {v.name} = {v.text()}" for v in self.also]
        lines += [f"  note: {n}" for n in self.notes]
        lines += [f"  basis: {words}" for words in dict.fromkeys(b.line() for b in self.basis)]
        return "\n".join(lines)

    def as_html(self) -> str:
        """A folded block: the result on the summary line, the working inside. Everything is escaped."""
        rows = "".join(f"<li><i>{escape(v.symbol)}</i> = {escape(v.text())} <small>{escape(v.name)}</small></li>"
                       for v in self.inputs)
        limit = f"<p>{escape(self._limit_text())}</p>" if self.limit is not None else ""
        notes = "".join(f"<p>{escape(v.name)}: {escape(v.text())}</p>" for v in self.also)
        notes += "".join(f"<p>{escape(n)}</p>" for n in self.notes)
        basis = "; ".join(dict.fromkeys(escape(b.line()) for b in self.basis))
        return (f'<details class="sf-working"><summary>{escape(self.name)}: <b>{escape(self.result.text())}</b>'
                f"</summary><p>{escape(self.formula)}</p><ul>{rows}</ul>{limit}{notes}<p><small>Basis: {basis}"
                "</small></p></details>")

    def as_data(self) -> dict[str, object]:
        """Plain data for JSON."""
        def value(v: Value) -> dict[str, object]:
            return {"symbol": v.symbol, "name": v.name, "amount": v.amount, "unit": v.unit}

        return {"name": self.name, "formula": self.formula, "inputs": [value(v) for v in self.inputs],
                "result": value(self.result), "limit": value(self.limit) if self.limit else None,
                "sense": self.sense if self.limit else None, "margin": self.margin, "holds": self.holds,
                "also": [value(v) for v in self.also], "notes": list(self.notes),
                "basis": [{"text": b.text, "status": b.status} for b in self.basis]}
