"""The list of words: found by a part, in the words of either country, and with what is named so first."""

import re
from pathlib import Path

import pytest

from stagefloor.entry import word_list
from stagefloor.entry.session import Session
from stagefloor.job import store
from stagefloor.reference.tables import load


@pytest.fixture
def session(tmp_path: Path, request: pytest.FixtureRequest) -> Session:
    return Session(store.create(tmp_path / "job", {"basis": request.param}))


def terms(html: str) -> list[str]:
    return re.findall(r"<dt>([^<]*?) ?(?:<small>.*?</small>)?</dt>", html)


@pytest.mark.parametrize("session", ["US", "IEC/UK"], indirect=True)
def test_every_word_is_there_once_and_means_something(session: Session) -> None:
    found = terms(word_list.listed("", session))
    assert len(found) == len(set(found)) == len(load("words")) > 60
    assert found == sorted(found, key=str.lower)
    for row in load("words"):
        assert len(row.text("meaning").split()) > 2 and not row.text("meaning").endswith("."), row.key


@pytest.mark.parametrize("session", ["US", "IEC/UK"], indirect=True)
@pytest.mark.parametrize(("part", "first"), [
    ("earth", "protective earth"), ("ground", "protective earth"), ("branch power", "mains"), ("Snag", "punch list"),
    ("stage l", "stage left")])
def test_a_word_is_found_whatever_the_country(session: Session, part: str, first: str) -> None:
    if session.job.settings.basis != "US" and part in ("ground", "branch power"):
        assert first not in terms(word_list.listed(part, session))[:1]
    else:
        assert terms(word_list.listed(part, session))[0] == first


@pytest.mark.parametrize("session", ["US"], indirect=True)
def test_what_is_typed_stays_text_and_a_miss_says_so(session: Session) -> None:
    said = word_list.listed("<script>", session)
    assert "<script>" not in said and "No word here holds" in said
