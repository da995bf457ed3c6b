"""The coupled bench in steady state: round after round until nothing changes any more.

Between two rounds the loop goes from one steady state towards the next. The head is led along
that way in small steps, so that thresholds act in the order in which the pressures pass them;
where it changes a request, the round ends there. A state of all decisions that comes back
without rest is a limit cycle: the compressor cycles, or a door hunts.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

from coldbench.bench import coupling as c
from coldbench.bench.coupling import Case, Felt, Wired
from coldbench.control import Actuator, Inputs, Signal, State, Step, initial_state, step
from coldbench.errors import ConvergenceError
from coldbench.refrigerant.loop import solve_loop
from coldbench.refrigerant.loop.result import LoopResult
from coldbench.sensing import SensorReading, read_sensors

ROUND_s, WAY_s, WATCH_s = 10.0, 1.0, 0.1
QUIET_ROUNDS = 3
MOST_ROUNDS = 80
WAY_STEPS = 8
_FAR_Pa, _FAR_K = 30e3, 1.0
_TOLD = ("compressor", "fans")


class Phase(NamedTuple):
    """The whole bench after a round."""

    wired: Wired
    readings: dict[str, SensorReading]
    step: Step | None
    loop: LoopResult
    doors: dict[str, Actuator]
    felt: Felt
    engaged: bool
    pressure_ok: bool
    inputs: Inputs


@dataclass(frozen=True)
class Rest:
    """Where a bench came to: the last round, and the rounds of a limit cycle if it has one.

    A phase of a cycle is the bench under the requests of that round, as it would show if they
    lasted; words: what the head changed on the way, each once.
    """

    phase: Phase
    cycle: tuple[Phase, ...]
    rounds: int
    words: tuple[str, ...] = ()


class _Bench:
    """A bench on its way to rest."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.doors = self.wired_doors = c.actuators(case)
        self.state: State = initial_state(case.calibration)
        self.done: Step | None = None
        self.wired: Wired | None = None
        self.engaged, self.pressure_ok = False, True
        self.loop: LoopResult | None = None
        self.felt: Felt | None = None
        self.inputs: Inputs | None = None
        self.readings: dict[str, SensorReading] = {}
        self.read_from: Wired | None = None
        self.held: Phase | None = None
        self.said: list[str] = []

    @property
    def outputs(self):
        return self.done.outputs if self.done else None

    def wire(self, felt: Felt) -> None:
        inputs = self._sensor_inputs(felt)
        self.wired_doors = self.doors
        self.wired = c.wire_up(self.case, self.outputs, self.pressure_ok, inputs, self.wired)
        self.engaged = c.engaged(self.case, self.wired, self.engaged)

    def follow_loop(self) -> Felt:
        """The steady state the loop is heading for."""
        wanted = c.conditions(self.case, self.wired, self.engaged, self.doors)
        if self.loop is None or not c.same_conditions(self.loop.conditions, wanted):
            near = self.loop if self.loop and self.loop.running and wanted.running else None
            self.loop = solve_loop(wanted, self.case.bench.parts, self.case.faults.loop, near)
        return Felt(self.loop.high_side_gauge_Pa, self.loop.coil_surface_temperature_K,
                    self.loop.vent_temperature_K, self.case.settings.cabin_K)

    def round(self) -> None:
        """Once through the bench."""
        self.wire(self.felt or self._at_rest())
        target = self.follow_loop()
        start, before = self.felt or target, self.inputs
        if self.felt is None or self.wired.sensor_inputs != self._sensor_inputs(target):
            self.wire(target)
        self._read()
        self.held = self.phase(target)
        after = c.head_inputs(self.case, self.wired, target, self.doors, self.readings)
        self._lead(start, target, before or after, after)

    def _at_rest(self) -> Felt:
        s = self.case.settings
        return Felt(0.0, s.ambient_K, s.ambient_K, s.cabin_K)

    def _sensor_inputs(self, felt: Felt) -> dict:
        return c.sensor_parameters(self.case.bench,
                                   c.felt_values(self.case, felt, self.doors))

    def _read(self) -> None:
        if self.read_from is not self.wired:
            self.readings = read_sensors(self.wired.solution, self.case.bench.inputs)
            self.read_from = self.wired

    def _lead(self, start: Felt, target: Felt, before: Inputs, after: Inputs) -> None:
        """Lead switch and head along the way from one state to the next."""
        far = (abs(target.high_gauge_Pa - start.high_gauge_Pa) > _FAR_Pa
               or abs(target.evaporator_K - start.evaporator_K) > _FAR_K)
        count = WAY_STEPS if far else 1
        for n in range(1, count + 1):
            share = n / count
            self.felt = Felt(*(a + share * (b - a) for a, b in zip(start, target, strict=True)))
            self.inputs = after if n == count else _between(before, after, share)
            tripped = self._switch()
            changed = self._head(ROUND_s if n == count else WAY_s)
            if changed and self.done:
                self.said += [r.words for r in self.done.changes if r.topic in _TOLD]
            if (tripped or changed) and n < count:
                return

    def _switch(self) -> bool:
        """Let the pressure switch feel the pressure; whether it moved."""
        switch, was = self.case.bench.pressure_switch, self.pressure_ok
        if switch:
            limit = switch.open_Pa if was else switch.close_Pa
            # the loop's own trip is the moment at which the switch opens
            self.pressure_ok = self.felt.high_gauge_Pa < limit * (1.0 - 1e-6)
        return self.pressure_ok != was

    def _head(self, dt_s: float) -> bool:
        """One step of the head; whether it changed a request."""
        before = _requested(self.done)
        if not self.wired.powered or self.case.faults.head_dead:
            self.done = None
        else:
            self._step(dt_s)
            if any(door.drive for door in self.done.outputs.doors):
                self._step(WATCH_s)  # the head sees a door arrive long before the round ends
        return _requested(self.done) != before

    def _step(self, dt_s: float) -> None:
        seen = self._feedback()
        self.done = step(self.state, replace(self.inputs, doors=seen), self.case.calibration,
                         dt_s)
        self.state = self.done.state
        self.doors = c.moved(self.doors, self.done.outputs.doors, seen, dt_s)

    def _feedback(self) -> dict[str, Signal]:
        """Feedback of doors that moved since the wiring was solved."""
        seen = {}
        for name, signal in self.inputs.doors.items():
            factor = self.doors[name].ratio / self.wired_doors[name].ratio
            seen[name] = Signal.at(min(signal.ratio * factor, 1.0)) if factor != 1.0 else signal
        return seen

    def signature(self) -> tuple:
        """All decisions, and where pressure and doors stand, coarsely."""
        latched = self.state.latched if self.done else frozenset()
        return (_requested(self.done), latched, self.engaged, self.pressure_ok,
                self.wired.powered, self.wired.blown,
                tuple(round(door.position, 3) for door in self.doors.values()),
                round(self.felt.high_gauge_Pa / 2e3), round(self.felt.evaporator_K, 1),
                self.state.compressor_off_s < self.case.calibration.compressor.minimum_off_s)

    def exact(self) -> tuple:
        """What must repeat for rest."""
        topics = self.done.outputs.by_topic() if self.done else None
        return (topics, self.doors, self.engaged, self.pressure_ok, id(self.wired),
                id(self.loop))

    def phase(self, felt: Felt | None = None) -> Phase:
        inputs = c.head_inputs(self.case, self.wired, felt or self.felt, self.doors,
                               self.readings)
        return Phase(self.wired, self.readings, self.done, self.loop, self.doors,
                     felt or self.felt, self.engaged, self.pressure_ok, inputs)


