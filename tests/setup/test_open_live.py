"""A job opens ready to type in: live fields, no code in sight, nothing asked of the outside."""

import json
import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
from browser import STEP, TOP, Live, demo_job, live_lab, serve

pytestmark = pytest.mark.browser
STEPS = Path(__file__).parent / "steps"
NO_SIGNAL = pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal to one process")
FIELD, ANSWER = f"{STEP}.venue-field input", f"{STEP}.venue-answer"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job's folder; the steps of this test ask nothing of its file."""
    return tmp_path_factory.mktemp("jobs") / "small_hall"


@pytest.fixture(scope="module")
def live(job: Path) -> Iterator[Live]:
    """The job open in a browser, shared by the tests of this file."""
    with live_lab(job, workbook=STEPS) as opened:
        yield opened


def types_and_gets_an_answer(live: Live, text: str) -> None:
    """Type into the step on show and wait for Python's answer."""
    live.page.fill(FIELD, text)
    live.page.wait_for_selector(f"{ANSWER}:has-text('{len(text)} letters: {text}')", timeout=10_000)


def test_typing_works_at_once(live: Live) -> None:
    assert live.page.inner_text(ANSWER) == "nothing typed yet"
    types_and_gets_an_answer(live, "Old Hall")


def test_own_widget_answers(live: Live) -> None:
    live.page.click(f"{STEP}.counter-button")
    live.page.wait_for_selector(f"{STEP}.counter-button:has-text('1 pressed, Python saw 1')", timeout=10_000)


def test_step_knows_its_job(live: Live, job: Path) -> None:
    assert f"job: {job.name}" in live.page.inner_text(STEP)


@pytest.fixture(params=[1440, 390])
def width(live: Live, request: pytest.FixtureRequest) -> Iterator[int]:
    """The page as wide as a desk's screen, then as a telephone's."""
    live.page.set_viewport_size({"width": request.param, "height": 844})
    live.page.wait_for_timeout(500)
    yield request.param
    live.page.set_viewport_size({"width": 1440, "height": 900})
    live.page.wait_for_timeout(500)


def test_nothing_of_the_editor_is_in_sight(live: Live, width: int) -> None:
    for hidden in (".cm-editor", ".jp-InputPrompt", ".jp-OutputPrompt", ".jp-Placeholder", ".jp-SideBar",
                   "#jp-menu-panel", "#jp-main-statusbar", ".jp-Dialog", ".Toastify__toast"):  # fmt: skip
        assert live.page.locator(f"{hidden} >> visible=true").count() == 0, hidden
    words = live.page.inner_text("body").lower()
    assert not [word for word in ("kernel", "notebook", "jupyter", "python 3") if word in words]
    box = live.page.locator(f"{STEP}.jp-Notebook").bounding_box()
    assert box is not None
    assert box["x"] <= 2
    assert box["width"] >= width - 4
    assert live.page.evaluate("document.documentElement.scrollWidth") <= width


def test_links_and_the_bar_lead_to_live_steps(live: Live) -> None:
    live.page.click(f"{STEP}a:has-text('inventory')")
    live.wait_ready("inventory")
    types_and_gets_an_answer(live, "from the link")
    live.go_to("boxes")
    types_and_gets_an_answer(live, "from the bar")
    live.go_to("job_sheet")


def test_a_failing_part_is_a_sentence_and_the_rest_shows(live: Live, job: Path) -> None:
    live.go_to("closeout")
    text = live.page.inner_text(STEP)
    assert "could not be shown (ValueError: a planted fault)" in text
    assert "Traceback" not in text
    assert "the next part still shows" in text
    trouble = (job / ".open" / "trouble.txt").read_text(encoding="utf-8")
    assert 'raise ValueError("a planted fault")' in trouble
    assert "\x1b" not in trouble
    assert "Traceback" not in "".join(live.said)
    live.go_to("job_sheet")


def test_the_bar_marks_the_step_on_show(live: Live) -> None:
    live.page.wait_for_selector(f"{STEP}[aria-current='step']:has-text('Job sheet')", timeout=5_000)
    assert live.page.locator(f"{STEP}jp-button[aria-current]").count() == 1


