"""Outcome classes: readings that an instrument tells apart fall into different classes.

Each reading is the interval value ± uncertainty. Intervals that overlap are joined, and so are
those that a chain of overlaps links; what is left are classes of which every two are separated
by more than both uncertainties. An instrument can therefore always name the class it has found;
what it cannot tell apart is never split.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

NOTHING, UNSTEADY = "not shown", "unsteady"


class Class(NamedTuple):
    """A class of readings: from low to high; low NaN where it is a word instead."""

    words: str
    low: float
    high: float


def classes(readings: Sequence[tuple[float, float] | None], unit: str = "",
            ) -> tuple[list[int], list[Class]]:
    """Return the class of each reading, and the classes from the lowest up.

    Parameters
    ----------
    readings : sequence of (float, float) or None
        Value and uncertainty; value NaN: the instrument wanders; None: it shows nothing.
    unit : str
        Of the readings.

    Returns
    -------
    list of int
        For each reading, the place of its class in the second list.
    list of Class

    Examples
    --------
    >>> places, found = classes([(1.0, 0.1), (1.15, 0.1), (5.0, 0.1), None], "V")
    >>> places, [one.words for one in found]
    ([0, 0, 1, 2], ['1 V to 1.15 V', '5 V', 'not shown'])
    """
    steady = sorted((value - around, value + around, value, n)
                    for n, (value, around) in _numbers(readings))
    places = [-1] * len(readings)
    spans: list[list[float]] = []
    reach = -math.inf
    for begin, end, value, n in steady:
        if begin > reach + 1e-9 * max(1.0, abs(reach) if spans else 0.0):
            spans.append([value, value])
        reach = max(reach, end)
        spans[-1] = [min(spans[-1][0], value), max(spans[-1][1], value)]
        places[n] = len(spans) - 1
    found = [Class(_span_words(low, high, unit), low, high) for low, high in spans]
    for words in (UNSTEADY, NOTHING):
        wanted = [n for n, one in enumerate(readings)
                  if (one is None if words == NOTHING else one and math.isnan(one[0]))]
        if wanted:
            found.append(Class(words, math.nan, math.nan))
            for n in wanted:
                places[n] = len(found) - 1
    return places, found


def _numbers(readings: Sequence) -> list[tuple[int, tuple[float, float]]]:
    return [(n, one) for n, one in enumerate(readings)
            if one is not None and not math.isnan(one[0])]


def _span_words(low: float, high: float, unit: str) -> str:
    a, b = number_words(low, unit), number_words(high, unit)
    return a if a == b else f"{a} to {b}"


def number_words(value: float, unit: str) -> str:
    """Return a reading in words, four figures.

    Parameters
    ----------
    value : float
        Reading.
    unit : str
        Its unit.

    Returns
    -------
    str

    Examples
    --------
    >>> number_words(4999468.5, "ohm"), number_words(1369.79, "kPa"), number_words(1.0, "")
    ('4.999 Mohm', '1370 kPa', '1')
    """
    for factor, letter in ((1e6, "M"), (1e3, "k")):
        if unit == "ohm" and abs(value) >= factor:
            return f"{value / factor:.4g} {letter}ohm"
    return f"{round(value, 3) + 0.0:.4g} {unit}".strip()
