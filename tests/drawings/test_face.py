"""Faces are to scale: sizes by hand from inches, true outlines checked with shapely."""

import csv
from pathlib import Path

import pytest
from pydantic import ValidationError
from shapely.geometry import Polygon, box

from stagefloor.drawings import face as faces
from stagefloor.drawings.face import BoxFace, FaceBay, FaceOpening, face, place_name

INCH = 0.0254
MIC = FaceOpening(kind="microphone", label="M1")
OUTLET = FaceOpening(kind="mains", label="P1")
TABLE = Path(faces.__file__).parents[1] / "reference" / "panel_openings.csv"


def a_face(*bays, across=12 * INCH, along=12 * INCH, **more):
    return BoxFace(title="Floor box T1", across=across, along=along, bays=bays, **more)


def of_role(drawing, role):
    return [s for s in drawing.shapes if s.role == role]


def test_sizes_agree_with_the_table_of_openings():
    """The table's own sources stand in it: a public CAD file for the hole, drawings of connectors for the plate."""
    with TABLE.open(encoding="utf-8") as lines:
        rows = {r["key*"]: float(r["value"]) for r in csv.DictReader(lines)}
    assert rows["d_hole"] == faces.HOLE
    assert (rows["d_flange_width"], rows["d_flange_height"]) == (faces.PLATE_WIDTH, faces.PLATE_HEIGHT)
    assert rows["d_pitch"] == faces.PITCH
    assert rows["gang_opening_height"] == round(faces.OUTLET_HEIGHT)
    assert pytest.approx((2 * 25.4, 3 * 25.4)) == (faces.OUTLET_WIDTH, faces.OUTLET_HEIGHT)


def test_cutout_and_places_are_to_scale():
    """12 in is 304.8 mm; four places along it are 76.2 mm apart; two bays are 152.4 mm each (arithmetic by hand)."""
    drawing = face(a_face(FaceBay(openings=(MIC,) * 4), FaceBay(openings=(MIC,) * 4)))
    assert Polygon(of_role(drawing, "cutout")[0].points).bounds == pytest.approx((0, 0, 304.8, 304.8))
    middles = [s.points[0] for s in of_role(drawing, "hole")]
    assert [m[0] for m in middles[:4]] == pytest.approx([38.1, 114.3, 190.5, 266.7])
    assert middles[0][1] - middles[4][1] == pytest.approx(152.4)
    assert middles[0][1] == pytest.approx(304.8 - 76.2), "bay 1 is at the hinge, at the top"
    assert all(s.radius == 12 for s in of_role(drawing, "hole"))


@pytest.mark.parametrize("count", [1, 3, 4, 7, 8, 11])
def test_plates_stay_inside_and_apart(count):
    drawing = face(a_face(FaceBay(openings=(MIC,) * count), FaceBay(mains=True, openings=(OUTLET,) * 2)))
    plates = [Polygon(s.points) for s in drawing.shapes if s.role in ("plate", "outlet")]
    assert len(plates) == count + 2
    cutout = box(0, 0, 304.8, 304.8)
    assert all(cutout.contains(p) for p in plates)
    assert all(not a.overlaps(b) and not a.equals(b) for n, a in enumerate(plates) for b in plates[n + 1:])
    assert not [s for s in drawing.shapes if "overlap" in s.text]


def test_says_so_when_plates_do_not_fit_at_true_size():
    """Six plates of 31 mm height can't share a bay of 100 x 50 mm: two rows of three would need 62 mm."""
    drawing = face(a_face(FaceBay(openings=(MIC,) * 6), across=0.05, along=0.1))
    assert [s for s in drawing.shapes if "overlap at true size" in s.text]


def test_barrier_stands_only_between_mains_and_signal():
    bays = [FaceBay(openings=(MIC,)), FaceBay(openings=(MIC,)), FaceBay(mains=True, openings=(OUTLET,))]
    barriers = of_role(face(a_face(*bays)), "barrier")
    assert len(barriers) == 1
    assert Polygon(barriers[0].points).centroid.y == pytest.approx(101.6), "a third of 304.8 mm from the far side"
    assert of_role(face(a_face(*bays[:2])), "barrier") == []


def test_outlet_lies_on_its_side_in_a_low_bay():
    """A bay of 3 in is too low for an upright device of 3 in with the barrier; one of 6 in is not."""
    low = of_role(face(a_face(*[FaceBay(mains=True, openings=(OUTLET,))] * 4)), "outlet")[0]
    high = of_role(face(a_face(*[FaceBay(mains=True, openings=(OUTLET,))] * 2)), "outlet")[0]
    assert Polygon(low.points).bounds[2] - Polygon(low.points).bounds[0] == pytest.approx(76.2)
    assert Polygon(high.points).bounds[2] - Polygon(high.points).bounds[0] == pytest.approx(50.8)


def test_an_outlet_fits_a_bay_of_just_its_width():
    """Five bays of 2 in in a cutout of 10 in: the device of 2 x 3 in fits lying; in bays of 1.9 in it does not."""
    bays = [FaceBay(mains=True, openings=(OUTLET,) * 2)] * 5
    assert not [s for s in face(a_face(*bays, across=10 * INCH)).shapes if "overlap" in s.text]
    assert [s for s in face(a_face(*bays, across=9.5 * INCH)).shapes if "overlap" in s.text]


def test_spare_and_blank_places_look_different_and_say_so():
    spare, blank = FaceOpening(kind="line", use="spare"), FaceOpening(use="blank")
    drawing = face(a_face(FaceBay(openings=(MIC, spare, blank)), FaceBay()))
    assert len(of_role(drawing, "hole")) == 1
    assert len(of_role(drawing, "spare hole")) == 1
    assert len(of_role(drawing, "blank plate")) == 2, "one place and one whole bay"
    assert {"line, spare", "spare", "blank", "blank plate"} <= {s.text for s in drawing.shapes}


def test_places_are_named_as_in_the_schedule():
    keys = [s.text for s in of_role(face(a_face(FaceBay(openings=(MIC,) * 2), FaceBay(openings=(MIC,)))), "key")]
    assert keys == [place_name(1, 1), place_name(1, 2), place_name(2, 1)] == ["1.1", "1.2", "2.1"]


def test_hinge_is_named_and_a_panel_without_lid_has_none():
    assert any("hinge side, towards upstage" in s.text for s in face(a_face(FaceBay(), hinge="upstage")).shapes)
    assert of_role(face(a_face(FaceBay(), surface="wall")), "hinge") == []


@pytest.mark.parametrize(("display", "words", "length"), [("ft-in", "4 in (bar)", 101.6), ("m", "100 mm (bar)", 100.0)])
def test_scale_bar_in_the_users_units(display, words, length):
    drawing = face(a_face(FaceBay(), display=display))
    bar = [p for role in ("scale dark", "scale light") for s in of_role(drawing, role) for p in s.points]
    assert max(p[0] for p in bar) - min(p[0] for p in bar) == pytest.approx(length)
    assert any(words in s.text for s in drawing.shapes)


@pytest.mark.parametrize("size", [0.0, -0.1, float("nan"), float("inf")])
def test_a_size_that_is_none_is_refused(size):
    with pytest.raises(ValidationError):
        a_face(FaceBay(), across=size)


def test_a_box_without_bays_is_drawn():
    assert of_role(face(a_face()), "cutout")
