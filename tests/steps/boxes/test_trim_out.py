"""The trim-out of a box, against the demo as its scenario tells it and against contact rules published elsewhere."""

from pathlib import Path

import pytest

from stagefloor.drawings.face import BoxFace, FaceBay, FaceOpening, face, rear
from stagefloor.job import store
from stagefloor.job.boxes import Box, BoxModel, Opening
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.job.sheet import OldOutlet
from stagefloor.reference.connections import connections
from stagefloor.steps.boxes.schedule import reconciled
from stagefloor.steps.boxes.trim_out import trim_out

DEMOS = Path(__file__).parents[3] / "demo_projects"


def made(**box):
    records = [Event(id="e", label="Show"),
               Point(id="p", label="P", x="0 m", y="0 m", microphone=3, intercom=1, mains=1),
               BoxModel(id="m", label="Two bays", across="0.25 m", along="0.25 m", bays=2, mains_bays=1, openings=6,
                        mains_outlets=2),
               Box(id="b", label="FB-1", x="0 m", y="1 m", points=("p",), **box)]
    return Job().with_records(records)


def test_every_place_of_the_face_is_on_the_card_once():
    """By hand: 6 openings for 4 connectors leave 2 blanks; 2 mains outlets for 1 leave 1, which is the electrician's."""
    job = reconciled(made())
    trim = trim_out(job, job.boxes()[0])
    assert [s.place for s in trim.spots] == ["1.1", "1.2", "1.3", "1.4", "1.5", "1.6", "2.1", "2.2"]
    assert [s.use for s in trim.spots] == ["in use"] * 4 + ["blank"] * 2 + ["in use", "blank"]
    assert dict(trim.parts)["blank plate, D-size"] == 2
    assert dict(trim.parts)["blank plate for a mains outlet, by the electrician"] == 1
    assert dict(trim.parts)["countersunk screw M3, two a D-size plate"] == 12  # 6 plates, two screws each
    assert trim.ask == ("Ask the venue which gender 1-C1 shall have, before the plate is ordered.",)


@pytest.mark.parametrize(("hinge", "away"), [("downstage", "upstage"), ("stage left", "stage right")])
def test_cables_leave_away_from_the_hinge(hinge, away):
    job = reconciled(made(hinge=hinge))
    trim = trim_out(job, job.boxes()[0])
    assert trim.hinge == f"towards {hinge}"
    assert trim.exit.startswith(f"{away},")
    panel = job.boxes()[0].model_copy(update={"surface": "wall"})
    assert (trim_out(job, panel).hinge, trim_out(job, panel).exit) == ("", "")


def test_mains_is_nobody_elses_and_each_kind_has_one_who():
    """Common practice, no source: local codes leave mains to the licensed electrician; the card must never say otherwise."""
    for kind, row in connections().items():
        assert ("electrician" in row.who) == (kind == "mains")
        assert row.who and row.bench and row.in_place and row.tool and row.hardware and row.time_class


def test_contacts_are_named_as_the_standards_have_them():
    """AES14: contact 1 screen, 2 high, 3 low. ANSI E1.11: 1 common, 2 data -, 3 data +. AES48: the shell is no contact 1.

    All three from memory.
    """
    rows = connections()
    for kind in ("microphone", "line", "intercom"):
        assert "1 screen, 2 high, 3 low" in rows[kind].in_place
    assert "1 screen, 2 data -, 3 data +" in rows["control"].in_place
    assert all("shell stays clear of contact 1" in rows[k].in_place for k in ("microphone", "line", "intercom", "control"))


def test_old_outlets_say_what_becomes_of_them_and_of_their_lines():
    job = made().with_records([
        OldOutlet(id="o1", label="MIC 1", box="b", tested="passed"),
        OldOutlet(id="o2", label="MIC 2", box="b", tested="failed"),
        OldOutlet(id="o3", label="MIC 3", box="b", reuse=False, after="blanked"), OldOutlet(id="o4", label="other", box="z"),
        OldOutlet(id="o5", label="DATA", what="data", box="b")])
    job = reconciled(job)
    told = {o.outlet: (o.after, o.line) for o in trim_out(job, job.boxes()[0]).old}
    assert told == {
        "MIC 1 (microphone)": ("removed", "line reused for 1-M1; tested, passed"),
        "MIC 2 (microphone)": ("removed", "line made dead, capped and marked at both ends; tested, failed: not reused"),
        "MIC 3 (microphone)": ("blanked", "line made dead, capped and marked at both ends"),
        "DATA (data)": ("removed", "line kept as a spare, marked; test it before you land it")}


@pytest.mark.parametrize("demo", ["one_box", "quillhaven_playhouse", "ondry_hall"])
def test_no_opening_of_a_demo_is_lost(demo):
    job = store.read(DEMOS / demo).job
    for box in job.boxes():
        trim = trim_out(job, box)
        mine = sorted(o.label for o in job.all(Opening) if o.box == box.id and o.state != "retired")
        assert sorted(s.label for s in trim.spots if s.use != "blank") == mine
        assert sorted(label for t in trim.tasks for label in t.labels) == mine


def test_the_rear_is_the_face_mirrored_and_says_so():
    record = BoxFace(title="FB", across=0.2, along=0.2, hinge="downstage", bays=(
        FaceBay(openings=(FaceOpening(kind="microphone", label="M1"), FaceOpening(kind="data", label="D1"))),))
    def holes(drawing):
        return [s.points[0][0] for s in drawing.shapes if s.role == "hole"]

    front, back = face(record), rear(record)
    assert holes(front) == [50.0, 150.0]  # by hand: two columns in 200 mm
    assert holes(back) == [150.0, 50.0]
    assert any("left and right are swapped" in s.text for s in back.shapes)
    names = [s.text for s in front.shapes if s.kind == "text"]
    assert [s.text for s in back.shapes if s.kind == "text"][:-1] == names, "labels stay readable"
