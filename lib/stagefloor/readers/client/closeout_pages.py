"""The closeout part of the client's pages: state, tests, lines, as built, cards for the users. Formats; computes nothing."""

from stagefloor.drawings.face import face
from stagefloor.drawings.plan import plan
from stagefloor.drawings.svg import clean, render, swatch
from stagefloor.readers.client.pages import working_block
from stagefloor.readers.client.record import BoxCard, ClientFile
from stagefloor.readers.html import Html, bullets, facts, first_few, folded, frame, paragraph, section, table
from stagefloor.readers.pictures import picture_groups

BUILT_LEGEND = (
    ("floor box", "floor box, as built"),
    ("wall panel", "wall panel, as built"),
    ("riser panel", "riser panel, as built"),
    ("planned box", "planned, not measured yet; or where it was planned"),
    ("raceway", "raceway"),
    ("rack", "rack or mains panel"),
    ("keep clear", "keep-clear zone"),
)
LID = "Plug in with the lid open, lead the cords out on the side away from the hinge, then close the lid."
USE = (
    "Push a plug in until it latches; press its latch before you pull. Never pull at the cord.",
    "Say which label you plugged into: it is the same at the other end.",
    "A crackle when a plug is moved is a defect: report the label, use the next one.",
)
MAINS = (
    "Mains outlets: only equipment of the house or tested equipment. If a device trips, leave it off and call; only the "
    "licensed electrician opens the mains part."
)


def state(file: ClientFile) -> Html:
    """What is there and what is missing, from whom."""
    c = file.closeout
    if not c.begun:
        return Html(section("How complete it is", paragraph("Nothing is tested or measured as built yet.")))
    parts = table(
        "What the handover needs, and how much of it is there",
        ("Part", "There"),
        [(p.name, p.there) for p in c.parts],
    )
    owed = "".join(f'<h3 class="who">{clean(o.who)}</h3>' + first_few(o.what, "open") for o in c.owed)
    return Html(
        section(
            "How complete it is",
            paragraph(f"{c.there} things are there. This is counted from the records, never ticked by hand.", "lead"),
            parts,
        )
        + section("What is missing, and from whom", owed or paragraph("Nothing is missing."))
    )


def evidence(file: ClientFile) -> Html:
    """Hold points: who looked, when, what was seen, and what has no evidence."""
    rows = [
        (
            h.label,
            h.before,
            h.by,
            h.date,
            "; ".join(x for x in (h.seen, f"photo {h.photo}" if h.photo else "") if x),
            h.missing,
        )
        for h in file.closeout.hold_points
    ]
    return Html(
        section(
            "Hold points",
            table(
                "Work waited at these points until somebody named had looked",
                ("Hold point", "Before", "Released by", "On", "What was seen", "Missing"),
                rows,
            ),
        )
    )


def given(file: ClientFile) -> Html:
    """Spares and keys, training, warranties."""
    c = file.closeout
    return Html(
        section(
            "Spares, tools and keys",
            table(
                "What the owner gets",
                ("Item", "How many", "Owed by", "Handed to", "On"),
                [(s.label, s.quantity, s.owed_by, s.handed_to, s.date or "not yet") for s in c.spares],
            ),
        )
        + section(
            "Training",
            table(
                "Who was shown what",
                ("What", "To whom", "By", "On"),
                [(t.label, t.who, t.owed_by, t.date or "not yet") for t in c.training],
            ),
        )
        + section(
            "Warranties", bullets(w.sentence + (f" Call: {w.contact}." if w.contact else "") for w in c.warranties)
        )
    )


def lines(file: ClientFile) -> Html:
    """What does not fit, then the lines of each box with their ways, lengths and tests."""
    heads = ("Line", "Kind", "To", "Cable", "Length", "Way", "Tests that fit")
    boxes: dict[str, list[tuple[str, ...]]] = {}
    for x in file.tests.lines:
        boxes.setdefault(x.start or "Not from a box", []).append((x.line, x.kind, x.end, x.cable, x.length, x.way, x.tests))
    return Html(
        section("What does not fit its line", bullets(file.tests.not_fitting, "open"))
        + section(
            "Every line, box by box",
            "".join(folded(f"{b}, lines: {len(rows)}", table(f"Lines of {b}", heads, rows)) for b, rows in boxes.items()),
        )
    )


def tests(file: ClientFile) -> Html:
    """The record of the tests, box by box, and what is missing."""
    heads = ("Line", "Test", "Expected", "Limit", "Reading", "Result", "Date", "Instrument", "Before that")
    boxes: dict[str, list[tuple[str, ...]]] = {}
    for r in file.tests.rows:
        boxes.setdefault(r.start or "Other lines", []).append(
            (r.line, r.test, r.expected, r.limit, r.reading, r.result, r.date, r.instrument, r.before))
    said = file.tests.summary or ("" if boxes else "No line is tested yet.")
    missing = paragraph("Missing:", "lead") + first_few(file.tests.missing, "open") if file.tests.missing else ""
    return Html(
        section(
            "Line tests", paragraph(said), missing,
            "".join(folded(f"Test record of {b}, readings: {len(rows)}", table(f"Tests of {b}", heads, rows))
                    for b, rows in boxes.items()),
        )
    )


