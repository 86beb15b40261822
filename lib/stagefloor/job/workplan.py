"""When the job is done, by whom and in which order: dates, own steps, who does what. For the office."""

from typing import ClassVar

from stagefloor.core.open_items import DATES
from stagefloor.job.fields import Amount, Flag, Text, choice, day, flag, note, number, text
from stagefloor.job.record import Record

WEEKS = ("Monday to Friday", "Monday to Saturday", "every day")


class WorkPlan(Record):
    """One a job: when work starts and on which days it is done."""

    kind: ClassVar[str] = "workplan"
    noun: ClassVar[str] = "work plan"
    step: ClassVar[str] = "labour"

    label: Text = text("Work plan", default="Work plan")
    start: Text = day("Work starts on")
    week: Text = choice("Working days", WEEKS, WEEKS[0])
    off: Text = note("Days off", "dates, separated by commas, for holidays and show days")


class JobDate(Record):
    """One of the five dates that rule the job."""

    kind: ClassVar[str] = "jobdate"
    noun: ClassVar[str] = "date of the job"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "what"

    what: Text = choice("Which date", DATES, DATES[0])
    date: Text = day("On")
    remark: Text = note("Remark for the office")


class WorkTask(Record):
    """A step of the work that the takeoff does not know, or the days that a known one really takes."""

    kind: ClassVar[str] = "worktask"
    noun: ClassVar[str] = "step of the work"
    step: ClassVar[str] = "labour"

    label: Text = text("Step", "a name from the order of work changes that step; any other name adds one")
    days: Amount = number("Days", "working days")
    after: Text = text("After", "names of steps, separated by semicolons")
    before: Text = text("Before", "names of steps, separated by semicolons")
    others: Flag = flag("Done by others", "does not take the crew's time")
    by: Text = text("By whom")


class Duty(Record):
    """Who furnishes, installs, terminates and tests one item."""

    kind: ClassVar[str] = "duty"
    noun: ClassVar[str] = "who does what"
    nouns: ClassVar[str] = "who does what"
    step: ClassVar[str] = "labour"
    name_field: ClassVar[str] = "item"

    item: Text = text("Item", "a name from the list of items; any other name adds one")
    furnished: Text = text("Furnished by")
    installed: Text = text("Installed by")
    terminated: Text = text("Terminated by")
    tested: Text = text("Tested by")
