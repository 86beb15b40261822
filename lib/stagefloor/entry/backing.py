"""The background behind one plan: what is told to the browser, and what its two points, shifts and turns do to the job."""

from typing import Any

from stagefloor.core.problems import Problem
from stagefloor.core.units import typed_length
from stagefloor.entry.link import Answer, Message
from stagefloor.entry.plan import Backing
from stagefloor.entry.session import Session
from stagefloor.job import edit
from stagefloor.job.background import FARTHEST, Background
from stagefloor.job.exchange.background_file import Stored, shown, stored
from stagefloor.job.model import Job
from stagefloor.steps.background import HELP, Placed, placed

LAYER = {"key": "background", "label": "Background", "on": True}
NAMES = {"distance": "Between the two points", "at_x": "First point across", "at_y": "First point up",
         "to_x": "Second point across", "to_y": "Second point up"}
NEAREST = 3.0  # points of the file: two presses that are nearer were meant for one


class Behind:
    """What lies behind the plans of a session, worked out anew only when the job or its file has changed."""

    def __init__(self, session: Session, editable: bool) -> None:
        self.session, self.editable = session, editable

    def _found(self, job: Job) -> tuple[Background, Stored, Placed] | None:
        """Problem if the file can't be shown."""
        background = shown(job)
        if background is None:
            return None
        file = stored(self.session.path.parent, background)
        return background, file, placed(job, background, file)

    def scene(self, job: Job) -> dict[str, Any]:
        """What a scene says of it: 'background' and its place, or why there is none; {} if none was taken in."""
        try:
            found = self._found(job)
        except Problem as problem:
            return {"background": {"problem": problem.sentence}}
        if found is None:
            return {}
        background, file, place = found
        factor, shift = place.way.factor, place.way.shift
        return {"background": {
            "file": background.file, "size": [file.wide, file.high], "assumed": place.assumed,
            "way": [factor.real, factor.imag, shift.real, shift.imag], "editable": self.editable,
            "label": background.label, "words": self.session.words.text(f"{place.words} {HELP}")}}

    def backing(self, job: Job) -> Backing | None:
        """The bytes behind the plan."""
        try:
            found = self._found(job)
        except Problem:
            return None
        return Backing(found[0].file, found[1].type, found[1].data) if found is not None else None

    def answer(self, message: Message) -> Answer:
        """Carry out 'scale', 'shift' or 'turn' of the background in its 'file'; a Problem says why not."""
        found = self._found(self.session.job)
        if found is None:
            raise Problem("There is no background behind the plan any more.")
        background, file, place = found
        if message.get("file") != background.file:
            raise Problem("Another drawing lies behind the plan by now, so nothing was done; look at it and do it again.")
        try:
            return self._carried_out(message, background, file, place)
        except Problem as problem:
            if problem.where not in NAMES:
                raise
            raise Problem(f"{NAMES[problem.where]}: {problem.sentence}", problem.where) from None

    def _carried_out(self, message: Message, background: Background, file: Stored, place: Placed) -> Answer:
        do = message["do"]
        if do == "scale":
            texts, what = self._scale(message, place), "scaled by two points"
        elif do == "shift":
            texts, what = self._shift(background, file, place, complex(message["x"], message["y"])), "moved"
        else:
            texts, what = self._turn(background), "turned"
        self.session.edit(f"Background {background.label} {what}",
                          lambda j: edit.set_fields(j, background.kind, background.id, texts))
        return {"ok": True, "say": f"Background {what}."}

    def _scale(self, message: Message, place: Placed) -> dict[str, object]:
        if any(abs(n) >= FARTHEST for point in message["points"] for n in point):
            raise Problem("These are no two points of the drawing; press them again.")
        a, b = (complex(*point) for point in message["points"])
        if abs(b - a) < NEAREST:
            raise Problem("The two points lie on each other; press two that are far apart.")
        typed = {"distance": message["distance"], **dict(zip(("at_x", "at_y", "to_x", "to_y"),
                                                             [*message["first"], *message["second"]], strict=True))}
        texts = {key: str(text).strip() for key, text in typed.items()}
        for one, other in (("at_x", "at_y"), ("at_y", "at_x"), ("to_x", "to_y"), ("to_y", "to_x")):
            if texts[one] and not texts[other]:
                raise Problem(f"{NAMES[other]} is empty; type both figures of a point, or none.")
        if texts["to_x"] and not texts["at_x"]:
            raise Problem("Type where the first point lies too: a turn needs both.")
        if not texts["distance"] and not texts["to_x"]:
            raise Problem("Type what lies between the two points, such as 12' 6\" or 3.81 m, or where both of them lie.")
        if not texts["at_x"]:
            texts["at_x"], texts["at_y"] = self._texts(place.way(a))
        self._check(texts)
        return {"ax": f"{a.real:.2f}", "ay": f"{a.imag:.2f}", "bx": f"{b.real:.2f}", "by": f"{b.imag:.2f}", **texts}

    def _check(self, texts: dict[str, str]) -> None:
        """A Problem if what was typed can't scale anything: nothing between the points."""
        tried, (tried_id,) = edit.add(self.session.job, Background.kind, [texts])
        record = tried.get(Background, tried_id)
        nothing = record.distance is not None and record.distance.si == 0
        if nothing or (record.to is not None and record.to == record.at):
            raise Problem("Nothing lies between the two points then; look at what was typed.")

    def _shift(self, background: Background, file: Stored, place: Placed, by: complex) -> dict[str, object]:
        points = background.points
        anchor = place.way(points[0] if points else file.middle)
        texts: dict[str, object] = dict(zip(("at_x", "at_y"), self._texts(anchor + by), strict=True))
        if background.to is not None:
            texts |= zip(("to_x", "to_y"), self._texts(background.to + by), strict=True)
        return texts

    def _turn(self, background: Background) -> dict[str, object]:
        if background.points and background.at is not None and background.to is not None:
            raise Problem("The places of its two points turn the background; empty the second one's first.")
        return {"turn": f"{((background.turn or 0.0) + 90) % 360:g}"}

    def _texts(self, place: complex) -> tuple[str, str]:
        display = self.session.job.settings.units
        return typed_length(place.real, display), typed_length(place.imag, display)
