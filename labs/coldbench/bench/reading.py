"""What a bench shows: every reading with its unit and the uncertainty of its instrument.

`read(bench, state, faults)` gives a `BenchReading`. Where the bench cycles, the reading is that
of the last phase before the clutch lets go, as it would settle if it went on running; `cycle`
tells times and the ranges between which needles and air really swing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from coldbench.bench.air_path import vent_temperature
from coldbench.bench.coupling import Case, door_position
from coldbench.bench.fault_text import BenchFaults, bench_faults
from coldbench.bench.model import Bench
from coldbench.bench.steady import Phase, Rest, rest
from coldbench.bench.symptoms import CLAMPED, PIPES
from coldbench.bench.tables import Settings
from coldbench.bench.uncertainty import uncertainty
from coldbench.control import Outputs, Reason
from coldbench.control.calibration import DISTRIBUTIONS
from coldbench.control.sensors import believe_sensors
from coldbench.electrical import Solution
from coldbench.refrigerant.loop.result import LoopResult
from coldbench.sensing import SensorReading

ZERO_C = 273.15


class Measured(NamedTuple):
    """A reading: value in its unit, ± the instrument's uncertainty, what it is."""

    value: float
    unit: str
    uncertainty: float
    label: str

    def differs(self, other: "Measured") -> bool:
        """True if an instrument could tell the two apart.

        >>> Measured(20.0, "degC", 0.5, "x").differs(Measured(20.9, "degC", 0.5, "x"))
        False
        """
        return abs(self.value - other.value) > self.uncertainty + other.uncertainty


@dataclass(frozen=True, eq=False)
class BenchReading:
    """A bench in a state, with its faults; everything that can be measured is in `values`.

    phase: the solved bench; cycling: it found no rest; cycle_words: what the head then changes,
    and why; rounds: how long the search took.
    """

    bench: Bench
    state: str
    settings: Settings
    faults: tuple[str, ...]
    phase: Phase = field(repr=False)
    cycling: bool
    cycle_words: tuple[str, ...]
    rounds: int
    case: Case = field(repr=False)

    @property
    def loop(self) -> LoopResult:
        """The solved refrigerant loop."""
        return self.phase.loop

    @property
    def electrical(self) -> Solution:
        """The solved wiring."""
        return self.phase.wired.solution

    @property
    def sensors(self) -> dict[str, SensorReading]:
        """Volts, counts and values at the head's inputs, by input name."""
        return self.phase.readings

    @property
    def outputs(self) -> Outputs | None:
        """What the head asks for; None if it does nothing."""
        return self.phase.step.outputs if self.phase.step else None

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """The head's decisions with their reasons; none if it does nothing."""
        return self.phase.step.reasons if self.phase.step else ()

    @property
    def codes(self) -> tuple[tuple[str, int], ...]:
        """Stored codes with their status bytes."""
        return self.outputs.codes if self.outputs else ()

    @cached_property
    def cycle(self):
        """Times and ranges of the limit cycle [Cycle]; None where the bench is at rest.

        Follows the bench over time, which takes seconds.
        """
        from coldbench.bench.cycle import cycle_of

        return cycle_of(self.case) if self.cycling else None

    @cached_property
    def vents_K(self) -> dict[str, float]:
        """Temperature of the air out of each zone's vents [K]."""
        heater, coolant_K = self.bench.heater, self.settings.coolant_K
        return {zone: vent_temperature(
            self.loop.vent_temperature_K, door_position(self.case, f"blend {zone}",
                                                        self.phase.doors),
            coolant_K, heater.effectiveness) for zone in self.bench.calibration.zone_names}

    @cached_property
    def pipes_K(self) -> dict[str, float]:
        """Temperature of the pipe at each service point [K]; at rest all are at ambient."""
        names = PIPES if not self.loop.points else [point.name for point in self.loop.points]
        if not self.loop.running:
            return dict.fromkeys(names, self.settings.ambient_K)
        return {point.name: point.temperature_K for point in self.loop.points}

    @cached_property
    def beliefs(self) -> dict[str, float]:
        """What the head takes each signal to be [SI]; empty if it does nothing."""
        if self.phase.step is None:
            return {}
        _, believed = believe_sensors(self.phase.step.state.sensors, self.phase.inputs.sensors,
                                      self.case.calibration, 1e-3)
        return {name: one.value for name, one in believed.items()}

    @cached_property
    def values(self) -> Mapping[str, Measured]:
        """Every reading by its key: "gauge high", "pipe suction line", "tp 12", "current MB"…"""
        return {key: Measured(value, unit, uncertainty(unit, kind, value), label)
                for key, kind, value, unit, label in self._rows()}

    def _rows(self) -> Iterable[tuple[str, str, float, str, str]]:
        loop, wired = self.loop, self.electrical
        yield ("gauge high", "gauge high", loop.high_side_gauge_Pa / 1e3, "kPa", "high-side gauge")
        yield "gauge low", "gauge low", loop.low_side_gauge_Pa / 1e3, "kPa", "low-side gauge"
        for name, value in self.pipes_K.items():
            yield f"pipe {name}", "pipe", value - ZERO_C, "degC", f"pipe, {name}"
        for zone, value in self.vents_K.items():
            yield f"vent {zone}", "air", value - ZERO_C, "degC", f"air out of the vent, {zone}"
        yield ("vent flow", "flow", 100.0 * loop.conditions.blower, "%",
               "air out of the vents, share of full")
        yield ("condenser flow", "flow", 100.0 * loop.conditions.condenser_airflow, "%",
               "air through the condenser, share of full")
        for number, point in self.bench.circuit.test_points.items():
            yield (f"tp {number}", "volts", wired.voltages[point.at], "V",
                   point.label or f"test point {number}")
        for part in self._clamped():
            yield f"current {part}", "amps", wired.currents[part], "A", f"current of {part}"
        yield from self._seen()
        yield from self._display()
        yield from self._live()

    def _clamped(self) -> list[str]:
        """Parts whose current a clamp can be put around."""
        return [part.id for part in self.bench.circuit.parts.values() if part.kind in CLAMPED]

    def _seen(self) -> Iterable[tuple[str, str, float, str, str]]:
        """What eye and ear tell: the clutch, fans and lamps, door positions, where air blows."""
        yield "clutch", "seen", float(self.phase.engaged), "", "clutch engaged (1) or not (0)"
        yield "cycling", "seen", float(self.cycling), "", "the bench cycles (1) or rests (0)"
        for name in self.phase.doors:
            yield (f"door {name}", "door", 100.0 * door_position(self.case, name,
                                                                 self.phase.doors),
                   "%", f"{name} door, as seen")

    def _display(self) -> Iterable[tuple[str, str, float, str, str]]:
        """The head's display: what the driver has set, and its lamps; nothing when it is dark."""
        out = self.outputs
        if out is None:
            return
        zones = self.bench.calibration.zone_names
        for zone, set_K in zip(zones, self.settings.set_points_K, strict=True):
            yield f"display set {zone}", "display", set_K - ZERO_C, "degC", f"set point, {zone}"
        yield ("display blower", "display", round(10.0 * out.blower) * 10.0, "%",
               "blower bars")
        yield ("display air", "seen", float(DISTRIBUTIONS.index(out.distribution)), "",
               f"air to, of {', '.join(DISTRIBUTIONS)}")
        yield ("display recirculation", "seen", float(out.recirculation), "",
               "lamp of the recirculation")
        yield "display compressor", "seen", float(out.compressor), "", "lamp of the compressor"

    def _live(self) -> Iterable[tuple[str, str, float, str, str]]:
        """What a reader of codes shows; nothing of it without a head that works."""
        yield "head answers", "seen", float(self.outputs is not None), "", "the head answers"
        out = self.outputs
        if out is None:
            return
        units = {"pressure": ("kPa", 1e3, 0.0), "sun": ("W/m2", 1.0, 0.0)}
        for name, value in self.beliefs.items():
            unit, factor, offset = units.get(name.split(" ")[0], ("degC", 1.0, ZERO_C))
            yield f"live {name}", "live", (value - offset) / factor, unit, f"live data, {name}"
        for command in out.doors:
            if command.position is not None:
                yield (f"live door {command.name}", "live", 100.0 * command.position, "%",
                       f"live data, {command.name} door")
        fan = ("off", "low", "high").index(out.fan)
        yield "request compressor", "seen", float(out.compressor), "", "compressor requested"
        yield "request fans", "seen", float(fan), "", "fans requested: 0 off, 1 low, 2 high"
        yield "request blower", "live", 100.0 * out.blower, "%", "blower requested"
        yield ("request recirculation", "seen", float(out.recirculation), "",
               "recirculation requested")
        for number, status in out.codes:
            yield f"code {number}", "seen", float(status), "", f"code {number}, status byte"


