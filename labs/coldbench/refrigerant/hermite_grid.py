"""Bicubic Hermite interpolation over ln p and distance from saturation, in plain Python.

A region (vapour or liquid) is mapped to a rectangle: along x = ln p, and across with
w = 0 at saturation and w = 1 at a fixed far temperature. Between nodes each property is a
bicubic polynomial with the node's value, both slopes and the twist, so value and first
derivative are continuous. At one pressure the grid becomes a curve in w, which is inverted by
bracketing and Newton's iteration: both directions agree to rounding.

Source: bicubic interpolation from values, slopes and cross derivatives as in Press et al.,
Numerical Recipes, section 3.6 (from memory).
"""

from dataclasses import dataclass
from typing import NamedTuple

from coldbench.errors import ConvergenceError

STRETCH = 0.15  # spacing at saturation over mean spacing; curvature is strongest there
Table = list[list[tuple[float, float, float, float]]]  # [pressure node][w node]


class Column(NamedTuple):
    """A pressure on the grid: interval, Hermite weights, saturation temperature [K]."""

    interval: int
    value_low: float
    slope_low: float
    value_high: float
    slope_high: float
    saturation_K: float


def column(position: float, saturation_K: float) -> Column:
    """Return the weights with which the two neighbouring pressure nodes count.

    Parameters
    ----------
    position : float
        (ln p − start) / step, 0 or more.
    saturation_K : float
        Saturation temperature there [K].

    Returns
    -------
    Column

    Examples
    --------
    >>> column(3.5, 300.0)[:3]
    (3, 0.5, 0.125)
    """
    i = int(position)
    t = position - i
    rest = 1.0 - t
    high = t * t * (3.0 - 2.0 * t)
    return Column(i, 1.0 - high, t * rest * rest, high, -t * t * rest, saturation_K)


def share_of(w: float) -> float:
    """Return (T − T_sat) / (T_far − T_sat) = a w + (1 − a) w², a = STRETCH.

    Parameters
    ----------
    w : float
        Distance, 0…1.

    Returns
    -------
    float
        0…1.

    Examples
    --------
    >>> share_of(0.5)
    0.2875
    """
    return w * (STRETCH + (1.0 - STRETCH) * w)


