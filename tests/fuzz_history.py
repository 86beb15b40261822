"""Damaged and strange histories beside a good job: its edits, its kept states, its lock. Every way back works, or says why
not in one sentence and changes no byte of the job. `tests/fuzz.py` runs a great many of them.
"""

import copy
import json
import random
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from fuzz_inputs import NASTY, house, strange_bytes
from fuzz_job import ODD, bytewise, content, one_sentence, structured

from stagefloor.core.problems import Problem
from stagefloor.entry.history import when
from stagefloor.job import edit, history, store, versions
from stagefloor.job.model import RECORDS, Job

IN_THE_WAY = ("job-000003.json", "edits.jsonl", "../.job.lock", "../.job.json.1-ab.new", "job-99999999999999999999.json",
              "job-٣.json", "job-.json", "aside-job-000002.json", "job-000999.json")
KINDS = (*RECORDS, "settings", store.ORDER)
Entry = dict[str, Any]


class Histories:
    """Histories, one after the other, beside a job that is as before for each."""

    name = "histories"

    def __init__(self, folder: Path) -> None:
        self.folder, self.target = folder, folder / store.FILE
        self.target.write_text(store.to_text(Job()))
        store.transact(folder, lambda _job: house(), "start")
        first = {kind: next(iter(table)) for kind, table in store.read(folder).job.tables.items()}
        steps: list[Callable[[Job], Job]] = [
            lambda j: edit.set_fields(j, "point", first["point"], {"x": "4' 2\"", "microphone": "3"}),
            lambda j: edit.delete(j, "cable", [first["cable"]]),
            lambda j: edit.set_fields(j, "settings", "job", {"venue": "X", "units": "m"}),
            lambda j: edit.reorder(j, "point", sorted(j.tables["point"], reverse=True)),
            lambda j: edit.delete(j, "point", [first["point"]]),
            lambda j: edit.add(j, "punch", [{"label": "lid scrapes"}])[0]]
        for number, step in enumerate(steps):
            store.transact(folder, step, f"step {number}", "Kim")
        self.start = {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*.json*") if p.is_file()}
        log = self.start[Path("history/edits.jsonl")]
        self.entries: list[Entry] = [json.loads(line) for line in log.splitlines() if line]
        self.log, self.text = log, self.start[Path(store.FILE)].decode()

    def one(self, rng: random.Random) -> str:
        """'damaged', 'refused' or 'done' for one history and one way back; anything else is raised."""
        self._fresh()
        for _ in range(rng.choice((1, 1, 2))):
            self._strange(rng)
        before = self.target.read_bytes()
        try:
            edits = store.edits(self.folder)
            for one in edits:
                when(one.when)
                history.deleted(one)
                (one.name + one.by).encode("utf-8", "replace")
            for version in versions.kept(self.folder):
                when(version.when)
                with suppress(Problem):
                    content(versions.job_of(version))
            done = self._back(rng, edits)
        except Problem as problem:
            one_sentence(problem)
            done = "refused"
            assert self.target.read_bytes() == before, "refused, and the job's file changed"
        try:
            job = store.read(self.folder).job
        except Problem as problem:
            one_sentence(problem)
            assert self.target.read_bytes() == before, "a damaged job was changed"
            return "damaged"
        self._goes_on(job)
        return done

    def _back(self, rng: random.Random, edits: list[store.Edit]) -> str:
        number = rng.choice([*range(9), 99, *(e.sequence for e in edits)])
        job = store.read(self.folder).job
        way = rng.randrange(4)
        if way == 0:
            after = store.undo(self.folder, number)
        elif way == 1:
            earlier = history.state_at(self.folder, number)
            for difference in history.differences(earlier, job):
                assert difference.record
            after = store.transact(self.folder, history.back_to(self.folder, number), "back")
            assert content(after) == content(earlier)
        elif way == 2:
            after = store.transact(self.folder, history.bring_back(rng.choice(edits)), "brought back") if edits else job
        else:
            found = versions.kept(self.folder)
            state = versions.job_of(rng.choice(found)) if found else job
            history.differences(state, job)
            after = store.transact(self.folder, lambda j: edit.set_fields(j, "settings", "job", {"venue": "Y"}), "venue")
        opened = store.from_data(json.loads(self.target.read_text("utf-8-sig")), self.target)  # past what is remembered
        assert content(opened.job) == content(after), "what was saved is not what is read"
        return "done"

    def _goes_on(self, job: Job) -> None:
        """The next edit is saved and noted, whatever lies in the history; or it is refused and nothing changes."""
        before = self.target.read_bytes()
        try:
            after = store.transact(self.folder, lambda j: edit.add(j, "event", [{"label": "later"}])[0], "later")
        except Problem as problem:
            one_sentence(problem)
            assert self.target.read_bytes() == before, "refused, and the job's file changed"
            return
        assert after.sequence == job.sequence + 1
        noted = store.edits(self.folder)[-1]
        assert (noted.sequence, noted.name) == (after.sequence, "later"), "the edit is not in the history"
        assert content(store.undo(self.folder, after.sequence)) == content(job), "an undo does not take it back"

    def _fresh(self) -> None:
        shutil.rmtree(self.folder)
        (self.folder / "history").mkdir(parents=True)
        for name, data in self.start.items():
            (self.folder / name).write_bytes(data)

    def _strange(self, rng: random.Random) -> None:
        folder, roll = self.folder / "history", rng.random()
        if roll < 0.55:
            _write(folder / "edits.jsonl", self._lines(rng))
        elif roll < 0.65:
            _write(folder / "edits.jsonl", strange_bytes(self.log, rng))
        elif roll < 0.8:
            path = rng.choice(sorted(folder.glob("job-*.json")) or [folder / "job-000002.json"])
            _write(path, rng.choice((structured, bytewise))(self.text, rng))
        elif roll < 0.9:
            path = folder / rng.choice(IN_THE_WAY)
            with suppress(OSError):  # what an earlier change left there is in the way of this one
                path.unlink(missing_ok=True)
                match rng.randrange(3):
                    case 0:
                        path.mkdir()
                    case 1:
                        path.symlink_to(rng.choice((path.name, "/dev/null", "..", "nowhere")))
                    case _:
                        path.write_bytes(rng.choice((b"", b"\0" * 99, self.text.encode())))
        elif roll < 0.94:
            shutil.rmtree(folder, ignore_errors=True)
            if rng.random() < 0.3 and not folder.exists():
                folder.write_bytes(b"in the way")
        else:  # the job itself, with its history whole
            self.target.write_bytes(rng.choice((structured, bytewise))(self.text, rng))

    def _lines(self, rng: random.Random) -> bytes:
        """The edits with values replaced, lines left out, doubled, in another order, of other jobs."""
        entries: list[Any] = copy.deepcopy(self.entries)
        for _ in range(rng.choice((1, 1, 2, 4))):
            if not entries:
                break
            at = rng.randrange(len(entries))
            one, roll = entries[at], rng.random()
            if not isinstance(one, dict) or not isinstance(one.get("changes"), list):
                continue
            changes = [c for c in one["changes"] if isinstance(c, list) and len(c) == 4]
            if roll < 0.3:
                one[rng.choice(list(one))] = rng.choice((*ODD, *NASTY))
            elif roll < 0.45 and changes:
                change = rng.choice(changes)
                which = rng.randrange(4)
                change[which] = rng.choice(KINDS) if which == 0 else rng.choice((*ODD, *NASTY, {"ids": [[]]}, {"ids": 5}))
            elif roll < 0.7 and changes:
                held = [f for c in changes for f in c[2:] if isinstance(f, dict) and f]
                if held:
                    fields = rng.choice(held)
                    fields[rng.choice((*fields, "id", "x", "points", "events"))] = copy.deepcopy(rng.choice((*ODD, *NASTY)))
            elif roll < 0.76:
                del entries[at]
            elif roll < 0.82:
                entries.insert(rng.randrange(len(entries) + 1), copy.deepcopy(one))
            elif roll < 0.86:
                rng.shuffle(entries)
            elif roll < 0.93:
                entries.insert(at, rng.choice((*ODD, one | {"was": "", "now": 5}, one | {"sequence": rng.choice((0, 7,
                                                                                                                 10**20))})))
            else:
                one["changes"] = [*one["changes"], *copy.deepcopy(rng.choice(self.entries)["changes"])]
        return b"\n".join(json.dumps(e).encode() for e in entries) + rng.choice((b"", b"\n", b"\n{"))


def _write(path: Path, data: bytes) -> None:
    """Into a plain file: what an earlier change left there may be a folder or lead elsewhere."""
    with suppress(OSError):
        if path.is_file() and not path.is_symlink():
            path.write_bytes(data)
