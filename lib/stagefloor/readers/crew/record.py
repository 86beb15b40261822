"""The crew's file: what is pulled, cut and labelled, and the drawings for it. No money, no hour, no office remark."""

from typing import Annotated

from pydantic import Field

from stagefloor.drawings.face import BoxFace
from stagefloor.drawings.labels import LabelLayout, LabelMark
from stagefloor.drawings.line_diagram import LineDiagram
from stagefloor.drawings.plain import Plain
from stagefloor.drawings.route_plan import RoutePlan
from stagefloor.drawings.section import RacewaySection
from stagefloor.readers.pictures import ShownPicture

Number = Annotated[int, Field(ge=0)]


class Title(Plain):
    """The title block."""

    venue: str
    shop: str = ""
    contact: str = ""
    revision: str = ""
    date: str = ""


class PulledRow(Plain):
    """One cable on a pull sheet; everything in words."""

    cable: str
    carries: str = ""
    box_end: str = ""
    rack_end: str = ""
    type: str = ""
    length: str = ""
    reel: str = ""


class PullSheetCard(Plain):
    """One raceway: its ends, what is pulled together, what is in it already, what else to do."""

    number: Number
    name: str
    about: str = ""
    far: str = ""
    near: str = ""
    cables: tuple[PulledRow, ...] = ()
    already: str = ""
    todo: tuple[str, ...] = ()


class ReelRow(Plain):
    """One reel: its cuts in order, what is left on it."""

    reel: str
    where: str = ""
    cuts: str = ""
    left: str = ""


class CutCard(Plain):
    """The cut list of one cable type."""

    label: str
    said: str = ""
    reels: tuple[ReelRow, ...] = ()
    notes: tuple[str, ...] = ()


class AssemblyRow(Plain):
    """A ready-made assembly, never cut."""

    cable: str
    type: str = ""
    length: str = ""


class LabelSheetCard(Plain):
    """Labels on one kind of sheet; `used`: gone from the first sheet already."""

    title: str
    layout: LabelLayout
    marks: tuple[LabelMark, ...] = ()
    used: Number = 0


class LabelRow(Plain):
    """One label in words."""

    text: str
    use: str = ""
    end: str = ""
    detail: str = ""
    kind: str = ""
    colour: str = ""


class SpotRow(Plain):
    """One place of a face in its order."""

    place: str
    connector: str = ""
    panel_part: str = ""
    label: str = ""
    line: str = ""
    cable: str = ""


class TrimTask(Plain):
    """Who fits and terminates the connectors of one kind, with what."""

    openings: str
    connector: str = ""
    who: str = ""
    bench: str = ""
    in_place: str = ""
    tool: str = ""
    hardware: str = ""


class PartRow(Plain):
    """A part and how many."""

    part: str
    number: Number = 0


class OldLineRow(Plain):
    """An old outlet that is gathered into a box."""

    outlet: str
    after: str = ""
    line: str = ""


class TrimOutCard(Plain):
    """The trim-out of one box."""

    title: str
    model: str = ""
    position: str = ""
    hinge: str = ""
    exit: str = ""
    face: BoxFace | None = None
    spots: tuple[SpotRow, ...] = ()
    tasks: tuple[TrimTask, ...] = ()
    parts: tuple[PartRow, ...] = ()
    old: tuple[OldLineRow, ...] = ()
    ask: tuple[str, ...] = ()


class Remark(Plain):
    """Words that were marked as being for the crew."""

    about: str = ""
    words: str


class CrewFile(Plain):
    """All that the crew's pages know."""

    title: Title
    sheets: tuple[PullSheetCard, ...] = ()
    cuts: tuple[CutCard, ...] = ()
    assemblies: tuple[AssemblyRow, ...] = ()
    label_sheets: tuple[LabelSheetCard, ...] = ()
    labels: tuple[LabelRow, ...] = ()
    trim_outs: tuple[TrimOutCard, ...] = ()
    routes: RoutePlan = RoutePlan()
    diagram: LineDiagram = LineDiagram()
    sections: tuple[RacewaySection, ...] = ()
    remarks: tuple[Remark, ...] = ()
    cautions: tuple[str, ...] = ()
    pictures: tuple[ShownPicture, ...] = ()
