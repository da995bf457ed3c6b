"""One round through the coupled bench: wiring → fans, clutch, blower → loop → sensors → head.

Each function is one arrow. `steady` goes round until nothing changes; `in_time` follows the
loop's own clock.
"""

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from coldbench.bench.air_path import blower_share, fan_share, intake, vent_temperature
from coldbench.bench.fault_text import BenchFaults
from coldbench.bench.model import Bench
from coldbench.bench.tables import Settings
from coldbench.control import (
    Actuator, Inputs, Outputs, Signal, Wishes, move, sound_actuator)
from coldbench.electrical import Fault, Solution, solve
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.sensing import SensorReading, read_sensors

SAME_SHARE, SAME_K, SAME_RATIO = 1e-5, 1e-4, 1e-6
_DRIVE_ROUNDS = 4


@dataclass(frozen=True)
class Case:
    """A bench in an operating state with its faults.

    boxes: sensor input → value [SI] of the sensor box in the sensor's place; service: what the
    service tool asks the head for (`Inputs.service`).
    """

    bench: Bench
    settings: Settings
    faults: BenchFaults
    boxes: dict[str, float] = field(default_factory=dict)
    service: dict = field(default_factory=dict)

    @property
    def calibration(self):
        """The head's calibration, perhaps a wrong one [Calibration]."""
        return self.faults.calibration or self.bench.calibration


class Felt(NamedTuple):
    """What sensors and switches feel (SI)."""

    high_gauge_Pa: float
    evaporator_K: float
    coil_air_K: float
    cabin_K: float


@dataclass(frozen=True)
class Wired:
    """The solved wiring, and what the units make of it.

    blown: fuses that opened on the way; powered: the head has its supply; asked: the head asks for
    the compressor; drive: the engine unit drives the compressor relay.
    """

    solution: Solution
    settings: dict
    sensor_inputs: dict
    blown: tuple[str, ...]
    powered: bool
    supply_V: float
    asked: bool
    drive: bool


def actuators(case: Case) -> dict[str, Actuator]:
    """Return the door actuators with their faults, doors closed unless jammed elsewhere."""
    found = {}
    for name in case.bench.calibration.door_names:
        door = sound_actuator(case.bench.calibration.door(name))
        fault = case.faults.doors.get(name)
        if fault and fault.mode == "jammed":
            door = replace(door, position=fault.position, jammed=True)
        elif fault and fault.mode == "blocked":
            door = replace(door, highest=fault.position)
        found[name] = door
    return found


def door_position(case: Case, name: str, doors: dict[str, Actuator]) -> float:
    """Return where a door really stands, 0 to 1 [float]; a lever that is off moves nothing."""
    fault = case.faults.doors.get(name)
    return fault.position if fault and fault.mode == "lever_off" else doors[name].position


def requests(bench: Bench, settings: Settings, outputs: Outputs | None, drive: bool,
             pressure_ok: bool) -> dict[str, bool | float]:
    """Return the setting of every input of the wiring.

    Parameters
    ----------
    bench, settings : Bench, Settings
        What each input follows, and the driver's switches.
    outputs : Outputs or None
        Of the head; None for a head that does nothing.
    drive, pressure_ok : bool
        Engine unit and pressure switch.

    Returns
    -------
    dict
    """
    fan, blower = (outputs.fan, outputs.blower) if outputs else ("off", 0.0)
    wanted = {"fan low": fan != "off", "fan high": fan == "high", "fan on": fan != "off",
              "blower": blower, "blower on": blower > 0.0,
              "compressor": bool(outputs and outputs.compressor), "engine drive": drive,
              "pressure switch": pressure_ok}
    found = {name: wanted[word] for name, word in bench.requests.items()}
    for name, kind in bench.circuit.inputs.items():
        if name == "ignition":
            found[name] = settings.ignition
        elif name == "running":
            found[name] = settings.ignition and settings.running
        elif name not in found:
            found[name] = name in settings.switches if kind == "switch" else 0.0
    return found


def felt_values(case: Case, felt: Felt, doors: dict[str, Actuator]) -> dict[str, float]:
    """Return the physical value at each sensor input of the bench [SI].

    Parameters
    ----------
    case : Case
        Weather, and which input is which signal of the head.
    felt : Felt
        Of the loop.
    doors : dict of str to Actuator
        Door actuators.

    Returns
    -------
    dict of str to float
    """
    head, found = case.bench.head, {}
    for signal, name in head.signals.items():
        if name != "bus":
            found[name] = signal_value(case, signal, felt, doors)
    for door, name in head.doors.items():
        if name != "bus":
            found[name] = doors[door].position
    return found | case.boxes


