"""Layers and blocks of a DXF drawing: what is off or frozen is not drawn, and does not count. Checked against the drawing
part of ezdxf, which shares only its reader with us, and by hand where that knows no rule (a block on a frozen layer)."""

import io

import ezdxf
import pytest
from ezdxf.addons.drawing import Frontend, RenderContext
from ezdxf.addons.drawing.backend import Backend
from ezdxf.document import Drawing
from hypothesis import given, settings
from hypothesis import strategies as st

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.dxf_file import outlines
from stagefloor.job.exchange.outlines import GRID, Outlines

SIDE = 100  # of a frame around everything: a whole number of points of our grid for each unit
Ends = tuple[float, float, float, float]
LAYERS = ("0", "ON", "OFF", "OTHER")


def read(document: Drawing) -> Outlines:
    out = io.StringIO()
    document.write(out)
    return outlines(out.getvalue().encode(), "hall")


def drawn(document: Drawing) -> set[Ends]:
    """Ends of the lines that we draw, in units of the drawing, without the frame."""
    found = read(document)
    unit = GRID / SIDE
    return {(x0 / unit, SIDE - y0 / unit, x1 / unit, SIDE - y1 / unit)
            for line in found.lines if len(line) == 4 for x0, y0, x1, y1 in [line]}


def framed() -> Drawing:
    document = ezdxf.new()
    document.modelspace().add_lwpolyline([(0, 0), (SIDE, 0), (SIDE, SIDE), (0, SIDE)], close=True)
    document.layers.add("ON")
    document.layers.add("OTHER")
    document.layers.add("OFF").off()
    document.layers.add("ICE").freeze()
    return document


class Seen(Backend):
    """Notes the lines that the other library draws."""

    def __init__(self) -> None:
        super().__init__()
        self.ends: set[Ends] = set()

    def draw_line(self, start, end, properties) -> None:
        self.ends.add((start.x, start.y, end.x, end.y))

    def _nothing(self, *_args, **_named) -> None:
        pass

    draw_point = draw_path = draw_filled_polygon = draw_filled_paths = draw_image = set_background = clear = _nothing


def by_the_other(document: Drawing) -> set[Ends]:
    seen = Seen()
    Frontend(RenderContext(document), seen).draw_layout(document.modelspace())
    return {tuple(round(n, 9) + 0.0 for n in ends) for ends in seen.ends}  # type: ignore[misc]


where = st.sampled_from(LAYERS)
inside = st.lists(st.tuples(where, st.booleans()), min_size=1, max_size=4)


@settings(max_examples=60, deadline=None)
@given(st.lists(inside, min_size=1, max_size=3),
       st.lists(st.tuples(where, st.integers(0, 2), st.integers(1, 2)), max_size=4), st.booleans())
def test_what_is_off_is_not_drawn_and_all_else_is(blocks, placed, zero_off) -> None:
    """Lines and blocks within blocks, on layers that are on or off, in rows; each line has its own place."""
    document = framed()
    if zero_off:
        document.layers.get("0").off()
        document.modelspace()[0].dxf.layer = "ON"  # the frame
    for number, parts in enumerate(blocks):
        block = document.blocks.new(f"B{number}")
        for at, (layer, nested) in enumerate(parts):
            if nested and number:
                block.add_blockref(f"B{number - 1}", (at, 2), dxfattribs={"layer": layer})
            else:
                block.add_line((at, 0), (at, 1), dxfattribs={"layer": layer})
    for number, (layer, block_number, rows) in enumerate(placed):
        document.modelspace().add_blockref(f"B{block_number % len(blocks)}", (10 + 20 * number, 10), dxfattribs={
            "layer": layer, "row_count": rows, "row_spacing": 30})
    assert drawn(document) == by_the_other(document)


def test_a_block_on_a_frozen_layer_is_gone_with_all_that_is_in_it() -> None:
    """Off hides a block's own layer alone, frozen the whole block: the published DXF reference and common practice."""
    document = framed()
    chair, row = document.blocks.new("CHAIR"), document.blocks.new("ROW")
    chair.add_line((0, 0), (1, 0))
    chair.add_line((0, 1), (1, 1), dxfattribs={"layer": "OTHER"})
    chair.add_line((0, 2), (1, 2), dxfattribs={"layer": "ice"})
    row.add_blockref("CHAIR", (0, 0))
    space = document.modelspace()
    for x, layer in ((10, "ON"), (20, "OFF"), (30, "Ice"), (40, "Defpoints")):
        space.add_blockref("ROW", (x, 5), dxfattribs={"layer": layer})
    space.add_blockref("ROW", (50, 5), dxfattribs={"invisible": 1})
    assert drawn(document) == {(10, 5, 11, 5), (10, 6, 11, 6), (20, 6, 21, 6)}


def test_a_dimension_on_a_layer_that_is_off_is_not_drawn() -> None:
    document = framed()
    for layer in ("OFF", "ICE"):
        document.modelspace().add_linear_dim(base=(0, 50), p1=(10, 20), p2=(60, 20), dxfattribs={"layer": layer}).render()
    assert len(read(document).lines) == 1


def chairs(layer: str, how_many: int) -> Drawing:
    document = framed()
    chair = document.blocks.new("CHAIR")
    for n in range(3):
        chair.add_line((n, 0), (n, 1))
    document.modelspace().add_blockref("CHAIR", (1, 1), dxfattribs={
        "layer": layer, "row_count": how_many, "row_spacing": 0.001})
    return document


def test_what_is_switched_off_makes_a_large_drawing_fit() -> None:
    with pytest.raises(Problem, match="more than 60,000 parts to be seen, blocks unfolded; switch off or delete"):
        read(chairs("ON", 30_000))
    assert len(read(chairs("OFF", 30_000)).lines) == 1
    assert len(read(chairs("ICE", 30_000)).lines) == 1


def test_what_is_off_beside_what_is_seen_is_to_be_deleted() -> None:
    """Each chair is unfolded for its one line that is seen; what is off in it takes as long."""
    document = chairs("ON", 30_000)
    for n, line in enumerate(document.blocks.get("CHAIR")):
        line.dxf.layer = "OFF" if n else "ON"
    with pytest.raises(Problem, match="more than 80,000 parts, blocks unfolded, with those that are off; delete what"):
        read(document)
    assert len(read(chairs("OFF", 30_000_000)).lines) == 1  # off as a whole

