"""The stage on screen: boxes and points that are dragged, with reach, cables and open items following."""

from typing import Any

from stagefloor.core.problems import Problem
from stagefloor.core.units import FOOT, length_text, typed_length
from stagefloor.drawings.live import live
from stagefloor.entry.backing import LAYER, Behind
from stagefloor.entry.link import Answer, Message
from stagefloor.entry.plan import BACKGROUND, Plan
from stagefloor.entry.session import Session
from stagefloor.job import edit
from stagefloor.job.boxes import Box
from stagefloor.job.inventory import Event, Point
from stagefloor.job.model import Job
from stagefloor.results.scenes import loose_edges, stage_scene
from stagefloor.results.unit_costs import TO_COMPARE, currency_words, unit_costs
from stagefloor.steps.boxes.box_cost import box_cost
from stagefloor.steps.boxes.fit import box_items
from stagefloor.steps.sheet import without_place

PREFIX = {"floor_box": "box", "wall_panel": "box", "point": "point"}
ADD = (("box", "floor_box", "Add floor box"), ("point", "point", "Add connection point"))
KINDS: dict[str, type[Box] | type[Point]] = {"box": Box, "point": Point}
WAITING = "waiting "  # before an id: the role of a record that is in the table and has no place yet
SAME = 1e-6  # metres: nearer is where it was
NAME = 28  # letters of a name on a button
SHEET = "is placed in the job sheet, under 'Stage, rack, panel and policies'."
AT_HOME = {"box": "Floor boxes and panels are placed in the step Boxes.",
           "point": "Connection points are placed in the step Inventory.", "panel": f"The mains panel {SHEET}"}


