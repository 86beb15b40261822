"""Drawings of lines, good ones and strange ones: DXF by its tags, SVG by its elements and attributes."""

import io
import random
import re
from typing import Any

import ezdxf
from ezdxf.document import Drawing

Tags = list[tuple[str, str]]
NUMBERS = ("0", "-0.0", "1", "-1", "3", "7", "40", "255", "1e308", "-1e308", "1e-320", "nan", "inf", "-inf", "1e999",
           "65536", "2147483648", "-2147483649", "99999999999999999999", "0x10", "1,5", "1e", "", "x", "١", "½", "0.1e+5",
           "1_000", "360", "-720", "1e16", "1e-9", "\x00", "9" * 400)
WORDS = ("", "*Model_Space", "*Paper_Space", "chair", "row", "hall", "HALL", "0", "defpoints", "x" * 3000, "\ud800",
         "a\\U+D83D", "\x00", "LINE", "INSERT", "ENDSEC", "EOF", "AcDbEntity", "AC1009", "AC1032", "AC9999", "ANSI_936",
         "^J", "%%c", "FF", "0", "-1", "FFFFFFFFFFFFFFFFFF", "{BLOCK", "}")
CODES = ("0", "1", "2", "3", "5", "6", "8", "10", "11", "20", "21", "30", "39", "40", "41", "42", "43", "44", "45", "50",
         "51", "60", "62", "66", "67", "70", "71", "72", "73", "74", "90", "91", "92", "100", "102", "210", "220", "230",
         "310", "330", "360", "370", "999", "1001", "1070", "-1", "-5", "x", "1000000", "2.5", "")


def _tagged(words: str) -> Tags:
    """Tags from their codes and values in turn."""
    found = words.split()
    return list(zip(found[::2], found[1::2], strict=True))


PARTS = tuple(map(_tagged, (
    "0 INSERT 8 0 2 hall 10 1 20 1", "0 INSERT 8 0 2 row 10 0 20 0 41 0 42 0 43 0",
    "0 INSERT 8 0 2 row 10 0 20 0 41 1e300 42 -1e300 50 33", "0 INSERT 8 0 2 chair 10 0 20 0 70 500 71 90 44 1 45 1",
    "0 INSERT 8 0 2 row 10 0 20 0 70 32767 71 32767", "0 LINE 8 0 10 1e308 20 -1e308 11 -1e308 21 1e308",
    "0 CIRCLE 8 0 10 0 20 0 40 1e-300", "0 CIRCLE 8 0 10 1e9 20 0 40 -5", "0 ARC 8 0 10 0 20 0 40 5 50 1e9 51 -1e9",
    "0 ELLIPSE 8 0 10 0 20 0 11 0 21 0 40 0 41 0 42 7", "0 SOLID 8 0 10 0 20 0 11 1 21 1 210 0 220 0 230 0",
    "0 POLYLINE 8 0 66 1 70 16 71 30000 72 30000 0 VERTEX 8 0 10 1 20 2 0 SEQEND",
    "0 POLYLINE 8 0 66 1 0 VERTEX 8 0 10 1 20 2 42 1e200", "0 SPLINE 8 0 70 8 71 300 72 9 73 4 40 0 40 0 10 1",
    "0 3DFACE 8 0 10 nan 20 1 11 2 21 inf", "0 LWPOLYLINE 8 0 90 2000000000 70 1 10 1 20 1 42 -1e9 10 3",
    "0 ENDSEC 0 SECTION 2 ENTITIES", "0 ENDBLK", "0 BLOCK 8 0 2 chair", "0 SEQEND", "0 VERTEX", "0 ATTRIB 1 x 2 x",
    "102 {x 330 1F", "0 MESH 91 255 92 900000000", "0 HATCH 91 3 92 2 93 2000000000", "0 DIMENSION 2 hall 70 1",
    "0 LEADER 76 9", "0 MTEXT 1 {\\H99;x",
)))
PLAIN = _tagged("""\
0 SECTION 2 HEADER 9 $ACADVER 1 AC1009 9 $INSUNITS 70 4 0 ENDSEC 0 SECTION 2 TABLES 0 TABLE 2 LAYER 70 2 0 LAYER 2
hidden 70 1 62 -7 6 CONTINUOUS 0 LAYER 2 0 70 0 62 7 6 CONTINUOUS 0 ENDTAB 0 ENDSEC 0 SECTION 2 BLOCKS 0 BLOCK 8 0 2
chair 70 0 10 0 20 0 0 LINE 8 0 10 0 20 0 11 1 21 1 0 ENDBLK 0 BLOCK 8 0 2 row 70 0 10 0 20 0 0 INSERT 8 0 2 chair 10
3 20 0 0 INSERT 8 0 2 chair 10 5 20 0 50 30 0 ENDBLK 0 BLOCK 8 0 2 hall 70 0 10 0 20 0 0 INSERT 8 0 2 row 10 0 20 4 41
2 42 2 0 ENDBLK 0 ENDSEC 0 SECTION 2 ENTITIES 0 LINE 8 0 10 0 20 0 11 40 21 20 0 LINE 8 hidden 10 0 20 0 11 900 21 900
0 CIRCLE 8 0 10 7 20 3 40 2 0 ARC 8 0 10 1 20 1 40 3 50 10 51 200 0 POLYLINE 8 0 66 1 70 1 0 VERTEX 8 0 10 0 20 0 42
0.5 0 VERTEX 8 0 10 9 20 0 0 VERTEX 8 0 10 9 20 9 0 SEQEND 0 SOLID 8 0 10 1 20 1 11 2 21 1 12 1 22 2 13 2 23 2 0
INSERT 8 0 2 hall 10 4 20 4 0 INSERT 8 0 2 chair 10 0 20 0 70 3 71 2 44 2 45 2 0 TEXT 8 0 10 1 20 1 40 1 1 words 0
ENDSEC 0 EOF""")


