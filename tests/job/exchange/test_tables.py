"""Tables from and to files: columns, units, rows by name, three mistakes named, no formula, no crash."""

import csv
import io
import zipfile
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from stagefloor.core.problems import Problem
from stagefloor.job import edit, store
from stagefloor.job.exchange.heads import matched
from stagefloor.job.exchange.preview import ADD, CHANGE, REFUSE, SAME, Plan
from stagefloor.job.exchange.table_file import MOST_ROWS, read_table, to_csv, to_xlsx
from stagefloor.job.exchange.tables import TABLES, notes, planned, table
from stagefloor.job.fields import shape_of
from stagefloor.job.inventory import Point
from stagefloor.job.model import RECORDS, Job
from stagefloor.job.sheet import OldOutlet

DEMOS = Path(__file__).resolve().parents[3] / "demo_projects"


@pytest.fixture
def job() -> Job:
    job, _ = edit.add(Job(), "event", [{"label": "Play"}, {"label": "Talk"}])
    return edit.add(job, "point", [{"label": "A01", "x": "3", "y": "4", "events": "Play", "microphone": "2"}])[0]


def take(job: Job, data: bytes, kind: str = "point") -> Plan:
    file = read_table(data, "list.csv")
    return planned(job, kind, file, matched(kind, file.heads))


def forty_rows() -> str:
    """Forty new points, three of them with a mistake: a count in words, a length that is none, an unknown event."""
    rows = ["Point,What stands there,Across [m],Up (ft),Mics,Loudspeakers,In which events,Colour"]
    rows += [f'P{n:02},position {n},{n / 4},{n},{n % 4},1,"Play, Talk",red' for n in range(1, 41)]
    rows[7] = 'P07,position 7,1.75,7,three,1,"Play, Talk",red'
    rows[20] = 'P20,position 20,5.0,7 kg,0,1,"Play, Talk",red'
    rows[33] = "P33,position 33,8.25,33,1,1,Plays,red"
    return "\n".join(rows) + "\n"


def test_forty_rows_with_three_mistakes(job: Job) -> None:
    plan = take(job, forty_rows().encode())
    assert (len(plan.of(ADD)), len(plan.of(REFUSE))) == (37, 3)
    said = [f"{x.subject}: {x.words}" for x in plan.of(REFUSE)]
    assert said[0].startswith("Row 8, P07: Microphone: 'three' is not a whole number")
    assert said[1].startswith("Row 21, P20: Up: 'kg' in '7 kg' is not a unit of length")
    assert said[2].startswith("Row 34, P33: In which events: There is no event called 'Plays'; did you mean 'Play'?")
    new = {p.label: p for p in plan.job.all(Point)}
    one = new["P10"]
    assert one.x is not None
    assert one.y is not None
    assert (one.x.si, one.y.si) == (2.5, pytest.approx(10 * 0.3048))  # metres and feet by the heads
    assert (one.microphone, one.loudspeaker, len(one.events)) == (2, 1, 2)
    again = planned(plan.job, "point", read_table(forty_rows().encode(), "list.csv"),
                    matched("point", read_table(forty_rows().encode(), "list.csv").heads))
    assert (len(again.of(SAME)), len(again.of(REFUSE)), again.job) == (37, 3, plan.job)


def test_a_known_name_changes_its_record_and_empty_cells_nothing(job: Job) -> None:
    plan = take(job, b"point;across;microphone;up\nA01;3.5;;\nA01;9;;\n;1;1;1\n")
    assert [x.state for x in plan.lines] == [CHANGE, REFUSE, REFUSE]
    assert plan.lines[0].words == "across: 3 ft → 3.5 ft"
    assert "row 2 has the same name" in plan.lines[1].words
    assert "it has no point" in plan.lines[2].words
    (point,) = plan.job.all(Point)
    assert (point.microphone, point.y.text if point.y else "") == (2, "4 ft")


