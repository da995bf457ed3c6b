"""CoolProp's high-level calls behind the interface of `coldbench.refrigerant.properties`.

Slow and independent of the shipped tables: the loop is solved and checked with it beside them.
"""

from functools import lru_cache

from CoolProp.CoolProp import PropsSI

from coldbench.errors import InputError

_ZERO_C = 273.15


class CoolPropProperties:
    """The methods the loop uses, each one or two calls of CoolProp (IIR reference)."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.pressure_range_Pa = (5e3, 0.95 * PropsSI("PCRIT", name))
        self.temperature_range_K = (170.0, 480.0)
        self.equation_highest_temperature_K = PropsSI("TMAX", name)
        self._h = 200e3 - PropsSI("HMASS", "T", _ZERO_C, "Q", 0, name)
        self._s = 1e3 - PropsSI("SMASS", "T", _ZERO_C, "Q", 0, name)

    def _get(self, wanted: str, one: str, a: float, other: str, b: float) -> float:
        try:
            return PropsSI(wanted, one, a, other, b, self.name)
        except ValueError as error:
            raise InputError(str(error)) from None

    def saturation_temperature(self, p):
        return self._get("T", "P", p, "Q", 0)

    def saturation_pressure(self, T):
        return self._get("P", "T", T, "Q", 0)

    def liquid_enthalpy_sat(self, p):
        return self._get("HMASS", "P", p, "Q", 0) + self._h

    def vapour_enthalpy_sat(self, p):
        return self._get("HMASS", "P", p, "Q", 1) + self._h

    def liquid_density_sat(self, p):
        return self._get("DMASS", "P", p, "Q", 0)

    def vapour_density_sat(self, p):
        return self._get("DMASS", "P", p, "Q", 1)

    def vapour_enthalpy(self, p, T):
        return self._get("HMASS", "P", p, "T|gas", T) + self._h

    def vapour_entropy(self, p, T):
        return self._get("SMASS", "P", p, "T|gas", T) + self._s

    def vapour_density(self, p, T):
        return self._get("DMASS", "P", p, "T|gas", T)

    def vapour_temperature(self, p, h):
        return self.temperature(p, h)

    def vapour_enthalpy_ps(self, p, s):
        return self._get("HMASS", "P", p, "SMASS", s - self._s) + self._h

    def liquid_enthalpy(self, p, T):
        return self._get("HMASS", "P", p, "T|liquid", T) + self._h

    def temperature(self, p, h):
        return self._get("T", "P", p, "HMASS", h - self._h)

    def density(self, p, h):
        return self._get("DMASS", "P", p, "HMASS", h - self._h)

    def entropy(self, p, h):
        return self._get("SMASS", "P", p, "HMASS", h - self._h) + self._s

    def quality(self, p, h):
        bubble = self.liquid_enthalpy_sat(p)
        return (h - bubble) / (self.vapour_enthalpy_sat(p) - bubble)


@lru_cache(maxsize=None)
def coolprop_properties(name: str) -> CoolPropProperties:
    """The same object for a fluid each time."""
    return CoolPropProperties(name)
