"""Can the browser tests of entry fail? Break one ability at a time and see whether its test goes red for its own reason.

Run: python tests/break_entry.py [ABILITY ...] [--list] [--show]

The breaks stand in `breaks_of_entry.txt`. Each is made in a copy of the tree in a temporary folder, never here, and only
its test is run there; before its breaks each test runs once in the whole copy, since a test that is red anyway proves
nothing.

A test is red for its own reason if it failed while it ran (not while it was set up), and what pytest shows of the failure,
the lines of the test that failed and the words of the error, holds the text that the break expects. Red without that text
is fallout: something else gave way first. Exit status 1 if any break was not red for its own reason.

A lab takes long to start, so it stays open from break to break: the page is left, every kernel ended, the job put back, and
the page opened again, so that each break is read from its file.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

TOP = Path(__file__).parents[1]
LIBRARY = "lib/stagefloor"
LIST = "breaks_of_entry.txt"
COPIED = ("lib", "tests", "workbook", "demo_projects", "pyproject.toml", "requirements.txt")
# In the copy a lab starts the step that is asked for and no others behind it: a test that needs another starts it itself.
ONE_STEP = ("entry/lab.py", "in dict.fromkeys(paths):", "in paths[:1]:")
SERVER = ("entry/lab.py", "entry/lab.css", "entry/lab.js")  # read when the server starts: a break of it needs another lab
IN_COPY = "--in-copy"
PATIENCE = "8000"  # milliseconds for which a test waits for what it expects
QUIET = ("-qq", "--no-header", "--tb=short", "--show-capture=no", "-p", "no:cacheprovider")
OWN, FALLOUT, GREEN, RED = "red for its own reason", "red by fallout", "stayed green", "red without a break"


@dataclass
class Break:
    """One slip: `old` stands exactly once in `file` (of lib/stagefloor) and becomes `new`.

    `test` (of tests) must fail, and what pytest shows of it must hold `shows`.
    """

    ability: str
    broken: str
    file: str = ""
    old: list[str] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    test: str = ""
    shows: str = ""

    def make(self, whole: str) -> str:
        """The text of the file with the slip in it; empty if the old text is not there exactly once."""
        old, new = "\n".join(self.old), "\n".join(self.new)
        return whole.replace(old, new) if whole.count(old) == 1 else ""


def all_breaks() -> list[Break]:
    """The breaks of the list, in its order; ValueError for a line that is none of its kind."""
    found: list[Break] = []
    begun = False
    for line in (TOP / "tests" / LIST).read_text(encoding="utf-8").splitlines():
        word, _, rest = line.partition(" ")
        if not line or word == "#":
            begun = False
        elif not begun:
            found.append(Break(*line.split(": ", 1)))
            begun = True
        elif word in ("-", "+"):
            (found[-1].old if word == "-" else found[-1].new).append(rest)
        elif word in ("in", "test", "shows"):
            setattr(found[-1], "file" if word == "in" else word, rest)
        else:
            raise ValueError(f"{LIST}: what is '{line}'?")
    return found


class Breaking:
    """A part of pytest that runs each test whole, then once for each of its breaks."""

    def __init__(self, breaks: Sequence[Break], show: bool) -> None:
        self.breaks, self.show = breaks, show
        self.results: list[tuple[Break, str]] = []
        self.kept: dict[Path, Path] = {}  # a job's folder -> a copy of it as it was before the test
        self.step: dict[str, str] = {}  # a test -> the step on which it begins

    def pytest_runtest_call(self, item: Any) -> None:
        """Keep the job as it is now that everything is set up for the first time, or in another lab."""
        live, job = fixture(item, "live"), fixture(item, "job")
        if live is None or (item.nodeid in self.step and job in self.kept):
            return
        self.step[item.nodeid] = live.page.evaluate("jupyterapp.shell.currentWidget.context.path")
        if job in self.kept:
            shutil.rmtree(self.kept[job])
        self.kept[job] = Path(tempfile.mkdtemp(dir=TOP)) / "job"
        shutil.copytree(job, self.kept[job], ignore=shutil.ignore_patterns("*.lock"))

    def pytest_runtest_protocol(self, item: Any, nextitem: Any) -> bool:
        """One test: whole, then with each of its breaks."""
        mine = [b for b in self.breaks if f"tests/{b.test}" == item.nodeid]
        runs: list[Break | None] = [None, *mine]
        for number, one in enumerate(runs):
            after = runs[number + 1:number + 2]
            another = any(b is not None and b.file in SERVER for b in [one, *after])
            # a test's parent in place of the next test: what belongs to the test alone is ended
            outcome, said, seconds = self.run(item, (None if another else item.parent) if after else nextitem, one)
            if one is None and outcome != GREEN:
                for lost in mine:
                    self.tell(lost, RED, said, seconds)
                return True
            if one is not None:
                self.tell(one, outcome, said, seconds)
        return True

    def run(self, item: Any, nextitem: Any, one: Break | None) -> tuple[str, str, float]:
        """What became of it, what pytest showed, and how long it took; file, page and job are whole again afterwards."""
        from _pytest.runner import runtestprotocol

        begun, path = time.monotonic(), TOP / LIBRARY / (one.file if one else "__init__.py")
        whole = path.read_text(encoding="utf-8")
        try:
            if one:
                if not (broken := one.make(whole)):
                    return "its text is not there once", "", 0.0
                path.write_text(broken, encoding="utf-8")
            if "live" not in item.fixturenames:
                return *self.apart(item, one), time.monotonic() - begun
            if live := fixture(item, "live"):
                step = self.step.get(item.nodeid, "") or live.address.split("/")[-1].split("?")[0]
                live.page.goto(live.address.replace(live.address.split("/")[-1].split("?")[0], step))
                live.wait_ready(step.removesuffix(".ipynb"))
            item._initrequest()
            reports = runtestprotocol(item, log=False, nextitem=nextitem)
        except Exception as error:
            return FALLOUT, f"the page did not open: {error}", time.monotonic() - begun
        finally:
            path.write_text(whole, encoding="utf-8")
            if live := fixture(item, "live"):
                self.put_back(live, fixture(item, "job"))
        failed = [r for r in reports if r.failed]
        # without the picture of the whole page, in which every text may be found
        told = {r.when: r.longreprtext.split("E   Aria snapshot:")[0] for r in failed}
        own, said = one is not None and one.shows in told.get("call", ""), "\n".join(told.values())
        return OWN if own else FALLOUT if failed else GREEN, said, time.monotonic() - begun

    def apart(self, item: Any, one: Break | None) -> tuple[str, str]:
        """A test without a lab, in a process of its own: a widget reads its files when its module is read."""
        done = subprocess.run([sys.executable, "-m", "pytest", *QUIET, item.nodeid], cwd=TOP, capture_output=True, text=True)
        if not done.returncode:
            return GREEN, ""
        return OWN if one is not None and one.shows in done.stdout else FALLOUT, done.stdout

    def put_back(self, live: Any, job: Path) -> None:
        """Leave the page, end its kernels, and put the job back as it was."""
        page = live.page
        page.evaluate("sessionStorage.clear()")
        page.once("dialog", lambda asked: asked.accept())  # whether to leave edits that were never answered
        page.goto("about:blank")
        page.set_viewport_size({"width": 1440, "height": 900})
        server, token = live.address.split("/doc/")[0], parse_qs(urlsplit(live.address).query)["token"][0]
        asked = {"headers": {"Authorization": f"token {token}"}}
        for session in page.context.request.get(f"{server}/api/sessions", **asked).json():
            page.context.request.delete(f"{server}/api/sessions/{session['id']}", **asked)
        if job in self.kept:
            shutil.copytree(self.kept[job], job, dirs_exist_ok=True)
        live.complaints.clear()
        live.outside.clear()

    def tell(self, one: Break, outcome: str, said: str, seconds: float) -> None:
        self.results.append((one, outcome))
        print(f"{one.ability:<26}{outcome:<24}{seconds:4.0f} s  {one.broken}", flush=True)
        if said and (outcome != OWN or self.show):
            print(said, flush=True)


def fixture(item: Any, name: str) -> Any:
    """What a fixture of a test holds; None if the test has none of this name, or it is not made yet or gone."""
    found = item._fixtureinfo.name2fixturedefs.get(name)
    held = found[-1].cached_result if found else None
    return held[0] if held else None


def in_copy(breaks: Sequence[Break], show: bool) -> int:
    """Make the breaks in this tree, which is a copy."""
    import pytest

    breaking = Breaking(breaks, show)
    tests = list(dict.fromkeys(f"tests/{b.test}" for b in breaks))
    pytest.main([*QUIET, *tests], plugins=[breaking])
    own = sum(outcome == OWN for _, outcome in breaking.results)
    print(f"{own} of {len(breaks)} breaks of {len({b.ability for b in breaks})} abilities: {OWN}.")
    return int(own < len(breaks))


def copy_tree(folder: Path) -> None:
    """Copy what the tests need."""
    for name in COPIED:
        if (TOP / name).is_dir():
            shutil.copytree(TOP / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", ".open", "documents"))
        else:
            shutil.copy(TOP / name, folder / name)


def main(argv: list[str]) -> int:
    """Make the chosen breaks in a copy and print what became of each."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("ability", nargs="*", help="only abilities that begin so, or one break by its name")
    parser.add_argument("--list", action="store_true", help="print the names of the breaks and make none")
    parser.add_argument("--show", action="store_true", help="print why each test failed")
    parser.add_argument(IN_COPY, action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args(argv)
    chosen = tuple(asked.ability) or ("",)
    breaks = [b for b in all_breaks() if f"{b.ability}: {b.broken}".startswith(chosen)]
    if not breaks:
        print("No ability is called so; they are: " + ", ".join(dict.fromkeys(b.ability for b in all_breaks())))
        return 1
    if asked.list:
        print("\n".join(f"{b.ability}: {b.broken}" for b in breaks))
        return 0
    if asked.in_copy:
        return in_copy(breaks, asked.show)
    with tempfile.TemporaryDirectory(prefix="breaks-") as folder:
        tree = Path(folder).resolve()
        copy_tree(tree)
        lab = tree / LIBRARY / ONE_STEP[0]
        one_step = Break("", "", "", *([text] for text in ONE_STEP[1:])).make(lab.read_text(encoding="utf-8"))
        lab.write_text(one_step, encoding="utf-8")
        environment = {**os.environ, "PYTHONPATH": str(tree / "lib"), "TEST_PATIENCE": PATIENCE}
        return subprocess.call([sys.executable, str(tree / "tests" / Path(__file__).name), IN_COPY, *argv], cwd=tree,
                               env=environment)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
