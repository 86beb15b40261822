"""A new job on disk for each test, and one with a few records in it."""

from pathlib import Path

import pytest

from stagefloor.job import store
from stagefloor.job.edit import add
from stagefloor.job.model import Job

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a new, empty job."""
    store.create(tmp_path / "job")
    return tmp_path / "job"


@pytest.fixture
def small() -> Job:
    """Two events, one point, one floor box with one microphone opening, its circuit, cable, reading and as-built."""
    job, (play, _) = add(Job(), "event", [{"label": "Play"}, {"label": "Talk"}])
    job, (point,) = add(job, "point", [{"label": "A01", "x": "3", "y": "4", "events": play, "microphone": "1"}])
    job, (box,) = add(job, "box", [{"label": "FB-1", "x": "3", "y": "3", "points": point}])
    job, (opening,) = add(job, "opening", [{"box": box, "bay": "1", "slot": "1", "label": "1-M1"}])
    job, (circuit,) = add(job, "circuit", [{"label": "1-M1", "openings": opening}])
    job, _ = add(job, "cable", [{"label": "1-M1", "circuits": circuit}])
    job, _ = add(job, "reading", [{"circuit": circuit, "test": "continuity", "result": "pass"}])
    job, _ = add(job, "asbuilt", [{"box": box, "x": "3 ft"}])
    return job


@pytest.fixture(scope="session")
def demo() -> dict[str, Path]:
    """The job files of the demos by name."""
    return {p.parent.name: p for p in sorted(DEMOS.glob("*/job.json"))}
