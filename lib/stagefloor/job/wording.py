"""Which words a job speaks, and what in it was typed and is therefore left alone."""

from collections.abc import Iterable, Iterator, Mapping

from stagefloor.core.words import Words, endangered
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.record import Record
from stagefloor.job.sheet import Settings

_KINDS: tuple[type[Record], ...] = (*RECORDS.values(), Settings)
_FREE = {cls: tuple(n for n, info in cls.model_fields.items() if n != "id" and shape_of(info) in ("text", "note")
                    and not extra_of(info, "own"))
         for cls in _KINDS}
MOST_TABLES = 400  # kept at once, of a few states of a job
_READ: dict[int, tuple[Mapping[str, Record], tuple[str, ...]]] = {}


def words_of(job: Job, also: Iterable[str] = ()) -> Words:
    """The words of a job. `also`: more texts to leave alone, such as those typed in an earlier state of it."""
    return Words(job.settings.basis, (*typed_texts(job), *also))


def typed_texts(job: Job) -> Iterator[str]:
    """Every text that was typed freely and that a swap of words could change: names, labels, notes, what can't be read."""
    yield from _of_record(job.settings)
    for table in job.tables.values():
        yield from _of_table(table)
    for fields in job.unread.values():
        yield from (str(value) for value in fields.values() if endangered(str(value)))


def _of_record(record: Record) -> Iterator[str]:
    for name in _FREE[type(record)]:
        if (text := getattr(record, name)) and endangered(text):
            yield text


def _of_table(table: Mapping[str, Record]) -> tuple[str, ...]:
    # an edit changes one table and leaves the others the same object: those are not read through again
    known = _READ.get(id(table))
    if known is None or known[0] is not table:
        known = _READ[id(table)] = (table, tuple(t for r in table.values() for t in _of_record(r)))
        while len(_READ) > MOST_TABLES:
            _READ.pop(next(iter(_READ)))
    return known[1]
