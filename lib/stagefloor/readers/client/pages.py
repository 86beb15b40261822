"""The client's pages, piece by piece, from the client's file. Formats; computes nothing; knows no cost and no hour."""

import os
from pathlib import Path

from stagefloor.core.units import length_text, number_text
from stagefloor.drawings.face import face
from stagefloor.drawings.plan import plan
from stagefloor.drawings.scene import EventReplay, StageScene
from stagefloor.drawings.shapes import Drawing
from stagefloor.drawings.svg import clean, render, swatch
from stagefloor.readers.client.record import BoxCard, ClientFile, ShownValue, ShownWorking
from stagefloor.readers.html import Html, bullets, chooser, facts, first_few, frame, paragraph, section, table

PAGE_FILE = "STAGEFLOOR_PAGE_FILE"
LEGEND = (("floor box", "floor box"), ("wall panel", "wall panel"), ("riser panel", "panel in a riser face"),
          ("point", "connection point, in use"), ("idle point", "connection point, not in use"),
          ("cable", "loose cable on the floor"), ("keep clear", "keep-clear zone"), ("raceway", "raceway"),
          ("rack", "rack or mains panel"))


def open_file(path: Path | None = None) -> ClientFile:
    """The client's file at `path`, or the one that the pages are made for."""
    return ClientFile.model_validate_json((path or Path(os.environ[PAGE_FILE])).read_bytes())


def cover(file: ClientFile) -> Html:
    """The title block."""
    t = file.title
    issue = ", ".join(w for w in (t.revision, t.date) if w)
    return Html(f'<div class="cover"><p class="venue">{clean(t.venue)}</p>' + facts(
        (("For", t.client), ("From", t.shop), ("Contact", t.contact), ("Revision", issue),
         ("Offer valid for", t.validity)))
        + "</div>")


def summary(file: ClientFile) -> Html:
    """What the document set says, on one screen: boxes, events, what is open, price."""
    kinds = [b.title for b in file.boxes]
    offer = file.price
    price = "\n".join(w for w in (offer.total, offer.tax, offer.note) if w) if offer and offer.total else ""
    lines = facts((("Boxes and panels", f"{len(kinds)}: {', '.join(kinds)}" if kinds else "none yet"),
                   ("Kinds of event", ", ".join(e.label for e in file.told_us.events)),
                   ("Price", price), ("Line tests", file.tests.summary)))
    return Html(section("In short", lines) + section("Not served", first_few(file.not_served, "open"))
                + section("Still to be proved", first_few(file.to_be_proved, "open")))


def revisions(file: ClientFile) -> Html:
    """The issues of this document set."""
    return Html(section("Revisions", table("Issues of this document set", ("Revision", "Date", "What changed"),
                                           [(r.label, r.date, r.words) for r in file.title.revisions])))


def remarks(file: ClientFile) -> Html:
    """Words meant for the client."""
    return Html(section("Remarks", facts((r.about or "Remark", r.words) for r in file.remarks)))


def told_us(file: ClientFile) -> Html:
    """The events and connection points that the design rests on."""
    told = file.told_us
    return Html(
        section("Events", table("Kinds of event, and how often", ("Event", "How often"),
                                [(e.label, e.per_year) for e in told.events]))
        + section("Connection points", table("Where something plugs in",
                                             ("Point", "What stands there", "Events", "Connections"),
                                             [(p.label, p.what, p.events, p.counts) for p in told.points])))


def served(file: ClientFile) -> Html:
    """Which event is served by which boxes, and what is not served."""
    none = paragraph("Every connection that you told us of is served.") if file.served and not file.not_served else ""
    return Html(
        section("What serves each event", table("Events and boxes", ("Event", "Boxes and panels", "How"),
                                                [(s.event, ", ".join(s.boxes), s.sentence) for s in file.served]))
        + section("Not served", bullets(file.not_served, "open"), none))


