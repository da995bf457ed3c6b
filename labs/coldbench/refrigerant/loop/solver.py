"""Steady state of the loop: several starts, a bracket on the charge, certified pressure trip.

The answer is one of: a steady state below the high-pressure trip; the state at the trip
pressure, certified by a condenser that would need more area than it has, so that the pressure
would still rise; the loop at rest. Anything else raises `ConvergenceError`.
"""

import math
from collections.abc import Iterable

from coldbench.errors import ConvergenceError
from coldbench.refrigerant.loop import newton
from coldbench.refrigerant.loop.balance import Point, Problem, Vector, evaluate, make_problem
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.refrigerant.loop.estimate import estimate
from coldbench.refrigerant.loop.faults import effects as combined_effects
from coldbench.refrigerant.loop.faults import fault
from coldbench.refrigerant.loop.parts import LoopParts, blue_parts
from coldbench.refrigerant.loop.rest import at_rest
from coldbench.refrigerant.loop.result import LoopResult, running_result

_LONGEST_STEP = (0.8, 0.35, 0.8, 0.6)
_LEAST_Z, _MOST_Z = -1.0, 1.98
_BRACKET = (0.5, 0.0, -0.15, -0.35, -0.6, -0.85, -0.97), (0.5, 1.0, 1.3, 1.6, 1.85, 1.97)
_BRACKET_HALVINGS = 60
# added to the estimate for further starts: warmer condenser, deeper vacuum, less flow, charge
_VARIATIONS = ((0.0, 0.0, 0.0, 0.0), (-0.3, -0.3, -0.4, -0.2), (-0.8, -0.8, -1.5, 0.0),
               (0.2, 0.3, 0.4, -0.3), (-0.2, -0.2, -0.5, 0.6), (-1.5, -1.2, -3.0, 0.0))


def solve_loop(conditions: Conditions | None = None, parts: LoopParts | None = None,
               faults: Iterable = (), start: LoopResult | Vector | None = None) -> LoopResult:
    """Return what gauges and thermometers show once nothing changes any more.

    Parameters
    ----------
    conditions : Conditions, optional
        Settings and air; the usual ones if left out.
    parts : LoopParts, optional
        Sizes; the blue bench if left out.
    faults : iterable of Fault, str or tuple
        Each as `fault` accepts it, for example ["air-in-system=0.5"].
    start : LoopResult, optional
        A solution near by; makes the search quicker, never changes the answer.

    Returns
    -------
    LoopResult

    Raises
    ------
    InputError
        If faults or charge are outside what the model covers.
    ConvergenceError
        If no state was found; the message says where the search ended.

    Examples
    --------
    >>> result = solve_loop(Conditions(ambient_K=303.15))
    >>> result.flags, 900e3 < result.high_side_gauge_Pa < 1400e3
    ((), True)
    """
    conditions = Conditions() if conditions is None else conditions
    parts = blue_parts() if parts is None else parts
    faults = tuple(map(fault, faults)) if not isinstance(faults, str) else faults
    effects = combined_effects(faults)
    problem = make_problem(conditions, parts, effects)
    if not conditions.running or effects.clutch_slip > 0.5:
        return at_rest(problem, faults)
    point, tripped = find(problem, _start_vector(start))
    return running_result(problem, point, faults, tripped)


def find(problem: Problem, start: Vector | None = None) -> tuple[Point, bool]:
    """Return the solved point of a problem and whether it is a high-pressure trip.

    Parameters
    ----------
    problem : Problem
        Loop to be solved.
    start : tuple of 4 floats, optional
        Tried first.

    Returns
    -------
    tuple[Point, bool]

    Raises
    ------
    ConvergenceError
        If nothing was found.

    Examples
    --------
    >>> point, tripped = find(make_problem(Conditions(), blue_parts()))
    >>> tripped, max(map(abs, point.residuals)) < 1e-7
    (False, True)
    """
    limits = _bounds(problem)
    best, trips = None, tuple(_starts(problem, None, at_trip=True))
    for first in _starts(problem, start):
        got = newton.solve(lambda x: evaluate(problem, x).residuals, first, limits)
        if got.converged:
            return _below_trip(problem, evaluate(problem, got.x), limits)
        if got.residuals and (best is None or _worst(got) < _worst(best)):
            best = got
        for near in (got.x, *trips):
            if found := _trip(problem, near, limits):
                return found, True
        trips = ()
    if found := _bracketed(problem, limits):
        return _below_trip(problem, found, limits)
    where = "nowhere" if best is None else (
        f"with residuals {', '.join(f'{v:.2g}' for v in best.residuals)}")
    raise ConvergenceError(f"no steady state of the loop found; the search ended {where}")


