"""The file that a phone sheet exports, read as hostile data: plain texts of bounded size, or a sentence. Knows no job."""

import base64
import binascii
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.picture_file import CleanPicture, clean_picture
from stagefloor.job.exchange.picture_file import shown as shown
from stagefloor.job.exchange.preview import REFUSE, Line
from stagefloor.job.exchange.sketch import MOST_DIMENSIONS, MOST_POINTS, MOST_STROKES, Sketch, read_sketch
from stagefloor.job.sheets import SITE, SURVEY

FORMAT = 1
MOST_BYTES = 40_000_000
MOST_ENTRIES = 5000
MOST_MARKS = 2_000_000  # brackets, quotes and commas: 5000 entries and 50 full sketches have fewer
MOST_PICTURES = 200
LONGEST_TEXT = 4000
MOST_EXPORTS = 999
# what a sheet must know, so that its files can be taken in
LIMITS = {"bytes": MOST_BYTES, "pictures": MOST_PICTURES, "strokes": MOST_STROKES, "points": MOST_POINTS,
          "dimensions": MOST_DIMENSIONS}
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:-]{0,79}")
FIELD = re.compile(r"[a-z][a-z0-9_]{0,39}")
PHONE = re.compile(r"[a-z0-9]{1,24}")
NOT_OURS = "is no file of a phone sheet: choose the file that the sheet's button 'Export' made."


@dataclass(frozen=True)
class Entry:
    """One thing that was entered on the phone: for which kind of record, which one (empty: a new one), its texts.

    `was`: the texts that the phone was given.
    """

    id: str
    on: str
    to: str
    fields: Mapping[str, str]
    was: Mapping[str, str]


@dataclass(frozen=True)
class PictureIn:
    """A photo (drawn anew) or a sketch, what it is about and its caption."""

    id: str
    about: str
    label: str
    photo: CleanPicture | None = None
    sketch: Sketch | None = None


T = TypeVar("T")
P = TypeVar("P", Entry, PictureIn)


@dataclass(frozen=True)
class SheetFile:
    """A file of a sheet; `refused` are the parts of it that can't be read, one line each.

    `phone`: the name that the phone gave itself by chance; empty in the file of an older sheet.
    """

    name: str
    kind: str
    sheet: str
    phone: str
    export: int
    by: str
    date: str
    entries: tuple[Entry, ...]
    pictures: tuple[PictureIn, ...]
    refused: tuple[Line, ...]


def read_sheet_file(path: Path | str) -> SheetFile:
    """The sheet's file at `path`; a Problem if it is none."""
    path = Path(path)
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise Problem(too_large(path.name, size))
        data = path.read_bytes()
    except OSError as error:
        raise Problem(f"{path.name} can't be read: {error.strerror}.") from None
    return read_sheet(data, path.name)


def too_large(name: str, size: int) -> str:
    """The sentence for a file that is too large to be read."""
    return (f"{shown(name)} has {size / 1e6:,.0f} MB; {MOST_BYTES / 1e6:.0f} MB are the most. Leave out some photos on "
            "the phone and export again.")


def read_sheet(data: bytes, name: str = "this file") -> SheetFile:
    """A sheet's file from its bytes. A part that can't be read is refused alone; a file that is none is a Problem."""
    if len(data) > MOST_BYTES:
        raise Problem(too_large(name, len(data)))
    if sum(data.count(mark) for mark in (b"[", b"{", b'"', b",")) > MOST_MARKS:  # each is an object in memory
        raise Problem(f"{shown(name)} has more parts than a sheet can hold; leave out some sketches and export again.")
    try:
        found = json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError, MemoryError):
        raise Problem(f"{shown(name)} {NOT_OURS} If it came by mail, fetch it again: it may be cut off.") from None
    if not isinstance(found, dict) or "stagefloor_sheet" not in found:
        raise Problem(f"{shown(name)} {NOT_OURS}")
    version = found["stagefloor_sheet"]
    if version != FORMAT or isinstance(version, bool):
        raise Problem(f"{shown(name)} has the format '{shown(version, 12)}', this version reads {FORMAT}; make a new "
                      "sheet with this version, or fetch the newer workbook.")
    kind, sheet, export = found.get("kind"), found.get("sheet"), found.get("export")
    if kind not in (SURVEY, SITE) or not isinstance(sheet, str) or not NAME.fullmatch(sheet):
        raise Problem(f"{shown(name)} does not say which sheet it comes from; export it again on the phone.")
    if not isinstance(export, int) or isinstance(export, bool) or not 1 <= export <= MOST_EXPORTS:
        raise Problem(f"{shown(name)} does not say which export it is; export it again on the phone.")
    phone = found.get("phone", "")
    if phone != "" and not (isinstance(phone, str) and PHONE.fullmatch(phone)):
        raise Problem(f"{shown(name)} does not say which phone it comes from; export it again on the phone.")
    refused: list[Line] = []
    entries = _parts(found.get("entries", []), "entry", MOST_ENTRIES, _entry, refused)
    photos = _parts(found.get("pictures", []), "photo", MOST_PICTURES, _photo, refused)
    sketches = _parts(found.get("sketches", []), "sketch", MOST_PICTURES, _sketch, refused)
    return SheetFile(shown(name), kind, sheet, phone, export, shown(found.get("by", ""), 80),
                     shown(found.get("date", ""), 20), _once(entries, refused), _once([*photos, *sketches], refused),
                     tuple(refused))


