"""Pages and pictures, good ones and strange ones: PDF by its objects, PNG by its chunks, JPEG by its segments."""

import io
import random
import re
import struct
import zlib

from PIL import Image

PDF_VALUES = (b"0", b"-1", b"1e38", b"1e400", b"nan", b"99999999999999999999", b"65535", b"2147483648", b"null", b"true",
              b"[]", b"<<>>", b"(x)", b"<ff>", b"/X", b"1 0 R", b"2 0 R", b"3 0 R", b"4 0 R", b"5 0 R", b"99 0 R",
              b"0.0000001", b"90", b"45", b"[0 0 0 0]", b"[0 0 9e9 1]", b"[5 5 1 1]", b"[0 0 14400 14400]",
              b"[/FlateDecode /FlateDecode]", b"/LZWDecode", b"/DCTDecode", b"/JPXDecode", b"/JBIG2Decode",
              b"/CCITTFaxDecode", b"/RunLengthDecode",
              b"[3 0 R 2 0 R]", b"(" * 50, b"[" * 500, b"<<" * 300)
PDF_DRAWING = (b"q 1 0 0 1 9 9 cm /Im Do Q", b"/Fo Do", b"0 0 m 900 900 l S", b"1e38 0 0 1e38 0 0 cm",
               b"0 w 5 5 99 99 re B*", b"BT /F1 12 Tf 9 9 Td (words) Tj ET", b"BT /F1 1e30 Tf (x) Tj ET", b"/P0 gs",
               b"q " * 300, b"Q " * 50, b"W n", b"/Pattern cs /Pt scn 0 0 500 500 re f", b"/Sh sh", b"BI /W 9 /H 9 ID x EI",
               b"0 0 0 0 0 0 c", b"[0 0] 0 d 100 w 9 9 m 50 50 99 0 20 90 c S", b"0 0 m" + b" 5 5 l 9 0 l" * 400 + b" f")
PDF_ENDLESS = b"[1e-9 1e-9] 0 d 0 0 m 1e6 1e6 l S"  # dashes too many to be drawn
PNG_KINDS = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND", b"gAMA", b"iCCP", b"zTXt", b"iTXt", b"tEXt", b"eXIf", b"acTL",
             b"fcTL", b"fdAT", b"pHYs", b"sBIT", b"cHRM", b"bKGD", b"xxxx", b"CgBI", b"\0\0\0\0")
SIZES = (0, 1, 2, 5, 40, 41, 255, 256, 4000, 8000, 9000, 65_535, 2**31 - 1, 2**31, 2**32 - 1)


def _stored(image: Image.Image, form: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def _painted(mode: str, side: tuple[int, int] = (40, 30)) -> Image.Image:
    return Image.linear_gradient("L").resize(side).convert("RGB" if mode == "CMYK" else "L").convert(mode)


def pdf_objects() -> dict[int, bytes]:
    """The objects of a small document: two pages in a tree, a picture, a form, a pattern, a shading, a font."""
    page = (b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 300 200] /CropBox [10 10 290 190] /Rotate 90 /UserUnit 1 "
            b"/Contents %s "
            b"/Resources << /XObject << /Im 7 0 R /Fo 8 0 R >> /Font << /F1 9 0 R >> /Pattern << /Pt 10 0 R >> /Shading "
            b"<< /Sh "
            b"11 0 R >> /ExtGState << /P0 << /ca 0.5 /BM /Multiply /SMask << /S /Alpha /G 8 0 R >> >> >> >> >>")
    pixels = zlib.compress(bytes(range(64)) * 3)
    drawn = b"1 0 0 RG 9 9 99 50 re S q 99 0 0 99 9 9 cm /Im Do Q /Fo Do BT /F1 12 Tf 9 9 Td (Stage) Tj ET"
    return {1: b"<< /Type /Catalog /Pages 2 0 R >>", 2: b"<< /Type /Pages /Count 2 /Kids [3 0 R 4 0 R] >>",
            3: page % b"5 0 R", 4: page % b"[5 0 R 6 0 R]", 5: _stream(drawn),
            6: _stream(zlib.compress(drawn), b"/Filter /FlateDecode"),
            7: _stream(pixels, b"/Type /XObject /Subtype /Image /Width 8 /Height 8 /BitsPerComponent 8 /ColorSpace "
                               b"/DeviceRGB "
                               b"/Filter /FlateDecode /DecodeParms << /Predictor 1 /Colors 3 /Columns 8 >>"),
            8: _stream(b"0 0 50 50 re f", b"/Type /XObject /Subtype /Form /BBox [0 0 90 90] /Matrix [1 0 0 1 5 5] "
                                          b"/Resources << "
                                          b"/XObject << /Fo 8 0 R /Im 7 0 R >> >> /Group << /S /Transparency /K true >>"),
            9: b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /FirstChar 0 /LastChar 255 >>",
            10: _stream(b"0 0 5 5 re f", b"/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 "
                                         b"/Resources << /Pattern << /Pt 10 0 R >> >>"),
            11: b"<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 0 99 99] /Extend [true true] /Function << "
                b"/FunctionType 2 "
                b"/Domain [0 1] /C0 [1 0 0] /C1 [0 0 1] /N 1 >> >>"}


