"""A field of a record as the user typed it, for a cell, a sheet or a file."""

from stagefloor.core.words import local
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.model import Job
from stagefloor.job.record import Record


def cell_text(job: Job, record: Record, name: str) -> str:
    """A field as the user typed it; references by the names of what they point to."""
    value = getattr(record, name)
    info = type(record).model_fields[name]
    shape = shape_of(info)
    if shape == "refs":
        table = job.tables.get(str(extra_of(info, "ref")), {})
        return ", ".join(table[i].name for i in value if i in table)
    if shape == "flag":
        return "yes" if value else "no"
    if shape == "count" and value == 0:
        return ""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.15g}"  # every digit that was typed
    return local(str(value), job.settings.basis) if extra_of(info, "own") else str(value)
