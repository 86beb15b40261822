"""Files of a job on disk: read in full, replaced whole, flushed, and copies by number. Knows no record."""

import json
import os
import secrets
import stat
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from stagefloor.core.problems import Problem

MOST_DIGITS = 18  # of the number of a copy
MOST_BYTES = 64_000_000  # of a job's file; 20,000 records have about 3 MB


class Doubled(ValueError):
    """A record of the file that names one field twice; which of the two is meant nobody knows."""

    def __init__(self, field: str) -> None:
        super().__init__(field)
        self.field = field


def parsed(data: bytes) -> object:
    """The data of a JSON text in UTF-8, with or without the mark that some editors put in front.

    Raises
    ------
    Doubled : one record names a field twice
    ValueError, RecursionError, MemoryError : it is no JSON text, or one that is nested without end
    """
    return json.loads(data.decode("utf-8-sig"), object_pairs_hook=_once)


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        raise Doubled(next(name for name in names if names.count(name) > 1))
    return found


def write_protected(path: Path) -> bool:
    """True if nobody may write the file; replacing it would get round that, for the owner of the folder."""
    return not path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)


def beside(path: Path) -> Path:
    """A new name for the content of `path` while it is written; two computers on one share never choose the same."""
    return path.with_name(f".{path.name}.{os.getpid()}-{secrets.token_hex(4)}.new")


def replace_whole(path: Path, data: bytes, new: Path, last_look: Callable[[], None] = lambda: None) -> None:
    """Write `data` to `new` and flush it, then put it in the place of `path`, with the rights that this one has.

    `last_look` is called just before, and may raise: then all is as it was.
    """
    try:
        with open(new, "wb") as handle:
            with suppress(FileNotFoundError):
                os.chmod(new, stat.S_IMODE(path.stat().st_mode))
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        last_look()
        os.replace(new, path)
    except (OSError, Problem):
        with suppress(OSError):
            new.unlink(missing_ok=True)
        raise
    flush_folder(path.parent)


def flush_folder(folder: Path) -> None:
    """Let the names in a folder outlive a power cut, where the system can."""
    if os.name == "nt":  # a folder can't be flushed there
        return
    with suppress(OSError):  # the file is in its place already; some file systems can't flush a folder
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def numbered(folder: Path) -> list[tuple[int, str]]:
    """Numbers and names of the copies job-NUMBER.json in a folder, the highest first; one that can't be read has none."""
    found = []
    with suppress(OSError):
        for name in os.listdir(folder):
            number = name.removeprefix("job-").removesuffix(".json")
            if name == f"job-{number}.json" and number.isascii() and number.isdigit() and len(number) <= MOST_DIGITS:
                found.append((int(number), name))
    return sorted(found, reverse=True)
