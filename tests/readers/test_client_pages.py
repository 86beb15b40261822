"""The client's pages: everything typed stays text, empty files work, the words are the trade's."""

import re
from html.parser import HTMLParser

import pytest
from package.sample import sample
from pydantic import BaseModel

from stagefloor.readers import client
from stagefloor.readers.client.record import ClientFile, Price, PriceRow, Title
from stagefloor.readers.html import chooser, table

PIECES = sorted(set(client.__all__) - {"ClientFile", "open_file"})
NASTY = "</td><script>alert(1)</script><img src=x onerror=y>\"'&\0"


class Tags(HTMLParser):
    """Collects tags, checks that they close in order."""

    VOID = ("input", "br", "meta", "img")

    def __init__(self, text):
        super().__init__()
        self.open, self.seen, self.attributes = [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        self.attributes += attrs
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def spoiled(value):
    """The same data with every text that is free to be typed replaced by something nasty."""
    if isinstance(value, BaseModel):
        changed = {}
        for name in type(value).model_fields:
            old = getattr(value, name)
            fixed = name in ("display", "surface", "use", "result", "state", "sense", "event", "events", "point")
            changed[name] = old if fixed and isinstance(old, str | tuple) else spoiled(old)
        return value.model_copy(update=changed)
    if isinstance(value, tuple):
        return tuple(spoiled(v) for v in value)
    return NASTY if isinstance(value, str) else value


@pytest.mark.parametrize("piece", PIECES)
def test_well_formed_and_what_is_typed_stays_text(piece):
    plain = Tags(getattr(client, piece)(sample())._repr_html_())
    hostile = Tags(getattr(client, piece)(spoiled(sample()))._repr_html_())
    assert plain.seen, "the sample shows something on every piece"
    assert set(hostile.seen) <= set(plain.seen) | {"p", "div"}
    assert "script" not in hostile.seen and hostile.seen.count("img") == plain.seen.count("img")
    assert not [name for name, _ in hostile.attributes if name.startswith("on")]


@pytest.mark.parametrize("piece", PIECES)
def test_an_almost_empty_file_is_no_fault(piece):
    Tags(getattr(client, piece)(ClientFile(title=Title(venue="Hall")))._repr_html_())


def test_what_is_missing_is_said():
    empty = ClientFile(title=Title(venue="Hall"))
    assert "There is no plan yet" in client.stage_plan(empty)._repr_html_()
    assert "No line is tested yet" in client.tests(empty)._repr_html_()
    assert "This issue carries no price" in client.price(empty)._repr_html_()
    assert "No box or panel is planned yet" in client.box_cards(empty)._repr_html_()
    assert "is served" not in client.served(empty)._repr_html_(), "nothing told is not everything served"


def test_not_served_is_said_openly():
    page = client.served(sample())._repr_html_()
    assert "the foot microphones need 4 lines and 3 are in reach" in page
    assert "Every connection that you told us of is served" not in page
    assert "Foot microphones (A02) need 4 lines" in client.stage_plan(sample())._repr_html_()


def test_every_event_has_a_panel_and_the_first_choice_is_checked():
    page = client.stage_plan(sample())._repr_html_()
    assert page.count('type="radio"') == 7, "all events, and six"
    assert page.count(" checked") == 1
    assert page.count("<svg role") == 7


def test_ids_are_unique_on_each_piece():
    for piece in PIECES:
        ids = re.findall(r'\bid="([^"]+)"', getattr(client, piece)(sample())._repr_html_())
        assert len(ids) == len(set(ids)), piece


def test_a_price_without_total_gets_no_total_line():
    file = sample().model_copy(update={"price": Price(rows=(PriceRow(section="Boxes", amount="1 USD"),))})
    page = client.price(file)._repr_html_()
    assert "Total" not in page
    assert 'class="money"' in page


def test_forbidden_words_are_on_no_page():
    words = re.compile(r"\b(approved|safe|certified|guaranteed|compliant|verdict|notebook|kernel)\b", re.IGNORECASE)
    for piece in PIECES:
        assert not words.search(getattr(client, piece)(sample())._repr_html_()), piece


def test_a_table_leaves_out_an_empty_column_and_an_empty_table():
    assert table("c", ("A", "B"), []) == ""
    assert "columnheader\">B" not in table("c", ("A", "B"), [("1", "")])
    assert 'class="long"' in table("c", ("A",), [("x" * 300,)])
    assert chooser("event", []) == ""


def test_lengths_are_in_the_clients_units():
    """3 ft = 0.9144 m by definition; the sample's A03 lies 2' 6" + 1' from its box."""
    assert "3&#x27; 6&quot;" in client.stage_plan(sample())._repr_html_()


def test_all_faces_are_to_one_scale():
    """Cutouts of 8, 12 and 16 in keep 2 to 3 to 4 on the page: a face's room times the cutout's part of its drawing."""
    inches = (12, 8, 16, 12, 8)
    file = sample()
    cards = tuple(c.model_copy(update={"face": c.face.model_copy(update={"along": n * 0.0254})})
                  for c, n in zip(file.boxes, inches, strict=True))
    page = client.box_cards(file.model_copy(update={"boxes": cards}))._repr_html_()
    faces = re.findall(r'width:([\d.]+)%;max-width:(\d+)px"><svg[^>]* viewBox="0 0 ([\d.]+) .*?</svg>', page, re.DOTALL)
    cutouts = re.findall(r'<polygon points="([^"]+)"[^>]*><title>cutout</title>', page)
    assert len(faces) == len(cutouts) == 5
    for width in (0, 1):  # on a screen, in per cent of the room; on paper, in pixels
        drawn = []
        for face, corners in zip(faces, cutouts, strict=True):
            across = [float(corner.split(",")[0]) for corner in corners.split()]
            drawn.append(float(face[width]) * (max(across) - min(across)) / float(face[2]))
        assert [d / drawn[0] for d in drawn] == pytest.approx([n / inches[0] for n in inches], rel=2e-3)
    assert max(float(percent) for percent, _, _ in faces) == 100.0


def test_a_long_list_shows_its_first_five_and_folds_the_rest():
    many = tuple(f"Question {n}" for n in range(1, 9))
    page = client.summary(sample().model_copy(update={"to_be_proved": many, "not_served": ()}))._repr_html_()
    assert "<summary>3 more</summary>" in page
    assert page.index("Question 5") < page.index("<details") < page.index("Question 6")


def test_the_test_record_is_folded_box_by_box():
    page = client.tests(sample())._repr_html_()
    assert "<summary>Test record of FB-A1 1.1, readings: 1</summary>" in page
    assert page.index("3 of 4 lines are tested") < page.index("<details")

