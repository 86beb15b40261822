"""Damaged and strange drawings and pictures taken into a job, and found in its folder: each is drawn, or refused in one
sentence and changes no byte. `tests/fuzz.py` runs a great many of them.
"""

import hashlib
import io
import json
import logging
import os
import random
import resource
import shutil
import tempfile
import traceback
import warnings
from collections.abc import Callable
from contextlib import suppress
from math import isfinite
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch

from fuzz_inputs import NASTY, house, photo, strange_bytes
from fuzz_job import content, one_sentence
from fuzz_pictures import OTHERS, jpeg_files, pdf_files, png_files, strange_jpeg, strange_pdf, strange_png
from fuzz_vectors import NUMBERS, dxf_files, strange_dxf, strange_svg
from PIL import Image

from stagefloor.core.problems import Problem
from stagefloor.entry.backing import Behind
from stagefloor.entry.gallery import tile
from stagefloor.job import edit, store
from stagefloor.job.background import Background
from stagefloor.job.exchange import apart, background_file, picture_folder
from stagefloor.job.exchange.attaching import attached
from stagefloor.job.exchange.outlines import from_bytes
from stagefloor.job.exchange.picture_file import CleanPicture, clean_picture
from stagefloor.job.exchange.preview import ADD, Plan, carry_out
from stagefloor.job.exchange.sheet_file import shown
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.package.extract_pictures import pictures_for
from stagefloor.steps.background import workings

NAMES = ("hall.dxf", "a\nb.svg", "<b>.pdf", "\ud800.png", "x" * 300, "", "../../hall.jpg")
KINDS = ("dxf", "dxf", "svg", "svg", "pdf", "picture", "attached", "kept")
SIDE = 300  # points of most pictures here: a whole one takes a hundred times as long
PAGE_SECONDS = 2  # of the processor, for the process apart that draws a page; a user's has more
FIGURES = ("", "0", "1", "1", "20", "-3", "150.5", "1e9", "1e-9", "1e308", "-1e308", "1e-320", "nan", "3 m", "12' 6\"",
           "1e300 ft")
KEPT = ("outlines", "outlines", "png", "png", "jpg", "jpg", "nothing", "folder", "link", "pipe", "other")


