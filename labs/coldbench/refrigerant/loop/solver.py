"""Steady state of the loop: several starts, a bracket on the charge, certified pressure trip.

The answer is one of: a steady state below the high-pressure trip; the state at the trip
pressure, certified by a condenser that would need more area than it has, so that the pressure
would still rise; the loop at rest. Anything else raises `ConvergenceError`.

A hot condenser can have several steady states. The one with the lowest pressure is given: a loop
that starts cool comes to it first. So from any hot state the search goes down in pressure.
"""

import math
from collections.abc import Iterable

from coldbench.errors import ConvergenceError
from coldbench.refrigerant.loop import newton
from coldbench.refrigerant.loop.balance import Point, Problem, Vector, evaluate, make_problem
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.refrigerant.loop.estimate import estimate
from coldbench.refrigerant.loop.faults import effects as combined_effects
from coldbench.refrigerant.loop.faults import fault_list
from coldbench.refrigerant.loop.parts import LoopParts, blue_parts
from coldbench.refrigerant.loop.rest import at_rest
from coldbench.refrigerant.loop.result import LoopResult, running_result

_LONGEST_STEP = (0.8, 0.35, 0.8, 0.6)
_LEAST_Z, _MOST_Z = -1.95, 1.9999
_BRACKET = (0.5, 0.0, -0.15, -0.35, -0.6, -0.85, -1.0, -1.2, -1.5), (0.5, 1.0, 1.3, 1.6, 1.85, 1.97)
_BRACKET_HALVINGS = 60
_HOT_K = 25.0  # condensing above ambient: there several steady states are possible
_COOL_K = 5.0
_PRESSURE_STEP = 0.9
_SHORTENINGS = 4
_FAR_TOO_SMALL = 0.5  # ln of area needed over available: no dip expected further down …
_GASSY_Z = -0.4  # … except where the receiver passes mostly gas
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
    faults = fault_list(faults)
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
    best = None
    if start is None and _looks_too_hot(problem):
        found = _tripped(problem, (estimate(problem, at_trip=True),), limits)
        if found:
            return found
    for first in _starts(problem, start):
        got = newton.solve(lambda x: evaluate(problem, x).residuals, first, limits)
        hot = math.exp(got.x[0]) > _HOT_K
        if first is start and (hot or not got.converged):
            continue  # among several hot states the way to them must not decide
        if got.converged:
            found = _reached(problem, evaluate(problem, got.x), limits)
        else:
            found = _tripped(problem, (got.x,), limits) if hot else None
        if found:
            return found
        if got.residuals and (best is None or _worst(got) < _worst(best)):
            best = got
    if found := _tripped(problem, _starts(problem, at_trip=True), limits):
        return found
    point = _bracketed(problem, limits)
    if point and (found := _reached(problem, point, limits)):
        return found
    where = "nowhere" if best is None else (
        f"with residuals {', '.join(f'{v:.2g}' for v in best.residuals)}")
    raise ConvergenceError(f"no steady state of the loop found; the search ended {where}")


def _looks_too_hot(problem: Problem) -> bool:
    """True where the estimate of the condensing temperature is at the trip."""
    return estimate(problem)[0] >= estimate(problem, at_trip=True)[0]


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
        (math.log(1e-6), math.log(low * 1.02), math.log(2e-6), _LEAST_Z),
        (math.log(hottest - ambient), math.log(warmest), math.log(0.4), _MOST_Z),
        _LONGEST_STEP)


def _starts(problem: Problem, start: Vector | None = None, at_trip: bool = False):
    """Starting vectors: the given one, an estimate, then variations of that."""
    if start is not None:
        yield start
    guess = estimate(problem, at_trip)
    for change in _VARIATIONS:
        yield tuple(a + b for a, b in zip(guess, change, strict=True))


def _reached(problem: Problem, point: Point,
             limits: newton.Bounds) -> tuple[Point, bool] | None:
    """The state that a loop starting cool comes to, given any steady one; is it the trip?"""
    lower = _lower_state(problem, point, limits) or point
    if lower.high_Pa <= problem.trip_Pa:
        return lower, False
    return _tripped(problem, (point.x, *_starts(problem, at_trip=True)), limits)


def _tripped(problem: Problem, starts: Iterable[Vector],
             limits: newton.Bounds) -> tuple[Point, bool] | None:
    """The state at the trip pressure, or a steady one that is reached before it."""
    for start in starts:
        point = _at_trip(problem, start, limits)
        if point is None:
            continue
        if lower := _lower_state(problem, point, limits):
            return lower, False
        if point.residuals[2] >= 0.0:  # the condenser is too small: the pressure still rises
            return point, True
    return None


def _lower_state(problem: Problem, point: Point, limits: newton.Bounds) -> Point | None:
    """A steady state at lower pressure than a hot one, if there is one.

    Going down in pressure, the area a condenser needs rises above what it has once the lowest
    steady state is passed; anywhere it is below, such a state lies further down.
    """
    if math.exp(point.x[0]) < _HOT_K:
        return None
    here, fits = point, point.residuals[2] < -newton.TOLERANCE
    coolest = problem.fluid.saturation_pressure(problem.conditions.ambient_K + _COOL_K)
    while here.high_Pa * _PRESSURE_STEP > coolest + here.air_Pa:
        lower = _step_down(problem, here, limits)
        if lower is None:
            return None
        here, excess = lower, lower.residuals[2]
        if fits and excess >= 0.0:
            got = newton.solve(lambda x: evaluate(problem, x).residuals, here.x, limits)
            return evaluate(problem, got.x) if got.converged else None
        fits = fits or excess < 0.0
        if excess > _FAR_TOO_SMALL and here.x[3] > _GASSY_Z:
            return None
    return None


def _step_down(problem: Problem, point: Point, limits: newton.Bounds) -> Point | None:
    """State at a somewhat lower pressure; a shorter step where the longer one fails."""
    step = _PRESSURE_STEP
    for _ in range(_SHORTENINGS):
        if lower := _at_pressure(problem, point.high_Pa * step, point.x, limits):
            return lower
        step = math.sqrt(step)
    return None


def _at_trip(problem: Problem, start: Vector, limits: newton.Bounds) -> Point | None:
    """State at the trip pressure."""
    hot = math.log(problem.fluid.saturation_temperature(problem.trip_Pa * 0.98)
                   - problem.conditions.ambient_K)
    return _at_pressure(problem, problem.trip_Pa, (min(hot, start[0]), *start[1:]), limits)


def _at_pressure(problem: Problem, high_Pa: float, start: Vector,
                 limits: newton.Bounds) -> Point | None:
    """State at a given high-side pressure, whatever condenser that needs."""

    def at_pressure(x: Vector) -> Vector:
        point = evaluate(problem, x)
        compressor, valves, _, charge = point.residuals
        return compressor, valves, math.log(point.high_Pa / high_Pa), charge

    got = newton.solve(at_pressure, start, limits)
    return evaluate(problem, got.x) if got.converged else None


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


