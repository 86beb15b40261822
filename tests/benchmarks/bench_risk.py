"""How long 100,000 samples of a demo's hours and prices take, as a ratio to a bare draw of the same size."""

import sys
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "lib"))

from stagefloor.job import store
from stagefloor.results import compute
from stagefloor.steps.labour.simulation import SEED, _simulate, simulate

DRAWS, REPEATS = 100_000, 9


def seconds(work) -> float:
    begun = perf_counter()
    work()
    return perf_counter() - begun


if __name__ == "__main__":
    name = sys.argv[1] if len(sys.argv) > 1 else "quillhaven_playhouse"
    demo = Path(__file__).resolve().parents[2] / "demo_projects" / name
    estimate = compute(store.read(demo).job).estimate
    parts = [t.part(estimate.crew.rate) for t in estimate.tasks]
    parts += [m.part() for m in estimate.materials] + [r.part for r in estimate.risks]
    ours, bare = [], []
    for repeat in range(REPEATS):
        _simulate.cache_clear()
        ours.append(seconds(lambda r=repeat: simulate(parts, draws=DRAWS, seed=SEED + r)))
        bare.append(seconds(lambda r=repeat: np.random.default_rng(r).standard_normal((len(parts), DRAWS))))
    found = simulate(parts, draws=DRAWS)
    for word, s in (("hours", found.hours), ("cost", found.money)):
        print(f"{word}: mean {s.mean:,.2f} +- {s.mean_error:.2f}, P50 {s.median:,.2f} +- {s.median_error:.2f}, "
              f"P80 {s.cautious:,.2f} +- {s.cautious_error:.2f}, 95 % {s.cautious_interval[0]:,.2f} to "
              f"{s.cautious_interval[1]:,.2f}")
    print(f"{name}: {len(parts)} parts, {DRAWS:,} draws: {median(ours):.3f} s, bare draw {median(bare):.3f} s, "
          f"ratio {median(ours) / median(bare):.2f}")
