"""The numbers and words of a pocket chart, before any drawing."""

import math
from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.quantity import format_quantity, from_si, gauge_from_absolute, normalise_unit, to_si
from coldbench.refrigerant import Fluid

_DECIMALS = {"kPa": 0, "psig": 1, "bar": 2, "MPa": 3}
_LOWEST_K, _HIGHEST_K = 233.15, 353.15
_STEPS = {"degC": (1, 2, 5), "degF": (2, 5, 10)}
MOST_ROWS = 64


@dataclass(frozen=True)
class Row:
    """One temperature of the chart with its texts; `vacuum` says which pressures are below 0."""

    temperature: int
    pressures: tuple[str, ...]
    vacuum: tuple[bool, ...]


@dataclass(frozen=True)
class ChartTable:
    """All that a pocket chart shows."""

    designation: str
    chemical: str
    safety: str
    place: str
    pressure_unit: str
    temperature_symbol: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    vacuum_note: str
    cautions: tuple[str, ...]
    source: str


def chart_table(substance: Fluid, pressure_unit: str, temperature_unit: str,
                atmosphere_Pa: float, altitude_m: float | None) -> ChartTable:
    """Return the gauge pressure chart of one fluid at one place.

    Parameters
    ----------
    substance : Fluid
        Refrigerant.
    pressure_unit : str
        kPa, psi, bar or MPa, gauge.
    temperature_unit : str
        degC or degF.
    atmosphere_Pa : float
        Pressure of the air at the place [Pa].
    altitude_m : float or None
        Altitude [m]; None when the atmosphere was read from a barometer.

    Returns
    -------
    ChartTable
        -40 to 80 °C, or as far as saturation is known. psi shows a vacuum in inHg, as the
        trade's compound gauges do (common practice); the other units as negative gauge.

    Raises
    ------
    InputError
        If a unit is not one of these.

    Examples
    --------
    >>> from coldbench.refrigerant import fluid
    >>> table = chart_table(fluid("R134a"), "bar", "degC", 101325.0, 0.0)
    >>> [(row.temperature, row.pressures) for row in table.rows if row.temperature in (-40, 0)]
    [(-40, ('−0.50',)), (0, ('1.91',))]
    """
    unit, scale = _pressure_unit(pressure_unit), _temperature_unit(temperature_unit)
    rows = tuple(_row(substance, t, unit, scale, atmosphere_Pa)
                 for t in _temperatures(substance, scale))
    record = substance.record
    return ChartTable(
        designation=substance.designation,
        chemical=record.chemical,
        safety=f"Safety class {substance.safety_class}: {record.safety_meaning}",
        place=_place(atmosphere_Pa, altitude_m),
        pressure_unit=unit,
        temperature_symbol=format_quantity(300.0, scale, "temperature").split()[-1],
        columns=("bubble", "dew") if substance.has_glide else ("pressure",),
        rows=rows,
        vacuum_note=_vacuum_note(unit) if any(any(row.vacuum) for row in rows) else "",
        cautions=_cautions(substance),
        source=f"Equation of state: {record.equation}",
    )


def _pressure_unit(text: str) -> str:
    return _chart_unit("--units", text, "gauge pressure", tuple(_DECIMALS))


def _temperature_unit(text: str) -> str:
    return _chart_unit("--temperature-unit", text, "temperature", tuple(_STEPS))


def _chart_unit(option: str, text: str, kind: str, suitable: tuple[str, ...]) -> str:
    try:
        unit, why = normalise_unit(text, kind), "does not suit a chart"
    except InputError as error:
        unit, why = "", f"is refused: {str(error).partition(';')[0]}"
    if unit not in suitable:
        raise InputError(f"{option} {text!r} {why}; accepted: {', '.join(suitable)}")
    return unit


def _temperatures(substance: Fluid, scale: str) -> list[int]:
    low_K, high_K = substance.temperature_range_K
    low = math.ceil(from_si(max(low_K, _LOWEST_K), scale, "temperature") - 1e-6)
    high = math.floor(from_si(min(high_K, _HIGHEST_K), scale, "temperature") + 1e-6)
    step = next(s for s in _STEPS[scale] if high // s - math.ceil(low / s) < MOST_ROWS)
    return list(range(math.ceil(low / step) * step, high + 1, step))


def _row(substance: Fluid, temperature: int, unit: str, scale: str, atmosphere_Pa: float) -> Row:
    temperature_K = to_si(temperature, scale, "temperature")
    absolute_Pa = [substance.bubble_pressure(temperature_K)]
    if substance.has_glide:
        absolute_Pa.append(substance.dew_pressure(temperature_K))
    gauge_Pa = [gauge_from_absolute(p, atmosphere_Pa) for p in absolute_Pa]
    return Row(temperature, tuple(_pressure_text(p, unit) for p in gauge_Pa),
               tuple(p < 0.0 for p in gauge_Pa))


def _pressure_text(gauge_Pa: float, unit: str) -> str:
    shown = "inHg vac" if unit == "psig" and gauge_Pa < 0.0 else unit
    return format_quantity(gauge_Pa, shown, "gauge pressure", _DECIMALS[unit]).split()[0]


def _place(atmosphere_Pa: float, altitude_m: float | None) -> str:
    air = format_quantity(atmosphere_Pa, "kPa", "absolute pressure")
    if altitude_m is None:
        return f"Gauge pressure where the barometer reads {air}"
    feet = from_si(altitude_m, "ft", "length")
    place = "at sea level" if altitude_m == 0.0 else f"at {altitude_m:.0f} m, {feet:.0f} ft"
    return f"Gauge pressure {place} (air {air})"


def _vacuum_note(unit: str) -> str:
    how = ", in inHg below the atmosphere" if unit == "psig" else ": below the atmosphere"
    return f"Brackets and hatched bar: vacuum{how}."


def _cautions(substance: Fluid) -> tuple[str, ...]:
    lines = ["Caution: liquid and gas under pressure. Wear eye protection and gloves.",
             "Recover, never vent."]
    if substance.safety_class != "A1":
        lines[1] += " Flammable: no ignition sources, ventilate well."
    if substance.critical_pressure_Pa > 7e6:
        lines[1] += " Very high pressure: only gauges and hoses made for it."
    lines.append("Follow local codes, the vehicle maker's service information and licensed "
                 "practice.")
    return tuple(lines)
