"""`coldbench pt`: saturation pressure and temperature of a refrigerant, or a pocket chart."""

import json
from pathlib import Path
from typing import Annotated

import typer

from coldbench.air import barometer_pressure, standard_atmosphere_pressure
from coldbench.cli.saturation_text import saturation_text
from coldbench.cli.say import say
from coldbench.errors import InputError
from coldbench.quantity import absolute_from_gauge, gauge_from_absolute, parse
from coldbench.refrigerant import Fluid
from coldbench.refrigerant import fluid as fluid_named

_ROUNDING = 6

Text = str | None


def command(
    fluid: Annotated[str, typer.Argument(help="Refrigerant, for example R-134a.")],
    temperature: Annotated[Text, typer.Option(
        help='Saturation temperature, for example "0 degC".')] = None,
    gauge_pressure: Annotated[Text, typer.Option(
        help='Gauge reading, for example "200 kPa" or "10 inHg vac".')] = None,
    absolute_pressure: Annotated[Text, typer.Option(
        help='Absolute pressure, for example "300 kPa".')] = None,
    altitude: Annotated[Text, typer.Option(
        help='Altitude of the place, for example "1600 m"; sea level if left out.')] = None,
    barometer: Annotated[Text, typer.Option(
        help='Pressure of the air at the place itself (not reduced to sea level), '
             'for example "84 kPa".')] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
    chart: Annotated[Path | None, typer.Option(
        help="Write a pocket chart (.pdf, .svg or .png) instead.")] = None,
    units: Annotated[Text, typer.Option(
        help="Pressure unit of the chart: kPa, psi, bar or MPa.  [default: kPa]")] = None,
    temperature_unit: Annotated[Text, typer.Option(
        help="Temperature unit of the chart: degC or degF.  [default: degC]")] = None,
) -> None:
    """Convert between saturation pressure and temperature.

    Give exactly one of --temperature, --gauge-pressure and --absolute-pressure, or --chart.
    A blend has two answers: bubble (use it for subcooling) and dew (use it for superheat).
    """
    substance = fluid_named(fluid)
    atmosphere_Pa, altitude_m = local_atmosphere(altitude, barometer)
    given = {"--temperature": temperature, "--gauge-pressure": gauge_pressure,
             "--absolute-pressure": absolute_pressure}
    given = {option: text for option, text in given.items() if text is not None}
    if chart is not None:
        _refuse_with_chart([*given, *(["--json"] if as_json else [])])
        _write_chart(substance, chart, units, temperature_unit, atmosphere_Pa, altitude_m)
        return
    if units is not None or temperature_unit is not None:
        raise InputError("--units and --temperature-unit belong to --chart; give --chart too")
    answer = saturation_answer(substance, given, atmosphere_Pa, altitude_m)
    say(json.dumps(answer) if as_json else saturation_text(substance, answer))


def local_atmosphere(altitude: str | None, barometer: str | None) -> tuple[float, float | None]:
    """Return the pressure of the air at the place.

    Parameters
    ----------
    altitude : str or None
        For example "1600 m"; sea level when both are left out.
    barometer : str or None
        For example "84 kPa", at the place itself.

    Returns
    -------
    tuple[float, float or None]
        Pressure [Pa]; altitude [m], None when a barometer was given.

    Raises
    ------
    InputError
        If both are given, or one cannot be read or is out of range.

    Examples
    --------
    >>> local_atmosphere(None, None), local_atmosphere(None, "84 kPa")
    ((101325.0, 0.0), (84000.0, None))
    """
    if altitude is not None and barometer is not None:
        raise InputError("give --altitude or --barometer, not both")
    if barometer is not None:
        return barometer_pressure(_parse("--barometer", barometer, "absolute pressure")), None
    altitude_m = 0.0 if altitude is None else _parse("--altitude", altitude, "length")
    return standard_atmosphere_pressure(altitude_m), altitude_m


