"""Opens a job in JupyterLab with every step already alive; the user's own Jupyter is left alone.

A step must be ready to type in, without a click on 'run'. So the server's contents manager, asked for a step,
first starts its session, runs its cells there and hands the outputs over; the page then joins that session
and its fields come from the running Python. Outputs live in memory only: a saved step holds none.
"""

import asyncio
import contextlib
import json
import os
import re
import shutil
import signal
import socket
import sys
import tempfile
import webbrowser
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyterlab.labapp import LabApp
from nbformat.v4 import output_from_msg
from traitlets.config import Config

from stagefloor.core.problems import Problem
from stagefloor.core.words import local
from stagefloor.entry.first_link import FirstLinks, another
from stagefloor.entry.open_once import already_open, forget, note_open
from stagefloor.entry.step_copies import STEPS, code_cells, place_steps, shipped_steps
from stagefloor.job import store

CLOSE_TIMEOUT = 10.0  # seconds
STEP_TIMEOUT = 120.0  # seconds for one cell; a step that hangs is shown with what it has
RUN_COPIES = ".open"
TITLES = {name: f"{place}  {name.replace('_', ' ').capitalize()}" for place, name in enumerate(STEPS, 1)}
COLOURS = re.compile(r"\x1b\[[0-9;]*m")  # a terminal's colour marks, noise in a file
NOT_SHOWN = (
    "This part of the step could not be shown ({name}: {text}). What was typed earlier is kept in the job. "
    "Press 'Start this step again' at the top; if it comes back, send this sentence and the file trouble.txt "
    "from the job's folder .open to whoever looks after the workbook.\n"
)

Output = dict[str, Any]


class LiveSteps:
    """Starts a session for each step notebook, runs its cells there and keeps what they showed."""

    def __init__(self, server: Any, shipped: list[Path]) -> None:
        self.server = server
        self.names = {path.name for path in shipped}
        self.known_code = {
            text for path in shipped for text in code_cells(json.loads(path.read_text(encoding="utf-8")))
        }
        self.shown: dict[str, tuple[object, dict[tuple[str, int], list[Output]]]] = {}
        self.closing = False
        self.running: asyncio.Task[list[list[Output]]] | None = None
        self.one_at_a_time = asyncio.Lock()  # two cores: a second kernel starting would slow the first page

    async def fill(self, path: str, notebook: dict[str, Any]) -> None:
        """Give the notebook's code cells the outputs of its running session, starting it if need be.

        Code that is neither ours nor saved by this user is not run: the user starts such a step himself.
        """
        cells = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
        if not all(cell["source"] in self.known_code or cell["metadata"].get("trusted") for cell in cells):
            return
        async with self.one_at_a_time:
            outputs = {} if self.closing else await self._outputs(path, [cell["source"] for cell in cells])
        for cell, key in zip(cells, _keys(cell["source"] for cell in cells), strict=True):
            cell["outputs"] = outputs.get(key, [])
            cell["metadata"]["trusted"] = True

    async def close(self) -> None:
        """Break off the step that is under way, which would keep the process from ending; stop the server."""
        self.closing = True
        if self.running is not None:
            self.running.cancel()
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(CLOSE_TIMEOUT), self.one_at_a_time:
                pass  # a kernel that is just starting must have started before it can be shut down
        self.server.stop()

    async def _outputs(self, path: str, sources: list[str]) -> dict[tuple[str, int], list[Output]]:
        kernels, sessions = self.server.kernel_manager, self.server.session_manager
        if await sessions.session_exists(path=path):
            session = await sessions.get_session(path=path)
        else:
            session = await sessions.create_session(
                path=path, name=path, type="notebook", kernel_name="python3"
            )
        manager = kernels.get_kernel(session["kernel"]["id"])
        life = getattr(manager.provisioner, "pid", None)  # another one after each restart
        known_life, outputs = self.shown.get(path, (None, {}))
        if not self.closing and (life is None or life != known_life):
            self.running = asyncio.create_task(_run_cells(manager, sources))
            await asyncio.wait([self.running])
            if self.running.cancelled():
                return {}
            outputs = dict(zip(_keys(sources), self.running.result(), strict=False))
            self.shown[path] = (life, outputs)
        return outputs


