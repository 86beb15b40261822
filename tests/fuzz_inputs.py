"""Files that a user takes in, good ones and damaged ones: phone sheets, tables in CSV and XLSX, a tester's file."""

import base64
import contextlib
import io
import json
import random
import re
import zipfile
from typing import Any

from PIL import Image

from stagefloor.job import edit
from stagefloor.job.exchange.heads import fields_of
from stagefloor.job.exchange.table_file import to_csv, to_xlsx
from stagefloor.job.exchange.tables import TABLES, table
from stagefloor.job.fields import shape_of
from stagefloor.job.model import RECORDS, Job

NASTY: list[Any] = [None, True, -1, 0, 1e308, 10**30, "", "x", "../../x", "__proto__", "constructor", "\0\ud800", "a\nb",
                    "circuit-6", "box-3", "survey-1", "9" * 300, "1e999", "=1+1", "<script>", "a" * 4001, [], {}, [[]],
                    {"a": 1}, [[0, 0]] * 3, "nan", "-5 ft", "12' 6\"", "٣", "²", "1/0", "1 1/0 ft", "\u202e\u2028"]
CELLS = ["", "=1+1", "'=1", "../..", "<script>", "9" * 400, "-", "1/0", "1e999", "12' 6\"", "٣", "²", '"', ",", "a" * 5000,
         "\r", "Play", "M-1", "\u2028", "\x0b", "yes", "OL", "1,5", "-0", "ohm", "pass", "2026-13-45", "\t", "|", ";", "A01"]
XML = ["<x/>", "</row>", "</sheetData>", "&amp;", "&#0;", "&#xD800;", "]]>", "<!-- ", "\0", ' r="A1048576"', ' r="ZZZ1"',
       ' r="1073741824"', ' r="-1"', ' t="s"', ' t="b"', ' t="e"', ' t="d"', ' t="inlineStr"', ' s="999"', "<v>1e999</v>",
       "<v>99999999</v>", "<v>x</v>", "<f>A1</f>", ' count="1000000000"', "<!DOCTYPE a [<!ENTITY b 'c'>]>", "é" * 50]
BOMB = ('<!DOCTYPE sst [<!ENTITY a "' + "x" * 100 + '">' + "".join(
    f'<!ENTITY {chr(97 + n)} "{f"&{chr(96 + n)};" * 12}">' for n in range(1, 8)) + "]>")


def house() -> Job:
    """A job with something of each kind that a file can name, and a sheet of each kind."""
    job, _ = edit.add(Job(), "survey", [{"topic": "Rack position and cable entry"}, {"topic": "Traps"}])
    job, (box,) = edit.add(job, "box", [{"label": "FB-1", "x": "3", "y": "3", "state": "built"}])
    job, (mic, data) = edit.add(job, "opening", [{"box": box, "what": "microphone"}, {"box": box, "what": "data"}])
    job, lines = edit.add(job, "circuit", [{"label": "M-1", "openings": mic}, {"label": "D-1", "what": "data",
                                                                              "openings": data}])
    job, _ = edit.add(job, "cable", [{"label": "M-1", "circuits": lines[0]}])
    job, _ = edit.add(job, "sheet", [{"label": "Survey", "what": "survey", "key": "aaaa"},
                                     {"label": "Crew A", "what": "site", "key": "bbbb"}])
    job, _ = edit.add(job, "event", [{"label": "Play"}, {"label": "Talk"}])
    return edit.add(job, "point", [{"label": "A01", "x": "3", "y": "4", "events": "Play", "microphone": "2"},
                                   {"label": "A02", "x": "5", "y": "4", "events": "Play, Talk", "data": "1"}])[0]


def photo() -> bytes:
    """A small JPEG."""
    out = io.BytesIO()
    Image.new("RGB", (6, 4), "teal").save(out, "JPEG")
    return out.getvalue()


def _entry(id: str, on: str, to: str = "", was: dict[str, str] | None = None, **fields: str) -> dict[str, Any]:
    return {"id": id, "on": on, "to": to, "fields": fields, "was": was or {}}


