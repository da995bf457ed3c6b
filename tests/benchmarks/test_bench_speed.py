"""A short run of `bench_speed.py`: the coupled bench against its parts, and against real time.

Figures of all faults and states are kept in `results/bench_speed.md`.
"""

import runpy
import time
from pathlib import Path

from coldbench.bench import load_bench, read
from coldbench.electrical import solve

kit = runpy.run_path(str(Path(__file__).with_name("bench_speed.py")), run_name="kit")


def test_a_reading_costs_no_more_than_a_few_solutions_of_its_wiring(capsys):
    bench = load_bench("blue")
    found = read(bench, "full cooling")
    wired = found.phase.wired

    def timed(call, times):
        took = []
        for _ in range(times):
            began = time.process_time()
            call()
            took.append(time.process_time() - began)
        return sorted(took)[times // 2]

    alone = timed(lambda: solve(bench.circuit, wired.settings, (), None, wired.sensor_inputs), 20)
    whole = timed(lambda: read(bench, "full cooling"), 10)
    with capsys.disabled():
        print(f"\ncoupled reading: {1e3 * whole:.1f} ms, {whole / alone:.1f} solutions of the "
              "wiring")
    assert whole < 12.0 * alone


def test_cycling_is_followed_far_faster_than_real_time(capsys):
    took, releases, mass = kit["over_time"](120.0)
    with capsys.disabled():
        print(f"\nbench over time: {120.0 / took:.0f} times real time, {releases} releases")
    assert releases >= 2 and mass < 1e-9
    assert 120.0 / took >= 60.0


def test_the_kept_report_is_that_of_the_whole_catalogue():
    text = (Path(__file__).parent / "results" / "bench_speed.md").read_text("utf-8")
    rows = {cells[0]: cells[1] for line in text.splitlines() if line.startswith("| ")
            for cells in [line.strip("| ").split(" | ")]}
    assert int(rows["all single faults × 6 states, rows"]) > 6 * 300
    assert float(rows["one reading, median"].split()[0]) <= 30.0
    assert float(rows["all of them, on the clock"].split()[0]) <= 30.0
    assert float(rows["10 minutes with cycling"].split()[0]) <= 3.0
    assert float(rows["mass residual"]) < 1e-9
