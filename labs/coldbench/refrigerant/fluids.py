"""One refrigerant: its names, limits and saturation properties (SI).

Bubble: the first vapour leaves the liquid. Dew: the last liquid is gone. A pure fluid has
one saturation curve; a blend with glide has two.
"""

from dataclasses import dataclass
from functools import lru_cache

from coldbench.errors import InputError
from coldbench.refrigerant.records import RECORDS, FluidRecord, name_index, plain_name
from coldbench.refrigerant.saturation import SaturationCurve, load_curves

FLUIDS: tuple[str, ...] = tuple(RECORDS)
_INDEX = name_index(RECORDS)


@dataclass(frozen=True)
class Fluid:
    """A refrigerant with its saturation curves; get one from `fluid(name)`."""

    record: FluidRecord
    bubble: SaturationCurve
    dew: SaturationCurve

    @property
    def name(self) -> str:
        """Short name, for example "R134a"."""
        return self.record.name

    @property
    def designation(self) -> str:
        """Name as on a label, for example "R-134a"."""
        return self.record.designation

    @property
    def safety_class(self) -> str:
        """ASHRAE 34 / ISO 817 safety class, for example "A1"."""
        return self.record.safety_class

    @property
    def critical_temperature_K(self) -> float:
        """Critical temperature [K]."""
        return self.record.critical_temperature_K

    @property
    def critical_pressure_Pa(self) -> float:
        """Critical pressure [Pa]."""
        return self.record.critical_pressure_Pa

    @property
    def triple_temperature_K(self) -> float | None:
        """Triple-point temperature [K]; None for a blend."""
        return self.record.triple_temperature_K

    @property
    def has_glide(self) -> bool:
        """True where bubble and dew differ (blends)."""
        return self.bubble != self.dew

    @property
    def temperature_range_K(self) -> tuple[float, float]:
        """Lowest and highest temperature of the saturation table [K]."""
        return self.record.lowest_temperature_K, self.record.highest_temperature_K

    @property
    def pressure_range_Pa(self) -> tuple[float, float]:
        """Lowest and highest pressure at which both bubble and dew are known [Pa]."""
        low, high = self.temperature_range_K
        return self.bubble.pressure(low), self.dew.pressure(high)

    def bubble_pressure(self, temperature_K: float) -> float:
        """Return the pressure of boiling liquid.

        Parameters
        ----------
        temperature_K : float
            Temperature within `temperature_range_K` [K].

        Returns
        -------
        float
            Absolute pressure [Pa].

        Raises
        ------
        InputError
            Outside that range.

        Examples
        --------
        >>> round(fluid("R134a").bubble_pressure(273.15) / 1e3, 1)
        292.8
        """
        return self.bubble.pressure(self._checked_temperature(temperature_K))

    def dew_pressure(self, temperature_K: float) -> float:
        """Return the pressure of condensing vapour.

        Parameters
        ----------
        temperature_K : float
            Temperature within `temperature_range_K` [K].

        Returns
        -------
        float
            Absolute pressure [Pa].

        Raises
        ------
        InputError
            Outside that range.

        Examples
        --------
        >>> round(fluid("R407C").dew_pressure(273.15) / 1e3, 1)
        460.7
        """
        return self.dew.pressure(self._checked_temperature(temperature_K))

    def bubble_temperature(self, pressure_Pa: float) -> float:
        """Return the temperature at which liquid begins to boil.

        Parameters
        ----------
        pressure_Pa : float
            Absolute pressure within the table [Pa].

        Returns
        -------
        float
            Temperature [K].

        Raises
        ------
        InputError
            Outside that range.

        Examples
        --------
        >>> round(fluid("R134a").bubble_temperature(300e3) - 273.15, 2)
        0.67
        """
        return self.bubble.temperature(self._checked_pressure(pressure_Pa, self.bubble))

    def dew_temperature(self, pressure_Pa: float) -> float:
        """Return the temperature at which vapour begins to condense.

        Parameters
        ----------
        pressure_Pa : float
            Absolute pressure within the table [Pa].

        Returns
        -------
        float
            Temperature [K].

        Raises
        ------
        InputError
            Outside that range.

        Examples
        --------
        >>> round(fluid("R407C").dew_temperature(461e3), 2)
        273.17
        """
        return self.dew.temperature(self._checked_pressure(pressure_Pa, self.dew))

    def _checked_temperature(self, temperature_K: float) -> float:
        low, high = self.temperature_range_K
        if low <= temperature_K <= high:
            return temperature_K
        raise InputError(f"{self.designation} at {temperature_K - 273.15:.2f} degC"
                         f"{self._why(temperature_K)}: saturation is known from "
                         f"{low - 273.15:.2f} to {high - 273.15:.2f} degC")

    def _why(self, temperature_K: float) -> str:
        critical, triple = self.critical_temperature_K, self.triple_temperature_K
        if temperature_K >= critical:
            return f" is above its critical point ({critical - 273.15:.2f} degC)"
        if triple and temperature_K < triple:
            return f" is below its triple point ({triple - 273.15:.2f} degC)"
        return " is outside the table"

    def _checked_pressure(self, pressure_Pa: float, curve: SaturationCurve) -> float:
        # one part in 1e12: a limit that went through exp(ln p) is still inside
        low, high = curve.lowest_pressure_Pa, curve.highest_pressure_Pa
        if low * (1.0 - 1e-12) <= pressure_Pa <= high * (1.0 + 1e-12):
            return pressure_Pa
        above = pressure_Pa >= self.critical_pressure_Pa
        why = (f"is above its critical point ({self.critical_pressure_Pa / 1e3:.1f} kPa)"
               if above else "is outside the table")
        raise InputError(f"{self.designation} at {pressure_Pa / 1e3:.6g} kPa absolute {why}: "
                         f"saturation is known from {low / 1e3:.4g} to {high / 1e3:.1f} kPa "
                         "absolute")


def fluid(name: "str | Fluid") -> Fluid:
    """Return a refrigerant by any of its names.

    Parameters
    ----------
    name : str or Fluid
        "R134a", "R-134a", "hfc-134a", "CO2", …; a Fluid is returned as it is.

    Returns
    -------
    Fluid
        The same object each time.

    Raises
    ------
    InputError
        If no fluid has that name.

    Examples
    --------
    >>> fluid("r-134A").name, fluid("CO2").designation
    ('R134a', 'R-744')
    """
    if isinstance(name, Fluid):
        return name
    found = _INDEX.get(plain_name(name)) if isinstance(name, str) else None
    if not found:
        accepted = ", ".join(record.designation for record in RECORDS.values())
        raise InputError(f"no refrigerant {name!r}; accepted: {accepted}")
    return _loaded(found)


@lru_cache(maxsize=None)
def _loaded(name: str) -> Fluid:
    curves = load_curves(name)
    return Fluid(RECORDS[name], curves["bubble"], curves["dew"])
