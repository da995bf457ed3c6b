"""Steps from what instruments showed at a bench: a `Taken` of a session, or a journal's entry.

Anything with `instrument`, `arguments`, `minutes` and the readings will do; nothing of it is
believed but by comparing it with what the bench shows under each suspect.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from coldbench.diagnosis.from_bench.instruments import (
    CLAMP, FLOW, GROUND, OHMS, PIPE, VENT, VOLTS, test_name,
)
from coldbench.diagnosis.from_bench.problem import BenchProblem
from coldbench.diagnosis.journal.score import PathScore, score_path
from coldbench.diagnosis.journal.steps import PathStep
from coldbench.diagnosis.strategy.values import Values

REPLACE, CONFIRM = "replace", "confirm"
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
    if taken.instrument == CONFIRM:
        # it counts the states that a bench has, and a sealed one has few; that something is wrong
        # in some of them every suspect would say
        return PathStep(**common)
    # parts replaced in vain change no reading; after the right one, steps are not judged
    changed = any(standing.get(name) for name in ("unplugged", "boxes"))
    for name, shown in () if changed else _tests_of(bench, taken, arguments, state):
        common["verifies"] = common.get("verifies", False) or name in bench.verifies
        if name in bench.sorted:
            return PathStep(**common, test=name, outcome=bench.sorted[name].outcome(shown))
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


def score_taken(bench: BenchProblem, taken: Iterable[Any], truth: str,
                expected: "Callable[[Any], bool] | None" = None,
                sieve: "Callable[[Any], Iterable[str]] | None" = None,
                values: Values | None = None) -> PathScore:
    """Return a learner's path as judged, from what the instruments of a session showed.

    Parameters
    ----------
    bench : BenchProblem
        Suspects and tests of the complaint.
    taken : iterable of Taken
        Everything the learner did, in order.
    truth : str
        The fault of the bench.
    expected, sieve : callable, optional
        As for `read_steps`.
    values : Values, optional
        `Values(bench.problem)`, shared between learners with the same complaint.

    Returns
    -------
    PathScore
    """
    return score_path(bench.problem, read_steps(bench, taken, expected, sieve), truth,
                      bench.parts, values)


Shown = dict[str, tuple[float, float]]


def _tests_of(bench: BenchProblem, taken: Any, arguments: Mapping[str, Any], state: str,
              ) -> Iterator[tuple[str, Shown]]:
    """Names of tests that a use of an instrument may be, with its readings by the table's keys."""
    instrument = taken.instrument
    pairs = {key: _pair(one) for key, one in taken.values.items()}
    if instrument in (VOLTS, OHMS):
        yield from _meter_tests(bench, instrument, arguments, state, pairs)
        return
    place = ()
    if instrument in (PIPE, VENT, FLOW):
        place = (arguments.get("place"),)
    elif instrument == CLAMP:
        place = (arguments.get("branch"),)
        pairs = {f"current {place[0]}": one for one in pairs.values()}
    yield test_name(instrument, place, state), pairs


def _meter_tests(bench: BenchProblem, instrument: str, arguments: Mapping[str, Any], state: str,
                 pairs: Shown) -> Iterator[tuple[str, Shown]]:
    """The leads as they were put, and the other way round with the sign changed."""
    red, black = (_ends(bench, arguments.get(lead)) for lead in ("red", "black"))
    value, around = next(iter(pairs.values()), (math.nan, 0.0))
    sort, turned = ("ohms", value) if instrument == OHMS else ("volts", -value)
    for one, other, shown in [*((a, b, value) for a in red for b in black),
                              *((b, a, turned) for a in red for b in black)]:
        key = f"tp {one}" if other == GROUND else f"{sort} {one} {other}"
        yield test_name(instrument, (one, other), state), {key: (shown, around)}


def _ends(bench: BenchProblem, place: Any) -> tuple[Any, ...]:
    """Names of a place: "ground", the number of a test point, else the node."""
    circuit = bench.bench.circuit
    place = circuit.ground if place is None else place
    numbers = [n for n, point in circuit.test_points.items() if point.at == place]
    return (*((GROUND,) if place == circuit.ground else ()), *numbers) or (place,)


def _pair(one: Any) -> tuple[float, float]:
    """Value and uncertainty; no steady number, and more than a meter can show, as NaN."""
    value = float(one.value)
    return (value if math.isfinite(value) else math.nan), float(one.uncertainty or 0.0)
