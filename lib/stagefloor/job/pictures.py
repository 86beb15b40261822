"""Pictures of a job: which file, what of, when, by whom, and who may see it. The files stand in the folder 'pictures'."""

from typing import ClassVar

from stagefloor.job.closeout import AUDIENCES
from stagefloor.job.fields import Text, choice, day, note, text
from stagefloor.job.record import Record

JOB = "job"
# Kinds of record that a picture can belong to, with the words of the pick list; JOB: the job itself.
HOMES = {
    JOB: "The job itself",
    "box": "Floor boxes and panels",
    "point": "Connection points",
    "circuit": "Lines",
    "node": "Raceway nodes",
    "segment": "Raceways",
    "survey": "Survey",
    "oldoutlet": "Old outlets",
    "asbuilt": "As built",
    "holdpoint": "Hold points",
    "punch": "Punch list",
}


class Picture(Record):
    """A photo or a sketch in the folder 'pictures' beside the job, under a name that was made here.

    `on`, `to`: kind and id of the record that it belongs to. It is no reference: a picture outlives its record, can
    be moved to another, and is there again with its record after an undo.
    """

    kind: ClassVar[str] = "picture"
    noun: ClassVar[str] = "picture"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Caption", "what is to be seen")
    what: Text = choice("Kind", ("photo", "sketch"), "photo")
    about: Text = text("About", "what it shows, as a phone sheet calls it")
    file: Text = text("File", "in the folder 'pictures'")
    dimensions: Text = note("Dimensions", "as typed on the sketch")
    by: Text = text("Taken by")
    date: Text = day("Taken on")
    on: Text = choice("Belongs to", tuple(HOMES), JOB)
    to: Text = text("Which")
    audience: Text = choice("Who may see it", AUDIENCES, "office")
