"""Heads of a table from outside: which field a column is read as, and in which unit its bare numbers are."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pydantic.fields import FieldInfo

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import KINDS as UNIT_KINDS
from stagefloor.core.units import unit_named
from stagefloor.core.words import local
from stagefloor.job import edit
from stagefloor.job.fields import extra_of, quantity, shape_of
from stagefloor.job.inventory import ALSO
from stagefloor.job.model import RECORDS, Job

BARE = re.compile(r"[+\-−]?[\d.,/ -]*\d[\d.,]*([eE][+-]?\d+)?")  # a number, in whichever way, without a unit
LONGEST_UNIT = 12
MONEY_MARKS = {"$": ("USD", "AUD", "CAD", "NZD", "SGD", "HKD"), "€": ("EUR",), "£": ("GBP",)}
FORMER = {"cabletype": {"buyingpricefor100ftor30m": "price"}}  # heads of tables that went out before
CURRENCY = re.compile(r"[A-Za-z]{3}|[$€£]")


@dataclass(frozen=True)
class Column:
    """A column of the file: its head, and the field it is read as (empty: left out)."""

    head: str
    field: str


@dataclass(frozen=True)
class ReadIn:
    """In which unit the bare numbers of a column are (empty: none), whether its head says so, and what in the head looks
    like a unit and is none in which the field can be read."""

    unit: str = ""
    by_head: bool = False
    strange: str = ""


def fields_of(kind: str) -> list[str]:
    """The fields of a kind of record that stand in its table."""
    return [name for name in RECORDS[kind].model_fields if name != "id"
            and (kind, name) not in (("opening", "was"), ("opening", "line"), ("circuit", "was"))]


def title_of(kind: str, name: str) -> str:
    """The head of a column."""
    return RECORDS[kind].model_fields[name].title or name


def matched(kind: str, heads: Sequence[str]) -> tuple[Column, ...]:
    """Columns by their heads: the field's own words first, those words with a unit behind them, a word that means it,
    then the nearest that is close."""
    words = _words(kind)
    also = {_plain(w + plural): n for w, n in ALSO.items() if n in words.values() for plural in ("", "s")} | \
        dict.fromkeys(("name", "id", "label"), RECORDS[kind].name_field)
    found: dict[int, str] = {}

    def claim(field_of: Callable[[str], str]) -> None:
        for i, head in enumerate(heads):
            field = field_of(head) if i not in found else ""
            if field and field not in found.values():
                found[i] = field

    def before_unit(head: str, read: Callable[[str], str]) -> str:
        before, said = _trailing(head)
        field = read(before)
        return field if field and _unit(RECORDS[kind].model_fields[field], said) else ""

    claim(lambda head: words.get(_plain(_unbracketed(head)[0]), ""))
    claim(lambda head: before_unit(head, lambda before: words.get(_plain(before), "")))
    claim(lambda head: also.get(_plain(_unbracketed(head)[0]), ""))
    claim(lambda head: words.get(_close(_plain(_unbracketed(head)[0]), list(words)), ""))
    claim(lambda head: before_unit(head, lambda before: words.get(_close(_plain(before), list(words)), "")))
    return tuple(Column(head, found.get(i, "")) for i, head in enumerate(heads))


def read_in(job: Job, kind: str, column: Column) -> ReadIn:
    """In which unit a column's bare numbers are read."""
    info = RECORDS[kind].model_fields[column.field]
    shape, own = shape_of(info), edit.unit_of(job, info)
    _, bracket = _unbracketed(column.head)
    whole = bracket or _words(kind).get(_plain(column.head)) == column.field
    before, behind = ("", "") if whole else _trailing(column.head)
    said = bracket or behind
    if shape == "money":
        same = said.upper() == job.settings.currency.upper() or job.settings.currency in MONEY_MARKS.get(said, ())
        return ReadIn(job.settings.currency, False, said if bracket and CURRENCY.fullmatch(said) and not same else "")
    if (shape not in UNIT_KINDS and shape != "number") or shape == "count":
        return ReadIn()
    unit = _unit(info, said)
    if unit:
        return ReadIn(unit, True)
    # one short word in brackets, or a word behind the very name of the field: it was meant to say something of the numbers
    like_a_unit = 0 < len(said) <= LONGEST_UNIT and " " not in said and (
        bool(bracket) or _words(kind).get(_plain(before)) == column.field or _any_unit(said))
    return ReadIn(own or edit.default_unit(job, shape), False, said if like_a_unit else "")


