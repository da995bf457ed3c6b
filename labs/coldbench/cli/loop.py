"""`coldbench loop`: what gauges and thermometers of the bench show, with or without faults."""

import json
import re
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.pt import local_atmosphere
from coldbench.cli.say import say
from coldbench.errors import InputError
from coldbench.quantity import from_si, parse

if TYPE_CHECKING:
    from coldbench.refrigerant.loop import Conditions, LoopResult

Text = str | None
_ROUNDING = 6
_BARE_NUMBER = re.compile(r"\s*[-+]?\d+(?:[.,]\d+)?\s*")
_OPTIONS = {
    "fluid": "--fluid", "ambient_K": "--ambient", "intake_K": "--intake",
    "intake_humidity": "--humidity", "blower": "--blower", "condenser_fan": "--condenser-fan",
    "speed_rpm": "--speed", "valve_angle_deg": "--valve-angle", "charge": "--charge",
    "atmosphere_Pa": "--barometer", "duration_s": "--seconds",
}


def command(
    fluid: Annotated[str, typer.Option(
        help="Refrigerant: R134a, R1234yf or R152a.")] = "R134a",
    ambient: Annotated[str, typer.Option(
        help="Air onto the condenser, 5 to 55 degC.")] = "30 degC",
    intake: Annotated[str, typer.Option(
        help="Air into the evaporator, 5 to 55 degC.")] = "27 degC",
    humidity: Annotated[str, typer.Option(
        help="Relative humidity of that air, 0 to 100 %.")] = "50",
    blower: Annotated[str, typer.Option(help="Blower setting, 0 to 100 %.")] = "100",
    condenser_fan: Annotated[str, typer.Option(
        help="Condenser fan: off, low or high.")] = "high",
    speed: Annotated[str, typer.Option(
        help="Compressor speed, 500 to 5000 rpm; 0 rpm is at rest.")] = "1500 rpm",
    valve_angle: Annotated[str, typer.Option(
        help="Hand valve in the liquid line, 0 (open) to 90 degrees.")] = "0",
    charge: Annotated[str, typer.Option(
        help="Share of the right charge, 20 to 150 %.")] = "100",
    altitude: Annotated[Text, typer.Option(
        help='Altitude of the place, for example "1600 m"; sea level if left out.')] = None,
    barometer: Annotated[Text, typer.Option(
        help='Pressure of the air at the place, for example "84 kPa".')] = None,
    fault: Annotated[list[str] | None, typer.Option(
        help="NAME or NAME=SEVERITY (0 to 1); may be given several times.")] = None,
    faults: Annotated[bool, typer.Option(
        "--faults", help="List the faults with their severity scale.")] = False,
    seconds: Annotated[float | None, typer.Option(
        help="Start from rest and show the needles for so many seconds, up to 7200.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
) -> None:
    """Show the steady state of the bench's refrigerant loop, or its start with --seconds.

    Settings in, readings out: both gauges, temperatures along the loop, capacity and power.
    """
    if faults:
        say(json.dumps(fault_list()) if as_json else fault_text())
        return
    from coldbench.refrigerant.loop import Conditions, solve_loop

    atmosphere_Pa, _ = local_atmosphere(altitude, barometer)
    settings = {
        "fluid": fluid, "condenser_fan": condenser_fan, "atmosphere_Pa": atmosphere_Pa,
        "ambient_K": _read("--ambient", ambient, "temperature"),
        "intake_K": _read("--intake", intake, "temperature"),
        "intake_humidity": _read("--humidity", humidity, "ratio", "%"),
        "blower": _read("--blower", blower, "ratio", "%"),
        "charge": _read("--charge", charge, "ratio", "%"),
        "speed_rpm": _read("--speed", speed, "speed", "rpm"),
        "valve_angle_deg": _read("--valve-angle", valve_angle, "angle", "deg")}
    try:
        conditions = Conditions(**settings)
    except InputError as error:
        raise InputError(_with_option(str(error))) from None
    if seconds is not None:
        say(_over_time(conditions, seconds, fault or (), as_json))
        return
    result = solve_loop(conditions, faults=fault or ())
    if as_json:
        say(json.dumps(answer(result)))
    else:
        from coldbench.cli.loop_text import loop_text

        say(loop_text(result))


def _over_time(conditions: "Conditions", seconds: float, faults: "list[str] | tuple",
               as_json: bool) -> str:
    """The start of the bench, as text or JSON."""
    from coldbench.cli.loop_run import run_answer, run_loop, run_text

    try:
        run = run_loop(conditions, seconds, faults)
    except InputError as error:
        raise InputError(_with_option(str(error))) from None
    return json.dumps(run_answer(run)) if as_json else run_text(run)


def answer(result: "LoopResult") -> dict:
    """Return a result as plain data, with the keys the command promises.

    Parameters
    ----------
    result : LoopResult
        Solved loop.

    Returns
    -------
    dict
        Numbers in the unit of each key's ending; flags as a list of words; residuals as
        {"mass": …, "energy": …}, relative.

    Examples
    --------
    >>> from coldbench.refrigerant.loop import solve_loop
    >>> list(answer(solve_loop()))[:2]
    ['high_side_gauge_kPa', 'low_side_gauge_kPa']
    """
    r = result
    numbers = {
        "high_side_gauge_kPa": r.high_side_gauge_Pa / 1e3,
        "low_side_gauge_kPa": r.low_side_gauge_Pa / 1e3,
        "superheat_K": r.superheat_K,
        "subcooling_K": r.subcooling_K,
        "discharge_temperature_degC": r.discharge_temperature_K - 273.15,
        "liquid_line_temperature_degC": r.liquid_line_temperature_K - 273.15,
        "after_valve_temperature_degC": r.after_valve_temperature_K - 273.15,
        "evaporator_inlet_temperature_degC": r.evaporator_inlet_temperature_K - 273.15,
        "suction_temperature_degC": r.suction_temperature_K - 273.15,
        "vent_temperature_degC": r.vent_temperature_K - 273.15,
        "condensate_g_h": r.condensate_kg_per_s * 3.6e6,
        "mass_flow_g_s": r.mass_flow_kg_per_s * 1e3,
        "capacity_W": r.capacity_W,
        "compressor_power_W": r.compressor_power_W,
        "cop": r.cop,
        "receiver_level": r.receiver_level,
    }
    rounded = {key: round(value, _ROUNDING) + 0.0 for key, value in numbers.items()}
    return {**rounded, "flags": list(r.flags),
            "residuals": {"mass": r.residuals.mass, "energy": r.residuals.energy}}


def fault_list() -> list[dict]:
    """Return the catalogue of faults as plain data.

    Returns
    -------
    list of dict
        name, title, severity scale, usual severity, what it shows.

    Examples
    --------
    >>> fault_list()[0]["name"]
    'undercharge'
    """
    from coldbench.refrigerant.loop import fault_kinds

    return [{"name": kind.name, "title": kind.title, "least_severity": 0.0, "most_severity": 1.0,
             "usual_severity": kind.usual, "scale": kind.scale, "shows": kind.shows}
            for kind in fault_kinds().values()]


def fault_text() -> str:
    """Return the catalogue of faults for people.

    Returns
    -------
    str

    Examples
    --------
    >>> fault_text().splitlines()[0]
    'Faults: --fault NAME or --fault NAME=SEVERITY, severity 0 (healthy) to 1 (worst).'
    """
    lines = ["Faults: --fault NAME or --fault NAME=SEVERITY, severity 0 (healthy) to 1 (worst)."]
    for kind in fault_list():
        lines += ["", f"{kind['name']}  (usual {kind['usual_severity']:g})", f"  {kind['title']}.",
                  f"  Severity: {kind['scale']}.", f"  Shows: {kind['shows']}."]
    return "\n".join(lines)


def _read(option: str, text: str, kind: str, bare: str = "") -> float:
    """Value of an option: SI, or in the unit `bare` where a number without unit means that."""
    try:
        if not bare:
            return parse(text, kind)
        unit = f" {bare}" if _BARE_NUMBER.fullmatch(text) else ""
        # rounded: 90 degrees must not become 90.00000000000001 on the way through radians
        value = round(from_si(parse(text + unit, kind), bare, kind), 9)
        return value / 100.0 if bare == "%" else value
    except InputError as error:
        told = str(error).replace("write it like '5 1'", "write it like '5 %'")
        raise InputError(f"{option}: {told}") from None


def _with_option(message: str) -> str:
    """The message with the command's name of the setting instead of the program's."""
    field, rest = message.split(" ", 1)
    return f"{_OPTIONS.get(field, field)} {rest}"
