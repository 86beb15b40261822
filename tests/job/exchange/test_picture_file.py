"""Pictures from outside: drawn anew, bounded, without anything else that the file held; refused in one sentence.

The independent reader is the marker walk below, by ITU-T T.81 (1992) table B.1 and the PNG specification (ISO/IEC 15948)
clause 5, both from memory; it uses nothing of Pillow.
"""

import io
import random
import struct
import warnings
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from stagefloor.core.problems import Problem
from stagefloor.job.exchange import picture_file
from stagefloor.job.exchange.picture_file import clean_picture, small_picture

SECRET = b"51.4778 N, 0.0015 W"


def painted(size: tuple[int, int] = (40, 20), mode: str = "RGB") -> Image.Image:
    """Left half dark, right half light."""
    image = Image.new(mode, size, "white")
    image.paste(Image.new(mode, (size[0] // 2, size[1]), "black"), (0, 0))
    return image


def stored(image: Image.Image, form: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def with_secrets(data: bytes, orientation: int = 1) -> bytes:
    """A JPEG with camera data, a comment, an unknown part, and something behind its end."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = SECRET.decode()
    camera, comment = b"Exif\0\0" + exif.tobytes().removeprefix(b"Exif\0\0"), b"comment " + SECRET
    parts = b"".join(b"\xff" + bytes((marker,)) + struct.pack(">H", len(body) + 2) + body
                     for marker, body in ((0xE1, camera), (0xFE, comment), (0xED, SECRET)))
    return data[:2] + parts + data[2:] + b"<script>" + SECRET


def jpeg_markers(data: bytes) -> list[int]:
    assert data[:2] == b"\xff\xd8"
    at, found = 2, []
    while data[at] == 0xFF and data[at + 1] not in (0xD9, 0xDA):
        found.append(data[at + 1])
        at += 2 + struct.unpack(">H", data[at + 2:at + 4])[0]
    assert data[at + 1] == 0xDA
    assert data.endswith(b"\xff\xd9")
    return found


def png_chunks(data: bytes) -> list[bytes]:
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, found = 8, []
    while at < len(data):
        length = struct.unpack(">I", data[at:at + 4])[0]
        found.append(data[at + 4:at + 8])
        at += 12 + length
    return found


def png(width: int, height: int, body: bytes, *chunks: tuple[bytes, bytes], depth: int = 8, colour: int = 0) -> bytes:
    """A PNG by its specification: signature, header, chunks, image data."""
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + b"".join(chunk(k, d) for k, d in chunks)
            + chunk(b"IDAT", zlib.compress(body)) + chunk(b"IEND", b""))


def test_a_photo_leaves_its_place_and_camera_behind() -> None:
    raw = with_secrets(stored(painted(), "JPEG"))
    assert raw.count(SECRET) == 4
    clean = clean_picture(raw)
    assert (clean.end, clean.wide, clean.high, clean.media_type) == ("jpg", 40, 20, "image/jpeg")
    assert SECRET not in clean.data
    # JFIF mark, quantisation, frame, Huffman: the parts that make a baseline picture, no camera data, no comment
    assert set(jpeg_markers(clean.data)) <= {0xE0, 0xDB, 0xC0, 0xC4}


def test_a_drawing_stays_sharp_and_loses_its_texts() -> None:
    raw = png(2, 1, b"\0\x00\xff", (b"tEXt", b"Author\0" + SECRET), (b"eXIf", b"MM\0*" + SECRET),
              (b"iCCP", b"x\0\0" + SECRET))
    clean = clean_picture(raw)
    assert clean.end == "png"
    assert set(png_chunks(clean.data)) == {b"IHDR", b"IDAT", b"IEND"}
    assert Image.open(io.BytesIO(clean.data)).tobytes() == b"\x00\xff"


def test_an_upright_picture_whatever_way_the_camera_was_held() -> None:
    """Orientation 6 of Exif (CIPA DC-008): row 0 is the right-hand side, so the picture is turned clockwise."""
    clean = clean_picture(with_secrets(stored(painted((40, 20)), "JPEG"), orientation=6))
    assert (clean.wide, clean.high) == (20, 40)
    upright = Image.open(io.BytesIO(clean.data)).convert("L")
    assert upright.getpixel((10, 4)) < 60  # the dark left half of the stored picture is now on top
    assert upright.getpixel((10, 35)) > 200


def test_what_is_clear_becomes_white_and_sixteen_bits_keep_their_grey() -> None:
    clear = clean_picture(png(1, 1, b"\0\x00\x00\x00\x00", colour=6))  # one point, wholly clear
    assert Image.open(io.BytesIO(clear.data)).convert("RGB").getpixel((0, 0)) == (255, 255, 255)
    half = clean_picture(png(1, 1, b"\0\x80\x80", depth=16))  # 0x8080 of 0xFFFF is 128 of 255
    assert Image.open(io.BytesIO(half.data)).getpixel((0, 0)) == 128


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
def test_every_kind_of_png_goes_in(mode: str) -> None:
    clean = clean_picture(stored(painted().convert(mode), "PNG"))
    seen = Image.open(io.BytesIO(clean.data)).convert("L")
    assert (seen.getpixel((5, 5)), seen.getpixel((35, 5))) == (0, 255)


def test_a_printers_jpeg_of_four_colours_goes_in() -> None:
    clean = clean_picture(stored(painted().convert("CMYK"), "JPEG"))
    seen = Image.open(io.BytesIO(clean.data))
    assert seen.mode == "RGB"
    assert seen.convert("L").getpixel((35, 5)) > 200


def test_large_pictures_are_kept_small() -> None:
    noise = Image.frombytes("RGB", (2400, 1500), random.Random(5).randbytes(2400 * 1500 * 3))  # as hard to store as can be
    for form in ("JPEG", "PNG"):
        clean = clean_picture(stored(noise, form))
        assert max(clean.wide, clean.high) <= picture_file.MOST_SIDE
        assert clean.wide / clean.high == pytest.approx(1.6, abs=0.01)
        assert len(clean.data) <= picture_file.MOST_KEPT
    small = small_picture(clean.data, 240)
    assert max(small.wide, small.high) <= 240
    assert len(small.data) < 60_000


def test_the_same_picture_twice_has_one_name() -> None:
    raw = stored(painted(), "JPEG")
    assert clean_picture(raw).name == clean_picture(with_secrets(raw)).name
    stem, _, end = clean_picture(raw).name.partition(".")
    assert (len(stem), set(stem) <= set("0123456789abcdef"), end) == (24, True, "jpg")


GREY = stored(painted(), "JPEG")


def test_torn_camera_notes_say_nothing_on_the_page() -> None:
    """A list of notes that ends before its first one (TIFF 6.0, section 2): Pillow warns of it."""
    note = b"Exif\0\0MM\0*" + struct.pack(">IHHHII", 8, 1, 0x8769, 4, 1, 900)
    torn = GREY[:2] + b"\xff\xe1" + struct.pack(">H", len(note) + 2) + note + GREY[2:]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert clean_picture(torn).data == clean_picture(GREY).data
        assert small_picture(torn, 20).wide == 20


@pytest.mark.parametrize(("data", "words"), [
    (b"", "empty"),
    (b"GIF89a" + bytes(50), "no JPEG or PNG"),
    (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no JPEG or PNG"),
    (b"%PDF-1.7", "no JPEG or PNG"),
    (b"\0\0\0\x18ftypheic" + bytes(40), "send it as JPEG"),
    (b"\xff\xd8", "no JPEG or PNG"),
    (b"\xff\xd8\xff\xe0\x00\x01", "cut off"),
    (GREY[:-2], "cut off"),
    (GREY[:40], "cut off"),
    (GREY[:-200], "cut off"),
    (GREY[:len(GREY) // 3], ""),
    (png(2, 2, b"\0\x00"), "cut off"),
    (png(2, 2, b"\0\x00\x01" * 2, colour=3), "damaged"),  # numbers of colours, and no colours
    (bytes(picture_file.MOST_BYTES + 1), "25 MB are the most"),
    # a few hundred bytes that would unpack to gigabytes
    (png(60000, 60000, b"\0" * 1000), "million points"),
    (png(9000, 9000, b"\0" * 1000), "million points"),
    (GREY.replace(struct.pack(">HH", 20, 40), struct.pack(">HH", 60000, 60000)), "million points"),
    # a text in a PNG that unpacks to 80 MB
    (png(1, 1, b"\0\0", (b"zTXt", b"k\0\0" + zlib.compress(bytes(80_000_000)))), ""),
])  # fmt: skip
def test_what_is_no_picture_is_one_sentence(data: bytes, words: str) -> None:
    with pytest.raises(Problem) as told:
        clean_picture(data, "site\n<b>" + "x" * 500)
    assert words in told.value.sentence
    assert "\n" not in told.value.sentence
    assert told.value.sentence.startswith("site <b>xxx")
    assert len(told.value.sentence) < 220


WHOLE = [with_secrets(GREY), stored(painted(), "JPEG", progressive=True), stored(painted(), "PNG"),
         stored(painted().convert("P"), "PNG", transparency=0),
         stored(painted((64, 64)), "MPO", save_all=True, append_images=[painted((64, 64))])]


def test_a_camera_file_of_two_pictures_gives_the_first() -> None:
    assert clean_picture(WHOLE[4]).wide == 64


@settings(max_examples=250, deadline=None)
@given(which=st.integers(0, 4), cut=st.integers(0, 3000), noise=st.binary(max_size=12), keep=st.booleans())
def test_torn_bytes_never_trip_the_reader(which: int, cut: int, noise: bytes, keep: bool) -> None:
    whole = WHOLE[which]
    cut %= len(whole)
    torn = whole[:cut] + noise + (whole[cut + len(noise):] if keep else b"")
    for read in (clean_picture, lambda d: small_picture(d, 50)):
        try:
            clean = read(torn)
        except Problem as problem:
            assert problem.sentence
        else:
            assert SECRET not in clean.data
            assert clean.wide * clean.high <= picture_file.MOST_POINTS