def _keys(sources: Any) -> Iterator[tuple[str, int]]:
    """A key that holds when cells are moved or added: the cell's text, and which of equal ones it is."""
    seen: Counter[str] = Counter()
    for source in sources:
        seen[source] += 1
        yield source, seen[source]


async def _run_cells(manager: Any, sources: list[str]) -> list[list[Output]]:
    """Run the cells one by one in a running kernel; a cell that fails does not keep the next from showing."""
    client = manager.client()
    client.start_channels(hb=False)  # its thread would outlive a server that is closed meanwhile
    shown: list[list[Output]] = []
    try:
        await client.wait_for_ready(timeout=STEP_TIMEOUT)
        for source in sources:
            outputs: list[Output] = []
            shown.append(outputs)
            await client.execute_interactive(
                source,
                allow_stdin=False,
                stop_on_error=False,
                timeout=STEP_TIMEOUT,
                output_hook=lambda message, outputs=outputs: _collect(message, outputs),
            )
    except (TimeoutError, RuntimeError) as trouble:
        text = NOT_SHOWN.format(name="no answer", text=trouble or "it took too long")
        shown.append([_stderr(text)]) if not shown else shown[-1].append(_stderr(text))
    finally:
        client.stop_channels()
    return shown


def _collect(message: dict[str, Any], outputs: list[Output]) -> None:
    """Add what one message of a running cell shows to the cell's outputs, as a notebook page would."""
    kind, content = message["header"]["msg_type"], message["content"]
    if kind == "clear_output":
        outputs.clear()
    elif kind == "error":
        _note_trouble("\n".join(content["traceback"]))
        outputs.append(_stderr(NOT_SHOWN.format(name=content["ename"], text=content["evalue"])))
    elif kind in ("display_data", "execute_result"):
        output = dict(output_from_msg(message))
        if kind == "execute_result":
            output["execution_count"] = None
        outputs.append(output)
    elif kind == "stream":
        last = outputs[-1] if outputs else {}
        if last.get("output_type") == "stream" and last["name"] == content["name"]:
            last["text"] += content["text"]
        else:
            outputs.append(dict(output_from_msg(message)))


def _note_trouble(trace: str) -> None:
    """Keep what a programmer needs in the job's .open folder, out of the user's sight."""
    kept = Path(os.environ["STAGEFLOOR_JOB"]) / RUN_COPIES / "trouble.txt"
    with contextlib.suppress(OSError):
        kept.parent.mkdir(exist_ok=True)
        with kept.open("a", encoding="utf-8") as file:
            file.write(COLOURS.sub("", trace) + "\n\n")


def _stderr(text: str) -> Output:
    return {"output_type": "stream", "name": "stderr", "text": text}


class QuietKernels(AsyncMappingKernelManager):
    """The server's kernels, whose last words when they are broken off do not reach the user's window."""

    async def start_kernel(self, *args: Any, **kwargs: Any) -> Any:  # type: ignore[override]
        """As the server's own, with the kernel's error stream in a file of this opening."""
        # Left open: a step that dies is started again with the same stream, long after this call.
        words = open(Path(os.environ["JUPYTER_RUNTIME_DIR"]) / "kernels.txt", "a", encoding="utf-8")  # noqa: SIM115
        return await super().start_kernel(*args, stderr=words, **kwargs)


