"""One small table of a bench, simulated once for all tests of diagnosis."""

import pytest

from coldbench.bench import load_bench
from coldbench.diagnosis.from_bench import bench_problem

# Faults of the quay bench that stop its fan, of three families, some of which no test tells apart.
POOL = ("F1:blown", "F2:blown", "F11:blown", "M1:stalled", "M1:open", "K1:coil_shorted",
        "SI:stuck_open", "W2:open", "W4:open", "W10:open", "W11:open", "W12:open", "W101:open",
        "RT22:open", "RT22:shorted", "head:dead", "B:weak", "undercharge")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory):
    """A cache folder of the tests' own, for commands too."""
    patch = pytest.MonkeyPatch()
    patch.setenv("COLDBENCH_CACHE", str(tmp_path_factory.mktemp("cache")))
    yield
    patch.undo()


@pytest.fixture(scope="session")
def quay():
    return load_bench("quay")


@pytest.fixture(scope="session")
def stopped_fan(quay, own_cache):
    """Suspects, tests and outcomes of a fan that does not turn."""
    return bench_problem(quay, "fan does not turn", workers=1, pool=POOL)
