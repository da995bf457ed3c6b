"""What the bench's instruments resolve and cost, from `data/instruments.toml`."""

import tomllib
from functools import lru_cache
from importlib import resources
from typing import NamedTuple

from coldbench.control.rules import Number
from coldbench.errors import InputError

FILE = "instruments.toml"
MINUTES = "minutes"
_MOST_MINUTES = 600.0


class Resolution(NamedTuple):
    """Uncertainty as a share of the reading and at least [unit of the reading]; step shown."""

    share: float
    least: float
    step: float


@lru_cache(maxsize=1)
def _tables() -> dict:
    text = resources.files("coldbench.bench").joinpath("data", FILE).read_text("utf-8")
    return tomllib.loads(text)


@lru_cache(maxsize=1)
def instruments() -> dict[str, Resolution]:
    """Return kind of reading → what its instrument resolves [dict].

    Raises: InputError naming file, key and reason.
    """
    found = {}
    for kind, table in _tables().items():
        if kind == MINUTES:
            continue
        if not isinstance(table, dict) or set(table) != set(Resolution._fields):
            raise InputError(f"{FILE}: {kind}: wants the keys {', '.join(Resolution._fields)}")
        found[kind] = Resolution(*(
            Number("", 0.0, 1000.0).read(table[key], f"{FILE}: {kind}: {key}")
            for key in Resolution._fields))
    return found


@lru_cache(maxsize=1)
def usual_minutes() -> dict[str, float]:
    """Return action → minutes that it costs in the workshop [dict].

    Raises: InputError naming file, key and reason.

    >>> usual_minutes()["gauges"]
    5.0
    """
    return {name: Number("", 0.0, _MOST_MINUTES).read(value, f"{FILE}: {MINUTES}: {name}")
            for name, value in _tables()[MINUTES].items()}


def _resolution(unit: str, kind: str) -> Resolution:
    """Live data of another unit than a door's share have their own entry."""
    known = instruments()
    return known.get(f"{kind} {unit}", known.get(kind, Resolution(0.0, 0.0, 0.0)))


def uncertainty(unit: str, kind: str, value: float) -> float:
    """Return the uncertainty of a reading.

    Parameters
    ----------
    unit : str
        Of the reading.
    kind : str
        Kind of reading.
    value : float
        Reading.

    Returns
    -------
    float
        In the reading's unit.

    Examples
    --------
    >>> uncertainty("degC", "pipe", 40.0)
    1.0
    """
    share, least, _ = _resolution(unit, kind)
    return max(share * abs(value), least)


def display_step(unit: str, kind: str) -> float:
    """Return the step in which a kind of reading is shown [unit of the reading, float].

    >>> display_step("kPa", "gauge high"), display_step("kPa", "live")
    (10.0, 1.0)
    """
    return _resolution(unit, kind).step
