"""What a pressure and a temperature reading together say about a refrigerant."""

from dataclasses import dataclass
from typing import Iterable

from coldbench.errors import InputError
from coldbench.refrigerant.fluids import FLUIDS, Fluid, fluid


@dataclass(frozen=True)
class Match:
    """A fluid that fits a reading, and how far off the reading is [K]."""

    name: str
    difference_K: float


def superheat(refrigerant: str | Fluid, pressure_Pa: float, temperature_K: float) -> float:
    """Return how far vapour is above its dew point: superheat = T − T_dew(p).

    Parameters
    ----------
    refrigerant : str or Fluid
        Fluid or its name.
    pressure_Pa : float
        Absolute pressure [Pa].
    temperature_K : float
        Temperature of the vapour [K].

    Returns
    -------
    float
        Superheat [K]; negative means liquid is present or a reading is wrong.

    Raises
    ------
    InputError
        If the pressure lies outside the saturation table.

    Examples
    --------
    >>> round(superheat("R134a", 300e3, 281.15), 1)
    7.3
    """
    return temperature_K - fluid(refrigerant).dew_temperature(pressure_Pa)


def subcooling(refrigerant: str | Fluid, pressure_Pa: float, temperature_K: float) -> float:
    """Return how far liquid is below its bubble point: subcooling = T_bubble(p) − T.

    Parameters
    ----------
    refrigerant : str or Fluid
        Fluid or its name.
    pressure_Pa : float
        Absolute pressure [Pa].
    temperature_K : float
        Temperature of the liquid [K].

    Returns
    -------
    float
        Subcooling [K]; negative means vapour is present or a reading is wrong.

    Raises
    ------
    InputError
        If the pressure lies outside the saturation table.

    Examples
    --------
    >>> round(subcooling("R134a", 1.2e6, 313.15), 1)
    6.3
    """
    return fluid(refrigerant).bubble_temperature(pressure_Pa) - temperature_K


def identify(pressure_Pa: float, temperature_K: float, candidates: Iterable[str] = FLUIDS,
             tolerance_K: float = 1.0) -> tuple[Match, ...]:
    """Return the fluids whose saturation fits a vessel at rest, closest first.

    Parameters
    ----------
    pressure_Pa : float
        Absolute pressure of a vessel that holds liquid and vapour at rest [Pa].
    temperature_K : float
        Its temperature [K].
    candidates : iterable of str
        Fluids to try; all by default.
    tolerance_K : float
        Largest distance outside bubble … dew that still fits, 0 or more [K].

    Returns
    -------
    tuple[Match, ...]
        Empty if nothing fits. A fit is a hint, not a proof: mixtures and air can imitate a
        pure fluid, so service practice is a refrigerant identifier (common practice).

    Raises
    ------
    InputError
        If a candidate is unknown or the tolerance negative.

    Examples
    --------
    >>> [match.name for match in identify(572e3, 293.15)]
    ['R134a', 'R12']
    """
    if not tolerance_K >= 0.0:
        raise InputError(f"tolerance {tolerance_K:g} K must be 0 or more")
    pairs = [(name, _misfit(fluid(name), pressure_Pa, temperature_K)) for name in candidates]
    fits = [Match(fluid(n).name, d) for n, d in pairs if d is not None and abs(d) <= tolerance_K]
    return tuple(sorted(fits, key=lambda match: abs(match.difference_K)))


def _misfit(candidate: Fluid, pressure_Pa: float, temperature_K: float) -> float | None:
    """Distance of T from bubble … dew at p [K]; 0 within; None outside the table."""
    low_Pa, high_Pa = candidate.pressure_range_Pa
    if not low_Pa <= pressure_Pa <= high_Pa:
        return None
    bubble_K = candidate.bubble_temperature(pressure_Pa)
    dew_K = candidate.dew_temperature(pressure_Pa)
    return min(temperature_K - bubble_K, 0.0) + max(temperature_K - dew_K, 0.0)


def partial_pressure_of_air(refrigerant: str | Fluid, pressure_Pa: float, temperature_K: float,
                            tolerance_Pa: float = 0.0) -> float:
    """Return the air in a vessel at rest with liquid: p_air = p − p_bubble(T).

    Parameters
    ----------
    refrigerant : str or Fluid
        Fluid or its name.
    pressure_Pa : float
        Absolute pressure at rest, liquid present, one temperature throughout [Pa].
    temperature_K : float
        That temperature [K].
    tolerance_Pa : float
        A reading this far below saturation still counts as no air [Pa].

    Returns
    -------
    float
        Partial pressure of non-condensable gas [Pa], 0 or more (Dalton; vapour above the
        liquid taken as undisturbed).

    Raises
    ------
    InputError
        If the reading is further below saturation (no liquid left, or not yet at rest), or
        the temperature lies outside the saturation table.

    Examples
    --------
    >>> round(partial_pressure_of_air("R134a", 650e3, 293.15) / 1e3)
    78
    """
    substance = fluid(refrigerant)
    excess_Pa = pressure_Pa - substance.bubble_pressure(temperature_K)
    if not excess_Pa >= -tolerance_Pa:
        raise InputError(f"{substance.designation} at {pressure_Pa / 1e3:.1f} kPa absolute is "
                         f"{-excess_Pa / 1e3:.1f} kPa below saturation at "
                         f"{temperature_K - 273.15:.1f} degC: no liquid is left or it is not at "
                         "rest, so air cannot be judged")
    return max(excess_Pa, 0.0)
