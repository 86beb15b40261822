"""Makes a document set: the reader's file, its pages, the checks, the folder. The only place that sees job and pages.

A page is never made from the job: `extract_*` names each field that crosses over, and the pages see that file alone.
"""

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from jupyter_core.utils import run_sync

from stagefloor.core.problems import Problem, nearest
from stagefloor.core.words import Words
from stagefloor.package.checks import page_faults, path_faults, write_manifest
from stagefloor.package.kernel import LIBRARY, PageProcess
from stagefloor.package.place import check_place, put_in_place, workplace
from stagefloor.readers.client import ClientFile
from stagefloor.readers.crew import CrewFile

READERS = ("client", "crew")
PAGES = LIBRARY.parent / "workbook" / "pages"
Progress = Callable[[str], None]
ReaderFile = ClientFile | CrewFile
Extracted = tuple[ReaderFile, list[str], Words]


@dataclass(frozen=True)
class Built:
    """A finished set: its folder, sentences that the sender should read first, file names of the pages in order."""

    folder: Path
    attention: list[str]
    pages: list[str]


def build(job_path: Path | str, out: Path | str | None = None, reader: str = "client",
          progress: Progress | None = None) -> Built:
    """Make the document set of one reader from a job.

    Parameters
    ----------
    job_path : the job's folder, or its file
    out : where to put the set; None: 'documents/<reader>' in the job's folder
    reader : for whom, one of READERS
    progress : called with a few words before each stage

    Raises
    ------
    Problem : the job can't be read, the place is taken by something else, or a page fails. Nothing is changed then.
    """
    path = Path(job_path)
    _check_reader(reader)
    home = path if path.is_dir() else path.parent
    target = Path(out) if out is not None else home / "documents" / reader

    def extract() -> Extracted:
        # here, not above: reading the job's side takes a second, in which the page process loads
        from stagefloor.job.store import read
        from stagefloor.package import extract_client, extract_crew
        from stagefloor.results import compute

        opened = read(path)
        results = compute(opened.job, opened.faults)
        made = extract_crew if reader == "crew" else extract_client
        file, said = made.whole(results, home)
        return file, [*(results.words.text(s) for s in made.attention(results)), *said], results.words

    return _make(extract, target, reader, progress, (home.resolve(),))


def build_from_file(file: ReaderFile, out: Path | str, reader: str = "client",
                    progress: Progress | None = None, own_process_each: bool = False, basis: str = "") -> Built:
    """Make the document set from a reader's file that is there already, in the words of a code basis.

    `own_process_each` makes each page in a process of its own: slower, to prove that sharing one changes nothing.
    """
    _check_reader(reader)
    return _make(lambda: (file, [], Words(basis)), Path(out), reader, progress, (), own_process_each)


def _check_reader(reader: str) -> None:
    if reader not in READERS:
        near = nearest(reader, list(READERS))
        raise Problem(f"There are no documents for '{reader}'; choose one of: {', '.join(READERS)}."
                      + (f" Did you mean '{near}'?" if near else ""), "reader")


def _make(extract: Callable[[], Extracted], out: Path, reader: str, progress: Progress | None,
          private: tuple[Path, ...], own_process_each: bool = False) -> Built:
    say = progress or (lambda words: None)
    target = Path(out).absolute()
    if target in private:
        raise Problem(f"'{target}' is the job's own folder; name another folder for the documents.", str(target))
    check_place(target)
    made = workplace(target)
    apart = Path(tempfile.mkdtemp(prefix="stagefloor-pages-"))
    try:
        file, attention, pages = run_sync(_write_pages)(extract, made, apart, reader, say, own_process_each)
        say("Checking the pages")
        faults = page_faults(made) + path_faults(made, (*private, apart, LIBRARY.parent, Path.home()))
        if faults:
            raise Problem(f"The documents were not put in place: {faults[0]}"
                          + (f" {len(faults) - 1} more like it." if len(faults) > 1 else "")
                          + " This is a fault of the program, please report it.", str(target))
        write_manifest(made, {"reader": reader, "venue": file.title.venue, "revision": file.title.revision,
                              "date": file.title.date})
        put_in_place(made, target)
    except OSError as error:
        raise Problem(f"The documents could not be written ({error.strerror or error}); nothing was changed. "
                      "Check the disk and try again.", str(target)) from error
    finally:
        shutil.rmtree(made, ignore_errors=True)
        shutil.rmtree(apart, ignore_errors=True)
    return Built(target, attention, pages)


async def _write_pages(extract: Callable[[], Extracted], made: Path, apart: Path, reader: str, say: Progress,
                       own_process_each: bool) -> tuple[ReaderFile, list[str], list[str]]:
    """Write the pages to `made`. The page process loads while the file is extracted and nbconvert is imported."""
    page_file = apart / f"{reader}.json"
    process = PageProcess(apart, page_file)
    try:
        await process.start()
        say("Gathering what the reader may see")
        file, attention, words = extract()
        page_file.write_text(file.model_dump_json(), encoding="utf-8")
        import nbformat

        from stagefloor.package.page import PageExporter, page_html

        notebooks = sorted((PAGES / reader).glob("*.ipynb"))
        if not notebooks:
            raise Problem(f"The folder '{PAGES / reader}' has no pages; get the missing files back.", reader)
        told = [(n, nbformat.read(n, as_version=4).metadata["stagefloor"]) for n in notebooks]
        # the pages of the end are left out of a set that has nothing to tell there yet
        begun = isinstance(file, ClientFile) and file.closeout.begun
        told = [(n, a) for n, a in told if begun or a.get("needs") != "closeout"]
        notebooks, about = [n for n, _ in told], [a for _, a in told]
        pages = [{"name": a["page"], "file": f"{a['page']}.html", "title": a["title"]} for a in about]
        exporter = PageExporter()
        for number, (notebook, page) in enumerate(zip(notebooks, pages, strict=True), 1):
            say(f"Page {number} of {len(pages)}: {page['title']}")
            if own_process_each and number > 1:
                await process.stop()
                process = PageProcess(apart, page_file)
                await process.start()
            ran = await process.run(notebook)
            text = page_html(exporter, ran, _title(file), pages, page["name"], words)
            (made / page["file"]).write_text(text, encoding="utf-8", newline="\n")
        return file, attention, [p["file"] for p in pages]
    finally:
        await process.stop()


def _title(file: ReaderFile) -> dict[str, str]:
    t = file.title
    revision = f"Revision {t.revision}" if t.revision else ""
    return {"venue": t.venue, "shop": t.shop, "contact": t.contact,
            "issue": ", ".join(w for w in (revision, t.date) if w)}
