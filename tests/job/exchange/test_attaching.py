"""Pictures added to any record: one edit, a file each, undoable; a disk that fails leaves nothing half done."""

import errno
import io
import os
from pathlib import Path

import pytest
from PIL import Image

from stagefloor.core.problems import Problem
from stagefloor.job import disk, edit, store
from stagefloor.job.exchange import picture_folder
from stagefloor.job.exchange.attaching import attached
from stagefloor.job.exchange.picture_file import CleanPicture, clean_picture
from stagefloor.job.exchange.picture_folder import FOLDER, find_picture, read_picture
from stagefloor.job.exchange.preview import ADD, SAME, carry_out
from stagefloor.job.model import Job
from stagefloor.job.pictures import HOMES, Picture
from stagefloor.job.subjects import counts, is_there, named, pictures_of, subjects, title


def picture(colour: str, taken: str = "") -> CleanPicture:
    out = io.BytesIO()
    exif = Image.Exif()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    Image.new("RGB", (30, 20), colour).save(out, "JPEG", exif=exif)
    return clean_picture(out.getvalue())


def full() -> Job:
    """One record of every kind that a picture can belong to."""
    job, (box,) = edit.add(Job(), "box", [{"label": "FB-1", "x": "3 m", "y": "3 m"}])
    job, (start, end) = edit.add(job, "node", [{"label": "T1"}, {"label": "T2"}])
    for kind, row in (("point", {"label": "A01", "what": "Lectern"}), ("circuit", {"label": "M-1"}),
                      ("segment", {"start": start, "end": end}), ("survey", {"topic": "Traps"}),
                      ("oldoutlet", {"label": "Old 1"}), ("asbuilt", {"box": box}), ("holdpoint", {"label": "Lids"}),
                      ("punch", {"label": "Lid rattles"})):
        job, _ = edit.add(job, kind, [row])
    return job


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    store.create(tmp_path / "job")
    store.transact(tmp_path / "job", lambda _: full(), "start")
    return tmp_path / "job"


def add(folder: Path, pictures: list[CleanPicture], on: str = "job", to: str = "", **words: str) -> Job:
    def run(name: str, change: object) -> object:
        return store.transact(folder, change, name)  # type: ignore[arg-type]

    plan = attached(store.read(folder).job, pictures, on, to, **words)
    carry_out(folder, run, "Pictures added", lambda j: attached(j, pictures, on, to, **words), plan.lines)
    return store.read(folder).job


def test_a_picture_can_belong_to_anything_and_is_called_in_the_jobs_own_words(folder: Path) -> None:
    titles = []
    for kind in HOMES:
        (record_id, its_title), *_ = subjects(store.read(folder).job, kind)
        job = add(folder, [picture("navy")], kind, record_id)
        assert len(pictures_of(job, kind, record_id)) == 1
        titles.append(its_title)
    assert titles == ["The job", "Floor box FB-1", "Point A01, Lectern", "Line M-1", "Node T1", "Raceway T1 to T2", "Traps",
                      "Old outlet Old 1", "Floor box FB-1, as built", "Hold point Lids", "Punch item Lid rattles"]
    assert len(list((folder / FOLDER).iterdir())) == 1  # the same picture is one file
    assert set(counts(job).values()) == {1}


def test_two_pictures_are_one_edit_and_undo_leaves_the_files(folder: Path) -> None:
    before = len(store.edits(folder))
    job = add(folder, [picture("navy", "2026:03:04 10:11:12"), picture("teal")], "box", "box-1", caption="Before the pour",
              by="Kim")
    assert len(store.edits(folder)) == before + 1
    first, second = pictures_of(job, "box", "box-1")
    assert (first.label, first.by, first.date, second.date, first.audience) == \
        ("Before the pour", "Kim", "2026-03-04", "", "office")
    assert Image.open(io.BytesIO(read_picture(folder, first.file))).size == (30, 20)
    store.undo(folder, store.edits(folder)[-1].sequence)
    assert store.read(folder).job.all(Picture) == []
    store.undo(folder, store.edits(folder)[-1].sequence)  # the undo is undone: the files are still there
    for one in store.read(folder).job.all(Picture):
        assert read_picture(folder, one.file)


def test_the_same_picture_at_the_same_record_is_there_already(folder: Path) -> None:
    job = add(folder, [picture("navy"), picture("navy")], "box", "box-1")
    plan = attached(job, [picture("navy"), picture("teal")], "box", "box-1")
    assert [line.state for line in plan.lines] == [SAME, ADD]
    assert len(job.all(Picture)) == 1


