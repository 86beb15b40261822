"""The job sheet: venue, floor, where rack and panel are, what stands in the way, what was looked at."""

from typing import ClassVar

from stagefloor.job.fields import (
    Amount,
    Count,
    Flag,
    Length,
    Mass,
    Ref,
    Refs,
    Size,
    Text,
    choice,
    count,
    day,
    flag,
    length,
    mass,
    note,
    number,
    ref,
    refs,
    text,
)
from stagefloor.job.record import Record

UNITS = ("ft-in", "m")
BASES = ("US", "IEC/UK")
FLOORS = ("", "wood on joists", "concrete slab on grade", "suspended concrete slab", "post-tensioned slab",
          "raised access floor", "other")
UNIT_WORDS = {"ft-in": "feet and inches", "m": "metres"}
# other words that people type for a choice
ALSO_UNITS = {"ft-in": "ft, foot, feet, feet and inches, feet-inches, ft and in, ft in, ft/in, inches, in, imperial, us",
              "m": "metre, metres, meter, meters, metric, si, mm, cm, millimetres, millimeters"}
ALSO_BASES = {"US": "usa, u.s., nec, nfpa 70, american",
              "IEC/UK": "iec, uk, bs 7671, bs7671, british, european, eu, international"}
ALSO_FLOORS = {"wood on joists": "timber, timber joists, wooden, joists, timber floor, wood floor, wood joists",
               "concrete slab on grade": "slab on grade, on grade, ground slab, slab on ground, ground-bearing slab",
               "suspended concrete slab": "suspended slab, elevated slab",
               "post-tensioned slab": "pt, pt slab, post tensioned, post-tensioned concrete",
               "raised access floor": "access floor, raised floor",
               "": "?, not known, unknown, don't know, dont know, do not know"}
LOOKED = ("not looked at", "looked", "could not be found out")


class Settings(Record):
    """One a job: venue, units, basis, policies of the shop for this job. Fields at their default are 'assumed'."""

    kind: ClassVar[str] = "settings"
    noun: ClassVar[str] = "job"
    step: ClassVar[str] = "job sheet"
    name_field: ClassVar[str] = "venue"

    venue: Text = text("Venue", "the name on the title block")
    client: Text = text("Client", "who receives the document set")
    shop: Text = text("Your shop", "as it shall stand on the documents")
    contact: Text = text("Contact for the client", "one name or role and how to reach it")
    units: Text = choice("Units", UNITS, "ft-in", "what a bare number means; any unit may be typed beside it",
                         also=ALSO_UNITS, shown=UNIT_WORDS)
    basis: Text = choice("Code basis", BASES, "US", "which family of codes applies; your local authority decides",
                         also=ALSO_BASES)
    edition: Text = text("Edition", "the edition in force, for example 2023; ask the authority")
    currency: Text = text("Currency", "three letters, for example USD", "USD")
    floor_type: Text = choice("Floor", FLOORS, "", "leave empty if you don't know", also=ALSO_FLOORS)
    tread: Text = choice("Raised area is a", ("", "stage (with fly scenery)", "platform (no fly scenery)"), "",
                         "codes ask different floor loads of them")
    rack_x: Length = length("Rack entry across", "from the origin, stage left is plus")
    rack_y: Length = length("Rack entry up", "from the origin, upstage is plus")
    rack_z: Length = length("Rack entry height", "stage floor is zero")
    rack_distance: Size = length("Way to the rack", "length of the way a cable takes, if there is no plan yet")
    panel_x: Length = length("Mains panel across", "from the origin, stage left is plus")
    panel_y: Length = length("Mains panel up", "from the origin, upstage is plus")
    panel_ways: Count = count("Spare ways in the panel", "free places for breakers, by the licensed electrician")
    stage_left: Length = length("Stage reaches to stage left", "from the origin to the edge or wall on that side")
    stage_right: Length = length("Stage reaches to stage right", "as a minus figure")
    stage_down: Length = length("Stage edge", "downstage, as a minus figure if the origin is upstage of it")
    stage_up: Length = length("Back wall", "upstage end of the stage, from the origin")
    origin: Text = text("Origin", "the one point all measures start from, in stage terms")
    # policies: the shop's own, each with a default that is shown as assumed
    reach: Size = length("Longest loose cable", "from a floor box to what plugs in (common practice 6 to 10 ft)",
                           "6 ft")
    slack_box: Size = length("Slack at the box", "to lift a module out and end again", "3 ft")
    slack_rack: Size = length("Slack at the rack", "10 ft at the head end is a published figure", "10 ft")
    spare_percent: Amount = number("Spare openings", "added to the need of each kind in each box", 0.0, "%")
    growth_percent: Amount = number("Growth in raceways", "cable area kept free for later", 25.0, "%")
    joist_gap: Size = length("Cutout to joist face", "each side, or frame the opening (common practice)", "1/2 in",
                             fine=True)
    edge_gap: Size = length("Cover to stage edge", "common practice, no source", "18 in", fine=True)
    nosing_gap: Size = length("Cover to step nosing", "common practice, no source", "12 in", fine=True)
    tendon_gap: Size = length("Slab pocket to a tendon", "this job's own figure; the engineer decides", "75 mm", fine=True)
    built_tolerance: Size = length("As-built tolerance", "a shift worth a note; common practice, no source", "25 mm",
                                  fine=True)
    space_percent: Amount = number("Space factor of trunking", "cable area of the inside, percent; UK guidance gives 45, "
                                   "one guide 35 for conduit", 45.0, "%")
    pull_degrees: Amount = number("Bends between pull points", "360 is the most; two right angles are common practice "
                                  "for signal cable", 180.0, "deg")
    pull_length: Size = length("Longest pull", "between pull points (common practice, no source)", "100 ft")
    spare_raceways: Count = count("Spare raceways beside each trunk", "empty, with a string in each")
    power_gap: Size = length("Signal raceway to open power wiring",
                               "sources give 2 in, 5 in and 12 in: choose with the electrician", "12 in", fine=True)
    streaming_needs_microphone: Flag = flag("A camera position expects a microphone line",
                                            "one that has none becomes an open item")
    wet_cleaning: Text = choice("Floor is cleaned", ("", "dry", "wet"), "", "wet cleaning asks for a gasket in the lid")
    breaker_role: Text = text("Who switches the breaker off and on", "a role, named: nobody else does it")
    warranty: Text = text("Warranty", "your terms as the client shall read them")
    validity: Text = text("Offer is valid for", "for example 90 days")
    care: Text = note("Care of the lids", "for cleaners and painters")


