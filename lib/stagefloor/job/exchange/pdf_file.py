"""One page of a PDF as a plain picture: bounded in pages and points; nothing in the file runs, forms are not filled."""

import pypdfium2

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.picture_file import CleanPicture, plain_picture

MOST_PAGES = 500
LEAST_SIDE = 8  # points
NO_PDF = "is no PDF that can be read, or it is cut off; print or save it as a PDF again."


def pdf_page(data: bytes, name: str, page: int, side: int) -> tuple[CleanPicture, int]:
    """One page of a PDF, counted from 1, `side` points on its longer side, and how many pages there are."""
    try:
        return _drawn(data, name, page, side)
    except Problem:
        raise
    except Exception as error:  # a foreign reader on a foreign file: whatever it stumbles over, the file can't be read
        if isinstance(error, pypdfium2.PdfiumError) and "password" in str(error).lower():
            raise Problem(f"{name} is locked with a password; save a copy without one.") from None
        raise Problem(f"{name} {NO_PDF}") from None


def _drawn(data: bytes, name: str, page: int, side: int) -> tuple[CleanPicture, int]:
    document = pypdfium2.PdfDocument(data)
    pages = len(document)
    if pages > MOST_PAGES:
        raise Problem(f"{name} has {pages:,} pages; {MOST_PAGES} are the most. Save the sheet that you need as a PDF of its "
                      "own.")
    if not 1 <= page <= pages:
        raise Problem(f"{name} has {pages} page{'s' if pages != 1 else ''}; there is no page {page}.")
    sheet = document[page - 1]
    wide, high = sheet.get_size()
    if not (wide > 0 and high > 0):
        raise Problem(f"{name} {NO_PDF}")
    scale = side / max(wide, high)
    if min(wide, high) * scale < LEAST_SIDE:
        raise Problem(f"Page {page} of {name} is a strip, much longer than wide; it can't be shown.")
    drawn = sheet.render(scale=scale, may_draw_forms=False).to_pil()
    return plain_picture(drawn, side, sharp=True), pages
