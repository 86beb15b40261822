"""Puts a job's own copies of the step notebooks where Jupyter can open them; knows files, not Jupyter."""

import hashlib
import json
from pathlib import Path
from typing import Any

STEPS = ("job_sheet", "inventory", "boxes", "cables", "labour", "closeout")
STAMP = "stagefloor"


def shipped_steps(workbook: Path) -> list[Path]:
    """The step notebooks in `workbook`, in the order in which a job is walked; others follow by name."""
    order = {name: place for place, name in enumerate(STEPS)}
    return sorted(workbook.glob("*.ipynb"), key=lambda path: (order.get(path.stem, len(STEPS)), path.name))


def code_cells(notebook: dict[str, Any]) -> list[str]:
    """The text of each code cell of a notebook, in order."""
    return [_text(cell) for cell in notebook.get("cells", []) if cell.get("cell_type") == "code"]


def digest(notebook: dict[str, Any]) -> str:
    """A short digest of what a person wrote in a notebook: kinds and texts of cells, nothing Jupyter adds."""
    written = [[cell.get("cell_type"), _text(cell)] for cell in notebook.get("cells", [])]
    return hashlib.sha256(json.dumps(written).encode()).hexdigest()[:16]


def place_steps(workbook: Path, folder: Path) -> list[str]:
    """Copy each step notebook from `workbook` into `folder`, and never over anything that a user wrote.

    A copy remembers the digest of the version it came from. One that was left alone follows the workbook;
    one that was changed stays. Returns a sentence for each changed copy that the workbook has overtaken.
    """
    folder.mkdir(parents=True, exist_ok=True)
    kept = []
    for source in shipped_steps(workbook):
        shipped = json.loads(source.read_text(encoding="utf-8"))
        target = folder / source.name
        version = digest(shipped)
        if target.exists():
            came_from, now = _versions(target)
            if came_from == version:
                continue
            if now != came_from:
                kept.append(
                    f"{target.name} in {folder} holds your own changes and the workbook has a newer version; "
                    "yours is kept, rename it to receive the new one."
                )
                continue
        shipped.setdefault("metadata", {})[STAMP] = {"version": version}
        beside = target.with_name(target.name + ".new")
        beside.write_text(json.dumps(shipped, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        beside.replace(target)
    return kept


def _text(cell: dict[str, Any]) -> str:
    source = cell.get("source", "")
    return source if isinstance(source, str) else "".join(source)


def _versions(path: Path) -> tuple[str | None, str | None]:
    """The version a copy came from and what it holds now; an unreadable one counts as changed."""
    try:
        notebook = json.loads(path.read_text(encoding="utf-8"))
        return notebook.get("metadata", {}).get(STAMP, {}).get("version"), digest(notebook)
    except (OSError, ValueError, AttributeError):
        return None, "unreadable"
