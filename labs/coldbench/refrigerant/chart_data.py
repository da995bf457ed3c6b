"""Lines for pressure–enthalpy and temperature–entropy charts of any listed refrigerant (SI).

`chart_data("R134a")` gives the dome, isotherms, isobars, quality lines and isentropes. Every
line carries p, h, T and s, so both charts draw the same arrays. Isotherms march in density and
isentropes along pressure, with the phase given (see `evaluator`). Nothing goes above the highest
temperature for which the authors of the equation of state vouch.

Blends are computed as one pseudo-pure substance. Between their bubble and dew points T at one
pressure is taken as linear in the quality; h and s follow the lever rule.

Sources: the equations of state named in `fluids.toml`.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Iterable

from coldbench.refrigerant.evaluator import Evaluator, Row
from coldbench.refrigerant.fluids import Fluid, fluid

if TYPE_CHECKING:
    import numpy as np

QUALITIES = tuple(i / 10 for i in range(1, 10))
_LOWEST_CHART_K = 223.15  # −50 degC, below any evaporator of a vehicle
_ABOVE_CRITICAL_K = 80.0
_TOP_REDUCED_PRESSURE = 1.2
_NODES = 28
_NEAR_CRITICAL = (0.98, 0.988, 0.994, 0.998, 0.9995)
_BAR = 1e5
_ROUND_BAR = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0)


@dataclass(frozen=True, eq=False)
class ChartLine:
    """One line; `value` is what stays constant: T [K], p [Pa], quality or s [J/(kg K)].

    All arrays have shape (n,), are in the order of drawing and cannot be written to.
    """

    value: float
    pressure_Pa: "np.ndarray"
    enthalpy_J_kg: "np.ndarray"
    temperature_K: "np.ndarray"
    entropy_J_kgK: "np.ndarray"


@dataclass(frozen=True, eq=False)
class ChartData:
    """What the charts of one fluid show; `bubble` and `dew` end in the critical point."""

    fluid: str
    bubble: ChartLine
    dew: ChartLine
    isotherms: tuple[ChartLine, ...]
    isobars: tuple[ChartLine, ...]
    quality_lines: tuple[ChartLine, ...]
    isentropes: tuple[ChartLine, ...]
    pressure_range_Pa: tuple[float, float]
    temperature_range_K: tuple[float, float]


def chart_line(value: float, rows: Iterable[Row]) -> ChartLine:
    """Return a line from rows of p, h, T, s.

    Parameters
    ----------
    value : float
        What stays constant.
    rows : iterable of tuple, n of them
        Pressure [Pa], enthalpy [J/kg], temperature [K], entropy [J/(kg K)].

    Returns
    -------
    ChartLine

    Examples
    --------
    >>> chart_line(300.0, [(1e5, 4e5, 300.0, 1800.0)]).pressure_Pa.tolist()
    [100000.0]
    """
    import numpy as np

    table = np.array(list(rows), dtype=float).reshape(-1, 4).T.copy()
    table.flags.writeable = False
    return ChartLine(value, *table)


@dataclass(frozen=True)
class Frame:
    """Limits of a chart, its pressure nodes below the critical point, and the dome there."""

    low_Pa: float
    top_Pa: float
    low_K: float
    top_K: float
    bubble: tuple[Row, ...]
    dew: tuple[Row, ...]
    dew_densities_kg_m3: tuple[float, ...]
    critical: Row


def frame(substance: Fluid, equation: Evaluator) -> Frame:
    """Return the limits and the dome of a chart.

    Parameters
    ----------
    substance : Fluid
        Fluid.
    equation : Evaluator
        Its equation of state.

    Returns
    -------
    Frame
        From the dew pressure at −50 degC (or the start of the saturation table) to 1.2 times
        the critical pressure, and at most 80 K above the critical temperature.

    Examples
    --------
    >>> found = frame(fluid("R134a"), Evaluator(fluid("R134a")))
    >>> round(found.low_Pa / 1e3, 1), round(found.top_Pa / 1e6, 2)
    (29.5, 4.87)
    """
    import numpy as np

    low_K = max(_LOWEST_CHART_K, substance.temperature_range_K[0])
    low_Pa = equation.saturated_at_temperature(low_K, 1)[0][0]
    critical_Pa = equation.critical_Pa
    nodes = [*np.geomspace(low_Pa, 0.97 * critical_Pa, _NODES).tolist(),
             *(share * critical_Pa for share in _NEAR_CRITICAL)]
    bubble = tuple(equation.saturated_at_pressure(p, 0)[0] for p in nodes)
    dew, densities = zip(*(equation.saturated_at_pressure(p, 1) for p in nodes))
    critical = equation.at_density(equation.critical_K, equation.critical_kg_m3)
    top_K = min(equation.critical_K + _ABOVE_CRITICAL_K, equation.highest_K)
    return Frame(low_Pa, _TOP_REDUCED_PRESSURE * critical_Pa, low_K, top_K, bubble, dew, densities,
                 critical)


def mixed(bubble: Row, dew: Row, quality: float) -> Row:
    """Return the row of a wet state by the lever rule, T linear between bubble and dew.

    Parameters
    ----------
    bubble, dew : Row
        Both ends.
    quality : float
        Share of vapour, 0…1.

    Returns
    -------
    Row

    Examples
    --------
    >>> mixed((1.0, 2.0, 3.0, 4.0), (1.0, 4.0, 3.0, 8.0), 0.5)
    (1.0, 3.0, 3.0, 6.0)
    """
    return tuple(low + quality * (high - low) for low, high in zip(bubble, dew))


def isotherm(equation: Evaluator, limits: Frame, temperature_K: float) -> ChartLine:
    """Return a line of constant temperature, marched in density from dense to thin.

    Parameters
    ----------
    equation : Evaluator
        Equation of state.
    limits : Frame
        Chart.
    temperature_K : float
        Temperature [K].

    Returns
    -------
    ChartLine

    Examples
    --------
    >>> equation = Evaluator(fluid("R134a"))
    >>> line = isotherm(equation, frame(fluid("R134a"), equation), 273.15)
    >>> bool((line.temperature_K == 273.15).all()), round(float(line.enthalpy_J_kg.min()) / 1e3)
    (True, 200)
    """
    import numpy as np

    thick = equation.density(limits.top_Pa, temperature_K, liquid=True)
    thin = equation.density(limits.low_Pa, temperature_K, liquid=False)
    if temperature_K >= equation.critical_K:
        parts = (np.geomspace(thick, thin, 32), ())
    else:
        boiling, condensing = (equation.saturated_at_temperature(temperature_K, quality)[1]
                               for quality in (0, 1))
        parts = np.linspace(thick, boiling, 9), np.geomspace(condensing, thin, 16)
    rows = [equation.at_density(temperature_K, d) for part in parts for d in part]
    return chart_line(temperature_K, rows)


def isobar(equation: Evaluator, limits: Frame, pressure_Pa: float) -> ChartLine:
    """Return a line of constant pressure below the critical one, from cold to hot.

    Parameters
    ----------
    equation : Evaluator
        Equation of state.
    limits : Frame
        Chart.
    pressure_Pa : float
        Absolute pressure [Pa].

    Returns
    -------
    ChartLine

    Examples
    --------
    >>> equation = Evaluator(fluid("R134a"))
    >>> line = isobar(equation, frame(fluid("R134a"), equation), 1e6)
    >>> bool((line.entropy_J_kgK[1:] > line.entropy_J_kgK[:-1]).all())
    True
    """
    import numpy as np

    bubble, dew = (equation.saturated_at_pressure(pressure_Pa, q)[0] for q in (0, 1))
    cold = np.linspace(limits.low_K, bubble[2], 6)[:-1].tolist()
    # closer near the dew point, where the line bends
    hot = (dew[2] + (limits.top_K - dew[2]) * np.linspace(0.0, 1.0, 14)[1:] ** 2).tolist()
    rows = [*(equation.at_pressure(pressure_Pa, T, True) for T in cold if T < bubble[2]),
            bubble, dew, *(equation.at_pressure(pressure_Pa, T, False) for T in hot)]
    return chart_line(pressure_Pa, rows)


def isentrope(equation: Evaluator, limits: Frame, entropy_J_kgK: float) -> ChartLine:
    """Return a line of constant entropy, from low to high pressure.

    Wet by the lever rule, superheated by Newton's iteration; it ends at the chart's highest
    temperature.

    Parameters
    ----------
    equation : Evaluator
        Equation of state.
    limits : Frame
        Chart.
    entropy_J_kgK : float
        Entropy above that of the critical point [J/(kg K)].

    Returns
    -------
    ChartLine

    Examples
    --------
    >>> equation = Evaluator(fluid("R134a"))
    >>> line = isentrope(equation, frame(fluid("R134a"), equation), 1800.0)
    >>> bool((line.temperature_K[1:] > line.temperature_K[:-1]).all())
    True
    """
    rows: list[Row] = []
    guess = None
    for bubble, dew, density in zip(limits.bubble, limits.dew, limits.dew_densities_kg_m3):
        if entropy_J_kgK <= dew[3]:
            share = (entropy_J_kgK - bubble[3]) / (dew[3] - bubble[3])
            rows.append(mixed(bubble, dew, share))
            guess = None
        else:
            start = guess or _warmed(dew, density, entropy_J_kgK)
            guess = equation.at_entropy(dew[0], entropy_J_kgK, *_raised(start, dew[0]))
            rows.append(guess[0])
    start = guess or (limits.dew[-1], limits.dew_densities_kg_m3[-1])
    for share in (1.03, 1.08, 1.14, _TOP_REDUCED_PRESSURE):
        pressure_Pa = share * equation.critical_Pa
        start = equation.at_entropy(pressure_Pa, entropy_J_kgK, *_raised(start, pressure_Pa))
        rows.append(start[0])
    return chart_line(entropy_J_kgK, (row for row in rows if row[2] <= limits.top_K))


def _warmed(dew: Row, density: float, entropy_J_kgK: float) -> tuple[Row, float]:
    """First guess at the same pressure and more entropy, with c_p about 900 J/(kg K)."""
    from math import exp

    warmer = exp(min((entropy_J_kgK - dew[3]) / 900.0, 0.7))
    return (dew[0], dew[1], dew[2] * warmer, dew[3]), density / warmer


def _raised(start: tuple[Row, float], pressure_Pa: float) -> tuple[float, float]:
    """First guess of T and density at a higher pressure and the same entropy."""
    (p, _, T, _), density = start
    ratio = pressure_Pa / p
    return T * ratio**0.1, density * ratio**0.9


@lru_cache(maxsize=32)
def _built(name: str) -> ChartData:
    substance = fluid(name)
    equation = Evaluator(substance)
    limits = frame(substance, equation)
    wet = list(zip(limits.bubble, limits.dew))
    return ChartData(
        name,
        chart_line(0.0, (*limits.bubble, limits.critical)),
        chart_line(1.0, (*limits.dew, limits.critical)),
        tuple(isotherm(equation, limits, T) for T in round_temperatures_K(equation, limits)),
        tuple(isobar(equation, limits, bar * _BAR) for bar in _ROUND_BAR
              if limits.low_Pa <= bar * _BAR <= 0.95 * equation.critical_Pa),
        tuple(chart_line(x, (*(mixed(low, high, x) for low, high in wet), limits.critical))
              for x in QUALITIES),
        tuple(isentrope(equation, limits, s) for s in round_entropies_J_kgK(equation, limits)),
        (limits.low_Pa, limits.top_Pa), (limits.low_K, limits.top_K))


def round_temperatures_K(equation: Evaluator, limits: Frame, step_K: float = 20.0) -> list[float]:
    """Return multiples of a step in degC within a chart, without those at the critical point.

    Parameters
    ----------
    equation : Evaluator
        Equation of state.
    limits : Frame
        Chart.
    step_K : float
        Step [K].

    Returns
    -------
    list[float]
        Temperatures [K].

    Examples
    --------
    >>> equation = Evaluator(fluid("R134a"))
    >>> found = round_temperatures_K(equation, frame(fluid("R134a"), equation))
    >>> [round(T - 273.15) for T in found[:3]]
    [-40, -20, 0]
    """
    multiples = (273.15 + step_K * i for i in range(-20, 40))
    return [T for T in multiples
            if limits.low_K <= T <= limits.top_K and abs(T - equation.critical_K) > 1.0]


def round_entropies_J_kgK(equation: Evaluator, limits: Frame) -> list[float]:
    """Return multiples of 50 or 100 from the critical point to the thinnest, hottest gas shown.

    Those that would only cut a corner of the chart are left out.

    Parameters
    ----------
    equation : Evaluator
        Equation of state.
    limits : Frame
        Chart.

    Returns
    -------
    list[float]
        At most 18 entropies [J/(kg K)].

    Examples
    --------
    >>> equation = Evaluator(fluid("R134a"))
    >>> round_entropies_J_kgK(equation, frame(fluid("R134a"), equation))[0]
    1600.0
    """
    highest = equation.at_pressure(limits.low_Pa, limits.top_K, False)[3]
    step = 50.0 if highest - limits.critical[3] < 900.0 else 100.0
    multiples = (step * i for i in range(1, 100))
    return [s for s in multiples if limits.critical[3] + 0.4 * step < s < highest - 0.6 * step]


def chart_data(name: str | Fluid) -> ChartData:
    """Return the lines of a fluid's charts.

    Parameters
    ----------
    name : str or Fluid
        Any listed refrigerant.

    Returns
    -------
    ChartData
        The same object each time; the first call loads CoolProp (about 2 s).

    Raises
    ------
    InputError
        If no fluid has that name.

    Examples
    --------
    >>> data = chart_data("R-134a")
    >>> data.fluid, len(data.quality_lines), round(float(data.dew.pressure_Pa[-1]) / 1e6, 3)
    ('R134a', 9, 4.059)
    """
    return _built(fluid(name).name)
