"""Who works on this computer, as the history of a job shall name him: typed once, else the name of the login."""

import contextlib
import getpass
import os
from pathlib import Path

from stagefloor.core.problems import Problem

LONGEST = 60


def _place() -> Path:
    return Path(os.environ.get("STAGEFLOOR_HOME") or Path.home() / ".stagefloor") / "name.txt"


def own_name() -> str:
    """The name as typed here once, else the login's; empty if the system knows neither."""
    with contextlib.suppress(OSError, UnicodeDecodeError):
        if name := _clean(_place().read_text("utf-8")):
            return name
    with contextlib.suppress(OSError, KeyError, ImportError):
        return _clean(getpass.getuser())
    return ""


def keep_name(typed: str) -> str:
    """Keep a name for all jobs of this user; an emptied one goes back to the login's. Returns the name that counts."""
    try:
        _place().parent.mkdir(parents=True, exist_ok=True)
        _place().write_text(_clean(typed), "utf-8")
    except OSError as error:
        raise Problem(f"Your name can't be kept in {_place()}: {error.strerror}.") from None
    return own_name()


def _clean(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:LONGEST]
