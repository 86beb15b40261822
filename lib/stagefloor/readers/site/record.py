"""The site sheet's file: each field that a crew may see, by name. No hour, no money, no remark of the office."""

from typing import Annotated

from pydantic import Field

from stagefloor.drawings.plain import Plain

Number = Annotated[float, Field(allow_inf_nan=False)]


class Test(Plain):
    """One test of a line: how it is made, what to expect, its limits in words and in the unit of the test.

    `test` names it in the workbook, `shown` on the sheet.
    `outcomes`: words for a reading that fits, is above and is below the limits. `before`: readings that are there.
    """

    __test__ = False  # not a test of the test runner

    test: str
    shown: str = ""
    method: str = ""
    unit: str = ""
    expected: str = ""
    limit: str = ""
    low: Number | None = None
    high: Number | None = None
    below: str = ""
    before: tuple[str, ...] = ()


class Line(Plain):
    """One line: its label at both ends, where it starts and ends, its way, cable and length, and its tests."""

    id: str
    label: str
    kind: str
    starts: str = ""
    ends: str = ""
    cable: str = ""
    way: str = ""
    length: str = ""
    measured: str = ""
    reused: str = ""
    tests: tuple[Test, ...] = ()
    by_electrician: bool = False


class Box(Plain):
    """One floor box or panel: planned place as words and as texts to measure by, what is in it, as built so far."""

    id: str
    title: str
    place: str = ""
    x: str = ""
    y: str = ""
    z: str = ""
    openings: tuple[str, ...] = ()
    note: str = ""
    built_id: str = ""
    built_x: str = ""
    built_y: str = ""
    built_z: str = ""
    modified: bool = False
    built_note: str = ""


class Punch(Plain):
    """A defect that the crew may read."""

    label: str
    owner: str = ""
    due: str = ""
    closed: str = ""


class SiteSheet(Plain):
    """Everything on a site sheet. `units`: for each unit of a test, the units that may be typed and their factor to it.

    `over`: a pattern of what a meter shows beyond its range, in any letter case.
    `limits`: the most that one file may hold (bytes, pictures) and one sketch (strokes, points, dimensions).
    """

    sheet: str
    made: str
    venue: str
    crew: str
    origin: str = ""
    unit: str
    lines: tuple[Line, ...]
    boxes: tuple[Box, ...] = ()
    punch: tuple[Punch, ...] = ()
    remarks: tuple[str, ...] = ()
    units: dict[str, dict[str, Number]] = {}
    over: str
    limits: dict[str, int]
    cautions: tuple[str, ...] = ()
