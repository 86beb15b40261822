"""How a field of a record is typed, read, written and named on screen. Knows no record."""

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from math import isfinite
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer
from pydantic.fields import FieldInfo

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import Quantity, check_comma, parse
from stagefloor.core.words import local

YES = {"yes", "y", "true", "1", "x"}
NO = {"no", "n", "false", "0", ""}
MOST = 999  # of anything that is counted: more is a slip of the finger, and each one becomes an opening and a line
LONGEST_TEXT = 4000  # characters of one field
MOST_MONEY = Decimal("1e12")
LARGEST = 1e9  # of any number, in SI: beyond it nothing on a stage has a meaning
THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")
LENGTH_LIKE = re.compile("[0-9].*[A-DF-Za-df-z'\"′″”’]")  # a number with a unit; 1e3 is none
DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d{1,2}")


def quantity(text: str, kind: str, default_unit: str = "") -> Quantity:
    """A quantity as typed; a Problem also for a number that is too large to count with."""
    try:
        found = parse(text, kind, default_unit)
    except OverflowError:
        found = None
    if found is None or not abs(found.si) <= LARGEST:
        raise Problem(f"'{text[:30]}' is too large a number; check what was typed.")
    return found


def _quantity(kind: str, least: float | None = None, *, more: bool = False) -> Any:
    def read(value: object) -> Quantity | None:
        if value is None or value == "":
            return None
        try:
            found = value if isinstance(value, Quantity) else quantity(str(value), kind)
        except Problem as problem:  # the model library only carries ValueError; the sentence goes along
            raise ValueError(problem.sentence) from None
        if least is not None and found.si < least:
            raise ValueError(f"'{found.text[:30]}' is less than nothing; a size is zero or more.")
        if more and found.si == 0:
            raise ValueError(f"'{found.text[:30]}' is no length; type more than zero, or leave it empty.")
        return found

    return Annotated[Quantity | None, BeforeValidator(read),
                     PlainSerializer(lambda q: None if q is None else q.text)]


def _count(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST:
        return value
    text = str(value if value is not None else "").strip()
    if text == "":
        return 0
    if not text.isascii() or not text.isdigit():
        raise ValueError(f"'{text[:30]}' is not a whole number of zero or more; type for example 4.")
    if len(text.lstrip("0")) > len(str(MOST)):
        raise ValueError(f"'{text[:30]}' is more than {MOST}, the most that can be entered; check it.")
    return int(text)


def _number(value: object) -> float | None:
    if value is None or str(value).strip() == "":
        return None
    text = str(value).strip().rstrip("%").strip().replace("−", "-")
    try:
        check_comma(text)
    except Problem as problem:
        raise ValueError(problem.sentence) from None
    try:
        number = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        number = float("nan")
    if not isfinite(number):
        raise ValueError(f"'{text[:30]}' is not a number; type for example 12.5.")
    if abs(number) > LARGEST:
        raise ValueError(f"'{text[:30]}' is too large a number; check what was typed.")
    return number


def _amount(value: object) -> float | None:
    number = _number(value)
    if number is not None and number < 0:
        raise ValueError(f"'{str(value).strip()[:30]}' is less than nothing; type zero or more.")
    return number


def _measured(least: float | None = None) -> Any:
    def read(value: object) -> float | Quantity | None:
        if isinstance(value, Quantity):
            return value
        if not isinstance(value, str) or not LENGTH_LIKE.search(value):
            return _number(value) if least is None else _amount(value)
        try:
            found = quantity(value, "length")
        except Problem as problem:
            raise ValueError(problem.sentence) from None
        if least is not None and found.si < least:
            raise ValueError(f"'{found.text[:30]}' is less than nothing; type zero or more.")
        return found

    return Annotated[float | Quantity | None, BeforeValidator(read),
                     PlainSerializer(lambda a: a.text if isinstance(a, Quantity) else a)]


def _money(value: object) -> Decimal | None:
    if value is None or str(value).strip() == "":
        return None
    text = str(value).strip().lstrip("$£€").strip()
    if THOUSANDS.fullmatch(text):
        text = text.replace(",", "")
    elif DECIMAL_COMMA.fullmatch(text):
        text = text.replace(",", ".")
    try:
        amount = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"'{text[:30]}' is not an amount of money; type for example 1250.00.") from None
    if not amount.is_finite() or abs(amount) > MOST_MONEY:
        raise ValueError(f"'{text[:30]}' is not an amount of money; type for example 1250.00.")
    return amount


def _flag(value: object) -> bool:
    if isinstance(value, bool):
        return value
    word = str(value if value is not None else "").strip().lower()
    if word in YES:
        return True
    if word in NO:
        return False
    raise ValueError(f"'{word[:30]}' is neither yes nor no.")


def _text(value: object) -> str:
    text = "" if value is None else str(value)
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"This text has {len(text)} characters; {LONGEST_TEXT:,} are the most.")
    if text.isprintable():
        return text
    # half a character (a lone surrogate) can't be written to a file
    return "".join(c for c in text if (c >= " " or c in "\n\t") and not "\ud800" <= c <= "\udfff")


def _ids(value: object) -> tuple[str, ...]:
    if isinstance(value, str):
        value = _text(value).replace(";", ",").split(",")
    if value is None:
        return ()
    if not isinstance(value, list | tuple):
        raise ValueError(f"'{str(value)[:30]}' is not a list of names.")
    return tuple(word for v in value if (word := _text(v).strip()))