def _requested(done: Step | None) -> tuple:
    if done is None:
        return ()
    out = done.outputs
    return out.compressor, out.fan, round(out.blower, 3), out.distribution, out.recirculation


def _between(before: Inputs, after: Inputs, share: float) -> Inputs:
    """Sensor signals on the way from one state to the next."""
    sensors = {name: _mixed(before.sensors[name], now, share)
               for name, now in after.sensors.items()}
    return replace(after, sensors=sensors)


def _mixed(a: Signal, b: Signal, share: float) -> Signal:
    if a.value is None or b.value is None:
        return b
    return Signal(a.value + share * (b.value - a.value), a.ratio + share * (b.ratio - a.ratio))


def rest(case: Case) -> Rest:
    """Return where a bench comes to rest, or its limit cycle.

    Parameters
    ----------
    case : Case
        Bench, state, faults.

    Returns
    -------
    Rest

    Raises
    ------
    ConvergenceError
        If a solver fails, or the bench neither rests nor repeats itself.
    """
    bench = _Bench(case)
    seen: dict[tuple, int] = {}
    phases: list[tuple[Phase, list[str]]] = []
    before, quiet = None, 0
    for count in range(1, MOST_ROUNDS + 1):
        said = len(bench.said)
        bench.round()
        phases.append((bench.held, bench.said[said:]))
        now = bench.exact()
        quiet = quiet + 1 if now == before else 0
        if quiet >= QUIET_ROUNDS:
            return Rest(bench.phase(), (), count)
        before, signature = now, bench.signature()
        if quiet == 0 and signature in seen and _moves(phases[seen[signature]:]):
            held, said = zip(*phases[seen[signature]:], strict=True)
            words = dict.fromkeys(text for texts in said for text in texts)
            return Rest(bench.phase(), held, count, tuple(words))
        seen.setdefault(signature, count)
    raise ConvergenceError(f"{case.bench.name}: the coupled bench neither comes to rest nor "
                           f"repeats itself within {MOST_ROUNDS} rounds")


def _moves(phases: list) -> bool:
    """Whether anything but a quiet wait lies between two equal states."""
    return len({(p.engaged, p.pressure_ok, p.wired.powered, _requested(p.step),
                 tuple(round(d.position, 3) for d in p.doors.values())) for p, _ in phases}) > 1
