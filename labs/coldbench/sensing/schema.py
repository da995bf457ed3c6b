"""Checks of the room's TOML files: every complaint names file, key and reason."""

import math
import tomllib
from dataclasses import dataclass

from coldbench.errors import InputError, toml_trouble

REQUIRED = object()
"""Default of a field that must be given."""


@dataclass(frozen=True)
class Field:
    """What one key accepts.

    Parameters
    ----------
    kind : type
        float (a whole number too), int, str or list (of numbers).
    lowest, highest : float
        Limits, inclusive.
    default : object
        Value when absent; `REQUIRED` if it must be given.
    """

    kind: type
    lowest: float = -math.inf
    highest: float = math.inf
    default: object = REQUIRED


def parse_toml(text: str, file: str) -> dict:
    """Return the tables of a TOML text.

    Parameters
    ----------
    text, file : str
        Text, and name for messages.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        If it is not TOML.

    Examples
    --------
    >>> parse_toml("a = ", "x.toml")
    Traceback (most recent call last):
    coldbench.errors.InputError: x.toml: not valid TOML: Invalid value (at end of document)
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: {toml_trouble(error, text)}") from None


def read_table(table: object, fields: dict[str, Field], where: str) -> dict:
    """Return the checked values of a table, defaults filled in.

    Parameters
    ----------
    table : dict
        As read.
    fields : dict[str, Field]
        What each key accepts.
    where : str
        "file: table" for messages.

    Returns
    -------
    dict
        One value for each field.

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> read_table({"x": 3}, {"x": Field(float), "y": Field(float, default=1.0)}, "f: t")
    {'x': 3.0, 'y': 1.0}
    >>> read_table({"x": -3}, {"x": Field(float, 0.0)}, "f: t")
    Traceback (most recent call last):
    coldbench.errors.InputError: f: t: x must be 0 or more, not -3
    """
    if not isinstance(table, dict):
        raise InputError(f"{where}: must be a table")
    for key in table:
        if key not in fields:
            raise InputError(f"{where}: unknown key {key!r}; accepted: {', '.join(fields)}")
    for key, field in fields.items():
        if key not in table and field.default is REQUIRED:
            raise InputError(f"{where}: lacks {key!r}")
    return {key: _value(table[key], field, f"{where}: {key}") if key in table else field.default
            for key, field in fields.items()}


def _value(value: object, field: Field, where: str):
    if field.kind is list:
        if not isinstance(value, list) or not value:
            raise InputError(f"{where} must be a list of numbers")
        return [_value(v, Field(float, field.lowest, field.highest), where) for v in value]
    if field.kind is float and type(value) is int:
        _limits(value, field, where)
        return float(value)
    if type(value) is not field.kind:
        name = {float: "a number", int: "a whole number", str: "text"}[field.kind]
        raise InputError(f"{where} must be {name}, not {value!r}")
    if field.kind is not str:
        _limits(value, field, where)
    elif not value.strip():
        raise InputError(f"{where} must not be empty")
    return value


def _limits(value: float, field: Field, where: str) -> None:
    low, high = field.lowest, field.highest
    if math.isfinite(value) and low <= value <= high:
        return
    if math.isfinite(low) and math.isfinite(high):
        accepted = f"from {low:g} to {high:g}"
    elif math.isfinite(low):
        accepted = f"{low:g} or more"
    else:
        accepted = f"{high:g} or less" if math.isfinite(high) else "finite"
    raise InputError(f"{where} must be {accepted}, not {value!r}")