def dxf_files() -> list[Tags]:
    """The tags of three small drawings: an old one, one of today, and one as the simplest programs write it."""
    return [PLAIN, PLAIN, PLAIN, _tags(_drawn("R12")), _tags(_drawn("R2010"))]


def _drawn(version: str) -> Drawing:
    document = ezdxf.new(version, units=6)
    space = document.modelspace()
    chair = document.blocks.new("chair")
    chair.add_polyline2d([(0, 0), (1, 0), (1, 1)])
    row = document.blocks.new("row")
    for n in range(3):
        row.add_blockref("chair", (2 * n, 0), dxfattribs={"rotation": 15 * n})
    space.add_blockref("row", (3, 3), dxfattribs={"xscale": -1})
    space.add_line((0, 0), (20, 9))
    space.add_circle((5, 5), 2, dxfattribs={"extrusion": (0, 0, -1)})
    space.add_arc((5, 5), 2, 10, 100)
    space.add_polyline2d([(0, 0, 0.5), (4, 0, 0), (4, 4, -1)], format="xyb")
    space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])
    space.add_text("words")
    if version != "R12":
        space.add_lwpolyline([(0, 0, 0, 0, 1), (0, 6, 0, 0, 0)], format="xyseb", close=True)
        space.add_spline([(0, 0), (3, 5), (6, 0), (9, 2)])
        space.add_open_spline([(0, 0), (3, 5), (6, 0), (9, 2), (8, 8)], degree=3)
        space.add_ellipse((3, 3), (4, 1), 0.4, 0.3, 4.0)
        space.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
        space.add_mtext("words")
    return document


def _tags(document: Drawing) -> Tags:
    out = io.StringIO()
    document.write(out)
    lines = [line.strip() for line in out.getvalue().splitlines()]
    return list(zip(lines[::2], lines[1::2], strict=True))


