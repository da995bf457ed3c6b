"""The bench's refrigerant loop: weather, fans, speed, charge and hand valve; gauges and pipes.

In a notebook:

    panel = LoopPanel()
    panel.set(valve_angle=75)
    panel.readings()

A lab can hide a fault, show only some controls, and leave the working out to the learner:

    LoopPanel(faults=["condenser-blocked"], only=("valve_angle",), explain=False)
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from coldbench import quantity
from coldbench.air import standard_atmosphere_pressure
from coldbench.errors import ConvergenceError, InputError
from coldbench.panels import loop_picture, loop_readings
from coldbench.panels.controls import Choice, Slider, Toggle
from coldbench.panels.gauge_panel import gauges_picture
from coldbench.panels.gauge_state import gauge_state
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.units import (
    Units,
    chosen_units,
    percent_slider,
    temperature_slider,
    unit_choices,
)
from coldbench.refrigerant.fluids import fluid as fluid_named
from coldbench.refrigerant.loop import Conditions, LoopResult, fault, solve_loop
from coldbench.refrigerant.loop.conditions import FAN_AIRFLOW, LOOP_FLUIDS

_COLDEST_K, _HOTTEST_K = 283.15, 323.15
_START = {
    "fluid": "R134a", "valve_angle": 0.0, "clutch": True, "ambient": 303.15, "intake": 300.15,
    "humidity": 0.5, "blower": 1.0, "condenser_fan": "high",
    "speed": quantity.to_si(1500, "rpm", "speed"), "charge": 1.0, "pressure_unit": "kPa",
    "temperature_unit": "degC",
}  # fmt: skip


@dataclass(frozen=True)
class LoopState:
    """What is shown: the solved loop, or why there is none."""

    fluid: str
    units: Units
    altitude_m: float
    result: LoopResult | None
    why: str


class LoopPanel(Panel):
    """Both gauges, every pipe's thermometer and the vent, for the settings of the bench.

    Parameters
    ----------
    altitude_m : altitude of the workshop, which sets the atmosphere [m]
    faults : as for `solve_loop`, e.g. ["air-in-system=0.5"]; not shown
    only : names of the controls to show; all if left out, the others keep their setting
    explain : False leaves out superheat, subcooling, receiver level and what follows from them
    changes : starting settings, named as the controls: fluid, valve_angle [degrees],
        clutch [True or False], ambient, intake [temperature_unit], humidity, blower [%],
        condenser_fan ["off", "low", "high"], speed [rpm], charge [%], pressure_unit,
        temperature_unit

    Raises
    ------
    InputError : unknown fault or control, a value outside its range
    """

    title = "The bench: gauges and thermometers of the loop"

    def __init__(self, altitude_m=0.0, faults: Iterable = (), only: Iterable[str] | None = None,
                 explain: bool = True, **changes):  # fmt: skip
        self._altitude_m = altitude_m
        self._atmosphere_Pa = standard_atmosphere_pressure(altitude_m)
        self._faults = (fault(faults),) if isinstance(faults, str) else tuple(map(fault, faults))
        self._explain, self._only, self._near = explain, None, None
        if "fluid" in changes:
            changes["fluid"] = fluid_named(changes["fluid"]).name
        super().__init__(_START, changes)
        if only is not None:
            self._show_only(tuple(only))

    def _show_only(self, names: tuple[str, ...]) -> None:
        known = [control.name for control in self.controls(self._settings)]
        for name in names:
            if name not in known:
                raise InputError(f"{self.title} has no control {name!r}; accepted: "
                                 f"{', '.join(known)}")  # fmt: skip
        self._only = names
        self._draw(None)

    def controls(self, settings):
        """Valve, compressor, air, charge, units; all or those asked for."""
        units = chosen_units(settings)
        fans = tuple((word, word) for word in FAN_AIRFLOW)
        every = (
            Choice("fluid", "Refrigerant",
                   tuple((name, fluid_named(name).designation) for name in LOOP_FLUIDS), menu=True),
            Slider("valve_angle", "Hand valve, 0 open to 90 shut but for its bleed hole", 0, 90, 1,
                   "°", "angle"),
            Toggle("clutch", "Compressor clutch engaged"),
            Slider("speed", "Compressor speed", 500, 5000, 50, "rpm", "speed"),
            temperature_slider("ambient", "Air onto the condenser", _COLDEST_K, _HOTTEST_K, units),
            Choice("condenser_fan", "Condenser fan", fans),
            temperature_slider("intake", "Air into the evaporator", _COLDEST_K, _HOTTEST_K, units),
            percent_slider("humidity", "Relative humidity of that air", 0, 100),
            percent_slider("blower", "Blower", 0, 100),
            percent_slider("charge", "Refrigerant, share of the right charge", 20, 140),
            *unit_choices(),
        )  # fmt: skip
        return every if self._only is None else tuple(c for c in every if c.name in self._only)

    def compute(self, settings) -> LoopState:
        """The solved loop; the last solution is where the search starts."""
        result, why = None, ""
        start = self._near if self._near and self._near[0] == settings["fluid"] else None
        try:
            result = solve_loop(self._conditions(settings), faults=self._faults,
                                start=start and start[1])  # fmt: skip
        except (ConvergenceError, InputError) as error:
            why = str(error)
        if result and result.unknowns:
            self._near = settings["fluid"], result.unknowns
        return LoopState(settings["fluid"], chosen_units(settings), self._altitude_m, result, why)

    def _conditions(self, settings) -> Conditions:
        return Conditions(
            fluid=settings["fluid"], ambient_K=settings["ambient"], intake_K=settings["intake"],
            intake_humidity=settings["humidity"], blower=settings["blower"],
            condenser_fan=settings["condenser_fan"],
            speed_rpm=quantity.from_si(settings["speed"], "rpm", "speed"),
            valve_angle_deg=quantity.from_si(settings["valve_angle"], "deg", "angle"),
            charge=settings["charge"], atmosphere_Pa=self._atmosphere_Pa,
            clutch_engaged=settings["clutch"])  # fmt: skip

    def pictures(self, state: LoopState):
        """The gauges and the loop; an unsolved loop shows no needle and no temperature."""
        drawn = _drawing(fluid_named(state.fluid).designation)
        title = "The refrigerant loop of the bench"
        size = loop_picture.WIDTH, loop_picture.HEIGHT
        if state.result is None:
            return (Picture("loop", *size, title, f"Nothing is shown: {state.why}.", drawn, ""),)
        seen = loop_readings.view(state.result, state.units, self._explain)
        return (gauges_picture(_gauges(state)),
                Picture("loop", *size, title, _loop_words(seen), drawn,
                        loop_picture.foreground(seen)))  # fmt: skip

    def line(self, state: LoopState) -> str:
        """Gauges and vent in words, and what is to be noted."""
        if state.result is None:
            return f"Nothing is shown: {state.why}."
        return loop_readings.sentence(state.result, state.units, self._explain)

    def table(self, state: LoopState) -> Table:
        """Thermometers and, where explained, what follows."""
        atmosphere = state.units.absolute(self._atmosphere_Pa)
        caption = f"{fluid_named(state.fluid).designation}, atmosphere {atmosphere}"
        found = state.result and loop_readings.rows(state.result, state.units, self._explain)
        return Table(caption, ("Place", "Reading"), found or ())

    def values(self, state: LoopState):
        """Readings in the units the names say; only fluid and reason for an unsolved loop."""
        if state.result is None:
            return {"fluid": state.fluid, "why": state.why}
        return loop_readings.values(state.result, self._explain)


@lru_cache(maxsize=8)
def _drawing(designation: str) -> str:
    return loop_picture.backdrop(designation)


def _gauges(state: LoopState):
    return gauge_state({
        "fluid": state.fluid, "low_side": state.result.low_side_gauge_Pa,
        "high_side": state.result.high_side_gauge_Pa, "altitude": state.altitude_m,
        "pressure_unit": state.units.pressure_unit,
        "temperature_unit": state.units.temperature_unit,
    })  # fmt: skip


def _loop_words(seen: loop_picture.LoopView) -> str:
    """The drawing in words."""
    glass = "bubbles in the sight glass" if seen.bubbles > 0 else "no bubbles in the sight glass"
    level = "" if seen.receiver_level is None else (
        f" the receiver is {100 * seen.receiver_level:.0f} % full;")  # fmt: skip
    return (f"Compressor {seen.speed}; discharge {seen.discharge}; condenser in "
            f"{seen.condenser_air};{level} liquid line {seen.liquid_line}; hand valve at {seen.valve_angle_deg:g}°; "
            f"{glass}; after the hand valve {seen.after_valve}; evaporator inlet "
            f"{seen.evaporator_inlet}; suction {seen.suction}; intake {seen.cabin_air}, "
            f"vent {seen.vent}{'; ice on the coil' if seen.iced else ''}.")  # fmt: skip
