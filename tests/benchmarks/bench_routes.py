"""How ways, raceways, takeoff and open items grow with the number of circuits, and the ratio to plain networkx.

Not a timed test: start it by hand, `python tests/benchmarks/bench_routes.py [100 1000 10000]`. The venue is generated with a
fixed seed: a tree of pull points with four branches each (so that ways get longer with the logarithm only), boxes round it,
five kinds of line. Plain networkx gets the same raceways as four ready graphs and finds the same shortest ways.
"""

import gc
import random
import sys
from collections.abc import Callable
from functools import partial
from math import log
from pathlib import Path
from time import process_time

import networkx as nx

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "lib"))

from stagefloor.job.boxes import Box, Opening
from stagefloor.job.cables import CLASS_OF, Cable, CableType, Circuit, Node, Segment
from stagefloor.job.model import Job
from stagefloor.job.record import Record
from stagefloor.steps import cables
from stagefloor.steps.paths import graph, place_of, right_angled

SIZES = (100, 1000, 10_000)
A_BOX = 10  # circuits in a box
BRANCHES = 4
KINDS = ("microphone", "microphone", "line", "loudspeaker", "data")
CLASSES = ("microphone", "line and intercom", "loudspeaker", "video and data")
ALLOWED = 1.1
SEED = 5
ENOUGH = 0.5  # s
PLAIN, LINES, ALL = "networkx alone", "lines, fed nodes named", "all but networkx"


def venue(circuits: int, fed: bool) -> Job:
    """An invented job; `fed`: each box names its node, otherwise the nearest one has to be found."""
    rng = random.Random(SEED * 100_000 + circuits)
    boxes = max(1, circuits // A_BOX)
    wide = 10.0 * boxes**0.5
    records: list[Record] = [Node(id="node-0", label="RK", what="rack", x="0 m", y="0 m", z="0 m")]
    for n in range(1, boxes + 1):
        records.append(Node(id=f"node-{n}", label=f"T{n}", x=f"{rng.uniform(0, wide):.3f} m",
                            y=f"{rng.uniform(0, wide):.3f} m", z="-1 m"))
        records += [Segment(id=f"segment-{n}-{i}", label=f"{n} {c}", start=f"node-{(n - 1) // BRANCHES}", end=f"node-{n}",
                            signal_class=c) for i, c in enumerate(CLASSES)]
    records += [CableType(id=f"cabletype-{k}", label=k, what=k, diameter="5 mm", awg=22, resistance="53 ohm/km",
                          mass="40 kg/km") for k in set(KINDS)]
    for n in range(1, boxes + 1):
        records.append(Box(id=f"box-{n}", label=f"FB-{n}", x=f"{rng.uniform(0, wide):.3f} m",
                           y=f"{rng.uniform(0, wide):.3f} m", z="0 m", feed=f"node-{n}" if fed else ""))
        for i in range(A_BOX):
            kind, label = KINDS[i % len(KINDS)], f"{n}-{i}"
            records += [Opening(id=f"opening-{label}", box=f"box-{n}", what=kind, label=label),
                        Circuit(id=f"circuit-{label}", label=label, what=kind, openings=(f"opening-{label}",)),
                        Cable(id=f"cable-{label}", label=label, circuits=(f"circuit-{label}",), type=f"cabletype-{kind}")]
    return Job().with_records(records)


def plain(job: Job, graphs: dict[str, "nx.Graph[str]"]) -> dict[str, float]:
    """The same lengths with networkx alone: one search a class, then a sum a line."""
    found = {c: nx.single_source_dijkstra(g, "node-0") for c, g in graphs.items()}
    box_of = {o.id: o.box for o in job.all(Opening)}
    lengths = {}
    for c in job.all(Circuit):
        box = job.get(Box, box_of[c.openings[0]])
        metres, paths = found[CLASS_OF[c.what]]
        here, there = place_of(box), place_of(job.get(Node, box.feed))
        assert here and there and paths[box.feed]
        lengths[c.id] = metres[box.feed] + right_angled(here, there)
    return lengths


def seconds(work: Callable[[], object]) -> float:
    """Processor time, the best of three and of as many as half a second allows: other work on the machine only adds."""
    best, begun_all, runs = float("inf"), process_time(), 0
    gc.collect()
    while runs < 3 or process_time() - begun_all < ENOUGH:
        runs += 1
        begun = process_time()
        work()
        best = min(best, process_time() - begun)
    return best


def calls(work: Callable[[], object]) -> int:
    """Python and C functions called: a measure of work that no other load on the machine and no cache disturbs."""
    count = 0

    def one(frame: object, event: str, arg: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(one)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


def main(sizes: list[int]) -> None:
    """Prints seconds, ratios and the growth exponents over all sizes and between the last two."""
    table: dict[str, list[tuple[float, int]]] = {}
    for n in sizes:
        job, near = venue(n, True), venue(n, False)
        graphs = {c: graph(job, c) for c in CLASSES}
        known = cables.lines(job)
        gc.collect()
        gc.freeze()  # Python's collector looks again and again at what it finds; the job itself is not its business here
        slack = sum((q.si for q in (job.settings.slack_box, job.settings.slack_rack) if q), 0.0)
        same = plain(job, graphs)
        assert all(abs(line.metres - slack - same[line.circuit.id]) < 1e-6 for line in known)
        filled, drawn = cables.raceways(job, known), cables.pulls(job, known)
        works: dict[str, Callable[[], object]] = {
            PLAIN: partial(plain, job, graphs), LINES: partial(cables.lines, job),
            "lines, nearest node": partial(cables.lines, near), "raceways": partial(cables.raceways, job, known),
            "pulls": partial(cables.pulls, job, known), "takeoff": partial(cables.takeoff, job, known, filled),
            "open items": partial(cables.open_items, job, known, filled, drawn)}
        took = {k: (seconds(w), calls(w)) for k, w in works.items()}
        ours = [v for k, v in took.items() if k not in (PLAIN, "lines, nearest node")]
        took[ALL] = sum(v[0] for v in ours), sum(v[1] for v in ours)
        for k, v in took.items():
            table.setdefault(k, []).append(v)
        print(f"{n:6} circuits: " + ", ".join(f"{k} {v[0]:.4f} s" for k, v in took.items()), flush=True)
        ratio = [took[k][0] / took[PLAIN][0] for k in (LINES, ALL)]
        print(f"       ratio to networkx alone: lines {ratio[0]:.1f}, all {ratio[1]:.1f}")
    print("growth as n^x: of seconds, over all and between the last two; of calls, over all and between the last two")
    for k, rows in table.items():
        x = [log(rows[-1][i] / rows[j][i]) / log(sizes[-1] / sizes[j]) for i in (0, 1) for j in (0, -2)]
        print(f"{k:24} {x[0]:.2f} {x[1]:.2f}   {x[2]:.2f} {x[3]:.2f}" + ("" if max(x[2:]) <= ALLOWED else "  too much"))


if __name__ == "__main__":
    main([int(a) for a in sys.argv[1:]] or list(SIZES))
