"""One open job in one kernel: reads it, applies edits as transactions, tells the views, notices edits from elsewhere.

Keeps no derived value: results are computed from the job as it is on disk.
"""

import asyncio
import contextlib
import gc
import logging
import os
import sys
from collections.abc import Callable, Coroutine
from functools import lru_cache
from pathlib import Path
from typing import Any

from stagefloor.core.problems import Problem
from stagefloor.core.words import Words
from stagefloor.entry.own_name import own_name
from stagefloor.job import store
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.steps.boxes.schedule import reconciled

HEAD_START = 0.012  # seconds that the answer to an edit has to leave before views are worked out
TURN = 0.0005  # seconds: the thread that sends waits no longer for its turn beside one that works out views
LOOK_AGAIN = 1.0  # seconds between looks at the file for edits from elsewhere

log = logging.getLogger(__name__)


class Session:
    """The job that the grids and plans of one step edit.

    Listeners are called after every change of the job, ours or from elsewhere; each reads `results()`. Those that
    said `first` come first; between two of the others the next edit may be answered.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = store.job_file(path)
        self._first: list[Callable[[], None]] = []
        self._others: list[Callable[[], None]] = []
        self._untold: list[Callable[[], None]] = []
        self._previews: list[Callable[[Results], None]] = []
        self._results: Results | None = None
        self.elsewhere = False
        self._tasks: set[asyncio.Task[None]] = set()
        self._undo: list[tuple[int, str]] = []  # number and name of each edit made here
        self._redo: list[tuple[int, str]] = []
        self._read()

    @property
    def by(self) -> str:
        """Who edits here, for the history."""
        return own_name()

    @property
    def job(self) -> Job:
        return self._job

    def _read(self) -> None:
        stamp = store.stamp(self.path)  # before: what is saved while it is read is seen at the next look
        opened = store.read(self.path)
        self._stamp, self._job, self.faults, self._results = stamp, opened.job, opened.faults, None

    def results(self) -> Results:
        """All results of the job as it is now."""
        if self._results is None:
            self._results = compute(self._job, self.faults)
        return self._results

    @property
    def words(self) -> Words:
        """The words that the job speaks on screen."""
        return self.results().words

    def edit(self, name: str, change: Callable[[Job], Job]) -> Job:
        """One edit as one transaction; openings and lines follow the need in the same one. Problem if refused."""
        before = 0

        def changed(job: Job) -> Job:
            nonlocal before
            before = job.sequence  # on disk: this session may not have looked since another one saved
            return reconciled(change(job))

        job = store.transact(self.path, changed, name, self.by)
        if job.sequence != before:
            self._undo.append((job.sequence, name))
            self._redo.clear()
        self._took(job)
        return job

    def undo(self) -> str:
        """Take back the last edit made here and say which; a Problem says why if that can't be done."""
        if not self._undo:
            raise Problem("There is nothing to undo here; older edits are in the history.")
        return f"Taken back: {self._back(self._undo, self._redo, 'Undo')}."

    def redo(self) -> str:
        """Make the edit again that was last undone here, and say which."""
        if not self._redo:
            raise Problem("There is nothing to redo.")
        return f"Made again: {self._back(self._redo, self._undo, 'Redo')}."

    def _back(self, source: list[tuple[int, str]], target: list[tuple[int, str]], word: str) -> str:
        sequence, name = source[-1]
        job = store.undo(self.path, sequence, self.by, word)
        target.append((job.sequence, source.pop()[1]))
        self._took(job)
        return name.rstrip(".")

    def _took(self, job: Job) -> None:
        self._job, self._results = job, None
        with contextlib.suppress(Problem):  # somebody else may have saved since; the next look says why it can't be read
            self._read()
        self._soon()

    def listen(self, listener: Callable[[], None], *, first: bool = False) -> None:
        """Call `listener` after each change of the job; `first`: before all others, for what the eye waits for."""
        (self._first if first else self._others).append(listener)

    def listen_to_previews(self, listener: Callable[[Results], None]) -> None:
        """Call `listener` with the results of a job that is only tried, such as a box still under the hand."""
        self._previews.append(listener)

    def preview(self, job: Job) -> None:
        """Show what a change would give, without making it; the next edit or preview shows something else again."""
        results = compute(job, self.faults)
        for listener in self._previews:
            listener(results)

    def _soon(self) -> None:
        # the answer to an edit travels first, the views follow one by one; a newer edit starts the round again
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.tell()
            return
        self.elsewhere = False
        waiting, self._untold = bool(self._untold), [*self._first, *self._others]
        if not waiting:
            loop.call_later(HEAD_START, self._tell_next)

    def _tell_next(self) -> None:
        if not self._untold:
            return
        listener = self._untold.pop(0)
        if self._untold:
            # before the call: a view that fails must not keep the others from hearing; later: so that an edit
            # that waits is taken up in between
            asyncio.get_running_loop().call_later(0.001, self._tell_next)
        listener()

    def tell(self, elsewhere: bool = False) -> None:
        """Let every view read the job again; `elsewhere` if someone else changed it."""
        self.elsewhere = elsewhere
        self._untold = []
        failed: Exception | None = None
        for listener in [*self._first, *self._others]:
            try:
                listener()
            except Exception as error:  # the others hear of it all the same
                failed = failed or error
        if failed:
            raise failed

    def look(self) -> bool:
        """Read the file again if someone else changed it; True if so."""
        try:
            if store.stamp(self.path) == self._stamp:
                return False
            self._read()
        except (OSError, Problem):
            return False  # a file that can't be read now stays on screen as it was; the next edit says why
        self.tell(elsewhere=True)
        return True

    def start(self, work: Coroutine[Any, Any, None]) -> None:
        """Run long work beside the page; it is held here, since a loop keeps only a weak hold on its tasks."""
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def watch(self) -> None:
        """Look at the file again and again, for as long as the kernel lives."""
        while True:
            await asyncio.sleep(LOOK_AGAIN)
            try:
                self.look()
            except Exception:
                log.exception("a view could not show an edit from elsewhere")


@lru_cache(maxsize=1)
def here() -> Session:
    """The session of this kernel's job, named by STAGEFLOOR_JOB, else the job in the current folder."""
    session = Session(os.environ.get("STAGEFLOOR_JOB") or Path.cwd())
    # Libraries stay for good: looking through them for garbage would hold up an edit by as long as all the rest.
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(TURN)
    with contextlib.suppress(RuntimeError):  # outside a running loop, as in a test, nobody watches
        session.start(session.watch())
    return session
