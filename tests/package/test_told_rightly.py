"""What the client is told agrees with what the office entered, and with itself from page to page."""

from collections.abc import Callable
from html import escape

import pytest
from browser import TOP
from package.sample import sample

from stagefloor.drawings.face import face, rear
from stagefloor.drawings.plan import plan
from stagefloor.drawings.scene import BoxMark, Place, StageScene
from stagefloor.drawings.shapes import text_width
from stagefloor.job import store
from stagefloor.job.edit import add, set_fields
from stagefloor.job.model import Job
from stagefloor.package.checks import digests, manifest_faults, write_manifest
from stagefloor.package.extract_client import attention, extract
from stagefloor.readers import client
from stagefloor.readers.client.record import ClientFile
from stagefloor.results import Results, compute
from stagefloor.results.scenes import box_face
from stagefloor.steps.boxes.schedule import layout


@pytest.fixture(scope="module")
def playhouse() -> Results:
    return compute(store.read(TOP / "demo_projects" / "quillhaven_playhouse").job)


def changed(results: Results, change: Callable[[Job], Job]) -> ClientFile:
    return extract(compute(change(results.job)))


def test_who_does_what_is_what_the_office_entered(playhouse: Results) -> None:
    row = {"item": "Floor boxes with covers", "furnished": "the owner", "installed": "nobody"}
    own = {"item": "Lift hire of our friend", "furnished": "us"}
    file = changed(playhouse, lambda j: add(j, "duty", [row, own])[0])
    (told,) = (s for s in file.scope if s.item == row["item"])
    assert (told.furnished_by, told.installed_by, told.terminated_by) == ("the owner", "to be agreed", "–")
    assert not [s for s in file.scope if "Lift hire" in s.item]  # a name of the office's own stays inside
    slab = {"item": "Cores and pockets in the slab, as the engineer says"}
    cores = changed(playhouse, lambda j: add(j, "duty", [slab])[0])
    assert [s.installed_by for s in cores.scope if s.item.startswith("Cores")] == ["to be agreed"]


def test_terms_stand_beside_the_price(playhouse: Results) -> None:
    file = changed(playhouse, lambda j: add(j, "term", [{"what": "not included", "words": "Patching of plaster."}])[0])
    assert "Patching of plaster." in client.price(file).text
    assert "Not included" in client.price(file).text
    bare = file.model_copy(update={"price": None})
    assert "Patching of plaster." in client.price(bare).text


def test_tax_is_a_row_of_the_price_and_named_on_the_cover(playhouse: Results) -> None:
    pricing = next(iter(playhouse.job.tables["pricing"]))
    file = changed(playhouse, lambda j: set_fields(j, "pricing", pricing, {"tax": "8", "tax_on": "on the whole price"}))
    assert file.price is not None
    *_, last = file.price.rows
    assert last.section == "Tax, 8 %"
    rows = [float(r.amount.split()[-1].replace(",", "")) for r in file.price.rows]
    assert sum(rows) == pytest.approx(float(file.price.total.split()[-1].replace(",", "")))
    assert file.price.tax == f"{last.amount} of it is tax."
    assert escape(file.price.note) in client.summary(file).text


def test_the_sender_is_told_if_the_price_sells_the_work_of_somebody_else(playhouse: Results) -> None:
    def said(installed: str) -> str:
        job, _ = add(playhouse.job, "duty", [{"item": "Raceways with pull strings", "furnished": installed,
                                              "installed": installed}])
        return " ".join(attention(compute(job)))

    assert "the work of Kilowatt and sons" in said("Kilowatt and sons")
    assert "section Raceways" not in said(playhouse.job.settings.shop)


def test_a_point_that_is_too_far_is_so_on_every_page(playhouse: Results) -> None:
    file = extract(playhouse)
    missed = {s.split(" (")[0] for s in file.not_served}
    assert missed
    assert not {c.point for e in file.scene.replay for c in e.connections} & missed
    for name in missed:
        assert any(f"{name} " in c.serves and "too far off" in c.serves for c in file.boxes)


