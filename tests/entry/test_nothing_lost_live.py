"""Two kernels on one job, and a kernel killed in mid-edit: nothing that was marked as saved is lost."""

import json
import os
import signal
from pathlib import Path

import psutil
import pytest
from browser import STEP, Live, lab_of
from entry.test_steps_live import cell, point_named, type_into

from stagefloor.job import store

pytestmark = [pytest.mark.browser, pytest.mark.slow]


job, live = lab_of("quillhaven_playhouse", "inventory")


def records(job: Path, kind: str) -> list[dict[str, object]]:
    found = json.loads((job / "job.json").read_text(encoding="utf-8"))["records"][kind]
    assert isinstance(found, list)
    return found


def kernels(live: Live) -> list[psutil.Process]:
    """The running kernels of the open job, oldest first."""
    family = psutil.Process(live.server.pid).children(recursive=True)
    return sorted((p for p in family if "ipykernel_launcher" in " ".join(p.cmdline())), key=lambda p: p.create_time())


def test_two_kernels_edit_one_job(live: Live, job: Path) -> None:
    """Each step has a kernel of its own; edits of both are in the file, and each sees the other's."""
    first = live.page
    assert first.context.browser is not None
    second = first.context.browser.new_page()
    other = Live(second, live.address, live.said, live.server)
    second.goto(live.address.replace("inventory.ipynb", "boxes.ipynb"))
    other.wait_ready("boxes")
    assert len(kernels(live)) >= 2  # one a step
    point = point_named(job, "A03")
    box = next(str(b["id"]) for b in records(job, "box") if b["label"] == "FB-A7")
    for n in range(4):
        type_into(first, cell(first, "sf-points", point, "microphone"), str(n + 1))
        type_into(second, cell(second, "sf-boxes", box, "remark"), f"note {n + 1}")
    second.wait_for_selector(f"{STEP}.sf-box-summary td:has-text('4 microphone')")  # FB-A1 serves A03: now 4 there
    names = [e.name for e in store.edits(job)]
    assert sum("A03" in n for n in names) == 4
    assert sum("FB-A7" in n for n in names) == 4
    sequence = [e.sequence for e in store.edits(job)]
    assert sequence == list(range(sequence[0], sequence[0] + len(sequence)))
    assert next(p for p in records(job, "point") if p["id"] == point)["microphone"] == 4
    assert next(b for b in records(job, "box") if b["id"] == box)["remark"] == "note 4"
    second.close()


def test_a_kernel_killed_in_mid_edit_loses_nothing(live: Live, job: Path) -> None:
    page = live.page
    saved, late = point_named(job, "A04"), point_named(job, "A13")
    type_into(page, cell(page, "sf-points", saved, "microphone"), "3")
    mine = kernels(live)[0]
    os.kill(mine.pid, signal.SIGSTOP)  # the edit is on its way, and nobody answers
    page.click(cell(page, "sf-points", late, "microphone"))
    page.keyboard.type("2")
    page.keyboard.press("Enter")
    os.kill(mine.pid, signal.SIGKILL)
    page.wait_for_selector(f"{STEP}.sf-points:has-text('Not connected')", timeout=20_000)
    # what was typed is still on screen, and what was saved is in the file
    assert page.inner_text(cell(page, "sf-points", late, "microphone")).startswith("2")
    assert next(p for p in records(job, "point") if p["id"] == saved)["microphone"] == 3
    assert store.read(job).faults == ()

    page.locator("dialog.jp-Dialog button").last.click(timeout=20_000)  # the page says that the step died
    page.locator(f"{STEP}.jp-NotebookPanel-toolbar").get_by_text("Start this step again").click()
    page.locator(f"{STEP}.sf-points").get_by_role("button", name="Save them now").click(timeout=60_000)
    page.wait_for_function("s => document.querySelector(s).textContent.includes('All saved')",
                           arg=f"{STEP}.sf-points", timeout=30_000)
    assert next(p for p in records(job, "point") if p["id"] == late)["microphone"] == 2
