"""Conversion between SI floats and values with units; only the edge of the program uses it.

Temperature and temperature difference are two kinds: 5 °F of superheat is 2.78 K, never
-15 °C. Gauge, absolute and differential pressure are three kinds.
"""

import math
import numbers

from coldbench.errors import InputError
from coldbench.quantity.compound import compound_factor
from coldbench.quantity.number import read_number, split_number
from coldbench.quantity.spelling import clean, squeeze
from coldbench.quantity.table import KINDS, Kind, Unit


def kind_named(kind: str) -> Kind:
    """Return the kind of quantity with this name.

    Parameters
    ----------
    kind : str
        A key of `KINDS`, for example "gauge pressure".

    Returns
    -------
    Kind

    Raises
    ------
    InputError
        If there is no such kind.

    Examples
    --------
    >>> kind_named("temperature difference").si
    'K'
    """
    try:
        return KINDS[kind]
    except (KeyError, TypeError):
        raise InputError(f"no kind of quantity {kind!r}; accepted: {', '.join(KINDS)}") from None


def units_of(kind: str) -> tuple[str, ...]:
    """Return the units a kind accepts, preferred first (one canonical spelling each).

    Parameters
    ----------
    kind : str
        Kind of quantity.

    Returns
    -------
    tuple[str, ...]

    Examples
    --------
    >>> units_of("temperature")
    ('degC', 'degF', 'K', 'degR')
    """
    return tuple(unit.name for unit in kind_named(kind).units)


def normalise_unit(unit: str, kind: str) -> str:
    """Return the canonical spelling of a unit.

    Parameters
    ----------
    unit : str
        Any accepted spelling.
    kind : str
        Kind of quantity.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If the unit does not fit the kind.

    Examples
    --------
    >>> normalise_unit("℃", "temperature"), normalise_unit("bar(g)", "gauge pressure")
    ('degC', 'bar')
    >>> normalise_unit("psia", "gauge pressure")
    Traceback (most recent call last):
    coldbench.errors.InputError: 'psia' is an absolute pressure, but a gauge pressure is wanted \
here; accepted: kPa, bar, MPa, psig, Pa, mbar, hPa, inHg vac, mmHg vac, kPa vac, bar vac, kgf/cm2
    """
    return unit_named(unit, kind).name


def unit_named(unit: str, kind: str) -> Unit:
    """Return the unit record of any accepted spelling.

    Parameters
    ----------
    unit, kind : str
        Spelling and kind of quantity.

    Returns
    -------
    Unit

    Raises
    ------
    InputError
        If the unit is missing or does not fit the kind.

    Examples
    --------
    >>> unit_named("deg F", "temperature").symbol
    '°F'
    """
    owner = kind_named(kind)
    if not isinstance(unit, str):
        raise InputError(f"a unit of {kind} must be text, not {unit!r}; "
                         f"accepted: {owner.accepted}")
    spelling = squeeze(clean(unit))
    if not spelling and owner.bare:
        return owner.by_spelling[squeeze(owner.si)]
    if not spelling:
        raise InputError(f"the {kind} has no unit; accepted: {owner.accepted}")
    if because := owner.refusals.get(spelling.lower()):
        raise InputError(f"{unit!r} {because}; accepted: {owner.accepted}")
    found = owner.by_spelling.get(spelling) or _other_case(spelling, owner)
    found = found or _compound(clean(unit), owner)
    if not found:
        raise InputError(f"{unit!r} is not a unit of {kind}; accepted: {owner.accepted}")
    return found


def _other_case(spelling: str, owner: Kind) -> Unit | None:
    """Match ignoring letter case, but never between m (milli) and M (mega)."""
    found = {unit.name: unit for key, unit in owner.by_spelling.items()
             if key.lower() == spelling.lower() and not (key[0] != spelling[0] and key[0] in "mM")}
    return next(iter(found.values())) if len(found) == 1 else None


def _compound(unit: str, owner: Kind) -> Unit | None:
    factor = compound_factor(unit, owner.compound) if owner.compound else None
    return Unit(unit, unit, factor, 3) if factor else None


