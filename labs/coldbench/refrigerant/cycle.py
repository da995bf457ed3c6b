"""The vapour-compression cycle between two given pressures, with real parts (SI).

Seven points: evaporator outlet → suction line → compressor → discharge line → condenser →
liquid line → valve → evaporator. Lines and valve are adiabatic, so they keep the enthalpy and
only lose pressure. The compressor takes w = (h_s − h_1) / η_s per kilogram, h_s at the
discharge pressure and the entropy of its inlet; a share of w leaves through its shell, as if
the gas cooled at the discharge pressure, so the second law holds for any share.

Source: energy and entropy balances of steady-flow devices as in any textbook of engineering
thermodynamics, for example Cengel and Boles, "Thermodynamics: An Engineering Approach", the
chapter on refrigeration cycles (from memory).
"""

from dataclasses import dataclass, fields

from coldbench.errors import InputError
from coldbench.refrigerant.fluids import Fluid
from coldbench.refrigerant.properties import properties
from coldbench.refrigerant.state import State, saturated, state_ph, state_pT

_RANGES = {  # name: lowest, highest, lowest itself accepted
    "superheat_K": (0.0, 150.0, True), "subcooling_K": (0.0, 150.0, True),
    "isentropic_efficiency": (0.0, 1.0, False), "volumetric_efficiency": (0.0, 1.0, False),
    "displacement_m3": (0.0, 1e-2, False), "speed_rev_s": (0.0, 500.0, False),
    "mass_flow_kg_s": (0.0, 10.0, False), "shell_loss_share": (0.0, 0.5, True),
    "suction_line_drop_Pa": (0.0, 5e6, True), "discharge_line_drop_Pa": (0.0, 5e6, True),
    "liquid_line_drop_Pa": (0.0, 5e6, True), "evaporator_drop_Pa": (0.0, 5e6, True),
    "source_temperature_K": (150.0, 400.0, True), "sink_temperature_K": (150.0, 400.0, True),
}


@dataclass(frozen=True)
class CycleParts:
    """What the parts of a cycle do; the defaults are the ideal cycle.

    Superheat at the evaporator outlet and subcooling at the condenser outlet [K]; efficiencies
    0…1; swept volume per revolution [m³] and speed [rev/s], or the mass flow itself [kg/s];
    share of the compressor's power lost through its shell, up to one half; pressure drops [Pa];
    temperatures of the air that gives heat to the evaporator and takes heat from condenser and
    shell [K] (None: as warm and as cold as the refrigerant at the exchanger's end, the least
    entropy possible). Raises InputError for a value outside its range.

    Examples
    --------
    >>> CycleParts(mass_flow_kg_s=0.03, isentropic_efficiency=1.3)
    Traceback (most recent call last):
    coldbench.errors.InputError: isentropic_efficiency = 1.3 is not accepted: above 0 to 1
    """

    superheat_K: float = 0.0
    subcooling_K: float = 0.0
    isentropic_efficiency: float = 1.0
    volumetric_efficiency: float = 1.0
    displacement_m3: float | None = None
    speed_rev_s: float | None = None
    mass_flow_kg_s: float | None = None
    shell_loss_share: float = 0.0
    suction_line_drop_Pa: float = 0.0
    discharge_line_drop_Pa: float = 0.0
    liquid_line_drop_Pa: float = 0.0
    evaporator_drop_Pa: float = 0.0
    source_temperature_K: float | None = None
    sink_temperature_K: float | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            low, high, closed = _RANGES[field.name]
            if value is None and field.default is None:
                continue
            number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if not (number and low <= value <= high and (closed or value > low)):
                start = f"{low:g}" if closed else f"above {low:g}"
                raise InputError(f"{field.name} = {value!r} is not accepted: {start} to {high:g}")
        given = [getattr(self, name) is not None
                 for name in ("mass_flow_kg_s", "displacement_m3", "speed_rev_s")]
        if given not in ([True, False, False], [False, True, True]):
            raise InputError("give either mass_flow_kg_s, or displacement_m3 and speed_rev_s")


