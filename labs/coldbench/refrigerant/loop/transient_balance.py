"""The loop at one moment: a state in, its rates of change out.

Masses of both sides change by the flows that compressor and valves let pass; pressures by the
heat the sides keep; coil, bulb, pipe and cabin follow with their own stores. Where nothing
changes any more, the equations are those of the steady loop.

Air in the system sits in the condenser while the compressor runs; at rest it creeps through the
loop until its pressure is equal (a simplification of ours).
"""

from typing import NamedTuple

from coldbench.air.moist import relative_humidity
from coldbench.refrigerant.loop import condenser, condenser_air, evaporator
from coldbench.refrigerant.loop.balance import Problem, evaluate, make_problem
from coldbench.refrigerant.loop.charge import flowing_density
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.refrigerant.loop.faults import HEALTHY, Effects
from coldbench.refrigerant.loop.parts import LoopParts, blue_parts
from coldbench.refrigerant.loop.transient_flow import (
    Delivery,
    ValveFlow,
    delivery,
    standing,
    valve_flow,
)
from coldbench.refrigerant.loop.transient_high import (
    HighSide,
    Pass,
    charge_coordinate,
    condenser_pass,
    high_side,
    saturated_at,
)
from coldbench.refrigerant.loop.transient_low import LowSide, coil_now, low_side, with_drop
from coldbench.refrigerant.loop.transient_parts import Cabin, Stores, blue_cabin, blue_stores
from coldbench.refrigerant.loop.transient_store import Store, store

_MOST_ROUNDS, _SAME_Z = 12, 1e-6
_LEAST_LINE_KG = 1e-3


class LoopState(NamedTuple):
    """All that a loop remembers (SI)."""

    condensing_Pa: float
    evaporator_Pa: float
    high_side_kg: float
    low_side_kg: float
    line_enthalpy_J_per_kg: float
    outlet_enthalpy_J_per_kg: float
    coil_K: float
    bulb_K: float
    cabin_K: float
    cabin_humidity_ratio: float
    low_side_air_kg: float
    probe_K: float
    discharge_pipe_K: float


class LoopInputs(NamedTuple):
    """What a loop is set to at one moment."""

    problem: Problem
    stores: Stores
    cabin: Cabin
    engaged: bool


class _Flows(NamedTuple):
    """Flows of a moment, and the condenser and coil between which they run."""

    at: Pass
    flow: ValveFlow
    coil: evaporator.Coil
    line_kg: float
    z: float
    air_Pa: float
    low_air_Pa: float


class Moment(NamedTuple):
    """Everything known at one state; `rates` in the order of `LoopState`."""

    rates: tuple[float, ...]
    low_air_Pa: float
    high_Pa: float
    gas: Delivery
    flow: ValveFlow
    coil: evaporator.Coil
    air: evaporator.CoilAir
    high: HighSide
    low: LowSide


def loop_inputs(conditions: Conditions, parts: LoopParts | None = None,
                effects: Effects = HEALTHY, stores: Stores | None = None,
                cabin: Cabin | None = None) -> LoopInputs:
    """Return the inputs of a moment.

    Parameters
    ----------
    conditions : Conditions
        Settings, with `clutch_engaged`.
    parts : LoopParts, optional
        Sizes; the blue bench if left out.
    effects : Effects
        What the faults change.
    stores, cabin : Stores, Cabin, optional
        The blue bench's if left out.

    Returns
    -------
    LoopInputs

    Raises
    ------
    InputError
        If faults or charge are outside what the model covers.

    Examples
    --------
    >>> loop_inputs(Conditions(clutch_engaged=False)).engaged
    False
    """
    problem = make_problem(conditions, parts or blue_parts(), effects)
    engaged = conditions.running and effects.clutch_slip <= 0.5
    return LoopInputs(problem, stores or blue_stores(), cabin or blue_cabin(), engaged)


def moment(inputs: LoopInputs, state: LoopState) -> Moment:
    """Return rates of change and everything else at one state.

    Parameters
    ----------
    inputs : LoopInputs
        Settings.
    state : LoopState
        State.

    Returns
    -------
    Moment

    Raises
    ------
    InputError
        If a state is outside the property tables.

    Examples
    --------
    >>> inputs, state, _ = example()
    >>> now = moment(inputs, state)
    >>> all(abs(rate) < 1e-3 * abs(value) for rate, value in zip(now.rates[:4], state))
    True
    """
    problem, stores = inputs.problem, inputs.stores
    air, flows = air_now(inputs, state), _flows(inputs, state)
    stored = (_high_store(inputs, state, flows.line_kg), _low_store(inputs, state))
    high = high_side(problem, stores, flows.at, flows.z, stored[0], flows.flow.mass_flow,
                     problem.fluid.vapour_enthalpy_sat(state.evaporator_Pa))
    low = low_side(problem, stores, air, state.evaporator_Pa, flows.coil, stored[1],
                   flows.flow.mass_flow, flows.at.gas.mass_flow, state.line_enthalpy_J_per_kg)
    rates = (*_refrigerant_rates(inputs, state, flows, stored, high, low),
             low.surface_K_per_s, _bulb_rate(inputs, state, flows.coil),
             *_cabin_rates(inputs, state, air, low), _air_rate(inputs, state, flows),
             (state.coil_K - state.probe_K) / stores.probe_time_s,
             _discharge_rate(inputs, state, flows.at.gas))
    return Moment(rates, flows.low_air_Pa, flows.at.high_Pa, flows.at.gas, flows.flow,
                  flows.coil, air, high, low)


