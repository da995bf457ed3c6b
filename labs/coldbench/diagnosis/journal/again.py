"""Measuring again: what a use of an instrument would have shown under each suspect.

For readings outside the tests of a `BenchProblem`: between any two places, with a part unplugged,
with a sensor box, by actuator test, scale or leak detector.
"""

import math
from collections.abc import Iterable, Mapping
from typing import Any

from coldbench.bench import Bench, Measured, Session, Taken
from coldbench.bench.session import MEASURES, METER_MODES
from coldbench.bench.standing import standing_of
from coldbench.diagnosis.from_bench.problem import BenchProblem
from coldbench.diagnosis.from_bench.table import differ
from coldbench.diagnosis.from_bench.work import trusted
from coldbench.errors import ConvergenceError, InputError


def taken_again(session: Session, instrument: str, arguments: Mapping[str, Any],
                standing: Mapping[str, Any]) -> Taken:
    """Return what a session shows for a use of an instrument, with the bench standing as then.

    Parameters
    ----------
    session : Session
        Of a bench with some fault, or a sealed one.
    instrument : str
        By its name at the bench; one that measures.
    arguments : mapping
        Where it was put.
    standing : mapping
        How the bench stood.

    Returns
    -------
    Taken

    Raises
    ------
    InputError
        For what the bench does not have.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> taken_again(load_bench("blue").session(), "vent thermometer", {"place": "left"},
    ...             {"state": "off"}).values["vent left"].unit
    'degC'
    """
    session.stand(standing_of(standing))
    if instrument in METER_MODES:
        return session.meter(METER_MODES[instrument], *arguments.values())
    if instrument not in MEASURES:
        raise InputError(f"{instrument!r} measures nothing; accepted: "
                         f"{', '.join([*MEASURES, *METER_MODES])}")
    return getattr(session, MEASURES[instrument])(*arguments.values())


def agreeing_suspects(bench: BenchProblem, taken: Any, among: Iterable[str] | None = None,
                      ) -> list[str]:
    """Return the suspects under which an instrument would show what it has shown.

    Each suspect is simulated with the bench standing as it stood. Pass it on as the `sieve` of
    `read_step`: `lambda taken: agreeing_suspects(problem, taken)`.

    Parameters
    ----------
    bench : BenchProblem
        Suspects.
    taken : Taken
        What was shown.
    among : iterable of str, optional
        Try these only.

    Returns
    -------
    list of str
        Suspects that no instrument tells from what was shown.
    """
    names = bench.problem.faults if among is None else tuple(among)
    return [name for name in names if _agrees(bench.bench, name, taken)]


def _agrees(bench: Bench, fault: str, taken: Any) -> bool:
    try:
        again = taken_again(bench.session(None, [fault]), taken.instrument, taken.arguments,
                            taken.standing)
    except (InputError, ConvergenceError):
        return False
    if again.refused or set(again.values) != set(taken.values):
        return bool(again.refused) == bool(taken.refused) and not taken.values
    return not any(_tells(again.values[key], one) for key, one in taken.values.items())


def _tells(one: Measured, other: Measured) -> bool:
    """Whether the two could not have been the same.

    An unsteady reading (NaN) differs from a steady one and from an overload (infinite), but not
    from another unsteady one, whatever it wanders about.

    >>> wandering = [Measured(math.nan, "", 0.0, f"unsteady, about {volts} V") for volts in (3, 5)]
    >>> _tells(*wandering), _tells(wandering[0], Measured(math.inf, "", 0.0, "OL"))
    (False, True)
    """
    if not (math.isfinite(one.value) and math.isfinite(other.value)):
        return repr(one.value) != repr(other.value)
    return differ(*((shown.value, trusted(shown.unit, shown.value, shown.uncertainty))
                    for shown in (one, other)))
