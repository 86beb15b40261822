"""Words by code basis: NFPA 70 (2023) article 100 says branch circuit, receptacle, ground; BS 7671 part 2 and IEC 60050
say mains, socket-outlet, earth."""

import pytest

from stagefloor.core.words import local


@pytest.mark.parametrize(("text", "us", "elsewhere"), [
    ("Mains is behind the barrier", "Branch power is behind the barrier", "Mains is behind the barrier"),
    ("4 mains outlets, 1 mains outlet", "4 receptacles, 1 receptacle", "4 mains outlets, 1 mains outlet"),
    ("Mains panel across", "Branch panel across", "Mains panel across"),
    ("the receptacle is grounded", "the receptacle is grounded", "the outlet is earthed"),
    ("grounding conductor", "grounding conductor", "earthing conductor"),
    ("down to the ground; remains; mains-borne", "down to the ground; remains; mains-borne",
     "down to the ground; remains; mains-borne")])
def test_our_own_texts_follow_the_code_basis(text: str, us: str, elsewhere: str) -> None:
    assert local(text, "US") == us
    assert local(text, "IEC/UK") == elsewhere
