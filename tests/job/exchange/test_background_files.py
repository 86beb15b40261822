"""Drawings and pictures from outside: each format read, hostile ones refused in a sentence. All samples are made here."""

import io
import json
import os
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.enums import InsertUnits
from ezdxf.layouts import Modelspace
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, PngImagePlugin
from shapely.geometry import LineString, Point

from stagefloor.core.problems import Problem
from stagefloor.job.background import Background
from stagefloor.job.exchange import apart
from stagefloor.job.exchange.apart import Drawing, read_drawing, read_here
from stagefloor.job.exchange.background_file import FOLDER, planned, show, shown, stored
from stagefloor.job.exchange.outlines import GRID, Outlines, from_bytes
from stagefloor.job.exchange.preview import CHANGE, SAME, carry_out
from stagefloor.job.model import Job
from stagefloor.job.store import read, transact

INCH, FOOT = 0.0254, 0.3048  # metres; international yard and pound agreement, 1959
SECRET = b"44.1234N"


def sheet(size: tuple[int, int] = (400, 300), ink: str = "black") -> Image.Image:
    made = Image.new("RGB", size, "white")
    ImageDraw.Draw(made).rectangle((20, 20, size[0] - 20, size[1] - 20), outline=ink, width=3)
    return made


def saved(picture: Image.Image, kind: str, **more: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def dxf(draw: Callable[[Modelspace], object], units: int = InsertUnits.Millimeters) -> bytes:
    document = ezdxf.new(units=units)
    draw(document.modelspace())
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def svg(body: str, head: str = 'viewBox="0 0 200 100"', before: str = "") -> bytes:
    return f'{before}<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()


def lines(data: bytes, name: str = "drawing") -> Outlines:
    found = read_here(data, name)
    assert found.end == "json"
    return from_bytes(found.data)


def refusal(data: bytes, name: str = "hall.dat", page: int = 1) -> str:
    with pytest.raises(Problem) as caught:
        read_here(data, name, page)
    return caught.value.sentence


# Pictures and pages


def test_a_picture_is_made_anew_without_what_else_was_in_it() -> None:
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", SECRET.decode())
    data = saved(sheet(), "PNG", pnginfo=text) + b"<script>" + SECRET
    assert SECRET in data
    found = read_here(data, "old sheet.png")
    assert SECRET not in found.data and b"script" not in found.data
    with Image.open(io.BytesIO(found.data)) as made:
        assert (found.end, made.format, made.size) == ("png", "PNG", (400, 300))
        assert not made.info.get("Comment")
        assert made.convert("RGB").getpixel((20, 150)) == (0, 0, 0)


def test_a_photo_stands_upright_and_forgets_where_it_was_taken() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: turn a quarter clockwise to see it upright (Exif 2.3, table 4)
    exif[0x010E] = SECRET.decode()
    noisy = Image.effect_noise((400, 300), 80).convert("RGB")
    found = read_here(saved(noisy, "JPEG", exif=exif), "photo.jpg")
    assert found.end == "jpg" and SECRET not in found.data and b"Exif" not in found.data
    with Image.open(io.BytesIO(found.data)) as made:
        assert made.size == (300, 400)


def test_a_large_picture_is_made_smaller_and_clear_parts_become_paper() -> None:
    found = read_here(saved(Image.new("RGBA", (6000, 1500), (0, 0, 0, 0)), "PNG"), "wide.png")
    with Image.open(io.BytesIO(found.data)) as made:
        assert made.size == (3000, 750)
        assert made.convert("RGB").getpixel((10, 10)) == (255, 255, 255)


def test_one_page_of_a_pdf_is_chosen() -> None:
    data = saved(sheet((400, 300)), "PDF", save_all=True, append_images=[sheet((300, 400))])
    for page, upright in ((1, False), (2, True)):
        found = read_here(data, "sheets.pdf", page)
        with Image.open(io.BytesIO(found.data)) as made:
            assert (found.page, found.pages, max(made.size)) == (page, 2, 3000)
            assert (made.height > made.width) is upright
    assert "has 2 pages; there is no page 3" in refusal(data, "sheets.pdf", 3)


def pdf_of(pages: int, box: str = "0 0 600 400") -> bytes:
    """A PDF by hand, of many pages that are one object (ISO 32000-1, 7.7.3)."""
    kids = b" ".join([b"3 0 R"] * pages)
    parts = [b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Count %d /Kids [%s] >>" % (pages, kids),
             b"<< /Type /Page /Parent 2 0 R /MediaBox [%s] >>" % box.encode()]
    out, places = b"%PDF-1.4\n", []
    for number, part in enumerate(parts, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, part)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    end = b"trailer << /Size 4 /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF" % len(out)
    return out + b"xref\n0 4\n0000000000 65535 f \n" + table + end


def test_a_pdf_of_ten_thousand_pages_is_refused_and_a_strip_too() -> None:
    assert read_here(pdf_of(3), "three.pdf").pages == 3  # the way they are made here is a PDF
    assert "has 10,000 pages; 500 are the most" in refusal(pdf_of(10_000), "all.pdf")
    assert "is a strip" in refusal(pdf_of(1, "0 0 14000 3"), "strip.pdf")


def test_a_locked_pdf_says_so() -> None:
    # the password entries are there, and no password fits (ISO 32000-1, 7.6.3)
    lock = (b"<< /Filter /Standard /V 1 /R 2 /P -4 /O <" + b"ab" * 32 + b"> /U <" + b"cd" * 32 + b"> >>")
    data = pdf_of(1).replace(b"trailer << ", b"trailer << /ID [<00> <00>] /Encrypt " + lock + b" ")
    assert "locked with a password" in refusal(data, "secret.pdf")


def png_of_size(wide: int, high: int) -> bytes:
    """A PNG whose head promises so many points (PNG, third edition, 11.2.1)."""
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


def test_a_picture_that_would_unpack_to_gigabytes_is_refused() -> None:
    assert "bomb.png would unpack to more than 64 million points" in refusal(png_of_size(60_000, 60_000), "bomb.png")
    assert "more than 64 million points" in refusal(png_of_size(9000, 9000))
    assert "is damaged or cut off" in refusal(png_of_size(2000, 2000), "hollow.png")


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "PDF"])
def test_a_file_that_is_cut_off_is_refused(kind: str) -> None:
    data = saved(Image.effect_noise((400, 300), 80).convert("RGB"), kind)
    assert "cut off" in refusal(data[:len(data) // 3])


# Drawings


def test_a_dxf_keeps_its_shape_and_tells_its_unit() -> None:
    def draw(space: Modelspace) -> None:
        space.add_line((1000, 500), (13_000, 500))
        space.add_circle((7000, 3500), 2000)
        space.add_lwpolyline([(1000, 500, 0, 0, 1), (1000, 6500, 0, 0, 0)], format="xyseb")  # a half circle: bulge 1

    found = lines(dxf(draw))
    assert (found.unit, found.wide) == ("millimetres", GRID)
    # a positive bulge runs counter-clockwise (the published DXF reference): upwards from (1000, 500) it swells to +x,
    # over the line of 12 m that starts there, which stays the longest side; to -x it would make 15 m
    assert found.metres is not None
    across = [x for line in found.lines for x in line[0::2]]
    assert (max(across) - min(across)) * found.metres == pytest.approx(12.0, rel=1e-3)
    circle = max(found.lines, key=lambda line: len(line) if line[:2] == line[-2:] else 0)
    drawn = LineString(list(zip(circle[0::2], circle[1::2], strict=True)))
    true = Point(drawn.envelope.centroid).buffer(2.0 / found.metres, quad_segs=256).exterior
    assert drawn.hausdorff_distance(true) * found.metres < 15.0 / 3000 + 0.002  # metres


@pytest.mark.parametrize(("unit", "metres"), [(1, INCH), (2, FOOT), (4, 0.001), (5, 0.01), (6, 1.0), (10, 3 * FOOT)])
def test_the_header_of_a_dxf_gives_the_unit(unit: int, metres: float) -> None:
    """$INSUNITS: 1 inches, 2 feet, 4 mm, 5 cm, 6 m, 10 yards (the published DXF reference)."""
    found = lines(dxf(lambda s: s.add_line((0, 0), (40, 0)), unit))
    assert found.metres is not None
    assert found.metres * GRID == pytest.approx(40 * metres)


def test_a_dxf_without_a_unit_has_none() -> None:
    assert lines(dxf(lambda s: s.add_line((0, 0), (40, 0)), 0)).metres is None


def test_blocks_are_unfolded_and_hidden_layers_left_out() -> None:
    def draw(space: Modelspace) -> None:
        chair = space.doc.blocks.new("chair")
        chair.add_lwpolyline([(0, 0), (1, 0), (1, 1)])
        for n in range(3):
            space.add_blockref("chair", (5 * n, 0))
        space.doc.layers.add("furniture").off()
        space.add_line((0, 0), (1000, 0), dxfattribs={"layer": "furniture"})

    found = lines(dxf(draw))
    assert len(found.lines) == 3
    assert found.metres is not None
    assert found.wide * found.metres == pytest.approx(0.011, rel=1e-3)  # to the third chair's far side


def test_an_svg_keeps_its_shapes_and_nothing_else() -> None:
    found = lines(svg(
        '<script>alert(1)</script><style>*{fill:url(http://x)}</style><image href="http://x/y.png" width="900" height="9"/>'
        '<g transform="translate(50 20)"><rect width="100" height="50" onload="x()"/></g><text x="1" y="1">secret</text>'
        '<defs><circle id="c" r="10"/></defs><use href="#c" x="100" y="45"/><use href="http://x/z.svg#a"/>'
        '<path d="M0 0 L900 900" display="none"/>'), "a.svg")
    assert len(found.lines) == 2
    rect, circle = found.lines
    assert (found.wide, found.high) == (GRID, GRID // 2)
    assert rect == (0, 0, GRID, 0, GRID, GRID // 2, 0, GRID // 2, 0, 0)
    one = GRID / 100
    drawn = LineString(list(zip(circle[0::2], circle[1::2], strict=True)))
    true = Point(50 * one, 25 * one).buffer(10 * one, quad_segs=256).exterior
    assert drawn.hausdorff_distance(true) < GRID / 3000 + 2


def test_entities_are_not_unfolded() -> None:
    """Nested entities (billion laughs) and entities that name a file: XML 1.0, 4.4; never unfolded, never fetched."""
    laughs = "<!DOCTYPE svg [<!ENTITY a 'aaaaaaaaaa'>" + "".join(
        f"<!ENTITY {b} '{f'&{a};' * 10}'>" for a, b in zip("abcdefgh", "bcdefghi", strict=True)) + "]>"
    assert "defines words of its own" in refusal(svg("<text>&i;</text>", before=laughs))
    file = "<!DOCTYPE svg [<!ENTITY x SYSTEM 'file:///etc/passwd'>]>"
    assert "defines words of its own" in refusal(svg("<text>&x;</text>", before=file))
    harmless = '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/x.dtd">'
    assert len(lines(svg('<line x2="9" y2="9"/>', before=harmless)).lines) == 1


def test_parts_that_use_each_other_again_and_again_are_refused() -> None:
    doubled = '<g id="a0"><line x2="1" y2="1"/></g>' + "".join(
        f'<g id="a{n}"><use href="#a{n - 1}"/><use href="#a{n - 1}"/></g>' for n in range(1, 30))
    assert "more than 45,000 parts" in refusal(svg(doubled))
    assert "holds itself" in refusal(svg('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'))
    assert "no SVG drawing that can be read" in refusal(svg("<g>" * 5000 + "</g>" * 5000))

    def nested(space: Modelspace) -> None:
        before = "b0"
        space.doc.blocks.new(before).add_line((0, 0), (1, 1))
        for n in range(1, 30):
            block = space.doc.blocks.new(f"b{n}")
            for shift in (0, 1):
                block.add_blockref(before, (shift, 0))
            before = f"b{n}"
        space.add_blockref(before, (0, 0))

    assert "more than 60,000 parts to be seen, blocks unfolded; switch off or delete" in refusal(dxf(nested))

    def itself(space: Modelspace) -> None:
        space.doc.blocks.new("me").add_blockref("me", (0, 0))
        space.add_blockref("me", (0, 0))

    assert "holds itself" in refusal(dxf(itself))

    def rows(space: Modelspace) -> None:
        space.doc.blocks.new("one").add_line((0, 0), (1, 1))
        space.add_blockref("one", (0, 0), dxfattribs={"row_count": 30_000, "column_count": 30_000})

    assert "more than 60,000 parts" in refusal(dxf(rows))


def test_a_dxf_of_a_million_parts_is_refused_before_it_is_read() -> None:
    data = b"0\nSECTION\n2\nENTITIES\n" + b"0\nPOINT\n" * 1_000_000 + b"0\nENDSEC\n0\nEOF\n"
    assert "more than 100,000 parts; delete what is not needed" in refusal(data)


def test_an_older_drawing_with_faults_is_read() -> None:
    """A drawing of 1992 (AC1009) with a letter of its code page, and a line without a layer that its table knows."""
    head = "0 SECTION 2 HEADER 9 $ACADVER 1 AC1009 9 $DWGCODEPAGE 3 ANSI_1252 0 ENDSEC"
    body = f"{head} 0 SECTION 2 ENTITIES 0 LINE 8 Bühne 10 0 20 0 11 4 21 2 0 ENDSEC 0 EOF".replace(" ", "\n")
    assert lines(body.encode("cp1252")).lines == ((0, GRID // 2, GRID, 0),)


def test_a_curve_without_end_is_refused() -> None:
    many = "".join(f'<circle cx="{n}" r="5000"/>' for n in range(2000))
    assert "more than 60,000 points" in refusal(svg(many))


def test_a_small_drawing_far_from_the_origin_is_flattened_at_once() -> None:
    """At 9e11 the next number is 1.2e-4 further on (IEEE 754, 53 bits): wider than the fineness of a circle of 0.05."""
    found = lines(dxf(lambda s: s.add_circle((9e11, -9e11, 9e11), 0.05)))
    assert found.wide == pytest.approx(found.high, rel=0.01)
    assert 100 < max(map(len, found.lines)) < 2000


@pytest.mark.parametrize("far", [1e13, 1e16, 1e308, float("inf"), float("nan")])
def test_what_lies_nowhere_does_not_make_all_else_one_point(far: float) -> None:
    def draw(space: Modelspace) -> None:
        space.add_line((0, 0), (40, 20))
        space.add_line((0, 0), (far, 1))
        space.add_circle((far, far), 2)
        space.add_circle((1, 1, far), 2)

    assert lines(dxf(draw)).lines == ((0, GRID // 2, GRID, 0),)
    assert "no lines that can be shown" in refusal(dxf(lambda s: s.add_circle((far, far), 2)))


def test_only_points_and_sizes_beyond_numbers_are_refused() -> None:
    points = svg('<path d="M0 0 L0 0"/><path d="M9 9 L9 9"/>')
    assert "no lines that can be shown, only points" in refusal(points)
    assert "one point" in refusal(dxf(lambda s: s.add_line((0, 0), (1e-320, 0))))
    assert "one point" in refusal(svg('<line x2="1e-320"/>'))


def test_a_unit_that_no_building_can_have_is_none(folder: Path) -> None:
    """Wider than a thousand ways to the sun (1.5e11 m; IAU 2012): it lies there, its scale is not known."""
    job = take_in(folder, read_here(dxf(lambda s: s.add_line((0, 0), (9e11, 0)), 3), "hall"))  # miles
    file = stored(folder, job.all(Background)[0])
    assert (file.wide, file.metres, file.unit) == (GRID, None, "")


def test_drawings_cut_off_empty_or_of_one_point_are_refused() -> None:
    whole = dxf(lambda s: s.add_line((0, 0), (40, 0)))
    assert "cut off" in refusal(whole[:len(whole) // 2])
    assert "cut off" in refusal(svg('<line x2="9" y2="9"/>')[:-9])
    assert "no lines that can be shown" in refusal(dxf(lambda s: s.add_point((1, 1))))
    assert "no lines that can be shown" in refusal(svg("<text>words</text>"))
    assert "lies in one point" in refusal(dxf(lambda s: s.add_line((3, 3), (3, 3))))
    assert "binary" in refusal(b"Some maker's Binary DXF\r\n\x1a\x00" + b"\0" * 99).lower()


def test_what_a_file_is_counts_and_not_what_it_is_called() -> None:
    assert read_here(saved(sheet(), "PDF"), "hall.png").pages == 1
    assert read_here(saved(sheet(), "PNG"), "hall.dxf").end == "png"
    others = (b"", b"hello", b"PK\3\4 a spreadsheet", b"GIF89a" + b"\0" * 50, b"<html><body>svg</body></html>", b"\0" * 500)
    for data in others:
        assert "is not a picture" in refusal(data, "hall.svg")


# In a process of its own


def test_the_process_apart_gives_the_same_and_its_refusals() -> None:
    data = saved(sheet(), "PNG")
    assert read_drawing(data, "../../a\nb.png") == Drawing("../../a b.png", "png", read_here(data, "x").data)
    with pytest.raises(Problem, match="is not a picture"):
        read_drawing(b"hello", "x.png")
    with pytest.raises(Problem, match="41 MB; 40 MB are the most"):
        read_drawing(b"\0" * 41_000_000, "x.png")


def test_a_reader_that_never_ends_or_dies_becomes_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "SECONDS", 0.3)
    monkeypatch.setattr(apart, "START", "import time; time.sleep(60)")
    with pytest.raises(Problem, match="more time or memory"):
        read_drawing(b"x", "slow.pdf")
    monkeypatch.setattr(apart, "SECONDS", 20)
    monkeypatch.setattr(apart, "START", "import os; os.abort()")
    with pytest.raises(Problem, match="more time or memory"):
        read_drawing(b"x", "crash.pdf")


# Beside the job


@pytest.fixture
def drawing() -> Drawing:
    return Drawing("../../hall.pdf", "png", saved(sheet(), "PNG"), 2, 5)


def take_in(folder: Path, drawing: Drawing) -> Job:
    plan = planned(read(folder).job, drawing, folder)
    carry_out(folder, lambda name, change: transact(folder, change, name), "Background taken in",
              lambda job: planned(job, drawing, folder), plan.lines)
    return read(folder).job


def test_it_lies_in_the_job_under_a_name_of_ours(folder: Path, drawing: Drawing) -> None:
    job = take_in(folder, drawing)
    (only,) = job.all(Background)
    assert (only.label, only.shown) == ("../../hall.pdf, page 2", True)
    assert [p.name for p in (folder / FOLDER).iterdir()] == [only.file]
    assert set(only.file[:24]) <= set("0123456789abcdef") and only.file[24:] == ".png"
    file = stored(folder, only)
    assert (file.type, file.wide, file.high, file.metres) == ("image/png", 400, 300, None)
    assert [line.state for line in planned(job, drawing, folder).lines] == [SAME]


def test_the_newest_lies_behind_the_plan_and_another_can_be_chosen(folder: Path, drawing: Drawing) -> None:
    take_in(folder, drawing)
    data = read_here(svg('<line x2="9" y2="3"/>'), "b.svg").data
    job = take_in(folder, Drawing("b.svg", "json", data))
    first, second = job.all(Background)
    assert shown(job) == second
    file = stored(folder, second)
    assert (file.wide, file.type) == (GRID, "application/json")
    assert shown(show(job, first.id)) == first.model_copy(update={"shown": True})
    assert shown(show(job, "")) is None


@pytest.mark.parametrize("name", ["../job.json", "/etc/passwd", "..", "", "a.png", "0" * 24 + ".svg", "0" * 24 + ".png/.."])
def test_no_name_in_the_job_file_leads_out_of_its_folder(folder: Path, name: str) -> None:
    (folder / FOLDER).mkdir()
    with pytest.raises(Problem, match="is not in the folder"):
        stored(folder, Background(id="x", label="hall", file=name))


@pytest.mark.parametrize("harm", ["gone", "cut", "no folder"])
def test_a_file_that_is_missing_or_damaged_is_put_back_by_taking_the_drawing_in_again(folder: Path, drawing: Drawing,
                                                                                      harm: str) -> None:
    before = take_in(folder, drawing)
    (only,) = before.all(Background)
    path = folder / FOLDER / only.file
    whole = path.read_bytes()
    if harm == "cut":
        path.write_bytes(whole[:-9])
        os.utime(path, (1, 1))
    else:
        path.unlink()
        if harm == "no folder":
            path.parent.rmdir()
    plan = planned(before, drawing, folder)
    assert [(line.state, line.words) for line in plan.lines] == [(CHANGE, "its file is put back")]
    assert take_in(folder, drawing) == before
    assert path.read_bytes() == whole
    assert stored(folder, only).wide == 400


def test_missing_changed_and_linked_files_become_a_sentence(folder: Path, drawing: Drawing, tmp_path: Path) -> None:
    (only,) = take_in(folder, drawing).all(Background)
    path = folder / FOLDER / only.file
    whole = path.read_bytes()
    path.write_bytes(whole[:-1])
    os.utime(path, (1, 1))
    with pytest.raises(Problem, match=r"is damaged; take the drawing in again"):
        stored(folder, only)
    (tmp_path / "elsewhere.png").write_bytes(whole)
    path.unlink()
    path.symlink_to(tmp_path / "elsewhere.png")
    with pytest.raises(Problem, match="is not in the folder"):
        stored(folder, only)
    path.unlink()
    with pytest.raises(Problem, match="is not in the folder"):
        stored(folder, only)


def test_a_folder_that_leads_elsewhere_takes_nothing(folder: Path, drawing: Drawing, tmp_path: Path) -> None:
    (tmp_path / "away").mkdir()
    (folder / FOLDER).symlink_to(tmp_path / "away")
    with pytest.raises(Problem, match="leads elsewhere"):
        take_in(folder, drawing)
    assert list((tmp_path / "away").iterdir()) == [] and read(folder).job.all(Background) == []


@pytest.mark.parametrize("data", [
    b"{}", b"[" * 100_000, b'{"outlines":1,"wide":1e99,"high":5,"lines":[],"unit":"","metres":null}',
    json.dumps({"outlines": 1, "wide": 5, "high": 5, "lines": [["<script>", 1]], "unit": "", "metres": None}).encode(),
    json.dumps({"outlines": 1, "wide": 5, "high": 5, "lines": [[1, 2, 3]], "unit": "", "metres": None}).encode(),
    b'{"outlines":1,"wide":5,"high":5,"lines":[[NaN,1]],"unit":"","metres":null}',
])
def test_outlines_made_by_somebody_else_are_no_outlines(folder: Path, data: bytes) -> None:
    job = take_in(folder, Drawing("x.svg", "json", data))
    with pytest.raises(Problem, match="is damaged"):
        stored(folder, job.all(Background)[0])


@pytest.mark.parametrize(("kind", "wide"), [("PNG", 60_000), ("PNG", 2**31 - 1), ("JPEG", 20_000)])
def test_a_picture_put_in_its_place_that_would_unpack_to_gigabytes_is_damaged(folder: Path, kind: str, wide: int) -> None:
    data = saved(sheet(), "JPEG").replace(struct.pack(">HH", 300, 400), struct.pack(">HH", wide & 0xFFFF, wide & 0xFFFF)) \
        if kind == "JPEG" else png_of_size(wide, wide)
    job = take_in(folder, Drawing("x.png", "jpg" if kind == "JPEG" else "png", data))
    with pytest.raises(Problem, match="is damaged"):
        stored(folder, job.all(Background)[0])


SAMPLES = (saved(sheet((60, 40)), "PNG"), saved(sheet((60, 40)), "JPEG"), dxf(lambda s: s.add_circle((3, 3), 2)),
           svg('<g transform="rotate(5)"><path d="M0 0C1 2 3 4 5 6A3 2 0 0 1 9 9Z"/><use href="#a"/></g>'))


@settings(max_examples=60, deadline=None)
@given(sample=st.sampled_from(SAMPLES), at=st.lists(st.integers(0, 10**6), min_size=1, max_size=12),
       put=st.binary(min_size=1, max_size=6))
def test_whatever_is_broken_in_a_file_it_is_read_or_refused_in_a_sentence(sample: bytes, at: list[int], put: bytes) -> None:
    data = bytearray(sample)
    for place in at:
        data[place % len(data):place % len(data) + len(put)] = put
    try:
        found = read_here(bytes(data), "hall")
    except Problem as problem:
        assert problem.sentence.startswith("hall ") and problem.sentence.endswith(".")
    else:
        assert found.end in ("png", "jpg", "json")


ANYTHING = st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
                        lambda inner: st.lists(inner, max_size=4), max_leaves=12)


@given(ANYTHING, st.sampled_from(["wide", "high", "lines", "metres", "unit", "outlines"]))
def test_outlines_with_any_other_value_in_a_field_are_refused_or_plain(value: object, field: str) -> None:
    whole = {"outlines": 1, "wide": 50, "high": 40, "lines": [[1, 2, 3, 4]], "unit": "feet", "metres": 0.3, field: value}
    try:
        found = from_bytes(json.dumps(whole).encode())
    except ValueError:
        return
    assert 0 < found.wide <= GRID + 1 and 0 < found.high <= GRID + 1
    assert all(type(n) is int for line in found.lines for n in line)