def stage_plan(file: ClientFile) -> Html:
    """The stage plan, whole and replayed event by event, without a script."""
    scene = file.scene
    whole = _plan_panel(scene, None, 0)
    if not whole:
        return Html(section("Stage plan", paragraph("There is no plan yet: the stage has no sizes and no boxes.")))
    panels = [("All events", whole)]
    panels += [(e.event, _plan_panel(scene, e, n)) for n, e in enumerate(scene.replay, 1)]
    return Html(section("The plan, event by event", chooser("event", panels)) + _legend(scene))


def _plan_panel(scene: StageScene, event: EventReplay | None, number: int) -> str:
    drawing = plan(scene, event)
    if drawing is None:
        return ""
    shown = (frame(drawing.title, render(drawing, f"plan{number}"), "plan")
             + paragraph("Slide the drawing sideways to see all of it.", "hint"))
    if event is None:
        return shown
    rows = [(c.point, c.kinds, c.box, length_text(c.metres, scene.display)) for c in event.connections]
    return (paragraph(event.per_year, "often") + shown
            + table("What is connected where", ("Point", "Connections", "Box or panel", "Loose cable"), rows)
            + _named_list("Not served in this event", event.unserved))


def _legend(scene: StageScene) -> str:
    there = {"keep clear": bool(scene.zones), "raceway": bool(scene.raceways),
             "rack": bool(scene.rack or scene.panel),
             "cable": any(e.connections for e in scene.replay), "idle point": bool(scene.replay and scene.points),
             "point": bool(scene.points), "floor box": any(b.surface == "floor" for b in scene.boxes),
             "wall panel": any(b.surface == "wall" for b in scene.boxes),
             "riser panel": any(b.surface == "riser face" for b in scene.boxes)}
    items = "".join(f"<li>{swatch(role, f'key{n}')}<span>{clean(words)}</span></li>"
                    for n, (role, words) in enumerate(LEGEND) if there[role])
    origin = paragraph(f"Measures start from: {scene.origin}." if scene.origin else "")
    return section("Legend", f'<ul class="legend">{items}</ul>' if items else "", origin)


def box_cards(file: ClientFile) -> Html:
    """Each box on a card: where, which model, its face to scale, its opening schedule."""
    if not file.boxes:
        return Html(paragraph("No box or panel is planned yet."))
    faces = [face(card.face) if card.face else None for card in file.boxes]
    widest = max((drawing.width for drawing in faces if drawing), default=1.0)
    return Html("".join(_card(card, drawing, widest, number)
                        for number, (card, drawing) in enumerate(zip(file.boxes, faces, strict=True))))


def _card(card: BoxCard, drawing: Drawing | None, widest: float, number: int) -> str:
    """A card. Every face takes its share of the widest one's room, so that all stay to one scale on any screen."""
    shown = ""
    if drawing:
        share = f'<div style="width:{100 * drawing.width / widest:.2f}%;max-width:{drawing.width:.0f}px">'
        shown = frame(drawing.title, f"{share}{render(drawing, f'face{number}')}</div>", "face")
    schedule = table("Opening schedule", ("Place", "Kind", "Connector", "Label", "Use"),
                     [(o.place, o.kind, o.connector, o.label, o.use) for o in card.openings], "schedule")
    about = facts((("Where", card.position), ("Model", card.model), ("Size", card.size), ("Serves", card.serves),
                   ("Note", card.remark_for_client)))
    return (f'<article class="card"><h2>{clean(card.title)}</h2><div class="pair">{about}{shown}</div>'
            f"{schedule}</article>")


def old_outlets(file: ClientFile) -> Html:
    """What happens to the outlets that are there now."""
    return Html(section("Before and after", table(
        "Outlets that are there now", ("Old outlet", "What happens to it", "Gathered into"),
        [(o.outlet, o.what_happens, o.into) for o in file.before_after])))