def saturation_answer(substance: Fluid, given: dict[str, str], atmosphere_Pa: float,
                      altitude_m: float | None) -> dict:
    """Return the saturation state for one given temperature or pressure as plain data.

    Parameters
    ----------
    substance : Fluid
        Refrigerant.
    given : dict[str, str]
        Exactly one of --temperature, --gauge-pressure, --absolute-pressure with its text.
    atmosphere_Pa : float
        Pressure of the air at the place [Pa].
    altitude_m : float or None
        Altitude for the record [m].

    Returns
    -------
    dict
        fluid; temperature_degC, or for a blend at a given pressure bubble_temperature_degC
        and dew_temperature_degC; bubble and dew pressure, absolute and gauge [kPa] (for a
        blend at a given pressure both are that pressure); atmosphere_kPa; altitude_m;
        safety_class.

    Raises
    ------
    InputError
        If none or several are given, or the value cannot be read or is out of range.

    Examples
    --------
    >>> from coldbench.refrigerant import fluid
    >>> answer = saturation_answer(fluid("R134a"), {"--temperature": "0 degC"}, 101325.0, 0.0)
    >>> round(answer["dew_pressure_kPa_gauge"], 2)
    191.48
    """
    if len(given) != 1:
        got = " and ".join(given) or "none"
        raise InputError("give exactly one of --temperature, --gauge-pressure and "
                         f"--absolute-pressure (got {got}), or --chart")
    [(option, text)] = given.items()
    if option == "--temperature":
        state = _at_temperature(substance, _parse(option, text, "temperature"))
    else:
        state = _at_pressure(substance, _absolute_pressure(option, text, atmosphere_Pa))
    temperatures, bubble_Pa, dew_Pa = state
    answer = {
        **temperatures,
        "bubble_pressure_kPa_abs": bubble_Pa / 1e3,
        "dew_pressure_kPa_abs": dew_Pa / 1e3,
        "bubble_pressure_kPa_gauge": gauge_from_absolute(bubble_Pa, atmosphere_Pa) / 1e3,
        "dew_pressure_kPa_gauge": gauge_from_absolute(dew_Pa, atmosphere_Pa) / 1e3,
        "atmosphere_kPa": atmosphere_Pa / 1e3,
    }
    rounded = {key: round(value, _ROUNDING) + 0.0 for key, value in answer.items()}
    return {"fluid": substance.name, **rounded, "altitude_m": altitude_m,
            "safety_class": substance.safety_class}


def _at_temperature(substance: Fluid, temperature_K: float) -> tuple[dict, float, float]:
    return ({"temperature_degC": temperature_K - 273.15},
            substance.bubble_pressure(temperature_K), substance.dew_pressure(temperature_K))


def _at_pressure(substance: Fluid, pressure_Pa: float) -> tuple[dict, float, float]:
    bubble_degC = substance.bubble_temperature(pressure_Pa) - 273.15
    if not substance.has_glide:
        return {"temperature_degC": bubble_degC}, pressure_Pa, pressure_Pa
    dew_degC = substance.dew_temperature(pressure_Pa) - 273.15
    temperatures = {"bubble_temperature_degC": bubble_degC, "dew_temperature_degC": dew_degC}
    return temperatures, pressure_Pa, pressure_Pa


def _absolute_pressure(option: str, text: str, atmosphere_Pa: float) -> float:
    if option == "--absolute-pressure":
        return _parse(option, text, "absolute pressure")
    return absolute_from_gauge(_parse(option, text, "gauge pressure"), atmosphere_Pa)


def _parse(option: str, text: str, kind: str) -> float:
    try:
        return parse(text, kind)
    except InputError as error:
        raise InputError(f"{option}: {error}") from None


def _refuse_with_chart(options: list[str]) -> None:
    if options:
        raise InputError(f"--chart draws the whole table; leave out {' and '.join(options)}")


def _write_chart(substance: Fluid, path: Path, units: str | None, temperature_unit: str | None,
                 atmosphere_Pa: float, altitude_m: float | None) -> None:
    from coldbench.cli.pocket_chart import write_chart
    from coldbench.cli.pocket_table import chart_table

    table = chart_table(substance, "kPa" if units is None else units,
                        "degC" if temperature_unit is None else temperature_unit,
                        atmosphere_Pa, altitude_m)
    write_chart(table, path)
    say(f"wrote {path}")