def test_a_row_with_something_beyond_the_heads_is_refused_with_its_number(job: Job) -> None:
    """RFC 4180, 2.4 and 2.6: each line has as many fields, and a field with a comma stands in quotes."""
    plan = take(job, b'Point,Across,Up\nB1,3,5,2,0\nB2,3.5,2,,\nB3,"3,5","2,0"\nB4\n')
    assert [(x.state, x.subject[:5]) for x in plan.lines] == [(REFUSE, "Row 2"), (ADD, "Row 3"), (ADD, "Row 4"),
                                                              (ADD, "Row 5")]
    assert plan.lines[0].words.startswith("5 cells, but 3 heads; put quotes around a text or number with a comma")
    assert [(p.label, p.x and p.x.text, p.y and p.y.text) for p in plan.job.all(Point)][1:] == [
        ("B2", "3.5 ft", "2 ft"), ("B3", "3,5 ft", "2,0 ft"), ("B4", None, None)]
    book = openpyxl.Workbook()
    for row in (["Point", "Across"], ["B5", "3", None], ["B6", "3", None, "see the drawing"]):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    assert [x.words[:20] for x in take(job, out.getvalue()).lines] == ["across: 3 ft", "4 cells, but 2 heads"]


@pytest.mark.parametrize(("heads", "fields"), [
    (("Point", "Across", "Up"), ("label", "x", "y")),
    (("label", "x [m]", "Mic", "network"), ("label", "x", "microphone", "data")),
    (("Name", "Loudspeakr", "Colour", "Acros"), ("label", "loudspeaker", "", "x")),
    (("Across", "ACROSS", "up "), ("x", "", "y")),
    (("", "?", "=1+1"), ("", "", "")),
])
def test_columns_are_matched(heads: tuple[str, ...], fields: tuple[str, ...]) -> None:
    assert tuple(c.field for c in matched("point", heads)) == fields


def test_there_and_back(job: Job) -> None:
    """What goes out as CSV or XLSX comes back without a change; every table can go out."""
    job = edit.set_fields(job, "point", job.all(Point)[0].id, {"x": "-3' 6\"", "what": "'=1+1", "label": "@A01"})
    for make in (to_csv, lambda h, r: to_xlsx("Points", h, r)):
        plan = take(job, make(*table(job, "point")))
        assert [x.state for x in plan.lines] == [SAME]
        assert plan.job == job
    demo = store.read(DEMOS / "quillhaven_playhouse").job
    for kind in TABLES:
        heads, rows = table(demo, kind)
        assert len(heads) == len(set(heads)), kind
        plan = take(demo, to_csv(heads, rows), kind)
        assert [x for x in plan.lines if x.state != SAME] == [], kind
        assert (len(plan.lines), plan.job) == (len(rows), demo), kind


def in_another_job(job: Job, kind: str) -> Job:
    """The job with every id given to another record of its kind, and without the records of this kind."""
    made = Job(settings=job.settings, next_number=job.next_number)
    order = {i: f"{k}-{len(t) - n}" for k, t in job.tables.items() for n, i in enumerate(t)}

    def moved(value: object) -> object:
        if isinstance(value, tuple):
            return tuple(moved(v) for v in value)
        return order.get(value, value) if isinstance(value, str) else value

    for other, records in job.tables.items():
        if other != kind:
            made = made.with_records([r.model_copy(update={n: moved(getattr(r, n)) for n in type(r).model_fields})
                                      for r in records.values()])
    return made


REFERRING = [k for k in TABLES if any(shape_of(f) in ("ref", "refs") for f in RECORDS[k].model_fields.values())]


@pytest.mark.parametrize("kind", REFERRING)
def test_a_table_taken_into_another_job_points_to_the_same_names(kind: str) -> None:
    demo = store.read(DEMOS / "quillhaven_playhouse").job
    twice = [c.id for c in demo.circuits() if c.label == "A2-M2"]  # a fault that the demo was given
    demo = edit.set_fields(demo, "circuit", twice[-1], {"label": "A9-M2"})
    heads, rows = table(demo, kind)
    other = in_another_job(demo, kind)
    plan = take(other, to_csv(heads, rows), kind)
    assert [x.words for x in plan.of(REFUSE)] == []
    assert table(plan.job, kind) == (heads, rows)


def test_a_name_that_two_share_goes_out_as_an_id_and_a_name_goes_before_an_id() -> None:
    job, (first, second) = edit.add(Job(), "box", [{"label": "FB1"}, {"label": "fb1"}])
    job, _ = edit.add(job, "oldoutlet", [{"label": "Old", "box": second}])
    assert table(job, "oldoutlet")[1][0][4] == second
    assert [x.state for x in take(job, to_csv(*table(job, "oldoutlet")), "oldoutlet").lines] == [SAME]
    job = edit.set_fields(job, "box", first, {"label": second})  # called as the other one is known inside
    plan = take(job, f"Label found on it,Gathered into\nNew,{second}\n".encode(), "oldoutlet")
    assert [o.box for o in plan.job.all(OldOutlet)] == [second, first]
    assert plan.lines[0].words == f"gathered into: {second}"