def test_stray_keys_change_nothing(live: Live) -> None:
    cells = live.page.locator(f"{STEP}.jp-Cell")
    before = cells.count()
    live.page.focus(f"{STEP}.counter-button")
    for key in ("x", "d", "d", "a", "b", "m", "y", "v", "ArrowDown"):
        live.page.keyboard.press(key)
    live.page.wait_for_timeout(300)
    assert cells.count() == before
    assert live.page.evaluate("document.activeElement.className") == "counter-button"


def test_a_page_loaded_again_still_has_what_was_typed(live: Live) -> None:
    types_and_gets_an_answer(live, "kept")
    live.page.reload()
    live.wait_ready("job_sheet")
    assert live.page.input_value(FIELD) == "kept"
    types_and_gets_an_answer(live, "and alive")


def test_a_step_can_be_started_again_and_loaded_again(live: Live) -> None:
    types_and_gets_an_answer(live, "before")
    live.page.locator(f"{STEP}.jp-NotebookPanel-toolbar").get_by_text("Start this step again").click()
    live.page.wait_for_selector(f"{ANSWER}:has-text('nothing typed yet')", timeout=30_000)
    types_and_gets_an_answer(live, "anew")
    live.page.reload()
    live.wait_ready("job_sheet")
    types_and_gets_an_answer(live, "once more")


def test_a_note_is_saved_and_no_output_is(live: Live, job: Path) -> None:
    live.page.click(f"{STEP}h1")
    live.page.locator(f"{STEP}.jp-NotebookPanel-toolbar").get_by_text("Add a note").click()
    live.page.wait_for_selector(f"{STEP}.jp-MarkdownCell .cm-content:focus")
    live.page.keyboard.type("ask for the floor plan")
    live.page.evaluate("jupyterapp.commands.execute('docmanager:save')")
    saved = json.loads((job / ".open" / "job_sheet.ipynb").read_text(encoding="utf-8"))
    notes = [cell for cell in saved["cells"] if "".join(cell["source"]) == "ask for the floor plan"]
    assert [cell["cell_type"] for cell in notes] == ["markdown"]
    assert not [cell for cell in saved["cells"] if cell.get("outputs")]
    live.page.reload()
    live.wait_ready("job_sheet")
    types_and_gets_an_answer(live, "after the note")


def test_nothing_outside_was_asked_and_nothing_complained(live: Live) -> None:
    assert live.outside == []
    late = "widget model not found"  # on a slow machine; the page shows the field once more
    assert [complaint for complaint in live.complaints if late not in complaint] == []


def test_only_this_machine_with_the_token_gets_in(live: Live) -> None:
    server = psutil.Process(live.server.pid)
    own_port = int(live.address.split(":")[2].split("/")[0])
    listening = [each.laddr for each in server.net_connections("tcp") if each.status == psutil.CONN_LISTEN]
    assert own_port in [port for _, port in listening]
    assert {address for address, _ in listening} == {"127.0.0.1"}
    answer = live.page.context.browser.new_context().request.get(  # type: ignore[union-attr]
        live.address.split("/doc/")[0] + "/api/contents/job_sheet.ipynb"
    )
    assert answer.status == 403


def test_a_second_start_leads_to_the_first(live: Live, job: Path) -> None:
    script = "import sys; from pathlib import Path; from stagefloor.entry.lab import open_job; " \
             "sys.exit(open_job(Path(sys.argv[1]), Path(sys.argv[2]), browser=False, step='cables'))"
    second = subprocess.run([sys.executable, "-c", script, str(job), str(STEPS)], capture_output=True, text=True,
                            timeout=60, check=True)
    assert f"open already, at {live.address.replace('job_sheet', 'cables')}" in second.stdout
    types_and_gets_an_answer(live, "still alive")


def test_fields_that_a_slow_machine_loses_come_back(tmp_path: Path) -> None:
    """The page looks for a field each 100 ms for two seconds; here it looks once, too early, and gives up."""
    slow = """
        const plain = window.setTimeout;
        window.setTimeout = (call, wait, ...rest) => plain(call, wait === 100 ? 2600 : wait, ...rest);
    """
    with live_lab(tmp_path / "slow", workbook=STEPS, script=slow) as live:
        types_and_gets_an_answer(live, "late but here")
        assert [complaint for complaint in live.complaints if "widget model not found" in complaint]