Length = _quantity("length")  # a place: may be minus
Size = _quantity("length", 0.0)
Span = _quantity("length", 0.0, more=True)
Mass = _quantity("mass", 0.0)
Force = _quantity("force", 0.0)
ResistancePerLength = _quantity("resistance_per_length", 0.0)
MassPerLength = _quantity("mass_per_length", 0.0)
Text = Annotated[str, BeforeValidator(_text)]
Count = Annotated[int, BeforeValidator(_count)]
Number = Annotated[float | None, BeforeValidator(_number)]  # may be minus
Amount = Annotated[float | None, BeforeValidator(_amount)]
Measured = _measured()  # pieces, or a length with its unit; may be minus
MeasuredAmount = _measured(0.0)
Money = Annotated[Decimal | None, BeforeValidator(_money),
                  PlainSerializer(lambda d: None if d is None else str(d))]
Flag = Annotated[bool, BeforeValidator(_flag)]
Ref = Annotated[str, BeforeValidator(_text)]
Refs = Annotated[tuple[str, ...], BeforeValidator(_ids)]


def _field(label: str, shape: str, default: object, hint: str, **extra: Any) -> Any:
    return Field(default=default, title=label, description=hint, json_schema_extra={"shape": shape, **extra})


def text(label: str, hint: str = "", default: str = "", *, own: bool = False) -> Any:
    """A text as typed. `own`: a name that the workbook itself gives, such as that of a quantity: it is told in the words
    of the job's country, and taken in them.
    """
    return _field(label, "text", default, hint, own=own)


def day(label: str, hint: str = "for example 2026-03-04 or 4 Mar 2026") -> Any:
    """A date; kept year first however it was typed. What is no date stays as it is."""
    return _field(label, "text", "", hint, day=True)


def note(label: str, hint: str = "", *, own: bool = False) -> Any:
    return _field(label, "note", "", hint, own=own)


def length(label: str, hint: str = "", default: str | None = None, *, fine: bool = False, lumber: int | None = None) -> Any:
    """A length; a default is text with its unit and counts as assumed until the user types one.

    `lumber`: a nominal size such as 2x10 may be typed, and means its dressed breadth (0) or depth (1).
    `fine`: of a thing that is measured in inches or millimetres, such as a layer or a joist; a bare number means those.
    """
    return _field(label, "length", None if default is None else parse(default, "length"), hint, fine=fine, lumber=lumber)


def mass(label: str, hint: str = "") -> Any:
    return _field(label, "mass", None, hint)


def force(label: str, hint: str = "") -> Any:
    return _field(label, "force", None, hint)


def per_length(label: str, hint: str = "") -> Any:
    return _field(label, "resistance_per_length", None, hint)


def mass_per_length(label: str, hint: str = "") -> Any:
    return _field(label, "mass_per_length", None, hint)


def count(label: str, hint: str = "", default: int = 0) -> Any:
    return _field(label, "count", default, hint)


def number(label: str, hint: str = "", default: float | None = None, unit: str = "") -> Any:
    return _field(label, "number", default, hint, unit=unit)


def measured(label: str, hint: str = "") -> Any:
    """An amount of some quantity: a bare number of pieces or of the job's units, or a length with its unit."""
    return _field(label, "number", None, hint, measured=True)


def money(label: str, hint: str = "") -> Any:
    return _field(label, "money", None, hint)


def flag(label: str, hint: str = "", default: bool = False) -> Any:
    return _field(label, "flag", default, hint)


def choice(label: str, choices: Sequence[str], default: str = "", hint: str = "", *,
           also: Mapping[str, str] | None = None, shown: Mapping[str, str] | None = None) -> Any:
    """One of `choices`; the empty text means 'not known' where it is the default.

    `also`: choice -> other words that people type for it, with commas; `shown`: choice -> its words in a list on screen.
    """
    words = {local(c, basis).lower(): c for c in choices for basis in ("US", "") if local(c, basis) != c}
    words |= {w.strip(): c for c, given in (also or {}).items() for w in given.split(",")}
    return _field(label, "choice", default, hint, choices=list(choices), also=words, shown=dict(shown or {}))


def ref(label: str, kind: str, hint: str = "") -> Any:
    """The id of one record of `kind`, or empty."""
    return _field(label, "ref", "", hint, ref=kind)


def refs(label: str, kind: str, hint: str = "") -> Any:
    """The ids of records of `kind`, in order."""
    return _field(label, "refs", (), hint, ref=kind)


def shape_of(info: FieldInfo) -> str:
    """How the field is typed: 'text', 'length', 'choice', 'ref' and so on."""
    extra = info.json_schema_extra
    return str(extra["shape"]) if isinstance(extra, dict) else "text"


def extra_of(info: FieldInfo, key: str) -> Any:
    extra = info.json_schema_extra
    return extra.get(key) if isinstance(extra, dict) else None


def check_choice(value: str, choices: Sequence[str], label: str, also: Mapping[str, str] | None = None) -> str:
    """The choice meant by a typed word, whatever its letter case; a Problem names the nearest one.

    Also taken: a word of `also` (word -> choice), and the beginning of one choice if no other choice has that word in it.
    """
    word = " ".join(value.lower().split())
    if word == "":
        return ""
    for known in (*choices, *(also or {})):
        if known.lower() == word:
            return (also or {}).get(known, known)
    words = re.split(r"\W+", word)
    meant = [c for c in choices if c and set(words) <= set(re.split(r"\W+", c.lower()))]
    if len(meant) == 1 and re.split(r"\W+", meant[0].lower())[:len(words)] == words:
        return meant[0]
    if len(meant) > 1:
        raise Problem(f"'{value.strip()[:40]}' can mean more than one thing for {label.lower()}; choose one of: "
                      f"{', '.join(meant)}.")
    near = nearest(value.strip(), [*choices, *(also or {})])
    near = (also or {}).get(near, near)
    tip = f"did you mean {near}?" if near else f"choose one of: {', '.join(c for c in choices if c)}."
    raise Problem(f"'{value[:40]}' is not a choice for {label.lower()}; {tip}")
