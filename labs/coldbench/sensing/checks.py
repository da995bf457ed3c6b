"""Checks shared by the sensor relations: numbers must be finite and in range.

Every relation here takes a float or a numpy array and gives the same back.
"""

import numpy as np

from coldbench.errors import InputError


def checked(values, what: str, lowest: float = -np.inf, highest: float = np.inf,
            unit: str = "", above: bool = False):
    """Return values as float or float array if all are finite and in range.

    Parameters
    ----------
    values : float or array_like
        Values in `unit`.
    what : str
        Name for the message.
    lowest, highest : float
        Limits, inclusive.
    unit : str
        Unit for the message.
    above : bool
        True if `lowest` itself is refused.

    Returns
    -------
    float or ndarray
        A float for a number, else an array of the same shape.

    Raises
    ------
    InputError
        If a value is no finite real number or out of range.

    Examples
    --------
    >>> checked(3, "resistance"), checked([1, 2], "resistance").tolist()
    (3.0, [1.0, 2.0])
    >>> checked(-1.0, "resistance", 0.0, unit="Ohm", above=True)
    Traceback (most recent call last):
    coldbench.errors.InputError: resistance must be above 0 Ohm, not -1 Ohm
    """
    if type(values) is float and lowest < values < highest:  # the usual case, without arrays
        return values
    array = np.asarray(values)
    if array.dtype.kind not in "iuf":
        raise InputError(f"{what} must be a number, not {values!r}")
    array = array.astype(float)
    bad = ~np.isfinite(array) | (array < lowest) | (array > highest)
    if above:
        bad |= array <= lowest
    if bad.any():
        _refuse(float(np.atleast_1d(array)[np.atleast_1d(bad)][0]), what, lowest, highest, unit,
                above)
    return float(array) if array.ndim == 0 else array


def plain(value):
    """Return a zero-dimensional result as float, an array as it is.

    Parameters
    ----------
    value : float or ndarray
        Result of numpy arithmetic.

    Returns
    -------
    float or ndarray

    Examples
    --------
    >>> plain(np.float64(1.5))
    1.5
    """
    return float(value) if np.ndim(value) == 0 else value


def _refuse(value: float, what: str, lowest: float, highest: float, unit: str,
            above: bool) -> None:
    unit = f" {unit}" if unit else ""
    if not np.isfinite(value):
        raise InputError(f"{what} must be a finite number, not {value}")
    if np.isfinite(lowest) and np.isfinite(highest):
        accepted = f"from {lowest:.6g} to {highest:.6g}{unit}"
    elif np.isfinite(lowest):
        accepted = f"above {lowest:.6g}{unit}" if above else f"{lowest:.6g}{unit} or more"
    else:
        accepted = f"{highest:.6g}{unit} or less"
    raise InputError(f"{what} must be {accepted}, not {value:.6g}{unit}")
