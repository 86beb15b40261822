"""The printed renderer writes well-formed, escaped SVG with names for people who can't see it."""

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from package.sample import sample

from stagefloor.drawings import svg
from stagefloor.drawings.face import face
from stagefloor.drawings.plan import plan
from stagefloor.drawings.shapes import Drawing, Shape

SAMPLE = sample()
DRAWINGS = [plan(SAMPLE.scene), *(plan(SAMPLE.scene, e) for e in SAMPLE.scene.replay),
            *(face(b.face) for b in SAMPLE.boxes)]


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda d: d.title)
def test_well_formed_named_and_self_contained(drawing):
    root = ElementTree.fromstring(svg.render(drawing, "q"))
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(i.startswith("q") for i in ids)
    used = set(re.findall(r"url\(#(\w+)\)", svg.render(drawing, "q")))
    assert used <= set(ids)
    assert root.find("title").text == drawing.title
    assert root.find("desc").text == drawing.description
    assert set(root.get("aria-labelledby").split()) <= set(ids)
    assert {e.tag for e in root.iter()} <= {"svg", "title", "desc", "defs", "pattern", "rect", "path", "circle",
                                            "polygon", "polyline", "text"}


@given(st.text())
@settings(max_examples=200, deadline=None)
def test_any_text_stays_text(words):
    shape = Shape("text", "note", ((0.5, 0.5),), text=words, label=words)
    other = Shape("circle", "point", ((0.5, 0.5),), radius=0.1, label=words)
    root = ElementTree.fromstring(svg.render(Drawing(words, words, (0, 0, 1, 1), 100, (shape, other)), "q"))
    assert [e.tag for e in root] == ["title", "desc", "defs", "text", "circle"]


def test_hostile_text_is_escaped():
    assert svg.clean('<script>"&\'') == "&lt;script&gt;&quot;&amp;&#x27;"
    assert svg.clean("a\0b\x1bc\ud800d") == "a\ufffdb\ufffdc\ufffdd"


def test_the_prefix_can_not_carry_markup():
    with pytest.raises(ValueError, match="begin a name"):
        svg.render(DRAWINGS[0], 'x"><b')


def test_y_points_up_on_paper():
    """A point at the top of the extent is at 0 on paper; 100 px for 2 units gives 50 px a unit."""
    drawn = svg.render(Drawing("", "", (0, 0, 2, 1), 100, (Shape("circle", "point", ((1, 1),), radius=0.1),)), "q")
    circle = ElementTree.fromstring(drawn).find("circle")
    assert (circle.get("cx"), circle.get("cy"), circle.get("r")) == ("50", "0", "5")


def _luminance(colour):
    """Relative luminance, WCAG 2.2, definition of 'relative luminance'."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(colour, ground="#ffffff"):
    high, low = sorted((_luminance(colour), _luminance(ground)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_function_on_known_pairs():
    """Black on white is 21:1 (WCAG 2.2); #767676 on white is the usual example of 4.54:1 (from memory)."""
    assert _contrast("#000000") == pytest.approx(21.0)
    assert round(_contrast("#767676"), 2) == 4.54


def test_text_is_dark_enough():
    """WCAG 2.2, success criterion 1.4.3: at least 4.5:1; on the stage floor colour and on white."""
    colours = {svg.INK, *re.findall(r'fill="(#\w{6})"', " ".join(svg.TEXT_LOOKS.values()))}
    assert all(_contrast(c, ground) >= 4.5 for c in colours for ground in ("#ffffff", "#f6f3ec"))


def test_roles_on_the_plan_differ_without_colour():
    """With every colour made grey of one shade, the marks that may be confused still differ in line or pattern."""
    bare = {}
    for role in ("floor box", "wall panel", "riser panel", "rack"):
        look = svg.LOOKS[role]
        solid = re.search(r'fill="(#\w{6})"', look)
        bare[role] = ("dark" if solid and _luminance(solid[1]) < 0.2 else "light" if solid
                      else re.search(r"url\(#\{p\}(\w+)\)", look)[1])
    assert len(set(bare.values())) == 4
    dashes = {role: re.search(r'stroke-dasharray="([^"]*)"', svg.LOOKS[role]) for role in
              ("cable", "raceway", "keep clear line", "joist", "bearing")}
    assert len({m[1] if m else "" for m in dashes.values()}) == 5
    assert "dasharray" in svg.LOOKS["idle point"]
    assert "dasharray" not in svg.LOOKS["point"]
