"""Which fields of a job a phone sheet may set. What is not named here is refused."""

from functools import lru_cache

from stagefloor.reference.tables import Row, load

# kind of record -> fields, in the order in which the sheet shows them
SURVEY_ROWS = {
    "layer": ("material", "thickness"),
    "zone": ("label", "z", "clear_below", "below", "slab", "room_below", "rating"),
    "joists": ("label", "run", "spacing", "width", "depth", "material"),
    "keepclear": ("label", "what"),
    "oldoutlet": ("label", "what", "count", "tested"),
}
SURVEY_LINE = ("topic", "looked", "found", "evidence", "by", "date")
READING = ("circuit", "test", "result", "value", "instrument", "by", "date")
AS_BUILT = ("box", "x", "y", "z", "modified", "note_text", "by", "date")
PUNCH = ("label",)


# what a topic was called once, for jobs that have it
RENAMED = {"Mains panel position and spare ways (licensed electrician)":
           "Power panel: position and spare ways (licensed electrician)",
           "Slab type and its evidence; scan": "Slab type and its evidence"}


@lru_cache(maxsize=1)
def topics() -> dict[str, Row]:
    """The survey topics that the workbook brings along, by their words."""
    return {row.text("topic"): row for row in load("starter_survey")}


def fields_of_topic(topic: str) -> tuple[str, ...]:
    """The fields of the job sheet that are asked with a topic."""
    row = topics().get(RENAMED.get(topic, topic))
    return tuple(row.text("fields").split()) if row is not None else ()


def rows_of_topic(topic: str) -> str:
    """The kind of record that is listed with a topic, or an empty text."""
    row = topics().get(RENAMED.get(topic, topic))
    return row.text("rows") if row is not None else ""


@lru_cache(maxsize=1)
def survey_settings() -> frozenset[str]:
    """Every field of the job sheet that a survey may set."""
    return frozenset(name for topic in topics() for name in fields_of_topic(topic))
