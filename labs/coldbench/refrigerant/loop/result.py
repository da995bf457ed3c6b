"""What a solved loop shows: every quantity at every service point, with units in the names."""

import math
from dataclasses import dataclass
from functools import cached_property

from coldbench.refrigerant.loop.balance import Point, Problem, Vector
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.refrigerant.loop.evaporator import FREEZING_K, leaving_air
from coldbench.refrigerant.loop.faults import Fault
from coldbench.refrigerant.loop.hot_gas import gas_density, gas_entropy, gas_temperature
from coldbench.refrigerant.properties import properties
from coldbench.refrigerant.state import SUPERHEATED, State, state_ph

# every word a result may carry, with its meaning
FLAGS = {
    "at rest": "the compressor stands still and the pressures are equal",
    "high-pressure trip": "no steady state below the trip pressure; shown is the moment of the "
                          "trip, with the pressure still rising",
    "low-pressure limit": "the low side is below the bench's lowest working pressure",
    "icing": "the coil is below freezing and takes water: ice will block it",
    "liquid at the compressor": "the suction gas is wet where it leaves the coil",
    "flash gas": "bubbles in the liquid line before the expansion valve",
    "receiver empty": "no liquid stands in the receiver",
    "receiver full": "liquid backs up into the condenser",
    "hot discharge": "the discharge gas is above 110 degC",
    "extrapolated vapour": "the discharge gas is hotter than its equation of state was fitted to",
}
_HOT_DISCHARGE_K = 383.15
_WET_QUALITY = 1.0 - 1e-9


@dataclass(frozen=True)
class ServicePoint:
    """A place where a learner measures: pressure and enthalpy fix the rest (SI)."""

    name: str
    pressure_Pa: float
    enthalpy_J_per_kg: float
    temperature_K: float


@dataclass(frozen=True)
class Residuals:
    """How well a result closes: relative errors.

    mass: worst of compressor flow, valve flow and charge. energy: heat and work in against
    heat out, air side against refrigerant side, over the condenser's heat. At a trip the
    energy does not close: that surplus is what drives the pressure up.
    """

    mass: float
    energy: float


@dataclass(frozen=True)
class LoopResult:
    """A solved loop (SI; gauge pressures against the local atmosphere).

    Superheat and subcooling are what a learner works out: from the gauge and the thermometer
    at the same service port, so air in the system shows as apparent subcooling.
    """

    conditions: Conditions
    faults: tuple[Fault, ...]
    flags: tuple[str, ...]
    residuals: Residuals
    high_side_Pa: float
    low_side_Pa: float
    condensing_temperature_K: float
    evaporating_temperature_K: float
    superheat_K: float
    subcooling_K: float
    discharge_temperature_K: float
    liquid_line_temperature_K: float
    after_valve_temperature_K: float
    after_valve_Pa: float
    evaporator_inlet_temperature_K: float
    evaporator_inlet_Pa: float
    suction_temperature_K: float
    compressor_inlet_temperature_K: float
    compressor_inlet_Pa: float
    discharge_Pa: float
    air_partial_pressure_Pa: float
    vent_temperature_K: float
    vent_humidity_ratio: float
    coil_surface_temperature_K: float
    coil_wetted_share: float
    condensate_kg_per_s: float
    mass_flow_kg_per_s: float
    capacity_W: float
    sensible_capacity_W: float
    compressor_power_W: float
    condenser_heat_W: float
    shell_loss_W: float
    cop: float
    receiver_level: float
    flooded_share: float
    liquid_line_quality: float
    evaporator_outlet_quality: float
    expansion_valve_area_m2: float
    charge_kg: float
    points: tuple[ServicePoint, ...]
    unknowns: Vector | None

    @property
    def high_side_gauge_Pa(self) -> float:
        """Reading of the high-side gauge [Pa]."""
        return self.high_side_Pa - self.conditions.atmosphere_Pa

    @property
    def low_side_gauge_Pa(self) -> float:
        """Reading of the low-side gauge [Pa]; negative in a vacuum."""
        return self.low_side_Pa - self.conditions.atmosphere_Pa

    @property
    def running(self) -> bool:
        """False where the loop is at rest."""
        return "at rest" not in self.flags

    @cached_property
    def states(self) -> dict[str, State]:
        """Full refrigerant state at each service point, by name."""
        return {point.name: _state(self.conditions.fluid, point) for point in self.points}


