"""How fast the page answers, as a ratio to a plain text widget's echo in the same browser run. No test: it only prints.

Run: .venv/bin/python tests/benchmarks/bench_live.py
"""

import json
import shutil
import statistics
import sys
import tempfile
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
WATCH = """watched => {
    const box = document.querySelector(watched), before = box.innerHTML;
    window.answered = null;
    document.addEventListener("keydown", () => { window.pressed = performance.now(); }, {capture: true, once: true});
    const seen = new MutationObserver(() => {
        if (box.innerHTML !== before) { seen.disconnect(); window.answered = performance.now() - window.pressed; }
    });
    seen.observe(box, {childList: true, subtree: true, characterData: true, attributes: true});
}"""


def notebook() -> dict[str, object]:
    cell = {"cell_type": "code", "id": "echo", "metadata": {}, "outputs": [], "execution_count": None, "source": ECHO}
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    return {"cells": [cell], "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}


def timed(live: Live, watched: str, key: str) -> float:
    """Milliseconds from a key pressed to a change in what is watched."""
    live.page.evaluate(WATCH, STEP + watched)
    live.page.keyboard.press(key)
    live.page.wait_for_function("window.answered !== null", timeout=10_000)
    answered = float(live.page.evaluate("window.answered"))
    live.page.wait_for_timeout(400)  # let everything settle: each round starts from rest
    return answered


def typed(live: Live) -> list[float]:
    """A letter typed into a plain text field, to its echo."""
    live.page.click(f"{STEP}.echo-text input")
    return [timed(live, ".echo-said", "abcdefghij"[n % 10]) for n in range(ROUNDS)]


def moved(live: Live, watched: str) -> list[float]:
    """An arrow key on floor box FB-A8, to a change in what is watched; the box goes to and fro."""
    live.page.locator(f"{STEP}[role=button][aria-label*='FB-A8']").first.focus()
    return [timed(live, watched, "ArrowLeft" if n % 2 == 0 else "ArrowRight") for n in range(ROUNDS)]


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
            items = moved(live, ".sf-open-items")
            live.go_to("closeout")
            echo += typed(live)
    base, follow = statistics.median(echo), statistics.median(items)
    print(f"plain text field's echo: median {base:.0f} ms of {len(echo)}")
    print(f"box moved, open items follow: median {follow:.0f} ms of {len(items)}, ratio {follow / base:.2f}")


if __name__ == "__main__":
    main()
