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


_DRIVERS = ("low_side_driver", "pwm_driver")
_STILL = 0.05  # amperes of a motor that does not turn


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
    yield from _unmoved(bench, healthy)
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


def _unmoved(bench: Bench, healthy: dict[str, BenchReading]) -> Iterator[str]:
    """Drivers that nothing draws, and units that stand still whatever the head asks for."""
    for part in bench.circuit.parts.values():
        if part.kind in _DRIVERS and part.input not in bench.requests:
            yield f"{bench.file}: requests: nothing asks for {part.input!r}, so {part.id} is never on"
    for request, reading, words in (
            ("compressor", "clutch", "the clutch engages in none of them: look at clutch.engage_A, "
                                     "and at the way to its coil"),
            *(("fans", f"current {fan.motor}", f"fan {fan.motor} draws no current")
              for fan in bench.fans),
            ("blower", f"current {bench.blower.motor}", "the blower draws no current")):
        asked = [one.values for one in healthy.values()
                 if f"request {request}" in one.values and one.values[f"request {request}"].value > 0]
        if asked and all(values[reading].value < _STILL for values in asked):
            yield f"{bench.file}: {request} is asked for in {len(asked)} states, but {words}"
