"""Fast properties of the loop fluids, one state at a time, from shipped tables (SI).

`properties("R134a")` serves R-134a, R-1234yf and R-152a from 5 kPa to 0.95 of the critical
pressure, liquid from 170 K, vapour to 480 K. CoolProp does not load. Enthalpy and entropy: IIR
reference (saturated liquid at 0 degC: 200 kJ/kg, 1 kJ/(kg K)).

Value and first derivative are continuous within liquid, vapour and wet region; inverse calls
agree with forward calls to rounding, and both meet the saturation lines exactly.

Sources: the equations of state named in `fluids.toml`, which the authors state up to 455 K for
R-134a, 410 K for R-1234yf and 500 K for R-152a (`equation_highest_temperature_K`); hotter vapour
is extrapolated. The tables' own error is bounded in `tests/reference/test_superheat_tables.py`.
"""

import math
from functools import lru_cache

from coldbench.errors import InputError
from coldbench.refrigerant.build_property_tables import (
    HIGHEST_REDUCED_PRESSURE,
    LOOP_FLUIDS,
    LOWEST_PRESSURE_Pa,
)
from coldbench.refrigerant.fluids import Fluid, fluid
from coldbench.refrigerant.hermite_grid import Column, Region, column
from coldbench.refrigerant.property_files import PropertyTables, load_property_tables

_EDGE = 1e-8  # a state this far beyond an edge (as a share of the region) is on the edge