def differences(a: BenchReading, b: BenchReading) -> tuple[str, ...]:
    """Return the keys of readings by which instruments could tell two benches apart.

    Parameters
    ----------
    a, b : BenchReading
        Of the same bench.

    Returns
    -------
    tuple of str
    """
    one, two = a.values, b.values
    return tuple(key for key in {**one, **two} if key not in one or key not in two
                 or one[key].differs(two[key]))


def read(bench: Bench, state: "str | Settings | None" = None,
         faults: "Iterable[str] | BenchFaults" = (),
         set: Mapping[str, object] | None = None) -> BenchReading:
    """Return everything a bench shows once it has come to rest.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    state : str or Settings, optional
        Operating state; the bench's first if left out.
    faults : iterable of str
        "undercharge=0.5", "K1:coil_open", "blend_left:jammed=0.3", "head:dead", …
    set : mapping, optional
        Changed settings, written as in the file: {"ambient_degC": 35}.

    Returns
    -------
    BenchReading

    Raises
    ------
    InputError
        For an unknown state, setting or fault.
    ConvergenceError
        If a solver fails.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> healthy = read(load_bench("blue"), "full cooling")
    >>> 1000 < healthy.values["gauge high"].value < 1700, healthy.cycling
    (True, False)
    """
    sorted_faults = bench_faults(bench, faults)
    name = state if isinstance(state, str) else (
        next(iter(bench.states)) if state is None else "own settings")
    case = Case(bench, bench.settings(state, dict(set or {})), sorted_faults)
    return reading_of(case, name, rest(case))


def reading_of(case: Case, name: str, found: Rest) -> BenchReading:
    """Return the reading of a bench that came to rest, or of the running phase of its cycle.

    Parameters
    ----------
    case : Case
        What was solved.
    name : str
        Of the state.
    found : Rest
        From `rest`.

    Returns
    -------
    BenchReading
    """
    return BenchReading(case.bench, name, case.settings, case.faults.texts, _running_phase(found),
                        bool(found.cycle), found.words, found.rounds, case)


def _running_phase(found: Rest) -> Phase:
    """The phase that is read: at rest the last one, in a cycle the last before the clutch lets go.

    A cycle is a ring, and where its rounds begin is chance: its last running round may be one
    just after the start, with the fans still on low.
    """
    ring = found.cycle
    running = [n for n, phase in enumerate(ring) if phase.engaged]
    stopping = [n for n in running if not ring[(n + 1) % len(ring)].engaged]
    return ring[(stopping or running)[-1]] if running else found.phase
