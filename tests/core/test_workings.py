"""A working prints its formula, values, basis and margin as text, as escaped HTML and as plain data."""

import json

import pytest

from stagefloor.core.open_items import CHECK, DONE, STOP, OpenItem, ordered
from stagefloor.core.workings import MEMORY, Basis, Value, Working


def working(amount: float = 3.0, limit: float | None = 4.0, sense: str = "<=") -> Working:
    bound = None if limit is None else Value("", "limit", limit, "m")
    return Working(
        "A <b>name</b>", "L = a + b", (Value("a", "first & last", 1.0, "m"),), Value("L", "length", amount, "m"),
        (Basis("a standard", MEMORY),), bound, sense, ("a note",), (Value("x", "another", 7.0, "s"),),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("amount", "limit", "sense", "margin", "holds"),
    [
        (3, 4, "<=", 1, True),
        (4, 4, "<=", 0, True),
        (5, 4, "<=", -1, False),
        (5, 4, ">=", 1, True),
        (3, 4, ">=", -1, False),
    ],
)
def test_margin_and_side_of_the_limit(amount, limit, sense, margin, holds):
    found = working(amount, limit, sense)
    assert found.margin == margin
    assert found.holds is holds


def test_without_a_limit_nothing_holds_or_fails():
    assert working(limit=None).holds is None
    assert working(limit=None).margin is None


def test_text_has_every_fact():
    text = working().as_text()
    for part in (
        "3 m",
        "L = a + b",
        "first & last",
        "at most 4 m: kept, 1 m to spare",
        "a note",
        "another = 7 s",
        "from memory",
    ):
        assert part in text


def test_html_is_escaped():
    html = working().as_html()
    assert "<b>name" not in html
    assert "&lt;b&gt;name" in html
    assert "first &amp; last" in html


def test_data_is_plain():
    data = json.loads(json.dumps(working().as_data()))
    assert data["result"]["amount"] == 3.0
    assert data["also"][0]["name"] == "another"
    assert data["basis"] == [{"text": "a standard", "status": MEMORY}]


def test_an_unknown_status_is_a_bug():
    with pytest.raises(ValueError, match="unknown status"):
        Basis("x", "hearsay")


def test_what_is_unknown_comes_first():
    def item(state: str, blocks: str) -> OpenItem:
        return OpenItem("code", "boxes", "FB1", "what", "", "", "", state, blocks)

    items = [
        item(DONE, ""),
        item(CHECK, "floor finish"),
        item(STOP, "first event"),
        item(STOP, "positions frozen"),
    ]
    found = ordered(items)
    assert [(i.state, i.blocks) for i in found][:2] == [(STOP, "positions frozen"), (STOP, "first event")]
    assert found[-1].state == DONE
    assert [i.must_mend for i in found] == [True, True, False, False]
