"""The survey sheet's file: topics to look at, the fields asked with each, what is listed already, open questions."""

from stagefloor.drawings.plain import Plain


class Field(Plain):
    """One field to fill in; `choices` empty: typed. `value` as the workbook has it now."""

    name: str
    label: str
    hint: str = ""
    choices: tuple[str, ...] = ()
    value: str = ""


class Row(Plain):
    """One thing that is listed already, such as a floor layer; values by the names of the fields."""

    id: str
    values: dict[str, str]


class Rows(Plain):
    """Things of one kind that belong to a topic; more can be added on the phone."""

    kind: str
    noun: str
    fields: tuple[Field, ...]
    rows: tuple[Row, ...] = ()


class Topic(Plain):
    """One line of the survey. `id` empty: the workbook has no such line yet."""

    id: str = ""
    topic: str
    looked: str = ""
    found: str = ""
    evidence: str = ""
    by: str = ""
    date: str = ""
    fields: tuple[Field, ...] = ()
    rows: Rows | None = None


class Question(Plain):
    """A question for the site that the job's unknowns raise."""

    id: str
    words: str


class SurveySheet(Plain):
    """Everything on a survey sheet.

    `limits`: the most that one file may hold (bytes, pictures) and one sketch (strokes, points, dimensions).
    """

    sheet: str
    made: str
    venue: str
    unit: str
    states: tuple[str, ...]
    topics: tuple[Topic, ...]
    questions: tuple[Question, ...] = ()
    limits: dict[str, int]
    cautions: tuple[str, ...] = ()
