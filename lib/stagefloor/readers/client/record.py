"""The client's file: each field that the client's pages may show, by name, as plain words. No cost, no hour."""

from typing import Annotated, Literal

from pydantic import Field

from stagefloor.drawings.face import BoxFace
from stagefloor.drawings.plain import Plain
from stagefloor.drawings.scene import StageScene
from stagefloor.readers.pictures import ShownPicture

Number = Annotated[float, Field(allow_inf_nan=False)]
State = Literal["to do", "check", "mend", "ask the engineer", "stop (unknown)", "done"]


class RevisionRow(Plain):
    """One issue of the document set."""

    label: str
    date: str = ""
    words: str = ""


class Title(Plain):
    """The title block."""

    venue: str
    client: str = ""
    shop: str = ""
    contact: str = ""
    revision: str = ""
    date: str = ""
    revisions: tuple[RevisionRow, ...] = ()
    validity: str = ""


class EventTold(Plain):
    """A kind of event as the client told it; `per_year` in words."""

    label: str
    per_year: str = ""


class PointTold(Plain):
    """A connection point as the client told it; `events` and `counts` in words."""

    label: str
    what: str = ""
    events: str = ""
    counts: str = ""


class ToldUs(Plain):
    """What the design rests on."""

    events: tuple[EventTold, ...] = ()
    points: tuple[PointTold, ...] = ()


class Served(Plain):
    """Which event is served by which boxes; `sentence` says how."""

    event: str
    boxes: tuple[str, ...] = ()
    sentence: str = ""


class OpeningRow(Plain):
    """One line of the opening schedule of a box."""

    place: str
    kind: str
    connector: str = ""
    label: str = ""
    use: Literal["in use", "spare"] = "in use"


class BoxCard(Plain):
    """One box as the client sees it. `title` such as 'Floor box FB-A1'; `position` in stage terms."""

    title: str
    position: str = ""
    model: str = ""
    size: str = ""
    openings: tuple[OpeningRow, ...] = ()
    face: BoxFace | None = None
    serves: str = ""
    remark_for_client: str = ""


class OldOutletRow(Plain):
    """An outlet that is there now, what happens to it, and which box takes its place."""

    outlet: str
    what_happens: str = ""
    into: str = ""


class ScopeRow(Plain):
    """Who does what: one item of one trade."""

    trade: str
    item: str
    quantity: str = ""
    furnished_by: str = ""
    installed_by: str = ""
    terminated_by: str = ""
    tested_by: str = ""


class PriceRow(Plain):
    """One section of the selling price; `amount` as text with its currency."""

    section: str
    amount: str = ""


class Price(Plain):
    """The selling price. Amounts are texts made by whoever may know them."""

    currency: str = ""
    rows: tuple[PriceRow, ...] = ()
    tax: str = ""
    total: str = ""
    note: str = ""


class TermRow(Plain):
    """One paragraph of the terms, such as what is not included, in the shop's own words."""

    about: str
    words: str


class LineTest(Plain):
    """One test on one line with its limit and reading in words. `result`: pass, fail, or not yet tested."""

    line: str
    kind: str = ""
    start: str = ""
    end: str = ""
    test: str = ""
    limit: str = ""
    reading: str = ""
    result: Literal["pass", "fail", "not tested", "unknown"] = "not tested"
    date: str = ""
    expected: str = ""
    instrument: str = ""
    before: str = ""


class LineRow(Plain):
    """One line of the line list: what it is, its way, and how far its tests are."""

    line: str
    kind: str = ""
    start: str = ""
    end: str = ""
    cable: str = ""
    length: str = ""
    way: str = ""
    tests: str = ""


class LineTests(Plain):
    """The line tests: one sentence, the rows, and what is missing."""

    summary: str = ""
    rows: tuple[LineTest, ...] = ()
    missing: tuple[str, ...] = ()
    not_fitting: tuple[str, ...] = ()
    lines: tuple[LineRow, ...] = ()


class AsBuiltRow(Plain):
    """Where a box was planned, where it is, and the difference, in words."""

    box: str
    planned: str = ""
    built: str = ""
    difference: str = ""
    otherwise: str = ""
    photo: str = ""


