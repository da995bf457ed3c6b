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
from coldbench.bench.units import Units, at_rest, requested
from coldbench.control import Actuator, Inputs, Signal, Step
from coldbench.errors import ConvergenceError
from coldbench.refrigerant.loop import solve_loop
from coldbench.refrigerant.loop.result import LoopResult
from coldbench.sensing import SensorReading

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
    """A bench on its way to rest: what acts on it, the loop it heads for, where it is now."""

    def __init__(self, case: Case) -> None:
        self.case, self.units = case, Units(case)
        self.loop: LoopResult | None = None
        self.loops: list[LoopResult] = []
        self.felt: Felt | None = None
        self.inputs: Inputs | None = None
        self.held: Phase | None = None
        self.said: list[str] = []

    def follow_loop(self) -> Felt:
        """The steady state the loop is heading for."""
        units = self.units
        wanted = c.conditions(self.case, units.wired, units.engaged, units.doors)
        if self.loop is None or not c.same_conditions(self.loop.conditions, wanted):
            self.loop = self._known(wanted) or self._solved(wanted)
        return Felt(self.loop.high_side_gauge_Pa, self.loop.coil_surface_temperature_K,
                    self.loop.vent_temperature_K, self.case.settings.cabin_K)

    def _known(self, wanted) -> LoopResult | None:
        """The loop as it was under these conditions before: a limit cycle comes back to them."""
        return next((loop for loop in self.loops if c.same_conditions(loop.conditions, wanted)),
                    None)

    def _solved(self, wanted) -> LoopResult:
        near = self.loop if self.loop and self.loop.running and wanted.running else None
        found = solve_loop(wanted, self.case.bench.parts, self.case.faults.loop, near)
        self.loops.append(found)
        return found

    def round(self) -> None:
        """Once through the bench."""
        units = self.units
        units.wire(self.felt or at_rest(self.case))
        target = self.follow_loop()
        start, before = self.felt or target, self.inputs
        if self.felt != target:
            units.wire(target)
        after = units.signals()
        self.held = self.phase(target, after)
        self._lead(start, target, before or after, after)

    def _lead(self, start: Felt, target: Felt, before: Inputs, after: Inputs) -> None:
        """Lead switch and head along the way from one state to the next."""
        far = (abs(target.high_gauge_Pa - start.high_gauge_Pa) > _FAR_Pa
               or abs(target.evaporator_K - start.evaporator_K) > _FAR_K)
        count = WAY_STEPS if far else 1
        for n in range(1, count + 1):
            share = n / count
            self.felt = Felt(*(a + share * (b - a) for a, b in zip(start, target, strict=True)))
            self.inputs = after if n == count else _between(before, after, share)
            tripped = self.units.feel_pressure(self.felt.high_gauge_Pa)
            changed = self._decide(ROUND_s if n == count else WAY_s)
            if (tripped or changed) and n < count:
                return
        self.felt = target  # to the last digit, so that rest is seen as such

    def _decide(self, dt_s: float) -> bool:
        """One step of the head; whether it changed a request."""
        units, before = self.units, requested(self.units.done)
        units.decide(self.inputs, dt_s)
        if units.done and any(door.drive for door in units.outputs.doors):
            units.decide(self.inputs, WATCH_s)  # it sees a door arrive long before the round ends
        changed = requested(units.done) != before
        if changed and units.done:
            self.said += [r.words for r in units.done.changes if r.topic in _TOLD]
        return changed

    def signature(self) -> tuple:
        """All decisions, and where pressure and doors stand, coarsely."""
        units = self.units
        latched = units.state.latched if units.done else frozenset()
        return (requested(units.done), latched, units.engaged, units.pressure_ok,
                units.wired.powered, units.wired.blown,
                tuple(round(door.position, 3) for door in units.doors.values()),
                round(self.felt.high_gauge_Pa / 2e3), round(self.felt.evaporator_K, 1),
                units.state.compressor_off_s < self.case.calibration.compressor.minimum_off_s)

    def exact(self) -> tuple:
        """What must repeat for rest."""
        units = self.units
        topics = units.outputs.by_topic() if units.done else None
        return (topics, units.doors, units.engaged, units.pressure_ok, id(units.wired),
                id(self.loop))

    def phase(self, felt: Felt, inputs: Inputs) -> Phase:
        """The bench as it stands now."""
        units = self.units
        return Phase(units.wired, units.readings, units.done, self.loop, units.doors, felt,
                     units.engaged, units.pressure_ok, inputs)


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
            return Rest(bench.phase(bench.felt, bench.units.signals()), (), count)
        before, signature = now, bench.signature()
        if quiet == 0 and signature in seen and _moves(phases[seen[signature]:]):
            held, said = zip(*phases[seen[signature]:], strict=True)
            words = dict.fromkeys(text for texts in said for text in texts)
            return Rest(held[-1], held, count, tuple(words))
        seen.setdefault(signature, count)
    raise ConvergenceError(f"{case.bench.name}: the coupled bench neither comes to rest nor "
                           f"repeats itself within {MOST_ROUNDS} rounds")


def _moves(phases: list) -> bool:
    """Whether anything but a quiet wait lies between two equal states."""
    return len({(p.engaged, p.pressure_ok, p.wired.powered, requested(p.step),
                 tuple(round(d.position, 3) for d in p.doors.values())) for p, _ in phases}) > 1
