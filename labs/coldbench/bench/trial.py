"""What a sound bench file should also do: come to rest healthy, show no symptom, excuse no ghost."""

from collections.abc import Iterator
from fnmatch import fnmatchcase

from coldbench.bench.catalogue import catalogue
from coldbench.bench.model import Bench
from coldbench.bench.reading import BenchReading, read
from coldbench.bench.symptoms import shows
from coldbench.errors import ConvergenceError, Gather


def trial(bench: Bench, gather: Gather) -> dict[str, BenchReading]:
    """Return the healthy reading of every state; keep the states that find none.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    gather : Gather
        Takes the mistakes.

    Returns
    -------
    dict of str to BenchReading

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> gather = Gather()
    >>> list(trial(load_bench("quay"), gather)), gather.mistakes
    (['cooling', 'hot yard', 'mild', 'heating', 'off'], [])
    """
    found = {}
    for state in bench.states:
        try:
            found[state] = read(bench, state)
        except ConvergenceError as error:
            gather.refuse(f"{bench.file}: state.{state}: no steady state is found: {error}")
    return found


def remarks(bench: Bench, healthy: dict[str, BenchReading]) -> Iterator[str]:
    """Yield what is no mistake but hardly meant.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    healthy : dict
        From `trial`.

    Yields
    ------
    str
    """
    for name, symptom in bench.symptoms.items():
        if symptom.state in healthy and shows(symptom, healthy[symptom.state]):
            yield f"{bench.file}: symptom.{name}: shows without any fault"
    ids = [one.id for one in catalogue(bench)]
    for pattern in bench.catalogue.invisible:
        if not any(fnmatchcase(one, pattern) for one in ids):
            yield f"{bench.file}: catalogue: invisible: no fault is called {pattern!r}"
    for pattern in bench.catalogue.leave_out:
        if not any(fnmatchcase(one, pattern)
                   for one in (*bench.circuit.parts, *bench.circuit.wires)):
            yield f"{bench.file}: catalogue: leave_out: no part or wire is called {pattern!r}"
