"""One state of a refrigerant, with everything a chart or a balance needs (SI, IIR reference)."""

from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.refrigerant.fluids import Fluid
from coldbench.refrigerant.properties import Properties, properties

SUBCOOLED, WET, SUPERHEATED = "subcooled liquid", "wet vapour", "superheated vapour"
SATURATED_LIQUID, SATURATED_VAPOUR = "saturated liquid", "saturated vapour"
_NEAR_SATURATION_K = 1e-6  # closer than this, pressure and temperature do not fix the state


@dataclass(frozen=True)
class State:
    """A state of one refrigerant; `quality` is None outside the wet region."""

    fluid: str
    pressure_Pa: float
    temperature_K: float
    enthalpy_J_kg: float
    entropy_J_kgK: float
    density_kg_m3: float
    quality: float | None
    region: str

    @property
    def superheat_K(self) -> float:
        """T − T_sat(p) [K]; negative for subcooled liquid."""
        return self.temperature_K - properties(self.fluid).saturation_temperature(self.pressure_Pa)

    @property
    def subcooling_K(self) -> float:
        """T_sat(p) − T [K]; negative for superheated vapour."""
        return -self.superheat_K


def state_ph(fluid: str | Fluid, pressure_Pa: float, enthalpy_J_kg: float) -> State:
    """Return the state at a pressure and enthalpy.

    Parameters
    ----------
    fluid : str or Fluid
        R-134a, R-1234yf or R-152a.
    pressure_Pa : float
        Absolute pressure, 5 kPa to 0.95 of the critical pressure [Pa].
    enthalpy_J_kg : float
        Specific enthalpy [J/kg].

    Returns
    -------
    State

    Raises
    ------
    InputError
        Outside the property tables.

    Examples
    --------
    >>> state_ph("R134a", 300e3, 250e3).region
    'wet vapour'
    """
    known = properties(fluid)
    share = known.quality(pressure_Pa, enthalpy_J_kg)
    return State(known.name, pressure_Pa, known.temperature(pressure_Pa, enthalpy_J_kg),
                 enthalpy_J_kg, known.entropy(pressure_Pa, enthalpy_J_kg),
                 known.density(pressure_Pa, enthalpy_J_kg),
                 share if 0.0 <= share <= 1.0 else None, _region(share))


def _region(share: float) -> str:
    """Word for an equilibrium quality."""
    if share in (0.0, 1.0):
        return SATURATED_VAPOUR if share else SATURATED_LIQUID
    return SUBCOOLED if share < 0.0 else WET if share < 1.0 else SUPERHEATED


def state_pT(fluid: str | Fluid, pressure_Pa: float, temperature_K: float) -> State:
    """Return the state at a pressure and temperature, off saturation.

    Parameters
    ----------
    fluid : str or Fluid
        R-134a, R-1234yf or R-152a.
    pressure_Pa : float
        Absolute pressure [Pa].
    temperature_K : float
        Temperature [K].

    Returns
    -------
    State

    Raises
    ------
    InputError
        On the saturation line, where temperature and pressure do not fix the state, or outside
        the property tables.

    Examples
    --------
    >>> point = state_pT("R134a", 1e6, 303.15)
    >>> point.region, round(point.subcooling_K, 2)
    ('subcooled liquid', 9.39)
    """
    known = properties(fluid)
    excess_K = temperature_K - known.saturation_temperature(pressure_Pa)
    if abs(excess_K) < _NEAR_SATURATION_K:
        raise InputError(f"{known.fluid.designation} at {pressure_Pa / 1e3:.6g} kPa and "
                         f"{temperature_K:.6g} K is saturated: pressure and temperature do not "
                         "say how much is vapour; give a quality or an enthalpy")
    enthalpy = known.vapour_enthalpy if excess_K > 0.0 else known.liquid_enthalpy
    return state_ph(known.fluid, pressure_Pa, enthalpy(pressure_Pa, temperature_K))


def state_ps(fluid: str | Fluid, pressure_Pa: float, entropy_J_kgK: float) -> State:
    """Return the state at a pressure and entropy.

    Parameters
    ----------
    fluid : str or Fluid
        R-134a, R-1234yf or R-152a.
    pressure_Pa : float
        Absolute pressure [Pa].
    entropy_J_kgK : float
        Specific entropy [J/(kg K)].

    Returns
    -------
    State

    Raises
    ------
    InputError
        Outside the property tables.

    Examples
    --------
    >>> round(state_ps("R134a", 800e3, 1766.0).temperature_K, 1)
    320.0
    """
    known = properties(fluid)
    return state_ph(known.fluid, pressure_Pa, known.enthalpy_ps(pressure_Pa, entropy_J_kgK))


def saturated(fluid: str | Fluid, pressure_Pa: float, quality: float) -> State:
    """Return the state at a pressure and quality.

    Parameters
    ----------
    fluid : str or Fluid
        R-134a, R-1234yf or R-152a.
    pressure_Pa : float
        Absolute pressure [Pa].
    quality : float
        Share of vapour by mass, 0 (saturated liquid) to 1 (saturated vapour).

    Returns
    -------
    State

    Raises
    ------
    InputError
        If the quality is outside 0 to 1, or the pressure outside the tables.

    Examples
    --------
    >>> round(saturated("R134a", 292.8e3, 0.0).enthalpy_J_kg / 1e3, 1)
    200.0
    """
    known = properties(fluid)
    if not 0.0 <= quality <= 1.0:
        raise InputError(f"quality {quality:g} must be from 0 to 1")
    bubble = known.liquid_enthalpy_sat(pressure_Pa)
    point = state_ph(known.fluid, pressure_Pa, _lever(known, pressure_Pa, bubble, quality))
    # the lever rule may miss the ends by a rounding, and a word must not hang on that
    return State(**{**vars(point), "quality": quality, "region": _region(quality),
                    "temperature_K": known.saturation_temperature(pressure_Pa)})


def _lever(known: Properties, pressure_Pa: float, bubble: float, quality: float) -> float:
    """h = h_f + x (h_g − h_f) [J/kg], exact at both ends."""
    return (1.0 - quality) * bubble + quality * known.vapour_enthalpy_sat(pressure_Pa)
