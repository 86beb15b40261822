"""Where the parts of an SVG drawing lie, and which are seen. Places worked out by hand with the steps of SVG 2, 8.2 (the
equivalent transform of a viewport), 5.5 (symbol), 5.6 (use) and 8.9 (units); transforms put together by shapely."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.outlines import GRID
from stagefloor.job.exchange.svg_file import outlines

SIDE = 100  # of a frame around everything
Bounds = tuple[float, float, float, float]


def bounds(body: str) -> list[Bounds]:
    """Bounds of each line, in units of the drawing, without the frame."""
    head = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 100 100"'
    found = outlines(f'<svg {head}><path d="M0 0H100V100H0Z"/>{body}</svg>'.encode(), "hall")
    unit = GRID / SIDE
    made = [tuple(v / unit for v in (min(n[0::2]), min(n[1::2]), max(n[0::2]), max(n[1::2]))) for n in found.lines]
    return made[1:]  # type: ignore[return-value]


def only(body: str) -> Bounds:
    (one,) = bounds(body)
    return one


TEN = '<rect width="10" height="10"/>'


@pytest.mark.parametrize(("body", "places"), [
    # the viewport of 20 by 20 shows 2 by 2 units: each is 10 wide
    ('<svg x="10" y="10" width="20" height="20" viewBox="0 0 2 2"><rect width="2" height="2"/></svg>', (10, 10, 30, 30)),
    # no viewBox: moved alone
    (f'<svg x="10" y="20" width="5" height="5">{TEN}</svg>', (10, 20, 20, 30)),
    # 40 by 20 for 10 by 10: meet takes the smaller scale 2 and leaves 20 across, slice the larger 4 and hangs over by 20
    (f'<svg x="5" y="5" width="40" height="20" viewBox="0 0 10 10">{TEN}</svg>', (15, 5, 35, 25)),
    (f'<svg x="5" y="5" width="40" height="20" viewBox="0 0 10 10" preserveAspectRatio="xMinYMid">{TEN}</svg>',
     (5, 5, 25, 25)),
    (f'<svg x="5" y="5" width="40" height="20" viewBox="0 0 10 10" preserveAspectRatio="xMaxYMin meet">{TEN}</svg>',
     (25, 5, 45, 25)),
    (f'<svg x="5" y="30" width="40" height="20" viewBox="0 0 10 10" preserveAspectRatio="xMidYMax slice">{TEN}</svg>',
     (5, 10, 45, 50)),
    (f'<svg x="5" y="30" width="40" height="20" viewBox="0 0 10 10" preserveAspectRatio="xMidYMin slice">{TEN}</svg>',
     (5, 30, 45, 70)),
    (f'<svg x="5" y="5" width="40" height="20" viewBox="0 0 10 10" preserveAspectRatio="none">{TEN}</svg>', (5, 5, 45, 25)),
    # the viewBox begins at -10, -10
    (f'<svg width="40" height="40" viewBox="-10 -10 20 20">{TEN}</svg>', (20, 20, 40, 40)),
    # one within another: 4 times, and 2.5 times in it
    ('<svg x="10" y="10" width="40" height="40" viewBox="0 0 10 10"><svg x="2" y="4" width="5" height="5" viewBox="0 0 2 2">'
     '<rect width="2" height="1"/></svg></svg>', (18, 26, 38, 36)),
    # width and height are 100 % of the viewport around if they are not given, here 50 for 10
    ('<svg width="50" height="50" viewBox="0 0 20 20"><svg viewBox="0 0 10 10"><rect width="5" height="10"/></svg></svg>',
     (0, 0, 25, 50)),
    # shares of the nearest viewport: half of 20 units, each 2.5 wide
    ('<svg x="10" width="50" height="50" viewBox="0 0 20 20"><rect x="25%" y="10" width="50%" height="5"/></svg>',
     (22.5, 25, 47.5, 37.5)),
    ('<svg width="50" height="50" viewBox="0 0 30 40"><circle cx="50%" cy="50%" r="20%"/></svg>',  # of 50 / sqrt 2
     (25 - 1.25 * 50 * 0.2 / 2**0.5, 25 - 1.25 * 50 * 0.2 / 2**0.5, 25 + 1.25 * 50 * 0.2 / 2**0.5,
      25 + 1.25 * 50 * 0.2 / 2**0.5)),
    # symbols: of the size that the use gives, else their own, else all of the viewport
    (f'<symbol id="a" viewBox="0 0 10 10">{TEN}</symbol><use href="#a" x="50" y="50" width="20" height="20"/>',
     (50, 50, 70, 70)),
    ('<symbol id="a" viewBox="-20 -20 40 40"><rect x="-20" y="-20" width="40" height="40"/></symbol><use xlink:href="#a" '
     'width="40" height="40" x="-20" y="-20" transform="matrix(1 0 0 1 50 50)"/>', (30, 30, 70, 70)),
    (f'<symbol id="a" viewBox="0 0 10 10" width="30" height="40">{TEN}</symbol><use href="#a" y="1"/>', (0, 6, 30, 36)),
    (f'<use href="#a"/><symbol id="a" viewBox="0 0 20 20">{TEN}</symbol>', (0, 0, 50, 50)),
    (f'<symbol id="a">{TEN}</symbol><use href="#a" x="7" y="8" width="1" height="1"/>', (7, 8, 17, 18)),
    # the size of a use is none of a group's
    (f'<defs><g id="g">{TEN}</g></defs><use href="#g" x="10" width="50" height="50"/>', (10, 0, 20, 10)),
    # 1 in is 96 units (CSS Values and Units 3, 5.2)
    (f'<svg width="0.5in" height="0.5in" viewBox="0 0 20 20">{TEN}</svg>', (0, 0, 24, 24)),
])  # fmt: skip
def test_a_viewport_within_the_drawing_has_its_place_and_size(body: str, places: Bounds) -> None:
    assert only(body) == pytest.approx(places, abs=0.05)


sizes = st.integers(5, 20)


@settings(max_examples=40, deadline=None)
@given(st.tuples(sizes, sizes), st.tuples(sizes, sizes), st.tuples(st.integers(0, 20), st.integers(0, 20)),
       st.sampled_from((0.0, 0.5, 1.0)), st.sampled_from((0.0, 0.5, 1.0)), st.booleans(), st.integers(0, 1))
def test_any_symbol_lies_where_shapely_puts_it(view, size, at, across, up, cut, turned) -> None:
    word = {0.0: "Min", 0.5: "Mid", 1.0: "Max"}
    fit = (max if cut else min)(size[0] / view[0], size[1] / view[1])
    shape = affinity.scale(box(1, 1, 3, 4), fit, fit, origin=(0, 0))
    shape = affinity.translate(shape, at[0] + across * (size[0] - fit * view[0]), at[1] + up * (size[1] - fit * view[1]))
    shape = affinity.rotate(shape, 90 * turned, origin=(50, 50))
    # what hangs over the frame would change the grid
    shape = affinity.translate(affinity.scale(shape, 0.25, 0.25, origin=(0, 0)), 40, 40)
    found = only(f'<symbol id="s" viewBox="0 0 {view[0]} {view[1]}" preserveAspectRatio="x{word[across]}Y{word[up]} '
                 f'{"slice" if cut else "meet"}"><rect x="1" y="1" width="2" height="3"/></symbol>'
                 f'<g transform="translate(40 40) scale(.25)"><use href="#s" x="{at[0]}" y="{at[1]}" width="{size[0]}" '
                 f'height="{size[1]}" transform="rotate({90 * turned} 50 50)"/></g>')
    assert found == pytest.approx(shape.bounds, abs=0.01)


@pytest.mark.parametrize(("turned", "places"), [
    # SVG 2, 8.4: rotate(90 50 50) takes (x, y) to (100 - y, x); an ellipse of 8 by 4 turned by it is 4 by 8
    ('<rect x="40" y="40" width="10" height="5" transform="rotate(90 50 50)"/>', (55, 40, 60, 50)),
    ('<g transform="rotate(90 50 50)"><ellipse cx="40" cy="50" rx="8" ry="4"/></g>', (46, 32, 54, 48)),
    ('<rect width="10" height="10" transform="skewX(45)"/>', (0, 0, 20, 10)),
    ('<polygon points="40,40 50,40 50,45" transform="rotate(90 50 50)"/>', (55, 40, 60, 50))])
def test_what_is_turned_or_skewed_is_drawn_so(turned: str, places: Bounds) -> None:
    assert only(turned) == pytest.approx(places, abs=0.05)


@pytest.mark.parametrize("body", [
    f'<g visibility="hidden">{TEN}</g>', f'<g style="visibility: HIDDEN">{TEN}</g>',
    f'<g visibility="collapse"><g>{TEN}</g></g>',
    f'<g style="fill:red; display :none">{TEN}</g>', '<rect width="10" height="10" display="none"/>',
    f'<style>.h{{display:none}}</style><g class="a h">{TEN}</g>',
    f'<style>/* .x{{ */ @import url(x); rect.h , #k {{ visibility:hidden !important }}</style><g id="k">{TEN}</g>',
    '<style>rect{display:none} .s{display:inline}</style><rect width="10" height="10"/>',
    '<style>.h{display:inline}</style><style>.h{display:none}</style><rect class="h" width="10" height="10"/>',
    '<style>#i{display:none} .h{display:inline}</style><rect class="h" id="i" width="10" height="10"/>',
    f'<defs><g id="g">{TEN}</g></defs><g visibility="hidden"><use href="#g"/></g>',
    f'<defs><g id="g">{TEN}</g></defs><use href="#g" style="display:none"/>',
    f'<svg width="0" height="9" viewBox="0 0 5 5">{TEN}</svg>', f'<svg viewBox="0 0 0 5">{TEN}</svg>',
    f'<symbol id="a" viewBox="0 0 5 5">{TEN}</symbol><use href="#a" width="0"/>', f'<symbol id="a">{TEN}</symbol>',
])  # fmt: skip
def test_what_is_hidden_is_not_drawn(body: str) -> None:
    """SVG 2, 11.3 and 11.4 (display, visibility), 5.2 (zero sizes); CSS cascade 3, 6.1 (specificity, order)."""
    assert bounds(body) == []


@pytest.mark.parametrize("body", [
    '<g visibility="hidden"><rect visibility="visible" width="10" height="10"/></g>',  # inherited, and set anew
    '<style>rect{display:none} .s{display:inline}</style><rect class="s" width="10" height="10"/>',
    '<style>.h{display:none}</style><rect class="h" style="display:inline" width="10" height="10"/>',
    '<style media="print">rect{display:none}</style><rect width="10" height="10"/>',
    '<style>@media print{.h{display:none} .k{display:none}} .x{display:none}</style>'
    '<rect class="h k" width="10" height="10"/>',
    '<g display="none"><rect id="r" width="10" height="10"/></g><use href="#r"/>',  # what holds it is hidden, not itself
    '<g visibility="hidden"><rect id="r" width="10" height="10"/></g><use href="#r"/>',
    f'<g visibility="hidden"><defs><g id="g">{TEN}</g></defs></g><use href="#g"/>',
    '<style>g rect{display:none} g>rect{display:none}</style><rect width="10" height="10"/>',
])  # fmt: skip
def test_what_is_shown_again_is_drawn(body: str) -> None:
    assert bounds(body) == [(0, 0, 10, 10)]


def test_a_symbol_that_holds_itself_is_refused() -> None:
    with pytest.raises(Problem, match="holds itself"):
        bounds(f'<symbol id="a">{TEN}<use href="#a"/></symbol><use href="#a"/>')


def test_a_style_of_a_million_broken_signs_hides_nothing() -> None:
    for css in ("/*" * 500_000, "{" * 1_000_000, "}" * 1_000_000, ".a," * 300_000 + "{display:none}", "a{" * 300_000):
        assert bounds(f"<style>{css}</style>{TEN}") == [(0, 0, 10, 10)]
