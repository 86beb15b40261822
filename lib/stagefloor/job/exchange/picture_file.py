"""A picture from outside, drawn anew through Pillow: hostile bytes in, a bounded plain picture out. Knows no job.

What goes out holds points of colour and nothing else: no place, no camera, no comment, nothing behind its end.
"""

import io
import re
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256

from PIL import Image, ImageOps

from stagefloor.core.problems import Problem

MOST_BYTES = 25_000_000  # of a file that is read
MOST_POINTS = 64_000_000  # before anything is unpacked: more than a telephone's camera gives
MOST_PARTS = 5000  # of a JPEG before its picture; cameras make some dozens
MOST_FILLING = 200  # bytes before a part
MOST_SIDE = 1600  # points a side of what is kept
MOST_KEPT = 1_500_000  # bytes of what is kept
QUALITIES = (82, 70, 55, 40)
EXIF_PART, TAKEN = 0x8769, 0x9003
DAY = re.compile(r"(\d{4}):(\d{2}):(\d{2})")
BEGINNINGS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")  # of a JPEG and of a PNG file
TYPES = {"jpg": "image/jpeg", "png": "image/png"}
# What a decoder raises on bytes that were made to trip it (seen in fuzzing, and named in Pillow's own sources).
TORN = (OSError, SyntaxError, ValueError, ArithmeticError, LookupError, TypeError, AttributeError, EOFError, MemoryError,
        struct.error)


@dataclass(frozen=True)
class CleanPicture:
    """A picture as it is kept: its bytes, 'jpg' or 'png', its points across and down, the day that its camera noted."""

    data: bytes
    end: str
    wide: int
    high: int
    taken: str = ""

    @property
    def name(self) -> str:
        return content_name(self.data, self.end)

    @property
    def media_type(self) -> str:
        return TYPES[self.end]


def content_name(data: bytes, end: str) -> str:
    """A file name made of the content, so that the same picture twice is one file."""
    return f"{sha256(data).hexdigest()[:24]}.{end}"


def clean_picture(data: bytes, name: str = "this picture", most_side: int = MOST_SIDE) -> CleanPicture:
    """The picture of a JPEG or PNG file, upright, at most `most_side` points a side; a Problem if it is none.

    Parameters
    ----------
    data : the file's bytes, from anyone; name : how the user calls the file; most_side : points
    """
    with _quiet():
        image = _opened(data, name)
        try:
            if image.format == "PNG":
                return plain_picture(image, most_side, sharp=True)
            taken = _day_taken(image)
            image.draft("RGB", (most_side, most_side))  # a JPEG is unpacked no larger than needed
            return replace(plain_picture(ImageOps.exif_transpose(image), most_side), taken=taken)
        except TORN:
            raise Problem(_damaged(shown(name))) from None


def plain_picture(image: Image.Image, most_side: int = MOST_SIDE, *, sharp: bool = False) -> CleanPicture:
    """An open image drawn anew on white, at most `most_side` points a side; `sharp` keeps a drawing's edges (PNG)."""
    plain = _on_white(image)
    plain.thumbnail((most_side, most_side), Image.Resampling.LANCZOS)
    if sharp:
        data = _stored(plain, "PNG", optimize=True)
        if len(data) <= MOST_KEPT:
            return CleanPicture(data, "png", *plain.size)
    while True:
        for quality in QUALITIES:
            data = _stored(plain, "JPEG", quality=quality, optimize=True)
            if len(data) <= MOST_KEPT:
                return CleanPicture(data, "jpg", *plain.size)
        plain = plain.reduce(2)


def small_picture(data: bytes, side: int, name: str = "this picture") -> CleanPicture:
    """A small copy for a page: a JPEG of at most `side` points a side. A Problem if it can't be read."""
    with _quiet():
        image = _opened(data, name)
        try:
            image.draft("RGB", (side, side))
            return plain_picture(image, side)
        except TORN:
            raise Problem(f"{shown(name)} is damaged and can't be shown.") from None


def size_of(data: bytes, end: str) -> tuple[int, int]:
    """Points across and down of a 'jpg' or 'png', from its head alone; ValueError if it is none."""
    try:
        with _quiet(), Image.open(io.BytesIO(data), formats=("PNG" if end == "png" else "JPEG",)) as found:
            return found.size
    except (*TORN, Image.DecompressionBombError):
        raise ValueError("no picture") from None