@dataclass(frozen=True)
class Cycle:
    """A solved cycle: seven states and what follows from them."""

    fluid: str
    parts: CycleParts
    evaporator_outlet: State
    compressor_inlet: State
    compressor_outlet: State
    condenser_inlet: State
    condenser_outlet: State
    valve_inlet: State
    evaporator_inlet: State
    work_J_kg: float
    mass_flow_kg_s: float
    source_temperature_K: float
    sink_temperature_K: float

    @property
    def points(self) -> tuple[State, ...]:
        """The seven states in the order of flow, from the compressor inlet."""
        return (self.compressor_inlet, self.compressor_outlet, self.condenser_inlet,
                self.condenser_outlet, self.valve_inlet, self.evaporator_inlet,
                self.evaporator_outlet)

    @property
    def refrigerating_effect_J_kg(self) -> float:
        """Heat taken up in the evaporator [J/kg]."""
        return self.evaporator_outlet.enthalpy_J_kg - self.evaporator_inlet.enthalpy_J_kg

    @property
    def condenser_heat_J_kg(self) -> float:
        """Heat given up in the condenser [J/kg]."""
        return self.condenser_inlet.enthalpy_J_kg - self.condenser_outlet.enthalpy_J_kg

    @property
    def shell_heat_J_kg(self) -> float:
        """Heat given up by the compressor's shell [J/kg]."""
        return self.parts.shell_loss_share * self.work_J_kg

    @property
    def capacity_W(self) -> float:
        """Cooling capacity [W]."""
        return self.mass_flow_kg_s * self.refrigerating_effect_J_kg

    @property
    def power_W(self) -> float:
        """Power of the compressor [W]."""
        return self.mass_flow_kg_s * self.work_J_kg

    @property
    def condenser_heat_W(self) -> float:
        """Heat given up in the condenser [W]."""
        return self.mass_flow_kg_s * self.condenser_heat_J_kg

    @property
    def cop(self) -> float:
        """Coefficient of performance: capacity over power."""
        return self.refrigerating_effect_J_kg / self.work_J_kg

    @property
    def carnot_cop(self) -> float:
        """Highest possible COP, T_source / (T_sink − T_source); infinite for a warmer source."""
        lift_K = self.sink_temperature_K - self.source_temperature_K
        return self.source_temperature_K / lift_K if lift_K > 0.0 else float("inf")

    @property
    def discharge_temperature_K(self) -> float:
        """Temperature at the compressor outlet [K]."""
        return self.compressor_outlet.temperature_K

    @property
    def pressure_ratio(self) -> float:
        """Compressor outlet over inlet pressure."""
        return self.compressor_outlet.pressure_Pa / self.compressor_inlet.pressure_Pa

    @property
    def energy_residual_W(self) -> float:
        """Capacity + power − condenser − shell [W]; rounding only."""
        specific = (self.refrigerating_effect_J_kg + self.work_J_kg - self.condenser_heat_J_kg
                    - self.shell_heat_J_kg)
        return self.mass_flow_kg_s * specific

    @property
    def entropy_generation_J_kgK(self) -> dict[str, float]:
        """Entropy made by each process, with the air it exchanges heat with [J/(kg K)]."""
        names = ("compressor", "discharge line", "condenser", "liquid line", "valve",
                 "evaporator", "suction line")
        s = [point.entropy_J_kgK for point in self.points]
        made = {name: s[(i + 1) % 7] - s[i] for i, name in enumerate(names)}
        made["compressor"] += self.shell_heat_J_kg / self.sink_temperature_K
        made["condenser"] += self.condenser_heat_J_kg / self.sink_temperature_K
        made["evaporator"] -= self.refrigerating_effect_J_kg / self.source_temperature_K
        return made


