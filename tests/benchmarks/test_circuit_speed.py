"""A short run of `circuit_speed.py`: quicker than ngspice on the same cases, and in agreement.

Targets (600 cases of 100 nodes, kept in `results/circuit_speed.md`): 3 ms alone, 0.5 ms in a
batch, 0.5 s for all. Asserted here as ratios: the batch to ngspice, and to cases one by one.
"""

import runpy
from pathlib import Path

kit = runpy.run_path(str(Path(__file__).with_name("circuit_speed.py")), run_name="kit")


def test_circuits_in_a_batch_are_quicker_than_one_by_one_and_than_ngspice(tell, needs_ngspice):
    got = kit["run"](faults=60, ngspice=needs_ngspice)
    tell(f"circuits of {got['nodes']} nodes: alone {1e3 * got['alone']:.1f} ms, in a batch "
         f"{1e3 * got['batched']:.2f} ms, ngspice {1e3 * got['spice']:.1f} ms")
    assert got["nodes"] >= 100
    assert got["worst_V"] < 1e-6
    assert got["alone"] / got["batched"] > 2.0
    assert got["spice"] / got["batched"] > 1.5


def test_the_kept_report_meets_the_targets():
    text = (Path(__file__).parent / "results" / "circuit_speed.md").read_text("utf-8")
    rows = {cells[0]: cells[1] for line in text.splitlines() if line.startswith("| ")
            for cells in [line.strip("| ").split(" | ")]}
    assert float(rows["one case alone, median"].split()[0]) <= 3.0
    assert float(rows["one case in the batch"].split()[0]) <= 0.5
    assert float(rows["all cases and all points"].split()[0]) <= 0.5
    assert float(rows["worst disagreement at driven nodes"].split()[0]) <= 1e-6
    assert int(rows["cases (faults × states)"]) >= 600
