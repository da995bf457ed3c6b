"""What a sealed bench holds of one solved scene, as plain numbers, and the way back.

The wiring as a meter sees it: volts of every node, the source resistance between every two, the
currents. Resistances are kept as finely as a meter can tell: those of a live circuit to four
digits, since they only load the meter; those of a dead one as the ohmmeter shows them.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from coldbench.bench.reading import Measured
from coldbench.bench.taken import displayed
from coldbench.electrical.instruments import instrument

NOT_METERED = ("tp", "current")
MOST_OHM = 1e12
_LOADS_OHM = 50.0


def value_table(values: Mapping[str, Measured], amps: Sequence[str] = ()) -> dict[str, float]:
    """Return readings as displayed, without those that a meter takes [dict].

    Parameters
    ----------
    values : mapping of str to Measured
        Of a scene.
    amps : sequence of str
        Parts whose current is kept all the same.

    Returns
    -------
    dict of str to float
    """
    kept = {f"current {name}" for name in amps}
    return {key: displayed(key, one).value for key, one in values.items()
            if key in kept or key.split(" ")[0] not in NOT_METERED}


def measured(table: Mapping[str, float], labels: Sequence[Sequence[str]]) -> dict:
    """Return readings from their table; labels: [key, unit, label] [dict of str to Measured]."""
    return {key: displayed(key, Measured(table[key], unit, 0.0, label))
            for key, unit, label in labels if key in table}


def triangle(matrix: np.ndarray, dead: bool) -> list[float]:
    """Return the upper triangle of a matrix of resistances [ohm], as finely as needed.

    >>> triangle(np.array([[0.0, 7.1234], [7.1234, 0.0]]), True)
    [7.1]
    """
    rows = np.clip(matrix[np.triu_indices(len(matrix), 1)], 0.0, MOST_OHM)
    return [_plain(value) for value in (_metered(rows) if dead else _loading(rows)).tolist()]


def _metered(ohms: np.ndarray) -> np.ndarray:
    """Rounded to the steps of the ohmmeter; beyond its last range all is one."""
    ranges = instrument("ohmmeter").ranges
    found = np.full(len(ohms), MOST_OHM)
    for end, step in reversed(ranges):
        inside = ohms <= end
        found[inside] = np.minimum(np.round(ohms[inside] / step) * step, end)
    return np.round(found, 3)


def _loading(ohms: np.ndarray) -> np.ndarray:
    """Whole ohms where they load a meter by nothing it shows, else four digits."""
    safe = np.maximum(ohms, 1.0)
    scale = 10.0 ** (3.0 - np.floor(np.log10(safe)))
    return np.where(ohms <= _LOADS_OHM, np.round(ohms), np.round(ohms * scale) / scale)


def _plain(value: float) -> float | int:
    return int(value) if value == int(value) else value


def full_matrix(rows: Sequence[float], size: int) -> np.ndarray:
    """Return the symmetric matrix of an upper triangle, array (size, size)."""
    matrix = np.zeros((size, size))
    upper = np.triu_indices(size, 1)
    matrix[upper] = rows
    return matrix + matrix.T


def difference(base: Any, new: Any) -> Any:
    """Return what changes from one plain table to another, to be undone by `applied`.

    >>> difference({"a": [1, 2, 3], "b": 1}, {"a": [1, 5, 3], "c": 2})
    {'a': {'1': 5}, 'b': None, 'c': 2}
    """
    if isinstance(base, list) and isinstance(new, list) and len(base) == len(new):
        return {str(n): b for n, (a, b) in enumerate(zip(base, new, strict=True)) if a != b}
    if isinstance(base, dict) and isinstance(new, dict):
        changed = {key: difference(base[key], one) if key in base else one
                   for key, one in new.items() if key not in base or base[key] != one}
        return {key: changed.get(key) for key in {**base, **new}
                if key in changed or key not in new}
    return new


def applied(base: Any, change: Any) -> Any:
    """Return a table with its changes.

    >>> applied({"a": [1, 2, 3], "b": 1}, {"a": {"1": 5}, "b": None, "c": 2})
    {'a': [1, 5, 3], 'c': 2}
    """
    if isinstance(base, list) and isinstance(change, dict):
        found = list(base)
        for n, value in change.items():
            found[int(n)] = value
        return found
    if not isinstance(base, dict):
        return change
    found = dict(base)
    for key, value in change.items():
        if value is None:
            found.pop(key, None)
        else:
            found[key] = applied(base[key], value) if key in base else value
    return found


class Wiring:
    """A sealed circuit as a meter sees it: `thevenin`, `voltage`, `currents`."""

    def __init__(self, nodes: Sequence[str], volts: Sequence[float], ohms: np.ndarray,
                 currents: Mapping[str, float]) -> None:
        self.row = {node: number for number, node in enumerate(nodes)}
        self.volts, self.ohms, self.currents = volts, ohms, currents

    def voltage(self, place: str) -> float:
        """Volts of a node against ground."""
        return self.volts[self.row[place]]

    def thevenin(self, red: str, black: str) -> tuple[float, float]:
        """Open-circuit voltage [V] and source resistance [ohm] between two nodes."""
        return (self.voltage(red) - self.voltage(black),
                float(self.ohms[self.row[red], self.row[black]]))
