"""Runs every check of the workbook, one line a part, and counts: called by `python3 lib test`.

Parts run two at a time; those with a browser come after the others, since they wait for answers.
"""

import argparse
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

TOP = Path(__file__).parents[1]
COUNT = re.compile(r"(\d+) (passed|failed|skipped|error|errors|xfailed|deselected)\b")
LINT_IMPORTS = "from importlinter.cli import lint_imports_command; lint_imports_command()"
NOTHING_COLLECTED = 5  # pytest's exit status when no test fits
AT_A_TIME = 2
LAST = ("steps in a browser", "pages in a browser")


@dataclass(frozen=True)
class Done:
    """One part that has run: its counts, all that it said, and how long it took in seconds."""

    name: str
    counts: dict[str, int]
    output: str
    seconds: float

    def tell(self) -> None:
        """Print the part's line, and all that it said if it failed or skipped."""
        told = ", ".join(f"{number} {word}" for word, number in self.counts.items() if number) or "no tests"
        print(f"{self.name:<20}{told:<36}{self.seconds:7.1f} s", flush=True)
        if self.counts["failed"]:
            print(self.output)
        elif self.counts["skipped"]:
            print("\n".join(line for line in self.output.splitlines() if line.startswith("SKIPPED")))


def parts(expression: str, fast: bool) -> list[tuple[str, list[str]]]:
    """The parts in order, each a name and its command; only tests if an expression chooses among them."""
    checks = [
        ("style", ["-m", "ruff", "check", "--quiet", "."]),
        ("types", ["-m", "mypy"]),
        ("import rules", ["-c", LINT_IMPORTS]),
    ]
    pytest = ["-m", "pytest", "-q", "--no-header"] + (["-k", expression] if expression else [])
    plain = "not notebook and not browser" + (" and not slow" if fast else "")
    tests = [
        ("sums and choices", [*pytest, "-m", plain, "tests/steps", "tests/published"]),
        ("all the rest", [*pytest, "-m", plain, "--ignore=tests/steps", "--ignore=tests/published"]),
    ]
    if not fast:
        browser = [*pytest, "-m", "browser"]
        tests += [("live steps", [*pytest, "-m", "notebook and not browser"]),
                  (LAST[0], [*browser, "tests/entry"]), (LAST[1], [*browser, "--ignore=tests/entry"])]
    return tests if expression else checks + tests


def counts(output: str) -> dict[str, int]:
    """How many tests passed, failed and were skipped, as pytest's closing line says."""
    closing = [line for line in output.splitlines() if " in " in line and COUNT.search(line)]
    found = {word.rstrip("s"): int(number) for number, word in COUNT.findall(closing[-1])} if closing else {}
    return {
        "passed": found.get("passed", 0) + found.get("xfailed", 0),
        "failed": found.get("failed", 0) + found.get("error", 0),
        "skipped": found.get("skipped", 0),
    }


def run_part(name: str, command: list[str]) -> Done:
    """Run one part."""
    started = time.monotonic()
    done = subprocess.run(
        [sys.executable, *command], cwd=TOP, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        encoding="utf-8", errors="replace", env={**os.environ, "PYTHONPATH": str(TOP / "lib")},
    )  # fmt: skip
    if "pytest" in command:
        count = counts(done.stdout)
        if done.returncode not in (0, NOTHING_COLLECTED) and not count["failed"]:
            count["failed"] = 1
    else:
        bad = int(done.returncode != 0)
        count = {"passed": 1 - bad, "failed": bad, "skipped": 0}
    return Done(name, count, done.stdout, time.monotonic() - started)


def run_parts(chosen: list[tuple[str, list[str]]]) -> Iterator[Done]:
    """Run the parts, two at a time, those with a browser after all others; in the order of their list."""
    for last in (False, True):
        with ThreadPoolExecutor(AT_A_TIME) as pool:
            together = [pool.submit(run_part, *part) for part in chosen if (part[0] in LAST) == last]
            yield from (one.result() for one in together)


def main(arguments: list[str]) -> int:
    """Run the parts; the exit status is 1 if anything failed, or was skipped on a build machine."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("-k", dest="expression", default="")
    options.add_argument("--fast", action="store_true")
    chosen = options.parse_args(arguments)
    started = time.monotonic()
    total = {"passed": 0, "failed": 0, "skipped": 0}
    for part in run_parts(parts(chosen.expression, chosen.fast)):
        part.tell()
        for word, number in part.counts.items():
            total[word] += number
    skipped_in_ci = bool(total["skipped"]) and os.environ.get("CI") == "true"
    if skipped_in_ci:
        print("On a build machine (CI=true) nothing may be skipped, so this counts as failed.")
    if not any(total.values()):
        print("No test was run; check the expression after -k.")
    seconds = int(time.monotonic() - started)
    print(
        ", ".join(f"{number} {word}" for word, number in total.items()),
        f"in {seconds // 60}:{seconds % 60:02d}",
    )
    return int(bool(total["failed"]) or skipped_in_ci or not any(total.values()))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
