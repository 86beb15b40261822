"""The folder 'pictures' beside a job: a file read or put there, and nothing outside it ever touched."""

import os
import re
import stat
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job import disk

FOLDER = "pictures"
MOST_BYTES = 5_000_000  # of one file that is shown; what is put there is smaller
NAME = re.compile(r"[0-9a-f]{24}\.(jpg|png|svg)")
TYPES = {"jpg": "image/jpeg", "png": "image/png", "svg": "image/svg+xml"}


def media_type(file: str) -> str:
    """The type of a file by its name, which is one of ours."""
    return TYPES[file.rpartition(".")[2]]


def find_picture(job_folder: Path, file: str) -> Path:
    """The plain file of that name in the folder; a Problem if there is none, whatever the job file says."""
    if not NAME.fullmatch(file):
        raise Problem("The file of this picture has no name that was made here; add the picture again.")
    path = job_folder / FOLDER / file
    try:
        kind, folder = os.lstat(path).st_mode, os.lstat(path.parent).st_mode
    except OSError:
        raise Problem(f"The file '{file}' is not in the folder '{FOLDER}' of this job: put it back there, or remove the "
                      "picture.") from None
    if not stat.S_ISREG(kind) or not stat.S_ISDIR(folder):  # a link, a device: it may lead anywhere
        raise Problem(f"'{FOLDER}/{file}' leads elsewhere and was not opened; put the plain file in its place.")
    return path


def read_picture(job_folder: Path, file: str) -> bytes:
    """The bytes of a picture; a Problem if it is missing, too large, or can't be read."""
    path = find_picture(job_folder, file)
    try:
        with open(path, "rb") as handle:
            data = handle.read(MOST_BYTES + 1)
    except OSError as error:
        raise Problem(f"'{FOLDER}/{file}' can't be read ({error.strerror}).") from None
    if len(data) > MOST_BYTES:
        raise Problem(f"'{FOLDER}/{file}' is larger than any picture that was made here, and was not opened.")
    return data


def put(path: Path, data: bytes) -> bool:
    """Write a file whose name is made of its content, whole or not at all; True if it was not there before."""
    try:
        new_folder = not path.parent.exists()
        path.parent.mkdir(exist_ok=True)
        if path.parent.is_symlink() or path.is_symlink():
            raise Problem(f"'{path.parent.name}' in the job's folder leads elsewhere; put a plain folder in its place.")
        there = path.is_file()
        if there and path.read_bytes() == data:
            return False
        disk.replace_whole(path, data, disk.beside(path))
        if new_folder:
            disk.flush_folder(path.parent.parent)
        return not there
    except OSError as error:
        raise Problem(f"The picture '{path.name}' can't be written ({error.strerror}); nothing was taken in.") from None
