"""The coupled bench over time: needles, clutch, fans and doors from rest, and limit cycles.

The loop follows its own balances (`refrigerant.loop.transient`); head, switch and wiring look
every half second. The wiring is solved anew when a request or a clutch changes, and at least
every five seconds; between two solutions each sensor follows its true value. The cabin stays at
the temperature of the settings.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from coldbench.bench import coupling as c
from coldbench.bench.coupling import Case, Felt
from coldbench.bench.fault_text import BenchFaults, bench_faults
from coldbench.bench.model import Bench
from coldbench.bench.tables import Settings
from coldbench.control import Inputs, initial_state, step
from coldbench.errors import InputError
from coldbench.refrigerant.loop.faults import effects
from coldbench.refrigerant.loop.transient import LoopInputs, Sample, loop_inputs, reading
from coldbench.refrigerant.loop.transient_balance import moment
from coldbench.refrigerant.loop.transient_start import rest_state
from coldbench.refrigerant.loop.transient_step import FIRST_STEP_s, integrate
from coldbench.sensing import read_sensors

TICK_s, WIRING_s = 0.5, 5.0
LONGEST_s = 3600.0
CYCLE_s = 420.0
_SAME_K, _SAME_SHARE = 0.05, 1e-3


class BenchEvent(NamedTuple):
    """Something that changed, with the reason in words."""

    time_s: float
    words: str


@dataclass(frozen=True)
class BenchSample:
    """The bench at one moment: the loop's sample and what head and wiring do."""

    time_s: float
    loop: Sample
    engaged: bool
    fan: str
    blower: float
    vents_K: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class BenchRun:
    """A bench over time: samples and events."""

    bench: Bench
    faults: tuple[str, ...]
    samples: tuple[BenchSample, ...]
    events: tuple[BenchEvent, ...]


class Range(NamedTuple):
    """Lowest and highest value over a cycle."""

    lowest: float
    highest: float


@dataclass(frozen=True)
class Cycle:
    """A limit cycle of the compressor, from its last full cycles.

    period_s, on_s, off_s [mean times]; cycles [how many were seen]; ranges of the gauges [kPa]
    and of the coldest vent [°C]; reasons [why it stops, each once].
    """

    period_s: float
    on_s: float
    off_s: float
    cycles: int
    high_side_gauge_kPa: Range
    low_side_gauge_kPa: Range
    vent_degC: Range
    reasons: tuple[str, ...]


def simulate(bench: Bench, state: "str | Settings | None" = None,
             faults: "Iterable[str] | BenchFaults" = (), seconds: float = 300.0,
             set: Mapping[str, object] | None = None) -> BenchRun:
    """Follow a bench over time from rest.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    state : str or Settings, optional
        Operating state, switched on at time 0; the bench's first if left out.
    faults : iterable of str
        As `read` takes them.
    seconds : float
        Time to follow, above 0 and up to 3600 [s].
    set : mapping, optional
        Changed settings, written as in the file.

    Returns
    -------
    BenchRun
        A sample every half second.

    Raises
    ------
    InputError
        For an unknown state, setting or fault, or a time out of range.
    ConvergenceError
        If a solver fails.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> run = simulate(load_bench("blue"), "full cooling", seconds=20.0)
    >>> run.samples[0].engaged, run.samples[-1].engaged
    (False, True)
    """
    if not 0.0 < seconds <= LONGEST_s:
        raise InputError(f"seconds is {seconds!r}; accepted: above 0 and up to {LONGEST_s:g}")
    case = Case(bench, bench.settings(state, dict(set or {})), bench_faults(bench, faults))
    return _follow(case, seconds)


def cycle_of(case: Case, seconds: float = CYCLE_s) -> Cycle | None:
    """Return times and ranges of a bench's limit cycle, None if the clutch does not cycle.

    Parameters
    ----------
    case : Case
        Bench, settings, faults.
    seconds : float
        How long to follow it [s].

    Returns
    -------
    Cycle or None
    """
    run = _follow(case, seconds)
    edges = [(a, b) for a, b in zip(run.samples, run.samples[1:], strict=False)
             if a.engaged != b.engaged]
    ups = [b.time_s for _, b in edges if b.engaged]
    if len(ups) < 2:
        return None
    first = ups[1] if len(ups) > 2 else ups[0]  # the first pull from warm is no cycle
    held = [s for s in run.samples if first <= s.time_s <= ups[-1]]
    count = sum(1 for up in ups if up > first)
    on_s = sum(TICK_s for s in held if s.engaged) / count
    period = (ups[-1] - first) / count
    coldest = [min(s.vents_K.values()) - 273.15 for s in held]
    words = {e.words.split(":")[1].strip(): e.words for e in reversed(run.events)
             if e.time_s >= first and e.words.startswith(("compressor off", "pressure switch op"))}
    return Cycle(period, min(on_s, period), max(period - on_s, 0.0), count,
                 _range(s.loop.high_side_gauge_kPa for s in held),
                 _range(s.loop.low_side_gauge_kPa for s in held), _range(coldest),
                 tuple(words.values()))


def _range(values: Iterable[float]) -> Range:
    found = list(values)
    return Range(min(found), max(found))


def _follow(case: Case, seconds: float) -> BenchRun:
    run = _Run(case)
    for count in range(round(seconds / TICK_s)):
        run.tick((count + 1) * TICK_s)
    return BenchRun(case.bench, case.faults.texts, tuple(run.samples), tuple(run.events))


