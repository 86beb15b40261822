"""Puts a finished folder in its place: whole or not at all, and never over something that is not ours."""

import os
import shutil
import tempfile
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.package.checks import manifest_faults


def check_place(target: Path) -> None:
    """A Problem if `target` can't take a document set: a file, a folder with other things, a set changed by hand."""
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise Problem(f"'{target}' is not a folder, so no documents can be put there; name another folder.",
                      str(target))
    if not target.exists() or not any(target.iterdir()):
        return
    faults = manifest_faults(target)
    if faults:
        more = f" and {len(faults) - 2} more" if len(faults) > 2 else ""
        raise Problem(f"The folder '{target}' holds something other than an untouched document set "
                      f"({'; '.join(faults[:2])}{more}); nothing was changed. Move it away or name another folder.",
                      str(target))


def workplace(target: Path) -> Path:
    """A new hidden folder beside `target`, on the same disk, to be filled and then put in its place."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=f".{target.name}.new-", dir=target.parent))
    except OSError as error:
        raise Problem(f"Nothing can be written to '{target.parent}' ({error.strerror}); name another folder.",
                      str(target)) from error


def put_in_place(made: Path, target: Path) -> None:
    """Move the finished folder to `target`; a set that was there before is replaced only once this one is whole."""
    check_place(target)
    made.chmod(0o755)
    old = target.parent / f"{made.name}.old"
    try:
        if target.exists():
            os.replace(target, old)
        try:
            os.replace(made, target)
        except OSError:
            if old.exists():
                os.replace(old, target)
            raise
    except OSError as error:
        raise Problem(f"The documents could not be moved to '{target}' ({error.strerror}); what was there before is "
                      "still there. Close programs that show it and try again.", str(target)) from error
    shutil.rmtree(old, ignore_errors=True)
