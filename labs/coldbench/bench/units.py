"""What acts on a bench: wiring, clutch, pressure switch, head and doors, with what they remember.

`steady` and `in_time` both drive these; they differ in how the loop gets from one state to the
next, and in the time between two looks.
"""

from dataclasses import replace

from coldbench.bench import coupling as c
from coldbench.bench.coupling import Case, Felt, Wired
from coldbench.bench.sensor_parameters import SensorParameters
from coldbench.control import Inputs, Outputs, Signal, State, Step, initial_state, step
from coldbench.sensing import SensorReading, read_sensors

REACHED = 1.0 - 1e-6  # a pressure this close to a limit has reached it, as a trip ends right there


class Units:
    """Everything on a bench that decides or switches, on its way through time.

    doors, state, done: actuators, memory and last step of the head (None: it does nothing);
    wired: the wiring as solved last; engaged, pressure_ok: clutch and pressure switch.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.doors = c.actuators(case)
        self.state: State = initial_state(case.calibration)
        self.done: Step | None = None
        self.wired: Wired | None = None
        self.wired_felt: Felt = at_rest(case)
        self.wired_doors = self.doors
        self._read: tuple[Wired, dict[str, SensorReading]] | None = None
        self.engaged, self.pressure_ok = False, True
        self._sensors = SensorParameters(case.bench)

    @property
    def outputs(self) -> Outputs | None:
        """What the head asks for; None if it does nothing."""
        return self.done.outputs if self.done else None

    def sensor_inputs(self, felt: Felt) -> dict[str, float]:
        """Parameters of the sensors in the wiring [dict]."""
        return self._sensors.of(c.felt_values(self.case, felt, self.doors))

    def wire(self, felt: Felt) -> None:
        """Solve the wiring for the requests and for what the sensors feel; the clutch follows."""
        self.wired = c.wire_up(self.case, self.outputs, self.pressure_ok,
                               self.sensor_inputs(felt), self.wired)
        self.wired_felt, self.wired_doors = felt, self.doors
        self.engaged = c.engaged(self.case, self.wired, self.engaged)

    @property
    def readings(self) -> dict[str, SensorReading]:
        """What the head's inputs read in the wiring as solved last."""
        if self._read is None or self._read[0] is not self.wired:
            self._read = self.wired, read_sensors(self.wired.solution, self.case.bench.inputs)
        return self._read[1]

    def feel_pressure(self, gauge_Pa: float) -> bool:
        """Let the pressure switch feel the high side; return whether it moved [bool]."""
        switch, was = self.case.bench.pressure_switch, self.pressure_ok
        if switch:
            limit = switch.open_Pa if was else switch.close_Pa
            self.pressure_ok = gauge_Pa < limit * REACHED
        return self.pressure_ok != was

    def signals(self, felt: Felt | None = None) -> Inputs:
        """What the head sees: the solved signals, moved along with the true values since then."""
        found = c.head_inputs(self.case, self.wired, self.wired_felt, self.wired_doors,
                              self.readings)
        if felt is None:
            return found
        sensors = {name: self._moved(name, signal, felt) for name, signal in found.sensors.items()}
        return replace(found, sensors=sensors)

    def _moved(self, name: str, signal: Signal, felt: Felt) -> Signal:
        if signal.value is None:
            return signal
        was = c.signal_value(self.case, name, self.wired_felt, self.wired_doors)
        now = c.signal_value(self.case, name, felt, self.doors)
        return Signal(signal.value + now - was, signal.ratio) if now != was else signal

    def feedback(self, signals: dict[str, Signal]) -> dict[str, Signal]:
        """Feedback of the doors, which may have moved since the wiring was solved."""
        seen = {}
        for name, signal in signals.items():
            share = self.doors[name].ratio / self.wired_doors[name].ratio
            seen[name] = signal if share == 1.0 else Signal.at(min(signal.ratio * share, 1.0))
        return seen

    @property
    def head_works(self) -> bool:
        """Whether the head does anything: it has supply and is not dead."""
        return self.wired.powered and not self.case.faults.head_dead

    def decide(self, inputs: Inputs, dt_s: float) -> None:
        """One step of the head; the doors move by its commands."""
        if not self.head_works:
            self.done = None
            return
        seen = self.feedback(inputs.doors)
        self.done = step(self.state, replace(inputs, doors=seen), self.case.calibration, dt_s)
        self.state = self.done.state
        self.doors = c.moved(self.doors, self.done.outputs.doors, seen, dt_s)


def at_rest(case: Case) -> Felt:
    """Return what sensors feel before anything runs [Felt]."""
    s = case.settings
    return Felt(0.0, s.ambient_K, s.ambient_K, s.cabin_K)


def requested(done: Step | None, digits: int = 3) -> tuple:
    """Return the requests of a step, the blower rounded [tuple]; empty without a step."""
    if done is None:
        return ()
    out = done.outputs
    return out.compressor, out.fan, round(out.blower, digits), out.distribution, out.recirculation
