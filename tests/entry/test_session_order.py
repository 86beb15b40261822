"""In which order the views of a session hear of an edit, and what a preview leaves alone."""

import asyncio
import shutil
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.entry.session import Session
from stagefloor.job import edit, store
from stagefloor.job.boxes import Box
from stagefloor.steps.boxes import fit

DEMOS = Path(__file__).parents[2] / "demo_projects"


def opened(tmp_path: Path, demo: str = "quillhaven_playhouse") -> Session:
    shutil.copy(DEMOS / demo / "job.json", tmp_path)
    return Session(tmp_path)


def moved(job, metres):
    box = job.boxes()[0]
    return edit.set_fields(job, "box", box.id, {"x": f"{metres} m", "y": "1 m"})


def test_the_eye_is_served_first_and_a_newer_edit_starts_the_round_again(tmp_path):
    async def run():
        session, heard = opened(tmp_path), []
        session.listen(lambda: heard.append("table"))
        session.listen(lambda: heard.append("cards"))
        session.listen(lambda: heard.append("open items"), first=True)
        session.edit("moved", lambda j: moved(j, 0.1))
        assert heard == [], "the answer to the edit travels before any view"
        while len(heard) < 2:
            await asyncio.sleep(0)
        session.edit("moved", lambda j: moved(j, 0.2))
        await asyncio.sleep(0.1)
        return heard

    assert asyncio.run(run()) == ["open items", "table", "open items", "table", "cards"]


def test_a_view_that_fails_does_not_keep_the_others_from_hearing(tmp_path):
    async def run():
        session, heard = opened(tmp_path), []
        asyncio.get_running_loop().set_exception_handler(lambda loop, context: heard.append("fault"))
        session.listen(lambda: 1 / 0, first=True)
        session.listen(lambda: heard.append("table"))
        session.edit("moved", lambda j: moved(j, 0.1))
        await asyncio.sleep(0.1)
        return heard

    assert asyncio.run(run()) == ["fault", "table"]


def test_all_views_are_told_of_an_edit_from_elsewhere_and_the_watch_goes_on(tmp_path, monkeypatch, caplog):
    monkeypatch.setattr("stagefloor.entry.session.LOOK_AGAIN", 0.01)

    async def run():
        session, heard = opened(tmp_path), []
        session.listen(lambda: 1 / 0)
        session.listen(lambda: heard.append(session.job.sequence))
        session.start(session.watch())
        for metres in (0.1, 0.2):
            wanted = store.transact(session.path, lambda j, m=metres: moved(j, m), "elsewhere").sequence
            for _ in range(100):
                await asyncio.sleep(0.01)
                if heard[-1:] == [wanted]:
                    break
        return heard, wanted

    heard, last = asyncio.run(run())
    assert heard == [last - 1, last]
    assert "edit from elsewhere" in caplog.text


def test_a_moment_in_which_the_file_can_not_be_read_is_only_a_moment(tmp_path, monkeypatch):
    session = opened(tmp_path)
    wanted = store.transact(session.path, lambda j: moved(j, 0.1), "elsewhere")
    read = store.read

    def fails(path):
        raise Problem("The share is away.")

    monkeypatch.setattr(store, "read", fails)
    assert not session.look()
    monkeypatch.setattr(store, "read", read)
    assert session.look()
    assert session.job == wanted


def test_what_somebody_else_saves_right_after_an_edit_is_not_taken_for_seen(tmp_path, monkeypatch):
    session = opened(tmp_path)
    transact = store.transact

    def twice(path, change, name, by=""):
        job = transact(path, change, name, by)
        transact(path, lambda j: edit.set_fields(j, "settings", "job", {"venue": "Elsewhere"}), "elsewhere")
        return job

    monkeypatch.setattr(store, "transact", twice)
    session.edit("moved", lambda j: moved(j, 0.1))
    session.look()
    assert session.job.settings.venue == "Elsewhere"


def test_a_preview_shows_results_and_leaves_the_job_and_the_file_alone(tmp_path):
    session, seen = opened(tmp_path), []
    session.listen_to_previews(lambda results: seen.append(results.job.boxes()[0].x.si))
    before, text = session.job, session.path.read_bytes()
    session.preview(moved(session.job, 0.25))
    assert seen == [0.25]
    assert session.job is before
    assert session.path.read_bytes() == text


def test_what_was_said_of_other_boxes_still_holds_after_one_moved(tmp_path):
    """The items of a plan asked step by step, against each box asked afresh."""
    for demo in ("quillhaven_playhouse", "ondry_hall"):
        folder = tmp_path / demo
        folder.mkdir()
        job = opened(folder, demo).job
        for n, box in enumerate(job.boxes()):
            job = edit.set_fields(job, "box", box.id, {"x": f"{n * 0.4 - 1} m", "y": f"{n * 0.3} m"})
            if n == 3:
                job = edit.set_fields(job, "settings", "job", {"reach": "1 m"})
            fresh = [i for b in job.all(Box) if b.state != "retired" for i in fit.box_items(job, b)]
            assert fit.open_items(job)[:len(fresh)] == fresh
