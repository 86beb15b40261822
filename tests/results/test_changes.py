"""The list of changes between two computations is complete and holds nothing else.

What must be in it is found here by a walk through every field of both computations that knows nothing of the list.
"""

import dataclasses
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from stagefloor.job import edit, store
from stagefloor.job.boxes import Box
from stagefloor.job.cables import Cable, Circuit, Node, Segment
from stagefloor.job.edit import set_fields
from stagefloor.job.model import Job
from stagefloor.results import Results, compute
from stagefloor.results.change_words import summary
from stagefloor.results.changes import Change, changes
from stagefloor.results.what_if import raceway_out, rack_moved

DEMOS = Path(__file__).resolve().parents[2] / "demo_projects"
TWO_METRES = 2.0


def leaves(value: Any, path: str = "") -> dict[str, Any]:
    """Every plain value inside a result, by its path."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {k: v for f in dataclasses.fields(value)
                for k, v in leaves(getattr(value, f.name), f"{path}.{f.name}").items()}
    if isinstance(value, BaseModel):
        return {k: v for n in type(value).model_fields for k, v in leaves(getattr(value, n), f"{path}.{n}").items()}
    if isinstance(value, dict):
        return {k: v for n, x in value.items() for k, v in leaves(x, f"{path}[{n}]").items()}
    if isinstance(value, tuple | list):
        return {k: v for n, x in enumerate(value) for k, v in leaves(x, f"{path}[{n}]").items()}
    return {path: value}


def differs(a: Any, b: Any) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) > 1e-9 * max(1.0, abs(a), abs(b))
    return bool(a != b)


def changed(before: dict[str, Any], after: dict[str, Any]) -> set[str]:
    """Ids of what came, went, or differs in any plain value."""
    found = set(before) ^ set(after)
    for key in set(before) & set(after):
        a, b = leaves(before[key]), leaves(after[key])
        if any(differs(a.get(k), b.get(k)) for k in set(a) | set(b)):
            found.add(key)
    return found


def expected(before: Results, after: Results) -> set[tuple[str, str]]:
    """(kind, id) of everything that a walk through both computations finds to differ."""
    def parts(r: Results) -> dict[str, dict[str, Any]]:
        e = r.estimate
        printed: Counter[str] = Counter()
        labels = {}
        for one in r.labels:
            key = f"{one.use} {one.end} {one.text}"
            printed[key] += 1
            labels[f"{key} {printed[key]}"] = one
        bought: Counter[str] = Counter()
        buy = {}
        for row in r.purchase.rows:
            bought[row.item] += 1
            buy[f"{row.item} {bought[row.item]}"] = (float(row.amount), row.cost, row.lead)
        return {
            # a line's own label is listed under labels; a part of a way has no name of its own: the sum counts
            "line": {x.circuit.id: (x.box.label, x.cable and x.cable.label, x.type and x.type.label,
                                    x.way.segments, x.way.rough, x.way.problem, x.metres, x.typed,
                                    x.check and (x.check.result.amount, x.check.holds)) for x in r.lines},
            "raceway": {x.segment.id: (x.segment.blocked, x.segment.full, x.metres, x.diameters, x.heads, x.size, x.size_now,
                                       x.cables, x.assemblies, x.missing, x.size_grown, x.problem,
                                       x.fill and x.fill.result.amount,
                                       x.grown and x.grown.result.amount) for x in r.raceways},
            "pull": {f"{'|'.join(p.segments)} {p.signal_class}": (p.cables, p.metres, p.degrees, p.tension and
                                                                  p.tension.result.amount, p.pull_at) for p in r.pulls},
            "label": {c.id: (c.label, c.rack) for c in r.job.circuits()} | labels, "purchase": buy,
            "box": {b.box.id: (b.contents.openings, b.layout and b.layout.model.label) for b in r.boxes},
            "quantity": dict(r.quantities), "order": {o.item: (o.quantity, o.note) for o in r.order_list()},
            "hours": {t.record[1]: t.hours for t in e.tasks} | {"likely": e.likely_hours.result.amount,
                                                                "cautious": e.cautious_hours.result.amount},
            "cost": {m.record[1]: m.cost for m in e.materials} | {f"labour {w.task}": w.cost for w in e.labour}
            | {f"risk {x.record[1]}": x.expected for x in e.risks},
            "price": {s.section: s.selling for s in e.sections} | (
                {"price": e.selling.price, "total": e.selling.total} if e.selling else {}) | {"unpriced": len(e.unpriced)},
        }
    a, b = parts(before), parts(after)
    return {(kind, key) for kind in a for key in changed(a[kind], b[kind])}


def items_that_differ(before: Results, after: Results) -> set[tuple[str, str]]:
    a, b = (Counter((i.code, i.subject, i.what, i.amount, i.state, i.cure) for i in r.items) for r in (before, after))
    return {(code, subject) for code, subject, *_ in (a - b) + (b - a)}


def rack(job: Job) -> Job:
    return rack_moved(job, TWO_METRES, 0.0)


def out(label: str, how: str = "blocked") -> Callable[[Job], Job]:
    return lambda job: raceway_out(job, [next(s.id for s in job.all(Segment) if s.label == label)], how)


def first(cls: Any, **fields: str) -> Callable[[Job], Job]:
    return lambda job: set_fields(job, cls.kind, job.all(cls)[0].id, fields)


def deleted(job: Job) -> Job:
    found = next(s.id for s in job.all(Segment) if s.label.startswith(("T1-P1 L", "N1-N2, compartment 3")))
    return edit.delete(job, "segment", [found])


EDITS: dict[str, Callable[[Job], Job]] = {
    "rack 2 m": rack, "rack 2 m up and 1 m back": lambda j: rack_moved(j, -1.0, 2.0), "deleted": deleted,
    "label": first(Circuit, label="XX-1"), "rack position": first(Circuit, rack="panel 1, row 2"),
    "line retired": first(Circuit, state="retired"), "length typed": first(Cable, typed_length="40 m"),
    "box moved": first(Box, x="1 m", y="2 m"),
    "growth": lambda j: set_fields(j, "settings", "job", {"growth_percent": "60"}),
    "slack": lambda j: set_fields(j, "settings", "job", {"slack_box": "2 m"})}
BY_DEMO: dict[str, dict[str, Callable[[Job], Job]]] = {
    "quillhaven_playhouse": {
        **EDITS, "blocked": out("T1-T2 M"), "full": out("W1-T1 VD", "full"), "size": lambda j: set_fields(
            j, "segment", next(s.id for s in j.all(Segment) if s.label == "T1-T2 M"), {"size": "2"}),
        "rate": lambda j: set_fields(j, "pricing", j.pricing().id, {"rate": "60"})},
    "ondry_hall": {**EDITS, "blocked": out("S1-C1, compartment 3, microphone"),
                   "full": out("S1-N1, compartment 3, video and data", "full")}}


@pytest.mark.parametrize(("demo", "name"), [(d, n) for d, edits in BY_DEMO.items() for n in edits])
def test_the_list_is_complete_and_holds_nothing_else(demo: str, name: str) -> None:
    job = store.read(DEMOS / demo).job
    before, after = compute(job), compute(BY_DEMO[demo][name](job))
    found = changes(before, after)
    assert {(c.kind, c.key) for c in found if c.kind != "open item"} == expected(before, after)
    listed = {c.key for c in found if c.kind == "open item"}
    for code, subject in items_that_differ(before, after):
        assert any(k.startswith(f"{code} {subject}") for k in listed), (code, subject)
    for key in listed:
        assert any(key.startswith(f"{code} {subject}") for code, subject in items_that_differ(before, after)), key
    assert found
    for c in found:
        assert c.before != c.after or c.difference, c  # a change can be seen, or measured


@pytest.mark.parametrize("demo", BY_DEMO)
def test_nothing_changes_by_itself(demo: str) -> None:
    job = store.read(DEMOS / demo).job
    assert changes(compute(job), compute(job)) == []
    assert summary([], "m").sentences == ("Nothing changes.",)


def test_the_rack_two_metres_to_stage_left_by_hand() -> None:
    """RK (30, 6, -1) ft to W1 (26, 6, -1.5): two metres more on the only way out, so two metres more on each line."""
    job = store.read(DEMOS / "quillhaven_playhouse").job
    before, after = compute(job), compute(rack(job))
    found = changes(before, after)
    lengths = [c for c in found if c.kind == "line" and c.aspect == "length"]
    assert len(lengths) == 97
    assert all(c.difference == pytest.approx(2.0, abs=1e-4) for c in lengths)
    # 97 x 2 m = 194 m = 636.5 ft; the four conduits RK-W1 and the old one to the mix position get longer by 2 m
    assert summary(found, "ft-in").sentences[0] == "97 lines get longer, by 6' 6 3/4\", 636 ft in all."
    longer = {c.subject: c.difference for c in found if c.kind == "raceway" and c.aspect == "length"}
    assert longer == dict.fromkeys(("RK-W1 M", "RK-W1 L", "RK-W1 S", "RK-W1 VD", "the 2 in raceway to the mix position"),
                                   pytest.approx(2.0, abs=1e-4))
    assert not [c for c in found if c.kind == "label"]
    total = next(c for c in found if c.kind == "price" and c.key == "total")
    assert Decimal(total.after.split()[1].replace(",", "")) - Decimal(total.before.split()[1].replace(",", "")) == \
        pytest.approx(Decimal(str(total.difference)))
    assert (total.difference or 0) > 0


def test_a_break_in_the_ring_sends_lines_the_other_way_round() -> None:
    """S1-C1 out: B8 in the left corner goes S1-N1-N2-C4-C3-C2 instead: 6.8 + 6.8 + 7.9 + 6.8 + 6.8 for 4.2 + 3.7 m."""
    job = store.read(DEMOS / "ondry_hall").job
    gone = [s.id for s in job.all(Segment) if s.label.startswith("S1-C1") and s.signal_class != "mains"]
    found = changes(compute(job), compute(raceway_out(job, gone)))
    b8 = next(c for c in found if c.subject == "B8-L1" and c.aspect == "length")
    assert b8.difference == pytest.approx(6.8 + 6.8 + 7.9 + 6.8 + 6.8 - 4.2 - 3.7)
    assert "N1-N2" in next(c.after for c in found if c.subject == "B8-L1" and c.aspect == "route")


def test_what_the_site_may_read_has_no_hour_and_no_money() -> None:
    job = store.read(DEMOS / "quillhaven_playhouse").job
    found = changes(compute(job), compute(rack(job)))
    told = " ".join(summary(found, "ft-in", office=False).sentences)
    assert "lines get longer" in told
    for word in ("USD", " h ", "price", "hours", "cost"):
        assert word not in told
    assert set(summary(found, "ft-in", office=False).counts) <= {"line", "raceway", "pull", "label", "box"}


def test_moving_the_rack_moves_the_node_and_the_entry_and_nothing_else() -> None:
    job = store.read(DEMOS / "quillhaven_playhouse").job
    moved = rack_moved(job, 2.0, -1.0)
    node = next(n for n in moved.all(Node) if n.what == "rack")
    assert node.x is not None
    assert node.y is not None
    assert (node.x.si, node.y.si) == (pytest.approx(30 * 0.3048 + 2, abs=1e-4), pytest.approx(6 * 0.3048 - 1, abs=1e-4))
    assert moved.settings.rack_x is not None
    assert moved.settings.rack_x.si == pytest.approx(30 * 0.3048 + 2, abs=1e-4)
    assert {(kind, i) for kind, i, *_ in store.difference(job, moved)} == {("settings", "job"), ("node", node.id)}


def test_lines_that_lose_their_only_way_are_told_first() -> None:
    """The sleeve is the only way out of the store: without it every line is a guess, and says so before any length."""
    job = store.read(DEMOS / "ondry_hall").job
    sleeve = [s.id for s in job.all(Segment) if s.label.startswith("SR1-S1")]
    after = compute(raceway_out(job, sleeve))
    found = changes(compute(job), after)
    assert summary(found, "m").sentences[0].startswith("72 lines have no raceway to the rack any more")
    # one item for each box and class that has lines: 11 boxes, by hand from the openings of each
    served = {(line.box.label, line.signal_class) for line in after.lines}
    assert len([i for i in after.items if i.code == "no-way"]) == len(served)
    assert all(line.way.rough for line in after.lines)


def test_pieces_are_not_read_as_lengths() -> None:
    """'openings: microphone' and 'cable ends: mains' hold ' m' in their names and are counted in pieces."""
    job = store.read(DEMOS / "one_box").job
    before, after = compute(job), compute(job)
    before.__dict__["quantities"] = {"openings: microphone": 40.0, "tests: mains": 2.0, "cable m: microphone": 30.48}
    after.__dict__["quantities"] = {"openings: microphone": 41.0, "tests: mains": 3.0, "cable m: microphone": 60.96}
    told = {c.key: (c.before, c.after) for c in changes(before, after) if c.kind == "quantity"}
    assert told == {"openings: microphone": ("40", "41"), "tests: mains": ("2", "3"),
                    "cable m: microphone": ("100 ft", "200 ft")}


@pytest.mark.parametrize(("before", "after", "said"), [
    ("routed", "rough", "1 line has no raceway to the rack any more"), ("rough", "routed", "1 line has a drawn way now"),
    ("rough", "typed", ""), ("typed", "rough", ""), ("typed", "routed", ""), ("routed", "typed", ""),
])
def test_a_typed_length_says_nothing_of_the_way(before: str, after: str, said: str) -> None:
    found = [Change("line", "circuit-1", "A1-M1", "how the length is known", before, after)]
    told = " ".join(summary(found, "m").sentences)
    assert told.startswith(said or "Nothing changes")


def test_one_change_is_one_change_and_no_noun_is_said_twice() -> None:
    many = [Change("label", f"circuit-{n}", f"line A{n}", "label", f"A{n}", f"B{n}") for n in range(8)]
    assert summary(many[:7], "m").sentences[-1] == "1 more change of a label."
    assert summary(many, "m").sentences[-1] == "2 more changes of a label."
    assert Change("price", "total", "Price in all", "there", "", "USD 1").sentence() == "New: Price in all."
    assert Change("hours", "likely", "Hours, likely", "there", "1 h", "").sentence() == "No more: Hours, likely."
    assert Change("line", "circuit-1", "A1-M1", "there", "", "new").sentence() == "New: line A1-M1."
