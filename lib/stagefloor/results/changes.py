"""What changed from one computation of a job to another: every length, route, raceway, label, quantity, hour and price.

Compares results, not edits: a moved rack is one edit and changes a hundred lengths. For the office: it names money.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from stagefloor.core.units import length_text, long_length_text, number_text
from stagefloor.core.workings import Working
from stagefloor.results.compute import Results
from stagefloor.steps.labour.quantities import is_length

# The kinds in the order in which a reader asks; the first five may be told on the site, the rest is the office's.
LINE, RACEWAY, PULL, LABEL, BOX = "line", "raceway", "pull", "label", "box"
QUANTITY, ORDER, PURCHASE, HOURS, COST, PRICE = "quantity", "order", "purchase", "hours", "cost", "price"
ITEM = "open item"
KINDS = (LINE, RACEWAY, PULL, LABEL, BOX, QUANTITY, ORDER, PURCHASE, HOURS, COST, PRICE, ITEM)
SITE = (LINE, RACEWAY, PULL, LABEL, BOX)
THERE = "there"  # the aspect of a thing that came or went
SAME = 1e-9  # share of a number that floating-point arithmetic may lose

Value = float | int | str | bool | Decimal | None | tuple[str, ...]


@dataclass(frozen=True)
class Fact:
    """One value of one thing as it is compared, and as it is read."""

    value: Value
    text: str


@dataclass(frozen=True)
class Thing:
    """A thing of the job with its facts by aspect."""

    subject: str
    facts: Mapping[str, Fact]


@dataclass(frozen=True)
class Change:
    """One aspect of one thing that is not as it was.

    Attributes
    ----------
    kind : one of KINDS; key : the id of the thing; subject : what people call it
    aspect : such as length or route; THERE for a thing that came or went
    before, after : as read; empty where the thing was not, or is no more, there
    difference : after less before, for a number, in SI or the unit of the aspect
    """

    kind: str
    key: str
    subject: str
    aspect: str
    before: str
    after: str
    difference: float | None = None

    @property
    def came(self) -> bool:
        return self.aspect == THERE and not self.before

    @property
    def went(self) -> bool:
        return self.aspect == THERE and not self.after

    def sentence(self) -> str:
        """The change in one plain sentence."""
        told = self.subject.lower().startswith(self.kind) or self.kind == LABEL  # such as 'Price in all', 'line A1-M2'
        thing = self.subject if told else f"{self.kind} {self.subject}"
        if self.came:
            return f"New: {thing}."
        if self.went:
            return f"No more: {thing}."
        return f"{self.subject}: {self.aspect} {self.before or 'none'} becomes {self.after or 'none'}."


def changes(before: Results, after: Results) -> list[Change]:
    """Every change, by kind, then in the order of the job.

    Parameters
    ----------
    before, after : results of two states of one job; texts are in the units of `after`
    """
    display = after.job.settings.units
    found: list[Change] = []
    for kind, make in _MAKERS.items():
        old, new = make(before, display), make(after, display)
        for key in dict.fromkeys([*new, *old]):
            found += _compared(kind, key, old.get(key), new.get(key))
    return found


def _compared(kind: str, key: str, old: Thing | None, new: Thing | None) -> list[Change]:
    if old is None or new is None:
        thing = new or old
        assert thing is not None
        words = "; ".join(f.text for f in thing.facts.values() if f.text) or thing.subject
        return [Change(kind, key, thing.subject, THERE, words if old else "", words if new else "")]
    found = []
    for aspect in dict.fromkeys([*new.facts, *old.facts]):
        a, b = old.facts.get(aspect, Fact(None, "")), new.facts.get(aspect, Fact(None, ""))
        if not _same(a.value, b.value):
            numbers = isinstance(a.value, int | float | Decimal) and isinstance(b.value, int | float | Decimal)
            difference = float(b.value) - float(a.value) if numbers else None  # type: ignore[arg-type]
            found.append(Change(kind, key, new.subject, aspect, a.text, b.text, difference))
    return found


def _same(a: Value, b: Value) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) <= SAME * max(1.0, abs(a), abs(b))
    return a == b


# --- what is compared, kind by kind


def _lines(r: Results, display: str) -> dict[str, Thing]:
    names = {s.segment.id: s.segment.name for s in r.raceways}
    found = {}
    for line in r.lines:
        check, way = line.check, line.way
        route = tuple(names.get(s, s) for s in way.segments)
        found[line.circuit.id] = Thing(line.circuit.label or line.circuit.id, {
            "length": Fact(line.metres, length_text(line.metres, display) + (" typed" if line.typed else "")),
            "route": Fact(route, " > ".join(route) or ("rough, no raceway" if way.rough else "straight to the rack")),
            "how the length is known": _word("typed" if line.typed else "rough" if way.rough else "routed"),
            "what is wrong with the way": _word(way.problem), "floor box": _word(line.box.label),
            "cable": _word(line.cable.label if line.cable else ""),
            "cable type": _word(line.type.label if line.type else ""),
            "result": Fact(check.result.amount if check else None, check.result.text() if check else ""),
            "limit": Fact(check.holds if check else None,
                          "" if check is None or check.holds is None else "kept" if check.holds else "missed"),
        })
    return found


def _raceways(r: Results, display: str) -> dict[str, Thing]:
    found = {}
    for x in r.raceways:
        s = x.segment
        found[s.id] = Thing(s.name, {
            "length": Fact(x.metres, length_text(x.metres, display) if x.metres is not None else ""),
            "size": Fact(x.size, x.size), "size now": Fact(x.size_now, x.size_now),
            "size with growth": Fact(x.size_grown, x.size_grown),
            "cables": Fact(x.cables, str(x.cables)), "cable area": Fact(x.area, number_text(x.area * 1e6)),
            "assemblies": Fact(x.assemblies, str(x.assemblies)),
            "filled": _working(x.fill), "filled with growth": _working(x.grown),
            "state": _word("out of use" if s.blocked else "full" if s.full else "in use"),
            "problem": Fact(x.problem or x.missing, x.problem or x.missing)})
    return found


def _pulls(r: Results, display: str) -> dict[str, Thing]:
    return {f"{'|'.join(p.segments)} {p.signal_class}": Thing(f"{p.name}, {p.signal_class}", {
        "cables": Fact(p.cables, str(p.cables)), "length": Fact(p.metres, length_text(p.metres, display)),
        "bends": Fact(p.degrees, f"{p.degrees:g} deg"), "tension": _working(p.tension),
        "pull at": Fact(p.pull_at, p.pull_at)}) for p in r.pulls}


def _labels(r: Results, display: str) -> dict[str, Thing]:
    found = {c.id: Thing(f"line {c.label}", {"label": Fact(c.label, c.label), "rack position": Fact(c.rack, c.rack)})
             for c in r.job.circuits()}
    count: Counter[str] = Counter()
    for one in r.labels:  # as printed; two of the same are two
        key = f"{one.use} {one.end} {one.text}"
        count[key] += 1
        found[f"{key} {count[key]}"] = Thing(f"printed {one.text} at {one.end}", {"text": _word(one.text),
                                                                                  "detail": _word(one.detail)})
    return found


def _boxes(r: Results, display: str) -> dict[str, Thing]:
    found = {}
    for b in r.boxes:
        counts = ", ".join(f"{n} {k}" for k, n in b.contents.openings.items())
        model = b.layout.model.label if b.layout else ""
        found[b.box.id] = Thing(b.box.title, {"model": Fact(model, model), "openings": Fact(counts, counts)})
    return found


def _quantities(r: Results, display: str) -> dict[str, Thing]:
    return {k: Thing(k, {"amount": Fact(v, long_length_text(v, display) if is_length(k) else f"{v:g}")})
            for k, v in r.quantities.items()}


def _orders(r: Results, display: str) -> dict[str, Thing]:
    return {o.item: Thing(o.item, {"quantity": Fact(o.quantity, o.quantity), "note": Fact(o.note, o.note)})
            for o in r.order_list()}


def _purchase(r: Results, display: str) -> dict[str, Thing]:
    count: Counter[str] = Counter()
    found = {}
    for row in r.purchase.rows:
        count[row.item] += 1
        amount = long_length_text(row.amount, display) if row.metres else f"{row.amount:g}"
        found[f"{row.item} {count[row.item]}"] = Thing(row.item, {
            "amount": Fact(float(row.amount), amount), "lead time": Fact(row.lead, f"{row.lead} days"),
            "cost": _money(r, row.cost) if row.cost is not None else Fact(None, "")})
    return found


def _hours(r: Results, display: str) -> dict[str, Thing]:
    e = r.estimate
    found = {t.record[1]: Thing(t.task, {"hours": Fact(t.hours, f"{t.hours} h")}) for t in e.tasks}
    return {"likely": Thing("Hours, likely", {"hours": _working(e.likely_hours)}),
            "cautious": Thing("Hours, cautious", {"hours": _working(e.cautious_hours)}), **found}


def _costs(r: Results, display: str) -> dict[str, Thing]:
    e = r.estimate
    # a cable type may cost several prices, by its kind and length
    return {" ".join(m.record[1:] if m.record[0] != "cabletype" else (m.record[1], m.quantity, m.item)): Thing(
        m.item, {"cost": _money(r, m.cost)}) for m in e.materials} | {
        f"labour {w.task}": Thing(f"Labour: {w.task}", {"cost": _money(r, w.cost)}) for w in e.labour} | {
        f"risk {x.record[1]}": Thing(f"Risk: {x.label}", {"expected": _money(r, x.expected)}) for x in e.risks}


def _prices(r: Results, display: str) -> dict[str, Thing]:
    e = r.estimate
    found = {s.section: Thing(s.section, {"price": _money(r, s.selling)}) for s in e.sections}
    if e.selling is not None:
        found["price"] = Thing("Price before tax", {"price": _money(r, e.selling.price)})
        found["total"] = Thing("Price in all", {"price": _money(r, e.selling.total)})
    found["unpriced"] = Thing("Quantities without a price", {"number": Fact(len(e.unpriced), str(len(e.unpriced)))})
    return found


def _items(r: Results, display: str) -> dict[str, Thing]:
    found: dict[str, Thing] = {}
    for i in r.items:
        key = f"{i.code} {i.subject}"
        key += f" {sum(k.startswith(key) for k in found) + 1}" if key in found else ""
        found[key] = Thing(i.subject, {"what": Fact(i.what, i.what), "by how much": Fact(i.amount, i.amount),
                                       "state": Fact(i.state, i.state), "cure": Fact(i.cure, i.cure)})
    return found


def _working(w: Working | None) -> Fact:
    return Fact(None, "") if w is None else Fact(float(w.result.amount), w.result.text())


def _word(text: str) -> Fact:
    return Fact(text, text)


def _money(r: Results, amount: Decimal) -> Fact:
    return Fact(amount, f"{r.job.settings.currency} {amount:,.2f}")


_MAKERS = {LINE: _lines, RACEWAY: _raceways, PULL: _pulls, LABEL: _labels, BOX: _boxes, QUANTITY: _quantities,
           ORDER: _orders, PURCHASE: _purchase, HOURS: _hours, COST: _costs, PRICE: _prices, ITEM: _items}