def _worst(iterate: newton.Iterate) -> float:
    return max(map(abs, iterate.residuals))


def _start_vector(start: LoopResult | Vector | None) -> Vector | None:
    if start is None or isinstance(start, tuple):
        return start
    return start.unknowns


def _bounds(problem: Problem) -> newton.Bounds:
    """Limits of the unknowns: within the property tables, a little beyond the trip."""
    fluid, ambient = problem.fluid, problem.conditions.ambient_K
    low, high = fluid.pressure_range_Pa
    hottest = fluid.saturation_temperature(min(1.12 * problem.trip_Pa, 0.999 * high))
    # a flooding valve and hot liquid can make the coil warmer than the air upon it
    warmest = fluid.saturation_pressure(max(problem.air.temperature_K, ambient))
    return newton.Bounds(
        (math.log(0.01), math.log(low * 1.02), math.log(2e-6), _LEAST_Z),
        (math.log(hottest - ambient), math.log(warmest), math.log(0.4), _MOST_Z),
        _LONGEST_STEP)


def _starts(problem: Problem, start: Vector | None = None, at_trip: bool = False):
    """Starting vectors: the given one, an estimate, then variations of that."""
    if start is not None:
        yield start
    guess = estimate(problem, at_trip)
    for change in _VARIATIONS:
        yield tuple(a + b for a, b in zip(guess, change, strict=True))


def _below_trip(problem: Problem, point: Point, limits: newton.Bounds) -> tuple[Point, bool]:
    """The point itself, or the state at the trip pressure if the point lies above it."""
    if point.high_Pa <= problem.trip_Pa:
        return point, False
    if found := _trip(problem, point.x, limits):
        return found, True
    raise ConvergenceError("the steady state lies above the high-pressure trip, and no state at "
                           "the trip pressure was found")


def _trip(problem: Problem, start: Vector, limits: newton.Bounds) -> Point | None:
    """State at the trip pressure, if the condenser is too small there to hold the pressure."""

    def at_trip(x: Vector) -> Vector:
        point = evaluate(problem, x)
        compressor, valves, _, charge = point.residuals
        return compressor, valves, math.log(point.high_Pa / problem.trip_Pa), charge

    hot = math.log(problem.fluid.saturation_temperature(problem.trip_Pa * 0.98)
                   - problem.conditions.ambient_K)
    got = newton.solve(at_trip, (hot, *start[1:]), limits)
    if not got.converged:
        return None
    point = evaluate(problem, got.x)
    return point if point.residuals[2] >= 0.0 else None


def _bracketed(problem: Problem, limits: newton.Bounds) -> Point | None:
    """Solve at fixed z, step z until the charge is passed, then close in on it."""
    for path in _BRACKET:
        x, before = None, None
        for z in path:
            point = _at_charge(problem, z, x, limits)
            if point is None:
                break
            x = point.x
            got = newton.solve(lambda x: evaluate(problem, x).residuals, x, limits)
            if got.converged:
                return evaluate(problem, got.x)
            if before and before.residuals[3] * point.residuals[3] <= 0.0:
                return _closed_in(problem, before, point, limits)
            before = point
    return None


def _closed_in(problem: Problem, a: Point, b: Point, limits: newton.Bounds) -> Point | None:
    """Bisect between two points whose charges lie on both sides of the right one."""
    for _ in range(_BRACKET_HALVINGS):
        middle = _at_charge(problem, 0.5 * (a.x[3] + b.x[3]), a.x, limits)
        if middle is None:
            return None
        if abs(middle.residuals[3]) < newton.TOLERANCE:
            return middle
        if a.residuals[3] * middle.residuals[3] <= 0.0:
            b = middle
        else:
            a = middle
        got = newton.solve(lambda x: evaluate(problem, x).residuals, middle.x, limits)
        if got.converged:
            return evaluate(problem, got.x)
    return None


def _at_charge(problem: Problem, z: float, near: Vector | None,
               limits: newton.Bounds) -> Point | None:
    """State at a given z, whatever charge that needs."""

    def at_z(x: Vector) -> Vector:
        return (*evaluate(problem, x).residuals[:3], x[3] - z)

    for first in ([near] if near else []) + list(_starts(problem)):
        got = newton.solve(at_z, (*first[:3], z), limits)
        if got.converged:
            return evaluate(problem, got.x)
    return None


