"""Earlier states of a job that are kept beside its file: which there are, and one of them as it was."""

from dataclasses import dataclass
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job import disk, store
from stagefloor.job.model import Job


@dataclass(frozen=True)
class Version:
    """The job after edit number `sequence`; `name` says what that edit was, `when` in seconds since 1970 (0: unknown)."""

    sequence: int
    name: str
    when: float
    path: Path


def kept(path: Path | str) -> list[Version]:
    """The kept states of a job before its present one, the newest first."""
    target = store.job_file(path)
    names = {e.sequence: e for e in store.edits(target)}
    now = store.read(target).job.sequence
    found = []
    folder = target.parent / "history"
    for number, file in disk.numbered(folder):
        if number < now:
            edit = names.get(number)
            name, when = (edit.name, edit.when) if edit else (f"edit {number}", 0.0)
            found.append(Version(number, name, when, folder / file))
    return found


def job_of(version: Version) -> Job:
    """The job as it was; a Problem if that state is not kept any more or can't be read."""
    if not version.path.is_file():
        raise Problem(f"The job as it was after '{version.name}' is not kept any more; choose a later state.")
    return store.read(version.path).job