def test_a_picture_is_moved_and_outlives_its_record(folder: Path) -> None:
    job = add(folder, [picture("navy")], "punch", subjects(store.read(folder).job, "punch")[0][0])
    (one,) = job.all(Picture)
    moved = edit.set_fields(job, "picture", one.id, {"on": "box", "to": "box-1"})
    assert pictures_of(moved, "box", "box-1")[0].file == one.file
    gone = edit.delete(job, "punch", [one.to])
    assert not is_there(gone, one.on, one.to)
    assert title(gone, one.on, one.to) == "Punch item not there any more"
    assert len(gone.all(Picture)) == 1
    with pytest.raises(Problem, match="no punch item"):
        attached(gone, [picture("navy")], "punch", one.to)
    with pytest.raises(Problem, match="can't belong to"):
        attached(gone, [picture("navy")], "pricing", "pricing-1")


def test_words_of_a_phone_sheet_find_their_record() -> None:
    job = full()
    assert [named(job, w)[0] for w in ("Traps", "Line M-1", "floor box FB-1", "The site")] == \
        ["survey", "circuit", "box", "job"]


@pytest.mark.parametrize("file", ["../job.json", "job.json", "/etc/passwd", "", "a.jpg", "0" * 24 + ".exe",
                                  "0" * 24 + ".jpg/../../job.json", "..\\" + "0" * 24 + ".jpg"])
def test_nothing_outside_the_folder_is_opened(folder: Path, file: str) -> None:
    with pytest.raises(Problem, match="no name that was made here"):
        find_picture(folder, file)


def test_links_and_missing_files_are_said(folder: Path, tmp_path: Path) -> None:
    job = add(folder, [picture("navy")])
    path = find_picture(folder, job.all(Picture)[0].file)
    secret = tmp_path / "secret.jpg"
    secret.write_bytes(path.read_bytes())
    path.unlink()
    with pytest.raises(Problem, match="is not in the folder"):
        read_picture(folder, path.name)
    path.symlink_to(secret)
    with pytest.raises(Problem, match="leads elsewhere"):
        read_picture(folder, path.name)
    with pytest.raises(Problem, match="leads elsewhere"):
        add(folder, [picture("navy")], "box", "box-1")
    assert secret.read_bytes()
    path.unlink()
    os.mkfifo(path)  # opening it would wait for ever
    with pytest.raises(Problem, match="leads elsewhere"):
        read_picture(folder, path.name)
    path.unlink()
    path.parent.rename(tmp_path / "elsewhere")
    (folder / FOLDER).symlink_to(tmp_path / "elsewhere")
    secret.rename(tmp_path / "elsewhere" / path.name)
    with pytest.raises(Problem, match="leads elsewhere"):
        read_picture(folder, path.name)


def test_a_file_that_is_far_too_large_is_not_read_whole(folder: Path) -> None:
    job = add(folder, [picture("navy")])
    path = find_picture(folder, job.all(Picture)[0].file)
    with open(path, "r+b") as handle:
        handle.truncate(picture_folder.MOST_BYTES + 1)
    with pytest.raises(Problem, match="larger than any picture"):
        read_picture(folder, path.name)


@pytest.mark.parametrize(("code", "words"), [
    (errno.ENOSPC, "No space left"), (errno.EROFS, "Read-only"), (errno.EIO, "Input/output")])
def test_a_full_or_read_only_disk_leaves_nothing_half_done(folder: Path, monkeypatch: pytest.MonkeyPatch, code: int,
                                                          words: str) -> None:
    add(folder, [picture("navy")])
    there, edits = sorted((folder / FOLDER).iterdir()), store.edits(folder)
    calls = []

    class Failing:
        """The os module, which can't put a second file in its place."""

        def __getattr__(self, name: str) -> object:
            if name != "replace":
                return getattr(os, name)

            def call(*given: object) -> object:
                calls.append(name)
                if len(calls) == 2:
                    raise OSError(code, os.strerror(code))
                return getattr(os, name)(*given)
            return call

    monkeypatch.setattr(disk, "os", Failing())
    with pytest.raises(Problem, match=words) as told:
        add(folder, [picture("teal"), picture("olive")])
    assert "nothing was taken in" in told.value.sentence
    assert sorted((folder / FOLDER).iterdir()) == there
    assert store.edits(folder) == edits
    assert len(store.read(folder).job.all(Picture)) == 1


def test_a_job_that_can_not_be_saved_takes_its_files_back(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full_disk(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(store, "_note", full_disk)
    with pytest.raises(Problem, match="could not be saved"):
        add(folder, [picture("navy")])
    assert list((folder / FOLDER).iterdir()) == []