class LiveContents(AsyncLargeFileManager):
    """The server's files, where a step is handed over alive and saved without what it showed."""

    live: LiveSteps | None = None

    async def get(self, path: str, content: bool = True, *args: Any, **kwargs: Any) -> Any:
        """As the server's own `get`; a step's content comes with the outputs of its running session."""
        model = await super().get(path, content, *args, **kwargs)
        if content and self.live is not None and model["path"] in self.live.names:
            await self.live.fill(model["path"], model["content"])
        return model

    async def save(self, model: dict[str, Any], path: str = "") -> Any:
        """As the server's own `save`; a step's outputs are left out, as they are figures of one day."""
        if self.live is not None and path.strip("/") in self.live.names and model.get("content"):
            for cell in model["content"]["cells"]:
                if cell["cell_type"] == "code":
                    cell["outputs"], cell["execution_count"] = [], None
            model["content"].get("metadata", {}).pop("widgets", None)
        return await super().save(model, path)


def _basis(job: Path) -> str:
    """The code basis of the job, for the words of the bar; a job that can't be read says so on its own pages."""
    try:
        return store.read(job).job.settings.basis
    except Problem:
        return ""


def _step_bar(steps: list[Path], basis: str) -> list[dict[str, Any]]:
    """Toolbar: the steps in order and one way to start a step again, instead of Jupyter's own tools."""
    stock = ("save", "insert", "cut", "copy", "paste", "run", "interrupt", "restart", "restart-and-run",
             "cellType", "kernelName", "executionProgress")  # fmt: skip
    bar: list[dict[str, Any]] = [{"name": name, "disabled": True} for name in stock]
    for place, path in enumerate(steps):
        label = local(TITLES.get(path.stem, path.stem.replace("_", " ").capitalize()), basis)
        bar.append({"name": f"step-{path.stem}", "command": "docmanager:open", "args": {"path": path.name},
                    "label": label, "caption": f"Go to {label}", "icon": "", "rank": place})  # fmt: skip
    bar.append({"name": "note", "command": "apputils:run-all-enabled", "label": "Add a note",
                "args": {"commands": ["notebook:insert-cell-below", "notebook:enter-edit-mode"]},
                "caption": "Write a note below the part you are in", "icon": "", "rank": 190})  # fmt: skip
    again = "Start this step again"
    bar.append({"name": "again", "command": "notebook:restart-run-all", "label": again, "caption": again,
                "icon": "", "rank": 200})  # fmt: skip
    return bar


def _overrides(steps: list[Path], basis: str) -> dict[str, Any]:
    """JupyterLab settings for a calm page: no news, no update check, no code tools."""
    return {
        "@jupyterlab/apputils-extension:notification": {
            "checkForUpdates": False, "fetchNews": "false", "doNotDisturbMode": True},
        # one thread for all fields: an edit and the views that follow it must not meet half-way
        "@jupyterlab/apputils-extension:kernels-settings": {"commsOverSubshells": "disabled"},
        "@jupyterlab/apputils-extension:sessionDialogs": {"skipKernelRestartDialog": True},
        "@jupyterlab/apputils-extension:themes": {"theme": "JupyterLab Light"},
        "@jupyterlab/docmanager-extension:plugin": {"autosaveInterval": 20},
        "@jupyterlab/notebook-extension:tracker": {
            "windowingMode": "defer", "scrollPastEnd": False, "showHiddenCellsButton": False,
            "recordTiming": False, "defaultCell": "markdown", "autoRenderMarkdownCells": True},
        "@jupyterlab/notebook-extension:panel": {"toolbar": _step_bar(steps, basis)},
    }  # fmt: skip


def _keys_switched_off() -> list[dict[str, Any]]:
    """Shortcuts that act on whole cells: one letter, typed beside a field, would delete part of a step."""
    schema = Path(sys.prefix, "share", "jupyter", "lab", "schemas", "@jupyterlab", "notebook-extension")
    shortcuts = json.loads((schema / "tracker.json").read_text(encoding="utf-8"))["jupyter.lab.shortcuts"]
    return [
        {**shortcut, "disabled": True}
        for shortcut in shortcuts
        if "jp-mod-commandMode" in shortcut["selector"] and any(shortcut["keys"])
    ]


