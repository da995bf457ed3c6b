"""One step of the control head: pure, so that the same state and inputs always decide the same.

The order is that of the reasoning: what the sensors say, what each zone requires, how much air,
where it goes and from where, whether the compressor may run, what the fans do, where the doors
stand, which codes are stored. `step` may be called with any positive time; where a sensor's
value depends on the outputs, the caller closes the loop.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from coldbench.control.blower import blower_duty
from coldbench.control.calibration import DISTRIBUTIONS, FAN_LEVELS, Calibration
from coldbench.control.codes import code_words, step_codes, stored
from coldbench.control.compressor import LOCK_OUTS, asked, compressor_chain, compressor_words
from coldbench.control.distribution import distribution
from coldbench.control.door_targets import door_targets
from coldbench.control.doors import drive_doors, failed
from coldbench.control.fans import fan_request
from coldbench.control.heat_balance import demand_words, demands
from coldbench.control.latches import Latches
from coldbench.control.recirculation import recirculation
from coldbench.control.records import (
    Demand, DoorCommand, DoorState, Inputs, Link, Outputs, Reason, SensorMemory, State, Step,
)
from coldbench.control.sensors import Believed, believe_sensors, sensor_words
from coldbench.control.words import DEGC
from coldbench.errors import InputError
from coldbench.sensing.codes import CodeState


def initial_state(calibration: Calibration) -> State:
    """Return the state of a head that has just been switched on for the first time.

    Lock-outs let through until they are crossed, fans are off, air goes to the face, the door
    end stops are those of the calibration, no code is stored, and the compressor must first wait
    its minimum off time.

    Parameters
    ----------
    calibration : Calibration
        Of the head.

    Returns
    -------
    State

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> initial_state(load_calibration("blue_head")).compressor
    False
    """
    return State(
        sensors={name: SensorMemory() for name in calibration.sensor_names
                 if calibration.sensor(name).fitted},
        doors={name: DoorState(calibration.door(name).closed_ratio,
                               calibration.door(name).open_ratio)
               for name in calibration.door_names},
        codes={code.number: CodeState() for code in calibration.codes},
        latched=frozenset(LOCK_OUTS),
    )


def step(state: State, inputs: Inputs, calibration: Calibration, dt_s: float) -> Step:
    """Advance the head by a time with constant inputs.

    Parameters
    ----------
    state : State
        From `initial_state` or the step before.
    inputs : Inputs
        Signals and wishes now.
    calibration : Calibration
        The head's constants.
    dt_s : float
        Time since the step before [s], above 0.

    Returns
    -------
    Step

    Raises
    ------
    InputError
        An input is missing or impossible.

    Examples
    --------
    >>> from coldbench.control import Signal, Wishes, load_calibration
    >>> blue = load_calibration("blue_head")
    >>> sensors = {name: Signal(305.15) for name in ("ambient", "cabin", "discharge left",
    ...                                              "discharge right", "evaporator")}
    >>> sensors |= {"sun left": Signal(400.0), "sun right": Signal(0.0), "pressure": Signal(0.7e6),
    ...             "coolant": Signal(358.15)}
    >>> inputs = Inputs(Wishes((295.15, 295.15)), sensors,
    ...                 {name: Signal.at(0.1) for name in blue.door_names})
    >>> done = step(initial_state(blue), inputs, blue, 10.0)
    >>> done.outputs.compressor, done.why("fans")
    (True, 'fans low: the compressor is requested; high speed off: 700 kPa ≤ 1,200 kPa')
    """
    check_inputs(inputs, calibration, dt_s)
    words: dict[str, str] = {}
    latches = Latches(state.latched)
    memories, believed = believe_sensors(state.sensors, inputs.sensors, calibration, dt_s)
    words["sensors"] = sensor_words(believed)
    zones = demands(inputs.wishes.set_points_K, believed, calibration)
    for zone, set_point_K in zip(zones, inputs.wishes.set_points_K, strict=True):
        words[f"required {zone.zone}"] = demand_words(zone, set_point_K)
    air = _decide_air(state, inputs, believed, zones, latches, calibration, dt_s, words)
    requests = _decide_requests(state, inputs, believed, air.blower, latches, calibration, dt_s,
                                words)
    doors, commands = _decide_doors(state, inputs, believed, zones, air, calibration, dt_s, words)
    codes = step_codes(state.codes, memories, doors, calibration)
    outputs = Outputs(requests.compressor, requests.fan, *air, zones, commands, requests.chain,
                      _failed(believed, doors), stored(codes))
    words["codes"] = code_words(outputs.codes, calibration)
    new = State(memories, doors, codes, latches.frozen(), air.blower, requests.compressor,
                requests.off_s, inputs.wishes.calibrate_doors, outputs)
    return Step(new, outputs, _reasons(words, outputs, state.outputs))


class _Air(NamedTuple):
    blower: float
    distribution: str
    recirculation: bool


class _Requests(NamedTuple):
    chain: tuple[Link, ...]
    compressor: bool
    off_s: float
    fan: str


def _decide_air(state: State, inputs: Inputs, believed: Mapping[str, Believed],
                zones: tuple[Demand, ...], latches: Latches, calibration: Calibration,
                dt_s: float, words: dict[str, str]) -> _Air:
    """How much air, where to and where from."""
    wishes = inputs.wishes
    blower, words["blower"] = blower_duty(
        state.blower, wishes, zones, believed["coolant"].value, calibration.blower, dt_s,
        inputs.service.get("blower"))
    air_to, words["distribution"] = distribution(latches, wishes, zones, calibration.distribution)
    recirculates, words["recirculation"] = recirculation(
        latches, wishes, zones, believed["ambient"].value, calibration.recirculation)
    return _Air(blower, air_to, recirculates)


def _decide_requests(state: State, inputs: Inputs, believed: Mapping[str, Believed],
                     blower: float, latches: Latches, calibration: Calibration, dt_s: float,
                     words: dict[str, str]) -> _Requests:
    """Compressor and fans."""
    off_s = 0.0 if state.compressor else state.compressor_off_s + dt_s
    chain = compressor_chain(latches, inputs, believed, blower, off_s, state.compressor,
                             calibration)
    compressor = all(link.passes for link in chain)
    words["compressor"] = compressor_words(chain)
    cooling = asked(inputs.wishes, blower, inputs.service.get("compressor"))
    fan, words["fans"] = fan_request(latches, believed, cooling, compressor, calibration,
                                     inputs.service.get("fans"))
    return _Requests(chain, compressor, 0.0 if compressor else off_s, fan)


def _decide_doors(state: State, inputs: Inputs, believed: Mapping[str, Believed],
                  zones: tuple[Demand, ...], air: _Air, calibration: Calibration, dt_s: float,
                  words: dict[str, str]) -> tuple[dict[str, DoorState], tuple[DoorCommand, ...]]:
    """Where the doors should stand, and their motors."""
    targets = door_targets(zones, air.distribution, air.recirculation, believed,
                           air.blower > 0.0, calibration)
    targets |= {name: (inputs.service[f"door {name}"], "asked for by the service tool")
                for name in calibration.door_names if f"door {name}" in inputs.service}
    search = inputs.wishes.calibrate_doors and not state.calibrating
    doors, commands, door_words = drive_doors(state.doors, targets, inputs.doors, search,
                                              calibration, dt_s)
    words |= {f"door {name}": text for name, text in door_words.items()}
    return doors, commands


def _failed(believed: Mapping, doors: Mapping[str, DoorState]) -> tuple[str, ...]:
    return (*(name for name, belief in believed.items() if not belief.trusted),
            *(f"door {name}" for name, door in doors.items() if failed(door)))


def _reasons(words: Mapping[str, str], now: Outputs, before: Outputs | None) -> tuple[Reason, ...]:
    earlier = before.by_topic() if before else {}
    return tuple(Reason(topic, words[topic], topic not in earlier or earlier[topic] != decided)
                 for topic, decided in now.by_topic().items())


def check_inputs(inputs: Inputs, calibration: Calibration, dt_s: float) -> None:
    """Refuse inputs that no head could have.

    Parameters
    ----------
    inputs : Inputs
        To check; signals are checked where they are used.
    calibration : Calibration
        Of the head.
    dt_s : float
        Time [s].

    Raises
    ------
    InputError
        Naming the input and what is accepted.
    """
    _number(dt_s, "dt_s", 0.0, math.inf)
    if dt_s == 0.0:
        raise InputError("dt_s must be above 0")
    _number(inputs.supply_V, "supply_V", 0.0, 60.0)
    _number(inputs.speed_rpm, "speed_rpm", 0.0, 20_000.0)
    wishes, zones = inputs.wishes, calibration.zone_names
    if len(wishes.set_points_K) != len(zones):
        raise InputError(f"set_points_K has {len(wishes.set_points_K)} values, but the head has "
                         f"{len(zones)} zones: {', '.join(zones)}")
    limits = calibration.set_point
    for name, set_point_K in zip(zones, wishes.set_points_K, strict=True):
        _number(set_point_K, f"set point {name}", limits.lowest_K, limits.highest_K, DEGC)
    if wishes.blower is not None:
        _number(wishes.blower, "blower", 0.0, 1.0)
    if wishes.distribution not in (None, *DISTRIBUTIONS):
        raise InputError(f"distribution {wishes.distribution!r} is unknown; accepted: "
                         f"{', '.join(DISTRIBUTIONS)}, or None for automatic")
    _check_service(inputs.service, calibration)


def _check_service(service: Mapping, calibration: Calibration) -> None:
    doors = [f"door {name}" for name in calibration.door_names]
    for topic, value in service.items():
        if topic in ("blower", *doors):
            _number(value, f"service {topic}", 0.0, 1.0)
        elif topic == "fans" and value not in FAN_LEVELS:
            raise InputError(f"service fans {value!r} is unknown; accepted: "
                             f"{', '.join(FAN_LEVELS)}")
        elif topic == "compressor" and type(value) is not bool:
            raise InputError(f"service compressor must be True or False, not {value!r}")
        elif topic not in ("fans", "compressor"):
            raise InputError(f"the service tool cannot test {topic!r}; accepted: compressor, "
                             f"fans, blower, {', '.join(doors)}")


def _number(value: object, name: str, low: float, high: float, show=str) -> None:
    if type(value) not in (int, float) or not math.isfinite(value):
        raise InputError(f"{name} must be a finite number, not {value!r}")
    if not low <= value <= high:
        raise InputError(f"{name} {show(value)} is outside {show(low)} to {show(high)}")


def with_wishes(inputs: Inputs, **changes: object) -> Inputs:
    """Return inputs with some of the driver's wishes changed.

    Parameters
    ----------
    inputs : Inputs
        Before.
    **changes
        Fields of `Wishes`.

    Returns
    -------
    Inputs

    Examples
    --------
    >>> from coldbench.control import Wishes
    >>> inputs = Inputs(Wishes((295.15,)), {}, {})
    >>> with_wishes(inputs, ac=False).wishes.ac
    False
    """
    return replace(inputs, wishes=replace(inputs.wishes, **changes))