def _state(name: str, point: ServicePoint) -> State:
    """Full state; hotter than the tables as ideal gas, which the flags then say."""
    fluid, p, h = properties(name), point.pressure_Pa, point.enthalpy_J_per_kg
    if point.temperature_K <= fluid.temperature_range_K[1]:
        return state_ph(name, p, h)
    return State(name, p, point.temperature_K, h, gas_entropy(fluid, p, h, point.temperature_K),
                 gas_density(fluid, p, h, point.temperature_K), None, SUPERHEATED)


def running_result(problem: Problem, point: Point, faults: tuple[Fault, ...],
                   tripped: bool) -> LoopResult:
    """Put a solved point into words and numbers.

    Parameters
    ----------
    problem : Problem
        Loop that was solved.
    point : Point
        Its solution.
    faults : tuple of Fault
        What is wrong.
    tripped : bool
        True for the state at the trip pressure.

    Returns
    -------
    LoopResult

    Examples
    --------
    >>> from coldbench.refrigerant.loop.solver import solve_loop
    >>> [p.name for p in solve_loop().points][:3]
    ['compressor inlet', 'compressor outlet', 'liquid line']
    """
    coil, fluid, air, m = point.coil, problem.fluid, problem.air, point.mass_flow
    points = _service_points(problem, point)
    heat = {p.name: p.temperature_K for p in points}
    evaporating = fluid.saturation_temperature(point.evaporator_Pa)
    subcooled = point.liquid.quality <= 0.0
    power = m * point.gas.work_J_per_kg
    vent = leaving_air(air, coil.sensible_W, coil.condensate_kg_per_s)
    return LoopResult(
        conditions=problem.conditions, faults=faults, flags=_flags(problem, point, tripped),
        residuals=_residuals(point),
        high_side_Pa=point.high_Pa, low_side_Pa=point.evaporator_Pa,
        condensing_temperature_K=point.condensing.temperature_K,
        evaporating_temperature_K=evaporating,
        superheat_K=max(coil.outlet_K - evaporating, 0.0),
        subcooling_K=max(fluid.saturation_temperature(point.high_Pa)
                         - heat["liquid line"], 0.0) if subcooled else 0.0,
        discharge_temperature_K=point.gas_K,
        liquid_line_temperature_K=heat["liquid line"],
        after_valve_temperature_K=heat["after hand valve"],
        after_valve_Pa=point.after_valve_Pa,
        evaporator_inlet_temperature_K=heat["evaporator inlet"],
        evaporator_inlet_Pa=coil.inlet_Pa,
        suction_temperature_K=coil.outlet_K,
        compressor_inlet_temperature_K=heat["compressor inlet"],
        compressor_inlet_Pa=point.suction_Pa, discharge_Pa=point.discharge_Pa,
        air_partial_pressure_Pa=point.air_Pa,
        vent_temperature_K=vent.temperature_K, vent_humidity_ratio=vent.humidity_ratio,
        coil_surface_temperature_K=coil.surface_K, coil_wetted_share=coil.wetted_share,
        condensate_kg_per_s=vent.condensate_kg_per_s, mass_flow_kg_per_s=m,
        capacity_W=coil.heat_W, sensible_capacity_W=vent.sensible_W, compressor_power_W=power,
        condenser_heat_W=_condenser_heat(point), shell_loss_W=m * point.gas.shell_loss_J_per_kg,
        cop=coil.heat_W / power,
        receiver_level=min(max(point.x[3], 0.0), 1.0),
        flooded_share=max(point.x[3] - 1.0, 0.0),
        liquid_line_quality=min(max(fluid.quality(
            point.after_valve_Pa, point.liquid.enthalpy_J_per_kg), 0.0), 1.0),
        evaporator_outlet_quality=coil.outlet_quality,
        expansion_valve_area_m2=point.txv_area_m2, charge_kg=problem.charge_kg,
        points=points, unknowns=point.x)


