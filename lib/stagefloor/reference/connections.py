"""What each kind of connection is by default: connector, gender rule, depths, whether it may appear twice."""

from dataclasses import dataclass
from functools import lru_cache

from stagefloor.core.workings import Basis
from stagefloor.reference import tables


@dataclass(frozen=True)
class Connection:
    """One kind. Depths in metres; `letter` begins the line's label; `duplicate` is yes, tolerable or never."""

    kind: str
    letter: str
    connector: str
    panel_gender: str
    duplicate: str
    d_size: bool
    depth_front: float
    depth_behind: float
    reading: str
    basis: Basis


@lru_cache(maxsize=1)
def connections() -> dict[str, Connection]:
    """All kinds by name, in the order in which people list them."""
    found = {}
    for row in tables.load("connections"):
        kind = row.key[0]
        found[kind] = Connection(kind, row.text("letter"), row.text("connector"), row.text("panel_gender"),
                                 row.text("duplicate"), row.text("d_size") == "yes", row.si("depth_front"),
                                 row.si("depth_behind"), row.text("reading"), row.basis())
    return found