@contextmanager
def _quiet() -> Iterator[None]:
    """Pillow's warnings of sizes and torn camera notes would stand on the page; what matters is said in a sentence."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def shown(text: object, longest: int = 40) -> str:
    """A text from outside in a sentence, such as a file's name: one line, printable, short."""
    flat = " ".join("".join(c if c.isprintable() else " " for c in str(text)[:longest * 4]).split())
    return flat if len(flat) <= longest else flat[:longest - 3] + "..."


def _opened(data: bytes, name: str) -> Image.Image:
    """The image with its size read and nothing unpacked yet."""
    called = shown(name)
    if not data:
        raise Problem(f"{called} is empty; choose another file.")
    if len(data) > MOST_BYTES:
        raise Problem(f"{called} has {len(data) / 1e6:.0f} MB; {MOST_BYTES / 1e6:.0f} MB are the most. Save it smaller.")
    if _swollen(data):
        raise Problem(_damaged(called))
    try:
        image = Image.open(io.BytesIO(data), formats=("JPEG", "PNG"))
    except Image.DecompressionBombError:
        raise Problem(_too_many(called)) from None
    except TORN:
        if data.startswith(BEGINNINGS):
            raise Problem(_damaged(called)) from None
        if data[4:8] == b"ftyp":
            raise Problem(f"{called} is a picture or film in a telephone's own format; send it as JPEG (often called "
                          "'most compatible') and add it again.") from None
        raise Problem(f"{called} is no JPEG or PNG picture; save it as one of these and add it again.") from None
    if image.width * image.height > MOST_POINTS:
        raise Problem(_too_many(called))
    return image


def _swollen(data: bytes) -> bool:
    """True for a JPEG with more parts, or more filling, before its picture than any camera makes: it would take long.

    Markers and the filling before them: ITU-T T.81 (1992), B.1.1; from memory.
    """
    at = 2
    for _ in range(MOST_PARTS):
        if not data.startswith(b"\xff\xd8") or data[at:at + 1] != b"\xff" or data[at + 1:at + 2] == b"\xda":
            return False
        filled = data[at:at + MOST_FILLING]
        if not filled.strip(b"\xff"):
            return len(filled) == MOST_FILLING
        at += len(filled) - len(filled.lstrip(b"\xff"))
        at += 1 + int.from_bytes(data[at + 1:at + 3], "big")
    return True


def _day_taken(image: Image.Image) -> str:
    """The day the camera noted, as 2026-03-04, or empty. Exif (CIPA DC-008), tag 0x9003, YYYY:MM:DD; from memory."""
    with suppress(*TORN):
        noted = DAY.match(str(image.getexif().get_ifd(EXIF_PART).get(TAKEN, "")))
        if noted:
            return date(*(int(part) for part in noted.groups())).isoformat()
    return ""


def _damaged(called: str) -> str:
    return f"{called} is damaged or cut off and was left out; fetch it again from where it came."


def _too_many(called: str) -> str:
    return f"{called} would unpack to more than {MOST_POINTS // 1_000_000} million points and was left out; save it smaller."


def _on_white(image: Image.Image) -> Image.Image:
    """A new image with the points of the old one alone: whatever else the file held is not carried over."""
    if image.mode in ("P", "PA") and image.palette is None:
        raise ValueError("its points are numbers of colours, and it names no colours")
    if image.mode.startswith("I"):  # 16 bits of grey; a plain conversion would cut them off at 255
        whole_range = image.convert("I")
        image = whole_range.point(lambda v: v / 257).convert("L")
    clear = "transparency" in image.info or image.mode in ("LA", "PA", "La", "RGBa", "RGBA")
    grey = image.mode in ("1", "L", "LA", "La") and not (clear and image.mode in ("1", "L"))
    plain = Image.new("L" if grey else "RGB", image.size, "white")
    if clear:
        whole = image.convert("RGBA")
        plain.paste(whole.convert(plain.mode), mask=whole.getchannel("A"))
    else:
        plain.paste(image.convert(plain.mode))
    return plain


def _stored(image: Image.Image, form: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()