def strange_dxf(whole: Tags, rng: random.Random) -> bytes:
    """Tags changed, swapped, doubled, left out, parts put in; now and then another coding or ends of lines."""
    tags = list(whole)
    start = next((i for i, t in enumerate(tags) if t == ("2", "BLOCKS")), 0)
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        low = start if rng.random() < 0.85 else 0
        at = rng.randrange(min(low, len(tags) - 1), len(tags)) if tags else 0
        code, value = tags[at] if tags else ("0", "EOF")
        match rng.randrange(10):
            case 0 | 1 | 2:
                tags[at:at + 1] = [(code, rng.choice(WORDS if code in ("0", "1", "2", "5", "8", "100", "330") else NUMBERS))]
            case 3:
                tags[at:at + 1] = [(rng.choice(CODES), value)]
            case 4 if tags:
                other = rng.randrange(len(tags))
                tags[at], tags[other] = (tags[other][0], value), (code, tags[other][1])
            case 5:
                del tags[at:at + rng.choice((1, 1, 2, 9))]
            case 6:
                tags[at:at] = tags[at:at + rng.choice((1, 4, 30))] * rng.choice((1, 1, 5))
            case 7 | 8:
                ends = [i for i, t in enumerate(tags) if t[0] == "0"] or [0]
                put = rng.choice(ends)
                tags[put:put] = rng.choice(PARTS) * rng.choice((1, 1, 1, 3))
            case _ if rng.random() < 0.05:
                tags[at:at] = rng.choice(PARTS) * rng.choice((300, 3000))
            case _:
                tags[at:at] = [(rng.choice(CODES), rng.choice((*NUMBERS, *WORDS)))]
    end = rng.choice(("\n",) * 8 + ("\r\n", "\r"))
    text = end.join(f"{code}{end}{value}" for code, value in tags) + end
    return text.encode(rng.choice(("utf-8",) * 12 + ("cp1252", "utf-8-sig", "utf-16")), "replace")


SVGS = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 200 100" width="20cm" '
    'height="4in"><defs><symbol id="s" viewBox="0 0 4 4"><circle cx="2" cy="2" r="1"/></symbol><g id="g"><rect x="1" y="1" '
    'width="9" height="5" rx="2"/></g></defs><g transform="translate(5 5) rotate(30)"><use href="#g" x="9" y="9"/><use '
    'xlink:href="#s" width="9" height="9"/><path d="M0 0L9 9Q3 4 5 6C1 2 3 4 5 6S1 1 2 2T9 8A3 2 30 0 1 9 9Zm1 1h5v5z"/>'
    '</g><polygon points="0,0 5,5 0,5"/></svg>',
    '<svg xmlns="http://www.w3.org/2000/svg" width="300" height="200" style="display:inline"><ellipse cx="50%" cy="20" '
    'rx="9" '
    'ry="4" transform="matrix(1 0 .5 1 0 0)"/><line x1="1" x2="9mm" y1="0" y2="9pt"/><polyline points="1 1 2 2 5 1" '
    'transform="skewX(20) scale(2 3)"/><svg x="9" y="9" viewBox="0 0 9 9" preserveAspectRatio="xMidYMid slice" width="50" '
    'height="20"><a href="x"><path id="p" d="M 1 1 a 5 5 0 1 1 3 3"/></a></svg><use href="#p" '
    'transform="translate(9)"/></svg>')
