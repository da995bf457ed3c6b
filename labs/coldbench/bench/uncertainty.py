"""Uncertainty of the bench's instruments, from `data/instruments.toml`."""

import tomllib
from functools import lru_cache
from importlib import resources

from coldbench.control.rules import Number
from coldbench.errors import InputError

FILE = "instruments.toml"
_KEYS = ("share", "least")


@lru_cache(maxsize=1)
def instruments() -> dict[str, tuple[float, float]]:
    """Return kind of reading → (share of the reading, least uncertainty in its unit) [dict].

    Raises: InputError naming file, key and reason.
    """
    text = resources.files("coldbench.bench").joinpath("data", FILE).read_text("utf-8")
    tables = tomllib.loads(text)
    found = {}
    for kind, table in tables.items():
        if not isinstance(table, dict) or set(table) != set(_KEYS):
            raise InputError(f"{FILE}: {kind}: wants the keys {' and '.join(_KEYS)}")
        found[kind] = tuple(Number("", 0.0, 1000.0).read(table[key], f"{FILE}: {kind}: {key}")
                            for key in _KEYS)
    return found


def uncertainty(unit: str, kind: str, value: float) -> float:
    """Return the uncertainty of a reading.

    Parameters
    ----------
    unit : str
        Of the reading; live data of another unit than a door's share have their own entry.
    kind : str
        Kind of instrument.
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
    known = instruments()
    share, least = known.get(f"{kind} {unit}", known.get(kind, (0.0, 0.0)))
    return max(share * abs(value), least)
