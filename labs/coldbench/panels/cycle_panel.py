"""The vapour-compression cycle on a live pressure–enthalpy chart.

In a notebook:

    panel = CyclePanel("R134a")
    panel.set(low_side="2 bar", superheat="8 K")
    panel.readings()
"""

from dataclasses import dataclass

from coldbench import quantity
from coldbench.air import standard_atmosphere_pressure
from coldbench.errors import InputError
from coldbench.panels import cycle_picture
from coldbench.panels.controls import Choice, Slider
from coldbench.panels.gauge_state import TEMPERATURE_UNITS
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.units import (
    Units,
    chosen_units,
    difference_slider,
    gauge_slider,
    percent_slider,
    unbroken,
    unit_choices,
)
from coldbench.refrigerant.cycle import Cycle, CycleParts, solve_cycle
from coldbench.refrigerant.fluids import fluid as fluid_named
from coldbench.refrigerant.loop import blue_parts
from coldbench.refrigerant.loop.conditions import LOOP_FLUIDS
from coldbench.refrigerant.properties import properties

VOLUMETRIC_EFFICIENCY = 0.75
"""Share of the swept volume that is filled; a usual size (common practice)."""

_LOW_Pa, _HIGH_Pa = (-60e3, 500e3), (500e3, 2600e3)  # gauge
_START = {
    "fluid": "R134a", "low_side": 200e3, "high_side": 1200e3, "superheat": 8.0,
    "subcooling": 6.0, "isentropic_efficiency": 0.7,
    "speed": quantity.to_si(1500, "rpm", "speed"), "pressure_unit": "kPa",
    "temperature_unit": "degC",
}  # fmt: skip
_PLACES = ("1 compressor inlet", "2 compressor outlet", "3 condenser outlet",
           "4 evaporator inlet")  # fmt: skip
_GASES = ("1 suction gas", "2 discharge gas", "3 liquid", "4 wet vapour")


@dataclass(frozen=True)
class CycleState:
    """What is shown: the cycle, or why there is none."""

    fluid: str
    units: Units
    atmosphere_Pa: float
    cycle: Cycle | None
    why: str

    @property
    def points(self) -> tuple:
        """States 1 to 4."""
        c = self.cycle
        return (c.compressor_inlet, c.compressor_outlet, c.condenser_outlet, c.evaporator_inlet)


