"""Phone sheets that were made from a job, and what was taken in from them."""

from typing import ClassVar

from stagefloor.job.fields import Count, Ref, Text, choice, count, day, ref, text
from stagefloor.job.record import Record

SURVEY, SITE = "survey", "site"


class Sheet(Record):
    """One phone sheet that was made from this job: only a file of such a sheet is taken in."""

    kind: ClassVar[str] = "sheet"
    noun: ClassVar[str] = "phone sheet"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Sheet", "for whom it was made")
    what: Text = choice("Kind", (SURVEY, SITE), SURVEY)
    key: Text = text("Key", "made by chance; the sheet's files carry it")
    made: Text = day("Made on")
    exported: Count = count("Last export that was taken in", "of a sheet that names no phone")
    phones: Text = text("Last export of each phone", "the phone's name by chance, and a number")


class Taken(Record):
    """One entry of a sheet that was taken in: which record it became, and short digests of its fields.

    `entry`: the phone's name and its own, with a stroke between them; older sheets name no phone.
    `content`: 'field=typed:stored' for each field, digests of the text typed on the phone and of the value stored here.
    By them a later export changes only what was changed on the phone, and never what was changed here meanwhile.
    """

    kind: ClassVar[str] = "taken"
    noun: ClassVar[str] = "entry of a phone sheet"
    step: ClassVar[str] = "job sheet"
    name_field: ClassVar[str] = "entry"

    sheet: Ref = ref("Sheet", "sheet")
    entry: Text = text("Entry")
    on: Text = text("Became a")
    to: Text = text("Record")
    content: Text = text("Digests")
