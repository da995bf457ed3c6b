"""Saturation curves from shipped tables: temperature against ln p, both ways.

A table has nodes uniform in ln p with the temperature and its slope dT/d(ln p); between
nodes runs a cubic Hermite polynomial. The way back, pressure from temperature, solves the
same polynomial, so both directions agree to rounding. Tables are built by
`coldbench.refrigerant.build_tables`.
"""

import json
import math
from bisect import bisect_right
from dataclasses import dataclass
from importlib import resources

from coldbench.errors import ConvergenceError, InputError
from coldbench.refrigerant.fingerprint import fingerprint


@dataclass(frozen=True)
class SaturationCurve:
    """Temperature [K] against ln(p / 1 Pa) at uniform nodes, with slopes [K]."""

    start: float
    step: float
    temperatures_K: tuple[float, ...]
    slopes_K: tuple[float, ...]

    @property
    def lowest_pressure_Pa(self) -> float:
        """Pressure at the first node [Pa]."""
        return math.exp(self.start)

    @property
    def highest_pressure_Pa(self) -> float:
        """Pressure at the last node [Pa]."""
        return math.exp(self.start + self.step * (len(self.temperatures_K) - 1))

    def temperature(self, pressure_Pa: float) -> float:
        """Return the saturation temperature at a pressure.

        Parameters
        ----------
        pressure_Pa : float
            Absolute pressure within the table [Pa]; the caller checks the range.

        Returns
        -------
        float
            Temperature [K].

        Examples
        --------
        >>> line = SaturationCurve(0.0, 1.0, (200.0, 210.0), (10.0, 10.0))
        >>> round(line.temperature(math.exp(0.25)), 9)
        202.5
        """
        position = (math.log(pressure_Pa) - self.start) / self.step
        i = min(max(int(position), 0), len(self.temperatures_K) - 2)
        return _hermite(position - i, *self._piece(i))[0]

    def pressure(self, temperature_K: float) -> float:
        """Return the saturation pressure at a temperature: the inverse of `temperature`.

        Parameters
        ----------
        temperature_K : float
            Temperature within the table [K]; the caller checks the range.

        Returns
        -------
        float
            Absolute pressure [Pa].

        Raises
        ------
        ConvergenceError
            If Newton's iteration does not settle (a damaged table).

        Examples
        --------
        >>> line = SaturationCurve(0.0, 1.0, (200.0, 210.0), (10.0, 10.0))
        >>> round(math.log(line.pressure(202.5)), 9)
        0.25
        """
        i = min(max(bisect_right(self.temperatures_K, temperature_K) - 1, 0),
                len(self.temperatures_K) - 2)
        low, high, low_slope, high_slope = self._piece(i)
        u = (temperature_K - low) / (high - low)
        for _ in range(20):
            value, slope = _hermite(u, low, high, low_slope, high_slope)
            change = (temperature_K - value) / slope
            u += change
            if abs(change) < 1e-9:
                return math.exp(self.start + self.step * (i + u))
        raise ConvergenceError(f"no saturation pressure found at {temperature_K:g} K")

    def _piece(self, i: int) -> tuple[float, float, float, float]:
        """End values and end slopes per step of piece i [K]."""
        t, s = self.temperatures_K, self.slopes_K
        return t[i], t[i + 1], s[i] * self.step, s[i + 1] * self.step


def _hermite(u: float, low: float, high: float, m0: float, m1: float) -> tuple[float, float]:
    """Value and slope of the cubic with these end values and end slopes at u in 0…1."""
    rise = high - low
    c2, c3 = 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise
    return low + u * (m0 + u * (c2 + u * c3)), m0 + u * (2.0 * c2 + 3.0 * u * c3)


def load_curves(name: str) -> dict[str, SaturationCurve]:
    """Load the shipped curves of one fluid.

    Parameters
    ----------
    name : str
        Short name, for example "R134a".

    Returns
    -------
    dict[str, SaturationCurve]
        "bubble" and "dew"; the same curve twice for a pure fluid.

    Raises
    ------
    InputError
        If the table is missing, damaged or does not match its fingerprint.

    Examples
    --------
    >>> round(load_curves("R134a")["dew"].temperature(101_325.0), 2)
    247.08
    """
    file = f"{name}.json"
    path = resources.files("coldbench.refrigerant").joinpath("saturation_tables", file)
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
        curves = {side: read_curve(table[side], f"{file}: {side}") for side in ("bubble", "dew")}
        stamp = table["fingerprint"]
    except FileNotFoundError:
        raise InputError(f"no saturation table {file}; run build_tables") from None
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(f"{file}: damaged saturation table: {error}") from None
    if stamp != fingerprint(table):
        raise InputError(f"{file}: contents do not match the fingerprint; run build_tables")
    return curves


def read_curve(table: dict, where: str) -> SaturationCurve:
    """Check one curve of a table: finite, rising, with slopes that keep each piece rising.

    Parameters
    ----------
    table : dict
        Keys start, step, temperatures_K, slopes_K.
    where : str
        Place for messages.

    Returns
    -------
    SaturationCurve

    Raises
    ------
    InputError
        If a check fails.

    Examples
    --------
    >>> read_curve({"start": 0, "step": 1, "temperatures_K": [2, 1], "slopes_K": [1, 1]}, "x")
    Traceback (most recent call last):
    coldbench.errors.InputError: x: the temperatures do not rise smoothly with pressure
    """
    curve = SaturationCurve(table["start"], table["step"], tuple(table["temperatures_K"]),
                            tuple(table["slopes_K"]))
    if len(curve.temperatures_K) != len(curve.slopes_K) or len(curve.slopes_K) < 2:
        raise InputError(f"{where}: as many temperatures as slopes are needed, at least 2")
    for i in range(len(curve.slopes_K) - 1):
        low, high, *slopes = curve._piece(i)
        # 0 < slope < 3 * rise at both ends is enough for a rising cubic (Fritsch, Carlson 1980)
        if not all(0.0 < slope < 3.0 * (high - low) for slope in slopes):
            raise InputError(f"{where}: the temperatures do not rise smoothly with pressure")
    return curve