@dataclass(frozen=True)
class Region:
    """Vapour or liquid: its far temperature [K] and one table per property."""

    far_K: float
    intervals: int
    tables: dict[str, Table]

    def distance(self, at: Column, temperature_K: float) -> float:
        """Return w from (T − T_sat) / (T_far − T_sat) = a w + (1 − a) w², a = STRETCH.

        Parameters
        ----------
        at : Column
            Pressure.
        temperature_K : float
            Temperature [K].

        Returns
        -------
        float
            0 at saturation, 1 at the far temperature; below 0 or above 1 outside the region.

        Examples
        --------
        >>> round(Region(400.0, 2, {}).distance(column(0.0, 300.0), 328.75), 12)
        0.5
        """
        share = (temperature_K - at.saturation_K) / (self.far_K - at.saturation_K)
        if share < 0.0:
            return share / STRETCH
        root = (STRETCH * STRETCH + 4.0 * (1.0 - STRETCH) * share) ** 0.5
        return 2.0 * share / (STRETCH + root)  # no cancellation near saturation

    def temperature(self, at: Column, w: float) -> float:
        """Return the temperature at a distance: the inverse of `distance`.

        Parameters
        ----------
        at : Column
            Pressure.
        w : float
            Distance, 0…1.

        Returns
        -------
        float
            Temperature [K].

        Examples
        --------
        >>> Region(400.0, 2, {}).temperature(column(0.0, 300.0), 0.5)
        328.75
        """
        return at.saturation_K + share_of(w) * (self.far_K - at.saturation_K)

    def at_saturation(self, name: str, at: Column) -> float:
        """Return a property at w = 0.

        Parameters
        ----------
        name : str
            Property.
        at : Column
            Pressure.

        Returns
        -------
        float

        Examples
        --------
        >>> rows = [[(1.0, 0.0, 0.0, 0.0)] * 2, [(3.0, 0.0, 0.0, 0.0)] * 2]
        >>> Region(400.0, 1, {"h": rows}).at_saturation("h", column(0.5, 300.0))
        2.0
        """
        i, a, b, c, d, _ = at
        table = self.tables[name]
        low, high = table[i][0], table[i + 1][0]
        return a * low[0] + b * low[1] + c * high[0] + d * high[1]

    def value(self, name: str, at: Column, w: float) -> float:
        """Return a property at a pressure and a distance from saturation.

        Parameters
        ----------
        name : str
            Property.
        at : Column
            Pressure.
        w : float
            Distance, 0…1.

        Returns
        -------
        float

        Examples
        --------
        >>> rows = [[(1.0, 0.0, 4.0, 0.0), (5.0, 0.0, 4.0, 0.0)]] * 2
        >>> Region(400.0, 1, {"h": rows}).value("h", column(0.3, 300.0), 0.25)
        2.0
        """
        position = w * self.intervals
        j = min(int(position), self.intervals - 1)
        low, low_slope, high, high_slope = self._piece(name, at, j)
        t = position - j
        rise = high - low
        return low + t * (low_slope + t * (3.0 * rise - 2.0 * low_slope - high_slope
                                           + t * (low_slope + high_slope - 2.0 * rise)))

    def find(self, name: str, at: Column, value: float) -> float:
        """Return the distance at which a property has a value: the inverse of `value`.

        Parameters
        ----------
        name : str
            Property that rises or falls all the way from w = 0 to 1.
        at : Column
            Pressure.
        value : float
            Its value.

        Returns
        -------
        float
            Distance w, 0…1; outside the region anything below 0 or above 1, or nan.

        Raises
        ------
        ConvergenceError
            If Newton's iteration does not settle (a damaged table).

        Examples
        --------
        >>> rows = [[(1.0, 0.0, 4.0, 0.0), (5.0, 0.0, 4.0, 0.0)]] * 2
        >>> Region(400.0, 1, {"h": rows}).find("h", column(0.3, 300.0), 2.0)
        0.25
        """
        j = self._bracket(name, at, value)
        low, low_slope, high, high_slope = self._piece(name, at, j)
        rise = high - low
        c2, c3 = 3.0 * rise - 2.0 * low_slope - high_slope, low_slope + high_slope - 2.0 * rise
        t = (value - low) / rise
        if not 0.0 <= t <= 1.0:
            return (j + t) / self.intervals
        for _ in range(20):
            error = low + t * (low_slope + t * (c2 + t * c3)) - value
            change = error / (low_slope + t * (2.0 * c2 + 3.0 * t * c3))
            t -= change
            if -1e-11 < change < 1e-11:
                return (j + t) / self.intervals
        raise ConvergenceError(f"no {name} of {value:g} found at {at.saturation_K:g} K saturation")

    def _bracket(self, name: str, at: Column, value: float) -> int:
        """Cell of w in which the property passes the value (bisection over the nodes)."""
        i, a, b, c, d, _ = at
        low_row, high_row = self.tables[name][i], self.tables[name][i + 1]
        first, last = 0, self.intervals
        rising = low_row[last][0] > low_row[0][0]
        while last - first > 1:
            middle = (first + last) >> 1
            low, high = low_row[middle], high_row[middle]
            node = a * low[0] + b * low[1] + c * high[0] + d * high[1]
            if (node <= value) is rising:
                first = middle
            else:
                last = middle
        return first

    def _piece(self, name: str, at: Column, j: int) -> tuple[float, float, float, float]:
        """End values and end slopes per cell of the curve in w, cell j, at one pressure."""
        i, a, b, c, d, _ = at
        low, high = self.tables[name][i], self.tables[name][i + 1]
        f0, fx0, fw0, fxw0 = low[j]
        g0, gx0, gw0, gxw0 = high[j]
        f1, fx1, fw1, fxw1 = low[j + 1]
        g1, gx1, gw1, gxw1 = high[j + 1]
        return (a * f0 + b * fx0 + c * g0 + d * gx0, a * fw0 + b * fxw0 + c * gw0 + d * gxw0,
                a * f1 + b * fx1 + c * g1 + d * gx1, a * fw1 + b * fxw1 + c * gw1 + d * gxw1)
