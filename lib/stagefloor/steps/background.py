"""Where a background lies on the stage: scaled by two points, by its own unit, or only fitted in. Decides no size."""

from collections import Counter
from dataclasses import dataclass

from stagefloor.calculations.similarity import Similarity, by_scale, by_two_points
from stagefloor.core.units import FOOT, length_text
from stagefloor.core.workings import ARITHMETIC, JOB, Basis, Value, Working
from stagefloor.job.background import Background
from stagefloor.job.exchange.background_file import Stored, shown
from stagefloor.job.model import Job

HELP = "A help for the eye: only sizes that were measured on site count."
# where a stage is taken to reach whose edges were not entered: right, down, left, up of the origin, metres; from memory
FRAME = (-6.0, -2.0, 6.0, 8.0)
RATIO = Basis("similar figures: lengths are in one ratio", ARITHMETIC)
PRESSED = Basis("the two points and the length as entered for this background", JOB)


@dataclass(frozen=True)
class Placed:
    """A background on the stage: from points of its file (right and up from the lower left corner) to metres.

    `assumed`: whether nobody has said its scale; `words`: how it came to lie there, in a sentence
    """

    way: Similarity
    assumed: bool
    words: str


def frame(job: Job) -> tuple[float, float, float, float]:
    """Right, down, left, up of the stage as entered, each by itself assumed if it was not. Metres."""
    s = job.settings
    edges = (s.stage_right, s.stage_down, s.stage_left, s.stage_up)
    x0, y0, x1, y1 = (e.si if e is not None else assumed for e, assumed in zip(edges, FRAME, strict=True))
    return (x0, y0, x1, y1) if x1 > x0 and y1 > y0 else FRAME


def placed(job: Job, background: Background, file: Stored) -> Placed:
    """Where the background lies, by what was entered for it, else by its own unit, else fitted into the stage."""
    points, at, to = background.points, background.at, background.to
    if points and at is not None and to is not None and at != to:
        return Placed(by_two_points(*points, at, to), False, "Scaled and turned by two points.")
    turn, assumed = background.turn or 0.0, True
    if points and background.distance and background.distance.si > 0:
        scale, words, assumed = background.distance.si / abs(points[1] - points[0]), "Scaled by two points.", False
    elif file.metres:
        scale, words = file.metres, f"Its scale is assumed: its units are {file.unit}, as its own head says."
    else:
        x0, y0, x1, y1 = frame(job)
        across, up = (file.wide, file.high) if turn % 180 == 0 else (file.high, file.wide)
        scale, words = min((x1 - x0) / across, (y1 - y0) / up), "Its scale is assumed: fitted into the stage."
    middle = by_scale(scale, turn, file.middle, _middle(job))
    anchor = points[0] if points else file.middle
    way = by_scale(scale, turn, anchor, at) if at is not None else middle
    return Placed(way, assumed, words)


def _middle(job: Job) -> complex:
    x0, y0, x1, y1 = frame(job)
    return complex(x0 + x1, y0 + y1) / 2


def workings(background: Background, units: str, file: Stored | None = None) -> list[Working]:
    """The scale of a background, and its turn if two places give it; `file` adds how large the whole of it then is."""
    points, at, to = background.points, background.at, background.to
    if points is None:
        return []
    drawn = points[1] - points[0]
    both = at is not None and to is not None and at != to
    metres = abs(to - at) if both and at is not None and to is not None else \
        background.distance.si if background.distance else 0.0
    if metres <= 0:
        return []
    per_point = 1000 * metres / abs(drawn)
    size: tuple[Value, ...] = ()
    if file is not None:
        name, per = ("ft", FOOT) if units == "ft-in" else ("m", 1.0)
        size = tuple(Value("", f"the whole of it, {way} its sheet", n * per_point / 1000 / per, name)
                     for way, n in (("across", file.wide), ("up", file.high)))
    notes = []
    if both and background.distance and abs(background.distance.si - metres) > metres / 1000:
        notes.append(f"The two places are {length_text(metres, units)} apart, {background.distance.text} was typed "
                     "between the points; the places count. Look which of them is wrong.")
    found = [Working(
        f"Scale of the background {background.label}", "k = 1000 * d / sqrt(u^2 + v^2)",
        (Value("d", "between the two places" if both else "between the two points, as typed", metres, "m", 6),
         Value("u", "between the points, across the sheet", drawn.real, "points", 7),
         Value("v", "between the points, up the sheet", drawn.imag, "points", 7)),
        Value("k", "one point of the file", per_point, "mm"), (RATIO, PRESSED), notes=tuple(notes),
        also=(Value("", "the scale changes by this if a press is one point off", 100 / abs(drawn), "%", 2), *size))]
    if both and at is not None and to is not None:
        on_stage = to - at
        found.append(Working(
            f"Turn of the background {background.label}", "t = atan2(V, U) - atan2(v, u)",
            (Value("U", "between the places, across the stage", on_stage.real, "m", 6),
             Value("V", "between the places, up the stage", on_stage.imag, "m", 6),
             Value("u", "between the points, across the sheet", drawn.real, "points", 7),
             Value("v", "between the points, up the sheet", drawn.imag, "points", 7)),
            Value("t", "turned counter-clockwise", by_two_points(*points, at, to).turn, "deg"), (RATIO, PRESSED)))
    return found


def workings_of(job: Job) -> list[Working]:
    """The workings of the background that lies behind the plan."""
    background = shown(job)
    return workings(background, job.settings.units) if background is not None else []


def names(job: Job) -> dict[str, str]:
    """Id -> what a background is called in a list; those with one label are numbered."""
    seen: Counter[str] = Counter()
    found: dict[str, str] = {}
    for b in job.all(Background):
        seen[b.label] += 1
        found[b.id] = f"{b.name} ({seen[b.label]})" if seen[b.label] > 1 else b.name
    return found
