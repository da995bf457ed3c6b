"""Start-up: `import coldbench`, and the second start of `python3 labs`.

Targets: import at most 0.3 s; from `python3 labs` to the tool under 3 s. Asserted as ratios to
an alternative measured in the same run, since machines differ; the figures are printed.
"""

import resource
import subprocess
import sys


def best_seconds(*command: str, runs: int = 5, **options) -> float:
    """Least processor time of a command over some runs [s]."""
    return min(seconds(command, options) for _ in range(runs))


def seconds(command, options) -> float:
    """Processor time of one run of a command and what it starts [s]: others' load is not in it."""
    before = used_by_children()
    subprocess.run(command, check=True, capture_output=True, **options)
    return used_by_children() - before


def used_by_children() -> float:
    """Processor time of all processes that this one has started and that have ended [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def test_importing_coldbench_costs_less_than_importing_numpy(tell):
    bare = best_seconds(sys.executable, "-c", "pass")
    ours = best_seconds(sys.executable, "-c", "import coldbench") - bare
    numpys = best_seconds(sys.executable, "-c", "import numpy") - bare
    tell(f"import coldbench {ours:.3f} s, import numpy {numpys:.3f} s")
    assert ours < 0.5 * numpys


def test_the_second_start_costs_a_few_starts_of_python(ready_kit, tell):
    bare = best_seconds(sys.executable, "-c", "pass")
    second = best_seconds(*ready_kit.command("labs"), cwd=ready_kit.root)
    tell(f"second start of python3 labs {second:.3f} s, bare Python {bare:.3f} s")
    assert second < 15 * bare
