"""An invented client's file: invented venue, people and figures, for tests of pages and packages only."""

from stagefloor.drawings.face import BoxFace, FaceBay, FaceOpening, place_name
from stagefloor.drawings.scene import BoxMark, Connection, EventReplay, Line, Place, PointMark, StageScene, Zone
from stagefloor.readers.client.record import (
    AsBuiltRow,
    BoxCard,
    ChangeRow,
    ClientFile,
    Closeout,
    DocumentRow,
    EventTold,
    FailureRow,
    HoldPointRow,
    LineRow,
    LineTest,
    LineTests,
    OldOutletRow,
    OpeningRow,
    OwedBy,
    PartRow,
    PointTold,
    Price,
    PriceRow,
    PunchRow,
    Remark,
    RevisionRow,
    ScopeRow,
    Served,
    ShownBasis,
    ShownValue,
    ShownWorking,
    SpareRow,
    Title,
    ToldUs,
    TrainingRow,
    WarrantyRow,
)
from stagefloor.readers.pictures import ShownPicture

FT = 0.3048
EVENTS = (("Musical", "6 a year"), ("Play", "10 a year"), ("Dance-school hire", "24 a year"),
          ("School show", "8 a year"), ("Civic meeting", "14 a year"), ("Film night", "12 a year"))
# label, what stands there, x ft, y ft, events, counts in words
POINTS = (
    ("A01", "Lectern, downstage right", -9, -3, "Civic meeting, Film night",
     "2 microphone, 1 line return, 1 video, 2 data, 1 mains"),
    ("A02", "Foot microphones, down centre", 0, -4, "Play, Musical, School show", "4 microphone, 1 data"),
    ("A03", "Stage monitor, downstage right", -12, -4, "Musical, Dance-school hire, School show",
     "1 line return, 1 loudspeaker, 1 mains"),
    ("A04", "Stage monitor, downstage left", 12, -4, "Musical, Dance-school hire, School show",
     "1 line return, 1 loudspeaker, 1 mains"),
    ("A08", "Prompt desk, stage-left wing", 18, 2, "Play, Musical, Dance-school hire",
     "1 microphone, 1 line return, 2 intercom, 2 video, 3 data, 2 mains"),
    ("A12", "Choir riser, up centre", 0, 19, "School show, Civic meeting",
     "6 microphone, 1 line return, 1 data, 2 mains"),
)
# label, surface, x ft, y ft, points
BOXES = (("FB-A1", "floor", -9.5, -3, ("A01", "A03")), ("FB-A2", "floor", -0.17, -3.5, ("A02",)),
         ("FB-A3", "floor", 11.83, -3, ("A04",)), ("WP-A6", "wall", 22, 2.5, ("A08",)),
         ("FB-A9", "floor", -0.17, 18.4, ("A12",)))