def signal_value(case: Case, signal: str, felt: Felt, doors: dict[str, Actuator]) -> float:
    """Return the true value that a signal of the head stands for [SI]."""
    kind, _, zone = signal.partition(" ")
    settings = case.settings
    if kind == "discharge":
        blend = door_position(case, f"blend {zone}", doors)
        return vent_temperature(felt.coil_air_K, blend, settings.coolant_K,
                                case.bench.heater.effectiveness)
    return {"ambient": settings.ambient_K, "cabin": felt.cabin_K, "sun": settings.sun_W_per_m2,
            "evaporator": felt.evaporator_K, "pressure": felt.high_gauge_Pa,
            "coolant": settings.coolant_K}[kind]


def wire_up(case: Case, outputs: Outputs | None, pressure_ok: bool, inputs: dict,
            before: Wired | None) -> Wired:
    """Solve the wiring with the units that hang on it.

    Parameters
    ----------
    case : Case
        Bench, state, faults.
    outputs : Outputs or None
        Of the head.
    pressure_ok : bool
        Pressure switch closed.
    inputs : dict
        Sensors, from `SensorParameters.of`.
    before : Wired or None
        Solved before: relays start where they stood, blown fuses stay blown.

    Returns
    -------
    Wired

    Raises
    ------
    ConvergenceError
        From the circuit solver.
    """
    bench, settings = case.bench, case.settings
    asked = bool(outputs and outputs.compressor)
    guessed = before is None or before.asked != asked  # the engine unit mostly does as asked
    blown = before.blown if before else ()
    drive = asked and bench.engine is not None if guessed else before.drive
    powered = before.powered if before else settings.ignition
    for _ in range(_DRIVE_ROUNDS):
        wanted = requests(bench, settings, outputs, drive, pressure_ok)
        if _unchanged(before, wanted, inputs, powered):
            return before
        solution, blown = _fused(case, wanted, blown, powered, inputs,
                                 before.solution if before else None)
        supply_V = max(solution.voltage(bench.head.supply) - solution.voltage(bench.head.ground),
                       0.0)
        now = Wired(solution, wanted, inputs, blown, supply_V >= bench.head.least_V, supply_V,
                    asked, _drives(case, solution))
        if (now.drive, now.powered) == (drive, powered):
            return now
        drive, powered = now.drive, now.powered
        if guessed and before:  # relays never felt what was guessed wrong
            blown, guessed = before.blown, False
        else:
            before = now
    return replace(now, drive=drive)


def _fused(case: Case, wanted: dict, blown: tuple[str, ...], powered: bool, inputs: dict,
           previous: Solution | None) -> tuple[Solution, tuple[str, ...]]:
    """The wiring with the fuses that stand it, and all that blew by now, one after the other."""
    while True:
        solution = solve(case.bench.circuit, wanted, _faults(case, blown, powered), previous,
                         inputs)
        if not solution.opens_first:
            return solution, blown
        blown = (*blown, solution.opens_first)


def _unchanged(before: Wired | None, wanted: dict, inputs: dict, powered: bool) -> bool:
    if before is None or before.settings != wanted or before.powered != powered:
        return False
    old = before.sensor_inputs
    return all(abs(value - old[name]) <= SAME_RATIO * abs(value) for name, value in inputs.items())


def _faults(case: Case, blown: tuple[str, ...], powered: bool) -> list:
    """Faults of the wiring, with blown fuses and, without supply, a dead reference."""
    faults = list(case.faults.electrical)
    given = {(one.part, one.mode) for one in faults}
    more = [(fuse, "blown") for fuse in blown]
    if case.bench.head.reference != "-" and (not powered or case.faults.head_dead):
        more.append((case.bench.head.reference, "dead"))
    return faults + [Fault(*pair) for pair in more if pair not in given]


def _drives(case: Case, solution: Solution) -> bool:
    """Whether the engine unit drives the compressor relay: running, and the request line low."""
    engine = case.bench.engine
    if engine is None:
        return False
    volts = solution.voltage(engine.request) - solution.voltage(engine.ground)
    return case.settings.ignition and case.settings.running and volts < engine.low_V


def engaged(case: Case, wired: Wired, was: bool) -> bool:
    """Return whether the clutch is pulled in, by its coil's current and where it was [bool]."""
    clutch = case.bench.clutch
    pull = wired.solution.effect.parameters.get(clutch.coil, {}).get("pull", 1.0)
    amps = abs(wired.solution.main_current(clutch.coil)) * (pull > 0.0)
    return amps >= (clutch.release_A if was else clutch.engage_A)


