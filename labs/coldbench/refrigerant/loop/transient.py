"""Start-up, clutch cycling and shut-down of the loop: the needles over time.

`simulate(Conditions(), 600.0)` starts the bench from rest; `clutch=Cycling()` lets the switches
work; `advance` is one tick for a bench coupled to other things. With the clutch held on, what
remains is the steady state of `solve_loop`.

Tolerance reached, at the end of ten minutes from rest with the clutch held on, in 40 conditions
and faults: 0.1 % of either absolute pressure, 0.05 K of every temperature. The exception is a
coil with hardly any air (blower below about 10 %), where the expansion valve goes on hunting, as
a real one does.

At rest both needles meet where all is equally warm; each side else stands at the saturation of
its own part, until the liquid has crept to the coolest (hours, the expansion valve being shut).

Lumped: mass and pressure of either side, liquid line, coil, bulb and cabin as one store each.
Not modelled: ice on the coil, the wave-like first half second after the clutch engages, heat
stored by the compressor.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import NamedTuple

from coldbench.errors import InputError
from coldbench.refrigerant.loop import evaporator
from coldbench.refrigerant.loop.conditions import Conditions, finite_number
from coldbench.refrigerant.loop.faults import Fault, fault
from coldbench.refrigerant.loop.faults import effects as combined_effects
from coldbench.refrigerant.loop.parts import LoopParts
from coldbench.refrigerant.loop.result import LoopResult
from coldbench.refrigerant.loop.transient_balance import (
    LoopInputs,
    LoopState,
    Moment,
    loop_inputs,
    moment,
)
from coldbench.refrigerant.loop.transient_clutch import Clutch, Cycling, Seen, clutch_rule, decide
from coldbench.refrigerant.loop.transient_parts import Cabin, Stores, blue_cabin, blue_stores
from coldbench.refrigerant.loop.transient_start import rest_state, state_of
from coldbench.refrigerant.loop.transient_step import FIRST_STEP_s, advance, integrate

__all__ = ["Cabin", "Cycling", "Event", "LoopInputs", "LoopState", "Sample", "Stores",
           "Transient", "advance", "blue_cabin", "blue_stores", "loop_inputs", "reading",
           "rest_state", "simulate", "state_of"]

LONGEST_s, SHORTEST_SAMPLE_s, LONGEST_SAMPLE_s = 7200.0, 0.05, 10.0
_LONGEST_LOOK_s = 0.5  # between two looks of the switches
_SAME_CHARGE = 1e-6


class Event(NamedTuple):
    """Something that happened, in words."""

    time_s: float
    words: str


@dataclass(frozen=True)
class Sample:
    """What instruments show at one moment (units in the names; gauges against the air outside)."""

    time_s: float
    high_side_gauge_kPa: float
    low_side_gauge_kPa: float
    condenser_temperature_K: float
    coil_temperature_K: float
    suction_temperature_K: float
    discharge_temperature_K: float
    liquid_line_temperature_K: float
    superheat_K: float
    subcooling_K: float
    vent_temperature_K: float
    cabin_temperature_K: float
    clutch_on: bool
    compressor_flow_kg_per_s: float
    valve_flow_kg_per_s: float
    compressor_power_W: float
    high_side_charge_kg: float
    low_side_charge_kg: float
    receiver_level: float


@dataclass(frozen=True, eq=False)
class Transient:
    """A run of the loop: one read-only array over time for each field of `Sample`.

    mass_residual is the largest deviation of the mass in both sides from the charge, as a
    share of it.
    """

    conditions: Conditions
    faults: tuple[Fault, ...]
    series: "Mapping[str, numpy.ndarray]"  # noqa: F821
    events: tuple[Event, ...]
    mass_residual: float
    end: LoopState

    def __getattr__(self, name: str) -> "numpy.ndarray":  # noqa: F821
        series = self.__dict__.get("series", {})
        if name not in series:
            raise AttributeError(f"a transient has no {name!r}; it has: {', '.join(series)}")
        return series[name]

    def at(self, time_s: float) -> Sample:
        """Return the readings at a time, between samples along a straight line.

        Parameters
        ----------
        time_s : float
            From 0 to the end [s].

        Returns
        -------
        Sample

        Raises
        ------
        InputError
            Outside the run.

        Examples
        --------
        >>> run = simulate(Conditions(), 2.0)
        >>> run.at(1.1).low_side_gauge_kPa < run.at(0.0).low_side_gauge_kPa
        True
        """
        import numpy

        times = self.series["time_s"]
        if not times[0] <= time_s <= times[-1]:
            raise InputError(f"time_s {time_s:g} s is outside 0 to {times[-1]:g} s")
        last = int(numpy.searchsorted(times, time_s, side="right")) - 1
        values = {name: float(numpy.interp(time_s, times, column))
                  for name, column in self.series.items()}
        return Sample(**{**values, "clutch_on": bool(self.series["clutch_on"][last])})


def reading(inputs: LoopInputs, state: LoopState, time_s: float = 0.0,
            now: Moment | None = None) -> Sample:
    """Return what instruments show at a state.

    Parameters
    ----------
    inputs : LoopInputs
        Settings.
    state : LoopState
        State.
    time_s : float
        Time to note [s].
    now : Moment, optional
        Moment of that state, if known.

    Returns
    -------
    Sample

    Examples
    --------
    >>> inputs = loop_inputs(Conditions(clutch_engaged=False))
    >>> sample = reading(inputs, rest_state(inputs))
    >>> round(sample.high_side_gauge_kPa), round(sample.low_side_gauge_kPa)
    (669, 669)
    """
    now = moment(inputs, state) if now is None else now
    fluid, c = inputs.problem.fluid, inputs.problem.conditions
    low_Pa = state.evaporator_Pa + now.low_air_Pa
    line_h = state.line_enthalpy_J_per_kg
    line_K = fluid.temperature(now.high_Pa, line_h)
    liquid = line_h <= fluid.liquid_enthalpy_sat(now.high_Pa) + 1.0
    subcooling = fluid.saturation_temperature(now.high_Pa) - line_K if liquid else 0.0
    superheat = now.coil.outlet_K - fluid.saturation_temperature(low_Pa)
    vent = evaporator.leaving_air(now.air, now.low.sensible_W, now.low.condensate_kg_per_s)
    return Sample(
        time_s=time_s, high_side_gauge_kPa=(now.high_Pa - c.atmosphere_Pa) / 1e3,
        low_side_gauge_kPa=(low_Pa - c.atmosphere_Pa) / 1e3,
        condenser_temperature_K=fluid.saturation_temperature(state.condensing_Pa),
        coil_temperature_K=state.coil_K, suction_temperature_K=now.coil.outlet_K,
        discharge_temperature_K=state.discharge_pipe_K, liquid_line_temperature_K=line_K,
        superheat_K=max(superheat, 0.0), subcooling_K=max(subcooling, 0.0),
        vent_temperature_K=vent.temperature_K, cabin_temperature_K=state.cabin_K, clutch_on=inputs.engaged,
        compressor_flow_kg_per_s=now.gas.mass_flow, valve_flow_kg_per_s=now.flow.mass_flow,
        compressor_power_W=now.gas.mass_flow * now.gas.work_J_per_kg,
        high_side_charge_kg=state.high_side_kg, low_side_charge_kg=state.low_side_kg,
        receiver_level=min(max(now.high.z, 0.0), 1.0))


def simulate(conditions: Conditions | None = None, duration_s: float = 600.0,
             parts: LoopParts | None = None, faults: Iterable = (),
             clutch: "bool | Cycling | Callable[[float], bool]" = True,
             start: "str | LoopResult | LoopState" = "rest", step_s: float = 0.5,
             cabin: Cabin | None = None, stores: Stores | None = None) -> Transient:
    """Follow the loop over time.

    Parameters
    ----------
    conditions : Conditions, optional
        Settings and air; the usual ones if left out. With `clutch_engaged=False` or no speed
        the compressor never turns.
    duration_s : float
        Up to 7200 [s].
    parts : LoopParts, optional
        Sizes; the blue bench if left out.
    faults : iterable of Fault, str or tuple
        Each as `fault` accepts it.
    clutch : bool, callable or Cycling
        True holds it on, a function of time [s] asks for it, `Cycling` adds switches. The
        bench's high-pressure trip acts in any case.
    start : "rest", LoopResult or LoopState
        Where to begin.
    step_s : float
        Time between samples, 0.05 to 10 [s].
    cabin : Cabin, optional
        The blue bench's, without recirculation, if left out.
    stores : Stores, optional
        The blue bench's if left out.

    Returns
    -------
    Transient

    Raises
    ------
    InputError
        If an argument is not as described.
    ConvergenceError
        With the reason, if the loop cannot be followed.

    Examples
    --------
    >>> run = simulate(Conditions(), 20.0, clutch=lambda time_s: time_s < 10.0)
    >>> [event.words for event in run.events]
    ['clutch engages', 'clutch releases: cooling is no longer asked for']
    """
    conditions = Conditions() if conditions is None else conditions
    faults = tuple(map(fault, faults)) if not isinstance(faults, str) else faults
    effects = combined_effects(faults)
    on = loop_inputs(conditions, parts, effects, stores, cabin)
    off = loop_inputs(replace(conditions, clutch_engaged=False), parts, effects, stores, cabin)
    times = _sample_times(duration_s, step_s)
    state = _started(on, start)
    run = _Run(on, off, clutch_rule(clutch), state)
    samples = [run.sample(times[0])]
    samples += [run.follow(before, time) for before, time in zip(times, times[1:], strict=False)]
    return Transient(conditions, faults, _series(samples), tuple(run.events),
                     _mass_residual(samples, on.problem.charge_kg), run.state)


def _started(inputs: LoopInputs, start: "str | LoopResult | LoopState") -> LoopState:
    if isinstance(start, LoopState):
        return _checked_start(inputs, start)
    if isinstance(start, LoopResult):
        return state_of(inputs, start)
    if start == "rest":
        return rest_state(inputs)
    raise InputError(f"start must be 'rest', a LoopResult or a LoopState, not {start!r}")


def _checked_start(inputs: LoopInputs, state: LoopState) -> LoopState:
    held, asked = state.high_side_kg + state.low_side_kg, inputs.problem.charge_kg
    if not abs(held / asked - 1.0) < _SAME_CHARGE:
        raise InputError(f"start holds {held * 1e3:.1f} g of refrigerant, but the conditions and "
                         f"faults ask for {asked * 1e3:.1f} g")
    return state


def _sample_times(duration_s: float, step_s: float) -> list[float]:
    duration, step = finite_number("duration_s", duration_s), finite_number("step_s", step_s)
    if not 0.0 < duration <= LONGEST_s:
        raise InputError(f"duration_s {duration:g} s must be above 0 and at most {LONGEST_s:g} s")
    if not SHORTEST_SAMPLE_s <= step <= LONGEST_SAMPLE_s:
        raise InputError(f"step_s {step:g} s is outside {SHORTEST_SAMPLE_s:g} to "
                         f"{LONGEST_SAMPLE_s:g} s")
    count = math.ceil(duration / step - 1e-9)
    return [*(i * step for i in range(count)), duration]


class _Run:
    """A run on its way: state, clutch, events."""

    def __init__(self, on: LoopInputs, off: LoopInputs, rule: Cycling, state: LoopState) -> None:
        self.on, self.off, self.rule, self.state = on, off, rule, state
        self.clutch, self.step_s, self.events = Clutch(), FIRST_STEP_s, []
        self.now = moment(self.inputs, state)
        limits, air = on.problem.parts.limits, on.problem.conditions.atmosphere_Pa
        self.trip_gauge_kPa, self.air_kPa = limits.high_pressure_trip_gauge_Pa / 1e3, air / 1e3
        self.look(0.0)

    @property
    def inputs(self) -> LoopInputs:
        return self.on if self.clutch.engaged else self.off

    def sample(self, time_s: float) -> Sample:
        return reading(self.inputs, self.state, time_s, self.now)

    def look(self, time_s: float) -> None:
        """Let wish and switches act, on a compressor that can turn at all."""
        if not self.on.engaged:
            return
        low_Pa = self.state.evaporator_Pa + self.now.low_air_Pa
        seen = Seen(self.state.probe_K, low_Pa / 1e3 - self.air_kPa,
                    self.now.high_Pa / 1e3 - self.air_kPa)
        before = self.clutch.engaged
        self.clutch, words = decide(self.rule, self.clutch, time_s, seen, self.trip_gauge_kPa)
        if words:
            self.events.append(Event(time_s, words))
        if self.clutch.engaged != before:
            self.step_s, self.now = FIRST_STEP_s, moment(self.inputs, self.state)

    def follow(self, time_s: float, until_s: float) -> Sample:
        """Go on to the next sample, looking at the switches on the way."""
        looks = math.ceil((until_s - time_s) / _LONGEST_LOOK_s - 1e-9)
        for i in range(looks):
            self.state, self.step_s, self.now = integrate(
                self.state, self.inputs, (until_s - time_s) / looks, self.step_s, self.now)
            self.look(time_s + (until_s - time_s) * (i + 1) / looks)
        return self.sample(until_s)


def _series(samples: list[Sample]) -> Mapping:
    import numpy

    series = {f.name: numpy.array([getattr(s, f.name) for s in samples]) for f in fields(Sample)}
    for column in series.values():
        column.setflags(write=False)
    return MappingProxyType(series)


def _mass_residual(samples: list[Sample], charge_kg: float) -> float:
    return max(abs(s.high_side_charge_kg + s.low_side_charge_kg - charge_kg)
               for s in samples) / charge_kg