class Drawings:
    """Drawings and pictures, one after the other, for a job that is as before for each."""

    name = "drawings"

    def __init__(self, folder: Path) -> None:
        logging.getLogger("ezdxf").setLevel(logging.CRITICAL + 1)  # the process apart lets nobody hear it
        self.folder, self.job = folder, house()
        self.dxf, self.pdf, self.png, self.jpeg = dxf_files(), pdf_files(), png_files(), jpeg_files()
        self.text = store.to_text(self.job).encode()
        self._clear()

    def one(self, rng: random.Random) -> str:
        """'taken', 'refused' or 'nothing new' for one file, 'shown' for one in the folder; anything else is raised."""
        kind = rng.choice(KINDS)
        try:
            return f"{kind}: {self._kept(rng) if kind == 'kept' else self._taken(kind, rng)}"
        finally:
            self._clear()

    def _taken(self, kind: str, rng: random.Random) -> str:
        data, name = self.strange(kind, rng), rng.choice(NAMES)
        try:
            if kind == "attached":
                picture = self._cleaned(data, name)
            else:
                drawing = self._read(data, shown(name) or "This file", rng)
        except Problem as problem:
            one_sentence(problem)
            assert self._tree() == {store.FILE: self.text}, "refused, and the job's folder changed"
            return "refused"

        def take_in() -> None:
            self._attach(picture, rng) if kind == "attached" else self._behind(drawing, rng)

        if rng.random() < 0.04:
            return self._in_the_way(rng, take_in)
        take_in()
        return "taken"

    def _in_the_way(self, rng: random.Random, take_in: Callable[[], None]) -> str:
        """Where the file would be put something else lies: nothing is taken in."""
        with tempfile.TemporaryDirectory() as elsewhere:
            for name in (background_file.FOLDER, picture_folder.FOLDER):
                if rng.random() < 0.5:
                    (self.folder / name).write_bytes(b"in the way")
                else:
                    (self.folder / name).symlink_to(elsewhere)
            before = self._tree()
            try:
                take_in()
            except Problem as problem:
                one_sentence(problem)
            else:
                raise AssertionError("taken in through what was in the way")
            assert self._tree() == before and not os.listdir(elsewhere), "refused, and something was left"
        return "in the way"

    def strange(self, kind: str, rng: random.Random) -> bytes:
        """The bytes of a file of this kind; now and then broken without regard to what they are, or two in one."""
        if kind == "dxf":
            made = strange_dxf(rng.choice(self.dxf), rng)
        elif kind == "svg":
            made = strange_svg(rng)
        elif kind == "pdf":
            made = strange_pdf(rng) if rng.random() < 0.8 else strange_bytes(rng.choice(self.pdf), rng)
        elif rng.random() < 0.02:
            made = rng.choice(OTHERS)
        else:
            made = strange_png(rng.choice(self.png), rng) if rng.random() < 0.5 else strange_jpeg(rng.choice(self.jpeg), rng)
        roll = rng.random()
        if roll < 0.12:
            made = strange_bytes(made, rng)
        elif roll < 0.15:
            other = self.strange(rng.choice(KINDS[:-1]), rng)
            made = made[:rng.randrange(len(made) + 1)] + other[rng.randrange(len(other) + 1):]
        return made

    def _read(self, data: bytes, name: str, rng: random.Random) -> apart.Drawing:
        page = rng.choice((1, 1, 1, 2, 3))
        if rng.random() < 0.001:  # the whole way, with a process made anew
            return apart.read_drawing(data, name, page)
        with patch.object(apart, "LONGEST_SIDE", SIDE if rng.random() < 0.995 else apart.LONGEST_SIDE):
            told = _in_a_fork(data, name, page) if b"%PDF-" in data[:1024] else apart.answer(data, name, page)
        return apart.understood(told, name)

    # taken in

    def _behind(self, drawing: apart.Drawing, rng: random.Random) -> None:
        job = self._carried(lambda job: background_file.planned(job, drawing, self.folder))
        assert [line.state for line in background_file.planned(job, drawing, self.folder).lines] == ["as it is"]
        (background,) = job.all(Background)
        self._drawn(background_file.stored(self.folder, background))
        self._scene(job, whole=True)
        self._undone(job)
        job = store.undo(self.folder, job.sequence + 1, word="Redo")
        for _ in range(rng.choice((0, 1, 2))):
            job = self._scaled(job, rng)

    def _scaled(self, job: Job, rng: random.Random) -> Job:
        """One more figure of the background, or what the plan asks for; the plan is drawn with it, or it is refused."""
        background = background_file.shown(job)
        assert background is not None
        before = (self.folder / store.FILE).read_bytes()
        try:
            if rng.random() < 0.5:
                chosen = rng.sample(["ax", "ay", "bx", "by", "distance", "at_x", "at_y", "to_x", "to_y", "turn"],
                                    rng.randint(1, 9))
                texts = {name: rng.choice(FIGURES) for name in chosen}
                store.transact(self.folder, lambda j: edit.set_fields(j, background.kind, background.id, texts), "figures")
            else:
                numbers = (0.0, 1.5, -3.0, 1e9, -1e300, 40_000.0)
                where = [[rng.choice(numbers), rng.choice(numbers)] for _ in range(3)]
                Behind(self._session(job), True).answer({
                    "do": rng.choice(("scale", "scale", "shift", "turn")), "points": where[:2], "x": where[2][0],
                    "y": where[2][1], "distance": rng.choice(FIGURES), "first": rng.choices(FIGURES, k=2),
                    "second": rng.choices(("", *FIGURES), k=2)})
        except Problem as problem:
            one_sentence(problem)
            assert (self.folder / store.FILE).read_bytes() == before, "refused, and the job's file changed"
        job = store.read(self.folder).job
        self._scene(job, whole=False)
        return job

    def _cleaned(self, data: bytes, name: str) -> CleanPicture:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # it would stand on the page
            return clean_picture(data, name)

    def _attach(self, picture: CleanPicture, rng: random.Random) -> None:
        on, to = rng.choice((("job", ""), ("box", self.job.boxes()[0].id), ("survey",
                                                                            next(iter(self.job.tables["survey"])))))
        job = self._carried(lambda job: attached(job, [picture], on, to, caption="x", audience="client"))
        (only,) = job.all(Picture)
        assert picture_folder.read_picture(self.folder, only.file) == picture.data
        self._opens(picture.data, picture.wide, picture.high)
        assert tile(self.folder, job, only)["missing"] == ""
        (made,), said = pictures_for(job, self.folder, "client")
        assert said == [] and made.wide <= 800 and made.high <= 800
        self._undone(job)

    def _carried(self, does: Any) -> Job:
        plan: Plan = does(store.read(self.folder).job)
        assert [line.state for line in plan.lines] == [ADD]
        for line in plan.lines:
            one_sentence(Problem(f"{line.state} {line.subject} {line.words}"))
        carry_out(self.folder, lambda name, change: store.transact(self.folder, change, name), "file", does, plan.lines)
        opened = store.read(self.folder)
        assert opened.faults == () and content(opened.job) == content(plan.job)
        there = {n: d for n, d in self._tree().items() if n in plan.files}
        assert there == dict(plan.files), "not the files that were shown"
        return opened.job

    def _undone(self, job: Job) -> None:
        undone = store.undo(self.folder, job.sequence)
        assert content(undone) == content(self.job), "an undo does not take all of it back"

    # drawn

    def _session(self, job: Job) -> Any:
        return SimpleNamespace(path=self.folder / store.FILE, job=job, words=SimpleNamespace(text=str),
                               edit=lambda name, change: store.transact(self.folder, change, name))

    def _scene(self, job: Job, whole: bool) -> bool:
        """What the browser is told of the background: its bytes and finite numbers, or a sentence."""
        behind = Behind(self._session(job), True)
        told = behind.scene(job)
        json.dumps(told, allow_nan=False).encode()
        said, backing = told["background"], behind.backing(job)
        assert ("problem" in said) == (backing is None)
        if "problem" in said:
            one_sentence(Problem(said["problem"]))
            assert not whole, said["problem"]
            return False
        a, b, x, y = said["way"]
        assert a or b, "scaled to nothing"
        for across in (0, said["size"][0]):
            for up in (0, said["size"][1]):
                place = complex(a, b) * complex(across, up) + complex(x, y)
                assert isfinite(place.real) and isfinite(place.imag), "drawn nowhere"
        background = background_file.shown(job)
        assert background is not None
        file = background_file.stored(self.folder, background)
        for working in workings(background, job.settings.units, file):
            assert isfinite(working.result.amount), "a working without an end"
        return True

    def _drawn(self, file: background_file.Stored) -> None:
        if file.type != "application/json":
            self._opens(file.data, file.wide, file.high)
            return
        found = from_bytes(file.data)
        assert found.lines and all(len(line) > 2 for line in found.lines), "nothing to be seen"
        assert max(x for line in found.lines for x in line[0::2]) <= found.wide
        assert max(y for line in found.lines for y in line[1::2]) <= found.high

    def _opens(self, data: bytes, wide: int, high: int) -> None:
        with Image.open(io.BytesIO(data)) as picture:
            picture.load()
            assert picture.size == (wide, high) and min(picture.size) > 0

    # found in the folder

    def _kept(self, rng: random.Random) -> str:
        """A job whose background and picture somebody else has put in the folder, under names that fit."""
        job, ends = self.job, []
        for cls, folder, what in ((Background, background_file.FOLDER, "shown"), (Picture, picture_folder.FOLDER,
                                                                                  "audience")):
            kind = rng.choice(KEPT)
            data = self._hostile(kind, rng)
            end = {"outlines": "json", "png": "png", "jpg": "jpg"}.get(kind, rng.choice(("png", "jpg", "json", "svg")))
            file = f"{hashlib.sha256(data).hexdigest()[:24]}.{end if cls is Background or end != 'json' else 'svg'}"
            job, _ = edit.add(job, cls.kind, [{"label": "x", "file": file, what: "yes" if cls is Background else "client"}])
            _put(self.folder / folder / file, kind, data)
            ends.append(kind)
        (self.folder / store.FILE).write_bytes(store.to_text(job).encode())
        job, before = store.read(self.folder).job, self._tree()
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            drawn = self._scene(job, whole=False)
            _, said = pictures_for(job, self.folder, "client")
            missing = tile(self.folder, job, job.all(Picture)[0])["missing"]
        for sentence in (*said, missing or "none"):
            one_sentence(Problem(sentence))
        assert self._tree() == before, "looking at it changed it"
        return "shown" if drawn else "refused"

    def _hostile(self, kind: str, rng: random.Random) -> bytes:
        if kind == "outlines":
            whole: dict[str, Any] = {"outlines": 1, "wide": 50, "high": 40, "metres": 0.3, "unit": "feet",
                                     "lines": [[1, 2, 3, 4], [5, 6, 7, 8, 9, 10]]}
            for _ in range(rng.choice((0, 1, 2))):
                odd = rng.choice((*NASTY, 10**400, 1e-320, -1e-9, 40_001, 40_002, True, [[]] * 20_001, [1] * 130_000))
                if rng.random() < 0.6:
                    whole[rng.choice(list(whole))] = odd
                else:
                    whole["lines"] = [[1, 2, odd, 4]]
            made = json.dumps(whole).encode()
            return strange_bytes(made, rng) if rng.random() < 0.2 else made
        if kind == "png":
            return strange_png(rng.choice(self.png), rng)
        if kind == "jpg":
            return strange_jpeg(rng.choice(self.jpeg), rng)
        return rng.choice((b"", photo(), b"<svg/>", rng.choice(NUMBERS).encode("utf-8", "replace"), rng.randbytes(50),
                           *OTHERS))

    def _tree(self) -> dict[str, bytes]:
        """Every plain file of the job's folder, without the lock and the history."""
        return {str(p.relative_to(self.folder)): p.read_bytes() for p in self.folder.rglob("*")
                if p.is_file() and p.name != ".job.lock" and p.parent.name != "history"}

    def _clear(self) -> None:
        for beside in ("history", "pictures", "backgrounds"):
            if (self.folder / beside).is_symlink() or (self.folder / beside).is_file():
                (self.folder / beside).unlink()
            shutil.rmtree(self.folder / beside, ignore_errors=True)
        (self.folder / store.FILE).write_bytes(self.text)