def conditions(case: Case, wired: Wired, clutch: bool, doors: dict[str, Actuator]) -> Conditions:
    """Return the conditions of the loop.

    Parameters
    ----------
    case : Case
        Weather, settings.
    wired : Wired
        Fan and blower speeds.
    clutch : bool
        Engaged.
    doors : dict of str to Actuator
        For the recirculation door.

    Returns
    -------
    Conditions
    """
    settings = case.settings
    air = intake(case.bench, settings, door_position(case, "recirculation", doors))
    turns = settings.ignition and settings.running
    return Conditions(
        fluid=case.bench.loop.fluid, ambient_K=settings.ambient_K, intake_K=air.temperature_K,
        intake_humidity=air.humidity, blower=blower_share(case.bench, wired.solution),
        speed_rpm=settings.speed_rpm if turns else 0.0, valve_angle_deg=settings.valve_angle_deg,
        atmosphere_Pa=settings.atmosphere_Pa, clutch_engaged=clutch,
        fan_share=fan_share(case.bench, wired.solution))


def same_conditions(a: Conditions, b: Conditions) -> bool:
    """Return whether two conditions differ by nothing that an instrument could show [bool]."""
    return (a.clutch_engaged == b.clutch_engaged and a.speed_rpm == b.speed_rpm
            and abs(a.fan_share - b.fan_share) < SAME_SHARE
            and abs(a.blower - b.blower) < SAME_SHARE
            and abs(a.intake_K - b.intake_K) < SAME_K
            and abs(a.intake_humidity - b.intake_humidity) < SAME_SHARE)


def wishes(case: Case) -> Wishes:
    """Return what the driver has set [Wishes]."""
    s = case.settings
    return Wishes(s.set_points_K, s.head_on, s.ac, s.blower if s.head_on else 0.0,
                  s.distribution, s.recirculation, s.defrost)


def head_inputs(case: Case, wired: Wired, felt: Felt, doors: dict[str, Actuator],
                readings: dict[str, SensorReading] | None = None) -> Inputs:
    """Return what the head sees.

    Parameters
    ----------
    case : Case
        Driver, speed, values by data bus.
    wired : Wired
        Volts at the head's pins.
    felt : Felt
        For values by data bus.
    doors : dict of str to Actuator
        For feedback by data bus.
    readings : dict, optional
        Of `read_sensors`, if known.

    Returns
    -------
    Inputs
    """
    bench, s = case.bench, case.settings
    readings = readings or read_sensors(wired.solution, bench.inputs)
    signals = {signal: Signal(signal_value(case, signal, felt, doors)) if name == "bus"
               else Signal(readings[name].value, min(max(readings[name].ratio, 0.0), 1.0))
               for signal, name in bench.head.signals.items()}
    feedback = {door: Signal.at(doors[door].ratio) if name == "bus"
                else door_signal(bench, door, name, readings[name])
                for door, name in bench.head.doors.items()}
    speed = s.speed_rpm if s.ignition and s.running else 0.0
    return Inputs(wishes(case), signals, feedback, wired.supply_V, speed, service=case.service)


def moved(doors: dict[str, Actuator], commands, seen: dict[str, Signal],
          dt_s: float) -> dict[str, Actuator]:
    """Return the door actuators after the head drove them for a time.

    The head stops a motor where the feedback it *sees* is right, so a feedback that reads off by
    a factor makes the door stop off by that factor.

    Parameters
    ----------
    doors : dict of str to Actuator
        Before.
    commands : iterable of DoorCommand
        Of the head.
    seen : dict of str to Signal
        Feedback the head saw.
    dt_s : float
        Time [s].

    Returns
    -------
    dict of str to Actuator
    """
    found = {}
    for command in commands:
        door = found[command.name] = doors[command.name]
        if not command.drive:
            continue
        factor = max(seen[command.name].ratio, 1e-3) / door.ratio
        felt = replace(door, closed_ratio=door.closed_ratio * factor,
                       open_ratio=door.open_ratio * factor)
        there = move(felt, command.drive, dt_s, command.stop_ratio)
        found[command.name] = replace(door, position=there.position)
    return found


def door_signal(bench: Bench, door: str, name: str, reading: SensorReading) -> Signal:
    """Return a door's feedback as a share of the reference, the way round the head expects it.

    A potentiometer mounted the other way round is turned round in the head's input table, as
    long as its volts mean a position at all.
    """
    own = bench.calibration.door(door)
    ratio = min(max(reading.ratio, 0.0), 1.0)
    model = bench.inputs.input(name).sensor.model
    turned = (model.end_fraction > model.start_fraction) != (own.open_ratio > own.closed_ratio)
    if reading.place == "inside" and turned:
        ratio = 1.0 - ratio
    return Signal.at(ratio)