class ChangeRow(Plain):
    """One thing that was built otherwise than planned."""

    date: str = ""
    subject: str
    what: str = ""
    planned: str = ""
    built: str = ""
    note: str = ""
    photo: str = ""


class HoldPointRow(Plain):
    """One hold point: what waits for it, who released it when, what was seen, the photo, and what is missing."""

    label: str
    before: str = ""
    by: str = ""
    date: str = ""
    seen: str = ""
    photo: str = ""
    missing: str = ""


class SpareRow(Plain):
    """A spare part, tool or key."""

    label: str
    quantity: str = ""
    owed_by: str = ""
    handed_to: str = ""
    date: str = ""


class TrainingRow(Plain):
    """One instruction of the people who use or look after the boxes."""

    label: str
    who: str = ""
    owed_by: str = ""
    date: str = ""


class WarrantyRow(Plain):
    """One warranty in a sentence, and whom to call."""

    sentence: str
    contact: str = ""


class PartRow(Plain):
    """How many things of one part of the handover are there."""

    name: str
    there: str


class OwedBy(Plain):
    """What one person or trade still owes."""

    who: str
    what: tuple[str, ...] = ()


class FailureRow(Plain):
    """What becomes of one event with one box out of service, and where to plug in instead."""

    box: str
    event: str
    state: str
    instead: str = ""
    lost: str = ""


class Closeout(Plain):
    """What was built, tested and handed over, and what is missing, from whom. `begun`: there is anything to tell."""

    begun: bool = False
    there: str = ""
    parts: tuple[PartRow, ...] = ()
    owed: tuple[OwedBy, ...] = ()
    hold_points: tuple[HoldPointRow, ...] = ()
    spares: tuple[SpareRow, ...] = ()
    training: tuple[TrainingRow, ...] = ()
    warranties: tuple[WarrantyRow, ...] = ()
    changes: tuple[ChangeRow, ...] = ()
    fit_again: tuple[str, ...] = ()
    scene: StageScene = StageScene()
    failures: tuple[FailureRow, ...] = ()


class DocumentRow(Plain):
    """A paper due at handover."""

    label: str
    owed_by: str = ""
    state: State = "to do"


class PunchRow(Plain):
    """One open defect."""

    label: str
    owner: str = ""
    due: str = ""


class Remark(Plain):
    """Words that were marked as being for the client."""

    about: str = ""
    words: str


class ShownValue(Plain):
    """A value of a calculation as `core.workings` writes it."""

    symbol: str = ""
    name: str = ""
    amount: Number
    unit: str = ""
    digits: int = 4


class ShownBasis(Plain):
    """Where a formula or value comes from, and how it was read."""

    text: str
    status: str = ""


class ShownWorking(Plain):
    """A calculation with its working, field by field as `Working.as_data` gives it; `topic`: whose page it belongs to."""

    topic: Literal["", "tests"] = ""
    name: str
    formula: str
    inputs: tuple[ShownValue, ...] = ()
    result: ShownValue
    limit: ShownValue | None = None
    sense: str | None = None
    margin: Number | None = None
    holds: bool | None = None
    also: tuple[ShownValue, ...] = ()
    notes: tuple[str, ...] = ()
    basis: tuple[ShownBasis, ...] = ()


class ClientFile(Plain):
    """All that the client's pages know."""

    title: Title
    told_us: ToldUs = ToldUs()
    scene: StageScene = StageScene()
    served: tuple[Served, ...] = ()
    not_served: tuple[str, ...] = ()
    boxes: tuple[BoxCard, ...] = ()
    before_after: tuple[OldOutletRow, ...] = ()
    scope: tuple[ScopeRow, ...] = ()
    assumptions: tuple[str, ...] = ()
    to_be_proved: tuple[str, ...] = ()
    price: Price | None = None
    terms: tuple[TermRow, ...] = ()
    tests: LineTests = LineTests()
    as_built: tuple[AsBuiltRow, ...] = ()
    documents: tuple[DocumentRow, ...] = ()
    punch: tuple[PunchRow, ...] = ()
    care: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    warranty: str = ""
    closeout: Closeout = Closeout()
    workings: tuple[ShownWorking, ...] = ()
    remarks: tuple[Remark, ...] = ()
    pictures: tuple[ShownPicture, ...] = ()