class Survey(Record):
    """One thing to look at on site. 'Not looked at' is an answer."""

    kind: ClassVar[str] = "survey"
    noun: ClassVar[str] = "survey line"
    step: ClassVar[str] = "job sheet"
    name_field: ClassVar[str] = "topic"

    topic: Text = text("Topic")
    looked: Text = choice("Looked at", LOOKED, "not looked at")
    found: Text = note("What was found")
    evidence: Text = text("Evidence", "photo, drawing or report number")
    by: Text = text("By")
    date: Text = day("Date")


class FloorZone(Record):
    """A part of the floor with its own level and its own room below, such as the apron or the pit."""

    kind: ClassVar[str] = "zone"
    noun: ClassVar[str] = "floor zone"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Zone")
    floor_type: Text = choice("Floor", FLOORS, "", "leave empty if you don't know", also=ALSO_FLOORS)
    x0: Length = length("From across")
    y0: Length = length("From up")
    x1: Length = length("To across")
    y1: Length = length("To up")
    z: Length = length("Level", "stage floor is zero", "0 ft")
    clear_below: Size = length("Clear below the finish", "down to the ground, the slab or the first thing in the way")
    below: Text = text("What is below")
    build_up: Size = length("Build-up over the slab", "from the finish down to the slab; 0 on a bare slab", fine=True)
    slab_gap: Size = length("Kept clear of the slab", "for a floor on resilient pads; a floor box may not touch",
                            "0 mm", fine=True)
    slab: Size = length("Slab thickness", fine=True)
    room_below: Text = choice("Room below", ("", "nobody uses it", "in use"), "", "leave empty if you don't know")
    rating: Text = text("Fire and sound rating to keep", "of the floor over the room, and who gave it")
    public: Flag = flag("The public walks on it", "aisle and trip rules apply")


class FloorLayer(Record):
    """One layer of the floor, from the finish down."""

    kind: ClassVar[str] = "layer"
    noun: ClassVar[str] = "floor layer"
    step: ClassVar[str] = "job sheet"
    name_field: ClassVar[str] = "material"

    material: Text = text("Material")
    thickness: Size = length("Thickness", fine=True)


