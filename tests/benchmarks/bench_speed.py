"""How long does the blue bench take: a reading, all single faults, ten minutes with cycling?

    python tests/benchmarks/bench_speed.py

writes `results/bench_speed.md`. User time of the processor is kept beside the time on the clock,
as the machine may be shared.
"""

import argparse
import os
import platform
import statistics
import time
from pathlib import Path

from coldbench.bench import catalogue, fault_table, load_bench, read, simulate

STATES = ("full cooling", "gentle cooling", "recirculation", "hot day", "heating", "key on")
CYCLING, SECONDS = "gentle cooling", 600.0


def readings(sample: int) -> list[float]:
    """Processor time of single reads [s]: every `sample`th fault in every state."""
    bench, times = load_bench("blue"), []
    read(bench)  # tables are loaded once, before the clock runs
    for one in catalogue(bench)[::sample]:
        for state in STATES:
            began = time.process_time()
            read(bench, state, [one.id])
            times.append(time.process_time() - began)
    return times


def table(workers: int, faults: list[str] | None = None) -> tuple[int, float, float]:
    """Rows, time on the clock and user time of all processes [s]."""
    began, before = time.perf_counter(), os.times()
    found = fault_table(load_bench("blue"), STATES, faults, workers)
    wall, now = time.perf_counter() - began, os.times()
    user = now.user + now.children_user - before.user - before.children_user
    return len(found.rows), wall, user


def over_time(seconds: float) -> tuple[float, int, float]:
    """Processor time [s], releases of the clutch, and mass residual."""
    bench = load_bench("blue")
    simulate(bench, CYCLING, seconds=1.0)
    began = time.process_time()
    run = simulate(bench, CYCLING, seconds=seconds)
    took = time.process_time() - began
    releases = sum(e.topic == "clutch" and "lets go" in e.words for e in run.events)
    return took, releases, run.mass_residual


def report(workers: int, sample: int) -> str:
    """The figures in words, as Markdown."""
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    times = sorted(readings(sample))
    rows, wall, user = table(workers)
    took, releases, mass = over_time(SECONDS)
    lines = [
        "# Speed of the coupled bench", "",
        f"`python tests/benchmarks/bench_speed.py --workers {workers} --sample {sample}`, "
        f"Python {platform.python_version()}. Times are user time of the processor, but for the "
        "one that says otherwise.", "",
        f"Load of the machine before the run: {load:.1f} for {os.cpu_count()} processors. A load "
        "above their number makes user times longer, too.", "",
        "| what | value | target |", "|---|---|---|",
        f"| coupled steady readings, faults × states | {len(times)} | |",
        f"| one reading, median | {1e3 * statistics.median(times):.1f} ms | 30 ms |",
        f"| one reading, 95th percentile | {1e3 * times[int(0.95 * len(times))]:.0f} ms | |",
        f"| one reading, longest | {1e3 * times[-1]:.0f} ms | |",
        f"| all single faults × {len(STATES)} states, rows | {rows} | |",
        f"| all of them, shared by {workers} processes | {user / workers:.1f} s | 30 s |",
        f"| all of them, on the clock | {wall:.1f} s | |",
        f"| {SECONDS / 60:g} minutes with cycling | {took:.2f} s | 3 s |",
        f"| releases of the clutch in them | {releases} | |",
        f"| mass residual | {mass:.0e} | 1e-9 |"]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run with the words of the command line and write the report."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--sample", type=int, default=4)
    given = words.parse_args()
    text = report(given.workers, given.sample)
    target = Path(__file__).parent / "results" / "bench_speed.md"
    target.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
