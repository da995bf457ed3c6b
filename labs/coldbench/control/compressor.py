"""The compressor request: a chain of links, each of which lets the request through or stops it.

    head        the driver (or defrost) asks, and the blower runs
    drive       what drives the compressor turns
    supply      the voltage holds the clutch
    sensors     no sensor has failed without which running would be blind
    ambient     not too cold outside
    coolant     the engine is not too hot
    low pressure, high pressure
    freeze      the evaporator is not about to ice
    pause       the least time since it last went off

All links are judged in every step, so that all reasons are seen; the first one that stops is
given as the reason. Common practice; vehicles differ.
"""

from collections.abc import Mapping

from coldbench.control.calibration import Calibration, Compressor
from coldbench.control.latches import Latches
from coldbench.control.records import Inputs, Link, Wishes
from coldbench.control.sensors import Believed
from coldbench.control.words import DEGC, KPA, PERCENT, RPM, SECOND, VOLT, Measure, compare

# band of the calibration: (name of the link, sensor, what it is called, how it is written)
_SENSED = {
    "ambient": ("ambient", "ambient", "outside", DEGC),
    "coolant": ("coolant", "coolant", "coolant", DEGC),
    "low_pressure": ("low pressure", "pressure", "high side", KPA),
    "high_pressure": ("high pressure", "pressure", "high side", KPA),
    "freeze": ("freeze", "evaporator", "evaporator", DEGC),
}
LINKS = ("head", "drive", "supply", "sensors", *(name for name, *_ in _SENSED.values()), "pause")
"""Names of the links, in order."""
LOCK_OUTS = ("drive", "supply", *(name for name, *_ in _SENSED.values()))
"""Links with two thresholds."""


def compressor_chain(latches: Latches, inputs: Inputs, believed: Mapping[str, Believed],
                     blower: float, off_s: float, was_on: bool,
                     calibration: Calibration) -> tuple[Link, ...]:
    """Judge all links.

    Parameters
    ----------
    latches : Latches
        Two-threshold decisions.
    inputs : Inputs
        Driver, supply, speed.
    believed : mapping of str to Believed
        Sensors.
    blower : float
        Blower duty now.
    off_s : float
        Time since the request went off [s].
    was_on : bool
        The request so far.
    calibration : Calibration
        Bands.

    Returns
    -------
    tuple of Link
    """
    bands = calibration.compressor
    sensed = [_banded(latches, name, getattr(bands, key), believed[sensor].value,
                      label + _stand_in(believed[sensor]), measure)
              for key, (name, sensor, label, measure) in _SENSED.items()]
    return (
        _head(inputs.wishes, blower, inputs.service.get("compressor")),
        _banded(latches, "drive", bands.speed, inputs.speed_rpm, "speed", RPM),
        _banded(latches, "supply", bands.supply, inputs.supply_V, "supply", VOLT),
        _sensors(believed, calibration),
        *sensed,
        _pause(off_s, was_on, bands),
    )


def asked(wishes: Wishes, blower: float, test: bool | None = None) -> bool:
    """Return True if cooling is asked for: A/C or defrost is on and the blower runs.

    Parameters
    ----------
    wishes : Wishes
        Driver.
    blower : float
        Blower duty.
    test : bool, optional
        What the service tool asks for; without air it gets nothing either.

    Returns
    -------
    bool
    """
    wanted = wishes.on and (wishes.ac or wishes.defrost) if test is None else test
    return wanted and blower > 0.0


def _head(wishes: Wishes, blower: float, test: bool | None) -> Link:
    if test is False:
        words = "stopped by the service tool"
    elif test is None and not wishes.on:
        words = "the head is off"
    elif test is None and not (wishes.ac or wishes.defrost):
        words = "A/C and defrost are off"
    elif blower <= 0.0:
        words = f"blower {PERCENT(blower)}: without air the coil would freeze"
    else:
        who = "the service tool asks" if test else (
            "A/C is on" if wishes.ac else "defrost is on")
        words = f"{who} and the blower runs at {PERCENT(blower)}"
    return Link("head", asked(wishes, blower, test), words)


def _stand_in(sensor: Believed) -> str:
    return "" if sensor.measured else f" ({sensor.source})"


def _banded(latches: Latches, name: str, band, value: float, label: str,
            measure: Measure) -> Link:
    passes, why = latches.decide(name, band, value, measure)
    return Link(name, passes, f"{label} {why}")


def _sensors(believed: Mapping[str, Believed], calibration: Calibration) -> Link:
    blind = [name for name, b in believed.items()
             if not b.trusted and calibration.sensor(name).stops_compressor]
    if blind:
        return Link("sensors", False, f"{' and '.join(blind)} sensor failed: running would be "
                                      "blind")
    needed = [name for name, sensor in calibration.sensors.items() if sensor.stops_compressor]
    return Link("sensors", True, f"0 of {len(needed)} needed sensors failed"
                                 + (f" ({', '.join(needed)})" if needed else ""))


def _pause(off_s: float, was_on: bool, bands: Compressor) -> Link:
    if was_on:
        return Link("pause", True, "it runs already")
    # sums of decimal steps may fall short by a rounding error
    if off_s >= bands.minimum_off_s * (1.0 - 1e-9):
        return Link("pause", True, f"off for {SECOND(bands.minimum_off_s)} or longer")
    return Link("pause", False, "off for " + compare(off_s, "<", bands.minimum_off_s, SECOND))


def compressor_words(chain: tuple[Link, ...]) -> str:
    """Say why the compressor is requested or not.

    Parameters
    ----------
    chain : tuple of Link
        From `compressor_chain`.

    Returns
    -------
    str

    Examples
    --------
    >>> compressor_words((Link("head", True, "A/C is on"),
    ...                   Link("freeze", False, "evaporator 1.8 °C ≤ 2.0 °C")))
    'compressor off: freeze: evaporator 1.8 °C ≤ 2.0 °C'
    """
    blocked = next((link for link in chain if not link.passes), None)
    if blocked:
        return f"compressor off: {blocked.name}: {blocked.words}"
    return f"compressor on: all {len(chain)} links let it through"
