"""Condenser fan request: the highest level that any reason asks for, each with hysteresis.

Reasons are high-side pressure while cooling is asked for, coolant temperature always, the
compressor itself, and failed sensors (common practice: more fan rather than less).
"""

from collections.abc import Mapping

from coldbench.control.calibration import FAN_LEVELS, Calibration
from coldbench.control.hysteresis import because
from coldbench.control.latches import Latches
from coldbench.control.sensors import Believed
from coldbench.control.words import DEGC, KPA


def fan_request(latches: Latches, believed: Mapping[str, Believed], asked: bool,
                compressor: bool, calibration: Calibration,
                test: str | None = None) -> tuple[str, str]:
    """Return the fan level and why.

    Parameters
    ----------
    latches : Latches
        Two-threshold decisions.
    believed : mapping of str to Believed
        Sensors.
    asked : bool
        Cooling is asked for.
    compressor : bool
        The compressor is requested.
    calibration : Calibration
        Bands.
    test : str, optional
        Level that the service tool asks for; it goes before all reasons.

    Returns
    -------
    tuple of str and str
        "off", "low" or "high"; and the reason.

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> blue = load_calibration("blue_head")
    >>> sound = {"pressure": Believed(1.72e6, "measured"), "coolant": Believed(363.15, "measured")}
    >>> fan_request(Latches([]), sound, True, True, blue)
    ('high', 'fans high: 1,720 kPa ≥ 1,600 kPa')
    """
    wanted = [*_sensed(latches, believed, asked, calibration),
              *_failed(believed, asked, calibration)]
    if compressor and calibration.fan.low_with_compressor:
        pressure_Pa = believed["pressure"].value
        wanted.append(("low", "the compressor is requested; high speed off: "
                       + because(calibration.fan.high, False, pressure_Pa, KPA)))
    if test is not None:
        return test, f"fans {test}: asked for by the service tool"
    level, why = max(wanted, key=lambda pair: FAN_LEVELS.index(pair[0]))
    return level, f"fans {level}: {why}"


def _sensed(latches: Latches, believed: Mapping[str, Believed], asked: bool,
            calibration: Calibration) -> list[tuple[str, str]]:
    """What pressure and coolant ask for: high, else low, else off, with the telling threshold."""
    fan, found = calibration.fan, []
    for sensor, measure, label, counts in (("pressure", KPA, "", asked),
                                           ("coolant", DEGC, "coolant ", True)):
        suffix = "" if sensor == "pressure" else "_coolant"
        value = believed[sensor].value
        levels = {level: latches.decide(f"fan {level}{suffix.replace('_', ' ')}",
                                        getattr(fan, level + suffix), value, measure)
                  for level in ("low", "high")}
        level = next((name for name in ("high", "low") if levels[name][0]), "off")
        why = label + levels["low" if level == "off" else level][1]
        if counts:
            found.append((level, why))
        elif level != "off":
            found.append(("off", f"{label}{measure(value)}, but no cooling is asked for"))
        else:
            found.append((level, why))
    return found


def _failed(believed: Mapping[str, Believed], asked: bool,
            calibration: Calibration) -> list[tuple[str, str]]:
    """What failed sensors ask for; the pressure sensor matters only while cooling is asked for."""
    return [(calibration.sensor(name).fan_when_failed,
             f"{name} sensor failed: {calibration.sensor(name).fan_when_failed} without it")
            for name, b in believed.items()
            if not b.trusted and (asked or not name.startswith("pressure"))]