@NO_SIGNAL
def test_ctrl_c_closes_everything(tmp_path: Path) -> None:
    with serve(tmp_path / "hall", STEPS, "job_sheet") as (server, _, said):
        children = psutil.Process(server.pid).children(recursive=True)
        assert children
        server.send_signal(signal.SIGINT)
        assert server.wait(timeout=30) == 0
        _, alive = psutil.wait_procs(children, timeout=10)
        assert alive == []
        assert "Traceback" not in "".join(said)


@NO_SIGNAL
def test_the_launcher_lists_jobs_opens_the_one_named_and_says_how_to_go_on(tmp_path: Path) -> None:
    """What a double click on the launcher starts, without its set-up."""
    job = demo_job("one_box", tmp_path)
    start = [sys.executable, "-m", "stagefloor", "start", "--no-browser"]
    with serve(job, STEPS, "", start, f"{job}\n") as (server, address, said):
        with urllib.request.urlopen(address, timeout=30) as answer:
            page = answer.read().decode()
        assert '"appName": "Stagefloor"' in page
        server.send_signal(signal.SIGINT)
        assert server.wait(timeout=30) == 0
        told = "".join(said)
    assert told.startswith("Which job? Type a number, or a name for a new job, then Enter.\n")
    assert "  one_box  (a demo)\n" in told
    assert "The job is open at http://127.0.0.1:" in told
    assert "Leave this window open while you work; what you type is kept as you go. Ctrl+C here closes the job." in told
    assert "Traceback" not in told
    assert (job / ".open" / "job_sheet.ipynb").is_file()


def test_the_browser_is_started_with_a_link_that_works_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every user of a computer can read the list of its processes: a token there would be everybody's."""
    started, browser = tmp_path / "started", tmp_path / "browser"
    browser.write_text(f'#!{sys.executable}\nimport sys\nopen({str(started)!r}, "a").write(sys.argv[1] + "\\n")\n')
    browser.chmod(0o755)
    monkeypatch.setenv("BROWSER", str(browser))
    monkeypatch.setenv("STAGEFLOOR_HOME", str(tmp_path / "home"))
    job = demo_job("one_box", tmp_path)
    start = [sys.executable, "-m", "stagefloor", "open", str(job)]
    with serve(job, STEPS, "", start) as (_, address, _said):
        again = subprocess.run([*start, "--step", "boxes"], env={**os.environ, "PYTHONPATH": str(TOP / "lib")}, text=True,
                               capture_output=True, timeout=60, check=True)
        assert "The job is open already" in again.stdout
        links = started.read_text().split()
        assert [link.startswith(f"{address.split('/doc/')[0]}/first/") for link in links] == [True, True]
        assert all(address.split("token=")[1] not in link for link in links)
        for link, step in zip(links, ("job_sheet", "boxes"), strict=True):
            with urllib.request.urlopen(link, timeout=30) as answer:
                assert answer.url.split("?")[0].endswith(f"/doc/tree/{step}.ipynb")
                assert '"appName": "Stagefloor"' in answer.read().decode()
            with pytest.raises(urllib.error.HTTPError, match="410"):
                urllib.request.urlopen(link, timeout=30)


def test_a_strangers_code_waits_for_the_user(tmp_path: Path) -> None:
    job = tmp_path / "from_a_stranger"
    job.mkdir()
    stranger = json.loads((STEPS / "inventory.ipynb").read_text(encoding="utf-8"))
    mark = tmp_path / "was_here"
    for cell in stranger["cells"]:
        if cell["cell_type"] == "code":
            cell["source"] = f"open({str(mark)!r}, 'w').close()"
    (job / "inventory.ipynb").write_text(json.dumps(stranger), encoding="utf-8")
    with live_lab(job, workbook=STEPS) as live:
        live.page.locator(f"{STEP}.jp-NotebookPanel-toolbar").get_by_text("Inventory").click()
        live.page.wait_for_selector("h1:has-text('Inventory') >> visible=true")
        live.page.wait_for_timeout(1500)
        assert not mark.exists()
