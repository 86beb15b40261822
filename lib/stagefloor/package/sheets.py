"""Makes a phone sheet: notes it in the job, writes its one file into the folder 'sheets' beside the job."""

import os
import re
import secrets
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job import edit, store
from stagefloor.job.exchange.preview import Edit
from stagefloor.job.model import Job
from stagefloor.job.sheets import SITE, SURVEY
from stagefloor.package.extract_site import site_sheet
from stagefloor.package.extract_survey import survey_sheet
from stagefloor.readers.phone import page
from stagefloor.results import compute

FOLDER = "sheets"
KINDS = (SURVEY, SITE)


def make_sheet(job_path: Path | str, kind: str, label: str = "", boxes: Sequence[str] = (), *,
               edited: Edit | None = None, today: str = "") -> Path:
    """Make a sheet and hand back where its file is.

    Parameters
    ----------
    kind : 'survey' or 'site'; label : for whom, such as the name of the crew
    boxes : ids of the floor boxes of a site sheet; empty: all
    edited : the transaction that notes the sheet in the job; None: one of its own

    Raises
    ------
    Problem : the job can't be read or written, or the file can't be written.
    """
    if kind not in KINDS:
        raise Problem(f"There is no sheet '{kind[:40]}'; the sheets are {' and '.join(KINDS)}.")
    target = store.job_file(job_path)
    opened = store.read(target)
    results, made, key = compute(opened.job, opened.faults), today or date.today().isoformat(), secrets.token_hex(8)
    language = results.words.language
    if kind == SURVEY:
        text = page(kind, f"Survey of {opened.job.settings.venue or 'the venue'}", survey_sheet(results, key, made),
                    language)
    else:
        text = page(kind, f"Site sheet for {label or 'the crew'}", site_sheet(results, key, made, label, boxes), language)
    name = "-".join(w for w in (kind, _plain(label or opened.job.settings.venue), key[:4]) if w) + ".html"
    file = _write(target.parent / FOLDER, name, text)

    def note(job: Job) -> Job:
        return edit.add(job, "sheet", [{"label": label or f"{kind} {made}", "what": kind, "key": key, "made": made}])[0]

    def own(name: str, change: Callable[[Job], Job]) -> Job:
        return store.transact(target, change, name)

    try:
        (edited or own)(f"{kind.capitalize()} sheet made{f' for {label}' if label else ''}", note)
    except Problem:
        file.unlink(missing_ok=True)
        raise
    return file


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:40]


def _write(folder: Path, name: str, text: str) -> Path:
    beside = folder / f".{name}.{os.getpid()}.new"
    try:
        folder.mkdir(exist_ok=True)
        beside.write_text(text, encoding="utf-8", newline="\n")
        os.replace(beside, folder / name)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise Problem(f"The sheet can't be written to {folder} ({error.strerror}); nothing was changed.") from None
    return folder / name