class _Run:
    """A bench on its way."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.effects = effects(case.faults.loop)
        self.doors = c.actuators(case)
        self.state, self.done = initial_state(case.calibration), None
        self.engaged, self.pressure_ok, self.wired = False, True, None
        self.samples: list[BenchSample] = []
        self.events: list[BenchEvent] = []
        s = case.settings
        self.felt = Felt(0.0, s.ambient_K, s.ambient_K, s.cabin_K)
        self.wire(0.0)
        self.loop_state = rest_state(self.inputs)
        self.step_s, self.now = FIRST_STEP_s, moment(self.inputs, self.loop_state)
        self.look(0.0)

    def wire(self, time_s: float) -> None:
        """Solve the wiring; clutch, fans and blower follow."""
        sensors = c.sensor_parameters(self.case.bench,
                                      c.felt_values(self.case, self.felt, self.doors))
        outputs = self.done.outputs if self.done else None
        self.wired = c.wire_up(self.case, outputs, self.pressure_ok, sensors, self.wired)
        self.readings = read_sensors(self.wired.solution, self.case.bench.inputs)
        self.wired_at, self.wired_felt, self.wired_doors = time_s, self.felt, self.doors
        was, self.engaged = self.engaged, c.engaged(self.case, self.wired, self.engaged)
        if was != self.engaged:
            self.events.append(BenchEvent(
                time_s, "clutch engages" if self.engaged else "clutch lets go"))
        self.set_loop(c.conditions(self.case, self.wired, self.engaged, self.doors))

    def set_loop(self, wanted) -> None:
        """New inputs of the loop, unless they are as good as the old ones."""
        old = getattr(self, "conditions", None)
        if old is not None and old.clutch_engaged == wanted.clutch_engaged and (
                abs(old.intake_K - wanted.intake_K) < _SAME_K
                and abs(old.fan_share - wanted.fan_share) < _SAME_SHARE
                and abs(old.blower - wanted.blower) < _SAME_SHARE
                and abs(old.intake_humidity - wanted.intake_humidity) < _SAME_SHARE):
            return
        bench = self.case.bench
        cabin = replace(bench.cabin, recirculation_share=0.0)
        self.conditions = wanted
        self.inputs: LoopInputs = loop_inputs(wanted, bench.parts, self.effects, bench.stores,
                                              cabin)
        if hasattr(self, "loop_state"):
            self.step_s, self.now = FIRST_STEP_s, moment(self.inputs, self.loop_state)

    def tick(self, time_s: float) -> None:
        """Half a second further."""
        self.loop_state, self.step_s, self.now = integrate(
            self.loop_state, self.inputs, TICK_s, self.step_s, self.now)
        self.look(time_s)

    def look(self, time_s: float) -> None:
        """Let switch, head and wiring act on what they feel now."""
        sample = reading(self.inputs, self.loop_state, time_s, self.now)
        self.felt = Felt(sample.high_side_gauge_kPa * 1e3, self.loop_state.probe_K,
                         sample.vent_temperature_K, self.case.settings.cabin_K)
        changed = self.switch(time_s) | self.head(time_s)
        if changed or time_s - self.wired_at >= WIRING_s:
            self.wire(time_s)
        self.keep(time_s, sample)

    def switch(self, time_s: float) -> bool:
        """The pressure switch; whether it moved."""
        switch, was = self.case.bench.pressure_switch, self.pressure_ok
        if switch:
            limit = switch.open_Pa if was else switch.close_Pa
            self.pressure_ok = self.felt.high_gauge_Pa < limit
        if was != self.pressure_ok:
            word = "closes" if self.pressure_ok else "opens: compressor off"
            self.events.append(BenchEvent(time_s, f"pressure switch {word}"))
        return was != self.pressure_ok

    def head(self, time_s: float) -> bool:
        """One step of the head; whether it changed a request."""
        before = _requested(self.done)
        if not self.wired.powered or self.case.faults.head_dead:
            self.done = None
            return _requested(self.done) != before
        inputs = self.seen()
        self.done = step(self.state, inputs, self.case.calibration, TICK_s)
        self.state = self.done.state
        self.doors = c.moved(self.doors, self.done.outputs.doors, inputs.doors, TICK_s)
        self.events += [BenchEvent(time_s, reason.words) for reason in self.done.changes
                        if reason.topic in ("compressor", "fans")]
        return _requested(self.done) != before

    def seen(self) -> Inputs:
        """What the head sees: the last solved signals, moved along with the true values."""
        case = self.case
        solved = c.head_inputs(case, self.wired, self.wired_felt, self.wired_doors,
                               self.readings)
        sensors = {name: self._moved(name, signal) for name, signal in solved.sensors.items()}
        doors = {}
        for name, signal in solved.doors.items():
            share = self.doors[name].ratio / self.wired_doors[name].ratio
            doors[name] = (signal if share == 1.0 else
                           type(signal).at(min(signal.ratio * share, 1.0)))
        return replace(solved, sensors=sensors, doors=doors)

    def _moved(self, name: str, signal):
        if signal.value is None:
            return signal
        was = c.signal_value(self.case, name, self.wired_felt, self.wired_doors)
        now = c.signal_value(self.case, name, self.felt, self.doors)
        return signal._replace(value=signal.value + now - was) if hasattr(
            signal, "_replace") else replace(signal, value=signal.value + now - was)

    def keep(self, time_s: float, sample: Sample) -> None:
        out = self.done.outputs if self.done else None
        case = self.case
        vents = {zone: c.signal_value(case, f"discharge {zone}", self.felt, self.doors)
                 for zone in case.bench.calibration.zone_names}
        self.samples.append(BenchSample(time_s, sample, self.engaged, out.fan if out else "off",
                                        out.blower if out else 0.0, vents))


def _requested(done) -> tuple:
    if done is None:
        return ()
    out = done.outputs
    return out.compressor, out.fan, round(out.blower, 2), out.recirculation
