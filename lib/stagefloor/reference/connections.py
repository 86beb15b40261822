"""What each kind of connection is by default: connector, gender rule, depths, whether it may appear twice."""

from dataclasses import dataclass
from functools import lru_cache

from stagefloor.core.workings import Basis
from stagefloor.reference import tables


@dataclass(frozen=True)
class Connection:
    """One kind. Depths in metres; `letter` begins the line's label; `duplicate` is yes, tolerable or never.

    `who` terminates it, what is done on the `bench` and `in_place`, with which `tool` and `hardware`; `time_class`:
    usual (about 6 minutes an end), long (about 10), from the mid values of the labour table.
    """

    kind: str
    letter: str
    connector: str
    panel_gender: str
    duplicate: str
    d_size: bool
    depth_front: float
    depth_behind: float
    reading: str
    who: str
    bench: str
    in_place: str
    tool: str
    hardware: str
    time_class: str
    basis: Basis


@lru_cache(maxsize=1)
def connections() -> dict[str, Connection]:
    """All kinds by name, in the order in which people list them."""
    found = {}
    for row in tables.load("connections"):
        kind = row.key[0]
        found[kind] = Connection(kind, row.text("letter"), row.text("connector"), row.text("panel_gender"),
                                 row.text("duplicate"), row.text("d_size") == "yes", row.si("depth_front"),
                                 row.si("depth_behind"), row.text("reading"), row.text("who"), row.text("bench"),
                                 row.text("in_place"), row.text("tool"), row.text("hardware"), row.text("time_class"),
                                 row.basis())
    return found
