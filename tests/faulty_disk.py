"""A disk that fails on purpose: the file calls of the job's store, with a crash at any point of them.

The real folder shows what processes see. Beside it stands what a power cut would leave: of a file only what was flushed
(the rest torn, in any order), of a folder only the names that were flushed (the rest kept or lost one by one). This is
what POSIX promises of write, rename and fsync and no more; a common file system is kinder.
"""

import os
import random
import shutil
from pathlib import Path
from typing import Any

from stagefloor.job import disk, store

BLOCK = 311  # bytes of one write that reaches the disk alone: small, so that tears fall inside every line


class Crash(BaseException):
    """The process is gone: nothing after this runs, not even what cleans up after an error."""


class Body:
    """One file's content: as processes see it, as it is flushed, and the pieces written since (place, bytes)."""

    def __init__(self) -> None:
        self.seen = bytearray()
        self.flushed = b""
        self.pending: list[tuple[int, bytes]] = []

    def write(self, data: bytes) -> None:
        self.pending.append((len(self.seen), data))
        self.seen += data

    def flush(self) -> None:
        self.flushed, self.pending = bytes(self.seen), []

    def after_power_cut(self, rng: random.Random) -> bytes:
        """What was flushed, and of the rest any pieces in any order; a hole between them reads as zeros."""
        out = bytearray(self.flushed)
        for at, data in rng.sample(self.pending, len(self.pending)):
            if rng.random() < 0.5:
                kept = data[:rng.randrange(len(data) + 1)]
                out.extend(b"\0" * max(0, at + len(kept) - len(out)))
                out[at:at + len(kept)] = kept
        return bytes(out)


class Handle:
    """An open file whose every block is a point at which the process can die."""

    def __init__(self, disk: "Disk", path: Path, body: Body, text: bool) -> None:
        self.disk, self.path, self.body, self.text, self.waiting = disk, path, body, text, b""

    def write(self, data: Any) -> None:
        self.waiting += data.encode() if self.text else data

    def flush(self) -> None:
        while self.waiting:
            piece, self.waiting = self.waiting[:BLOCK], self.waiting[BLOCK:]
            with self.path.open("ab") as real:
                if self.disk.dies():
                    piece = piece[:self.disk.rng.randrange(len(piece))]
                    real.write(piece)
                    self.body.write(piece)
                    raise Crash
                real.write(piece)
            self.body.write(piece)

    def fileno(self) -> "Handle":
        return self

    def __enter__(self) -> "Handle":
        return self

    def __exit__(self, kind: object, *_rest: object) -> None:
        if kind is None:
            self.flush()


class Disk:
    """Stands in for open, os and shutil in the store, on one job folder that is there already."""

    def __init__(self, folder: Path, rng: random.Random) -> None:
        self.folder, self.rng, self.left = folder, rng, -1
        self.start()

    def start(self) -> None:
        """What is in the folder now counts as flushed: the machine has just started."""
        self.names: dict[Path, Body] = {}
        for path in self.folder.rglob("*"):
            if path.is_file() and path.name != ".job.lock":
                body = self.names[path] = Body()
                body.seen += path.read_bytes()
                body.flush()
        self.flushed_names = dict(self.names)
        self.pending: list[tuple[Path, Body | None]] = []  # a name now means this file, or nothing
        store._seen.clear()
        getattr(store, "_lines", {}).clear()  # a new process remembers nothing

    def dies(self) -> bool:
        self.left -= 1
        return self.left == 0

    def point(self) -> None:
        """A moment between two calls."""
        if self.dies():
            raise Crash

    def name(self, path: Path, body: Body | None) -> None:
        if body is None:
            self.names.pop(path, None)
        else:
            self.names[path] = body
        self.pending.append((path, body))

    def power_cut(self) -> None:
        """Leave in the folder what the disk would hold after the power came back."""
        left = dict(self.flushed_names)
        for path, body in self.rng.sample(self.pending, len(self.pending)):
            if self.rng.random() < 0.5:
                left.pop(path, None)
                if body is not None:
                    left[path] = body
        for path in [p for p in self.folder.rglob("*") if p.is_file()]:
            os.unlink(path)
        for path, body in left.items():
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(body.after_power_cut(self.rng))

    # what the store calls

    def open(self, path: Any, mode: str = "r", **_options: Any) -> Handle:
        path = Path(path)
        self.point()
        body = self.names.get(path)
        if body is None or "w" in mode:
            path.write_bytes(b"")
            body = Body()
            self.name(path, body)
        return Handle(self, path, body, "b" not in mode)

    def copyfile(self, source: Any, target: Any) -> None:
        with self.open(target, "wb") as handle:
            handle.write(Path(source).read_bytes())

    class _Os:
        """The os module, with the calls that touch the disk handed to it."""

        def __init__(self, disk: "Disk") -> None:
            self.disk = disk

        def __getattr__(self, name: str) -> Any:
            return getattr(os, name)

        def replace(self, source: Any, target: Any) -> None:
            self.disk.point()
            os.replace(source, target)
            body = self.disk.names[Path(source)]
            self.disk.name(Path(target), body)
            self.disk.name(Path(source), None)

        def fsync(self, handle: Any) -> None:
            self.disk.point()
            if isinstance(handle, Handle):
                handle.body.flush()
                return
            folder = Path(handle)
            for path, body in [p for p in self.disk.pending if p[0].parent == folder]:
                self.disk.flushed_names.pop(path, None)
                if body is not None:
                    self.disk.flushed_names[path] = body
            self.disk.pending = [p for p in self.disk.pending if p[0].parent != folder]

        def open(self, folder: Any, _flags: int) -> Any:
            return folder

        def close(self, _handle: Any) -> None:
            return

    def into(self, patch: Any) -> None:
        """Put this disk under the store; `patch` is pytest's monkeypatch."""
        unlink = Path.unlink

        def gone(path: Path, missing_ok: bool = False) -> None:
            unlink(path, missing_ok=missing_ok)
            if path in self.names:
                self.name(path, None)

        class Copies:
            copyfile = staticmethod(self.copyfile)

            def __getattr__(self, name: str) -> Any:
                return getattr(shutil, name)

        calls = self._Os(self)
        for module in (store, disk):
            patch.setattr(module, "open", self.open, raising=False)
            patch.setattr(module, "os", calls)
        patch.setattr(store, "shutil", Copies())
        patch.setattr(Path, "unlink", gone)
