"""Integrates the loop over time with steps that suit it.

Runge–Kutta of third order with an error estimate of second (source: Bogacki and Shampine 1989,
from memory). One step needs three new moments; the loop's quickest answers take some tenths of
a second, so steps of that size are short enough for an explicit method.
"""

import math
from collections.abc import Iterable

from coldbench.errors import ConvergenceError, InputError
from coldbench.refrigerant.loop.transient_balance import LoopInputs, LoopState, Moment, moment

FIRST_STEP_s, LONGEST_STEP_s = 0.05, 1.0
_SHORTEST_STEP_s = 1e-5
_MOST_GROWTH, _MOST_SHRINKING, _SAFETY = 2.0, 0.25, 0.9
_REGROWTH = 1.05  # of the step on the word of a shorter one
_STRETCH = 1.05  # a step may be so much longer where that saves one; half of what _SAFETY leaves
# error allowed in one step, in the order of LoopState; pressures as a share, the rest in SI
_PRESSURE_ERROR = 4e-4
_ERRORS = (2e-4, 2e-4, 300.0, 300.0, 0.03, 0.03, 0.03, 1e-5, 2e-6, 0.05, 0.1)


def integrate(state: LoopState, inputs: LoopInputs, duration_s: float,
              step_s: float = FIRST_STEP_s,
              now: Moment | None = None) -> tuple[LoopState, float, Moment]:
    """Return the state after some time with unchanged inputs.

    Parameters
    ----------
    state : LoopState
        Before.
    inputs : LoopInputs
        Settings.
    duration_s : float
        Time [s].
    step_s : float
        First step to try [s].
    now : Moment, optional
        Moment of `state`, if known.

    Returns
    -------
    tuple of LoopState, float, Moment
        State, a good next step [s], its moment.

    Raises
    ------
    ConvergenceError
        With the reason, if no step is short enough.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, state, _ = example()
    >>> after, step_s, _ = integrate(state, inputs, 1.0)
    >>> abs(after.evaporator_Pa / state.evaporator_Pa - 1.0) < 1e-3
    True
    """
    now, left, reason = now or _first(inputs, state), duration_s, "error too large"
    while left > 0.0:
        h = left / math.ceil(left / (_STRETCH * step_s) - 1e-9)  # the rest in equal steps
        try:
            after, then, error = _step(inputs, state, now, h)
        except (InputError, ArithmeticError, ValueError) as failed:
            after, error, reason = None, float("inf"), str(failed)
        if after is not None and error <= 1.0:
            state, now, left = after, then, left - h
            left = 0.0 if left < 1e-9 else left
            if h < step_s:  # divided: it may lengthen the next step, but says nothing against it
                step_s = max(step_s, min(h * _growth(error), _REGROWTH * step_s, LONGEST_STEP_s))
                continue
        elif h <= _SHORTEST_STEP_s:
            raise ConvergenceError(f"the loop could not be followed further: {reason} "
                                   f"({_where(state)})")
        step_s = min(h * _growth(error), LONGEST_STEP_s)
    return state, step_s, now


def _growth(error: float) -> float:
    """How much longer the next step may be, by the error of this one."""
    factor = _SAFETY * max(error, 1e-6) ** (-1.0 / 3.0) if error < 1e9 else 0.0
    return min(max(factor, _MOST_SHRINKING), _MOST_GROWTH)


def advance(state: LoopState, inputs: LoopInputs, dt_s: float) -> LoopState:
    """Return the state a time later: one tick of a bench that is coupled to other things.

    Parameters
    ----------
    state : LoopState
        Before.
    inputs : LoopInputs
        Settings during the tick.
    dt_s : float
        Time [s], above 0.

    Returns
    -------
    LoopState

    Raises
    ------
    InputError
        If the time is not above 0.
    ConvergenceError
        With the reason, if the loop cannot be followed.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, state, _ = example()
    >>> stopped = advance(state, inputs._replace(engaged=False), 5.0)
    >>> stopped.evaporator_Pa > state.evaporator_Pa, stopped.condensing_Pa < state.condensing_Pa
    (True, True)
    """
    if not 0.0 < dt_s < float("inf"):
        raise InputError(f"dt_s {dt_s!r} must be a time above 0 s")
    return integrate(state, inputs, dt_s)[0]


def _first(inputs: LoopInputs, state: LoopState) -> Moment:
    try:
        return moment(inputs, state)
    except (InputError, ArithmeticError, ValueError) as failed:
        raise ConvergenceError(f"the loop cannot start from {_where(state)}: {failed}") from None


def _where(state: LoopState) -> str:
    return (f"condensing at {state.condensing_Pa / 1e3:.4g} kPa, evaporating at "
            f"{state.evaporator_Pa / 1e3:.4g} kPa absolute")


def _moved(state: LoopState, h: float, rates: Iterable[float]) -> LoopState:
    """State plus h times its rates."""
    return LoopState(*[value + h * rate for value, rate in zip(state, rates, strict=True)])


def _step(inputs: LoopInputs, state: LoopState, now: Moment,
          h: float) -> tuple[LoopState, Moment, float]:
    """One step: state after it, its moment, its error as a share of what is allowed."""
    k1 = now.rates
    k2 = moment(inputs, _moved(state, 0.5 * h, k1)).rates
    k3 = moment(inputs, _moved(state, 0.75 * h, k2)).rates
    after = _moved(state, h, [2 / 9 * a + b / 3 + 4 / 9 * c
                              for a, b, c in zip(k1, k2, k3, strict=True)])
    then = moment(inputs, after)
    k4 = then.rates
    allowed = (_PRESSURE_ERROR * after[0], _PRESSURE_ERROR * after[1], *_ERRORS)
    error = max(abs(h * (-5 / 72 * a + b / 12 + c / 9 - d / 8)) / limit
                for a, b, c, d, limit in zip(k1, k2, k3, k4, allowed, strict=True))
    return after, then, error