def scope(file: ClientFile) -> Html:
    """Who furnishes, installs, terminates and tests what."""
    heads = ("Item", "Trade", "Quantity", "Furnished by", "Installed by", "Terminated by", "Tested by")
    rows = [(s.item, s.trade, s.quantity, s.furnished_by, s.installed_by, s.terminated_by, s.tested_by)
            for s in file.scope]
    return Html(section("Who does what", table("Scope by trade", heads, rows)))


def assumptions(file: ClientFile) -> Html:
    """What was assumed, and what must still be proved on site or by the engineer."""
    return Html(section("Assumed", bullets(file.assumptions))
                + section("To be proved", bullets(file.to_be_proved, "open")))


def price(file: ClientFile) -> Html:
    """The price, or the plain statement that there is none in this issue."""
    offer = file.price
    terms = section("Terms", facts((t.about[:1].upper() + t.about[1:], t.words) for t in file.terms))
    if offer is None:
        return Html(section("Price", paragraph("This issue carries no price.")) + terms)
    rows = [(r.section, r.amount) for r in offer.rows] + ([("Total", offer.total)] if offer.total else [])
    head = f"Amount ({offer.currency})" if offer.currency else "Amount"
    style = "money total" if offer.total else "money"
    return Html(section("Price", table("Price by section", ("Section", head), rows, style),
                        paragraph(offer.tax), paragraph(offer.note),
                        paragraph(f"The offer is valid for: {file.title.validity}" if file.title.validity else ""))
                + terms)


def _named_list(name: str, sentences: tuple[str, ...]) -> str:
    """A named list inside a section, or nothing."""
    return paragraph(f"{name}:", "lead") + first_few(sentences, "open") if sentences else ""


def as_built(file: ClientFile) -> Html:
    """Where each box was planned and where it is."""
    return Html(section("As built", table(
        "Where each box was planned and where it is",
        ("Box or panel", "Planned", "Built", "Difference", "Otherwise", "Photo"),
        [(a.box, a.planned, a.built, a.difference, a.otherwise, a.photo) for a in file.as_built])))


def handover(file: ClientFile) -> Html:
    """The papers due, and the punch list."""
    return Html(
        section("Papers at handover", table("Papers and who owes them", ("Paper", "Owed by", "State"),
                                            [(d.label, d.owed_by, d.state) for d in file.documents]))
        + section("Punch list", table("Open defects", ("Defect", "Owner", "Due"),
                                      [(p.label, p.owner, p.due) for p in file.punch])))


def care(file: ClientFile) -> Html:
    """Care of the lids, cautions, warranty."""
    return Html(section("Care", bullets(file.care)) + section("Cautions", bullets(file.cautions, "caution"))
                + section("Warranty", paragraph(file.warranty)))


def workings(file: ClientFile) -> Html:
    """How the numbers on these pages were found, folded."""
    return Html(section("How the numbers were found", "".join(working_block(w) for w in file.workings if not w.topic)))


def _value(value: ShownValue) -> str:
    return f"{number_text(value.amount, value.digits)} {value.unit}".strip()


def working_block(working: ShownWorking) -> str:
    """One calculation with its working, folded."""
    inputs = "".join(f"<li><i>{clean(v.symbol)}</i> = {clean(_value(v))} <small>{clean(v.name)}</small></li>"
                     for v in working.inputs)
    words = "at most" if working.sense != ">=" else "at least"
    limit = paragraph(f"Limit: {words} {_value(working.limit)}.") if working.limit else ""
    also = "".join(paragraph(f"{v.name}: {_value(v)}") for v in working.also)
    basis = "; ".join(b.text + (f" ({b.status})" if b.status else "") for b in working.basis)
    return (f'<details class="working"><summary>{clean(working.name)}: <b>{clean(_value(working.result))}</b></summary>'
            f'<p class="formula">{clean(working.formula)}</p>' + (f"<ul>{inputs}</ul>" if inputs else "") + limit + also
            + "".join(paragraph(n) for n in working.notes) + paragraph(f"Basis: {basis}" if basis else "", "basis")
            + "</details>")
