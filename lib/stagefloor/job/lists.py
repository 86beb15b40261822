"""What the lists of buyer and crew are made from: reels and leftovers, the label plan, the sheets labels are printed on."""

from typing import ClassVar

from stagefloor.job.fields import Count, Flag, Money, Ref, Size, Text, choice, count, flag, length, money, ref, text
from stagefloor.job.inventory import KINDS
from stagefloor.job.record import Record

SOLD, IN_SHOP = "sold", "in the shop"
# Words for colours: those of IEC 60757, in full. A label carries the word, so that the colour alone says nothing.
COLOURS = ("", "black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white", "pink", "turquoise")


class Reel(Record):
    """A length of one cable type: a reel that can be bought, or one that is in the shop, begun or full."""

    kind: ClassVar[str] = "reel"
    noun: ClassVar[str] = "reel"
    step: ClassVar[str] = "cables"

    label: Text = text("Mark on the reel", "for a leftover, so that the crew finds it")
    type: Ref = ref("Cable type", "cabletype")
    what: Text = choice("It is", (SOLD, IN_SHOP), SOLD,
                        "sold: as many as are needed; in the shop: a leftover or a full reel")
    length: Size = length("Length", "of a leftover: measured, not guessed; of a ready-made assembly: the length sold")
    count: Count = count("How many", "of those in the shop", 1)
    where: Text = text("Where it is")
    price: Money = money("Buying price of the reel")


class LabelRule(Record):
    """How lines of one kind are named and marked."""

    kind: ClassVar[str] = "labelrule"
    noun: ClassVar[str] = "label rule"
    step: ClassVar[str] = "cables"
    name_field: ClassVar[str] = "what"

    what: Text = choice("Kind", KINDS, "microphone")
    pattern: Text = text("Pattern", "with [box] for the end of the box's name, [n] for a number, [nnn] for three digits")
    colour: Text = choice("Colour", COLOURS, "", "of the band on the label; the word stands beside it")
    longest: Count = count("Longest label, characters", "as many as can be read at a glance", 12)


class LabelSheet(Record):
    """A sheet of labels as the maker gives it: page, rows and columns, size of a label, pitch from label to label."""

    kind: ClassVar[str] = "labelsheet"
    noun: ClassVar[str] = "label sheet"
    step: ClassVar[str] = "cables"

    label: Text = text("Sheet")
    use: Text = choice("For", ("cables", "faces"), "cables")
    page_width: Size = length("Page width", "empty: the paper of the job's country, letter in the US and A4 elsewhere",
                              fine=True)
    page_height: Size = length("Page height", "empty: as for the width", fine=True)
    rows: Count = count("Rows", default=10)
    columns: Count = count("Columns", default=4)
    width: Size = length("Label width", default="40 mm", fine=True)
    height: Size = length("Label height", default="20 mm", fine=True)
    pitch_across: Size = length("Pitch across", "from one label's left edge to the next", "45 mm", fine=True)
    pitch_down: Size = length("Pitch down", "from one label's top edge to the next", "25 mm", fine=True)
    left: Size = length("Left margin", "from the edge of the page to the first label", "15 mm", fine=True)
    top: Size = length("Top margin", default="15 mm", fine=True)
    print_height: Size = length("Part printed on", "of a wrap-around label; empty: all of it", fine=True)
    text_height: Size = length("Letter height", default="3 mm", fine=True)
    used: Count = count("Labels used up already", "on the first sheet")
    outline: Flag = flag("Print the outline of each label", "on plain paper, to cut along")
