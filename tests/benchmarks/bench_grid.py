"""How fast an entry in the grid is answered, as a ratio to a plain text widget's echo in the same browser run.

It only prints.

From the Enter key to the row that Python answered with: on the theatre, and on the same job with 1,000 points.

Run: .venv/bin/python tests/benchmarks/bench_grid.py
"""

import json
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(TOP / "tests"), str(TOP / "tests" / "benchmarks"), str(TOP / "lib")]

from bench_live import notebook, typed  # noqa: E402
from browser import STEP, Live, live_lab  # noqa: E402

from stagefloor.job import store  # noqa: E402
from stagefloor.job.edit import add  # noqa: E402
from stagefloor.job.inventory import Point  # noqa: E402

ROUNDS = 15
REST = 150  # milliseconds between the last letter and Enter, as between two keys of a hand; the echo starts from rest too
ROWS = 1000
WATCH = """row => {
    const grid = document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .sf-points .sf-grid');
    const cell = grid.querySelector(`[data-id='${row}'] [data-key='what']`);
    window.answered = null;
    document.addEventListener("keydown", (e) => {
        if (e.key !== "Enter") return;
        const pressed = performance.now(), text = cell.querySelector("input").value;
        const seen = new MutationObserver(() => {  // the text stands in its cell, closed, and is told as saved
            if (cell.querySelector("input") || !cell.textContent.includes(text) || grid.dataset.state !== "saved") return;
            seen.disconnect();
            window.answered = performance.now() - pressed;
        });
        seen.observe(grid, {attributes: true, childList: true, subtree: true});
    }, {capture: true, once: true});
}"""


def entered(live: Live, row: str) -> list[float]:
    """Milliseconds from Enter to the answer of Python, for a text typed into the description of a point."""
    found = []
    for number in range(ROUNDS):
        live.page.locator(f"{STEP}.sf-points [data-id='{row}'] [data-key='what']").focus()
        live.page.keyboard.type(f"place {number}")
        live.page.wait_for_timeout(REST)
        live.page.evaluate(WATCH, row)
        live.page.keyboard.press("Enter")
        live.page.wait_for_function("window.answered !== null", timeout=20_000)
        found.append(float(live.page.evaluate("window.answered")))
        live.page.wait_for_timeout(500)
    return found


def measured(folder: Path, rows: int) -> tuple[float, float]:
    """Median milliseconds of the echo and of an entry, on the theatre with points added up to `rows`."""
    job, workbook = folder / f"job{rows}", folder / f"workbook{rows}"
    job.mkdir()
    workbook.mkdir()
    shutil.copy(TOP / "demo_projects" / "quillhaven_playhouse" / "job.json", job)
    if rows:
        have = len(store.read(job).job.all(Point))
        extra = [{"label": f"X{n}", "what": "rehearsal", "x": f"{n % 40 - 20} ft", "y": f"{n % 25} ft"}
                 for n in range(rows - have)]
        store.transact(job, lambda j: add(j, "point", extra)[0], "rows")
    shutil.copy(TOP / "workbook" / "inventory.ipynb", workbook)
    (workbook / "closeout.ipynb").write_text(json.dumps(notebook()), encoding="utf-8")
    first = store.read(job).job.all(Point)[0].id
    with live_lab(job, step="inventory", workbook=workbook) as live:
        live.go_to("closeout")
        echo = typed(live)
        live.go_to("inventory")
        live.page.wait_for_timeout(1000)
        entry = entered(live, first)
    return statistics.median(echo), statistics.median(entry)


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        for rows in (0, ROWS):
            echo, entry = measured(Path(name), rows)
            print(f"{'1,000 points' if rows else 'the theatre'}: plain text field's echo {echo:.0f} ms, entry in the grid "
                  f"{entry:.0f} ms (medians of {ROUNDS}), ratio {entry / echo:.2f}", flush=True)


if __name__ == "__main__":
    main()
