"""The workshop's instruments as data: `instruments.toml`, checked when it is read.

Sources: all figures are common practice for hand-held instruments.
"""

import math
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from coldbench.errors import InputError

FILE = Path(__file__).with_name("instruments.toml")
_NUMBERS = ("accuracy", "digits")
_WORDS = ("title", "unit")
_RATED = {"rated_V", "rated_W"}


@dataclass(frozen=True)
class Instrument:
    """One instrument; `extra` holds the figures only this one has."""

    name: str
    title: str
    unit: str
    accuracy: float
    digits: float
    ranges: tuple[tuple[float, float], ...] = ()
    extra: dict = field(default_factory=dict, hash=False)

    def range_of(self, value: float) -> tuple[float, float] | None:
        """Return (upper end, step) of the smallest range that holds a value, or None.

        >>> instrument("voltmeter").range_of(13.8)
        (60.0, 0.01)
        """
        return next((r for r in self.ranges if abs(value) <= r[0]), None)


@lru_cache
def instruments(path: Path = FILE) -> dict[str, Instrument]:
    """Return all instruments of a file by name.

    Parameters
    ----------
    path : Path
        TOML file with one table for each instrument.

    Returns
    -------
    dict of str to Instrument

    Raises
    ------
    InputError
        A key is missing or out of range; names file, key and reason.

    Examples
    --------
    >>> sorted(instruments())
    ['clamp', 'lamp', 'ohmmeter', 'scope', 'voltmeter']
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"{path.name}: {error}") from None
    return {name: _instrument(path.name, name, table) for name, table in tables.items()}


def instrument(name: str) -> Instrument:
    """Return one instrument of the workshop.

    Parameters
    ----------
    name : str
        voltmeter, ohmmeter, clamp, lamp or scope.

    Returns
    -------
    Instrument

    Examples
    --------
    >>> instrument("voltmeter").extra["resistance_ohm"]
    10000000.0
    """
    return instruments()[name]


def bulb(name: str) -> tuple[float, float]:
    """Return rated volts and watts of a test-lamp bulb.

    Parameters
    ----------
    name : str
        "5W" or "21W".

    Returns
    -------
    tuple of float
        Rated voltage [V] and power [W].

    Raises
    ------
    InputError
        No such bulb.

    Examples
    --------
    >>> bulb("5W")
    (12.0, 5.0)
    """
    bulbs = instrument("lamp").extra["bulbs"]
    if name not in bulbs:
        raise InputError(f"test lamp bulb {name!r} is unknown; there are {', '.join(bulbs)}")
    return bulbs[name]["rated_V"], bulbs[name]["rated_W"]


def _instrument(file: str, name: str, table: object) -> Instrument:
    if not isinstance(table, dict):
        raise InputError(f"{file}: {name}: must be a table [{name}]")
    where = f"{file}: {name}"
    words = [_word(where, table, key) for key in _WORDS]
    numbers = [_number(where, table, key) for key in _NUMBERS]
    extra = {key: value for key, value in table.items()
             if key not in (*_WORDS, *_NUMBERS, "ranges")}
    _check_extra(where, extra)
    return Instrument(name, *words, *numbers, _ranges(where, table.get("ranges", [])), extra)


def _word(where: str, table: dict, key: str) -> str:
    if not isinstance(table.get(key), str) or not table[key]:
        raise InputError(f"{where}: {key}: must be a word in quotes")
    return table[key]


def _number(where: str, table: dict, key: str) -> float:
    value = table.get(key)
    if type(value) not in (int, float) or not math.isfinite(value) or value < 0.0:
        raise InputError(f"{where}: {key}: must be a number, zero or more")
    return float(value)


def _ranges(where: str, rows: object) -> tuple[tuple[float, float], ...]:
    pairs = rows if isinstance(rows, list) else [rows]
    ends = [_number(where, dict(enumerate(row)), 0) if isinstance(row, list) and len(row) == 2
            else _bad_range(where) for row in pairs]
    steps = [_number(where, dict(enumerate(row)), 1) for row in pairs]
    if ends != sorted(set(ends)) or any(not 0.0 < s < e for s, e in zip(steps, ends, strict=True)):
        _bad_range(where)
    return tuple(zip(ends, steps, strict=True))


def _bad_range(where: str) -> float:
    raise InputError(f"{where}: ranges: must be [upper end, step] pairs, smallest range first")


def _check_extra(where: str, extra: dict) -> None:
    """Every further figure is a number, apart from the lamp's table of bulbs."""
    for key in extra:
        if key == "bulbs" and isinstance(extra[key], dict):
            for name, rated in extra[key].items():
                if not isinstance(rated, dict) or set(rated) != _RATED:
                    raise InputError(f"{where}: bulbs.{name}: needs rated_V and rated_W")
                _check_extra(f"{where}: bulbs.{name}", rated)
        else:
            _number(where, extra, key)
