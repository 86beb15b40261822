"""An entry grid: rows of text as typed, each edit answered by the owner of the table; knows no job."""

from collections.abc import Callable, Iterable
from typing import Any

import traitlets

from stagefloor.entry.link import HERE, Answer, Linked, Message, front_end

Row = dict[str, Any]
Place = tuple[str, str]

EDITS = ("set", "add", "paste", "duplicate", "delete", "undo", "redo")
REFUSED = "Not accepted. Enter it again another way."
HELD_BACK = "Not saved, because another value in the same entry was refused. Enter it again."


class Grid(Linked):
    """A table to type into.

    Parameters
    ----------
    name : what the table is called on screen and by a screen reader.
    columns : dicts with `key`, `label`, `kind` ('text', 'number', 'choice', 'length', 'money', 'flag' or
        'note') and optional `choices` ([{value, label}]), `hint`, `unit`, `readonly`, `width` (pixels).
    rows : dicts with `id`, `cells` {key: text} and optional `problems` {key: sentence}, `marks` {key: word},
        `sort` {key: number} (what to sort by where the text alone would sort badly), `as` {key: {kind, choices}}
        (a cell of another kind than its column).
        The key '' in `problems` speaks of the whole row.
    on_change : called with one edit, answers with what changed:
        {'do': 'set', 'changes': [[row, key, text], ...]}
        {'do': 'add', 'after': row or None, 'cells': {key: text}}
        {'do': 'paste', 'changes': [...], 'after': row or None, 'new_rows': [{key: text}, ...]}, one step
        {'do': 'duplicate' or 'delete', 'rows': [row, ...]}, {'do': 'undo'}, {'do': 'redo'}
        The owner may call `update` before it answers, then the answer needs no rows.
        The answer: {'ok': bool, 'rows': [changed and new rows], 'removed': [ids], 'order': [all ids],
        'problems': {row: {key: sentence}}, 'say': sentence}; all but 'ok' may be left out.
        A cell named in `problems` was not stored: its text stays in the table beside the sentence until it
        is mended. With 'ok' False, changes whose row does not come back in `rows` count as not stored.
    empty_hint : what to do next while the table has no row.
    fixed : True if its rows are given and none can be added, copied or deleted.
    removable : True if rows of a fixed table can be deleted.
    keep_under : a name, unique to job and table, under which the browser keeps unanswered edits when the page
        is loaded again; '' keeps them only while the page is open.

    What an owner says in `problems` of a row is wrong with a value that is stored; what it says in its answer was not
    stored, and the browser counts it apart (`refused`, the keys of such cells, is added here).

    A flag cell holds 'yes' or 'no'. Text typed is data: the browser never reads it as markup.
    """

    _esm = front_end("grid_table.js", "grid.js")
    _css = (HERE / "grid.css").read_text("utf-8")
    columns: traitlets.List = traitlets.List().tag(sync=True)
    rows: traitlets.List = traitlets.List().tag(sync=True)
    empty_hint = traitlets.Unicode("").tag(sync=True)
    fixed = traitlets.Bool(False).tag(sync=True)
    removable = traitlets.Bool(False).tag(sync=True)

    def __init__(
        self,
        name: str,
        columns: list[dict[str, Any]],
        rows: list[Row],
        on_change: Callable[[Message], Answer | None],
        *,
        empty_hint: str = "No rows yet. Press 'Add row' to begin.",
        keep_under: str = "",
        fixed: bool = False,
        removable: bool = False,
    ) -> None:
        self._stored: dict[str, Row] = {row["id"]: row for row in rows}
        self._drawn: dict[str, tuple[Row, Row]] = {}  # row id -> the row as stored, and as shown when nothing is refused
        self._refused: dict[str, dict[str, tuple[str, str]]] = {}
        self._last_refused: set[Place] = set()
        self._told = False  # whether `update` was called while an edit is being answered
        super().__init__(
            on_change,
            name=name,
            columns=columns,
            rows=[self._shown(row["id"]) for row in rows],
            empty_hint=empty_hint,
            fixed=fixed,
            removable=removable,
            keep_under=keep_under,
        )

    def update(self, rows: list[Row], elsewhere: bool = True) -> None:
        """Show `rows` (the whole table as it now stands); only rows that differ travel to the browser.

        Text that was refused and not yet mended stays in its cell. A row that is the same object as last time counts
        as unchanged: a changed one must be a new one.
        """
        before = self._picture()
        kept = {row["id"] for row in rows}
        self._store(rows, [row for row in self._stored if row not in kept], [row["id"] for row in rows])
        self._told = True
        difference = self._difference(before)
        if any(difference.values()) and not self._answering:  # else the answer tells it all
            self.send({"do": "rows", "elsewhere": elsewhere, **difference})

    def _whole(self) -> Message:
        return {"do": "table", "rows": self.rows}

    def _renewed(self, answer: Answer) -> Answer:
        ids = [row["id"] for row in answer.get("rows", [])]
        return {**answer, "rows": [self._shown(i) for i in ids if i in self._stored], "order": list(self._stored),
                "removed": [i for i in (*answer.get("removed", []), *ids) if i not in self._stored]}

    def _answer(self, message: Message) -> Answer:
        do = message.get("do")
        if do not in EDITS:
            return {"ok": False, "say": f"The table does not know how to do {do!r}. Load the page again."}
        if do == "undo" and self._last_refused:
            return self._drop_refused()
        before = self._picture()
        changes = [(str(row), str(key), str(text)) for row, key, text in message.get("changes", [])]
        gone = [change for change in changes if change[0] not in before]
        if gone:
            message = {**message, "changes": [list(one) for one in changes if one[0] in before]}
        self._told = False
        said: Answer = {"ok": True} if do == "set" and not message["changes"] else self._ask(message)
        ok = bool(said.get("ok", True))
        rows = list(said.get("rows", []))
        new = [row["id"] for row in rows if row["id"] not in self._stored]
        self._store(rows, said.get("removed", []), said.get("order") or self._order_after(message, new))
        refused = said.get("problems", {})
        gone += [c for c in changes if c[0] in before and c[0] not in self._stored and c[1] in refused.get(c[0], {})]
        added = [row_id for row_id in self._stored if row_id not in before]
        typed = {(row, key): text for row, key, text in changes if row in before and row in self._stored}
        new_cells = message.get("new_rows") or [message.get("cells") or {}]
        for row_id, cells in zip(added, new_cells, strict=False):
            typed.update({(row_id, key): str(text) for key, text in cells.items()})
        self._judge(typed, said, ok, {row["id"] for row in rows})
        sentences = [said.get("say", ""), *(self._gone_sentence(text) for _, _, text in gone)]
        difference = self._difference(before, {row for row, _ in typed})
        return {"ok": ok, "added": added, "say": " ".join(filter(None, sentences)), **difference}

    def _judge(self, typed: dict[Place, str], said: Answer, ok: bool, returned: set[str]) -> None:
        """Keep what was refused beside its sentence, take what was accepted."""
        problems = {
            (row, key): sentence
            for row, cells in said.get("problems", {}).items()
            for key, sentence in cells.items()
        }
        self._last_refused = set()
        for place, text in typed.items():
            row, key = place
            sentence = problems.get(place)
            if sentence is None and not ok and row not in returned:
                sentence = HELD_BACK if problems else said.get("say") or REFUSED
            if sentence is not None:
                self._refused.setdefault(row, {})[key] = (text, sentence)
                self._last_refused.add(place)
                continue
            self._refused.get(row, {}).pop(key, None)
            if not self._told and row not in returned and row in self._stored:
                stored = self._stored[row]
                self._stored[row] = {**stored, "cells": {**stored["cells"], key: text}}
        self._refresh()

    def _drop_refused(self) -> Answer:
        """Undo of an entry that was never stored: take its text away, the job is not asked."""
        before = self._picture()
        for row, key in self._last_refused:
            self._refused.get(row, {}).pop(key, None)
        self._last_refused = set()
        self._refresh()
        return {"ok": True, "added": [], "say": "", **self._difference(before)}

    def _order_after(self, message: Message, added: list[str]) -> list[str]:
        """Where new rows go when the answer does not say: after the row named, else at the end."""
        order = list(self._stored)
        after = message.get("after") or (message.get("rows") or [None])[-1]
        at = order.index(after) + 1 if after in order else len(order)
        return order[:at] + added + order[at:]

    def _store(self, rows: Iterable[Row], removed: Iterable[str], order: list[str]) -> None:
        found = {**self._stored, **{row["id"]: row for row in rows}}
        for row_id in removed:
            found.pop(row_id, None)
        ids = dict.fromkeys(row_id for row_id in (*order, *found) if row_id in found)
        self._stored = {row_id: found[row_id] for row_id in ids}
        self._drawn = {row_id: held for row_id, held in self._drawn.items() if row_id in found}
        self._refused = {row: kept for row, kept in self._refused.items() if row in found}
        self._refresh()

    def _shown(self, row_id: str) -> Row:
        """A row as the browser shows it: what is stored, with refused text and its sentence laid over."""
        row, refused = self._stored[row_id], self._refused.get(row_id)
        held = self._drawn.get(row_id)
        if not refused and held is not None and held[0] is row:
            return held[1]
        shown = {**row, "cells": dict(row["cells"]), "problems": dict(row.get("problems", {}))}
        if not refused:
            self._drawn[row_id] = (row, shown)
            return shown
        for key, (text, sentence) in refused.items():
            shown["cells"][key] = text
            shown["problems"][key] = sentence
            shown["marks"] = {k: v for k, v in shown.get("marks", {}).items() if k != key}
        shown["refused"] = list(refused)
        return shown

    def _refresh(self) -> None:
        # In place: a view opened later reads the present rows, and no whole table travels at each edit.
        self.rows[:] = [self._shown(row_id) for row_id in self._stored]

    def _picture(self) -> dict[str, Row]:
        return {row["id"]: row for row in self.rows}

    def _gone_sentence(self, text: str) -> str:
        more = "" if self.fixed else " Add a row if it is still needed."
        return f"The row was removed elsewhere, so {text!r} was not saved.{more}"

    def _difference(self, before: dict[str, Row], also: Iterable[str] = ()) -> Message:
        """What a browser that shows `before` must be told; rows in `also` are told in any case."""
        told = set(also)
        report: Message = {
            "rows": [row for row in self.rows if row["id"] in told or _differ(before.get(row["id"]), row)],
            "removed": [row_id for row_id in before if row_id not in self._stored],
        }
        return report if list(before) == list(self._stored) else {**report, "order": list(self._stored)}


def _differ(before: Row | None, row: Row) -> bool:
    return before is not row and before != row
