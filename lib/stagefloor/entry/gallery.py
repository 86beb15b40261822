"""Pictures of the job's folder on screen: small ones at once, a large one when it is pressed. Changes nothing."""

from base64 import b64encode
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.picture_file import small_picture
from stagefloor.job.exchange.picture_folder import find_picture, media_type, read_picture
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.subjects import title

HERE = Path(__file__).parent
SIDE = 320  # points of a small picture: sharp at twice its size on screen
AT_ONCE = 24  # small pictures before the rest is asked for


class Gallery(anywidget.AnyWidget):
    """Small pictures with caption and subject. `show` gives it others; `none` is said if there is none."""

    _esm = (HERE / "gallery.js").read_text("utf-8")
    _css = (HERE / "gallery.css").read_text("utf-8")
    items: traitlets.List = traitlets.List().tag(sync=True)
    rest = traitlets.Int(0).tag(sync=True)
    none = traitlets.Unicode("").tag(sync=True)

    def __init__(self, folder: Path, none: str = "") -> None:
        super().__init__(none=none)
        self._folder = folder
        self._pictures: dict[str, Picture] = {}
        self._job = Job()
        self._most = AT_ONCE
        self.add_class("sf-pictures-shown")
        self.on_msg(self._receive)

    def show(self, job: Job, pictures: Sequence[Picture], none: str | None = None) -> None:
        """Show these pictures of the job, the first ones if there are many."""
        self._job, self._pictures = job, {p.id: p for p in pictures}
        if none is not None:
            self.none = none
        items = [{**tile(self._folder, job, p), "number": str(n)} for n, p in enumerate(pictures[:self._most], 1)]
        if items != self.items:
            self.items = items
        self.rest = max(0, len(pictures) - self._most)

    def _receive(self, _widget: Any, message: dict[str, Any], _buffers: Any) -> None:
        if message.get("do") == "more":
            self._most += AT_ONCE
            self.show(self._job, list(self._pictures.values()))
            return
        picture = self._pictures.get(str(message.get("id", "")))
        if message.get("do") != "show" or picture is None:
            return
        try:
            data = read_picture(self._folder, picture.file)
        except Problem as problem:
            self.send({"do": "large", "id": picture.id, "say": problem.sentence})
            return
        self.send({"do": "large", "id": picture.id, "type": media_type(picture.file)}, [data])


def tile(folder: Path, job: Job, picture: Picture) -> dict[str, str]:
    """A small picture: its source (empty: `missing` says why), the text in its place, caption, what it belongs to."""
    subject = title(job, picture.on, picture.to)
    who = {"crew": "the crew may see it", "client": "the client may see it"}.get(picture.audience, "")
    about = ", ".join(w for w in (subject, picture.date, picture.by and f"by {picture.by}", who) if w)
    caption = picture.label or picture.about
    alt = ", ".join(w for w in (caption or picture.what.capitalize(), subject) if w)
    source, missing = "", ""
    try:
        source = small_source(folder, picture.file)
    except Problem as problem:
        missing = problem.sentence
    return {"id": picture.id, "src": source, "missing": missing, "alt": alt, "caption": caption, "about": about,
            "words": picture.dimensions}


def small_source(folder: Path, file: str) -> str:
    """A small copy as the address of an image; a Problem if the file is missing or damaged."""
    status = find_picture(folder, file).stat()
    return _small(folder, file, status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=300)
def _small(folder: Path, file: str, _changed: int, _size: int) -> str:
    data, kind = read_picture(folder, file), media_type(file)
    if kind != "image/svg+xml":  # a sketch is small as it is
        small = small_picture(data, SIDE, file)
        data, kind = small.data, small.media_type
    return f"data:{kind};base64,{b64encode(data).decode()}"
