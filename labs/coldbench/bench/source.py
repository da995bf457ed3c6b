"""Where a session's readings come from: the model, or a sealed file (`sealed.py`).

A source gives an `outfit` and, for a standing, a `Scene`. The session asks no more of either, so
it never knows which it has.
"""

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any, NamedTuple, Protocol

from coldbench.bench.air_path import blower_share
from coldbench.bench.coupling import Case
from coldbench.bench.fault_text import BenchFaults, bench_faults
from coldbench.bench.model import Bench
from coldbench.bench.outfit import Outfit, outfit_of, si_value
from coldbench.bench.reading import BenchReading, Measured, reading_of
from coldbench.bench.repairs import left
from coldbench.bench.standing import Standing
from coldbench.bench.steady import rest
from coldbench.bench.waveform import Pulses, Waveform, level, pulses
from coldbench.electrical import Fault, solve
from coldbench.electrical.instruments import all_ways, lamp, power_off, way_currents
from coldbench.electrical.instruments.clamp import Way

_MOST_KEPT = 32


class Lit(NamedTuple):
    """What a test lamp does: volts across it, and the words that go with it."""

    volts: float
    note: str


class Scene(Protocol):
    """A bench that stands as it stands, solved.

    live, dead: wiring as a meter sees it (`thevenin`, `voltage`, `currents`), and with the
    battery lead off; values: as `BenchReading.values`; reasons [the head's decisions and why]; charge_kg; leaks; bubbles [share of
    vapour in the liquid line].
    """

    ignition: bool
    running: bool
    values: Mapping[str, Measured]
    reasons: tuple[str, ...]
    live: Any
    dead: Any
    charge_kg: float
    leaks: bool
    bubbles: float

    def between(self, red: str, black: str) -> tuple[tuple[str, ...], float] | None:
        """Wires and parts of the one way from red to black, and their current [A]."""

    def lamp(self, red: str, black: str) -> Lit:
        """What a test lamp between two nodes does."""

    def trace(self, red: str, black: str) -> Waveform:
        """What the oscilloscope shows between two nodes."""

    def test(self, what: str) -> Mapping[str, Measured]:
        """Readings while the head drives something for the service tool."""


class Source(Protocol):
    """What a session measures."""

    outfit: Outfit

    def scene(self, standing: Standing) -> Scene:
        """The bench as it stands."""

    def ignition(self, state: str) -> bool:
        """Whether the ignition is on in a state."""

    def off_after_repair(self, replaced: tuple[str, ...]) -> tuple[str, ...]:
        """States in which the bench shows anything else than a sound one."""


class ModelSource:
    """Readings worked out by the model.

    bench [Bench]; faults [as `read` takes them].
    """

    def __init__(self, bench: Bench, faults=(), changes: Mapping[str, Any] | None = None) -> None:
        self.bench, self.outfit = bench, outfit_of(bench)
        self.faults = tuple(map(str, bench_faults(bench, faults).texts))
        self.changes = dict(changes or {})
        self._kept: dict[Standing, ModelScene] = {}

    def scene(self, standing: Standing) -> "ModelScene":
        """The bench as it stands, solved. Raises: InputError, ConvergenceError."""
        if standing not in self._kept:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            self._kept[standing] = ModelScene(self.case(standing), standing.state)
        return self._kept[standing]

    def ignition(self, state: str) -> bool:
        """Whether the ignition is on in a state."""
        return self.bench.settings(state, self.changes).ignition

    def case(self, standing: Standing) -> Case:
        """The bench as it stands, to be solved."""
        bench = self.bench
        boxed = {name: si_value(self.outfit.sensors[name]["unit"], value)
                 for name, value in standing.boxes}
        faults = bench_faults(bench, left(bench, self.faults, standing.replaced))
        faults = _without(faults, {self.outfit.sensors[name]["part"] for name in boxed})
        faults = _unplugged(bench, faults, standing.unplugged)
        return Case(bench, bench.settings(standing.state, self.changes), faults, boxed)

    def off_after_repair(self, replaced: tuple[str, ...]) -> tuple[str, ...]:
        """States in which the bench shows anything else than a sound one [tuple of str]."""
        from coldbench.bench.reading import differences, read

        faults = left(self.bench, self.faults, replaced)
        return tuple(name for name in self.bench.states if faults and differences(
            read(self.bench, name, faults, self.changes), read(self.bench, name, (), self.changes)))


def _without(faults: BenchFaults, parts: set[str]) -> BenchFaults:
    """Faults but those of sensors that a box stands in for."""
    kept = tuple(one for one in faults.electrical if one.part not in parts)
    return replace(faults, electrical=kept) if len(kept) < len(faults.electrical) else faults


def wires_at(bench: Bench, name: str) -> tuple[str, ...]:
    """Return the wires that come off with a part, or the wire itself [tuple of str]."""
    circuit = bench.circuit
    if name in circuit.wires:
        return (name,)
    nodes = circuit.parts[name].nodes
    return tuple(wire.id for wire in circuit.wires.values()
                 if wire.start in nodes or wire.end in nodes)


