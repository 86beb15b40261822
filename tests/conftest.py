"""What all tests share: browser tests are skipped, with the reason, on a machine without a browser."""

import os
import tempfile
from pathlib import Path

import pytest
from browser import find_chromium

os.environ["PYTHONPATH"] = str(Path(__file__).parents[1] / "lib")  # for tests that start a Python of their own

os.environ["STAGEFLOOR_HOME"] = tempfile.mkdtemp(prefix="stagefloor-home-")  # no test touches the user's own


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip browser tests if there is no Chromium; in CI a skip counts as a failure (tests/run.py)."""
    if find_chromium():
        return
    reason = "no Chromium was found; install it (Debian: apt install chromium) or name it in CHROMIUM"
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.skip(reason=reason))