def solve_cycle(fluid: str | Fluid, evaporator_outlet_Pa: float, condenser_Pa: float,
                parts: CycleParts) -> Cycle:
    """Return the cycle between two pressures.

    Parameters
    ----------
    fluid : str or Fluid
        R-134a, R-1234yf or R-152a.
    evaporator_outlet_Pa : float
        Absolute pressure at the evaporator outlet [Pa].
    condenser_Pa : float
        Absolute pressure in the condenser [Pa].
    parts : CycleParts
        Superheat, subcooling, efficiencies, drops.

    Returns
    -------
    Cycle

    Raises
    ------
    InputError
        Where no such cycle can be: the condenser is not above the evaporator, a line drops more
        pressure than there is, the liquid would be colder than the evaporator or the air; or
        outside the property tables.

    Examples
    --------
    >>> cycle = solve_cycle("R134a", 140e3, 800e3, CycleParts(mass_flow_kg_s=0.05))
    >>> round(cycle.cop, 2), round(cycle.capacity_W)
    (3.97, 7184)
    """
    name = properties(fluid).name
    suction_Pa = evaporator_outlet_Pa - parts.suction_line_drop_Pa
    valve_Pa = condenser_Pa - parts.liquid_line_drop_Pa
    evaporator_inlet_Pa = evaporator_outlet_Pa + parts.evaporator_drop_Pa
    _check_pressures(evaporator_outlet_Pa, suction_Pa, evaporator_inlet_Pa, valve_Pa, condenser_Pa)
    suction = _superheated(name, evaporator_outlet_Pa, parts.superheat_K)
    liquid = _subcooled(name, condenser_Pa, parts.subcooling_K)
    evaporator_inlet = state_ph(name, evaporator_inlet_Pa, liquid.enthalpy_J_kg)
    _check_evaporator(evaporator_inlet, suction, liquid, parts)
    source_K, sink_K = _air(parts, liquid, max(suction, evaporator_inlet, key=_temperature))
    inlet = state_ph(name, suction_Pa, suction.enthalpy_J_kg)
    work, outlet = compression(inlet, condenser_Pa + parts.discharge_line_drop_Pa, parts)
    return Cycle(
        name, parts, suction, inlet, outlet, state_ph(name, condenser_Pa, outlet.enthalpy_J_kg),
        liquid, state_ph(name, valve_Pa, liquid.enthalpy_J_kg), evaporator_inlet, work,
        mass_flow(parts, inlet.density_kg_m3), source_K, sink_K)


def compression(inlet: State, outlet_Pa: float, parts: CycleParts) -> tuple[float, State]:
    """Return the work per kilogram and the outlet state of a compressor.

    w = (h_s − h_1) / η_s;  h_2 = h_1 + (1 − shell loss share) w.

    Parameters
    ----------
    inlet : State
        At the compressor inlet.
    outlet_Pa : float
        Absolute outlet pressure [Pa].
    parts : CycleParts
        Isentropic efficiency and shell loss count.

    Returns
    -------
    tuple[float, State]
        Work [J/kg] and outlet state.

    Raises
    ------
    InputError
        Outside the property tables.

    Examples
    --------
    >>> work, outlet = compression(saturated("R134a", 140e3, 1.0), 800e3,
    ...                            CycleParts(mass_flow_kg_s=0.05))
    >>> round(work / 1e3, 1), round(outlet.temperature_K - 273.15, 1)
    (36.2, 39.0)
    """
    isentropic = properties(inlet.fluid).vapour_enthalpy_ps(outlet_Pa, inlet.entropy_J_kgK)
    work = (isentropic - inlet.enthalpy_J_kg) / parts.isentropic_efficiency
    kept = (1.0 - parts.shell_loss_share) * work
    return work, state_ph(inlet.fluid, outlet_Pa, inlet.enthalpy_J_kg + kept)


