"""Foreign drawings are read in a process of their own, with little time and memory: what goes wrong stays in there.

A PDF or picture reader is large machine code that was never made for enemies. The process gets bytes and gives back
a small header and bytes; it can write no file, and is ended when its time is over.
"""

import json
import os
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.sheet_file import shown

MOST_BYTES = 40_000_000
LONGEST_SIDE = 3000  # points of a picture that lies behind the plan
SECONDS = 40
MEMORY = 4_000_000_000  # bytes of address space, of which little is ever used
LIBRARY = Path(__file__).resolve().parents[3]
START = "import sys; sys.path.insert(0, sys.argv[1]); from stagefloor.job.exchange.apart import main; main()"
KINDS = "a picture (PNG or JPEG), a PDF, a DXF or an SVG drawing"
TOO_MUCH = ("takes more time or memory than a drawing should; save the one sheet that you need, without what is not "
            "needed on it, or take a screenshot of it.")


@dataclass(frozen=True)
class Drawing:
    """A drawing as it is kept: bytes of a PNG, a JPEG or of our own outlines, by `end`; page and pages of a PDF, else 0."""

    name: str
    end: str
    data: bytes
    page: int = 0
    pages: int = 0


def read_drawing(data: bytes, name: str, page: int = 1) -> Drawing:
    """A drawing from the bytes of a file, whatever its name ends with; a Problem if it can't be read."""
    name = shown(name) or "This file"
    if len(data) > MOST_BYTES:
        raise Problem(f"{name} has {len(data) / 1e6:,.0f} MB; {MOST_BYTES / 1e6:.0f} MB are the most.")
    head = json.dumps({"name": name, "page": page}).encode() + b"\n"
    environment = {k: v for k, v in os.environ.items() if k.upper() in ("SYSTEMROOT", "TEMP", "TMP", "LANG", "PATH")}
    environment["OPENBLAS_NUM_THREADS"] = "1"  # each thread reserves memory, of which little is allowed
    try:
        ran = subprocess.run([sys.executable, "-I", "-B", "-c", START, str(LIBRARY)], input=head + data, timeout=SECONDS,
                             stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment, check=False)
    except subprocess.TimeoutExpired:
        raise Problem(f"{name} {TOO_MUCH}") from None
    return understood(ran.stdout, name)


def understood(answer: bytes, name: str) -> Drawing:
    """The drawing, or the Problem, that the process apart told; a Problem too if it ended in the middle."""
    try:
        first, _, body = answer.partition(b"\n")
        said = json.loads(first)
        if "problem" in said:
            raise Problem(str(said["problem"]))
        return Drawing(name, str(said["end"]), body, int(said["page"]), int(said["pages"]))
    except (ValueError, KeyError, TypeError):
        raise Problem(f"{name} {TOO_MUCH}") from None


def read_here(data: bytes, name: str, page: int = 1) -> Drawing:
    """As `read_drawing`, in this process: for the process apart, and for tests."""
    # each format's library is loaded only when a file of it comes
    if data[:8] == b"\x89PNG\r\n\x1a\n" or data[:3] == b"\xff\xd8\xff":
        from stagefloor.job.exchange.picture_file import clean_picture

        made = clean_picture(data, name, LONGEST_SIDE)
        return Drawing(name, made.end, made.data)
    if b"%PDF-" in data[:1024]:
        from stagefloor.job.exchange.pdf_file import pdf_page

        made, pages = pdf_page(data, name, page, LONGEST_SIDE)
        return Drawing(name, made.end, made.data, page, pages)
    from stagefloor.job.exchange.outlines import to_bytes

    start = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start[:1] == b"<" and b"<svg" in data[:100_000].lower():
        from stagefloor.job.exchange.svg_file import outlines

        return Drawing(name, "json", to_bytes(outlines(data, name)))
    if b"Binary DXF" in data[:40] or (start[:3] in (b"0\r\n", b"0\nS", b"999") or b"SECTION" in start[:200]):
        from stagefloor.job.exchange.dxf_file import outlines as dxf

        return Drawing(name, "json", to_bytes(dxf(data, name)))
    raise Problem(f"{name} is not {KINDS}, whatever its name says; choose another file, or save the sheet as a PDF.")


def answer(data: bytes, name: str, page: int) -> bytes:
    """What the process apart tells of a drawing, for `understood`."""
    try:
        found = read_here(data, name, page)
        said, body = {"end": found.end, "page": found.page, "pages": found.pages}, found.data
    except Problem as problem:
        said, body = {"problem": problem.sentence}, b""
    except (MemoryError, RecursionError):
        said, body = {"problem": f"{name} {TOO_MUCH}"}, b""
    return json.dumps(said).encode() + b"\n" + body


def main() -> None:
    """Read one drawing from standard input, in the process apart."""
    try:
        import resource
    except ImportError:  # not on this system: time and the bounds of each reader still hold
        pass
    else:
        for what, most in (("AS", MEMORY), ("CPU", SECONDS), ("CORE", 0), ("FSIZE", 0)):
            with suppress(ValueError, OSError):  # some systems know a limit and refuse to set it
                resource.setrlimit(getattr(resource, f"RLIMIT_{what}"), (most, most))
    head = json.loads(sys.stdin.buffer.readline())
    sys.stdout.buffer.write(answer(sys.stdin.buffer.read(), head["name"], head["page"]))
    sys.stdout.buffer.flush()
