"""Tolerances: how far an answer may lie from the key.

Three forms: a difference with a unit ("0.5 K", "3 kPa"), a share of the key ("2 %"), or
significant figures ("3 sf": half a step in the key's third figure, in the question's own
unit). Several forms given together: the most generous one counts. The limit itself is still
right. A share of a temperature counts from absolute zero, where 1 % is almost 3 K; above
0.1 % it is refused, since nobody means that.
"""

import math
import re
import sys
from collections.abc import Iterable

from coldbench.errors import InputError
from coldbench.quantity import from_si, parse

_PERCENT = re.compile(r"\s*(\d+\.?\d*|\.\d+)\s*%\s*")
_FIGURES = re.compile(r"\s*(\d{1,2})\s*sf\s*")
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
    Raises InputError when a form cannot be read, or when all of them together accept nothing
    but a key of zero itself.

    >>> tolerance_si("0.5 K", 273.15, "temperature", "degC")
    0.5
    >>> tolerance_si(["2 %", "1 kPa"], 0.0, "gauge pressure", "kPa")
    1000.0
    """
    forms = list(within) if isinstance(within, (list, tuple)) else [within]
    if not forms or not all(isinstance(form, str) for form in forms):
        raise InputError(f'tolerance {within!r} must be text such as "0.5 K", "2 %" or "3 sf"')
    half_width = max(_one_form(form, float(key_si), kind, unit) for form in forms)
    if half_width == 0 and any(_is_relative(form) for form in forms):
        raise InputError(f"tolerance {within!r} accepts nothing beside a key of zero; "
                         "give a tolerance with a unit as well")
    return half_width


def is_near(value_si: float, target_si: float, half_width_si: float) -> bool:
    """Say whether a value lies within a band, its limits included.

    A billionth of the band and the rounding of the numbers themselves are let pass, so that
    the limit stays right in every unit.

    >>> is_near(0.1 + 0.2, 0.2, 0.1), is_near(0.301, 0.2, 0.1)
    (True, False)
    """
    rounding = 16 * sys.float_info.epsilon * max(abs(value_si), abs(target_si))
    return abs(value_si - target_si) <= half_width_si * (1 + 1e-9) + rounding


def _is_relative(form: str) -> bool:
    return bool(_PERCENT.fullmatch(form) or _FIGURES.fullmatch(form))


def _one_form(form: str, key_si: float, kind: str, unit: str) -> float:
    if percent := _PERCENT.fullmatch(form):
        return _share(float(percent[1]) / 100, key_si, kind, unit)
    if figures := _FIGURES.fullmatch(form):
        return _figures(int(figures[1]), key_si, kind, unit)
    half_width = parse(form, difference_kind(kind))
    if half_width < 0:
        raise InputError(f"tolerance {form!r} is negative")
    return half_width


def _share(share: float, key_si: float, kind: str, unit: str) -> float:
    if share > 0.001 and from_si(0.0, unit, kind) != 0:
        raise InputError(f"{100 * share:g} % of a {kind} would be {share * abs(key_si):.2g} K, "
                         "counted from absolute zero; give a tolerance such as 0.5 K")
    return abs(key_si) * share


def default_within(kind: str) -> str:
    """The tolerance when a check gives none: 1 %, or 0.5 K of a temperature.

    >>> default_within("voltage")
    '1 %'
    """
    return "0.5 K" if kind == "temperature" else "1 %"


def _figures(count: int, key_si: float, kind: str, unit: str) -> float:
    if count < 1:
        raise InputError("a tolerance needs one significant figure or more")
    shown = from_si(key_si, unit, kind)
    if abs(shown) < 1e-12:  # a zero that conversion has blurred
        return 0.0
    half_step = 0.5 * 10.0 ** (math.floor(math.log10(abs(shown))) - count + 1)
    return abs(_slope(kind, unit)) * half_step


def _slope(kind: str, unit: str) -> float:
    """SI size of one unit of the kind (a degree Fahrenheit is 5/9 K)."""
    return 1.0 / (from_si(1.0, unit, kind) - from_si(0.0, unit, kind))