def mass_flow(parts: CycleParts, suction_density_kg_m3: float) -> float:
    """Return the mass flow, given or swept: m = η_v · V · n · ρ_1.

    Parameters
    ----------
    parts : CycleParts
        Mass flow, or displacement, speed and volumetric efficiency.
    suction_density_kg_m3 : float
        Density at the compressor inlet [kg/m³].

    Returns
    -------
    float
        Mass flow [kg/s].

    Examples
    --------
    >>> mass_flow(CycleParts(displacement_m3=1e-4, speed_rev_s=25.0), 14.0)
    0.035
    """
    if parts.mass_flow_kg_s is not None:
        return parts.mass_flow_kg_s
    swept_m3_s = parts.displacement_m3 * parts.speed_rev_s
    return parts.volumetric_efficiency * swept_m3_s * suction_density_kg_m3


def _temperature(point: State) -> float:
    return point.temperature_K


def _superheated(name: str, pressure_Pa: float, superheat_K: float) -> State:
    if superheat_K < 1e-5:
        return saturated(name, pressure_Pa, 1.0)
    saturation_K = properties(name).saturation_temperature(pressure_Pa)
    return state_pT(name, pressure_Pa, saturation_K + superheat_K)


def _subcooled(name: str, pressure_Pa: float, subcooling_K: float) -> State:
    if subcooling_K < 1e-5:
        return saturated(name, pressure_Pa, 0.0)
    saturation_K = properties(name).saturation_temperature(pressure_Pa)
    return state_pT(name, pressure_Pa, saturation_K - subcooling_K)


def _check_pressures(outlet_Pa: float, suction_Pa: float, inlet_Pa: float, valve_Pa: float,
                     condenser_Pa: float) -> None:
    """InputError unless pressure falls along the flow wherever no compressor lifts it."""
    if not outlet_Pa < condenser_Pa:
        raise InputError(f"the condenser at {condenser_Pa / 1e3:.6g} kPa must be above the "
                         f"evaporator at {outlet_Pa / 1e3:.6g} kPa")
    if not suction_Pa > 0.0:
        raise InputError(f"the suction line cannot drop more than the {outlet_Pa / 1e3:.6g} kPa "
                         "at the evaporator outlet")
    if not inlet_Pa < valve_Pa:
        raise InputError(f"the valve gets {valve_Pa / 1e3:.6g} kPa after the liquid line, not "
                         f"more than the {inlet_Pa / 1e3:.6g} kPa at the evaporator inlet: "
                         "nothing would flow")


def _check_evaporator(inlet: State, outlet: State, liquid: State, parts: CycleParts) -> None:
    """InputError unless the refrigerant enters wet and takes up heat."""
    if inlet.region == "subcooled liquid":
        raise InputError(f"subcooling_K = {parts.subcooling_K:g} would cool the liquid to "
                         f"{liquid.temperature_K - 273.15:.1f} degC, below the evaporator")
    if not inlet.enthalpy_J_kg < outlet.enthalpy_J_kg:
        raise InputError(f"liquid leaving the condenser at {liquid.pressure_Pa / 1e3:.6g} kPa "
                         "holds more heat than vapour leaving the evaporator: nothing is cooled")


def _air(parts: CycleParts, coldest: State, warmest: State) -> tuple[float, float]:
    """Temperatures of heat source and sink, refused where heat would flow uphill [K]."""
    source_K, sink_K = parts.source_temperature_K, parts.sink_temperature_K
    if source_K is not None and source_K < warmest.temperature_K:
        raise InputError(f"source_temperature_K = {source_K:g} is below the refrigerant in the "
                         f"evaporator ({warmest.temperature_K:.2f} K): no heat would flow in")
    if sink_K is not None and sink_K > coldest.temperature_K:
        raise InputError(f"sink_temperature_K = {sink_K:g} is above the refrigerant leaving the "
                         f"condenser ({coldest.temperature_K:.2f} K): no heat would flow out")
    return (warmest.temperature_K if source_K is None else source_K,
            coldest.temperature_K if sink_K is None else sink_K)