def _write_home(home: Path, steps: list[Path], basis: str) -> None:
    """A Jupyter home for this one opening: settings, page style, nothing of the user's own."""
    for name in ("config/custom", "settings", "user", "workspaces", "runtime", "data"):
        (home / name).mkdir(parents=True)
    (home / "settings" / "overrides.json").write_text(json.dumps(_overrides(steps, basis)), encoding="utf-8")
    keys = home / "user" / "@jupyterlab" / "shortcuts-extension" / "shortcuts.jupyterlab-settings"
    keys.parent.mkdir(parents=True)
    keys.write_text(json.dumps({"shortcuts": _keys_switched_off()}), encoding="utf-8")
    switched_off = [
        "@jupyterlab/apputils-extension:announcements", "@jupyterlab/extensionmanager-extension",
        "@jupyterlab/debugger-extension", "@jupyterlab/lsp-extension",
        "@jupyterlab/fileeditor-extension:language-server", "@jupyterlab/notebook-extension:language-server",
    ]  # fmt: skip
    page = {"disabledExtensions": switched_off}
    (home / "settings" / "page_config.json").write_text(json.dumps(page), encoding="utf-8")
    shutil.copy(Path(__file__).with_name("lab.css"), home / "config" / "custom" / "custom.css")
    helper = home / "labextensions" / "stagefloor"
    (helper / "static").mkdir(parents=True)
    shutil.copy(Path(__file__).with_name("lab.js"), helper / "static" / "lab.js")
    build = {"load": "static/lab.js", "extension": "./extension"}
    package = {"name": "stagefloor", "version": "0.1.0", "jupyterlab": {"_build": build}}
    (helper / "package.json").write_text(json.dumps(package), encoding="utf-8")


def _use_home(home: Path, job: Path) -> None:
    """Point Jupyter and the kernels that it starts at this home and this job, before Jupyter looks."""
    for name in ("JUPYTER_PATH", "JUPYTER_CONFIG_PATH", "JUPYTER_TOKEN", "JUPYTERLAB_DIR"):
        os.environ.pop(name, None)
    library = str(Path(__file__).parents[2])
    os.environ.update(
        JUPYTER_CONFIG_DIR=str(home / "config"),
        JUPYTER_DATA_DIR=str(home / "data"),
        JUPYTER_RUNTIME_DIR=str(home / "runtime"),
        JUPYTERLAB_SETTINGS_DIR=str(home / "user"),
        JUPYTERLAB_WORKSPACES_DIR=str(home / "workspaces"),
        IPYTHONDIR=str(home / "ipython"),
        JUPYTER_PREFER_ENV_PATH="1",
        PYTHONNOUSERSITE="1",
        PYTHONPATH=library,
        STAGEFLOOR_JOB=str(job),
    )


def _config(home: Path, folder: Path, port: int, expose: bool) -> Config:
    signatures = Path(sys.prefix) / "signatures"
    signatures.mkdir(exist_ok=True)
    config = Config()
    config.ServerApp.update(
        ip="127.0.0.1", port=port, port_retries=0, root_dir=str(folder), open_browser=False, answer_yes=True,
        terminals_enabled=False, log_level="ERROR", contents_manager_class=LiveContents, quit_button=False,
        kernel_manager_class=QuietKernels,
        allow_remote_access=False, password="", certfile="", allow_root=True,
        jpserver_extensions={"jupyterlab": True, "jupyter_lsp": False, "jupyter_server_terminals": False},
    )  # fmt: skip
    config.LabApp.update(
        app_settings_dir=str(home / "settings"), user_settings_dir=str(home / "user"),
        workspaces_dir=str(home / "workspaces"), custom_css=True, news_url=None, extension_manager="readonly",
        check_for_updates_class="jupyterlab.NeverCheckForUpdate", expose_app_in_browser=expose,
        extra_labextensions_path=[str(home / "labextensions")], log_level="ERROR",
    )  # fmt: skip
    config.Application.log_level = "ERROR"
    config.KernelSpecManager.allowed_kernelspecs = {"python3"}
    config.NotebookNotary.data_dir = str(signatures)
    config.KernelManager.transport_encryption = "auto"  # other users of this machine can't listen in
    return config


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def notebook_folder(job: Path, workbook: Path) -> tuple[Path, list[str]]:
    """Where the job's step notebooks are: its own, or fresh copies in an ignored folder beside its job file.

    Returns the folder, and a sentence for each copy that a user changed and the workbook has overtaken.
    Raises Problem if the folder of the job can't be written.
    """
    own = any((job / path.name).exists() for path in shipped_steps(workbook))
    folder = job if own else job / RUN_COPIES
    try:
        return folder, place_steps(workbook, folder)
    except OSError as trouble:
        raise Problem(
            f"The steps can't be written to {folder} ({trouble.strerror}); copy the job's folder to a place "
            "where you may write and open it there."
        ) from trouble


