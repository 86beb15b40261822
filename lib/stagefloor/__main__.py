"""The commands of the workbook; each loads only what it needs, to start fast. Knows no arithmetic."""

import argparse
import difflib
import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from stagefloor.core.open_items import OpenItem
from stagefloor.core.problems import Problem

TOP = Path(__file__).parents[2]
WORKBOOK = TOP / "workbook"
DEMOS = TOP / "demo_projects"
JOB_FILE = "job.json"


def demo_jobs() -> list[str]:
    """The names of the demo jobs that came with the workbook."""
    return sorted(path.parent.name for path in DEMOS.glob(f"*/{JOB_FILE}"))


def find_job(given: str | None, here: Path) -> Path:
    """The folder of the job that the user means: a folder, its job file, a demo's name, or where he stands.

    Raises Problem with what to do if there is none.
    """
    if given is None:
        if (here / JOB_FILE).is_file():
            return here
        demos = ", ".join(f"{DEMOS.name}/{name}" for name in demo_jobs()) or "none came with this workbook"
        raise Problem(
            f"There is no job in {here}; name one (python3 lib open FOLDER), make one (python3 lib new "
            f"FOLDER), or look at a demo job: {demos}."
        )
    named = Path(given)
    for folder in (named, named.parent if named.name == JOB_FILE else named, DEMOS / given):
        if (folder / JOB_FILE).is_file():
            return folder
    close = difflib.get_close_matches(named.name, demo_jobs(), n=1)
    hint = f"did you mean {DEMOS.name}/{close[0]}?" if close else "make one with: python3 lib new FOLDER"
    raise Problem(f"There is no job in '{given}' (no {JOB_FILE} there); {hint}")


def open_command(options: argparse.Namespace) -> int:
    """Open a job in the browser."""
    job = find_job(options.job, Path.cwd())
    from stagefloor.entry.lab import open_job

    return open_job(job, WORKBOOK, browser=not options.no_browser, step=options.step)


def own_jobs() -> list[Path]:
    """The folders of jobs inside this checkout, demos last."""
    own = sorted(path.parent for path in TOP.glob(f"*/{JOB_FILE}"))
    return own + [DEMOS / name for name in demo_jobs()]


def start_command(options: argparse.Namespace) -> int:
    """Ask which job, then open it; a name that is no job yet makes one."""
    jobs = own_jobs()
    print("Which job? Type a number, or a name for a new job, then Enter.")
    for number, job in enumerate(jobs, 1):
        print(f"  {number}  {job.name}{'  (a demo)' if job.parent == DEMOS else ''}")
    try:
        typed = input("> ").strip()
    except EOFError:
        typed = ""
    if not typed:
        print("Nothing was chosen.")
        return 0
    if typed.isascii() and typed.isdigit():
        if not 1 <= int(typed[:9]) <= len(jobs):
            raise Problem(f"There is no job {typed[:9]} in the list; start again and type a number from 1 to {len(jobs)}.")
        folder = jobs[int(typed[:9]) - 1]
    else:
        folder = Path(typed) if Path(typed).is_absolute() else TOP / typed
        if not (folder / JOB_FILE).is_file():
            new_command(argparse.Namespace(folder=str(folder)))
    return open_command(argparse.Namespace(job=str(folder), step=None, no_browser=options.no_browser))


def typed(folder: Path) -> str:
    """A folder as it is typed into a command."""
    return shlex.quote(str(folder)) if os.name != "nt" else f'"{folder}"'


def new_command(options: argparse.Namespace) -> int:
    """Make a new job with its own copies of the steps."""
    from stagefloor.entry.step_copies import place_steps
    from stagefloor.job.store import create, transact
    from stagefloor.steps.starter import started

    folder = Path(options.folder)
    create(folder)
    transact(folder, started, "Starting rows")
    try:
        place_steps(WORKBOOK, folder)
    except OSError as trouble:
        raise Problem(
            f"The job was made in {folder}, but the steps can't be written there ({trouble.strerror}); open "
            f"it all the same with: python3 lib open {typed(folder)}"
        ) from trouble
    print(f"A new job is in {folder}. Open it with: python3 lib open {typed(folder)}")
    return 0


def check_command(options: argparse.Namespace) -> int:
    """Print the open items of a job; exit status 1 if any must be mended."""
    job = find_job(options.job, Path.cwd())
    from stagefloor.job.store import read
    from stagefloor.results import compute

    opened = read(job)
    results = compute(opened.job, opened.faults)
    items = results.items
    if not (opened.job.boxes() or opened.job.tables.get("point")) and not options.json:
        print("Nothing is entered yet: no floor box, and nothing that plugs in.")
    print_items(items, options.json, results.words.text)
    return 1 if any(item.must_mend for item in items) else 0


def print_items(items: Sequence[OpenItem], as_json: bool = False, own: Callable[[str], str] = str) -> None:
    """Print open items: what, by how much, the cure, what it blocks; or all their fields as JSON.

    `own`: puts a text into the words of the job.
    """
    if as_json:
        print(json.dumps([item.as_data() for item in items], indent=1, ensure_ascii=False))
        return
    for item in items:
        print(own(f"{item.state}: {item.subject}: {item.what}"))
        for name, text in (("amount", item.amount), ("basis", item.basis), ("cure", item.cure),
                           ("blocks", item.blocks), ("to find out", item.question.replace("\n", "; "))):  # fmt: skip
            if text:
                print(own(f"    {name}: {text}"))
    must = sum(item.must_mend for item in items)
    print(f"{len(items)} open item{'' if len(items) == 1 else 's'}, {must} to be mended or known first")


