"""What if, in a real browser: asked, read, adopted; then the changes since an earlier state are listed."""

from pathlib import Path

import pytest
from browser import STEP, demo_job, live_lab

from stagefloor.job import store
from stagefloor.job.cables import Node
from stagefloor.job.closeout import Revision

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_rack_moves_only_when_it_is_adopted(tmp_path: Path) -> None:
    job = demo_job("quillhaven_playhouse", tmp_path)
    before = (job / "job.json").read_bytes()
    with live_lab(job, step="cables") as live:
        page = live.page
        page.click(f"{STEP}button.sf-if-ask")
        page.wait_for_selector(f"{STEP}.sf-if-answer:has-text('Say how far the rack moves')")
        page.fill(f"{STEP}.sf-if-left input", "2 m")
        page.keyboard.press("Enter")
        page.click(f"{STEP}button.sf-if-ask")
        # two metres more on the only way out: 97 lines, 194 m = 636 ft
        page.wait_for_selector(f"{STEP}.sf-if-answer:has-text('97 lines get longer, by 6\\' 6 3/4\", 636 ft in all')")
        said = page.inner_text(f"{STEP}.sf-if-answer")
        assert "Price in all" in said
        assert "If the rack moves 2 m to stage left" in said
        assert (job / "job.json").read_bytes() == before  # asked, and nothing written
        page.click(f"{STEP}button.sf-if-take")
        page.wait_for_selector(f"{STEP}.sf-if-answer:has-text('Adopted')")
        found = store.read(job).job
        rack = next(n for n in found.all(Node) if n.what == "rack")
        assert rack.x is not None
        assert rack.x.si == pytest.approx(30 * 0.3048 + 2, abs=1e-4)
        (revision,) = found.all(Revision)[-1:]
        assert "97 lines get longer" in revision.words
        assert "USD" not in revision.words
        assert live.outside == []