class CyclePanel(Panel):
    """The cycle between two gauge readings, on the chart, in words and as numbers.

    The compressor is that of the blue bench; it fills 75 % of its swept volume. No pressure is
    lost in lines and exchangers.

    Parameters
    ----------
    fluid : R134a, R1234yf or R152a
    altitude_m : altitude of the workshop, which sets the atmosphere [m]
    low_side, high_side : gauge pressures, a number [pressure_unit] or a text with its unit
    superheat, subcooling : temperature differences, a number [K or °F] or a text
    isentropic_efficiency : percent
    speed : compressor speed [rpm]
    pressure_unit, temperature_unit : as for `GaugePanel`

    Raises
    ------
    InputError : unknown fluid or unit, a value outside its range
    """

    title = "The cycle on the pressure–enthalpy chart"

    def __init__(self, fluid="R134a", altitude_m=0.0, **changes):
        self._atmosphere_Pa = standard_atmosphere_pressure(altitude_m)
        super().__init__(_START, {"fluid": fluid_named(fluid).name} | changes)

    def controls(self, settings):
        """Fluid, pressures, superheat, subcooling, compressor, units."""
        units = chosen_units(settings)
        return (
            Choice("fluid", "Refrigerant",
                   tuple((name, fluid_named(name).designation) for name in LOOP_FLUIDS), menu=True),
            gauge_slider("low_side", "Low side, gauge pressure", *_LOW_Pa, units, fine=True),
            gauge_slider("high_side", "High side, gauge pressure", *_HIGH_Pa, units),
            difference_slider("superheat", "Superheat at the evaporator outlet", 40.0, units),
            difference_slider("subcooling", "Subcooling at the condenser outlet", 20.0, units),
            percent_slider("isentropic_efficiency", "Isentropic efficiency of the compressor",
                           40, 100),
            Slider("speed", "Compressor speed", 500, 4000, 50, "rpm", "speed"),
            *unit_choices(),
        )  # fmt: skip

    def compute(self, settings) -> CycleState:
        """The cycle, or the reason why these settings give none."""
        name, cycle, why = settings["fluid"], None, ""
        parts = CycleParts(
            superheat_K=settings["superheat"], subcooling_K=settings["subcooling"],
            isentropic_efficiency=settings["isentropic_efficiency"],
            volumetric_efficiency=VOLUMETRIC_EFFICIENCY,
            displacement_m3=blue_parts().compressor.displacement_m3,
            speed_rev_s=quantity.from_si(settings["speed"], "rps", "speed"))  # fmt: skip
        try:
            cycle = solve_cycle(name, *(quantity.absolute_from_gauge(settings[side],
                                                                     self._atmosphere_Pa)
                                        for side in ("low_side", "high_side")), parts)  # fmt: skip
        except InputError as error:
            why = str(error)
        return CycleState(name, chosen_units(settings), self._atmosphere_Pa, cycle, why)

    def pictures(self, state: CycleState):
        """The chart."""
        designation = fluid_named(state.fluid).designation
        drawn = cycle_picture.backdrop(state.fluid, state.units.pressure_unit)
        moving, words = "", f"The chart holds no cycle: {state.why}."
        if state.cycle:
            parts, units = state.cycle.parts, state.units
            moving = cycle_picture.cycle_foreground(
                state.cycle, f"superheat {units.difference(parts.superheat_K)}",
                f"subcooling {units.difference(parts.subcooling_K)}")  # fmt: skip
            words = "The cycle runs through " + "; ".join(
                f"{place}, {_point_words(units, point)}"
                for place, point in zip(_PLACES, state.points, strict=True)) + "."
        return (Picture("chart", cycle_picture.WIDTH, cycle_picture.HEIGHT,
                        f"Pressure–enthalpy chart of {designation}", words, drawn, moving),)

    def line(self, state: CycleState) -> str:
        """Capacity, power, COP and discharge temperature in words."""
        if state.cycle is None:
            return f"No cycle: {state.why}."
        cycle, units = state.cycle, state.units
        boiling, condensing = (units.temperature(t) for t in _saturation(cycle))
        return unbroken(
            f"Cooling capacity {cycle.capacity_W / 1e3:.2f} kW for {cycle.power_W / 1e3:.2f} kW "
            f"of compressor power: COP {cycle.cop:.2f}. Mass flow "
            f"{cycle.mass_flow_kg_s * 1e3:.1f} g/s.",
            f"It boils at {boiling} and condenses at {condensing}; the discharge gas is at "
            f"{units.temperature(cycle.discharge_temperature_K)}.")  # fmt: skip

    def table(self, state: CycleState) -> Table:
        """The four states."""
        units = state.units
        caption = (f"{fluid_named(state.fluid).designation}, atmosphere "
                   f"{units.absolute(state.atmosphere_Pa)}")  # fmt: skip
        degrees = TEMPERATURE_UNITS[units.temperature_unit]
        columns = ("Point", f"{units.pressure_unit} absolute", degrees, "kJ/kg", "% vapour")
        rows = tuple(
            (name, units.absolute(p.pressure_Pa).split()[0],
             units.temperature(p.temperature_K).split()[0],
             f"{p.enthalpy_J_kg / 1e3:.1f}", _vapour(p))
            for name, p in zip(_GASES, state.points, strict=True)) if state.cycle else ()  # fmt: skip
        return Table(caption, columns, rows)

    def values(self, state: CycleState):
        """Everything in the units the names say; only the fluid and the reason without a cycle."""
        if state.cycle is None:
            return {"fluid": state.fluid, "why": state.why}
        cycle = state.cycle
        boiling, condensing = _saturation(cycle)
        found = {
            "fluid": state.fluid, "capacity_W": cycle.capacity_W, "power_W": cycle.power_W,
            "cop": cycle.cop, "mass_flow_g_s": cycle.mass_flow_kg_s * 1e3,
            "evaporating_temperature_degC": boiling - 273.15,
            "condensing_temperature_degC": condensing - 273.15,
            "discharge_temperature_degC": cycle.discharge_temperature_K - 273.15,
            "refrigerating_effect_kJ_kg": cycle.refrigerating_effect_J_kg / 1e3,
            "work_kJ_kg": cycle.work_J_kg / 1e3,
        }  # fmt: skip
        for number, point in enumerate(state.points, 1):
            found[f"h{number}_kJ_kg"] = point.enthalpy_J_kg / 1e3
            found[f"t{number}_degC"] = point.temperature_K - 273.15
        return found


def _saturation(cycle: Cycle) -> tuple[float, float]:
    """Evaporating and condensing temperature [K]."""
    table = properties(cycle.fluid)
    return (table.saturation_temperature(cycle.evaporator_outlet.pressure_Pa),
            table.saturation_temperature(cycle.condenser_outlet.pressure_Pa))


def _region(point) -> str:
    if point.quality is None or point.quality in (0.0, 1.0):
        return point.region
    return f"{point.region}, {100 * point.quality:.0f} % vapour"


def _vapour(point) -> str:
    """The share of vapour [%]."""
    share = point.quality
    if share is None:
        share = 1.0 if point.region.startswith("superheated") else 0.0
    return f"{100 * share:.0f}"


def _point_words(units: Units, point) -> str:
    return (f"{units.absolute(point.pressure_Pa)} absolute, "
            f"{units.temperature(point.temperature_K)}, {_region(point)}")  # fmt: skip
