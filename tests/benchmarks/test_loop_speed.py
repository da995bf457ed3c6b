"""A short run of `loop_convergence.py`: all cases solve, none is wrong, tables beat plain calls.

Targets (10,000 cases, kept in `results/loop_convergence.md`): median 5 ms, 99th percentile
40 ms, at most 0.1 % raise. Asserted here as a ratio to plain high-level property calls.
"""

import runpy
from pathlib import Path

kit = runpy.run_path(str(Path(__file__).with_name("loop_convergence.py")), run_name="kit")


def test_random_benches_solve_right_and_much_quicker_than_with_plain_calls(tell):
    got = kit["run"](cases=300, seed=2, sample=50, compared=6)
    ours, theirs, ratio = got["speed"]
    tell(f"loop: median {got['median_ms']:.1f} ms, 99th percentile {got['p99_ms']:.0f} ms; "
         f"usual cases {ours * 1e3:.1f} ms, plain calls {theirs * 1e3:.0f} ms, "
         f"ratio {ratio:.0f}")
    assert not got["wrong"] and len(got["raised"]) <= 1
    assert got["starts_apart"] == 0
    assert got["coolprop_residual"] < 1e-3
    assert ratio > 8.0


def test_the_kept_report_meets_the_targets():
    text = (Path(__file__).parent / "results" / "loop_convergence.md").read_text("utf-8")
    rows = dict(line.strip("| ").split(" | ")[:2] for line in text.splitlines()
                if line.startswith("| "))
    assert int(rows["cases"]) >= 10_000
    assert int(rows["raised `ConvergenceError`"]) <= 10
    assert int(next(v for k, v in rows.items() if k.startswith("wrong"))) == 0
    assert int(next(v for k, v in rows.items() if k.startswith("of these"))) == 0
