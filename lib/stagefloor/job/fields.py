"""How a field of a record is typed, read, written and named on screen. Knows no record."""

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer
from pydantic.fields import FieldInfo

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.units import Quantity, parse

YES = {"yes", "y", "true", "1", "x"}
NO = {"no", "n", "false", "0", ""}


def _quantity(kind: str) -> Any:
    def read(value: object) -> Quantity | None:
        if value is None or value == "":
            return None
        if isinstance(value, Quantity):
            return value
        try:
            return parse(str(value), kind)
        except Problem as problem:  # the model library only carries ValueError; the sentence goes along
            raise ValueError(problem.sentence) from None

    return Annotated[Quantity | None, BeforeValidator(read),
                     PlainSerializer(lambda q: None if q is None else q.text)]


def _count(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and value >= 0:
        return value
    text = str(value if value is not None else "").strip()
    if text == "":
        return 0
    if not text.isascii() or not text.isdigit() or len(text) > 6:
        raise ValueError(f"'{text[:30]}' is not a whole number of zero or more; type for example 4.")
    return int(text)


def _number(value: object) -> float | None:
    if value is None or str(value).strip() == "":
        return None
    text = str(value).strip().rstrip("%").strip().replace("−", "-")
    try:
        number = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        number = float("nan")
    if number != number or number in (float("inf"), float("-inf")):
        raise ValueError(f"'{text[:30]}' is not a number; type for example 12.5.")
    return number


def _money(value: object) -> Decimal | None:
    if value is None or str(value).strip() == "":
        return None
    text = str(value).strip().lstrip("$£€").replace(",", "").strip()
    try:
        amount = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"'{text[:30]}' is not an amount of money; type for example 1250.00.") from None
    if not amount.is_finite():
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
    if len(text) > 4000:
        raise ValueError(f"This text has {len(text)} characters; 4,000 are the most.")
    return "".join(c for c in text if c >= " " or c in "\n\t")


def _ids(value: object) -> tuple[str, ...]:
    if isinstance(value, str):
        return tuple(part.strip() for part in value.replace(";", ",").split(",") if part.strip())
    return tuple(str(v) for v in value) if isinstance(value, list | tuple) else ()


Length = _quantity("length")
Mass = _quantity("mass")
Force = _quantity("force")
ResistancePerLength = _quantity("resistance_per_length")
Text = Annotated[str, BeforeValidator(_text)]
Count = Annotated[int, BeforeValidator(_count)]
Number = Annotated[float | None, BeforeValidator(_number)]
Money = Annotated[Decimal | None, BeforeValidator(_money),
                  PlainSerializer(lambda d: None if d is None else str(d))]
Flag = Annotated[bool, BeforeValidator(_flag)]
Ref = Annotated[str, BeforeValidator(_text)]
Refs = Annotated[tuple[str, ...], BeforeValidator(_ids)]


def _field(label: str, shape: str, default: object, hint: str, **extra: Any) -> Any:
    return Field(default=default, title=label, description=hint, json_schema_extra={"shape": shape, **extra})


def text(label: str, hint: str = "", default: str = "") -> Any:
    return _field(label, "text", default, hint)


def note(label: str, hint: str = "") -> Any:
    return _field(label, "note", "", hint)


def length(label: str, hint: str = "", default: str | None = None) -> Any:
    """A length; a default is text with its unit and counts as assumed until the user types one."""
    return _field(label, "length", None if default is None else parse(default, "length"), hint)


def mass(label: str, hint: str = "") -> Any:
    return _field(label, "mass", None, hint)


def force(label: str, hint: str = "") -> Any:
    return _field(label, "force", None, hint)


def per_length(label: str, hint: str = "") -> Any:
    return _field(label, "resistance_per_length", None, hint)


def count(label: str, hint: str = "", default: int = 0) -> Any:
    return _field(label, "count", default, hint)


def number(label: str, hint: str = "", default: float | None = None, unit: str = "") -> Any:
    return _field(label, "number", default, hint, unit=unit)


def money(label: str, hint: str = "") -> Any:
    return _field(label, "money", None, hint)


def flag(label: str, hint: str = "", default: bool = False) -> Any:
    return _field(label, "flag", default, hint)


def choice(label: str, choices: Sequence[str], default: str = "", hint: str = "") -> Any:
    """One of `choices`; the empty text means 'not known' where it is the default."""
    return _field(label, "choice", default, hint, choices=list(choices))


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


def check_choice(value: str, choices: Sequence[str], label: str) -> str:
    """The choice meant by a typed word, whatever its letter case; a Problem names the nearest one."""
    if value == "":
        return value
    for known in choices:
        if known.lower() == value.strip().lower():
            return known
    near = nearest(value.strip(), list(choices))
    tip = f"did you mean '{near}'?" if near else f"choose one of: {', '.join(c for c in choices if c)}."
    raise Problem(f"'{value[:40]}' is not a choice for {label.lower()}; {tip}")
