"""How long suspects, tests and strategy of 120 faults of a bench take, first and second time.

    python tests/benchmarks/bench_diagnosis.py [--bench blue] [--faults 120]

The complaint is "something is wrong": the likeliest faults of the catalogue are all suspects, in
every state of the bench. Wall time, and processor time of all processes; the cache is a folder of
its own.
"""

import argparse
import os
import resource
import tempfile
import time

from coldbench.bench import catalogue, load_bench
from coldbench.diagnosis.from_bench import Complaint, bench_problem
from coldbench.diagnosis.from_bench.priors import weight
from coldbench.diagnosis.strategy import plan


def spent() -> tuple[float, float]:
    """Wall time and processor time of this process and its children [s]."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return time.perf_counter(), sum(one.ru_utime + one.ru_stime for one in used)


def told(what: str, before: tuple[float, float]) -> None:
    """Print what has been spent since."""
    wall, processor = (b - a for a, b in zip(before, spent(), strict=True))
    print(f"{what}: {wall:.1f} s, {processor:.1f} s of processor time")


def main() -> None:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--bench", default="blue")
    parser.add_argument("--faults", type=int, default=120)
    parser.add_argument("--workers", type=int, default=2)
    chosen = parser.parse_args()
    bench = load_bench(chosen.bench)
    pool = [one.id for one in sorted(catalogue(bench), key=lambda one: -weight(bench, one))]
    complaint = Complaint("something is wrong", next(iter(bench.states)), lambda shown: True)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["COLDBENCH_CACHE"] = folder
        for which in ("first time", "from the cache"):
            before = spent()
            found = bench_problem(bench, complaint, workers=chosen.workers,
                                  pool=pool[:chosen.faults])
            told(f"{len(found.suspects)} faults in {len(found.table.states)} states, "
                 f"{len(found.problem.tests)} tests, {which}", before)
        before = spent()
        made = plan(found.problem)
        told(f"strategy (expected {made.expected_cost:.2f} min, none below "
             f"{made.lower_bound:.2f}; greedy {made.greedy_expected_cost:.2f})", before)


if __name__ == "__main__":
    main()
