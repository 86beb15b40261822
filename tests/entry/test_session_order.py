"""In which order the views of a session hear of an edit, and what a preview leaves alone."""

import asyncio
import shutil
from pathlib import Path

from stagefloor.entry.session import Session
from stagefloor.job import edit
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
