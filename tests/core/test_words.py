"""Words by code basis: NFPA 70 (2023) article 100 says branch circuit, receptacle, ground, panelboard, GFCI; BS 7671:2018
part 2 and IEC 60050-826 say mains, socket-outlet, earth, distribution board, RCD."""

import re
from html import escape, unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagefloor.core.words import ELSEWHERE, US, Words, local


@pytest.mark.parametrize(("text", "us", "elsewhere"), [
    ("Mains is behind the barrier", "Branch power is behind the barrier", "Mains is behind the barrier"),
    ("4 mains outlets, 1 mains outlet", "4 receptacles, 1 receptacle", "4 mains outlets, 1 mains outlet"),
    ("Mains panel across", "Panelboard across", "Mains panel across"),
    ("the receptacle is grounded", "the receptacle is grounded", "the outlet is earthed"),
    ("grounding conductor", "grounding conductor", "earthing conductor"),
    ("Labour: colour of the centre", "Labor: color of the center", "Labour: colour of the centre"),
    ("a residual-current device", "a GFCI", "a residual-current device"),
    ("one duplex or twin outlet", "one duplex receptacle", "one twin socket-outlet"),
    ("down to the ground; remains; mains-borne", "down to the ground; remains; mains-borne",
     "down to the ground; remains; mains-borne")])
def test_our_own_texts_follow_the_code_basis(text: str, us: str, elsewhere: str) -> None:
    assert local(text, "US") == us
    assert local(text, "IEC/UK") == elsewhere


TERMS = sorted({w for terms in (US, ELSEWHERE) for a, b in terms.items() for w in (a, b, a.title(), b.split()[-1])})
WORD = st.one_of(st.sampled_from(TERMS), st.text(st.characters(categories=("L", "N"), include_characters="<&\"'- "),
                                                 min_size=1, max_size=8))
TYPED = st.lists(WORD, min_size=1, max_size=4).map(" ".join).map(str.strip).filter(bool)


@given(TYPED, st.lists(st.sampled_from(TERMS), max_size=3), st.lists(st.sampled_from(TERMS), max_size=3),
       st.sampled_from(["US", "IEC/UK"]))
def test_what_was_typed_is_never_altered(typed: str, before: list[str], behind: list[str], basis: str) -> None:
    words = Words(basis, [typed, "another"])
    for text in (" ".join([*before, typed, *behind]), f"{' '.join(before)}: {typed}, {' '.join(behind)}", typed):
        assert typed in words.text(text)
        shown = words.html(f'<p title="{escape(text)}"><b>{escape(text)}</b></p>')
        assert re.sub(r"<[^>]*>", "", shown).count(escape(typed)) >= 1
        assert typed in unescape(shown.split('"')[1])


@given(st.lists(st.sampled_from([*TERMS, "of", "the", "1"]), max_size=6).map(" ".join), st.sampled_from(["US", "IEC/UK"]))
def test_a_text_in_its_words_stays_as_it_is(text: str, basis: str) -> None:
    once = local(text, basis)
    assert local(once, basis) == once


def test_what_is_quoted_was_typed_just_now() -> None:
    words = Words("US")
    assert words.text("'mains 3' is not a number; the mains outlet's place") == \
        "'mains 3' is not a number; the receptacle's place"


def test_only_what_is_read_changes_in_a_page() -> None:
    page = "<style>.mains{color:grey}</style><g class='mains' aria-label=\"bay 2, mains\"><b>mains &amp; x</b>"
    assert Words("US").html(page) == page.replace("2, mains", "2, branch power").replace("mains &amp;", "branch power &amp;")
