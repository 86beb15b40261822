"""Where a job is open on this computer, so that a second start leads to the first. The note is for this user alone."""

import contextlib
import hashlib
import json
import os
import re
from pathlib import Path

from stagefloor.entry.first_link import ask

OURS = re.compile(r"http://(localhost|127\.0\.0\.1):\d{1,5}/\S*doc/tree/(?P<step>[A-Za-z_]+)\.ipynb\?token=[0-9A-Za-z]+")


def _note(job: Path) -> Path:
    home = Path(os.environ.get("STAGEFLOOR_HOME") or Path.home() / ".stagefloor")
    return home / "open" / f"{hashlib.sha256(str(job.resolve()).encode()).hexdigest()[:32]}.json"


def note_open(job: Path, address: str) -> None:
    """Note that the job is served at `address`; if the note can't be written, a second start opens the job again."""
    with contextlib.suppress(OSError):
        note = _note(job)
        note.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with contextlib.suppress(FileNotFoundError):
            note.unlink()
        with open(os.open(note, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            json.dump({"address": address, "process": os.getpid()}, file)


def forget(job: Path) -> None:
    """Take our own note away."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        if json.loads(_note(job).read_text("utf-8"))["process"] == os.getpid():
            _note(job).unlink()


def already_open(job: Path, step: str | None = None) -> str:
    """The address at which this user has the job open already, at `step`; empty if no such server answers."""
    try:
        address = str(json.loads(_note(job).read_text("utf-8"))["address"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    found = OURS.fullmatch(address)
    if found is None:
        return ""
    try:
        ask(address, "/api/status")
    except (OSError, ValueError):  # also what says that nobody listens or that the token is another's
        return ""
    return address.replace(f"/{found['step']}.ipynb?", f"/{step}.ipynb?") if step else address