def test_nothing_unmeasured_is_drawn_as_built(playhouse: Results) -> None:
    file = extract(playhouse)
    measured = {a.box for a in file.as_built if a.difference}
    assert {b.title for b in file.closeout.scene.boxes if b.measured} == measured
    assert len(measured) == len(playhouse.job.tables["asbuilt"]) < len(file.boxes)
    drawing = plan(file.closeout.scene)
    assert drawing is not None
    assert sum(s.role == "planned box" for s in drawing.shapes) == len(file.boxes) - len(measured)
    assert "not measured yet" in client.built_plan(file).text


def test_a_mains_line_ends_at_its_panel_and_a_panel_has_no_lid(playhouse: Results) -> None:
    file = extract(playhouse)
    assert {r.end for r in file.tests.lines if r.kind == "mains"} == {"mains panel"}
    floor, wall = (next(c for c in file.boxes if c.title.startswith(w)) for w in ("Floor box", "Wall panel"))
    assert "lid open" in client.user_cards(file.model_copy(update={"boxes": (floor,)})).text
    assert "lid open" not in client.user_cards(file.model_copy(update={"boxes": (wall,)})).text


def test_the_foot_of_a_face_seen_from_behind_does_not_lie_on_its_note() -> None:
    hall = store.read(TOP / "demo_projects" / "ondry_hall").job
    for found in (box_face(hall, b) for b in hall.boxes()):
        assert found is not None
        for drawing in (face(found), rear(found)):
            scale = drawing.scale
            notes = [s for s in drawing.shapes if s.kind == "text" and s.role == "note"]
            lows = sorted(s.points[0][1] - s.offset[1] / scale for s in notes)
            highs = [s.size / scale for s in notes]
            assert all(b - a >= 0.8 * min(highs) for a, b in zip(lows, lows[1:], strict=False) if b - a > 0)
            assert len(set(lows)) == len(lows)
            assert min(lows) >= drawing.extent[1]


def test_no_label_leaves_the_drawing() -> None:
    boxes = (BoxMark(label="Pulpit microphone", title="Floor box", x=3.9, y=1),)
    scene = StageScene(outline=((-4, 0), (4, 0), (4, 3), (-4, 3)), boxes=boxes,
                       panel=Place(label="mains panel", x=4.6, y=2), rack=Place(label="equipment rack", x=-4.6, y=2))
    drawing = plan(scene)
    assert drawing is not None
    labels = [s for s in drawing.shapes if s.role in ("box label", "place label")]
    assert sorted(s.text for s in labels) == ["Pulpit microphone", "equipment rack", "mains panel"]
    for s in labels:
        half = text_width(s.text, s.size) / 2 / drawing.scale
        assert drawing.extent[0] <= s.points[0][0] - half
        assert s.points[0][0] + half <= drawing.extent[2]


def test_a_look_into_the_folder_does_not_change_the_set(tmp_path) -> None:
    (tmp_path / "index.html").write_text("<p>a</p>")
    write_manifest(tmp_path, {"reader": "client"})
    for name in (".DS_Store", "Thumbs.db", "desktop.ini"):
        (tmp_path / name).write_bytes(b"\0")
    assert manifest_faults(tmp_path) == []
    assert list(digests(tmp_path)) == ["index.html"]


def test_a_name_that_was_typed_is_no_heading_of_ours() -> None:
    file = sample()
    owed = (replace_owed(file),)
    page = client.state(file.model_copy(update={"closeout": file.closeout.model_copy(update={"owed": owed})})).text
    assert "mains electrician" in page


def replace_owed(file: ClientFile):
    return file.closeout.owed[0].model_copy(update={"who": "mains electrician"})


def test_a_box_whose_model_has_no_size_yet_has_no_face() -> None:
    """A side of nought is typed where a size is not known: nothing is drawn, and the card is written all the same."""
    hall = store.read(TOP / "demo_projects" / "one_box").job
    (box,) = [b for b in hall.boxes() if box_face(hall, b) is not None]
    found = layout(hall, box)
    assert found is not None
    job = set_fields(hall, "boxmodel", found.model.id, {"along": "0 in"})
    (card,) = [c for c in extract(compute(job)).boxes if c.title == box.title]
    assert card.face is None
