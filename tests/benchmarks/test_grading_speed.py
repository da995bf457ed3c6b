"""A run in a pre-warmed parent beside a cold start, in the same sandbox; see also grading.py."""

import statistics
import time

import pytest

from coldbench.grading.limits import Limits
from coldbench.grading.run import run_cells
from coldbench.grading.sandbox import BUBBLEWRAP
from coldbench.grading.warm import WarmParent

CELLS = [{"id": "draw", "source": "import matplotlib.pyplot as plt\n"
          "import coldbench.worksheet\nplt.plot([1, 2]); plt.show()"}]


def seconds(parent: WarmParent | None) -> float:
    """Wall time of one run that draws a figure."""
    begun = time.perf_counter()
    run = run_cells(CELLS, "ml-01", [], BUBBLEWRAP, Limits(), parent=parent)
    assert run.states == {"draw": "ok"} and run.outputs["draw"]
    return time.perf_counter() - begun


@pytest.mark.needs_sandbox
def test_a_warm_run_is_several_times_as_quick_as_a_cold_one():
    parent = WarmParent("speed", CELLS, [], Limits())
    try:
        parent.start()
        warm, cold = [], []
        for _ in range(3):  # in turn, so that both meet the same load
            warm += [seconds(parent), seconds(parent)]
            cold.append(seconds(None))
    finally:
        parent.close()
    assert statistics.median(cold) > 4 * statistics.median(warm)