def test_workings(file: ClientFile) -> Html:
    """How the limits and lengths were found, folded; on screen only."""
    found = "".join(working_block(w) for w in file.workings if w.topic)
    if not found:
        return Html("")
    return Html(
        '<div class="screen-only">'
        + section("How limits and lengths were found", folded("Every working", found))
        + "</div>"
    )


def built_plan(file: ClientFile) -> Html:
    """The stage as it is built, with the planned place of each box that stands elsewhere."""
    scene = file.closeout.scene
    drawing = plan(scene) if file.closeout.begun else None
    if drawing is None:
        return Html("")
    there = {
        "floor box": any(b.surface == "floor" and b.measured for b in scene.boxes),
        "wall panel": any(b.surface == "wall" and b.measured for b in scene.boxes),
        "riser panel": any(b.surface == "riser face" and b.measured for b in scene.boxes),
        "planned box": any(b.planned or not b.measured for b in scene.boxes),
        "rack": bool(scene.rack or scene.panel),
        "raceway": bool(scene.raceways),
        "keep clear": bool(scene.zones),
    }
    items = "".join(
        f"<li>{swatch(role, f'built{n}')}<span>{clean(words)}</span></li>"
        for n, (role, words) in enumerate(BUILT_LEGEND)
        if there[role]
    )
    return Html(
        section(
            "The stage as built",
            frame(drawing.title, render(drawing, "built"), "plan"),
            paragraph("Slide the drawing sideways to see all of it.", "hint"),
            f'<ul class="legend">{items}</ul>',
            paragraph(f"Measures start from: {scene.origin}." if scene.origin else ""),
        )
    )


def change_log(file: ClientFile) -> Html:
    """What was built otherwise than planned, and what the places as built say of the fit."""
    c = file.closeout
    rows = [(x.date or "no date", x.subject, x.what, x.planned, x.built, x.note, x.photo) for x in c.changes]
    heads = ("Date", "Subject", "What", "Planned", "Built", "Why", "Photo")
    none = paragraph("Nothing was built otherwise than planned, by the records." if c.begun and not rows else "")
    return Html(
        section("Change log", table("Planned and built", heads, rows), none)
        + section("The fit, looked at again at the places as built", bullets(c.fit_again, "open"))
    )


def user_cards(file: ClientFile) -> Html:
    """A card a box for the people who plug in: where it is, what is in it, how it is used, whom to call."""
    return Html("".join(_user_card(file, card, number) for number, card in enumerate(file.boxes)))


def _user_card(file: ClientFile, card: BoxCard, number: int) -> str:
    """One card. The place as built stands in for the planned one where it was measured."""
    rows = [(o.place, o.label, o.kind, o.connector) for o in card.openings if o.use == "in use"]
    built = next((a for a in file.as_built if a.box == card.title and a.difference), None)
    spare = sum(o.use == "spare" for o in card.openings)
    about = facts((
        ("Where", built.built if built else card.position), ("Serves", card.serves),
        ("Otherwise than planned", built.otherwise if built else ""), ("Spare openings", str(spare) if spare else ""),
    ))  # fmt: skip
    drawing = face(card.face) if card.face else None
    shown = frame(drawing.title, render(drawing, f"user{number}"), "face") if drawing else ""
    lid = card.face is None or card.face.hinge
    notes = [*((LID,) if lid else ()), *USE, *((MAINS,) if any(o.kind == "mains" for o in card.openings) else ())]
    call = paragraph(f"Defects: {file.title.contact}" if file.title.contact else "", "lead")
    return (
        f'<article class="card user"><h2>{clean(card.title)}</h2><div class="pair">{about}{shown}</div>'
        + table("What is in it", ("Place", "Label", "Kind", "Connector"), rows, "schedule") + bullets(notes) + call
        + "</article>"
    )


def failures(file: ClientFile) -> Html:
    """If a box is out of service: which events are touched and where to plug in instead."""
    rows = [(f.box, f.event, f.state, f.instead, f.lost) for f in file.closeout.failures]
    return Html(
        section(
            "If a box is out of service",
            paragraph(
                "Events that are not listed run as they are. Plug in elsewhere only within the reach of a loose cable, "
                "and tape it down."
                if rows
                else ""
            ),
            table("What becomes of each event", ("Box", "Event", "It", "Plug in instead", "Nothing takes"), rows),
        )
    )


def pictures(file: ClientFile) -> Html:
    """The pictures that were chosen for the client, below their box."""
    return Html(picture_groups(file.pictures))
