"""Tolerances: how far an answer may lie from the key.

Three forms: a difference with a unit ("0.5 K", "3 kPa"), a share of the key ("2 %"), or
significant figures ("3 sf": right when it rounds to the key's first three figures, the unit
being the question's own). Several forms given together: the most generous one counts.
"""

import math
import re
from collections.abc import Iterable

from coldbench.errors import InputError
from coldbench.quantity import from_si, parse

_DIFFERENCE_KIND = {
    "temperature": "temperature difference",
    "gauge pressure": "pressure difference",
    "absolute pressure": "pressure difference",
}


def difference_kind(kind: str) -> str:
    """Name the kind of a difference of two quantities of a kind.

    >>> difference_kind("temperature")
    'temperature difference'
    """
    return _DIFFERENCE_KIND.get(kind, kind)


def tolerance_si(within: str | Iterable[str], key_si: float, kind: str, unit: str) -> float:
    """Work out the half-width of the accepted band [SI].

    within ["0.5 K", "2 %", "3 sf" or several]; key_si [SI]; kind, unit [of the question].
    Raises InputError when a form cannot be read.

    >>> tolerance_si("0.5 K", 273.15, "temperature", "degC")
    0.5
    """
    forms = [within] if isinstance(within, str) else list(within)
    return max(_one_form(form, key_si, kind, unit) for form in forms)


def _one_form(form: str, key_si: float, kind: str, unit: str) -> float:
    if percent := re.fullmatch(r"\s*([\d.]+)\s*%\s*", form):
        return abs(key_si) * float(percent[1]) / 100
    if figures := re.fullmatch(r"\s*(\d+)\s*sf\s*", form):
        return _figures(int(figures[1]), key_si, kind, unit)
    half_width = parse(form, difference_kind(kind))
    if half_width < 0:
        raise InputError(f"tolerance {form!r} is negative")
    return half_width


def _figures(count: int, key_si: float, kind: str, unit: str) -> float:
    shown = from_si(key_si, unit, kind)
    if shown == 0:
        raise InputError("a key of zero has no significant figures; give a tolerance with a unit")
    half_step = 0.5 * 10.0 ** (math.floor(math.log10(abs(shown))) - count + 1)
    return abs(_slope(kind, unit)) * half_step * (1 + 1e-9)


def _slope(kind: str, unit: str) -> float:
    """SI size of one unit of the kind (a degree Fahrenheit is 5/9 K)."""
    return 1.0 / (from_si(1.0, unit, kind) - from_si(0.0, unit, kind))
