"""Damaged and strange files taken into a job: each does exactly what its preview said, or is refused in one sentence and
changes no byte. `tests/fuzz.py` runs a great many of them.
"""

import random
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from fuzz_inputs import (
    TESTER,
    WIDE,
    house,
    phone_files,
    strange_bytes,
    strange_phone,
    strange_table,
    strange_xlsx,
    table_files,
)
from fuzz_job import content, one_sentence

from stagefloor.core.problems import Problem
from stagefloor.job import store
from stagefloor.job.closeout import Reading
from stagefloor.job.exchange import taking
from stagefloor.job.exchange.heads import fields_of, matched
from stagefloor.job.exchange.preview import ADD, CHANGE, Plan, carry_out
from stagefloor.job.exchange.sheet_file import read_sheet
from stagefloor.job.exchange.table_file import read_table
from stagefloor.job.exchange.tables import planned
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.job.sheets import Sheet, Taken
from stagefloor.steps import closeout
from stagefloor.steps.boxes.schedule import reconciled

NAMES = ("list.csv", "a\nb.csv", "<b>.xlsx", "\ud800.json", "x" * 300, "")
Planned = Callable[[Job], Plan]
BESIDE = (Sheet.kind, Taken.kind)  # what an import keeps of itself, beside what its lines tell


class Sheets:
    """Files that are taken in, one after the other, into a job that is as before for each."""

    name = "sheets"

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        job = house()
        self.phones = phone_files()
        self.tables = table_files(job)
        self.starts = [self._start(job)]
        for data in self.phones:  # jobs in which a sheet was taken in already
            file = read_sheet(strange_phone(data, _Quiet()))
            self.starts.append(self._start(taking.planned(job, file).job))
        self.present = -1

    def _start(self, job: Job) -> tuple[Job, bytes]:
        return job, store.to_text(job).encode()

    def one(self, rng: random.Random) -> str:
        """'taken', 'refused' or 'nothing new' for one file; anything else that happens is raised."""
        which = rng.choice((0, 0, 1, 2))
        job, written = self._fresh(which)
        kind = rng.choice(("phone", "phone", "table", "table", "xlsx", "tester"))
        try:
            done = self._tester(job, rng) if kind == "tester" else self._plan(job, kind, rng)
        except Problem as problem:
            one_sentence(problem)
            done = "refused"
        if done != "taken":
            assert (self.folder / store.FILE).read_bytes() == written, "refused, and the job's file changed"
            assert {p.name for p in self.folder.iterdir()} <= {store.FILE, ".job.lock"}, "refused, and something was left"
        return f"{kind}: {done}"

    def _fresh(self, which: int) -> tuple[Job, bytes]:
        job, written = self.starts[which]
        target = self.folder / store.FILE
        if which != self.present or not target.exists() or target.read_bytes() != written:
            target.write_bytes(written)
            self.present = which
        for beside in ("history", "pictures"):
            shutil.rmtree(self.folder / beside, ignore_errors=True)
        return job, written

    def _plan(self, job: Job, kind: str, rng: random.Random) -> str:
        name = rng.choice(NAMES)
        if kind == "phone":
            whole = rng.choice(self.phones)
            made = strange_phone(whole, rng)
            file = read_sheet(strange_bytes(made, rng) if rng.random() < 0.3 else made, name)

            def does(job: Job) -> Plan:
                return taking.planned(job, file)
        else:
            about, lines, parts, packed = rng.choice(self.tables)
            if kind == "xlsx":
                made = strange_bytes(packed, rng) if rng.random() < 0.25 else strange_xlsx(parts, rng)
            else:
                made = strange_table(lines, rng)
                made = strange_bytes(made, rng) if rng.random() < 0.25 else made
            rows = read_table(made, name)
            columns = matched(about, rows.heads)
            if rng.random() < 0.2:  # chosen by hand
                columns = tuple(replace(c, field=rng.choice((c.field, c.field, "", *fields_of(about)))) for c in columns)

            def does(job: Job) -> Plan:
                return planned(job, about, rows, columns)
        return self._carried(job, does, rng)

    def _carried(self, job: Job, does: Planned, rng: random.Random) -> str:
        shown = does(job)
        for line in shown.lines:
            one_sentence(Problem(f"{line.state} {line.subject} {line.words}"))
        if not (shown.of(ADD) or shown.of(CHANGE)):
            return "nothing new"  # the page offers no button
        follow = reconciled if rng.random() < 0.3 else lambda one: one
        carry_out(self.folder, lambda name, change: store.transact(self.folder, lambda j: follow(change(j)), name),
                  "file", does, shown.lines)
        opened = store.read(self.folder)
        assert opened.faults == (), "taken in, and the job has faults"
        assert content(opened.job) == content(follow(shown.job)), "something else was taken in than was shown"
        self._counted(job, shown)
        for kind, table in shown.job.tables.items():
            assert table.keys() <= opened.job.tables.get(kind, {}).keys(), f"a {kind} that was shown is not there"
        for picture in opened.job.all(Picture):
            if picture not in job.all(Picture):
                assert (self.folder / "pictures" / picture.file).stat().st_size, "a picture that is not there"
        assert does(opened.job).of(ADD) == [], "the same file again adds the same again"
        undone = store.undo(self.folder, opened.job.sequence)
        assert content(undone) == content(job), "an undo does not take all of it back"
        return "taken"

    def _counted(self, job: Job, shown: Plan) -> None:
        """As many records are new and changed as lines say so."""
        new = changed = 0
        for kind, table in shown.job.tables.items():
            if kind not in BESIDE:
                before = job.tables.get(kind, {})
                new += len(table.keys() - before.keys())
                changed += sum(before.get(i, r) != r for i, r in table.items())
                assert before.keys() <= table.keys(), "a file that is taken in deletes nothing"
        changed += shown.job.settings != job.settings
        assert new == len(shown.of(ADD)), "not as many new records as were shown"
        assert changed <= len(shown.of(CHANGE)), "more records changed than were shown"

    def _tester(self, job: Job, rng: random.Random) -> str:
        made = strange_table(list(rng.choice((TESTER, TESTER, WIDE))), rng)
        made = strange_bytes(made, rng) if rng.random() < 0.25 else made
        file = closeout.read_file(rng.choice(NAMES), made)
        found = closeout.preview(job, file, closeout.columns(job, file.headings))
        for sentence in (*found.faults, *(b.sentence for b in found.bad)):
            one_sentence(Problem(sentence))
        if not found.usable:
            return "nothing new"
        done = store.transact(self.folder, lambda j: closeout.taken(j, found), "file")
        opened = store.read(self.folder)
        assert opened.faults == ()
        assert content(opened.job) == content(done)
        assert len(done.all(Reading)) == len(job.all(Reading)) + len(found.taken), "not as many readings as were shown"
        again = closeout.preview(done, file, closeout.columns(done, file.headings))
        assert again.taken == (), "the same file again adds the same again"
        assert content(store.undo(self.folder, done.sequence)) == content(job), "an undo does not take all of it back"
        return "taken"


class _Quiet(random.Random):
    """Chooses nothing strange: the good file itself comes out."""

    def choice(self, given):  # type: ignore[no-untyped-def]
        return given[0]

    def randint(self, _least: int, _most: int) -> int:
        return 0