def phone_files() -> list[dict[str, Any]]:
    """The files that the two sheets of `house` export."""
    head = {"stagefloor_sheet": 1, "export": 1, "by": "Kim", "date": "2026-03-04"}
    was = {"looked": "not looked at", "found": "", "by": "", "date": ""}
    survey = [_entry("survey-1", "survey", "survey-1", was, looked="looked", found="in the cellar", by="Kim",
                     date="2026-03-04"),
              _entry("settings.rack_x", "settings", "job", {"rack_x": ""}, rack_x="30"),
              _entry("layer.1.abc", "layer", material="oak", thickness="22 mm"),
              _entry("question.1f", "survey", topic="Where do cables enter?", looked="looked", found="sleeve S1")]
    site = [_entry("circuit-6:loop-resistance:1", "reading", circuit="circuit-6", test="loop resistance", result="",
                   value="2600 mohm", instrument="meter 4", by="Kim", date="2026-03-04"),
            _entry("built:box-3", "asbuilt", box="box-3", x="3' 1/2\"", y="3", z="0", modified="yes", note_text="trimmed"),
            _entry("length:circuit-6", "length", was={"typed_length": ""}, circuit="circuit-6", typed_length="52' 6\""),
            _entry("length:circuit-7", "length", was={"typed_length": ""}, circuit="circuit-7", typed_length="16 m"),
            _entry("punch.1.x", "punch", label="Line M-1: lid scrapes")]
    pictures = [{"id": "p1", "about": "Rack", "label": "", "data": base64.b64encode(photo()).decode()}]
    sketches = [{"id": "s1", "about": "Rack", "label": "a", "strokes": [[[1, 2], [3, 4]]],
                 "dimensions": [{"from": [1, 1], "to": [2, 2], "text": "3 ft"}]}]
    return [{**head, "kind": "survey", "sheet": "aaaa", "entries": survey, "pictures": pictures, "sketches": sketches},
            {**head, "kind": "site", "sheet": "bbbb", "entries": site, "pictures": pictures}]


def strange_phone(whole: dict[str, Any], rng: random.Random) -> bytes:
    """The file with one to four values replaced, removed, doubled, renamed or wrapped."""
    data = json.loads(json.dumps(whole))
    data["export"] = rng.choice((1, 1, 2, 3))
    if phone := rng.choice(("aa1", "aa1", "bb2", "")):
        data["phone"] = phone
    for _ in range(rng.randint(1, 4)):
        places: list[tuple[Any, Any]] = []

        def walk(one: Any, places: list[tuple[Any, Any]] = places) -> None:
            for key in list(one) if isinstance(one, dict) else range(len(one)):
                places.append((one, key))
                if isinstance(one[key], dict | list):
                    walk(one[key])

        with contextlib.suppress(RecursionError):  # what was put in lies deeper than this can follow
            walk(data)
        if not places:
            break
        holder, key = rng.choice(places)
        match rng.randrange(6):
            case 0 | 1:
                holder[key] = rng.choice(NASTY)
            case 2:
                del holder[key]
            case 3 if isinstance(holder, list):
                holder.insert(key, holder[key])
            case 4 if isinstance(holder, dict):
                holder[str(rng.choice(NASTY))] = holder[key]
            case _:
                deep: Any = holder[key]
                for _ in range(rng.choice((1, 2, 60, 300))):
                    deep = [deep] if rng.random() < 0.5 else {"x": deep}
                holder[key] = deep
                return json.dumps(data).encode()  # too deep to be walked again
    return json.dumps(data).encode()


def strange_bytes(whole: bytes, rng: random.Random) -> bytes:
    """Bytes changed, left out, doubled, put in, or cut off."""
    raw = bytearray(whole)
    for _ in range(rng.choice((1, 1, 3, 10))):
        if not raw:
            return b""
        at, long = rng.randrange(len(raw)), rng.randrange(1, 60)
        match rng.randrange(6):
            case 0 | 1:
                raw[at] = rng.randrange(256)
            case 2:
                del raw[at:at + long]
            case 3:
                raw[at:at] = raw[at:at + long * 4]
            case 4:
                raw[at:at] = rng.randbytes(rng.randrange(1, 6))
            case _:
                if rng.random() < 0.3:
                    del raw[at:]
    return bytes(raw)


def strange_table(lines: list[str], rng: random.Random) -> bytes:
    """Rows left out and mixed, cells replaced, another mark between cells, another coding, now and then a great size."""
    head, *rest = [line.split(",") for line in lines]
    rows = [list(row) for row in rng.choices(rest, k=rng.randint(0, len(rest)))]
    if rng.random() < 0.3:
        rng.shuffle(head)
    for _ in range(rng.randint(1, 5)):
        row = rng.choice([head, *rows])
        if row:
            row[rng.randrange(len(row))] = rng.choice(CELLS)
    if rng.random() < 0.2:
        rng.choice([head, *rows]).append(rng.choice(CELLS))
    if rng.random() < 0.01:
        rows += [list(row) for row in rows for _ in range(rng.choice((100, 1000)))]
    mark = rng.choice((",", ",", ";", "\t", "|"))
    text = rng.choice(("\n", "\n", "\r\n", "\r")).join(mark.join(row) for row in [head, *rows]) + rng.choice(("", "\n"))
    if rng.random() < 0.003:
        text += mark * rng.choice((10_000, 3_000_000)) + "\n"
    return text.encode(rng.choice(("utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16")), "replace")