def _stream(body: bytes, head: bytes = b"") -> bytes:
    return b"<< /Length %d %s >>\nstream\n%s\nendstream" % (len(body), head, body)


def strange_pdf(rng: random.Random) -> bytes:
    """Objects with values changed, put in, left out or led to others; then a table of places that may be wrong too."""
    objects = pdf_objects()
    for _ in range(rng.choice((0, 1, 1, 2, 4))):
        number = rng.choice((2, 3, 3, 4, 5, 5, *objects))
        body = objects.get(number, b"")
        roll = rng.random()
        if roll < 0.5:
            pattern = rb"(?<=[ \[])(-?\d+(?:\.\d+)?|\d+ 0 R|/\w+|true)(?=[ \]])" if roll < 0.35 else rb"\[[^\]]*\]|<<.*?>>"
            found = list(re.finditer(pattern, body, re.S))
            if found:
                where = rng.choice(found)
                body = body[:where.start()] + rng.choice(PDF_VALUES) + body[where.end():]
        elif roll < 0.8:
            drawing = [PDF_ENDLESS] if rng.random() < 0.003 else rng.choices(PDF_DRAWING, k=rng.randint(1, 6))
            body = _stream(b"\n".join(drawing),
                           rng.choice((b"", b"", b"/Filter /FlateDecode", b"/Filter /ASCIIHexDecode", b"/Length 9")))
            number = rng.choice((5, 5, 8, 10))
            if number != 5:
                body = objects.get(number, b"").split(b"stream")[0] + b"stream" + body.partition(b"stream")[2]
        elif roll < 0.9:
            objects.pop(number, None)
            continue
        else:
            body = rng.choice((*PDF_VALUES, *objects.values()))
        objects[number] = body
    out, places = b"%PDF-1.7\n", {}
    for number, body in objects.items():
        places[number] = len(out) + (rng.choice((0, 0, 1, -7, 10**9)) if rng.random() < 0.01 else 0)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(out)
    rows = b"".join(b"%010d 00000 n \n" % places[n] if n in places else b"0000000000 65535 f \n" for n in range(12))
    count = 12 if rng.random() < 0.95 else rng.choice((0, 1, 10**6, -1))
    trailer = b"<< /Size %d /Root 1 0 R %s >>" % (count, rng.choice((b"",) * 30 + (
        b"/Prev %d" % start, b"/XRefStm %d" % start, b"/Encrypt 3 0 R", b"/Info 2 0 R")))
    begin = start if rng.random() < 0.97 else rng.choice((0, 10, 10**9, start - 5))
    return out + b"xref\n0 %d\n%strailer %s\nstartxref\n%d\n%%%%EOF" % (count, rows, trailer, begin)


