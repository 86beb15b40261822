"""Numbers with a unit, a fraction or cents on a page, and where each comes from: a working, or what was typed.

Knows the page as text only. Whole numbers without a unit are counts, numbers of places and parts of labels; they are
read where they stand and are left out here, and so is the writing on drawings (scale bars, places).
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from html import unescape

from stagefloor.core.units import INCH, KINDS, Quantity, parse
from stagefloor.core.workings import Working
from stagefloor.drawings.face import place_name
from stagefloor.results import Results

_WORKING = re.compile(r'<details class="[^"]*working[^"]*">.*?</details>', re.DOTALL)
_UNSEEN = re.compile(r"<(style|script|title|desc|svg)\b.*?</\1>", re.DOTALL)
_FEET = r"""\d+'(?:\s?\d+(?:\s\d+/\d+)?"|\s?\d+/\d+")?|\d+(?:\s\d+/\d+)?"|\d+/\d+\""""
_UNITS = sorted({u for _si, units in KINDS.values() for u in units} - {"'", '"', "C", "t", "l", "g"}, key=len, reverse=True)
_NUMBER = re.compile(
    rf"(?<![\w.,/'-])(?P<feet>{_FEET})"
    rf"|(?<![\w.,/'-])(?P<number>\d[\d,]*(?:\.\d+)?)(?:\s?(?P<unit>{'|'.join(map(re.escape, _UNITS))}|in²|mm²)(?![\w/²]))?"
)  # fmt: skip
# Rules that stand with their source in the same sentence.
QUOTED = ("take 45 mm to 60 mm (common pr", "tails and their bend take 45", "5 mm upright, 15 mm in all",
          "pright, 15 mm in all",
          "No more than 110 N (25 lbf) on", "25 lbf) on each four-pair cable (",
          "cabling guides; 25 lbf; a force", "push-on terminals 4.8 mm",
          "at 50 V or less, nothing plugged", "10 ohm costs 0.05 dB (contact", "mA a leg and 1 ohm change")
_CLAUSES = re.compile(r"\b(?:NEC|IEC|EN|BS|NFPA|ISO|ASTM|IRC|ADA) [\d][\w.\-]*(?:, [\d]+\.[\w.\-]+)*")
_RANGE = re.compile(rf"(?<![\w.,])(\d+(?:\.\d+)?) to (\d+(?:\.\d+)?) ({'|'.join(map(re.escape, _UNITS))})(?![\w/])")
_SQUARE = {"in²": INCH**2, "mm²": 1e-6}


@dataclass(frozen=True)
class Shown:
    """One number on a page: its text, its amount in SI with the kind's name, and half of its last digit."""

    text: str
    around: str
    kind: str
    amount: float
    half: float


def visible(html: str) -> str:
    """The text that a reader sees without opening a working."""
    text = re.sub(r"<[^>]+>", " ", _UNSEEN.sub(" ", _WORKING.sub(" ", html)))
    return re.sub(r"\s+", " ", unescape(text))


def shown(html: str) -> Iterator[Shown]:
    """Every number of a page that has a unit, a fraction or a decimal point."""
    text = _RANGE.sub(r"\1 \3 to \2 \3", _CLAUSES.sub("", visible(html)))
    for match in _NUMBER.finditer(text):
        around = text[max(0, match.start() - 40) : match.end() + 25]
        if match["feet"]:
            yield Shown(match[0], around, "length", parse(match[0], "length").si, INCH / 32 * 1.001)
            continue
        plain = match["number"].rstrip(",").replace(",", "")
        half = 0.5 * 10.0 ** -len(plain.partition(".")[2]) * 1.001
        unit = match["unit"]
        if unit in _SQUARE:
            yield Shown(match[0], around, "area", float(plain) * _SQUARE[unit], half * _SQUARE[unit])
        elif unit:
            kind = next(k for k, (_si, units) in KINDS.items() if unit in units)
            factor = KINDS[kind][1][unit]
            yield Shown(match[0], around, kind, float(plain) * factor, half * factor)
        elif "." in plain:
            yield Shown(match[0], around, "plain", float(plain), half)


def known(workings: Iterable[Working]) -> list[tuple[str, float]]:
    """(kind, amount in SI) of every figure in the workings, plain figures as 'plain'."""
    found = []
    for w in workings:
        for v in (w.result, *w.inputs, *w.also, *([w.limit] if w.limit else [])):
            found.append(_in_si(v.amount, v.unit))
        if w.margin is not None:
            found.append(_in_si(abs(w.margin), w.result.unit))
    return found


def _in_si(amount: float, unit: str) -> tuple[str, float]:
    if unit in _SQUARE:
        return "area", amount * _SQUARE[unit]
    for kind, (_si, units) in KINDS.items():
        if unit and unit in units:
            return kind, amount * units[unit]
    return "plain", float(amount)


def typed(record: object) -> list[tuple[str, float]]:
    """Every figure in what people typed: quantities, numbers, money, and numbers inside their words."""
    if isinstance(record, Quantity):
        return [(record.kind, record.si), (record.kind, abs(record.si)), *typed(record.text)]
    if isinstance(record, bool) or record is None:
        return []
    if isinstance(record, (int, float, Decimal)):
        return [("plain", float(record)), ("percent", float(record)), ("hours", float(record))]
    if isinstance(record, str):
        return [(s.kind, s.amount) for s in shown(record)] if any(c.isdigit() for c in record) else []
    if isinstance(record, Mapping):
        return [f for v in record.values() for f in typed(v)]
    if isinstance(record, (list, tuple, set, frozenset)):
        return [f for v in record for f in typed(v)]
    fields = getattr(type(record), "__dataclass_fields__", None) or getattr(type(record), "model_fields", {})
    return [f for name in fields for f in typed(getattr(record, name))]


class Sources:
    """Every figure that a page may show: in a working, typed by people, or quoted with its source beside it."""

    def __init__(self, results: Results, workings: Iterable[Working] | None = None) -> None:
        job = results.job
        figures = typed(job.tables) + typed(job.settings) + known(results.workings() if workings is None else workings)
        # readings are typed as a bare number in the unit of their test; a place is its bay and its slot
        figures += [_in_si(r.measured, r.unit) for last in results.readings for r in (last, *last.earlier)
                    if r.measured is not None]
        figures += [("plain", float(place_name(bay + 1, slot + 1))) for b in results.boxes if b.layout
                    for bay in range(b.layout.model.bays) for slot in range(b.layout.model.openings)]
        self._by_kind: dict[str, list[float]] = {}
        for kind, amount in figures:
            self._by_kind.setdefault(kind, []).append(amount)

    def holds(self, one: Shown, times: float = 1.0) -> bool:
        """Whether the figure, or `times` it, is known to half of its last digit."""
        return any(abs(a - one.amount * times) <= one.half for a in self._by_kind.get(one.kind, []))


def untraced(html: str, sources: Sources) -> list[str]:
    """The numbers of a page that are neither in a working nor typed, with the words round them."""
    return [s.around for s in shown(html) if not sources.holds(s) and not any(q in s.around for q in QUOTED)]
