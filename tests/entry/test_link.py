"""The line between a view and Python, from Python's side: each edit is carried out once and answered, files come whole."""

import logging

import pytest

from stagefloor.entry.file_in import FileIn
from stagefloor.entry.link import Linked


class Owner(Linked):
    """Counts what is asked of it, and fails while it puts the answer together."""

    def _answer(self, message):
        self._ask(message)
        raise KeyError("row")


def test_a_fault_after_the_edit_is_an_answer_and_the_edit_is_not_made_again(caplog):
    made, sent = [], []
    owner = Owner(made.append)
    owner.send = sent.append
    with caplog.at_level(logging.CRITICAL):
        for _ in range(2):  # the browser asks again while it has no answer
            owner._receive(owner, {"do": "add", "client": "c", "edit": 1}, [])
    assert made == [{"do": "add"}]
    assert [(a["ok"], a["ack"]) for a in sent] == [(False, 1), (False, 1)]
    assert "look whether it is there" in sent[0]["say"]


class Whole(Owner):
    def _whole(self):
        return {"do": "whole"}

    def _answer(self, message):
        return {"ok": True}


def test_a_page_loaded_again_is_told_which_of_its_edits_were_made():
    sent = []
    owner = Whole(lambda message: None)
    owner.send = sent.append
    owner._receive(owner, {"do": "add", "client": "c", "edit": 1}, [])
    owner._receive(owner, {"do": "hello", "earlier": [["c", 1], ["c", 2], ["d", 1], [], "c", None, [{}]]}, [])
    owner._receive(owner, {"do": "hello", "earlier": "c"}, [])
    assert [message["had"] for message in sent[1:]] == [[["c", 1]], []]


@pytest.mark.parametrize("late", [b"late", b""])
def test_a_file_chosen_while_another_is_read_takes_its_place(late):
    came, sent = [], []
    field = FileIn(lambda name, data: came.append((name, data)) or "read", most=100)
    field.send = sent.append
    field._receive(None, {"do": "begin", "upload": 1, "name": "a", "first": True}, [])
    field._receive(None, {"do": "part", "upload": 1, "last": False}, [b"a1"])
    field._receive(None, {"do": "begin", "upload": 2, "name": "b", "first": True}, [])
    field._receive(None, {"do": "part", "upload": 1, "last": True}, [late])
    field._receive(None, {"do": "part", "upload": 2, "last": False}, [b"b1"])
    field._receive(None, {"do": "part", "upload": 2, "last": True}, [b"b2"])
    assert came == [("b", b"b1b2")]
    assert [(m["do"], m["upload"]) for m in sent] == [("next", 1), ("next", 2), ("said", 2)]
