"""CoolProp's low-level interface for charts: one fluid, one state at a time, phase given.

Rows are (p [Pa], h [J/kg], T [K], s [J/(kg K)]) with the IIR reference: saturated liquid at
0 degC has 200 kJ/kg and 1 kJ/(kg K).
"""

from math import exp

from coldbench.errors import ConvergenceError
from coldbench.refrigerant.fluids import Fluid, fluid  # noqa: F401 (the examples call it)

Row = tuple[float, float, float, float]


class Evaluator:
    """Evaluates the equation of state of one fluid.

    Examples
    --------
    >>> dew, density = Evaluator(fluid("R134a")).saturated_at_pressure(292.8e3, 1)
    >>> round(dew[1] / 1e3, 1), round(density, 2)
    (398.6, 14.43)
    """

    def __init__(self, substance: Fluid) -> None:
        import CoolProp

        self._keys = CoolProp
        self._state = CoolProp.AbstractState("HEOS", substance.record.library_name)
        self._state.update(CoolProp.QT_INPUTS, 0, 273.15)
        self._h_shift = 200e3 - self._state.hmass()
        self._s_shift = 1e3 - self._state.smass()
        self.critical_K = self._state.T_critical()
        self.critical_Pa = self._state.p_critical()
        self.critical_kg_m3 = self._state.rhomass_critical()
        self.highest_K = self._state.Tmax()

    def row(self) -> Row:
        """The present state as a row."""
        state = self._state
        return state.p(), state.hmass() + self._h_shift, state.T(), state.smass() + self._s_shift

    def at_density(self, temperature_K: float, density_kg_m3: float) -> Row:
        """Row at a temperature and density outside the dome; nothing is solved for.

        >>> round(Evaluator(fluid("R134a")).at_density(300.0, 10.0)[0] / 1e3)
        233
        """
        self._state.specify_phase(self._keys.iphase_gas)
        self._state.update(self._keys.DmassT_INPUTS, density_kg_m3, temperature_K)
        return self.row()

    def at_pressure(self, pressure_Pa: float, temperature_K: float, liquid: bool) -> Row:
        """Row at a pressure and temperature of the given side of the dome.

        >>> round(Evaluator(fluid("R134a")).at_pressure(1e6, 303.15, True)[1] / 1e3, 1)
        241.7
        """
        keys = self._keys
        above = temperature_K >= self.critical_K
        self._state.specify_phase(keys.iphase_supercritical if above else
                                  keys.iphase_liquid if liquid else keys.iphase_gas)
        self._state.update(keys.PT_INPUTS, pressure_Pa, temperature_K)
        return self.row()

    def density(self, pressure_Pa: float, temperature_K: float, liquid: bool) -> float:
        """Density at a pressure and temperature of the given side of the dome [kg/m³].

        >>> round(Evaluator(fluid("R134a")).density(1e6, 303.15, True))
        1189
        """
        self.at_pressure(pressure_Pa, temperature_K, liquid)
        return self._state.rhomass()

    def saturated_at_pressure(self, pressure_Pa: float, quality: int) -> tuple[Row, float]:
        """Row and density [kg/m³] at the bubble (0) or dew (1) point of a pressure."""
        self._state.specify_phase(self._keys.iphase_not_imposed)
        self._state.update(self._keys.PQ_INPUTS, pressure_Pa, quality)
        return self.row(), self._state.rhomass()

    def saturated_at_temperature(self, temperature_K: float, quality: int) -> tuple[Row, float]:
        """Row and density [kg/m³] at the bubble (0) or dew (1) point of a temperature."""
        self._state.specify_phase(self._keys.iphase_not_imposed)
        self._state.update(self._keys.QT_INPUTS, quality, temperature_K)
        return self.row(), self._state.rhomass()

    def at_entropy(self, pressure_Pa: float, entropy_J_kgK: float, temperature_K: float,
                   density_kg_m3: float) -> tuple[Row, float]:
        """Row and density at a pressure and entropy, from a first guess.

        Newton's iteration in T and ln ρ: dp = ρ p_ρ dlnρ + p_T dT,
        ds = −p_T/ρ dlnρ + c_v/T dT.

        Raises ConvergenceError if it does not settle.

        >>> row, _ = Evaluator(fluid("R134a")).at_entropy(800e3, 1766.0, 315.0, 35.0)
        >>> round(row[2], 2), round(row[3], 3)
        (320.04, 1766.0)
        """
        T, density = temperature_K, density_kg_m3
        try:
            for _ in range(40):
                row = self.at_density(T, density)
                dp, ds = pressure_Pa - row[0], entropy_J_kgK - row[3]
                if abs(dp) < 1e-7 * pressure_Pa and abs(ds) < 1e-5:
                    return row, density
                T, density = self._newton(T, density, dp, ds)
        except ValueError:
            pass  # the iteration left the range of the equation
        raise ConvergenceError(f"no state found at {pressure_Pa / 1e3:g} kPa and entropy "
                               f"{entropy_J_kgK:g} J/(kg K)")

    def _newton(self, T: float, density: float, dp: float, ds: float) -> tuple[float, float]:
        """One step in T and ln ρ from the present state towards a change of p and s."""
        keys, state = self._keys, self._state
        by_density = density * state.first_partial_deriv(keys.iP, keys.iDmass, keys.iT)
        by_T = state.first_partial_deriv(keys.iP, keys.iT, keys.iDmass)
        heat, expansion = state.cvmass() / T, -by_T / density
        determinant = by_density * heat - by_T * expansion
        change = (dp * heat - by_T * ds) / determinant
        T_change = (by_density * ds - expansion * dp) / determinant
        # one common factor keeps Newton's direction
        damping = min(1.0, 0.3 / max(abs(change), 1e-9), 0.1 * T / max(abs(T_change), 1e-9))
        return T + damping * T_change, density * exp(damping * change)
