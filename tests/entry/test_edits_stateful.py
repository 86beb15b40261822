"""Two sessions edit one file at random, take back, restore and bring back; a plain dict says what should be there."""

import copy
import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from stagefloor.core.problems import Problem
from stagefloor.entry.session import Session
from stagefloor.job import history, store
from stagefloor.job.edit import add, delete, reorder, set_fields
from stagefloor.job.model import Job

LABELS = st.text("ABCdéф舞 \"'<&\n", min_size=1, max_size=4)
WHICH = st.integers(0, 1)
Rows = dict[tuple[str, str], dict[str, Any]]  # (kind, id) -> its fields; the settings are a record among them


def rows_of(text: str) -> Rows:
    """What a job's file holds, by the JSON in it alone."""
    data = json.loads(text)
    found = {(kind, r["id"]): {k: v for k, v in r.items() if k != "id"} for kind, rows in data["records"].items()
             for r in rows}
    return found | {("settings", "job"): {k: v for k, v in data["settings"].items() if k != "id"}}


def orders_of(text: str) -> dict[str, list[str]]:
    return {kind: [r["id"] for r in rows] for kind, rows in json.loads(text)["records"].items()}


class TwoSessions(RuleBasedStateMachine):
    """`rows` is what should be there; `then` what was there after each edit; `edits` what each edit changed."""

    @initialize()
    def start(self) -> None:
        self.folder = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
        store.create(self.folder)
        self.sessions = [Session(self.folder), Session(self.folder)]
        self.undos: list[list[int]] = [[], []]
        self.redos: list[list[int]] = [[], []]
        self.rows = rows_of(self.text())
        self.then = [copy.deepcopy(self.rows)]
        self.orders = [orders_of(self.text())]
        self.given: set[str] = set()

    def teardown(self) -> None:
        if hasattr(self, "folder"):
            shutil.rmtree(self.folder)

    def text(self) -> str:
        return (self.folder / store.FILE).read_text(encoding="utf-8")

    def changes(self, number: int) -> dict[tuple[str, str], tuple[Any, Any]]:
        """Record -> fields before and after edit `number`, None where it was not there."""
        before, after = self.then[number - 1], self.then[number]
        return {k: (before.get(k), after.get(k)) for k in before.keys() | after.keys() if before.get(k) != after.get(k)}

    def saved(self, which: int) -> None:
        """An edit was told as saved: the file must hold what the dict says, and that becomes the past."""
        text = self.text()
        if rows_of(text) != self.rows:
            raise AssertionError(f"{rows_of(text)} on disk, and {self.rows} should be there")
        if json.loads(text)["sequence"] == len(self.then) - 1:  # nothing was different
            assert self.rows == self.then[-1]
            return
        self.then.append(copy.deepcopy(self.rows))
        self.orders.append(orders_of(text))
        self.undos[which].append(len(self.then) - 1)
        self.redos[which].clear()

    def refused(self, which: int, change: Any) -> None:
        before = self.text()
        try:
            self.sessions[which].edit("to be refused", change)
        except Problem as problem:
            assert problem.sentence
            assert self.text() == before
            return
        raise AssertionError("an edit that can't be right was taken")

    def ids(self, kind: str) -> list[str]:
        return [i for k, i in self.rows if k == kind]

    # --- edits

    @rule(which=WHICH, kind=st.sampled_from(("event", "point")), label=LABELS, first=st.booleans())
    def add_one(self, which: int, kind: str, label: str, first: bool) -> None:
        after = next(iter(self.ids(kind)), None) if first else None
        made: list[str] = []

        def change(job: Job) -> Job:
            job, ids = add(job, kind, [{"label": label}], after)
            made[:] = ids
            return job

        self.sessions[which].edit(f"{kind} added", change)
        assert made[0] not in self.given, "a number was given twice"
        self.given.add(made[0])
        self.rows[(kind, made[0])] = {"label": label} if label.strip() else {}
        self.saved(which)

    @precondition(lambda self: self.ids("point"))
    @rule(which=WHICH, data=st.data(), count=st.integers(0, 9), label=LABELS)
    def set_one(self, which: int, data: st.DataObject, count: int, label: str) -> None:
        point = data.draw(st.sampled_from(self.ids("point")))
        events = data.draw(st.lists(st.sampled_from(self.ids("event")), unique=True)) if self.ids("event") else []
        self.sessions[which].edit("point set", lambda job: set_fields(job, "point", point, {
            "microphone": str(count), "x": f"{count}' 6\"", "what": label, "events": events}))
        now = self.rows[("point", point)]
        now |= {"microphone": count, "x": f"{count}' 6\"", "what": label, "events": events}
        for empty in [k for k in ("what",) if not label.strip()]:
            del now[empty]
        self.saved(which)

    @rule(which=WHICH, venue=LABELS)
    def settings_set(self, which: int, venue: str) -> None:
        self.sessions[which].edit("venue", lambda job: set_fields(job, "settings", "job", {"venue": venue}))
        self.rows[("settings", "job")] = {**self.rows[("settings", "job")], "venue": venue}
        if not venue.strip():
            del self.rows[("settings", "job")]["venue"]
        self.saved(which)

    @precondition(lambda self: len(self.ids("point")) > 1)
    @rule(which=WHICH, data=st.data())
    def in_another_order(self, which: int, data: st.DataObject) -> None:
        ids = data.draw(st.permutations(orders_of(self.text())["point"]))
        self.sessions[which].edit("order", lambda job: reorder(job, "point", ids))
        assert orders_of(self.text())["point"] == list(ids)
        self.saved(which)

    @precondition(lambda self: self.ids("point") or self.ids("event"))
    @rule(which=WHICH, data=st.data())
    def delete_some(self, which: int, data: st.DataObject) -> None:
        kind = data.draw(st.sampled_from([k for k in ("point", "event") if self.ids(k)]))
        gone = data.draw(st.lists(st.sampled_from(self.ids(kind)), unique=True, min_size=1, max_size=3))
        used = {i for (k, _), r in self.rows.items() if k == "point" for i in r.get("events", ())}
        if kind == "event" and used & set(gone):
            self.refused(which, lambda job: delete(job, kind, gone))
            return
        self.sessions[which].edit("deleted", lambda job: delete(job, kind, gone))
        for one in gone:
            del self.rows[(kind, one)]
        self.saved(which)

    @rule(which=WHICH, bad=st.sampled_from(({"microphone": "many"}, {"x": "over there"}, {"sparkle": "1"},
                                            {"events": "No"})))
    def a_bad_edit(self, which: int, bad: dict[str, str]) -> None:
        self.refused(which, lambda job: add(job, "point", [bad])[0])

    # --- ways back

    def _take_back(self, which: int, stack: list[int], other: list[int], word: str) -> None:
        number = stack[-1]
        changed = self.changes(number)
        tried = {**self.rows} | {k: before for k, (before, _) in changed.items() if before is not None}
        for key in [k for k, (before, _) in changed.items() if before is None]:
            tried.pop(key, None)
        touched = any(self.rows.get(k) != after for k, (_, after) in changed.items())
        lost = any(("event", e) not in tried for (k, _), r in tried.items() if k == "point" for e in r.get("events", ()))
        before_text = self.text()
        try:
            getattr(self.sessions[which], word)()
        except Problem:
            assert touched or lost, f"edit {number} could have been taken back"
            assert self.text() == before_text
            return
        assert not touched, f"edit {number} was taken back over a later one"
        assert not lost, "an undo left something that points nowhere"
        self.rows = copy.deepcopy(tried)
        redos = list(self.redos[which])
        self.saved(which)
        if len(self.undos[which]) and self.undos[which][-1] == len(self.then) - 1:
            self.undos[which].pop()
        self.redos[which] = redos
        stack = self.undos[which] if word == "undo" else self.redos[which]
        stack.pop()
        other = self.redos[which] if word == "undo" else self.undos[which]
        other.append(len(self.then) - 1)

    @precondition(lambda self: any(self.undos))
    @rule(which=WHICH)
    def undo(self, which: int) -> None:
        if self.undos[which]:
            self._take_back(which, self.undos[which], self.redos[which], "undo")

    @precondition(lambda self: any(self.redos))
    @rule(which=WHICH)
    def redo(self, which: int) -> None:
        if self.redos[which]:
            self._take_back(which, self.redos[which], self.undos[which], "redo")

    @precondition(lambda self: len(self.then) > 2)
    @rule(which=WHICH, data=st.data(), between=st.booleans())
    def restore(self, which: int, data: st.DataObject, between: bool) -> None:
        """Back to an earlier state; now and then the other session saves between the question and the answer."""
        number = data.draw(st.integers(0, len(self.then) - 1))
        back = history.back_to(self.folder, number)
        if between:
            self.add_one(1 - which, "event", "between", False)
        self.sessions[which].edit("back", back)
        self.rows = copy.deepcopy(self.then[number])
        self.saved(which)

    @precondition(lambda self: len(self.then) > 2)
    @rule(which=WHICH, data=st.data())
    def bring_back(self, which: int, data: st.DataObject) -> None:
        number = data.draw(st.integers(1, len(self.then) - 1))
        edit = store.edits(self.folder)[number - 1]
        changed = self.changes(number)
        back = [k for k, (before, after) in changed.items() if before is not None and after is None and k not in self.rows]
        beside = [k for k, (before, after) in changed.items() if before is not None and after is not None
                  and k[0] != "settings" and self.rows.get(k) == after]
        if not back:
            self.refused(which, history.bring_back(edit))
            return
        self.sessions[which].edit("brought back", history.bring_back(edit))
        for key in [*back, *beside]:
            self.rows[key] = copy.deepcopy(changed[key][0])
        for key in back:
            if "events" in self.rows[key]:
                self.rows[key]["events"] = [e for e in self.rows[key]["events"] if ("event", e) in self.rows]
        self.saved(which)

    @rule(which=WHICH)
    def look(self, which: int) -> None:
        self.sessions[which].look()
        assert rows_of(store.to_text(self.sessions[which].job)) == self.rows

    # --- what always holds

    @invariant()
    def all_is_there(self) -> None:
        if not hasattr(self, "then"):
            return
        text = self.text()
        assert rows_of(text) == self.rows
        assert json.loads(text)["sequence"] == len(self.then) - 1
        store._seen.clear()
        assert store.read(self.folder).faults == ()

    @invariant()
    def the_history_has_no_gap(self) -> None:
        if hasattr(self, "then"):
            assert [e.sequence for e in store.edits(self.folder)] == list(range(1, len(self.then)))

    @rule(data=st.data())
    def each_state_is_as_it_was(self, data: st.DataObject) -> None:
        number = data.draw(st.integers(0, len(self.then) - 1))
        then = store.to_text(history.state_at(self.folder, number))
        assert rows_of(then) == self.then[number]
        assert {k: v for k, v in orders_of(then).items() if v} == {k: v for k, v in self.orders[number].items() if v}
        said = {d.record for d in history.differences(history.state_at(self.folder, number), store.read(self.folder).job)}
        assert bool(said) or self.then[number] == self.rows, "two states differ, and the comparison says nothing"


TwoSessions.TestCase.settings = settings(max_examples=25, stateful_step_count=30, deadline=None,
                                         suppress_health_check=list(HealthCheck))
TestTwoSessions = TwoSessions.TestCase
