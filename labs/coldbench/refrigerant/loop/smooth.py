"""Corners rounded off, so that the solver's derivatives exist everywhere."""

import math


def soft_positive(x: float, width: float) -> float:
    """Return x where it is well above 0 and a small positive number below: w ln(1 + e^(x/w)).

    Parameters
    ----------
    x : float
        Any value.
    width : float
        Size of the rounded corner w, in the unit of x, above 0.

    Returns
    -------
    float
        Above 0.

    Examples
    --------
    >>> soft_positive(1.0, 0.01), round(soft_positive(0.0, 0.01), 4)
    (1.0, 0.0069)
    """
    steps = x / width
    if steps > 36.0:
        return x
    return width * math.log1p(math.exp(max(steps, -500.0)))


def soft_between(x: float, low: float, high: float, width: float) -> float:
    """Return x held between two limits with rounded corners, increasing in x everywhere.

    Parameters
    ----------
    x : float
        Any value.
    low, high : float
        Limits, low < high.
    width : float
        Size of the rounded corners.

    Returns
    -------
    float
        Between the limits.

    Examples
    --------
    >>> round(soft_between(0.5, 0.0, 1.0, 0.01), 6), round(soft_between(7.0, 0.0, 1.0, 0.01), 6)
    (0.5, 1.0)
    """
    return low + soft_positive(x - low, width) - soft_positive(x - high, width)