def _no_number(word: str) -> object:
    raise ValueError(word)


def _parts(data: object, noun: str, most: int, read: Callable[[Mapping[str, object]], T],
              refused: list[Line]) -> list[T]:
    if not isinstance(data, list):
        refused.append(Line(REFUSE, f"All {noun} lines", "they are no list"))
        return []
    found = []
    for number, one in enumerate(data[:most], 1):
        try:
            if not isinstance(one, dict):
                raise Problem("it is no record")
            found.append(read(one))
        except Problem as problem:
            refused.append(Line(REFUSE, f"{noun.capitalize()} {number} of the file", problem.sentence))
    if len(data) > most:
        refused.append(Line(REFUSE, f"{len(data) - most} {noun} lines", f"{most} are the most that a sheet can hold"))
    return found


def _once(found: list[P], refused: list[Line]) -> tuple[P, ...]:
    kept: dict[str, P] = {}
    for one in found:
        if one.id in kept:
            refused.append(Line(REFUSE, shown(one.id), "the file holds it twice; the first was read"))
        kept.setdefault(one.id, one)
    return tuple(kept.values())


def _entry(data: Mapping[str, object]) -> Entry:
    on = data.get("on")
    if not isinstance(on, str) or not FIELD.fullmatch(on):
        raise Problem("it does not say what it is")
    return Entry(_name(data, "id"), on, _name(data, "to", ""), _fields(data.get("fields")), _fields(data.get("was", {})))


def _name(data: Mapping[str, object], key: str, default: str | None = None) -> str:
    value = data.get(key, default)
    if value == "" and default == "":
        return ""
    if not isinstance(value, str) or not NAME.fullmatch(value):
        raise Problem(f"'{shown(value)}' is no name of a line of the sheet")
    return value


def _fields(data: object) -> dict[str, str]:
    if not isinstance(data, dict) or len(data) > 40:
        raise Problem("its fields are no record")
    fields = {}
    for name, value in data.items():
        if not isinstance(name, str) or not FIELD.fullmatch(name):
            raise Problem(f"'{shown(name)}' is not a field of the sheet")
        fields[name] = _text(value)
    return fields


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise Problem(f"'{shown(value)}' is no text")
    if len(value) > LONGEST_TEXT:
        raise Problem(f"a text has {len(value):,} characters; {LONGEST_TEXT:,} are the most")
    return cleaned(value)


def cleaned(text: str) -> str:
    """A text as it is taken from a phone: no character that can't be kept, nothing blank at its ends."""
    if not text.isprintable():
        text = "".join(c for c in text if (c >= " " or c in "\n\t") and not "\ud800" <= c <= "\udfff")
    return text.strip()


def _photo(data: Mapping[str, object]) -> PictureIn:
    raw = data.get("data")
    if not isinstance(raw, str):
        raise Problem("the photo itself is missing")
    try:
        photo = base64.b64decode(raw.encode("ascii"), validate=True)
    except (binascii.Error, ValueError):
        raise Problem("the photo itself can't be read") from None
    return PictureIn(_name(data, "id"), _text(data.get("about", "")), _text(data.get("label", "")),
                     clean_picture(photo, "this photo"))


def _sketch(data: Mapping[str, object]) -> PictureIn:
    return PictureIn(_name(data, "id"), _text(data.get("about", "")), _text(data.get("label", "")),
                     sketch=read_sketch(data))