class StagePlan:
    """A plan of the job's stage.

    Parameters
    ----------
    boxes : boxes may be placed and moved; points : points may be; otherwise they only show
    event : label of the event whose loose cables are shown at first; empty: all points with their boxes
    background : the background may be scaled, moved and turned; otherwise it only shows
    """

    def __init__(self, session: Session, name: str, *, boxes: bool = False, points: bool = False,
                 ways: bool = False, event: str = "", background: bool = False) -> None:
        self._stood: dict[str, float] = {}  # what the box under the hand costs where it stands
        self.session, self.may, self.ways, self.event = session, {"box": boxes, "point": points}, ways, event
        self.behind = Behind(session, background)
        self.plan = Plan(name, self._scene(session.job), self._change, keep_under=f"{session.path}:plan:{name}")
        self.plan.put_behind(self.behind.backing(session.job))
        session.listen(lambda: self._refresh(session.elsewhere), first=True)

    def show(self, event: str) -> None:
        """Replay one event; empty shows none."""
        self.event = event
        self.plan.update(self._scene(self.session.job), elsewhere=False)

    def _refresh(self, elsewhere: bool) -> None:
        self.plan.put_behind(self.behind.backing(self.session.job))
        self.plan.update(self._scene(self.session.job), elsewhere)

    def _scene(self, job: Job) -> dict[str, Any]:
        scene: dict[str, Any] = live(stage_scene(job, structure=True, ways=self.ways), self.event)
        self._add_edges(job, scene)
        own = self.session.words.text
        for shape in scene["shapes"]:
            shape["label"] = own(shape["label"])
        for i in scene["items"]:
            i["draggable"] = self.may.get(PREFIX.get(i["role"], ""), False)
            if not i["draggable"]:
                i["fixed"] = own(_at_home(job, i["role"]))
            if i["role"] not in PREFIX:
                i["label"] = own(i["label"])
        if self.may["box"]:
            self._mark(scene["items"])
            scene["shapes"] += self._reach(job, [i for i in scene["items"] if PREFIX.get(i["role"]) == "box"])
            scene["layers"].append({"key": "reach", "label": "Reach outlines", "on": True})
        scene["place"] = [one for kind, role, label in ADD if self.may[kind] for one in (
            {"role": role, "label": label}, *waiting(job, kind)[:1])]
        back = self.behind.scene(job)
        if "file" in back.get("background", {}):
            scene["layers"].append(LAYER)
        scene |= back
        scene["snap"] = FOOT / 12 if job.settings.units == "ft-in" else 0.01
        return scene

    def _add_edges(self, job: Job, scene: dict[str, Any]) -> None:
        """The edges of a stage that was not entered whole; the assumed ones say so."""
        edges = loose_edges(job)
        first = next((n for n, (_, assumed) in enumerate(edges) if assumed), None)
        for n, (edge, assumed) in enumerate(edges):
            role, label = ("stage_assumed", "Stage edge (assumed)") if assumed else ("stage", "")
            scene["shapes"].append({"id": f"edge-{n}", "layer": "stage", "kind": "line", "role": role,
                                    "points": [list(p) for p in edge.points], "label": label if n == first else ""})
        if edges:
            scene["layers"].insert(0, {"key": "stage", "label": "Stage", "on": True})
            across, up = zip(*(p for edge, _ in edges for p in edge.points), strict=True)
            x0, y0, x1, y1 = scene["extent"]
            scene["extent"] = [min(x0, min(across) - 0.5), min(y0, min(up) - 0.5), max(x1, max(across) + 0.5),
                               max(y1, max(up) + 0.5)]

    def _mark(self, items: list[dict[str, Any]]) -> None:
        """Boxes and points of which something must be mended say so beside their name."""
        wrong = {i.record[1]: i.state for i in self.session.results().items_of("boxes")[::-1] if i.must_mend and i.record}
        for one in items:
            one["state"] = wrong.get(one["id"], one["state"])

    def _reach(self, job: Job, items: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """How far a loose cable gets from each box; `items`: the boxes on the plan, in the job's order."""
        reach = job.settings.reach
        if reach is None:
            return []
        return [{"id": f"reach-{i['id']}", "layer": "reach", "kind": "circle", "role": "reach", "follow": i["id"],
                 "center": [i["x"], i["y"]], "radius": reach.si, "label": f"reach of {i['label']}"} for i in items]

    def _record(self, item: str) -> Box | Point | None:
        """The record of an item, whatever it is called by now; None if it is gone, or is neither box nor point."""
        records: list[Box | Point] = [*self.session.job.boxes(), *self.session.job.all(Point)]
        return next((r for r in records if r.id == item), None)

    def _change(self, message: Message) -> Answer:
        try:
            answer = self._answer(message)
        except Problem as problem:
            answer = {"ok": False, "say": problem.sentence}
        return {**answer, "say": self.session.words.text(str(answer.get("say", "")))}

    def _answer(self, message: Message) -> Answer:
        do, job = message["do"], self.session.job
        if do in BACKGROUND:
            answer = self.behind.answer(message)
            self._refresh(elsewhere=False)
            return answer
        if do == "place":
            return self._place(message)
        record = self._record(str(message["id"]))
        if do == "select":
            self._stood = {}
            return {"ok": True, "say": self._about(job, record) if record else ""}
        if record is None:
            return {"ok": False, "say": "It was removed in the meantime; nothing was changed."}
        kind = record.kind
        if do == "remove":
            self.session.edit(f"{record.name} deleted", lambda j: edit.delete(j, kind, [record.id]))
            return {"ok": True, "removed": [message["id"]]}
        x, y = float(message["x"]), float(message["y"])
        if isinstance(record, Box):
            self._stood = {record.id: box_cost(job, record, unit_costs(job), "").result.amount}
        if do == "preview":
            moved = edit.set_fields(job, kind, record.id, self._moved(record, x, y))
            self.session.preview(moved)
            return {"say": self._about(moved, moved.get(type(record), record.id))}
        job = self.session.edit(f"{record.name} moved", lambda j: edit.set_fields(
            j, kind, record.id, self._moved(j.get(type(record), record.id), x, y)))
        now = job.get(type(record), record.id)
        item = next(i for i in self.plan.scene["items"] if i["id"] == message["id"])
        at = {"x": now.x.si, "y": now.y.si} if now.x and now.y else {}
        return {"ok": True, "say": self._about(job, now), "items": [{**item, **at}]}

    def _moved(self, record: Box | Point, x: float, y: float) -> dict[str, object]:
        """What is written for a new place: a coordinate that stays keeps its text as typed."""
        now = {"x": record.x, "y": record.y}
        return {axis: text for (axis, text), value in zip(self._texts(x, y).items(), (x, y), strict=True)
                if (was := now[axis]) is None or abs(was.si - value) > SAME}

    def _texts(self, x: float, y: float) -> dict[str, object]:
        if self.session.job.settings.units == "ft-in":
            return {"x": length_text(x, "ft-in"), "y": length_text(y, "ft-in")}
        return {"x": typed_length(x, "m"), "y": typed_length(y, "m")}

    def _place(self, message: Message) -> Answer:
        if (role := str(message["role"])).startswith(WAITING):
            return self._place_waiting(role.removeprefix(WAITING), float(message["x"]), float(message["y"]))
        kind = PREFIX.get(role, "")
        if not self.may.get(kind):
            raise Problem("This is not placed on this plan; nothing was placed.")
        cls = KINDS[kind]
        number = len(self.session.job.all(cls)) + 1
        stem = "FB-" if kind == "box" else "P"
        names = {r.name for r in self.session.job.all(cls)}
        while f"{stem}{number}" in names:
            number += 1
        row = {"label": f"{stem}{number}", **self._texts(float(message["x"]), float(message["y"]))}
        self.session.edit(f"{row['label']} placed", lambda j: edit.add(j, kind, [row])[0])
        return {"ok": True, "say": f"{row['label']} placed; give it its details in the table."}

    def _place_waiting(self, item: str, x: float, y: float) -> Answer:
        """Give this record, which was in the table without a place, the one that was pressed."""
        record = self._record(item)
        if record is None or not self.may[record.kind]:
            raise Problem("It was removed in the meantime; nothing was placed.")

        def placed(job: Job) -> Job:
            now = job.get(type(record), record.id)
            if now.x is not None and now.y is not None:
                raise Problem(f"{now.name} has its place by now; drag it there to move it.")
            return edit.set_fields(job, now.kind, now.id, self._texts(x, y))

        self.session.edit(f"{record.name} placed", placed)
        return {"ok": True, "say": f"{record.name} placed."}

    def _about(self, job: Job, record: Box | Point) -> str:
        if isinstance(record, Point):
            return f"{record.name}: {record.what}" if record.what else record.name
        found = box_items(job, record)
        cost = self._cost_words(job, record)
        if not found:
            return f"{record.title}: nothing open on its place.{cost}"
        first = found[0]
        more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
        return f"{first.state}: {first.subject} {first.what}, {first.amount}{more}.{cost}"

    def _cost_words(self, job: Job, box: Box) -> str:
        """What the box costs here, and how much more or less than where it stood before it was moved."""
        costs, money = unit_costs(job), currency_words(job)
        here = box_cost(job, box, costs, money).result.amount
        before = self._stood.get(box.id, here)
        words = "" if round(here - before) == 0 else \
            f", {abs(here - before):,.0f} {'more' if here > before else 'less'} than where it stood"
        return f" To compare with other places: {here:,.0f}{words}." if money == TO_COMPARE else \
            f" Installed {here:,.0f} {money}{words}."


def waiting(job: Job, kind: str) -> list[dict[str, str]]:
    """The buttons for what may be placed of a kind because it has no place yet: role with its id, text, its line."""
    found = []
    for record in without_place(job, KINDS[kind]):
        name = ", ".join(w for w in (record.name, getattr(record, "what", "")) if w)
        found.append({"role": f"{WAITING}{record.id}", "line": kind,
                      "label": f"Place {name if len(name) <= NAME else f'{name[:NAME]} ...'}"})
    return found


def _at_home(job: Job, role: str) -> str:
    """Where an item is placed that only shows here."""
    if role == "rack":
        s = job.settings
        return f"The rack {SHEET}" if s.rack_x is not None and s.rack_y is not None else \
            "The rack is placed in the table 'Rack, pull points and ends' of the step Cables."
    return AT_HOME.get(PREFIX.get(role, role), "")


def events_shown(job: Job) -> list[tuple[str, str]]:
    """(label, value) of a menu of events, with none first."""
    return [("no event", "")] + [(e.name, e.name) for e in job.all(Event)]

