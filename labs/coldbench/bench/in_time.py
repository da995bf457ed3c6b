"""The coupled bench over time: needles, clutch, fans and doors from rest, and limit cycles.

The loop follows its own balances (`refrigerant.loop.transient`); head, pressure switch and
wiring look every half second. The wiring is solved anew when a request, the switch or a door
changes, and at least every five seconds; between two solutions each sensor follows its true
value. The cabin stays at the temperature of the settings, so the room is a reservoir; what is
kept is the refrigerant's mass (`mass_residual`) and the wiring's power (`power_residual`).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from coldbench.bench import coupling as c
from coldbench.bench.coupling import Case, Felt
from coldbench.bench.fault_text import BenchFaults, bench_faults
from coldbench.bench.model import Bench
from coldbench.bench.tables import Settings
from coldbench.bench.units import Units, at_rest, requested
from coldbench.errors import InputError
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.refrigerant.loop.faults import effects
from coldbench.refrigerant.loop.transient import (
    LoopInputs,
    Sample,
    loop_inputs,
    reading,
)
from coldbench.refrigerant.loop.transient_balance import moment
from coldbench.refrigerant.loop.transient_start import rest_state
from coldbench.refrigerant.loop.transient_step import FIRST_STEP_s, integrate

TICK_s, WIRING_s = 0.5, 5.0
LONGEST_s = 3600.0
TOLD = ("compressor", "fans", "recirculation", "codes")
_BLOWER_DIGITS = 2  # a hundredth of the blower is no reason to solve the wiring again
_SAME_K, _SAME_SHARE = 0.05, 1e-3


class BenchEvent(NamedTuple):
    """Something that changed: topic (clutch, switch, fuse, or one of the head's), and why."""

    time_s: float
    topic: str
    words: str


@dataclass(frozen=True)
class BenchSample:
    """The bench at one moment: the loop's sample and what head and wiring do."""

    time_s: float
    loop: Sample
    engaged: bool
    pressure_ok: bool
    fan: str
    blower: float
    doors: Mapping[str, float]
    vents_K: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class BenchRun:
    """A bench over time: samples and events.

    mass_residual: largest deviation of the refrigerant in both sides from the charge, as a share
    of it; power_residual: largest power of all branches of the wiring added up [W], 0 by
    Tellegen's theorem.
    """

    bench: Bench
    faults: tuple[str, ...]
    samples: tuple[BenchSample, ...]
    events: tuple[BenchEvent, ...]
    mass_residual: float
    power_residual: float


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
        As `read` takes them, there from the beginning.
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
    run = Run(Case(bench, bench.settings(state, dict(set or {})), bench_faults(bench, faults)))
    run.follow(seconds)
    return run.told()


class LoopOnItsWay:
    """The loop between two looks: what it is set to, its state, and how far a step may go."""

    def __init__(self, case: Case, conditions: Conditions) -> None:
        self.case, self.effects = case, effects(case.faults.loop)
        # recirculation is in the intake air already
        self.cabin = replace(case.bench.cabin, recirculation_share=0.0)
        self.conditions, self.inputs = conditions, self._inputs(conditions)
        self.state = rest_state(self.inputs)
        self.step_s, self.now = FIRST_STEP_s, moment(self.inputs, self.state)

    def _inputs(self, conditions: Conditions) -> LoopInputs:
        bench = self.case.bench
        return loop_inputs(conditions, bench.parts, self.effects, bench.stores, self.cabin)

    def set(self, wanted: Conditions) -> None:
        """Take new conditions, unless they are as good as the old ones."""
        if _as_good(self.conditions, wanted):
            return
        if wanted.clutch_engaged != self.conditions.clutch_engaged:
            self.step_s = FIRST_STEP_s
        self.conditions, self.inputs = wanted, self._inputs(wanted)
        self.now = moment(self.inputs, self.state)

    def follow(self, seconds: float) -> None:
        """Go on for a time."""
        self.state, self.step_s, self.now = integrate(self.state, self.inputs, seconds,
                                                      self.step_s, self.now)

    def sample(self, time_s: float) -> Sample:
        """What instruments show now."""
        return reading(self.inputs, self.state, time_s, self.now)

    @property
    def mass_residual(self) -> float:
        """Refrigerant in both sides against the charge, as a share of it."""
        charge_kg = self.inputs.problem.charge_kg
        return abs(self.state.high_side_kg + self.state.low_side_kg - charge_kg) / charge_kg


def _as_good(a: Conditions, b: Conditions) -> bool:
    return (a.clutch_engaged == b.clutch_engaged and abs(a.intake_K - b.intake_K) < _SAME_K
            and all(abs(getattr(a, name) - getattr(b, name)) < _SAME_SHARE
                    for name in ("fan_share", "blower", "intake_humidity")))


class Run:
    """A bench on its way through time: what acts on it, its loop, and what was noted."""

    def __init__(self, case: Case) -> None:
        self.case, self.units = case, Units(case)
        self.time_s = self.wired_at_s = 0.0
        self.samples: list[BenchSample] = []
        self.events: list[BenchEvent] = []
        self.mass_residual = self.power_residual = 0.0
        self._wire(at_rest(case))
        self.loop = LoopOnItsWay(case, self._conditions())
        self._look()

    def follow(self, seconds: float) -> None:
        """Go on for a time, half second after half second."""
        for _ in range(max(round(seconds / TICK_s), 1)):
            self.loop.follow(TICK_s)
            self.time_s += TICK_s
            self._look()

    def told(self) -> BenchRun:
        """The run so far."""
        return BenchRun(self.case.bench, self.case.faults.texts, tuple(self.samples),
                        tuple(self.events), self.mass_residual, self.power_residual)

    def _look(self) -> None:
        """Switch, head and wiring act on what they feel now; then all is noted."""
        units, sample = self.units, self.loop.sample(self.time_s)
        felt = Felt(sample.high_side_gauge_kPa * 1e3, self.loop.state.probe_K,
                    sample.vent_temperature_K, self.case.settings.cabin_K)
        before, doors = requested(units.done, _BLOWER_DIGITS), units.doors
        switched = self._switch(felt)
        self._decide(felt)
        changed = switched or requested(units.done, _BLOWER_DIGITS) != before
        if changed or self.time_s - self.wired_at_s >= WIRING_s:
            self._wire(felt)
        if changed or self.wired_at_s == self.time_s or units.doors != doors:
            self.loop.set(self._conditions())
            sample = self.loop.sample(self.time_s)  # with the clutch as it now is
        self._note(sample, felt)

    def _conditions(self) -> Conditions:
        units = self.units
        return c.conditions(self.case, units.wired, units.engaged, units.doors)

    def _switch(self, felt: Felt) -> bool:
        """The pressure switch; whether it moved."""
        moved = self.units.feel_pressure(felt.high_gauge_Pa)
        if moved:
            self._tell("switch", switch_words(self.case, self.units.pressure_ok, felt))
        return moved

    def _decide(self, felt: Felt) -> None:
        """One step of the head, with its reasons where it changed its mind."""
        units = self.units
        units.decide(units.signals(felt), TICK_s)
        if units.done:
            for reason in units.done.changes:
                if reason.topic in TOLD:
                    self._tell(reason.topic, reason.words)

    def _wire(self, felt: Felt) -> None:
        """Solve the wiring; clutch, fans and blower follow."""
        units, engaged = self.units, self.units.engaged
        blown = units.wired.blown if units.wired else ()
        units.wire(felt)
        self.wired_at_s = self.time_s
        self.power_residual = max(self.power_residual,
                                  abs(units.wired.solution.power_balance_W))
        for fuse in units.wired.blown[len(blown):]:
            self._tell("fuse", f"fuse {fuse} blows: more current than it stands")
        if units.engaged != engaged:
            self._tell("clutch", clutch_words(self.case, units))

    def _tell(self, topic: str, words: str) -> None:
        self.events.append(BenchEvent(self.time_s, topic, words))

    def _note(self, sample: Sample, felt: Felt) -> None:
        units, out = self.units, self.units.outputs
        vents = {zone: c.signal_value(self.case, f"discharge {zone}", felt, units.doors)
                 for zone in self.case.bench.calibration.zone_names}
        doors = {name: c.door_position(self.case, name, units.doors) for name in units.doors}
        self.mass_residual = max(self.mass_residual, self.loop.mass_residual)
        self.samples.append(BenchSample(
            self.time_s, sample, units.engaged, units.pressure_ok, out.fan if out else "off",
            out.blower if out else 0.0, doors, vents))


def clutch_words(case: Case, units: Units) -> str:
    """Return why the clutch engages or lets go: its coil's current [str]."""
    amps, clutch = abs(units.wired.solution.main_current(case.bench.clutch.coil)), case.bench.clutch
    return (f"clutch engages: {amps:.1f} A ≥ {clutch.engage_A:g} A" if units.engaged
            else f"clutch lets go: {amps:.1f} A < {clutch.release_A:g} A")


def switch_words(case: Case, pressure_ok: bool, felt: Felt) -> str:
    """Return why the pressure switch moves [str]."""
    switch, kPa = case.bench.pressure_switch, felt.high_gauge_Pa / 1e3
    return (f"pressure switch closes: {kPa:,.0f} kPa < {switch.close_Pa / 1e3:,.0f} kPa"
            if pressure_ok else
            f"pressure switch opens: {kPa:,.0f} kPa ≥ {switch.open_Pa / 1e3:,.0f} kPa")