def package_command(options: argparse.Namespace) -> int:
    """Build the pages that leave the house."""
    job = find_job(options.job, Path.cwd())
    from stagefloor.package import build

    built = build(job, options.out, options.reader, progress=print)
    print(f"The documents are in {built.folder}: open {built.folder / built.pages[0]}")
    for sentence in built.attention:
        print(f"Needs attention: {sentence}")
    return 0


def sheet_command(options: argparse.Namespace) -> int:
    """Make a phone sheet: one file to send to a phone."""
    job = find_job(options.job, Path.cwd())
    from stagefloor.package.sheets import make_sheet

    file = make_sheet(job, options.kind, options.crew or "")
    print(f"The {options.kind} sheet is in {file}. Open it on the phone with the browser; it needs no network.")
    return 0


def take_command(options: argparse.Namespace) -> int:
    """Show what the file of a phone sheet would change, and take it in if the user agrees."""
    job = find_job(options.job, Path.cwd())
    from stagefloor.job.exchange.preview import ADD, CHANGE, SAME, carry_out
    from stagefloor.job.exchange.sheet_file import read_sheet_file
    from stagefloor.job.exchange.taking import planned
    from stagefloor.job.store import read, transact
    from stagefloor.job.wording import words_of
    from stagefloor.results.settled import settled

    file = read_sheet_file(options.file)
    present = read(job).job
    plan = planned(present, file)
    words = words_of(present, plan.typed())
    for line in plan.lines:
        if line.state != SAME:
            print(words.text(f"{line.state}: {line.subject}" + (f": {line.words}" if line.words else "")))
    print(plan.sentence())
    if not plan.of(ADD) and not plan.of(CHANGE):
        return 0
    if not options.yes:
        print("Nothing was taken in yet. To do it, give the same command with --yes")
        return 0
    carry_out(job, lambda name, change: transact(job, lambda j: settled(j, change(j)), name),
              f"{file.kind.capitalize()} sheet taken in: {file.name}", lambda j: planned(j, file), plan.lines)
    print("Taken in.")
    return 0


def test_command(options: argparse.Namespace) -> int:
    """Run every check of the workbook itself."""
    runner = TOP / "tests" / "run.py"
    if not runner.is_file():
        raise Problem(f"The tests are missing ({runner}); fetch the complete workbook and start again.")
    command = [sys.executable, str(runner)]
    command += ["-k", options.expression] if options.expression else []
    command += ["--fast"] if options.fast else []
    return subprocess.call(command, cwd=TOP)


def calc_command(arguments: list[str]) -> int:
    """Pass a calculation on to the calculations."""
    from stagefloor.calculations.command import main as calculate

    return int(calculate(arguments) or 0)


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = argparse.ArgumentParser(
        prog="python3 lib", description="Stagefloor: one job of floor boxes, from the site visit to closeout."
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)

    opened = commands.add_parser("open", help="open a job in the browser, ready to type in")
    opened.add_argument("job", nargs="?", metavar="JOB", help="the job's folder (default: this folder)")
    opened.add_argument("--step", help="the step to show first, such as cables")
    opened.add_argument("--no-browser", action="store_true", help="only print the address")
    opened.set_defaults(call=open_command)

    start = commands.add_parser("start", help="choose a job from a list, or name a new one, and open it")
    start.add_argument("--no-browser", action="store_true", help="only print the address")
    start.set_defaults(call=start_command)

    new = commands.add_parser("new", help="make a new job")
    new.add_argument("folder", metavar="FOLDER", help="where the job will live")
    new.set_defaults(call=new_command)

    check = commands.add_parser("check", help="list a job's open items")
    check.add_argument("job", nargs="?", metavar="JOB")
    check.add_argument("--json", action="store_true", help="for other programs")
    check.set_defaults(call=check_command)

    package = commands.add_parser("package", help="build the pages for each reader")
    package.add_argument("job", nargs="?", metavar="JOB")
    package.add_argument("--out", metavar="FOLDER", help="where to put it (default: in the job's folder)")
    package.add_argument("--for", dest="reader", metavar="READER", default="client", help="whose set (default: client)")
    package.set_defaults(call=package_command)

    sheet = commands.add_parser("sheet", help="make a sheet for a phone: a survey, or a crew's site sheet")
    sheet.add_argument("job", metavar="JOB")
    sheet.add_argument("kind", choices=("survey", "site"))
    sheet.add_argument("--crew", metavar="NAME", help="for whom a site sheet is")
    sheet.set_defaults(call=sheet_command)

    take = commands.add_parser("take", help="take in the file that a phone sheet exported")
    take.add_argument("job", metavar="JOB")
    take.add_argument("file", metavar="FILE")
    take.add_argument("--yes", action="store_true", help="do it; without, only show what it would change")
    take.set_defaults(call=take_command)

    test = commands.add_parser("test", help="check the workbook itself")
    test.add_argument("-k", dest="expression", metavar="EXPR", help="only tests whose name fits")
    test.add_argument("--fast", action="store_true", help="leave out the notebooks and the browser")
    test.set_defaults(call=test_command)

    commands.add_parser("calc", help="one calculation on its own", add_help=False)
    return top


def main(arguments: list[str]) -> int:
    """Run one command; returns its exit status, 2 for what the user can mend."""
    try:
        if arguments[:1] == ["calc"]:
            return calc_command(arguments[1:])
        options = parser().parse_args(arguments or ["--help"])
        return int(options.call(options))
    except Problem as problem:
        print(problem, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of our output has gone; nothing to say to him
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