class Properties:
    """Properties of one fluid; get it from `properties(name)`.

    Arguments: absolute pressure p [Pa], temperature T [K], specific enthalpy h [J/kg], specific
    entropy s [J/(kg K)]. Every method raises InputError outside the tables.
    """

    def __init__(self, substance: Fluid, tables: PropertyTables) -> None:
        self.fluid = substance
        self.vapour: Region = tables.vapour
        self.liquid: Region = tables.liquid
        self.stamp = tables.stamp
        # hotter vapour, up to temperature_range_K, extrapolates the equation of state itself
        self.equation_highest_temperature_K = tables.equation_highest_temperature_K
        self.pressure_range_Pa = (LOWEST_PRESSURE_Pa,
                                  HIGHEST_REDUCED_PRESSURE * substance.critical_pressure_Pa)
        self.temperature_range_K = (tables.liquid.far_K, tables.vapour.far_K)
        self._start, self._per_step = tables.start, 1.0 / tables.step
        # a loop asks much at few pressures
        self._column = lru_cache(maxsize=512)(self._make_column)

    @property
    def name(self) -> str:
        """Short name, for example "R134a"."""
        return self.fluid.name

    def _check_pressure(self, p: float) -> None:
        low, high = self.pressure_range_Pa
        if not low <= p <= high:
            raise InputError(f"{self.fluid.designation} at {p / 1e3:.6g} kPa absolute is outside "
                             f"the tables: accepted {low / 1e3:g} to {high / 1e3:.1f} kPa")

    def _make_column(self, p: float) -> Column:
        self._check_pressure(p)
        saturation_K = self.fluid.bubble.temperature(p)
        return column((math.log(p) - self._start) * self._per_step, saturation_K)

    # saturation -----------------------------------------------------------------------------

    def saturation_temperature(self, p: float) -> float:
        """Return the saturation temperature [K].

        >>> round(properties("R134a").saturation_temperature(300e3), 2)
        273.82
        """
        return self._column(p).saturation_K

    def saturation_pressure(self, T: float) -> float:
        """Return the saturation pressure [Pa].

        >>> round(properties("R134a").saturation_pressure(273.15) / 1e3, 1)
        292.8
        """
        low, high = self.fluid.temperature_range_K
        if not low <= T <= high:
            raise InputError(f"{self.fluid.designation} has no saturation at {T:.6g} K in the "
                             f"tables: accepted {low:g} to {high:g} K")
        p = self.fluid.bubble.pressure(T)
        self._check_pressure(p)
        return p

    def liquid_enthalpy_sat(self, p: float) -> float:
        """Return the enthalpy of saturated liquid [J/kg].

        >>> round(properties("R134a").liquid_enthalpy_sat(292.8e3) / 1e3, 2)
        200.0
        """
        return self.liquid.at_saturation("enthalpy", self._column(p))

    def vapour_enthalpy_sat(self, p: float) -> float:
        """Return the enthalpy of saturated vapour [J/kg].

        >>> round(properties("R134a").vapour_enthalpy_sat(292.8e3) / 1e3, 1)
        398.6
        """
        return self.vapour.at_saturation("enthalpy", self._column(p))

    def liquid_entropy_sat(self, p: float) -> float:
        """Return the entropy of saturated liquid [J/(kg K)].

        >>> round(properties("R134a").liquid_entropy_sat(292.8e3), 1)
        1000.0
        """
        return self.liquid.at_saturation("entropy", self._column(p))

    def vapour_entropy_sat(self, p: float) -> float:
        """Return the entropy of saturated vapour [J/(kg K)].

        >>> round(properties("R134a").vapour_entropy_sat(292.8e3))
        1727
        """
        return self.vapour.at_saturation("entropy", self._column(p))

    def liquid_density_sat(self, p: float) -> float:
        """Return the density of saturated liquid [kg/m³].

        >>> round(properties("R134a").liquid_density_sat(292.8e3))
        1295
        """
        return self.liquid.at_saturation("density", self._column(p))

    def vapour_density_sat(self, p: float) -> float:
        """Return the density of saturated vapour [kg/m³].

        >>> round(properties("R134a").vapour_density_sat(292.8e3), 2)
        14.43
        """
        return p / self.vapour.at_saturation("pressure_over_density", self._column(p))

    # superheated vapour ---------------------------------------------------------------------

    def vapour_enthalpy(self, p: float, T: float) -> float:
        """Return the enthalpy of superheated vapour [J/kg].

        >>> round(properties("R134a").vapour_enthalpy(140e3, 263.15) / 1e3, 1)
        394.5
        """
        return self._at_temperature(self.vapour, "enthalpy", p, T)

    def vapour_entropy(self, p: float, T: float) -> float:
        """Return the entropy of superheated vapour [J/(kg K)].

        >>> round(properties("R134a").vapour_entropy(140e3, 263.15))
        1768
        """
        return self._at_temperature(self.vapour, "entropy", p, T)

    def vapour_density(self, p: float, T: float) -> float:
        """Return the density of superheated vapour [kg/m³].

        >>> round(properties("R134a").vapour_density(140e3, 263.15), 2)
        6.85
        """
        return p / self._at_temperature(self.vapour, "pressure_over_density", p, T)

    def vapour_temperature(self, p: float, h: float) -> float:
        """Return the temperature of superheated vapour of enthalpy h [K].

        >>> round(properties("R134a").vapour_temperature(140e3, 394.2e3), 1)
        262.8
        """
        at = self._column(p)
        return self.vapour.temperature(at, self._find(self.vapour, "enthalpy", at, p, h))

    def vapour_enthalpy_ps(self, p: float, s: float) -> float:
        """Return the enthalpy at entropy s [J/kg]: superheated, or wet by the lever rule.

        Wet: h = h_f + (h_g − h_f) (s − s_f) / (s_g − s_f), so isentropic compression of slightly
        wet vapour has an answer. InputError if s belongs to liquid.

        >>> round(properties("R134a").vapour_enthalpy_ps(800e3, 1766.0) / 1e3, 1)
        431.7
        """
        at = self._column(p)
        dew_s = self.vapour.at_saturation("entropy", at)
        if s >= dew_s:
            w = self._find(self.vapour, "entropy", at, p, s)
            return self.vapour.value("enthalpy", at, w)
        bubble_s = self.liquid.at_saturation("entropy", at)
        share = (s - bubble_s) / (dew_s - bubble_s)
        if not share >= 0.0:
            raise InputError(f"{self.fluid.designation} at {p / 1e3:.6g} kPa and {s:.6g} J/(kg K) "
                             f"is liquid; vapour starts at {bubble_s:.6g} J/(kg K)")
        bubble_h = self.liquid.at_saturation("enthalpy", at)
        return bubble_h + share * (self.vapour.at_saturation("enthalpy", at) - bubble_h)

    # subcooled liquid -----------------------------------------------------------------------

    def liquid_enthalpy(self, p: float, T: float) -> float:
        """Return the enthalpy of subcooled liquid [J/kg].

        >>> round(properties("R134a").liquid_enthalpy(1e6, 303.15) / 1e3, 1)
        241.7
        """
        return self._at_temperature(self.liquid, "enthalpy", p, T)

    def liquid_entropy(self, p: float, T: float) -> float:
        """Return the entropy of subcooled liquid [J/(kg K)].

        >>> round(properties("R134a").liquid_entropy(1e6, 303.15))
        1143
        """
        return self._at_temperature(self.liquid, "entropy", p, T)

    def liquid_density(self, p: float, T: float) -> float:
        """Return the density of subcooled liquid [kg/m³].

        >>> round(properties("R134a").liquid_density(1e6, 303.15))
        1189
        """
        return self._at_temperature(self.liquid, "density", p, T)

    def liquid_temperature(self, p: float, h: float) -> float:
        """Return the temperature of subcooled liquid of enthalpy h [K].

        >>> round(properties("R134a").liquid_temperature(1e6, 241.7e3), 1)
        303.1
        """
        at = self._column(p)
        return self.liquid.temperature(at, self._find(self.liquid, "enthalpy", at, p, h))

    # any phase, homogeneous where wet -------------------------------------------------------

    def quality(self, p: float, h: float) -> float:
        """Return the equilibrium quality (h − h_f) / (h_g − h_f).

        Below 0 for subcooled liquid, above 1 for superheated vapour.

        >>> round(properties("R134a").quality(300e3, 250e3), 3)
        0.248
        """
        return self._quality(self._column(p), h)

    def temperature(self, p: float, h: float) -> float:
        """Return the temperature at enthalpy h, whatever the phase [K].

        >>> round(properties("R134a").temperature(300e3, 250e3), 2)
        273.82
        """
        at = self._column(p)
        share = self._quality(at, h)
        if 0.0 <= share <= 1.0:
            return at.saturation_K
        region = self.vapour if share > 1.0 else self.liquid
        return region.temperature(at, self._find(region, "enthalpy", at, p, h))

    def density(self, p: float, h: float) -> float:
        """Return the density at enthalpy h, whatever the phase [kg/m³].

        Wet: homogeneous, 1/ρ = x/ρ_g + (1 − x)/ρ_f.

        >>> round(properties("R134a").density(300e3, 250e3), 1)
        57.6
        """
        at = self._column(p)
        share = self._quality(at, h)
        if 0.0 <= share <= 1.0:
            return 1.0 / (share / self.vapour_density_sat(p)
                          + (1.0 - share) / self.liquid_density_sat(p))
        if share > 1.0:
            w = self._find(self.vapour, "enthalpy", at, p, h)
            return p / self.vapour.value("pressure_over_density", at, w)
        return self.liquid.value("density", at, self._find(self.liquid, "enthalpy", at, p, h))

    def entropy(self, p: float, h: float) -> float:
        """Return the entropy at enthalpy h, whatever the phase [J/(kg K)].

        >>> round(properties("R134a").entropy(300e3, 250e3))
        1183
        """
        at = self._column(p)
        share = self._quality(at, h)
        if not 0.0 <= share <= 1.0:
            region = self.vapour if share > 1.0 else self.liquid
            return region.value("entropy", at, self._find(region, "enthalpy", at, p, h))
        return ((1.0 - share) * self.liquid.at_saturation("entropy", at)
                + share * self.vapour.at_saturation("entropy", at))

    def enthalpy_ps(self, p: float, s: float) -> float:
        """Return the enthalpy at entropy s, whatever the phase [J/kg].

        >>> round(properties("R134a").enthalpy_ps(1e6, 1143.0) / 1e3, 1)
        241.8
        """
        at = self._column(p)
        if s < self.liquid.at_saturation("entropy", at):
            return self.liquid.value("enthalpy", at, self._find(self.liquid, "entropy", at, p, s))
        return self.vapour_enthalpy_ps(p, s)

    # inside -----------------------------------------------------------------------------------

    def _quality(self, at: Column, h: float) -> float:
        bubble_h = self.liquid.at_saturation("enthalpy", at)
        return (h - bubble_h) / (self.vapour.at_saturation("enthalpy", at) - bubble_h)

    def _at_temperature(self, region: Region, name: str, p: float, T: float) -> float:
        at = self._column(p)
        w = region.distance(at, T)
        if not 0.0 <= w <= 1.0:
            w = self._edge(region, w, at, f"{T:.6g} K", p)
        return region.value(name, at, w)

    def _find(self, region: Region, name: str, at: Column, p: float, value: float) -> float:
        w = region.find(name, at, value)
        return w if 0.0 <= w <= 1.0 else self._edge(region, w, at, f"{name} {value:.6g}", p)

    def _edge(self, region: Region, w: float, at: Column, given: str, p: float) -> float:
        """0 or 1 where w is beyond them by rounding only."""
        if -_EDGE <= w <= 1.0 + _EDGE:
            return min(max(w, 0.0), 1.0)
        phase = "superheated vapour" if region is self.vapour else "subcooled liquid"
        low, high = sorted((at.saturation_K, region.far_K))
        raise InputError(f"{self.fluid.designation} at {p / 1e3:.6g} kPa absolute and {given} is "
                         f"outside the tables of {phase}: {low:.2f} to {high:.2f} K")


@lru_cache(maxsize=None)
def _loaded(name: str) -> Properties:
    return Properties(fluid(name), load_property_tables(name))


def properties(name: str | Fluid) -> Properties:
    """Return the fast properties of a loop fluid.

    Parameters
    ----------
    name : str or Fluid
        R-134a, R-1234yf or R-152a, by any of its names.

    Returns
    -------
    Properties
        The same object each time; about 20 ms the first time.

    Raises
    ------
    InputError
        If the fluid is unknown or has no property tables.

    Examples
    --------
    >>> properties("R-134a").name
    'R134a'
    """
    substance = fluid(name)
    if substance.name not in LOOP_FLUIDS:
        accepted = ", ".join(fluid(each).designation for each in LOOP_FLUIDS)
        raise InputError(f"{substance.designation} has no property tables; accepted: {accepted}")
    return _loaded(substance.name)