def _scene() -> StageScene:
    home = {p: b for b in BOXES for p in b[4]}
    replay = []
    for event, often in EVENTS:
        lines = []
        for label, _, x, y, events, counts in POINTS:
            if event in events:
                box = home[label]
                metres = (abs(x - box[2]) + abs(y - box[3])) * FT
                lines.append(Connection(point=label, box=box[0], kinds=counts, metres=metres,
                                        line=((x * FT, y * FT), (box[2] * FT, y * FT), (box[2] * FT, box[3] * FT))))
        missing = ("Foot microphones (A02) need 4 lines; 3 are in reach.",) if event == "School show" else ()
        replay.append(EventReplay(event=event, per_year=often, connections=tuple(lines), unserved=missing))
    return StageScene(
        outline=tuple((x * FT, y * FT) for x, y in ((-24, -6), (26, -6), (26, 26), (-24, 26))),
        origin="centre line at the plaster line", display="ft-in",
        zones=(Zone(label="Trap", what="trap", points=tuple((x * FT, y * FT) for x, y in
                                                             ((-2, 11), (2, 11), (2, 15), (-2, 15)))),
               Zone(label="Wagon track", what="wagon track", points=((-24 * FT, 11.25 * FT), (26 * FT, 11.25 * FT)),
                    width=1.5 * FT),
               Zone(label="Step unit", what="step unit", events=("School show",),
                    points=tuple((x * FT, y * FT) for x, y in ((-10, -6), (-7, -6), (-7, -2.5), (-10, -2.5))))),
        boxes=tuple(BoxMark(label=b[0], title=_title(b[0], b[1]), x=b[2] * FT, y=b[3] * FT, width=1.1 * FT,
                            height=1.1 * FT, surface=b[1]) for b in BOXES),
        points=tuple(PointMark(label=p[0], what=p[1], x=p[2] * FT, y=p[3] * FT) for p in POINTS),
        raceways=(Line(label="Trunk", what="in the crawl space", points=((26 * FT, 6 * FT), (-14 * FT, 6 * FT))),),
        rack=Place(label="Rack", x=29 * FT, y=6 * FT), panel=Place(label="Mains panel", x=26 * FT, y=10 * FT),
        replay=tuple(replay))


def _title(label: str, surface: str) -> str:
    return ("Floor box " if surface == "floor" else "Wall panel ") + label


CONNECTORS = {"microphone": "3-pin XLR, socket", "line return": "3-pin XLR, pins", "data": "8P8C coupler",
              "loudspeaker": "locking loudspeaker connector, 4-pole", "video": "BNC, 75 ohm",
              "intercom": "3-pin XLR, ask the venue", "mains": "mains outlet"}


def _card(label: str, surface: str, wanted: list[tuple[str, ...]], serves: str, remark: str = "") -> BoxCard:
    """A card whose bays hold the kinds in `wanted`; a last mains bay of twin outlets."""
    bays, rows = [], []
    for number, kinds in enumerate(wanted, 1):
        places = []
        for slot, kind in enumerate(kinds, 1):
            spare = kind.startswith("spare ")
            kind = kind.removeprefix("spare ")
            blank = kind == "blank"
            name = "" if blank else f"{label}-{number}{slot}"
            places.append(FaceOpening(kind="" if blank else kind, connector=CONNECTORS.get(kind, ""), label=name,
                                      use="blank" if blank else "spare" if spare else "in use"))
            rows.append(OpeningRow(place=place_name(number, slot), kind="blank plate" if blank else kind,
                                   connector=CONNECTORS.get(kind, ""), label=name,
                                   use="spare" if spare or blank else "in use"))
        bays.append(FaceBay(mains="mains" in kinds, openings=tuple(places)))
    return BoxCard(
        title=_title(label, surface), position="9' 6\" stage right, 3' downstage of the plaster line",
        model="4-bay floor box, hinged lid" if surface == "floor" else "4-bay wall panel",
        size="cutout 12\" × 12\", 4\" deep", openings=tuple(rows), serves=serves, remark_for_client=remark,
        face=BoxFace(title=_title(label, surface), surface=surface, across=12 * 0.0254, along=12 * 0.0254,
                     hinge="downstage" if surface == "floor" else "", bays=tuple(bays)))


