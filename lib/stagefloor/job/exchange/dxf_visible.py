"""What is to be seen of a DXF drawing: parts on layers that are on, blocks unfolded, counted before they are.

Layers as the published DXF reference tells them, and common practice where it is silent: what is frozen is not drawn, and
a block that stands on a frozen layer not at all; of a block on a layer that is off, what lies on layer 0 inside is off too,
and the rest follows its own layers.
"""

from collections.abc import Iterable, Iterator

from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.protocols import SupportsVirtualEntities, virtual_entities

from stagefloor.core.problems import Problem
from stagefloor.job.exchange.outlines import Budget

MOST_UNFOLDED = 60_000  # parts that are to be seen, with the content of each block where it is used
MOST_LOOKED_AT = 80_000  # with those that are off: they take as long to unfold
MOST_NESTED = 40
PARTS = "parts to be seen, blocks unfolded"
NO_PLOT = "defpoints"  # a layer that is never printed
OF_ITS_BLOCK = "0"  # the layer whose parts go with the block that they lie in


class Visible:
    """The parts of a drawing's model space that are to be seen; a Problem if they unfold to more than is read."""

    def __init__(self, document: Drawing, name: str) -> None:
        self.document, self.name = document, name
        self.off = {layer.dxf.name.lower() for layer in document.layers if layer.is_off()}
        self.frozen = {layer.dxf.name.lower() for layer in document.layers if layer.is_frozen()} | {NO_PLOT}
        self._sizes: dict[tuple[str, bool], tuple[int, int]] = {}
        seen, looked_at = self._sum(document.modelspace(), None, ())
        Budget(name, MOST_UNFOLDED, PARTS).spend(seen)
        Budget(name, MOST_LOOKED_AT, "parts, blocks unfolded, with those that are off", "delete").spend(looked_at)

    def parts(self) -> Iterator[DXFEntity]:
        """Simple parts, each where it is seen."""
        return self._parts(self.document.modelspace(), None)

    def _parts(self, entities: Iterable[DXFEntity], within: bool | None) -> Iterator[DXFEntity]:
        for entity in entities:
            off = self._off(entity, within)
            if off is None:
                continue
            if isinstance(entity, Insert):
                if self._part(entity, within, ())[0]:
                    for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
                        yield from self._parts(virtual_entities(one), off)
            elif isinstance(entity, SupportsVirtualEntities):  # a dimension, a leader: it has a block of its own
                yield from self._parts(virtual_entities(entity), off)
            elif not off:
                yield entity

    def _off(self, entity: DXFEntity, within: bool | None) -> bool | None:
        """Whether a part is off; None: it is gone, with all that is in it. `within`: whether the block around it is off."""
        layer = str(entity.dxf.get("layer", OF_ITS_BLOCK)).lower()
        if entity.dxf.get("invisible", 0):
            return None
        if layer == OF_ITS_BLOCK and within is not None:
            return within
        return None if layer in self.frozen else layer in self.off

    def _sum(self, entities: Iterable[DXFEntity], within: bool | None, names: tuple[str, ...]) -> tuple[int, int]:
        counted = [self._part(e, within, names) for e in entities]
        return sum(seen for seen, _ in counted), sum(looked_at for _, looked_at in counted)

    def _part(self, entity: DXFEntity, within: bool | None, names: tuple[str, ...]) -> tuple[int, int]:
        """How many parts are seen once it is unfolded, and looked at for that. `names`: of the blocks around it."""
        off = self._off(entity, within)
        if off is None:
            return 0, 1
        if entity.dxftype() != "INSERT":
            return int(not off), 1
        rows, columns = (max(1, int(entity.dxf.get(n, 1))) for n in ("row_count", "column_count"))
        seen, looked_at = self._block(str(entity.dxf.get("name", "")), off, names)
        return rows * columns * seen, rows * columns * looked_at if seen else 1  # of what is off whole nothing is unfolded

    def _block(self, name: str, off: bool, names: tuple[str, ...]) -> tuple[int, int]:
        key = name.lower()
        if key in names or len(names) > MOST_NESTED:
            raise Problem(f"{self.name} has a block that holds itself, or blocks {MOST_NESTED} deep; it can't be unfolded. "
                          "Save the sheet as a PDF.")
        if (key, off) not in self._sizes:
            block = self.document.blocks.get(name)
            seen, looked_at = self._sum(block, off, (*names, key)) if block is not None else (0, 0)
            self._sizes[key, off] = seen, 1 + looked_at
        return self._sizes[key, off]
