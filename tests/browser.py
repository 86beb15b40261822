"""Opens a job in a real browser for a test: a server as a user starts it, a page ready to type in."""

import atexit
import contextlib
import functools
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, sync_playwright

TOP = Path(__file__).parents[1]
STEP = ".jp-NotebookPanel:not(.lm-mod-hidden) "  # the step on show; others wait hidden behind it
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
PATIENCE = os.environ.get("TEST_PATIENCE", "")  # milliseconds for which a test waits; empty: as each says
OPEN = """
import sys
from pathlib import Path
from stagefloor.entry.lab import open_job
job, workbook, step = sys.argv[1:]
sys.exit(open_job(Path(job), Path(workbook), browser=False, step=step, expose=True))
"""
ALIVE = """step => {
    const widget = window.jupyterapp?.shell.currentWidget;
    if (widget?.context?.path !== step + ".ipynb" || !widget.context.isReady) return false;
    if (widget.context.sessionContext.session?.kernel?.status !== "idle") return false;
    const panel = document.querySelector(".jp-NotebookPanel:not(.lm-mod-hidden)");
    const wanted = [...widget.model.cells].filter(cell => cell.type === "code" && cell.outputs.length).length;
    const shown = [...panel.querySelectorAll(".jp-CodeCell")].filter(
        cell => cell.querySelector(".jp-OutputArea-output")?.childElementCount).length;
    return shown >= wanted && !/Loading widget|Error displaying widget/.test(panel.textContent);
}"""


def find_chromium() -> str:
    """The path of a Chromium on this machine, or an empty text; CHROMIUM in the environment names one."""
    mac = "/Applications/Chromium.app/Contents/MacOS/Chromium"
    names = (os.environ.get("CHROMIUM", ""), "chromium", "chromium-browser", mac)
    return next((path for name in names if name and (path := shutil.which(name))), "")


@functools.cache
def playwright() -> Playwright:
    """The one driver of browsers; a second one in the same thread is refused, so all tests share it."""
    driver = sync_playwright().start()
    atexit.register(driver.stop)
    return driver


@dataclass
class Live:
    """A job open in a browser: page, address, what the server said, what the page complained about."""

    page: Page
    address: str
    said: list[str]
    server: subprocess.Popen[str]
    complaints: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)

    def wait_ready(self, step: str, timeout: float = 60) -> None:
        """Wait until the step is on show with all its fields alive; `timeout` in seconds."""
        self.page.wait_for_function(ALIVE, arg=step, timeout=timeout * 1000)

    def go_to(self, step: str) -> None:
        """Show another step through the bar at the top, as a user does, and wait until it is ready."""
        if self.page.locator(f"{STEP}[data-jp-item-name='step-{step}'] [aria-current=step]").count():
            return
        name = "Lab" if step == "labour" else step.replace("_", " ").capitalize()  # Labor in US jobs
        self.page.locator(f"{STEP}.jp-NotebookPanel-toolbar").get_by_text(name).click()
        self.wait_ready(step)


@contextlib.contextmanager
def serve(
    job: Path, workbook: Path, step: str, command: Sequence[str] = (), typed: str = ""
) -> Iterator[tuple[subprocess.Popen[str], str, list[str]]]:
    """The server of a job as a process of its own: the process, the address, the lines it said so far.

    `command` opens the job instead, and is answered with `typed`.
    """
    environment = {**os.environ, "PYTHONPATH": str(TOP / "lib")}
    server = subprocess.Popen(
        command or [sys.executable, "-c", OPEN, str(job), str(workbook), step], env=environment, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8",
    )  # fmt: skip
    said: list[str] = []
    assert server.stdin is not None and server.stdout is not None
    server.stdin.write(typed)
    server.stdin.close()
    listener = threading.Thread(target=lambda lines: said.extend(lines), args=(server.stdout,), daemon=True)
    listener.start()
    try:
        deadline = time.monotonic() + 90
        while not (address := next((line.split()[-1] for line in said if "is open at http" in line), "")):
            if server.poll() is not None or time.monotonic() > deadline:
                raise AssertionError("the job did not open; it said:\n" + "".join(said))
            time.sleep(0.05)
        yield server, address, said
    finally:
        server.terminate()
        try:
            server.wait(timeout=30)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
            raise AssertionError("the server did not end when it was asked to") from None
        listener.join(timeout=5)


@contextlib.contextmanager
def live_lab(
    job: Path,
    step: str = "job_sheet",
    workbook: Path = TOP / "workbook",
    width: int = 1440,
    height: int = 900,
    script: str = "",
) -> Iterator[Live]:
    """The job in `job` with `step` on show, ready to type in; sizes in CSS pixels. Closes all at the end.

    `script` runs in the page before anything else.
    """
    with serve(job, workbook, step) as (server, address, said):
        browser = playwright().chromium.launch(executable_path=find_chromium(), args=list(QUIET))
        page = browser.new_page(viewport={"width": width, "height": height})
        page.add_init_script(script)
        if PATIENCE:
            page.set_default_timeout(float(PATIENCE))
        live = Live(page, address, said, server)
        page.on("console", lambda told: live.complaints.append(told.text) if told.type == "error" else None)
        page.on("pageerror", lambda error: live.complaints.append(str(error)))
        here = address.split("/doc/")[0]
        page.on("request", lambda asked: live.outside.extend(_outside(asked.url, here)))
        try:
            page.goto(address)
            live.wait_ready(step)
            yield live
        finally:
            browser.close()


def demo_job(name: str, folder: Path) -> Path:
    """A copy of a demo job in `folder`, which may be changed; the folder of the copy."""
    copy = folder / name
    copy.mkdir()
    shutil.copy(TOP / "demo_projects" / name / "job.json", copy)
    return copy


def lab_of(name: str, step: str = "job_sheet") -> tuple[Any, Any]:
    """Two fixtures for the tests of a module, to be called `job` and `live`: a copy of a demo job, open in a browser."""

    @pytest.fixture(scope="module")
    def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
        return demo_job(name, tmp_path_factory.mktemp("jobs"))

    @pytest.fixture(scope="module")
    def live(job: Path) -> Iterator[Live]:
        with live_lab(job, step) as opened:
            yield opened

    return job, live


def _outside(address: str, here: str) -> list[str]:
    return [] if address.startswith((here, "data:", "blob:")) else [address]