def _flows(inputs: LoopInputs, state: LoopState) -> _Flows:
    """Flows and charge coordinate; trapped air ties them together, without it one round does."""
    problem = inputs.problem
    sat = saturated_at(problem, state.condensing_Pa)
    still = coil_now(problem, state.evaporator_Pa, state.low_side_kg,
                     state.outlet_enthalpy_J_per_kg, state.coil_K, state.line_enthalpy_J_per_kg)
    trapped = max(problem.effects.air_kg - state.low_side_air_kg, 0.0)
    z = _first_z(problem, sat, state)
    for _ in range(_MOST_ROUNDS):
        air_Pa = condenser_air.air_pressure(problem.parts.condenser, trapped, sat.temperature_K, z)
        got = _flows_at(inputs, state, sat, still, air_Pa)
        if trapped <= 0.0 or abs(got.z - z) < _SAME_Z:
            break
        z = got.z
    return got


def _flows_at(inputs: LoopInputs, state: LoopState, sat: condenser.Saturated,
              still: evaporator.Coil, air_Pa: float) -> _Flows:
    """Flows and charge coordinate at a given partial pressure of air."""
    problem, evaporator_Pa = inputs.problem, state.evaporator_Pa
    high_Pa, low_air_Pa = sat.pressure_Pa + air_Pa, _low_air_pressure(problem, state)
    gas = (delivery(problem, high_Pa, evaporator_Pa, still) if inputs.engaged
           else standing(problem, state.condensing_Pa, evaporator_Pa, still))
    coil = with_drop(problem, still, gas.mass_flow)
    flow = valve_flow(problem, high_Pa, coil.inlet_Pa + low_air_Pa, evaporator_Pa, state.bulb_K,
                      state.line_enthalpy_J_per_kg)
    at = condenser_pass(problem, inputs.stores, sat, air_Pa, gas, flow.mass_flow)
    line_kg = problem.parts.liquid_line.volume_m3 * flowing_density(
        problem.fluid, high_Pa, state.line_enthalpy_J_per_kg, flow.liquid_density)
    z = charge_coordinate(problem, at, state.high_side_kg - line_kg)
    return _Flows(at, flow, coil, line_kg, z, air_Pa, low_air_Pa)


def _first_z(problem: Problem, sat: condenser.Saturated, state: LoopState) -> float:
    """Rough charge coordinate, for the first guess of the air's pressure."""
    if problem.effects.air_kg <= 0.0:
        return 0.5
    parts = problem.parts
    level = state.high_side_kg - 0.25 * parts.condenser.volume_m3 * sat.liquid_density
    return min(max(level / (parts.condenser.receiver_volume_m3 * sat.liquid_density), 0.0), 1.0)


def _high_store(inputs: LoopInputs, state: LoopState, line_kg: float) -> Store:
    problem = inputs.problem
    return store(problem.fluid, condenser_volume(problem.parts), state.condensing_Pa,
                 state.high_side_kg - line_kg, inputs.stores.condenser_metal_J_per_K)


def _low_store(inputs: LoopInputs, state: LoopState) -> Store:
    problem = inputs.problem
    return store(problem.fluid, low_volume(problem.parts), state.evaporator_Pa,
                 state.low_side_kg)


def condenser_volume(parts: LoopParts) -> float:
    """Return the room of condenser, receiver and hot line [m³].

    >>> round(condenser_volume(blue_parts()) * 1e3, 2)
    1.03
    """
    return (parts.condenser.volume_m3 + parts.condenser.receiver_volume_m3
            + parts.compressor.discharge_volume_m3)


def low_volume(parts: LoopParts) -> float:
    """Return the room of evaporator and suction line [m³].

    >>> round(low_volume(blue_parts()) * 1e3, 2)
    1.0
    """
    return parts.evaporator.volume_m3 + parts.suction_line.volume_m3