def _put(path: Path, kind: str, data: bytes) -> None:
    path.parent.mkdir(exist_ok=True)
    if kind == "folder":
        path.mkdir(exist_ok=True)
    elif kind == "link":
        with suppress(FileExistsError):
            path.symlink_to("/dev/zero")
    elif kind == "pipe":
        with suppress(FileExistsError):
            os.mkfifo(path)
    elif kind != "nothing":
        path.write_bytes(data)


def _in_a_fork(data: bytes, name: str, page: int) -> bytes:
    """As the process apart, and as bounded: the reader of pages is machine code that no watch can stop. Nothing: it "
    "ended."""
    here, there = os.pipe()
    child = os.fork()
    if not child:
        os.close(here)
        resource.setrlimit(resource.RLIMIT_CPU, (PAGE_SECONDS, PAGE_SECONDS))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        try:
            told = apart.answer(data, name, page)
        except BaseException:
            told = b"!" + traceback.format_exc(limit=-6).encode("utf-8", "replace")
        with os.fdopen(there, "wb") as out:
            out.write(told)
        os._exit(0)
    os.close(there)
    with os.fdopen(here, "rb") as told_there:
        told = told_there.read()
    os.waitpid(child, 0)
    if told[:1] == b"!":
        raise AssertionError(told.decode())
    return told