def test_two_columns_for_one_field_are_refused(job: Job) -> None:
    file = read_table(b"Name,Other\nA,B\n", "list.csv")
    first, second = matched("point", file.heads)
    with pytest.raises(Problem, match="Two columns are read as"):
        planned(job, "point", file, (first, replace(second, field=first.field)))


def test_a_name_with_a_comma_comes_back() -> None:
    names = ("Concert, large", "Concert", "Talk; short, or two", "large")
    job, ids = edit.add(Job(), "event", [{"label": n} for n in names])
    for chosen in ([0], [0, 1], [1, 0, 2], [2, 0], [1, 3], [3, 1, 0]):
        held, _ = edit.add(job, "keepclear", [{"label": "K", "events": [ids[n] for n in chosen]}])
        plan = take(held, to_csv(*table(held, "keepclear")), "keepclear")
        assert [x.state for x in plan.lines] == [SAME], (chosen, table(held, "keepclear"), plan.lines)
    typed, (zone,) = edit.add(job, "keepclear", [{"label": "K", "events": "talk; SHORT, or two; concert, Large ,concert"}])
    assert typed.tables["keepclear"][zone].events == (ids[2], ids[0], ids[1])  # type: ignore[attr-defined]
    with pytest.raises(Problem, match="no event called 'Concerto'"):
        edit.add(job, "keepclear", [{"label": "K", "events": "Concert, large, Concerto"}])


def test_no_cell_is_a_formula() -> None:
    bad = ["=1+1", "+1", "-1", "@SUM(A1)", "=cmd|' /C calc'!A0", "\t=1", "plain", "'quoted"]
    cells = next(r for r in csv.reader(io.StringIO(to_csv(bad, []).decode("utf-8-sig"))))
    assert all(not c.startswith(("=", "+", "-", "@", "\t", "\r")) for c in cells)
    packed = to_xlsx("=1+1", bad, [bad])
    for row in openpyxl.load_workbook(io.BytesIO(packed)).worksheets[0].iter_rows():
        assert all(c.data_type == "s" for c in row)
        assert all(c.quotePrefix for c in row if str(c.value).startswith(("=", "+", "-", "@")))
    assert b"<f>" not in zipfile.ZipFile(io.BytesIO(packed)).read("xl/worksheets/sheet1.xml")


def test_a_sample_says_how_to_fill_it_in(job: Job) -> None:
    said = notes(job, "point")
    assert "a bare number is in ft" in said[1]
    book = openpyxl.load_workbook(io.BytesIO(to_xlsx("Points", table(job, "point")[0], [], said)))
    assert [s.max_row for s in book.worksheets] == [1, len(said)]
    assert any(line == "Across: stage left is plus" for line in said)
    assert "A row whose 'Point' is in the job already changes it; empty cells change nothing." in said[0]
    # a reading is no line of its own name: the same test of the same line may be there many times
    assert notes(job, "reading")[0].endswith("stands in the job just so is left as it is; every other one is added.")


@pytest.mark.parametrize("data", [b"", b"\n\n", b"PK\x03\x04nothing", b"\0\0\0", b"\xff\xfe\x00", b"a\0b\n1",
                                  b"Colour\nred\n", b"Across\n3\n", b"x\n" * (MOST_ROWS + 2),
                                  b",".join([b"a"] * 200) + b"\n1"])
def test_no_table_is_one_sentence(job: Job, data: bytes) -> None:
    with pytest.raises(Problem) as told:
        take(job, data)
    assert "\n" not in told.value.sentence


def test_a_packed_bomb_is_not_unpacked(job: Job) -> None:
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * 210_000_000)
    assert len(bomb.getvalue()) < 1_000_000
    with pytest.raises(Problem, match="too large when unpacked"):
        take(job, bomb.getvalue())


def test_heads_of_a_spreadsheet_in_the_plural_find_their_columns() -> None:
    heads = ("Name", "Mics", "Speakers", "Outlets", "Banana")
    assert [c.field for c in matched("point", heads)] == ["label", "microphone", "loudspeaker", "mains", ""]
