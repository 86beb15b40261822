"""Older job files become current ones by ordered, named steps; a newer one is refused politely."""

from collections.abc import Callable

from stagefloor.core.problems import Problem

FORMAT = 1

# from format -> (name of the step, the step); each may run again without harm
STEPS: dict[int, tuple[str, Callable[[dict[str, object]], dict[str, object]]]] = {}


def upgraded(data: dict[str, object], where: str) -> dict[str, object]:
    """The data in the current format; a Problem if it is newer than this version, or has no format."""
    found = data.get("format")
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        raise Problem(f"{where} does not say which format it has; it was left as it is.")
    if found > FORMAT:
        raise Problem(f"{where} was written by a newer version (format {found}, this one reads {FORMAT}); "
                      "it was left as it is. Fetch the newer workbook, then open it.")
    while found < FORMAT:
        data = STEPS[found][1](data)
        found += 1
    return data
