"""How fast the page answers, as a ratio to a plain text widget's echo in the same browser run. No test: it only prints.

Run: .venv/bin/python tests/benchmarks/bench_live.py
"""

import json
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(TOP / "tests"), str(TOP / "lib")]

from browser import STEP, Live, live_lab  # noqa: E402

ECHO = """import ipywidgets as widgets
text, said = widgets.Text(), widgets.HTML("-")
text.add_class("echo-text"), said.add_class("echo-said")
text.observe(lambda change: setattr(said, "value", change["new"]), "value")
widgets.VBox([text, said])"""
ROUNDS = 21
WATCH = """([watched, attribute, wanted, happening]) => {
    const box = document.querySelector(watched), now = () => attribute ? box.getAttribute(attribute) : box.innerHTML;
    const before = now();
    let gone = false;
    window.answered = null;
    document.addEventListener(happening, () => { window.began = performance.now(); }, {capture: true, once: true});
    const seen = new MutationObserver(() => {
        gone ||= now() !== before;
        if (!gone || (wanted && now() !== wanted)) return;
        seen.disconnect();
        window.answered = performance.now() - window.began;
    });
    seen.observe(box, {childList: true, subtree: true, characterData: true, attributes: true});
}"""
PLAN, ITEMS, BOX = ".sf-plan", ".sf-open-items", f"{STEP}[role=button][aria-label*='FB-A8']"
MARK = """step => {  // the outline round the box under the hand
    const id = document.querySelector(step + "[role=button][aria-label*='FB-A8']").dataset.id;
    const at = document.querySelector(step + `[data-id="${id}"]`).getAttribute("transform").match(/[-0-9.]+/g)[0];
    [...document.querySelectorAll(step + "circle.sf-reach")].find(
        one => Math.abs(one.getAttribute("cx") - at) < 1).classList.add("timed");
}"""


def notebook() -> dict[str, object]:
    cell = {"cell_type": "code", "id": "echo", "metadata": {}, "outputs": [], "execution_count": None, "source": ECHO}
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    return {"cells": [cell], "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}


def timed(live: Live, act: Callable[[], None], happening: str, watched: str, attribute: str = "", wanted: str = "",
          ) -> float:
    """Milliseconds from what the hand does to a change in what is watched, or until its attribute is again as wanted."""
    live.page.evaluate(WATCH, [STEP + watched, attribute, wanted, happening])
    act()
    live.page.wait_for_function("window.answered !== null", timeout=10_000)
    answered = float(live.page.evaluate("window.answered"))
    live.page.wait_for_timeout(400)  # let everything settle: each round starts from rest
    return answered


def typed(live: Live) -> list[float]:
    """A letter typed into a plain text field, to its echo."""
    live.page.click(f"{STEP}.echo-text input")
    keyboard = live.page.keyboard
    return [timed(live, lambda n=n: keyboard.press("abcdefghij"[n % 10]), "keydown", ".echo-said")
            for n in range(ROUNDS)]


def pressed(live: Live) -> list[float]:
    """An arrow key on a floor box, to a change in the open items; the box goes to and fro."""
    live.page.locator(BOX).first.focus()
    keyboard = live.page.keyboard
    return [timed(live, lambda n=n: keyboard.press("ArrowLeft" if n % 2 == 0 else "ArrowRight"), "keydown", ITEMS)
            for n in range(ROUNDS)]


class Hand:
    """The mouse on a floor box."""

    def __init__(self, live: Live, side: int = 1) -> None:
        self.side, self.mouse = side, live.page.mouse
        box = live.page.locator(f"{BOX} .sf-body").first.bounding_box()
        assert box is not None
        self.x, self.y, self.far = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, 0
        self.mouse.move(self.x, self.y)

    def pull(self) -> None:
        """Away and half way back, farther than a press is held for a click."""
        self.far = self.side * (8 if self.far != self.side * 8 else 20)
        self.mouse.move(self.x + self.far, self.y)

    def pull_and_drop(self) -> None:
        self.pull()
        self.mouse.up()


def dragged(live: Live) -> tuple[list[float], list[float], list[float]]:
    """A box under the hand: to its reach outline, to the open items; and from the drop until it is saved."""
    hand, marks = Hand(live), "circle.sf-reach.timed"
    hand.mouse.down()
    hand.pull()
    live.page.wait_for_timeout(400)
    live.page.evaluate(MARK, STEP)
    outline = [timed(live, hand.pull, "pointermove", marks, "cx") for _ in range(ROUNDS)]
    items = [timed(live, hand.pull, "pointermove", ITEMS) for _ in range(ROUNDS)]
    hand.mouse.up()
    live.page.wait_for_timeout(400)
    saved = []
    for n in range(ROUNDS):
        hand = Hand(live, 1 if n % 2 else -1)
        hand.mouse.down()
        hand.pull()
        saved.append(timed(live, hand.pull_and_drop, "pointerup", PLAN, "data-state", "saved"))
    return outline, items, saved


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        job, workbook = folder / "job", folder / "workbook"
        job.mkdir()
        shutil.copy(TOP / "demo_projects" / "quillhaven_playhouse" / "job.json", job)
        workbook.mkdir()
        shutil.copy(TOP / "workbook" / "boxes.ipynb", workbook)
        (workbook / "closeout.ipynb").write_text(json.dumps(notebook()), encoding="utf-8")
        with live_lab(job, step="boxes", workbook=workbook) as live:
            live.go_to("closeout")
            echo = typed(live)
            live.go_to("boxes")
            keys = pressed(live)
            outline, items, saved = dragged(live)
            live.go_to("closeout")
            echo += typed(live)
    base = statistics.median(echo)
    print(f"plain text field's echo: median {base:.0f} ms of {len(echo)}")
    for what, times in (("box moved by an arrow key, open items follow", keys),
                        ("box dragged, its reach outline follows", outline), ("box dragged, open items follow", items),
                        ("box dropped, until it is saved", saved)):
        print(f"{what}: median {statistics.median(times):.0f} ms of {len(times)}, worst {max(times):.0f} ms, "
              f"ratio {statistics.median(times) / base:.2f}")


if __name__ == "__main__":
    main()