def sample() -> ClientFile:
    """A full file for the invented Quillhaven Community Playhouse."""
    full = [("microphone", "microphone", "line return", "spare line return"),
            ("data", "data", "video", "loudspeaker"), ("mains", "mains"), ()]
    music = [("microphone", "microphone", "microphone", "microphone"), ("data", "blank", "blank", "blank"), (), ()]
    return ClientFile(
        title=Title(venue="Quillhaven Community Playhouse", client="Quillhaven Playhouse Society",
                    shop="Fernwick Stage Wiring", contact="Project desk, desk@example.org", revision="B",
                    date="2026-03-04", validity="90 days",
                    revisions=(RevisionRow(label="A", date="2026-02-11", words="First issue"),
                               RevisionRow(label="B", date="2026-03-04", words="FB-A9 moved off the bearing line"))),
        told_us=ToldUs(events=tuple(EventTold(label=e, per_year=n) for e, n in EVENTS),
                       points=tuple(PointTold(label=p[0], what=p[1], events=p[4], counts=p[5]) for p in POINTS)),
        scene=_scene(),
        served=tuple(Served(event=e, boxes=tuple(_title(b[0], b[1]) for b in BOXES[:3]),
                            sentence="All connections within the 6 ft reach.") for e, _ in EVENTS),
        not_served=("School show: the foot microphones need 4 lines and 3 are in reach.",),
        boxes=(_card("FB-A1", "floor", full, "Lectern and stage monitor, downstage right"),
               _card("FB-A2", "floor", music, "Foot microphones, down centre",
                     "The lid opens towards the audience so that cords leave upstage."),
               _card("FB-A3", "floor", full, "Stage monitor, downstage left"),
               _card("WP-A6", "wall", full, "Prompt desk, stage-left wing"),
               _card("FB-A9", "floor", music, "Choir riser, up centre")),
        pictures=(ShownPicture(group="Floor box FB-A2", about="as built", caption="Before the deck was closed",
                               date="2026-04-01", wide=6, high=4, data="/9j/4AAQ"),),
        before_after=(OldOutletRow(outlet="Two microphone outlets, apron face", what_happens="removed, hole blanked",
                                   into="Floor box FB-A2"),
                      OldOutletRow(outlet="Old four-way outlet, down right", what_happens="line reused after test",
                                   into="Floor box FB-A1")),
        scope=(ScopeRow(trade="Stage wiring", item="Floor boxes with modules", quantity="4",
                        furnished_by="Fernwick Stage Wiring", installed_by="Fernwick Stage Wiring",
                        terminated_by="Fernwick Stage Wiring", tested_by="Fernwick Stage Wiring"),
               ScopeRow(trade="Licensed electrician", item="Mains circuits and outlets", quantity="8 outlets",
                        furnished_by="electrician", installed_by="electrician", terminated_by="electrician",
                        tested_by="electrician"),
               ScopeRow(trade="Carpenter", item="Cutouts in the deck and framing", quantity="4",
                        furnished_by="carpenter", installed_by="carpenter")),
        assumptions=("The crawl space can be entered from the hatch in the stage-right wing.",
                     "The stage is free for two working weeks."),
        to_be_proved=("The pull string in the existing conduit to the mix position.",
                      "The load that the lids must carry on the piano route: ask the engineer."),
        price=Price(currency="USD", rows=(PriceRow(section="Floor boxes and panels", amount="12,400.00 USD"),
                                          PriceRow(section="Cabling and tests", amount="18,150.00 USD")),
                    tax="Sales tax is not included.", total="30,550.00 USD",
                    note="The electrician's and the carpenter's work is not part of this price."),
        tests=LineTests(summary="3 of 4 lines are tested; 2 pass, 1 fails.", rows=(
            LineTest(line="M-001", kind="microphone", start="FB-A1 1.1", end="Rack, strip 1", test="loop resistance",
                     limit="at most 4.1 ohm", reading="2.6 ohm", result="pass", date="2026-03-01"),
            LineTest(line="M-002", kind="microphone", start="FB-A1 1.2", end="Rack, strip 1", test="loop resistance",
                     limit="at most 4.1 ohm", reading="2.7 ohm", result="pass", date="2026-03-01"),
            LineTest(line="D-001", kind="data", start="FB-A1 2.1", end="Rack, patch panel", test="link result",
                     limit="pass", reading="fail: return loss", result="fail", date="2026-03-02"),
            LineTest(line="D-002", kind="data", start="FB-A1 2.2", end="Rack, patch panel", test="link result",
                     limit="pass")), missing=("D-002 has no reading yet.",),
            not_fitting=("Line D-001, link result: failed, as recorded; mend it, then test again.",),
            lines=(LineRow(line="M-001", kind="microphone", start="FB-A1", end="Rack", cable="Pair",
                           length="52 ft, measured", way="T1 to T2 – T2 to rack", tests="6 of 6"),)),
        closeout=Closeout(
            begun=True, there="12 of 15", parts=(PartRow(name="tests", there="3 of 4"),),
            owed=(OwedBy(who="the tester", what=("Line D-002: no link result yet.",)),),
            hold_points=(HoldPointRow(label="Lids close over mated plugs", before="finish", by="site lead",
                                      date="2026-03-03", seen="each lid, four plugs in", photo="IMG-4"),),
            spares=(SpareRow(label="Lid key", quantity="2", owed_by="Fernwick Stage Wiring", handed_to="house manager",
                             date="2026-03-04"),),
            training=(TrainingRow(label="Use of the boxes", who="stage crew", owed_by="Fernwick Stage Wiring",
                                  date="2026-03-04"),),
            warranties=(WarrantyRow(sentence="Workmanship: from written acceptance on 2026-03-10 through 2027-03-09.",
                                    contact="Project desk"),),
            changes=(ChangeRow(date="2026-03-01", subject="Floor box FB-A1", what="place", planned="across 9' 6\"",
                               built="across 9' 6 1/2\"", note="clear of a nail plate", photo="IMG-2"),),
            fit_again=("Floor box FB-A1, as built, comes near a joist.",),
            scene=_scene().model_copy(update={"replay": (), "boxes": tuple(
                b.model_copy(update={"planned": (b.x - 0.5, b.y)}) if b.label == "FB-A1" else b for b in _scene().boxes)}),
            failures=(FailureRow(box="Floor box FB-A1", event="Play", state="runs in part",
                                 instead="A01: 1 microphone in Floor box FB-A2", lost="A01: 1 data"),)),
        as_built=(AsBuiltRow(box="Floor box FB-A1", planned="9' 6\" stage right, 3' downstage",
                             built="9' 6 1/2\" stage right, 3' downstage", difference="1/2\" to stage right"),),
        documents=(DocumentRow(label="Mains test record", owed_by="licensed electrician"),
                   DocumentRow(label="Line test record", owed_by="Fernwick Stage Wiring", state="done")),
        punch=(PunchRow(label="Lid of FB-A3 rubs on its frame", owner="Carpenter", due="2026-03-20"),),
        care=("Keep water off the lids: wipe them with a damp cloth.", "Do not paint over lids, hinges or screws.",
              "Never carpet over a lid."),
        cautions=("Only the licensed electrician works on the mains outlets.",
                  "Close the lid when nothing is plugged in; an open lid trips people."),
        warranty="Twelve months on our work from the date of handover.",
        workings=(ShownWorking(name="Loop resistance limit, M-001", formula="R_max = 2 · r · L · 1.1 + 0.2",
                               inputs=(ShownValue(symbol="r", name="conductor", amount=0.053, unit="ohm/m"),
                                       ShownValue(symbol="L", name="length", amount=21.3, unit="m")),
                               result=ShownValue(symbol="R_max", name="limit", amount=2.684, unit="ohm"),
                               notes=("At 20 degrees C.",),
                               basis=(ShownBasis(text="an invented rule for the sample", status="from memory"),)),
                  ShownWorking(topic="tests", name="Isolation, least reading", formula="R >= R_min",
                               inputs=(ShownValue(symbol="R_min", name="least", amount=1.0, unit="Mohm"),),
                               notes=("Nothing plugged in.",),
                               result=ShownValue(symbol="R_min", name="least", amount=1.0, unit="Mohm"),
                               basis=(ShownBasis(text="an invented rule for the sample", status="from memory"),))),
        remarks=(Remark(about="Programme", words="The first event in the new layout is the spring musical."),))
