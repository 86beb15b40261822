"""The wall around the readers: from their pages no cost, no hour and no job can be reached, not even indirectly."""

import json
import subprocess
import sys
from pathlib import Path

LIBRARY = Path(__file__).resolve().parents[2] / "lib"
LOOK = ("import json, sys; import stagefloor.readers.client, stagefloor.drawings.live; "
        "print(json.dumps(sorted(sys.modules)))")


def loaded():
    answer = subprocess.run([sys.executable, "-c", LOOK], env={"PYTHONPATH": str(LIBRARY)}, capture_output=True,
                            text=True, check=True)
    return json.loads(answer.stdout)


def test_importing_the_clients_pages_loads_neither_job_nor_results():
    ours = {name.split(".")[1] for name in loaded() if name.startswith("stagefloor.")}
    assert ours == {"core", "drawings", "readers"}


def test_importing_the_clients_pages_loads_nothing_heavy():
    assert not {"pandas", "plotly", "nbconvert", "nbclient", "ipywidgets", "highspy", "numpy"} & set(loaded())
