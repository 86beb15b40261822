"""Runs a reader's page notebooks in one process that is handed that reader's file and nothing else.

Knows neither the job nor what is on the pages.
"""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager

import stagefloor.package.lean_import  # noqa: F401  (before jupyter_client and nbclient)
from stagefloor.core.problems import Problem
from stagefloor.readers.client.pages import PAGE_FILE

LIBRARY = Path(__file__).resolve().parents[2]
# What the page process must never hold: whoever imports one of them there gets an ImportError.
WALLED_OFF = ("stagefloor.job", "stagefloor.steps", "stagefloor.results", "stagefloor.entry", "stagefloor.package",
              "stagefloor.calculations")
# The few variables without which Python does not start on one system or the other.
ENVIRONMENT = ("PATH", "SYSTEMROOT", "SYSTEMDRIVE", "TEMP", "TMP", "TMPDIR", "LANG", "LC_ALL", "LD_LIBRARY_PATH")
FRESH_START = ("import sys as _sys\n"
               f"for _name in {WALLED_OFF!r}:\n    _sys.modules[_name] = None\n"
               "get_ipython().reset(new_session=True)")
CELL_SECONDS = 120


class _OwnPython(KernelSpecManager):
    """This Python and no other, whatever the user's own set-up names 'python3'."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        return KernelSpec(argv=[sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}",
                                "--HistoryManager.enabled=False"],
                          display_name=kernel_name, language="python")


class PageProcess:
    """One process for the pages. `folder`: a private folder that holds the reader's file and nothing else."""

    def __init__(self, folder: Path, page_file: Path) -> None:
        self.folder = folder
        self.page_file = page_file
        self._manager: Any = None
        self._client: Any = None

    async def start(self) -> None:
        """Start the process; it begins to load while the caller does something else."""
        kept = {name: os.environ[name] for name in ENVIRONMENT if name in os.environ}
        settings = self.folder / "settings"
        settings.mkdir(exist_ok=True)
        kept |= {PAGE_FILE: str(self.page_file), "PYTHONPATH": str(LIBRARY), "IPYTHONDIR": str(settings),
                 "HOME": str(settings), "USERPROFILE": str(settings),
                 "PYTHONNOUSERSITE": "1", "JUPYTER_RUNTIME_DIR": str(settings)}
        # sockets in the private folder where the system has them, so that nobody else on the machine can listen
        self._manager = AsyncKernelManager(kernel_spec_manager=_OwnPython(), kernel_name="pages",
                                           transport="ipc" if os.name == "posix" else "tcp",
                                           connection_file=str(settings / "pages.json"))
        await self._manager.start_kernel(env=kept, cwd=str(self.folder), stderr=subprocess.DEVNULL)

    async def run(self, notebook: Path) -> Any:
        """Run one page notebook from a fresh start and return it with its outputs.

        Raises Problem if a cell fails, the process dies or a cell takes longer than CELL_SECONDS.
        """
        import nbformat
        from nbclient import NotebookClient
        from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

        page = nbformat.read(notebook, as_version=4)
        page.cells.insert(0, nbformat.v4.new_code_cell(FRESH_START))
        client = NotebookClient(page, km=self._manager, timeout=CELL_SECONDS, startup_timeout=60)
        try:
            client.kc = await self._channels()
            await client.async_execute(cleanup_kc=False)
        except CellExecutionError as error:
            raise Problem(f"The page '{notebook.stem}' could not be made ({error.ename}: {error.evalue}); nothing was "
                          "written. This is a fault of the program, please report it.", notebook.stem) from error
        except (CellTimeoutError, DeadKernelError, RuntimeError) as error:
            raise Problem(f"The page '{notebook.stem}' could not be made: the process that makes it stopped or took "
                          f"longer than {CELL_SECONDS} s; nothing was written. Close other programs and try again.",
                          notebook.stem) from error
        page.cells.pop(0)
        return page

    async def _channels(self) -> Any:
        if self._client is None:
            self._client = self._manager.client()
            self._client.start_channels()
            await self._client.wait_for_ready(timeout=60)
        return self._client

    async def stop(self) -> None:
        """End the process, whatever it is doing."""
        if self._client is not None:
            self._client.stop_channels()
        if self._manager is not None and self._manager.has_kernel:
            await self._manager.shutdown_kernel(now=True)
