"""Runs every check of the workbook, one line a part, and counts: called by `python3 lib test`."""

import argparse
import os
import re
import subprocess
import sys
import time
from pathlib import Path

TOP = Path(__file__).parents[1]
COUNT = re.compile(r"(\d+) (passed|failed|skipped|error|errors|xfailed|deselected)\b")
LINT_IMPORTS = "from importlinter.cli import lint_imports_command; lint_imports_command()"
NOTHING_COLLECTED = 5  # pytest's exit status when no test fits


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
        ("unit tests", [*pytest, "-m", plain, "--ignore=tests/published"]),
        ("published values", [*pytest, "-m", plain, "tests/published"]),
    ]
    if not fast:
        tests += [
            ("steps and pages", [*pytest, "-m", "notebook and not browser"]),
            ("browser", [*pytest, "-m", "browser"]),
        ]
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


def run_part(name: str, command: list[str]) -> dict[str, int]:
    """Run one part, print its line, and all that it said if it failed or skipped; returns its counts."""
    print(f"{name:<18}", end="", flush=True)
    started = time.monotonic()
    done = subprocess.run(
        [sys.executable, *command], cwd=TOP, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        encoding="utf-8", errors="replace", env={**os.environ, "PYTHONPATH": str(TOP / "lib")},
    )  # fmt: skip
    output = done.stdout
    if "pytest" in command:
        count = counts(output)
        if done.returncode not in (0, NOTHING_COLLECTED) and not count["failed"]:
            count["failed"] = 1
    else:
        bad = int(done.returncode != 0)
        count = {"passed": 1 - bad, "failed": bad, "skipped": 0}
    told = ", ".join(f"{number} {word}" for word, number in count.items() if number) or "no tests"
    print(f"{told:<36}{time.monotonic() - started:7.1f} s", flush=True)
    if count["failed"]:
        print(output)
    elif count["skipped"]:
        print("\n".join(line for line in output.splitlines() if line.startswith("SKIPPED")))
    return count


def main(arguments: list[str]) -> int:
    """Run the parts; the exit status is 1 if anything failed, or was skipped on a build machine."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("-k", dest="expression", default="")
    options.add_argument("--fast", action="store_true")
    chosen = options.parse_args(arguments)
    started = time.monotonic()
    total = {"passed": 0, "failed": 0, "skipped": 0}
    for name, command in parts(chosen.expression, chosen.fast):
        for word, number in run_part(name, command).items():
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
