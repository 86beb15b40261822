"""What a file would do to a job, line by line, before anything is done. Knows no file format."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job.background import Background
from stagefloor.job.exchange.picture_folder import put
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.wording import typed_texts

ADD, CHANGE, REFUSE, SAME = "added", "changed", "refused", "as it is"
Edit = Callable[[str, Callable[[Job], Job]], object]


@dataclass(frozen=True)
class Line:
    """One line of the file: what becomes of it, what it is about, what is in it, and why it is refused."""

    state: str
    subject: str
    words: str = ""


@dataclass(frozen=True)
class Plan:
    """The job as it would be, the lines in the order of the file, and files to put beside the job by name."""

    job: Job
    lines: tuple[Line, ...]
    files: Mapping[str, bytes] = field(default_factory=dict)

    def of(self, state: str) -> list[Line]:
        return [line for line in self.lines if line.state == state]

    def typed(self) -> tuple[str, ...]:
        """Texts of the file that stand in its lines, and are nobody's to reword."""
        return (*typed_texts(self.job), *(words for x in self.of(REFUSE) for words in (x.subject, x.words)))

    def sentence(self) -> str:
        """How many lines are added, changed, refused, already there."""
        found = Counter(line.state for line in self.lines)
        words = [f"{found[s]} {s}" for s in (ADD, CHANGE, REFUSE) if found[s]]
        if found[SAME]:
            words.append(f"{found[SAME]} there already")
        return (", ".join(words) if words else "nothing is in it") + "."


def carry_out(folder: Path, edit: Edit, name: str, planned: Callable[[Job], Plan], agreed: Sequence[Line]) -> Plan:
    """Do what was shown, in one transaction; a Problem, and nothing done, if the job has changed since.

    Parameters
    ----------
    folder : the job's folder; edit : the transaction, called with a name and a change of the job
    planned : what the file does to a job; agreed : the lines that the user saw
    """
    done: list[Plan] = []
    written: list[Path] = []

    def clear(job: Job) -> Job:
        """Under the lock: take away what was written, unless someone else's edit counts on it by now."""
        held = {p.file for p in job.all(Picture)} | {b.file for b in job.all(Background)}
        for path in written:
            if path.name not in held:
                path.unlink(missing_ok=True)
        raise _Cleared("nothing was taken in")

    def change(job: Job) -> Job:
        plan = planned(job)
        if tuple(plan.lines) != tuple(agreed):
            raise Problem("The job was changed meanwhile, so that the file would do something else now; nothing was "
                          "taken in. Look at the list again.")
        for file_name, data in plan.files.items():
            if put(folder / file_name, data):
                written.append(folder / file_name)
        done.append(plan)
        return plan.job

    try:
        edit(name, change)
    except Problem:
        if written:
            with suppress(_Cleared, Problem):  # a picture that nothing names does no harm
                edit(name, clear)
        raise
    return done[-1]


class _Cleared(Problem):
    """Ends a transaction that is to change nothing."""
