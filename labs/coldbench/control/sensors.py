"""What the head believes of its sensors: windows, last good values and substitutes.

The judgement is `coldbench.sensing`'s: a signal outside its window for long enough has failed;
until then the last good value holds, afterwards the substitute.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from coldbench.control.calibration import SENSOR_UNITS, Calibration, Sensor
from coldbench.control.records import SensorMemory, Signal
from coldbench.control.words import DEGC, KPA, SUN, Measure
from coldbench.errors import InputError
from coldbench.sensing.substitute import believe
from coldbench.sensing.windows import Window, WindowState, step_window

MEASURES: dict[str, Measure] = {
    name: {"degC": DEGC, "kPa": KPA, "W_per_m2": SUN}[unit] for name, unit in SENSOR_UNITS.items()}


@dataclass(frozen=True)
class Believed:
    """One sensor as the head takes it.

    Parameters
    ----------
    value : float
        Value used [SI].
    source : str
        "measured", "last good value", "substitute" or "not fitted".
    """

    value: float
    source: str

    @property
    def trusted(self) -> bool:
        """False if the value is a substitute for a fitted sensor."""
        return self.source != "substitute"

    @property
    def measured(self) -> bool:
        """True if the value comes from the sensor, now or a moment ago."""
        return self.source in ("measured", "last good value")


def believe_sensors(memories: Mapping[str, SensorMemory], signals: Mapping[str, Signal],
                    calibration: Calibration,
                    dt_s: float) -> tuple[dict[str, SensorMemory], dict[str, Believed]]:
    """Judge all sensors.

    Parameters
    ----------
    memories : mapping of str to SensorMemory
        From the step before.
    signals : mapping of str to Signal
        Now.
    calibration : Calibration
        Windows and substitutes.
    dt_s : float
        Time since the step before [s].

    Returns
    -------
    tuple
        New memories and beliefs, each by sensor name.

    Raises
    ------
    InputError
        A signal is missing or no number.
    """
    kept, believed = {}, {}
    for name in calibration.sensor_names:
        sensor = calibration.sensor(name)
        if not sensor.fitted:
            believed[name] = Believed(sensor.substitute, "not fitted")
            continue
        signal = checked_signal(signals, name, "sensor")
        kept[name], believed[name] = _judge(memories.get(name, SensorMemory()), signal, sensor,
                                            dt_s)
    return kept, believed


def _judge(memory: SensorMemory, signal: Signal, sensor: Sensor,
           dt_s: float) -> tuple[SensorMemory, Believed]:
    window = judge_window(sensor.window, memory.window, signal.ratio, dt_s)
    inside = window.place == "inside"
    belief = believe(signal.value if inside else None, window.verdict, memory.last_good,
                     sensor.substitute)
    last_good = belief.value if belief.source == "measured" else memory.last_good
    return SensorMemory(window, last_good), Believed(belief.value, belief.source)


def judge_window(window: Window, state: WindowState, ratio: float, dt_s: float) -> WindowState:
    """Step a window; the first judgement inside it counts at once.

    A head that wakes up with a sound signal need not wait: only a verdict of "failed" must be
    taken back with patience.

    Parameters
    ----------
    window, state : Window, WindowState
        Limits, and the judgement so far.
    ratio : float
        Share of the reference.
    dt_s : float
        Time [s].

    Returns
    -------
    WindowState
    """
    inside = window.low_ratio <= ratio <= window.high_ratio
    if inside and state.verdict == "passed" and state.place == "inside":
        return state  # nothing left to wait for; saves most of the work of a sound head
    new = step_window(window, state, ratio, dt_s)
    if new.place == "inside" and new.verdict == "untested":
        return WindowState(new.place, new.time_s, "passed")
    return new


def checked_signal(signals: Mapping[str, Signal], name: str, what: str) -> Signal:
    """Return a signal that has numbers.

    Parameters
    ----------
    signals : mapping of str to Signal
        All of a kind.
    name, what : str
        Which one, and the kind for messages.

    Returns
    -------
    Signal

    Raises
    ------
    InputError
        It is missing, or its value or ratio is no finite number.

    Examples
    --------
    >>> checked_signal({"cabin": Signal(float("nan"))}, "cabin", "sensor")
    Traceback (most recent call last):
    coldbench.errors.InputError: sensor cabin: value must be a finite number or None, not nan
    """
    signal = signals.get(name)
    if not isinstance(signal, Signal):
        raise InputError(f"{what} {name}: wants a Signal, not {signal!r}")
    if signal.value is not None and not _finite(signal.value):
        raise InputError(f"{what} {name}: value must be a finite number or None, "
                         f"not {signal.value!r}")
    if not _finite(signal.ratio) or not 0.0 <= signal.ratio <= 1.0:
        raise InputError(f"{what} {name}: ratio must be a number from 0 to 1, "
                         f"not {signal.ratio!r}")
    return signal


def _finite(value: object) -> bool:
    return isinstance(value, (int, float)) and type(value) is not bool and math.isfinite(value)


def sensor_words(believed: Mapping[str, Believed]) -> str:
    """Say which sensors are not measured, and what stands in for them.

    Parameters
    ----------
    believed : mapping of str to Believed
        From `believe_sensors`.

    Returns
    -------
    str

    Examples
    --------
    >>> sensor_words({"ambient": Believed(293.15, "substitute"), "cabin": Believed(295.15,
    ...                                                                          "measured")})
    'ambient failed: substitute 20.0 °C; 1 of 2 measured'
    """
    notes = {"substitute": "failed: substitute", "last good value": "doubtful: last good value",
             "not fitted": "not fitted: fixed value"}
    parts = [f"{name} {notes[b.source]} {MEASURES[name.split(' ')[0]](b.value)}"
             for name, b in believed.items() if b.source != "measured"]
    measured = sum(b.source == "measured" for b in believed.values())
    return "; ".join([*parts, f"{measured} of {len(believed)} measured"])
