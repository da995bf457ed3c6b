"""Where a transient begins: the loop at rest, or a steady state that was solved before."""

from coldbench.errors import InputError
from coldbench.refrigerant.loop import evaporator
from coldbench.refrigerant.loop.balance import Problem, evaluate, make_problem
from coldbench.refrigerant.loop.charge import flowing_density, two_phase_density
from coldbench.refrigerant.loop.condenser_air import AIR_GAS_CONSTANT
from coldbench.refrigerant.loop.faults import effects
from coldbench.refrigerant.loop.rest import loop_volume, resting_pressure
from coldbench.refrigerant.loop.result import LoopResult
from coldbench.refrigerant.loop.transient_balance import (
    LoopInputs,
    LoopState,
    condenser_volume,
    low_volume,
    moment,
)
from coldbench.refrigerant.loop.transient_parts import Cabin
from coldbench.refrigerant.loop.transient_store import root

_SAME_CHARGE = 1e-6
_ROUNDS = 4


def rest_state(inputs: LoopInputs) -> LoopState:
    """Return the loop at rest: both sides at one pressure, everything at ambient temperature.

    A little of the liquid lies in the coil, the rest in condenser and receiver, as after an
    ordinary stop; the cabin is as warm and humid as the intake air.

    Parameters
    ----------
    inputs : LoopInputs
        Settings.

    Returns
    -------
    LoopState

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> state = rest_state(example()[0])
    >>> round(state.condensing_Pa / 1e3), state.condensing_Pa == state.evaporator_Pa
    (770, True)
    """
    problem, fluid, T = inputs.problem, inputs.problem.fluid, inputs.problem.conditions.ambient_K
    parts, charge = problem.parts, problem.charge_kg
    volume = loop_volume(parts)
    p = resting_pressure(fluid, charge / volume, T)
    low_kg, dry = charge * low_volume(parts) / volume, p < fluid.saturation_pressure(T)
    if not dry:
        vapour, liquid = fluid.vapour_density_sat(p), fluid.liquid_density_sat(p)
        wet = inputs.stores.resting_coil_liquid_share * parts.evaporator.volume_m3
        low_kg = min(low_kg, low_volume(parts) * vapour + wet * (liquid - vapour))
    gas_h = fluid.vapour_enthalpy(p, T) if dry else fluid.vapour_enthalpy_sat(p)
    line_h = gas_h if dry else _line_enthalpy(inputs, p, charge - low_kg)
    air = problem.air
    state = LoopState(p, p, charge - low_kg, low_kg, line_h, gas_h, T, T, air.temperature_K,
                      air.humidity_ratio, 0.5 * problem.effects.air_kg, T, T)
    return _air_spread(inputs, state) if problem.effects.air_kg > 0.0 else state


def _line_enthalpy(inputs: LoopInputs, p: float, high_kg: float) -> float:
    """Enthalpy of the liquid line: full of liquid, or holding half of what liquid there is."""
    fluid, parts = inputs.problem.fluid, inputs.problem.parts
    line, vapour, liquid = (parts.liquid_line.volume_m3, fluid.vapour_density_sat(p),
                            fluid.liquid_density_sat(p))
    spare = high_kg - vapour * (condenser_volume(parts) + line)
    mean = min(vapour + 0.5 * spare / line, liquid)
    quality = root(lambda x: 1.0 - two_phase_density(x, x, vapour, liquid) / mean, 0.0, 1.0, 1e-9)
    bubble = fluid.liquid_enthalpy_sat(p)
    return bubble + quality * (fluid.vapour_enthalpy_sat(p) - bubble)


def _air_spread(inputs: LoopInputs, state: LoopState) -> LoopState:
    """Trapped air shared out so that its pressure is the same on both sides."""
    standing, air_kg = inputs._replace(engaged=False), inputs.problem.effects.air_kg
    for _ in range(_ROUNDS):
        now = moment(standing, state)
        heat = AIR_GAS_CONSTANT * state.coil_K
        high_m3 = (air_kg - state.low_side_air_kg) * heat / (now.high_Pa - state.condensing_Pa)
        low_m3 = state.low_side_air_kg * heat / now.low_air_Pa
        state = state._replace(low_side_air_kg=air_kg * low_m3 / (low_m3 + high_m3))
    return state


def state_of(inputs: LoopInputs, result: LoopResult) -> LoopState:
    """Return the state that a steady result stands for.

    Parameters
    ----------
    inputs : LoopInputs
        Settings of what follows; they may differ from those of the result.
    result : LoopResult
        Steady state or loop at rest.

    Returns
    -------
    LoopState

    Raises
    ------
    InputError
        If fluid or mass of refrigerant are not those of the inputs.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, state, _ = example()
    >>> abs(state.high_side_kg + state.low_side_kg - inputs.problem.charge_kg) < 1e-9
    True
    """
    problem = inputs.problem
    if result.conditions.fluid != problem.conditions.fluid:
        raise InputError(f"start holds {result.conditions.fluid}, but the conditions ask for "
                         f"{problem.conditions.fluid}")
    if abs(result.charge_kg - problem.charge_kg) > _SAME_CHARGE:
        raise InputError(f"start holds {result.charge_kg * 1e3:.1f} g of refrigerant, but the "
                         f"conditions and faults ask for {problem.charge_kg * 1e3:.1f} g")
    before = make_problem(result.conditions, problem.parts, effects(result.faults))
    if result.unknowns is None:
        return rest_state(inputs._replace(problem=before))
    point = evaluate(before, result.unknowns)
    coil, p = point.coil, point.evaporator_Pa
    low_kg = (evaporator.coil_mass(problem.parts.evaporator, problem.fluid, p, coil)
              + problem.parts.suction_line.volume_m3 * flowing_density(
                  problem.fluid, p, coil.outlet_enthalpy, coil.outlet_density))
    return LoopState(point.condensing.pressure_Pa, p, result.charge_kg - low_kg, low_kg,
                     point.liquid.enthalpy_J_per_kg, coil.outlet_enthalpy, coil.surface_K,
                     point.bulb_K, _settled_cabin(before, inputs.cabin, result),
                     result.vent_humidity_ratio, 0.0, coil.surface_K, point.gas_K)


def _settled_cabin(problem: Problem, cabin: Cabin, result: LoopResult) -> float:
    """Temperature at which the cabin's gains equal what the vent air takes [K]."""
    air = problem.air
    gains = cabin.gain_W_per_K * result.conditions.ambient_K + cabin.gain_W
    return ((gains + air.capacity_W_per_K * result.vent_temperature_K)
            / (cabin.gain_W_per_K + air.capacity_W_per_K))