def pdf_files() -> list[bytes]:
    """Documents of another program, to be broken by bytes."""
    return [_stored(_painted(m), "PDF", save_all=True, append_images=[_painted("L")]) for m in ("RGB", "1", "CMYK")]


def png_files() -> list[bytes]:
    modes = [_stored(_painted(m), "PNG") for m in ("1", "L", "LA", "P", "RGB", "RGBA")]
    deep = _stored(Image.new("I;16", (40, 30), 40_000), "PNG")
    clear = [_stored(_painted(m), "PNG", transparency=t) for m, t in (("P", 0), ("P", bytes(200)), ("L", 5), ("RGB", (1, 1,
                                                                                                                      1)))]
    moving = _stored(_painted("RGB"), "PNG", save_all=True, append_images=[_painted("RGBA"), _painted("L")])
    return [*modes, deep, *clear, moving]


def jpeg_files() -> list[bytes]:
    """Greys and colours, of a printer, progressive, of two pictures, turned by the camera."""
    turned = []
    for way in (0, 3, 6, 8, 9, 65_535):
        exif = Image.Exif()
        exif[0x0112] = way  # orientation (Exif 2.3, table 4; from memory)
        exif.get_ifd(0x8769)[0x9003] = rng_day(way)
        turned.append(_stored(_painted("RGB"), "JPEG", exif=exif))
    return [_stored(_painted(m), "JPEG") for m in ("L", "RGB", "CMYK")] + [
        _stored(_painted("RGB"), "JPEG", progressive=True), _stored(_painted("RGB"), "JPEG", subsampling=0,
                                                                    restart_marker_blocks=1),
        _stored(_painted("RGB"), "MPO", save_all=True, append_images=[_painted("RGB")]), *turned]


def rng_day(way: int) -> str:
    """A day as a camera notes it; some that are none."""
    return {3: "0000:00:00 00:00:00", 6: "2026:13:45", 8: "x" * 500, 9: "2026:02:30 1"}.get(way, "2026:03:04 10:00:00")


OTHERS = tuple(_stored(_painted("RGB"), form) for form in ("GIF", "TIFF", "BMP", "PPM", "ICO", "TGA"))


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    at, found = 8, []
    while at + 8 <= len(data):
        length = int.from_bytes(data[at:at + 4], "big")
        found.append((data[at + 4:at + 8], data[at + 8:at + 8 + length]))
        at += 12 + length
    return found


def strange_png(whole: bytes, rng: random.Random) -> bytes:
    """Chunks with other sizes, kinds, orders and bodies, with sums that fit, so that they are believed."""
    chunks = _chunks(whole)
    for _ in range(rng.choice((0, 1, 1, 2, 4))):
        at = rng.randrange(len(chunks)) if chunks else 0
        kind, body = chunks[at] if chunks else (b"IDAT", b"")
        match rng.randrange(7):
            case 0 | 1 if chunks and len(chunks[0][1]) == 13:
                fields = list(struct.unpack(">IIBBBBB", chunks[0][1]))
                which = rng.randrange(7)
                fields[which] = rng.choice(SIZES) if which < 2 else rng.choice((0, 1, 2, 3, 4, 6, 8, 16, 255))
                chunks[0] = (chunks[0][0], struct.pack(">IIBBBBB", *fields))
            case 2:
                chunks[at:at + 1] = [(kind, body[:rng.randrange(len(body) + 1)])]
            case 3:
                chunks[at:at + 1] = [(rng.choice(PNG_KINDS), body)] * rng.choice((1, 2, 2, 300))
            case 4:
                put = rng.choice((b"", b"\0", b"x\0\0" + zlib.compress(bytes(rng.choice((5, 5000, 3_000_000)))),
                                  b"\xff" * 26, b"II*\0\x08\0\0\0\xff\xff", rng.randbytes(30), b"\0\0\0\x05\0\0\0\0",
                                  bytes(800)))
                chunks.insert(at, (rng.choice(PNG_KINDS), put))
            case 5:
                del chunks[at:at + 1]
            case _:
                many = rng.choice((500, 50_000)) if rng.random() < 0.97 else 60_000_000
                chunks[at:at + 1] = [(b"IDAT", zlib.compress(rng.choice((b"\0", b"\x04\x05", b"\xff")) * many))]
    made = whole[:8]
    for kind, body in chunks:
        total = zlib.crc32(kind + body) if rng.random() < 0.98 else 0
        length = len(body) if rng.random() < 0.99 else rng.choice(SIZES)
        made += struct.pack(">I", length) + kind + body + struct.pack(">I", total)
    return made