def _refrigerant_rates(inputs: LoopInputs, state: LoopState, flows: _Flows,
                       stored: tuple[Store, Store], high: HighSide,
                       low: LowSide) -> tuple[float, ...]:
    """Rates of both pressures, both masses, enthalpy of liquid line and coil outlet.

    dp/dt = (dU/dt − ∂U/∂M dM/dt) / (∂U/∂p) on both sides; what flows through renews the line.
    """
    gained = flows.at.gas.mass_flow - flows.flow.mass_flow
    above, below = stored
    renewed = max(flows.flow.mass_flow, 0.0) / max(flows.line_kg, _LEAST_LINE_KG)
    return ((high.energy_W - above.energy_per_mass * gained) / above.energy_per_pressure,
            (low.energy_W + below.energy_per_mass * gained) / below.energy_per_pressure,
            gained, -gained,
            renewed * (high.outlet.enthalpy_J_per_kg - state.line_enthalpy_J_per_kg),
            (low.outlet_enthalpy - state.outlet_enthalpy_J_per_kg) / inputs.stores.outlet_time_s)


def _bulb_rate(inputs: LoopInputs, state: LoopState, coil: evaporator.Coil) -> float:
    contact = inputs.problem.effects.bulb_contact
    aim = contact * coil.outlet_K + (1.0 - contact) * inputs.problem.conditions.ambient_K
    return (aim - state.bulb_K) / inputs.stores.bulb_time_s


def _discharge_rate(inputs: LoopInputs, state: LoopState, gas: Delivery) -> float:
    """The hot pipe follows the gas; at rest it cools to the gas that stands in it."""
    stores = inputs.stores
    time = stores.discharge_time_s if gas.mass_flow > 0.0 else stores.discharge_rest_time_s
    return (gas.temperature_K - state.discharge_pipe_K) / time


def _cabin_rates(inputs: LoopInputs, state: LoopState, air: evaporator.CoilAir,
                 low: LowSide) -> tuple[float, float]:
    """The coil's air enters, as much cabin air leaves; walls and sun add heat."""
    cabin, ambient = inputs.cabin, inputs.problem.conditions.ambient_K
    vent = evaporator.leaving_air(air, low.sensible_W, low.condensate_kg_per_s)
    heat = (cabin.gain_W_per_K * (ambient - state.cabin_K) + cabin.gain_W
            + air.capacity_W_per_K * (vent.temperature_K - state.cabin_K))
    water = air.dry_flow_kg_per_s * (vent.humidity_ratio - state.cabin_humidity_ratio)
    return heat / cabin.heat_capacity_J_per_K, water / cabin.air_kg


def _air_rate(inputs: LoopInputs, state: LoopState, flows: _Flows) -> float:
    """Trapped air: the compressor carries it along, at rest it creeps back."""
    if inputs.problem.effects.air_kg <= 0.0:
        return 0.0
    pumped = flows.at.gas.mass_flow
    if pumped > 0.0:
        swept = pumped / flows.coil.outlet_density / low_volume(inputs.problem.parts)
        return -swept * state.low_side_air_kg
    return inputs.stores.air_seep_kg_per_s_Pa * (flows.air_Pa - flows.low_air_Pa)


def _low_air_pressure(problem: Problem, state: LoopState) -> float:
    if state.low_side_air_kg <= 0.0:
        return 0.0
    volume, fluid, p = low_volume(problem.parts), problem.fluid, state.evaporator_Pa
    vapour, liquid = fluid.vapour_density_sat(p), fluid.liquid_density_sat(p)
    wet = max((state.low_side_kg - vapour * volume) / (liquid - vapour), 0.0)
    return (state.low_side_air_kg * condenser_air.AIR_GAS_CONSTANT * state.coil_K
            / (volume - min(wet, 0.9 * volume)))


def air_now(inputs: LoopInputs, state: LoopState) -> evaporator.CoilAir:
    """Return the air onto the coil: intake air, mixed with cabin air if that recirculates.

    Parameters
    ----------
    inputs : LoopInputs
        Settings.
    state : LoopState
        Of which the cabin counts.

    Returns
    -------
    evaporator.CoilAir

    Examples
    --------
    >>> inputs, state, _ = example()
    >>> air_now(inputs, state).temperature_K == inputs.problem.conditions.intake_K
    True
    """
    problem, share = inputs.problem, inputs.cabin.recirculation_share
    if share == 0.0:
        return problem.air
    c, fresh = problem.conditions, problem.air
    temperature = share * state.cabin_K + (1.0 - share) * fresh.temperature_K
    water = share * state.cabin_humidity_ratio + (1.0 - share) * fresh.humidity_ratio
    humid = min(relative_humidity(temperature, water, c.atmosphere_Pa), 1.0)
    return evaporator.coil_air(problem.parts.evaporator, temperature, humid, c.atmosphere_Pa,
                               c.blower, problem.effects.evaporator_airflow_factor)


def example() -> tuple[LoopInputs, LoopState, evaporator.Coil]:
    """Return inputs, steady state and coil of the healthy bench, for the examples here.

    >>> example()[0].engaged
    True
    """
    from coldbench.refrigerant.loop.solver import solve_loop
    from coldbench.refrigerant.loop.transient_start import state_of

    inputs = loop_inputs(Conditions())
    result = solve_loop(Conditions())
    return inputs, state_of(inputs, result), evaluate(inputs.problem, result.unknowns).coil