class Joists(Record):
    """A field of joists: one offset and a spacing give them all."""

    kind: ClassVar[str] = "joists"
    noun: ClassVar[str] = "joist field"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Name", default="Joists")
    run: Text = choice("They run", ("up and down stage", "across the stage"), "up and down stage")
    offset: Length = length("One joist's centre", "its distance from the origin, square to its run")
    spacing: Size = length("Spacing, centre to centre", fine=True)
    width: Size = length("Width", "as measured, or a nominal size such as 2x10", "1.5 in", fine=True, lumber=0)
    depth: Size = length("Depth", "as measured, or a nominal size such as 2x10", fine=True, lumber=1)
    material: Text = choice("Kind", ("solid sawn", "I-joist", "truss", "glulam or composite", "steel", "unknown"),
                            "unknown")


class Bearing(Record):
    """A line on which the joists bear, with blocking between them or not."""

    kind: ClassVar[str] = "bearing"
    noun: ClassVar[str] = "bearing line"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Name")
    at: Length = length("At", "along the run of the joists, from the origin")
    half_width: Size = length("Kept clear each side", "blocking, plates and hangers", "3 in", fine=True)
    blocking: Flag = flag("Blocking on it", default=True)


class Tendon(Record):
    """A tendon or a band of tendons in a post-tensioned slab, and how well its place is known."""

    kind: ClassVar[str] = "tendon"
    noun: ClassVar[str] = "tendon"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Name")
    what: Text = choice("Kind", ("single tendon", "band"), "single tendon")
    run: Text = choice("It runs", ("up and down stage", "across the stage"), "up and down stage")
    at: Length = length("At", "its middle, from the origin, square to its run")
    half_width: Size = length("Half width", "of a band or duct; 0 if only the centre line is known", "0 mm", fine=True)
    evidence: Text = choice("Known from", ("drawing", "scan"), "drawing")
    paper: Text = text("Drawing or report number")


KEEP_CLEAR = ("trap", "wagon track", "curtain line", "step unit", "rolling route", "furniture", "pit",
              "lift", "access route", "other")


class KeepClear(Record):
    """A part of the floor where no box may be, or no cable may lie, always or in some events."""

    kind: ClassVar[str] = "keepclear"
    noun: ClassVar[str] = "keep-clear zone"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Name")
    what: Text = choice("Kind", KEEP_CLEAR, "other")
    x0: Length = length("From across")
    y0: Length = length("From up")
    x1: Length = length("To across")
    y1: Length = length("To up")
    width: Size = length("Width", "of a route from the first to the second point; empty for a rectangle")
    events: Refs = refs("Only in", "event", "empty: always")
    under: Flag = flag("Nothing under it", "no raceway may pass below, as under a trap")
    crossing: Flag = flag("No cable across", "a cable on the floor must not cross it")
    load: Mass = mass("Heaviest load on one wheel or leg")


class Service(Record):
    """Another trade's line that signal raceways keep away from, such as a lighting feeder."""

    kind: ClassVar[str] = "service"
    noun: ClassVar[str] = "other service"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Name")
    what: Text = choice("Kind", ("lighting feeder", "mains feeder", "other power", "pipe", "duct"), "other power")
    enclosed: Text = choice("Runs in", ("unknown", "open or in non-metal", "grounded metal raceway"), "unknown")
    x0: Length = length("From across")
    y0: Length = length("From up")
    z0: Length = length("From height")
    x1: Length = length("To across")
    y1: Length = length("To up")
    z1: Length = length("To height")


class OldOutlet(Record):
    """An outlet that is there now: where it goes, whether its line is reused after test, what becomes of it."""

    kind: ClassVar[str] = "oldoutlet"
    noun: ClassVar[str] = "old outlet"
    step: ClassVar[str] = "job sheet"

    label: Text = text("Label found on it")
    what: Text = choice("Kind", ("microphone", "line", "intercom", "loudspeaker", "video", "data", "control",
                                 "mains"), "microphone")
    count: Count = count("How many", default=1)
    reuse: Flag = flag("Line to be reused after test", default=True)
    box: Ref = ref("Gathered into", "box")
    after: Text = choice("The old outlet is", ("removed", "blanked"), "removed")
    tested: Text = choice("Line tested", ("not yet", "passed", "failed"), "not yet")
