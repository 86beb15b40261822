"""Real keys and presses on a page, counted in steps, so that two states of the workbook can be held side by side.

A step is one thing that a hand does: one key or chord (Tab, Ctrl+V), one press or tap, one drag, one turn of the wheel,
one choice in an open list, or one text typed into a cell, however long. Waiting and looking are no steps.
"""

from playwright.sync_api import Locator, Page


class Hands:
    """A user's hands on one page; `steps` counts what they did, `letters` the letters typed besides."""

    def __init__(self, page: Page) -> None:
        self.page, self.steps, self.letters = page, 0, 0

    def keys(self, *names: str) -> None:
        """Press keys or chords by their names, one step each."""
        for name in names:
            self.page.keyboard.press(name)
        self.steps += len(names)

    def type(self, text: str) -> None:
        """Type one text into the cell or field that has the focus: one step."""
        self.page.keyboard.type(text)
        self.steps += 1
        self.letters += len(text)

    def cell(self, text: str, leave: str = "Tab") -> None:
        """Type one text and leave the cell by a key: two steps; an empty text is only left."""
        if text:
            self.type(text)
        self.keys(leave)

    def press(self, where: Locator) -> None:
        """Press something that is on the page: one step."""
        where.click()
        self.steps += 1

    def choose(self, where: Locator, label: str) -> None:
        """Open a list and choose in it: two steps."""
        where.select_option(label=label)
        self.steps += 2

    def drag(self, start: tuple[float, float], right: float, down: float) -> None:
        """Drag by so many pixels: one step."""
        mouse = self.page.mouse
        mouse.move(*start)
        mouse.down()
        for part in range(1, 9):
            mouse.move(start[0] + right * part / 8, start[1] + down * part / 8)
            self.page.wait_for_timeout(25)
        mouse.up()
        self.steps += 1
