"""The closeout part of the client's pages: state, tests, lines, as built, cards for the users. Formats; computes nothing."""

from stagefloor.drawings.plan import plan
from stagefloor.drawings.svg import clean, render, swatch
from stagefloor.readers.client.pages import working_block
from stagefloor.readers.client.record import BoxCard, ClientFile
from stagefloor.readers.html import Html, bullets, facts, first_few, folded, frame, paragraph, section, table

LONG_RECORD = 30  # rows of a record that are shown unfolded
BUILT_LEGEND = (
    ("floor box", "floor box, as built"),
    ("wall panel", "wall panel, as built"),
    ("planned box", "where it was planned"),
    ("raceway", "raceway"),
    ("keep clear", "keep-clear zone"),
)
USE = (
    "Plug in with the lid open, lead the cords out on the side away from the hinge, then close the lid.",
    "Push a plug in until it latches; press its latch before you pull. Never pull at the cord.",
    "Say which label you plugged into: it is the same at the other end.",
    "A crackle when a plug is moved is a defect: report the label, use the next one.",
)


def state(file: ClientFile) -> Html:
    """What is there and what is missing, from whom."""
    c = file.closeout
    if not c.begun:
        return Html("")
    parts = table(
        "What the handover needs, and how much of it is there",
        ("Part", "There"),
        [(p.name, p.there) for p in c.parts],
    )
    owed = "".join(f"<h3>{clean(o.who[:1].upper() + o.who[1:])}</h3>" + first_few(o.what, "open") for o in c.owed)
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
    """What does not fit, then every line with its way, length and tests."""
    rows = [(x.line, x.kind, x.start, x.end, x.cable, x.length, x.way, x.tests) for x in file.tests.lines]
    heads = ("Line", "Kind", "From", "To", "Cable", "Length", "Way", "Tests that fit")
    shown = table("Line list", heads, rows)
    return Html(
        section("What does not fit its line", bullets(file.tests.not_fitting, "open"))
        + section("Every line", folded(f"Line list, {len(rows)} lines", shown) if len(rows) > LONG_RECORD else shown)
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
        "floor box": any(b.surface == "floor" for b in scene.boxes),
        "wall panel": any(b.surface == "wall" for b in scene.boxes),
        "planned box": any(b.planned for b in scene.boxes),
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
    rows = [
        (
            x.date or "no date",
            x.subject,
            x.what,
            x.planned,
            x.built,
            "; ".join(w for w in (x.note, f"photo {x.photo}" if x.photo else "") if w),
        )
        for x in c.changes
    ]
    return Html(
        section(
            "Change log",
            table("Planned and built", ("Date", "Subject", "What", "Planned", "Built", "Why"), rows),
            "" if rows else paragraph("Nothing was built otherwise than planned, by the records." if c.begun else ""),
        )
        + section("The fit, looked at again at the places as built", bullets(c.fit_again, "open"))
    )


def user_cards(file: ClientFile) -> Html:
    """A card a box for the people who plug in: what is in it, how it is used, whom to call."""
    return Html("".join(_user_card(file, card) for card in file.boxes))


def _user_card(file: ClientFile, card: BoxCard) -> str:
    rows = [(o.place, o.label, o.kind, o.connector) for o in card.openings if o.use == "in use"]
    spare = sum(o.use == "spare" for o in card.openings)
    mains = any(o.kind == "mains" for o in card.openings)
    notes = [
        *USE,
        *(
            (
                "Mains outlets: only for equipment of the house or tested equipment; if a device trips, leave it off and "
                "call.",
            )
            if mains
            else ()
        ),
    ]
    return (
        f'<article class="card"><h2>{clean(card.title)}</h2>'
        + facts((("Where", card.position), ("Serves", card.serves), ("Spare openings", str(spare) if spare else "")))
        + table("What is in it", ("Place", "Label", "Kind", "Connector"), rows, "schedule")
        + bullets(notes)
        + paragraph(f"Defects: {file.title.contact}" if file.title.contact else "", "lead")
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
