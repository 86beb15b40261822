"""A job: its settings and its records by kind, in the user's order. Immutable; knows no file."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar, cast

from stagefloor.core.problems import Problem
from stagefloor.job.background import Background
from stagefloor.job.boxes import Box, BoxModel, Opening, PlanAdopted, Position
from stagefloor.job.cables import Cable, CableType, Circuit, Node, RestingCable, Segment
from stagefloor.job.closeout import (
    AsBuilt,
    ColumnMeaning,
    Document,
    HoldPoint,
    Punch,
    Reading,
    Remark,
    Revision,
    Spare,
    Training,
    Warranty,
)
from stagefloor.job.commercial import Application, Change, ChangeLine, IssuedPrice, Payment, Term
from stagefloor.job.fields import extra_of, shape_of
from stagefloor.job.inventory import Event, Point
from stagefloor.job.labour import (
    ActualHours,
    Burden,
    ByHand,
    Condition,
    CrewRole,
    HourUnit,
    PriceRow,
    Pricing,
    Risk,
)
from stagefloor.job.lists import LabelRule, LabelSheet, Reel
from stagefloor.job.mains import BranchCircuit, MainsLoad
from stagefloor.job.pictures import Picture
from stagefloor.job.record import Record
from stagefloor.job.sheet import (
    Bearing,
    FloorLayer,
    FloorZone,
    Joists,
    KeepClear,
    OldOutlet,
    Service,
    Settings,
    Survey,
    Tendon,
)
from stagefloor.job.sheets import Sheet, Taken
from stagefloor.job.workplan import Duty, JobDate, WorkPlan, WorkTask

RECORDS: dict[str, type[Record]] = {
    cls.kind: cls for cls in (
        Survey, FloorZone, FloorLayer, Joists, Bearing, Tendon, KeepClear, Service, OldOutlet, Event, Point, BoxModel,
        Position, Box, Opening, PlanAdopted, Node, Segment, CableType, Circuit, Cable, RestingCable, Reel, LabelRule,
        LabelSheet,
        BranchCircuit, MainsLoad, HourUnit, PriceRow, Pricing, Risk, Reading, AsBuilt, Punch, HoldPoint, Document, Remark,
        Revision, Spare, Training, Warranty, ColumnMeaning,
        CrewRole, Burden, Condition, ByHand, ActualHours, Change, ChangeLine, IssuedPrice, Payment, Application,
        Term, WorkPlan, JobDate, WorkTask, Duty, Sheet, Taken, Picture, Background)}

R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class Job:
    """One job.

    Attributes
    ----------
    settings : the one settings record
    tables : kind -> {id: record}, in the user's order
    sequence : number of the last edit; next_number : number of the next new id
    unread : (kind, id) -> {field: text in the file that could not be read}, kept as it is
    """

    settings: Settings = field(default_factory=lambda: Settings(id="job"))
    tables: Mapping[str, Mapping[str, Record]] = field(default_factory=dict)
    sequence: int = 0
    next_number: int = 1
    unread: Mapping[tuple[str, str], Mapping[str, object]] = field(default_factory=dict)

    def all(self, cls: type[R]) -> list[R]:
        """The records of one kind in the user's order."""
        return cast(list[R], list(self.tables.get(cls.kind, {}).values()))

    def find(self, cls: type[R], record_id: str) -> R | None:
        """The record with this id, or None."""
        return cast("R | None", self.tables.get(cls.kind, {}).get(record_id))

    def get(self, cls: type[R], record_id: str) -> R:
        """The record with this id; a Problem if there is none."""
        found = self.find(cls, record_id)
        if found is None:
            raise Problem(f"There is no {cls.noun} with the id '{record_id}'; it may have been deleted meanwhile.")
        return found

    def pricing(self) -> Pricing:
        rows = self.all(Pricing)
        return rows[0] if rows else Pricing(id="pricing")

    def boxes(self) -> list[Box]:
        """Boxes that are not retired."""
        return [b for b in self.all(Box) if b.state != "retired"]

    def openings(self, box_id: str) -> list[Opening]:
        """Openings of a box that are not retired, by bay and place."""
        found = [o for o in self.all(Opening) if o.box == box_id and o.state != "retired"]
        return sorted(found, key=lambda o: (o.bay, o.slot))

    def circuits(self) -> list[Circuit]:
        """Circuits that are not retired."""
        return [c for c in self.all(Circuit) if c.state != "retired"]

    def with_records(self, records: Iterable[Record]) -> "Job":
        """A job in which each record replaces the one with its id, or is added at the end of its table."""
        changed: dict[str, dict[str, Record]] = {}
        settings = self.settings
        for record in records:
            if isinstance(record, Settings):
                settings = record
            else:
                if record.kind not in changed:
                    changed[record.kind] = dict(self.tables.get(record.kind, {}))
                changed[record.kind][record.id] = record
        return replace(self, settings=settings, tables={**self.tables, **changed})

    def without(self, cls: type[Record], ids: Iterable[str]) -> "Job":
        """A job without the records with these ids."""
        gone = set(ids)
        tables = dict(self.tables)
        tables[cls.kind] = {k: v for k, v in self.tables.get(cls.kind, {}).items() if k not in gone}
        unread = {k: v for k, v in self.unread.items() if not (k[0] == cls.kind and k[1] in gone)}
        return replace(self, tables=tables, unread=unread)

    def new_ids(self, cls: type[Record], how_many: int) -> tuple["Job", list[str]]:
        """New ids that were never used in this job."""
        first = self.next_number
        ids = [f"{cls.kind}-{n}" for n in range(first, first + how_many)]
        return replace(self, next_number=first + how_many), ids


def references(record: Record) -> list[tuple[str, str, str]]:
    """(field, kind, id) of every record that this one points to."""
    found = []
    for name, info in type(record).model_fields.items():
        shape = shape_of(info)
        if shape == "ref" and getattr(record, name):
            found.append((name, str(extra_of(info, "ref")), str(getattr(record, name))))
        elif shape == "refs":
            found += [(name, str(extra_of(info, "ref")), i) for i in getattr(record, name)]
    return found


def users_of(job: Job, kind: str, record_id: str) -> list[Record]:
    """Every record that points to this one."""
    return [r for table in job.tables.values() for r in table.values()
            if any(k == kind and i == record_id for _, k, i in references(r))]