def _unplugged(bench: Bench, faults: BenchFaults, names: tuple[str, ...]) -> BenchFaults:
    """Faults, with the wires open that come off."""
    wires = dict.fromkeys(wire for name in names for wire in wires_at(bench, name))
    kept = tuple(one for one in faults.electrical if one.part not in wires)
    return replace(faults, electrical=(*kept, *(Fault(wire, "open") for wire in wires)))


def bench_ways(bench: Bench) -> dict[tuple[str, str], Way]:
    """Return the wires and fuses that an ammeter goes in line with, by their two ends [dict]."""
    if "ways" not in bench.memory:
        circuit = bench.circuit
        carry = {*circuit.wires, *(p.id for p in circuit.parts.values() if p.kind == "fuse")}
        bench.memory["ways"] = {ends: way for ends, way in
                                all_ways(solve(circuit, {})).items() if carry.issuperset(way.names)}
    return bench.memory["ways"]


class ModelScene:
    """A solved bench, as instruments see it."""

    def __init__(self, case: Case, state: str) -> None:
        self.case, self.state = case, state
        self.ignition = case.settings.ignition
        self.running = case.settings.ignition and case.settings.running

    @cached_property
    def reading(self) -> BenchReading:
        """The solved bench."""
        return reading_of(self.case, self.state, rest(self.case))

    @cached_property
    def values(self) -> Mapping[str, Measured]:
        """Every reading by its key, and what eyes and ears make of fans and blower."""
        return with_senses(self.reading)

    @property
    def reasons(self) -> tuple[str, ...]:
        """The head's decisions and why, in words; where it cycles, what it changes in turn too."""
        return (*(one.words if not one.words[:1].isdigit() else f"{one.topic}: {one.words}"
                  for one in self.reading.reasons),
                *(f"in turn: {words}" for words in self.reading.cycle_words))

    @property
    def live(self):
        """The solved wiring."""
        return self.reading.electrical

    @cached_property
    def dead(self):
        """The wiring with the battery lead off."""
        return power_off(self.reading.electrical)

    @property
    def charge_kg(self) -> float:
        """Refrigerant in the loop [kg]."""
        return self.reading.loop.charge_kg

    @property
    def leaks(self) -> bool:
        """Whether refrigerant leaks out."""
        return any(one.name == "undercharge" and one.severity > 0.0
                   for one in self.case.faults.loop)

    @property
    def bubbles(self) -> float:
        """Share of vapour in the liquid line."""
        return self.reading.loop.liquid_line_quality if self.reading.loop.running else 0.0

    def between(self, red: str, black: str) -> tuple[tuple[str, ...], float] | None:
        """Wires and parts of the one way from red to black, and their current [A]."""
        way = bench_ways(self.case.bench).get((red, black))
        if way is None:
            return None
        return way.names, way_currents(self.live, {(red, black): way})[0]

    def lamp(self, red: str, black: str) -> Lit:
        """What a test lamp between two nodes does."""
        found = lamp(self.live, red, black)
        return Lit(found.value, found.note)

    @cached_property
    def pulses(self) -> Pulses | None:
        """Pulses of the blower's driver; None where nothing pulses."""
        return pulses(self.live)

    def trace(self, red: str, black: str) -> Waveform:
        """What the oscilloscope shows between two nodes."""
        if self.pulses is None:
            return level(self.live.voltage(red) - self.live.voltage(black))
        return self.pulses.waveform(red, black)

    def test(self, what: str) -> Mapping[str, Measured]:
        """Readings while the head drives something for the service tool."""
        asked = outfit_of(self.case.bench).tests[what]
        case = replace(self.case, service=asked)
        return with_senses(reading_of(case, self.state, rest(case)))


_FAN_SHARES, _BLOWER_SHARES = (0.03, 0.75), (0.02, 0.25, 0.7)


def with_senses(reading: BenchReading) -> dict[str, Measured]:
    """Return all readings, and what eyes and ears make of fans and blower.

    Parameters
    ----------
    reading : BenchReading
        Solved bench.

    Returns
    -------
    dict of str to Measured
        Also "fan M1" (−1 backwards, 0 still, 1 slow, 2 fast) and "blower" (0 silent to 3 loud).
    """
    bench, motors = reading.bench, reading.electrical.motors
    seen = {}
    for number, fan in enumerate(bench.fans, 1):
        share = motors[fan.motor].rpm / fan.full_rpm
        level = -1.0 if share < -_FAN_SHARES[0] else float(sum(share >= s for s in _FAN_SHARES))
        seen[f"fan {fan.motor}"] = Measured(level, "", 0.0, f"fan {number}")
    share = blower_share(bench, reading.electrical)
    seen["blower"] = Measured(float(sum(share >= s for s in _BLOWER_SHARES)), "", 0.0, "blower")
    return dict(reading.values) | seen