def _segments(data: bytes) -> tuple[list[bytes], bytes]:
    """The parts of a JPEG before its picture, each with its marker, and the rest (ITU-T T.81, B.1.1; from memory)."""
    at, found = 2, []
    while data[at:at + 1] == b"\xff" and data[at + 1] != 0xDA and at < len(data):
        end = at + 2 + int.from_bytes(data[at + 2:at + 4], "big")
        found.append(data[at:end])
        at = end
    return found, data[at:]


def strange_jpeg(whole: bytes, rng: random.Random) -> bytes:
    """Segments with other sizes, counts and orders; camera notes that lead astray; scans without end."""
    parts, rest = _segments(whole)
    for _ in range(rng.choice((0, 1, 1, 2, 4))):
        at = rng.randrange(len(parts)) if parts else 0
        part = bytearray(parts[at]) if parts else bytearray(b"\xff\xfe\0\x02")
        match rng.randrange(8):
            case 0 | 1:  # the frame: precision, height, width, components and their samplings
                at = next((i for i, p in enumerate(parts) if p[1] in (0xC0, 0xC1, 0xC2)), at)
                part = bytearray(parts[at]) if parts else part
                if rng.random() < 0.6 and len(part) > 9:
                    spot = rng.choice((5, 7))
                    part[spot:spot + 2] = struct.pack(">H", rng.choice(SIZES) & 0xFFFF)
                elif len(part) > 4:
                    part[rng.randrange(4, len(part))] = rng.randrange(256)
                parts[at:at + 1] = [bytes(part)]
            case 2 | 3 if len(part) > 4:
                part[rng.randrange(1, len(part))] = rng.choice((0, 1, 2, 17, 127, 128, 255, rng.randrange(256)))
                parts[at:at + 1] = [bytes(part)]
            case 4:
                parts[at:at + 1] = [bytes(part)] * rng.choice((0, 2, 3, 6000))
            case 5:
                rng.shuffle(parts)
            case 6:
                body = rng.choice((b"Exif\0\0II*\0\x08\0\0\0\xff\xff",
                                   b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x87\x69\0\x04\0\0\0\x01\0\0\0\x08",
                                   b"Exif\0\0" + rng.randbytes(40), b"ICC_PROFILE\0\x09\x01", b"Adobe\0\x64\0\0\0\0\x02",
                                   b"MPF\0II*\0", b"JFIF\0\x01\x02\x01\0\0\0\0\0\0",
                                   b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta", b"",
                                   bytes(9000)))
                parts.insert(at, b"\xff" + bytes((rng.choice((0xE0, 0xE1, 0xE2, 0xEE, 0xFE, 0xDD, 0xC4, 0xDB, 0xC9)),))
                             + struct.pack(">H", len(body) + 2) + body)
            case _:
                spot = rng.randrange(len(rest) + 1)
                rest = rest[:spot] + rng.choice((b"\xff\xda", b"\xff\xd9", b"\xff\xd0", b"\xff" * 300, b"\0" * 5000,
                                                 rest[:60] * 50)) + \
                    rest[spot:]
    return whole[:2] + b"".join(parts) + rest