def to_si(value: float, unit: str, kind: str) -> float:
    """Convert a value to SI: SI = factor · value + offset.

    Parameters
    ----------
    value : float
        Value [unit].
    unit, kind : str
        Unit, and kind of quantity that decides how the unit is read.

    Returns
    -------
    float
        SI value.

    Raises
    ------
    InputError
        If the value is not a finite number, lies below what is possible (absolute zero,
        negative absolute pressure), or the unit does not fit.

    Examples
    --------
    >>> round(to_si(5, "degF", "temperature difference"), 3)
    2.778
    >>> round(to_si(32, "degF", "temperature"), 3)
    273.15
    """
    owner, record = kind_named(kind), unit_named(unit, kind)
    si = record.factor * finite(value, kind) + record.offset
    slack = 1e-12 * abs(record.offset)
    if owner.minimum is not None and si < owner.minimum - slack:
        lowest = (owner.minimum - record.offset) / record.factor
        raise InputError(f"{kind} {value:g} {record.name} is impossible: "
                         f"nothing below {lowest:g} {record.name} exists")
    return si if owner.minimum is None else max(si, owner.minimum)


def from_si(value_si: float, unit: str, kind: str) -> float:
    """Convert an SI value to a unit: value = (SI − offset) / factor.

    Parameters
    ----------
    value_si : float
        SI value.
    unit, kind : str
        Unit wanted, and kind of quantity.

    Returns
    -------
    float
        Value [unit].

    Raises
    ------
    InputError
        If the value is not a finite number or the unit does not fit.

    Examples
    --------
    >>> round(from_si(273.15, "degF", "temperature"), 3)
    32.0
    """
    record = unit_named(unit, kind)
    return (finite(value_si, kind) - record.offset) / record.factor


def finite(value: float, what: str) -> float:
    """Return the value as float if it is a finite real number.

    Parameters
    ----------
    value : float
        Anything.
    what : str
        Name for the message.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If it is not a finite real number (bool is refused).

    Examples
    --------
    >>> finite(3, "mass")
    3.0
    """
    if isinstance(value, bool) or not isinstance(value, numbers.Real):
        raise InputError(f"{what} must be a number, not {value!r}")
    if not math.isfinite(value):
        raise InputError(f"{what} must be a finite number, not {value}")
    return float(value)


def parse(text: str, kind: str) -> float:
    """Read a written quantity such as "2,5 bar" or "−4 °C" and return its SI value.

    Parameters
    ----------
    text : str
        Number and unit. The number may use a decimal comma where only one reading exists.
    kind : str
        Kind of quantity.

    Returns
    -------
    float
        SI value.

    Raises
    ------
    InputError
        If number or unit is missing, unknown, not finite, impossible or ambiguous.

    Examples
    --------
    >>> parse("2,5 bar", "gauge pressure")
    250000.0
    >>> round(parse("20 inHg vac", "gauge pressure"))
    -67728
    >>> parse("5", "temperature")
    Traceback (most recent call last):
    coldbench.errors.InputError: '5' has no unit; accepted for temperature: degC, degF, K, degR
    """
    owner = kind_named(kind)
    if not isinstance(text, str):
        raise InputError(f"a {kind} must be text such as '5 {owner.units[0].name}', not {text!r}")
    written, unit = split_number(text)
    if not written:
        raise InputError(f"{text!r} is not a {kind}: it does not start with a finite number; "
                         f"write it like '5 {owner.units[0].name}'")
    if not unit and not owner.bare:
        raise InputError(f"{text!r} has no unit; accepted for {kind}: {owner.accepted}")
    value = read_number(written)
    if value < 0 and unit_named(unit, kind).factor < 0:
        raise InputError(f"{text!r} is a negative vacuum; write the vacuum without the minus sign")
    return to_si(value, unit, kind)


def format_quantity(value_si: float, unit: str, kind: str, digits: int | None = None) -> str:
    """Write an SI value in a unit for people.

    Parameters
    ----------
    value_si : float
        SI value.
    unit, kind : str
        Unit wanted, and kind of quantity.
    digits : int, optional
        Digits after the point; by default what suits the unit.

    Returns
    -------
    str
        With a true minus sign, never "−0.0".

    Raises
    ------
    InputError
        If the value is not finite or the unit does not fit.

    Examples
    --------
    >>> format_quantity(247.05, "degC", "temperature", digits=1)
    '−26.1 °C'
    >>> format_quantity(2.78, "K", "temperature difference")
    '2.8 K'
    """
    record = unit_named(unit, kind)
    number = f"{from_si(value_si, unit, kind):.{record.decimals if digits is None else digits}f}"
    if float(number) == 0.0:
        number = number.lstrip("-")
    joint = "" if record.symbol in ("", "°") else " "
    return f"{number}{joint}{record.symbol}".replace("-", "\u2212", 1)
