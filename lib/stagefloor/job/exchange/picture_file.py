"""A photo, a scan or one page of a PDF as a plain picture: made anew, bounded, with nothing but the picture in it."""

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import pypdfium2
from PIL import Image, ImageOps

from stagefloor.core.problems import Problem

MOST_PIXELS = 64_000_000  # of a picture that is read; a phone's largest have about fifty million
LONGEST_SIDE = 3000  # of the picture that is kept
MOST_PAGES = 500
LEAST_SIDE = 8
FEW_COLOURS = 250  # a drawing has few, a photo many
QUALITY = 82
NO_PICTURE = "is no picture that can be read (PNG or JPEG), or it is cut off; save it again, or take a screenshot of it."
TOO_MANY = f"has more than {MOST_PIXELS / 1e6:.0f} million points; save a smaller one."
NO_PDF = "is no PDF that can be read, or it is cut off; print or save it as a PDF again."


def picture(data: bytes, name: str) -> tuple[bytes, str]:
    """A PNG or JPEG made anew from a PNG or JPEG, upright, without what else was in the file, and its ending.

    Raises Problem if it can't be read or has more than MOST_PIXELS; sides over LONGEST_SIDE are made smaller.
    """
    with _sentence(f"{name} {NO_PICTURE}"), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the bound below is ours
        with Image.open(io.BytesIO(data), formats=("PNG", "JPEG")) as found:
            wide, high = found.size
            if wide * high > MOST_PIXELS:
                raise Problem(f"{name} {TOO_MANY}")
            photo = found.format == "JPEG"
            found.draft(None, (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is read at half or a quarter of its size
            found.load()
            return _anew(ImageOps.exif_transpose(found) or found, name, photo)


def pdf_page(data: bytes, name: str, page: int) -> tuple[bytes, str, int]:
    """One page of a PDF, counted from 1, as a picture; its ending, and how many pages there are."""
    with _sentence(f"{name} {NO_PDF}"):
        try:
            document = pypdfium2.PdfDocument(data)
        except pypdfium2.PdfiumError as error:
            if "password" in str(error).lower():
                raise Problem(f"{name} is locked with a password; save a copy without one.") from None
            raise
        pages = len(document)
        if pages > MOST_PAGES:
            raise Problem(f"{name} has {pages:,} pages; {MOST_PAGES} are the most. Save the sheet that you need as a PDF "
                          "of its own.")
        if not 1 <= page <= pages:
            raise Problem(f"{name} has {pages} page{'s' if pages != 1 else ''}; there is no page {page}.")
        sheet = document[page - 1]
        wide, high = sheet.get_size()
        if not (wide > 0 and high > 0):
            raise Problem(f"{name} {NO_PDF}")
        scale = LONGEST_SIDE / max(wide, high)
        if min(wide, high) * scale < LEAST_SIDE:
            raise Problem(f"Page {page} of {name} is a strip, much longer than wide; it can't be shown.")
        drawn = sheet.render(scale=scale, may_draw_forms=False).to_pil()
        return *_anew(drawn, name, photo=False), pages


def _anew(found: Image.Image, name: str, photo: bool) -> tuple[bytes, str]:
    """Only the points of the picture, on white paper: no place, camera, comment or colour profile goes along."""
    if min(found.size) < LEAST_SIDE:
        raise Problem(f"{name} has only {found.width} by {found.height} points; nothing can be seen on it.")
    found.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    if min(found.size) < LEAST_SIDE:
        raise Problem(f"{name} is a strip; it can't be shown.")
    clear = found.convert("RGBA") if found.mode in ("RGBA", "LA", "PA", "P") or "transparency" in found.info else None
    paper = Image.new("RGB", found.size, "white")
    paper.paste(clear if clear is not None else found.convert("RGB"), mask=clear)
    out = io.BytesIO()
    few = None if photo else paper.getcolors(FEW_COLOURS)
    grey = all(r == g == b for _, (r, g, b) in few) if few else False  # type: ignore[misc]  # of an RGB picture
    if few:
        (paper.convert("L") if grey else paper.quantize(FEW_COLOURS)).save(out, "PNG", optimize=True)
        return out.getvalue(), "png"
    paper.save(out, "JPEG", quality=QUALITY)
    return out.getvalue(), "jpg"


@contextmanager
def _sentence(words: str) -> Iterator[None]:
    try:
        yield
    except Problem:
        raise
    except Image.DecompressionBombError:  # far more than our own bound
        raise Problem(f"{words.split(' is no ')[0]} {TOO_MANY}") from None
    except Exception:  # a foreign reader on a foreign file: whatever it stumbles over, the file can't be read
        raise Problem(words) from None
