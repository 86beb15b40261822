"""The stage as it is drawn: outline, zones, boxes, points, ways, and what is connected in each event.

All lengths in metres from the job's origin, +x stage left, +y upstage. Built by whoever knows the job.
"""

from typing import Literal

from stagefloor.drawings.plain import XY, Metres, Plain

Surface = Literal["floor", "wall", "riser face"]
Display = Literal["ft-in", "ft", "m", "mm"]


class Zone(Plain):
    """A keep-clear zone: `points` is a polygon, or with `width` above zero the middle line of a route.

    `events`: labels of the events in which it counts; empty: always. `what`: its kind in words.
    """

    label: str
    what: str = ""
    points: tuple[XY, ...]
    width: Metres = 0.0
    events: tuple[str, ...] = ()


class BoxMark(Plain):
    """A floor box, wall panel or riser panel: middle, and the size of its outline as it lies on the plan.

    `planned`: where it was to be, if it is shown as built and stands elsewhere. `measured`: false for one that is shown
    among boxes as built and was not measured yet. `id`: by which its owner finds it again.
    """

    id: str = ""
    label: str
    title: str
    x: Metres
    y: Metres
    width: Metres = 0.3
    height: Metres = 0.3
    surface: Surface = "floor"
    planned: XY | None = None
    measured: bool = True


class PointMark(Plain):
    """A connection point: `what` says what stands there. `id`: by which its owner finds it again."""

    id: str = ""
    label: str
    what: str = ""
    x: Metres
    y: Metres


class Line(Plain):
    """A labelled line: a joist's middle, a bearing line, a raceway. `what`: its kind in words."""

    label: str = ""
    what: str = ""
    points: tuple[XY, ...]


class Place(Plain):
    """A labelled spot, such as the rack entry or the mains panel."""

    label: str
    x: Metres
    y: Metres


class Connection(Plain):
    """A loose cable from a point to a box in one event: both by label, `kinds` in words, its way, its length."""

    point: str
    box: str
    kinds: str = ""
    line: tuple[XY, ...]
    metres: Metres


class EventReplay(Plain):
    """One event replayed: what is connected where, and a sentence for each need that is not served."""

    event: str
    per_year: str = ""
    connections: tuple[Connection, ...] = ()
    unserved: tuple[str, ...] = ()


class StageScene(Plain):
    """Everything the plan may show. Empty parts are left out of the drawing. `origin`: where zero is, in words."""

    outline: tuple[XY, ...] = ()
    display: Display = "ft-in"
    origin: str = ""
    zones: tuple[Zone, ...] = ()
    boxes: tuple[BoxMark, ...] = ()
    points: tuple[PointMark, ...] = ()
    joists: tuple[Line, ...] = ()
    bearings: tuple[Line, ...] = ()
    raceways: tuple[Line, ...] = ()
    rack: Place | None = None
    panel: Place | None = None
    replay: tuple[EventReplay, ...] = ()