def cell_as_typed(kind: str, column: Column, how: ReadIn, text: str) -> str:
    """A cell's text with the unit that the head gives it; a Problem for a bare number under a head that can't be read."""
    info, title = RECORDS[kind].model_fields[column.field], title_of(kind, column.field)
    bare = bool(BARE.fullmatch(text.strip()))
    if how.strange and bare:
        shown, strange = text[:30], how.strange
        if shape_of(info) in UNIT_KINDS:
            raise Problem(f"'{shown}' has no unit, and '{strange}' in the head of its column is none that is known "
                          f"here; write the head as {title} [{how.unit}], or the unit in each cell", column.field)
        read = f"is read in {how.unit}" if how.unit else "has no unit of its own"
        raise Problem(f"'{shown}' stands under a head that says '{strange}', but {title.lower()} {read}; change the "
                      "numbers, and take it out of the head", column.field)
    if how.by_head and shape_of(info) in UNIT_KINDS and not _nominal(info, text):
        try:
            return quantity(text, shape_of(info), how.unit).text
        except Problem as problem:
            raise Problem(problem.sentence, column.field) from None
    return text


def said_of(job: Job, kind: str, column: Column) -> str:
    """What to tell beside a column of how its bare numbers are read; empty if there is nothing to tell."""
    if not column.field:
        return ""
    how = read_in(job, kind, column)
    if how.strange:
        return f"'{how.strange}' in its head is no unit for it: bare numbers are refused"
    if not how.unit:
        return ""
    return f"bare numbers are in {how.unit}" + (", as its head says" if how.by_head else "")


def _words(kind: str) -> dict[str, str]:
    """The words that a field is called by, or was, without blanks -> the field; in our vocabulary and in each country's."""
    return FORMER.get(kind, {}) | {_plain(w): n for n in fields_of(kind) for basis in ("US", "")
                                   for w in (local(title_of(kind, n), basis), n, title_of(kind, n))}


def _close(word: str, known: list[str]) -> str:
    """The known word that is all but the same: same first letter, about as long; a looser guess would mislead."""
    near = nearest(word, known) if len(word) > 3 else ""
    return near if near and near[0] == word[0] and abs(len(near) - len(word)) <= 3 else ""


def _plain(text: str) -> str:
    return "".join(c for c in text.lower() if c.isalnum())


def _unbracketed(head: str) -> tuple[str, str]:
    """A head without what stands in brackets at its end, and that."""
    text = head.rstrip(" .:")
    opens = max(text.rfind("["), text.rfind("(")) if text[-1:] in ("]", ")") else -1
    return (head, "") if opens < 0 else (text[:opens].strip(), text[opens + 1:-1].strip(" ."))


def _trailing(head: str) -> tuple[str, str]:
    """A head without its last word, and that word: 'Across, mm', 'Across in mm', 'Across / mm'."""
    before, _, last = head.rstrip(" .:").replace(",", " ").replace("/", " ").rpartition(" ")
    before = before.strip()
    return before[:-3] if before.lower().endswith(" in") else before, last


def _unit(info: FieldInfo, said: str) -> str:
    """The unit of this field that a word in a head means; empty if it means none."""
    shape, own = shape_of(info), str(extra_of(info, "unit") or "")
    if not said or shape == "count":
        return ""
    if shape in UNIT_KINDS:
        units, found = UNIT_KINDS[shape][1], unit_named(said, shape)
        if shape != "length" or not found:
            return found
        return next(u for u in units if units[u] == units[found])  # 3.5 m is kept, not 3.5 meters
    if shape != "number" or not own:
        return ""
    same = said.lower() == own.lower() or any(
        own in units and (found := unit_named(said, kind)) and units[found] == units[own]
        for kind, (_, units) in UNIT_KINDS.items())
    return own if same else ""


def _any_unit(said: str) -> bool:
    return any(unit_named(said, kind) for kind in UNIT_KINDS)


def _nominal(info: FieldInfo, text: str) -> bool:
    return extra_of(info, "lumber") is not None and bool(edit.NOMINAL.fullmatch(text.strip()))