def _service_points(problem: Problem, point: Point) -> tuple[ServicePoint, ...]:
    """Places around the loop in the direction of flow."""
    liquid_h, coil, fluid = point.liquid.enthalpy_J_per_kg, point.coil, problem.fluid
    places = (
        ("compressor inlet", point.suction_Pa, point.suction_enthalpy),
        ("compressor outlet", point.discharge_Pa, point.gas.enthalpy_J_per_kg),
        ("liquid line", point.high_Pa, liquid_h),
        ("after hand valve", point.after_valve_Pa, liquid_h),
        ("evaporator inlet", coil.inlet_Pa, liquid_h),
        ("suction line", point.evaporator_Pa, coil.outlet_enthalpy))
    return tuple(ServicePoint(name, p, h, gas_temperature(fluid, p, h)) for name, p, h in places)


def _condenser_heat(point: Point) -> float:
    """Heat the air takes from the condenser, zone by zone [W]."""
    sat, cooling = point.condensing, point.cooling
    warmer = sat.temperature_K - cooling.temperature_K
    hot = max(point.gas.enthalpy_J_per_kg - point.pass_end.enthalpy, 0.0) * point.mass_flow
    # the two-phase zone has what the hot zone leaves of the condensing pass
    share = (point.desuperheating_share + point.condensing_share) / _area_ratio(point)
    wet = cooling.condensing_W_per_K * warmer * (share - point.desuperheating_share)
    return hot + wet + point.mass_flow * point.liquid.heat_J_per_kg


def _area_ratio(point: Point) -> float:
    """Condenser area needed over available."""
    return math.exp(point.residuals[2])


def _residuals(point: Point) -> Residuals:
    compressor, valves, _, charge = point.residuals
    m = point.mass_flow
    heat_in = m * (point.suction_enthalpy - point.liquid.enthalpy_J_per_kg)
    gained = m * (point.suction_enthalpy - point.coil.outlet_enthalpy)
    coil_error = abs(point.coil.heat_W + gained - heat_in)
    heat_out = _condenser_heat(point)
    surplus = (point.coil.heat_W + gained
               + m * (point.gas.work_J_per_kg - point.gas.shell_loss_J_per_kg) - heat_out)
    return Residuals(max(abs(compressor), abs(valves), abs(charge)),
                     max(abs(surplus), coil_error) / heat_out)


def _flags(problem: Problem, point: Point, tripped: bool) -> tuple[str, ...]:
    coil, z = point.coil, point.x[3]
    limits, atmosphere = problem.parts.limits, problem.conditions.atmosphere_Pa
    fluid, liquid_h = problem.fluid, point.liquid.enthalpy_J_per_kg
    known = {
        "high-pressure trip": tripped,
        "low-pressure limit": point.evaporator_Pa - atmosphere
        < limits.low_pressure_limit_gauge_Pa,
        "icing": coil.surface_K < FREEZING_K and coil.condensate_kg_per_s > 0.0,
        "liquid at the compressor": coil.outlet_quality < _WET_QUALITY,
        "flash gas": fluid.quality(point.after_valve_Pa, liquid_h) > 0.0,
        "receiver empty": z < 0.0,
        "receiver full": z > 1.0,
        "hot discharge": point.gas_K > _HOT_DISCHARGE_K,
        "extrapolated vapour": point.gas_K > fluid.equation_highest_temperature_K,
    }
    return tuple(word for word, holds in known.items() if holds)