def open_job(
    job: Path, workbook: Path, browser: bool = True, step: str | None = None, expose: bool = False
) -> int:
    """Serve the job on this machine only until Ctrl+C; returns the exit status.

    `workbook` is the folder of the step notebooks, `step` the one shown first (default: the first of them).
    `expose` lets a test drive the page. Raises Problem for a job that can't be opened.
    """
    job = job.resolve()
    folder, sentences = notebook_folder(job, workbook)
    steps = shipped_steps(workbook)
    if not steps:
        raise Problem(f"There are no steps in {workbook}; fetch the workbook again.")
    names = [path.stem for path in steps]
    if step and step not in names:
        raise Problem(f"There is no step '{step}'; the steps are {', '.join(names)}.")
    if address := already_open(job, step):
        print(f"The job is open already, at {address}\nYou are led there; the window that serves it stays as it is.",
              flush=True)
        if browser:
            webbrowser.open(another(address))
        return 0
    first = f"{step or names[0]}.ipynb"
    home = Path(tempfile.mkdtemp(prefix="stagefloor-"))
    try:
        _write_home(home, steps, _basis(job))
        _use_home(home, job)
        server = LabApp.initialize_server(argv=[], config=_config(home, folder, _free_port(), expose))
        live = server.contents_manager.live = LiveSteps(server, steps)
        for lab in server.extension_manager.extension_apps["jupyterlab"]:
            lab.app_name = "Stagefloor"  # the title of the browser's tab
        address = f"{server.local_url.split('?')[0].removesuffix('/lab').rstrip('/')}/doc/tree/{first}"
        address += f"?token={server.identity_provider.token}"
        server.log.addFilter(lambda record: "To access the server" not in record.getMessage())  # see _greet
        for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):  # Ctrl+C, a window closed: no question asked
            if hasattr(signal, name):
                signal.signal(
                    getattr(signal, name), lambda *_: server.io_loop.add_callback_from_signal(live.close)
                )
        note_open(job, address)
        links = FirstLinks()
        links.serve(server.web_app)
        server.io_loop.add_callback(_greet, live, address, links.to(address) if browser else "",
                                    [first, *(path.name for path in steps)])
        for sentence in sentences:
            print(sentence)
        server.start()
    finally:
        forget(job)
        shutil.rmtree(home, ignore_errors=True)
    return 0


async def _greet(live: LiveSteps, address: str, link: str, paths: list[str]) -> None:
    """Show the first step as soon as it is alive, in the browser by its `link` if there is one; then wake the others."""
    for path in dict.fromkeys(paths):
        with contextlib.suppress(Exception):  # a step that can't be read says so when it is opened
            await live.server.contents_manager.get(path, content=True)
        if live.closing:
            return
        if path == paths[0]:
            print(f"The job is open at {address}\nLeave this window open while you work; what you type is "
                  "kept as you go. Ctrl+C here closes the job.", flush=True)  # fmt: skip
            if link:
                await asyncio.get_running_loop().run_in_executor(None, webbrowser.open, link)
