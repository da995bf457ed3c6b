"""Steps from what instruments showed at a bench: a `Taken` of a session, or a journal's entry.

Anything with `instrument`, `arguments`, `minutes` and the readings will do; nothing of it is
believed but by comparing it with what the bench shows under each suspect.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from coldbench.diagnosis.from_bench.instruments import (
    CLAMP, CODES, FLOW, GAUGES, GROUND, LIVE, LOOK, OHMS, PIPE, VENT, VOLTS, test_name,
)
from coldbench.diagnosis.from_bench.problem import BenchProblem
from coldbench.diagnosis.journal.steps import PathStep

# names that instruments have at a bench → sort of test
SORTS = {"look": LOOK, "gauges": GAUGES, "pipe thermometer": PIPE, "vent thermometer": VENT,
         "anemometer": FLOW, "voltmeter": VOLTS, "ohmmeter": OHMS, "current clamp": CLAMP,
         "stored codes": CODES, "live data": LIVE}
REPLACE = "replace"
PREPARES = ("unplug", "plug", "sensor box")


def read_step(bench: BenchProblem, taken: Any, number: int = 0, possible: bool = True,
              sieve: "Callable[[Any], Iterable[str]] | None" = None) -> PathStep:
    """Return one use of an instrument as a step.

    Parameters
    ----------
    bench : BenchProblem
        Suspects and tests of the complaint.
    taken : Taken
        Has instrument, arguments, values [name → value, unit, uncertainty], minutes, refused and
        standing [{"state": …, "replaced": […], "unplugged": […], "boxes": {…}}].
    number : int
        Of its journal entry.
    possible : bool
        False where working it out again has shown that the bench could not have given it.
    sieve : callable, optional
        Taken → fault ids that could have given it, for readings outside the tests of the problem
        (other places, unplugged parts, other instruments); without it they say nothing.

    Returns
    -------
    PathStep
    """
    standing = dict(getattr(taken, "standing", {}) or {})
    state, arguments = str(standing.get("state", "")), dict(taken.arguments)
    words = " ".join([taken.instrument, *map(str, arguments.values())]) + (
        f", {state}" if state else "")
    common = {"number": number, "words": words, "minutes": float(taken.minutes),
              "possible": possible}
    if taken.refused:
        return PathStep(**common, refused=str(taken.refused))
    if taken.instrument in PREPARES:
        return PathStep(**common, prepares=True)
    if taken.instrument == REPLACE:
        return PathStep(**common, replaced=str(arguments.get("part", "")))
    # parts replaced in vain change no reading; after the right one, steps are not judged
    changed = any(standing.get(name) for name in ("unplugged", "boxes"))
    test, shown = ("", {}) if changed else _test_of(bench, taken.instrument, arguments, state,
                                                    taken.values)
    if test:
        return PathStep(**common, test=test, outcome=bench.sorted[test].outcome(shown))
    if sieve is None or not possible or not taken.values:
        return PathStep(**common)
    return PathStep(**common, leaves=bench.problem.suspects(
        name for name in sieve(taken) if name in bench.fault))


def read_steps(bench: BenchProblem, taken: Iterable[Any],
               expected: "Callable[[Any], bool] | None" = None,
               sieve: "Callable[[Any], Iterable[str]] | None" = None) -> list[PathStep]:
    """Return the uses of instruments as steps, numbered from 1.

    Parameters
    ----------
    bench : BenchProblem
        Suspects and tests.
    taken : iterable of Taken
        In order.
    expected : callable, optional
        Taken → could the bench have given it; works it out again.
    sieve : callable, optional
        As for `read_step`.

    Returns
    -------
    list of PathStep
    """
    return [read_step(bench, one, number, expected is None or bool(expected(one)), sieve)
            for number, one in enumerate(taken, 1)]


def _test_of(bench: BenchProblem, instrument: str, arguments: Mapping[str, Any], state: str,
             values: Mapping[str, Any]) -> tuple[str, dict[str, tuple[float, float]]]:
    """The problem's test that a use of an instrument is, and its readings by the table's keys."""
    sort = SORTS.get(instrument)
    if sort is None:
        return "", {}
    pairs = {key: _pair(one) for key, one in values.items()}
    if sort in (VOLTS, OHMS):
        return _meter_test(bench, sort, arguments, state, pairs)
    place = ()
    if sort in (PIPE, VENT, FLOW):
        place = (arguments.get("place"),)
    elif sort == CLAMP:
        place = (arguments.get("branch"),)
        pairs = {f"current {place[0]}": one for one in pairs.values()}
    name = test_name(sort, place, state)
    return (name, pairs) if name in bench.sorted else ("", {})


def _meter_test(bench: BenchProblem, sort: str, arguments: Mapping[str, Any], state: str,
                pairs: Mapping) -> tuple[str, dict[str, tuple[float, float]]]:
    circuit = bench.bench.circuit
    numbers = {point.at: n for n, point in circuit.test_points.items()}
    ends = [GROUND if arguments.get(lead) in (circuit.ground, None)
            else numbers.get(arguments[lead], arguments[lead]) for lead in ("red", "black")]
    value, around = next(iter(pairs.values()), (math.nan, 0.0))
    for red, black, sign in ((*ends, 1.0), (*reversed(ends), 1.0 if sort == OHMS else -1.0)):
        name = test_name(sort, (red, black), state)
        if name in bench.sorted:
            key = f"tp {red}" if black == GROUND else f"{sort} {red} {black}"
            return name, {key: (sign * value, around)}
    return "", {}


def _pair(one: Any) -> tuple[float, float]:
    """Value and uncertainty; no steady number, and more than a meter can show, as NaN."""
    value = float(one.value)
    return (value if math.isfinite(value) else math.nan), float(one.uncertainty or 0.0)