def _unpacked(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def _with_shared_texts(parts: dict[str, bytes]) -> dict[str, bytes]:
    """The same spreadsheet with its texts in a part of their own, as most programs write it (ECMA-376 part 1, 18.4)."""
    texts: list[str] = []

    def taken(cell: "re.Match[str]") -> str:
        texts.append(cell[2])
        return f'<c{cell[1]} t="s"><v>{len(texts) - 1}</v></c>'

    sheet = re.sub(r'<c([^>]*) t="inlineStr"><is><t>(.*?)</t></is></c>', taken, parts["xl/worksheets/sheet1.xml"].decode())
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    kind, rel = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml", \
        "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
    return parts | {
        "xl/worksheets/sheet1.xml": sheet.encode(),
        "xl/sharedStrings.xml": (f'<sst xmlns="{space}" count="{len(texts)}" uniqueCount="{len(texts)}">'
                                 + "".join(f"<si><t>{t}</t></si>" for t in texts) + "</sst>").encode(),
        "xl/_rels/workbook.xml.rels": parts["xl/_rels/workbook.xml.rels"].replace(
            b"</Relationships>",
            f'<Relationship Type="{rel}" Target="sharedStrings.xml" Id="rId9" /></Relationships>'.encode()),
        "[Content_Types].xml": parts["[Content_Types].xml"].replace(
            b"</Types>", f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}" /></Types>'.encode())}


def strange_xlsx(parts: dict[str, bytes], rng: random.Random) -> bytes:
    """A spreadsheet file whose parts are damaged and packed again: XML put in, doubled or cut, parts missing or swollen."""
    parts = dict(parts)
    for _ in range(rng.choice((1, 1, 2, 4))):
        name = rng.choice([*parts, *[n for n in parts if "sheet" in n or "workbook" in n or "shared" in n] * 3])
        text = parts[name].decode("utf-8", "replace")
        at = rng.randrange(len(text) + 1)
        match rng.randrange(8):
            case 0 | 1:
                at = text.find(rng.choice(("<c ", "<row ", "<v>", "<sheet ", "<t>", "</c>", "count=", ">")), at)
                text = text[:at] + rng.choice(XML) + text[at:]
            case 2:
                at = text.find(rng.choice('="><'), at) + 1
                text = text[:at] + rng.choice(CELLS) + text[at + rng.randrange(4):]
            case 3:
                text = text[:at] + text[at:at + 80] * rng.choice((2, 2, 50)) + text[at:]
            case 4:
                text = text[:at] + text[at + rng.randrange(1, 60):]
            case 5 if len(parts) > 1:
                del parts[name]
                continue
            case 6 if rng.random() < 0.03:
                many = rng.choice(("<t>x</t>", " ", "<si><t>x</t></si>")) * rng.choice((100_000, 3_000_000))
                text = text[:at] + many + text[at:]
            case _:
                text = (BOMB if rng.random() < 0.3 else "") + text.replace(rng.choice(("Play", "1", "A01", "r=")),
                                                                           rng.choice(("&g;", "", "9" * 9, "\u0663")), 1)
        parts[name] = text.encode("utf-8", "replace")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", rng.choice((zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED))) as packed:
        for name, body in parts.items():
            packed.writestr(name, body)
    made = out.getvalue()
    return strange_bytes(made, rng) if rng.random() < 0.15 else made


def _new_row(kind: str, number: int) -> list[str]:
    """A row that can be taken in: its name, a length, a count; what points to others, or is chosen, is left out."""
    cls = RECORDS[kind]
    words = {"length": f"{number} ft", "count": str(number + 1), "flag": "yes", "number": "1.5", "money": "10.00"}
    cells = {n: words.get(shape_of(cls.model_fields[n]), "") for n in fields_of(kind)}
    if shape_of(cls.model_fields[cls.name_field]) == "text":
        cells[cls.name_field] = f"New{number}"
    known = {"circuits": "M-1", "circuit": "M-1", "test": "continuity"}
    return list((cells | {n: word for n, word in known.items() if n in cells}).values())


def table_files(job: Job) -> list[tuple[str, list[str], dict[str, bytes], bytes]]:
    """(kind, lines of a CSV, parts of an XLSX, the XLSX) for every table, with a few new rows in the points."""
    found = []
    for kind in TABLES:
        heads, rows = table(job, kind)
        rows += [_new_row(kind, n) for n in range(4)]
        packed = to_xlsx(kind, heads, [*rows, ["1"] * len(heads)])
        lines = to_csv(heads, [*rows, ["new"] * len(heads)]).decode("utf-8-sig").splitlines()
        found.append((kind, lines, _with_shared_texts(_unpacked(packed)), packed))
    return found


TESTER = ["Cable label,Test,Value,Unit,Pass/Fail,Date,Time,Tester,Operator",
          "M-1,loop resistance,2.6,ohm,pass,2026-05-02,10:01,tester 7,crew lead",
          "M-1,continuity,,,pass,2026-05-02,10:02,tester 7,crew lead",
          "M-1,phantom,47.9,V,pass,2026-05-02,10:03,tester 7,crew lead",
          "D-1,wire map,,,pass,2026-05-02,10:04,tester 7,crew lead",
          "M-1,isolation,500,Mohm,pass,2026-05-02,10:05,tester 7,crew lead"]
WIDE = ["Cable,Continuity,Loop resistance (ohm),Result of loop resistance,Date",
        "M-1,pass,2.6,pass,2026-05-02", "D-1,OL,,,", "M-1,fail,2.4,,2026-05-03"]
