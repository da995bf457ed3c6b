"""Preferred resistor values: E12 and E24 of IEC 60063 (from memory)."""

import math

from coldbench.errors import InputError
from coldbench.sensing.checks import checked

SERIES = {
    "E12": (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2),
    "E24": (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3,
            4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1),
}
"""Values of one decade."""


def nearest_preferred(resistance_ohm: float, series: str = "E12") -> float:
    """Return the preferred value nearest in ratio.

    Parameters
    ----------
    resistance_ohm : float
        Wanted value, above 0 [Ohm].
    series : str
        "E12" or "E24".

    Returns
    -------
    float
        Preferred value [Ohm].

    Raises
    ------
    InputError
        If the value is not above 0 or the series is unknown.

    Examples
    --------
    >>> nearest_preferred(2150.0), nearest_preferred(9.9)
    (2200.0, 10.0)
    """
    wanted = checked(resistance_ohm, "resistance", 0.0, unit="Ohm", above=True)
    if series not in SERIES:
        raise InputError(f"no series {series!r}; accepted: {', '.join(SERIES)}")
    decade = math.floor(math.log10(wanted))
    values = [float(f"{v}e{decade + d}") for v in SERIES[series] for d in (-1, 0, 1)]
    return min(values, key=lambda value: abs(math.log(value / wanted)))