SVG_PARTS = (
    '<use href="#g"/>', '<g id="g"><use href="#g"/></g>', '<use xlink:href="#s" x="1e300"/>', '<path d="M0 0"/>', "<path/>",
    '<path d="A1 1 0 0 1 5 5"/>', '<path d="M0 0 A 0 0 0 0 0 9 9 A 1e-200 1e200 9 1 1 0 0"/>', '<path d="MMM"/>', "<g>",
    "</g>",
    '<path d="M1e308 1e308L-1e308-1e308C1e308 0 0 1e308 9 9"/>', '<circle r="1e308"/>', '<circle r="-4"/>', "<!--", "]]>",
    '<rect width="nan" height="inf"/>', '<rect width="9" height="9" rx="1e300"/>', "<style>*{display:none}</style>", "&x;",
    "\x00",
    '<svg viewBox="0 0 0 0"><line x2="5"/></svg>', '<svg viewBox="0 0 1e-300 1e300" width="5"><line x2="5" y2="3"/></svg>',
    '<line x2="5" transform="scale(0)"/>', '<line x2="5" transform="rotate(1e308 nan 3) skewX(90)"/>',
    "<?xml version='1.0'?>",
    '<image href="file:///etc/passwd" width="9" height="9"/>', '<polyline points="1"/>', '<polyline points="1,,2 3"/>',
    '<path d="m0 0' + "l1 1" * 3000 + '"/>', '<g transform="translate(1)">' * 120 + "</g>" * 120, "<text>é\ud800</text>",
    '<circle r="50"/>' * 400, '<symbol id="g"/>', '<clipPath><rect width="5" height="5"/></clipPath>', '<use href="#"/>',
    '<line x1="5em" x2="5%" y2="1e5ex"/>', '<path d="M0 0 1 1 Z Z Z m 1 1 z L"/>', '<path d="M0,0 T1,1 S 1 1 1 1 T 9 9"/>',
    '<g id="g1"><path d="M0 0h9"/></g>' + "".join(f'<g id="g{n}"><use href="#g{n - 1}"/><use href="#g{n - 1}"/></g>'
                                                  for n in range(2, 22)))
HEADS = (*("",) * 15, '<?xml version="1.0" encoding="UTF-8"?>', '<?xml version="1.0" encoding="utf-7"?>', "\ufeff", "  \n",
         '<!DOCTYPE svg [<!ENTITY x "y">]>', '<!DOCTYPE svg SYSTEM "file:///etc/passwd">', '<?xml version="1.1"?>')
SVG_VALUES = (*NUMBERS, "none", "#g", "#s", "#p", "#", "50%", "1e9mm", "5 5", "0 0 0 0", "0 0 -5 5", "1 2 3", "scale(1e300)",
              "scale(0 1)", "matrix(1 1 1 1 1 1)", "matrix(nan 0 0 0 0 0)", "rotate()", "rotate(a)",
              "translate(1e308,1e308)", "skewY(90)", "M0 0L", "M 0 0 A 1 1 1 1 1 1", "slice", "xMinYMax meet",
              "display:none", "url(#g)", "x" * 2000, "M0 0" + "A5 5 0 1 1 9 9" * 200, "scale(2)" * 300, "5 " * 5001,
              "calc(1px + 2px)", "-1e400in")


def strange_svg(rng: random.Random) -> bytes:
    """Values, numbers, elements changed, put in, doubled or left out; a head that should not be there."""
    text = rng.choice(SVGS)
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        found: list[Any] = []
        match rng.randrange(8):
            case 0 | 1:
                found = list(re.finditer(r'="([^"]*)"', text))
                put = rng.choice(SVG_VALUES)
            case 2 | 3:
                found = list(re.finditer(r"(-?\d*\.?\d+)", text))
                put = rng.choice(NUMBERS)
            case 4 | 5:
                found = list(re.finditer(r"(?<=>)()", text))
                put = rng.choice(SVG_PARTS)
            case 6:
                found = list(re.finditer(r"(<[^>]*>)", text))
                put = rng.choice(("", "", "<g>", "</svg>", "<a>"))
                if found and rng.random() < 0.4:
                    put = rng.choice(found)[1] * rng.choice((1, 2, 40))
            case _:
                found = list(re.finditer(r"([a-zA-Z]+)(?==|[ />])", text))
                put = rng.choice(("g", "svg", "use", "path", "symbol", "d", "transform", "viewBox", "id", "points", "x",
                                  "defs"))
        if found:
            where = rng.choice(found)
            text = text[:where.start(1)] + put + text[where.end(1):]
    return (rng.choice(HEADS) + text).encode(rng.choice(("utf-8",) * 12 + ("cp1252", "utf-16")), "replace")
