"""How long a document set takes, against the same number of empty pages that import pandas and plotly.

Both sides run here one after the other, each in a process of its own, and are measured from start to end with public
tools only: the baseline is nbclient and nbconvert as they come, one process for all its pages, pages without content.
A second, harder baseline keeps out the same slow optional package that our side keeps out.
The aim is a ratio of at most 2 for the second set (the first also fills caches).
Run: python tests/benchmarks/bench_package.py [JOB ...]; without a job the invented sample is made.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
TIMES = 3
BASELINE = """
import sys
from pathlib import Path
import nbformat
from nbclient import NotebookClient
from nbconvert import HTMLExporter
from jupyter_client.manager import start_new_kernel

pages = int(sys.argv[1])
folder = Path(sys.argv[2])
manager, channels = start_new_kernel(kernel_name="python3")
channels.stop_channels()
exporter = HTMLExporter(template_name="basic")
for number in range(pages):
    cell = nbformat.v4.new_code_cell("import pandas, plotly.graph_objects")
    book = nbformat.v4.new_notebook(cells=[cell])
    NotebookClient(book, km=manager).execute()
    body, _ = exporter.from_notebook_node(book)
    (folder / f"{number}.html").write_text(body)
manager.shutdown_kernel(now=True)
"""
WITHOUT = 'import sys; sys.modules["rfc3987_syntax"] = None\n'
LEAN = WITHOUT + BASELINE.replace('cell("', f'cell({WITHOUT!r} + "')
SAMPLE = """
import sys
sys.path[:0] = sys.argv[3:5]
from package.sample import sample
from stagefloor.package import build_from_file
print(len(build_from_file(sample(), sys.argv[2] + "/set").pages))
"""


def seconds(*command: str) -> float:
    """Wall time of one process, in seconds, with its own output folder as second argument."""
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        subprocess.run([c.replace("{folder}", folder) for c in command], check=True, capture_output=True,
                       env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(TOP / "lib"), "HOME": folder})
        return time.perf_counter() - start


def main(jobs: list[str]) -> None:
    pages = len(list((TOP / "workbook" / "pages" / "client").glob("*.ipynb")))
    bare = {"empty pages": (sys.executable, "-c", BASELINE, str(pages), "{folder}"),
            "empty pages, lean": (sys.executable, "-c", LEAN, str(pages), "{folder}")}
    sets = {Path(job).name: (sys.executable, "-m", "stagefloor", "package", job, "--out", "{folder}/set")
            for job in jobs}
    if not jobs:
        sets = {"sample": (sys.executable, "-c", SAMPLE, "-", "{folder}", str(TOP / "lib"), str(TOP / "tests"))}
    runs: dict[str, list[float]] = {}
    for _ in range(TIMES + 1):  # in turn, so that a busy machine slows both sides; the first round warms caches
        for name, command in {**bare, **sets}.items():
            runs.setdefault(name, []).append(seconds(*command))
    middle = {name: statistics.median(times[1:]) for name, times in runs.items()}
    for name, times in runs.items():
        ratios = " and ".join(f"{middle[name] / middle[other]:.2f}" for other in bare)
        print(f"{name}: {pages} pages, median {middle[name]:.2f} s of {[round(t, 2) for t in times[1:]]}, "
              f"first {times[0]:.2f} s, ratios {ratios}")


if __name__ == "__main__":
    main(sys.argv[1:])
