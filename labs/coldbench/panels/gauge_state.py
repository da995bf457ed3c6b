"""What two gauges say: gauge and absolute pressures and saturation temperatures of a fluid.

Relations: p_absolute = p_gauge + p_atmosphere; saturation from the fluid's table; for a blend
the bubble point (last gas condenses) and the dew point (last liquid boils) differ.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from coldbench import quantity
from coldbench.air import standard_atmosphere_pressure
from coldbench.errors import InputError
from coldbench.refrigerant import fluid as fluid_named


@dataclass(frozen=True)
class PressureUnit:
    """How a pressure unit is shown: digits, slider steps and lowest gauge reading [unit]."""

    name: str
    digits: int
    low_step: float
    high_step: float
    lowest: float


PRESSURE_UNITS = {
    unit.name: unit
    for unit in (
        PressureUnit("kPa", 0, 1, 5, -65),
        PressureUnit("bar", 2, 0.01, 0.05, -0.65),
        PressureUnit("psi", 1, 0.5, 1, -9.5),
    )
}
TEMPERATURE_UNITS = {"degC": "°C", "degF": "°F"}


@dataclass(frozen=True)
class Side:
    """One gauge: pressures [Pa]; saturation temperatures [K], None where there are none."""

    name: str
    gauge_Pa: float
    absolute_Pa: float
    bubble_K: float | None
    dew_K: float | None

    @property
    def read_K(self) -> float | None:
        """The temperature one reads: dew on the low side (superheat), bubble on the high."""
        return self.dew_K if self.name == "low side" else self.bubble_K


@dataclass(frozen=True)
class GaugeState:
    """Both gauges, with the units they are shown in."""

    fluid: object
    atmosphere_Pa: float
    low: Side
    high: Side
    pressure_unit: PressureUnit
    temperature_unit: str

    def pressure(self, pressure_Pa: float, kind: str = "gauge pressure") -> str:
        """A pressure in words, e.g. "212 kPa"."""
        number = quantity.from_si(pressure_Pa, self.pressure_unit.name, kind)
        words = f"{number:.{self.pressure_unit.digits}f}".replace("-", "−")
        return f"{words} {self.pressure_unit.name}"

    def temperature(self, temperature_K: float | None) -> str:
        """A temperature in words, or "none"."""
        if temperature_K is None:
            return "none"
        return quantity.format_quantity(
            temperature_K, self.temperature_unit, "temperature", digits=1
        )


def gauge_state(settings: Mapping) -> GaugeState:
    """Compute both gauges from the settings.

    Parameters
    ----------
    settings : fluid [name], low_side, high_side [Pa gauge], altitude [m], pressure_unit,
        temperature_unit

    Raises
    ------
    InputError : a pressure below full vacuum
    """
    fluid = fluid_named(settings["fluid"])
    atmosphere_Pa = standard_atmosphere_pressure(settings["altitude"])
    sides = (
        _side(name, fluid, settings[name.replace(" ", "_")], atmosphere_Pa)
        for name in ("low side", "high side")
    )
    unit = PRESSURE_UNITS[settings["pressure_unit"]]
    return GaugeState(fluid, atmosphere_Pa, *sides, unit, settings["temperature_unit"])


def _side(name: str, fluid, gauge_Pa: float, atmosphere_Pa: float) -> Side:
    absolute_Pa = quantity.absolute_from_gauge(gauge_Pa, atmosphere_Pa)
    bubble_K = _or_none(fluid.bubble_temperature, absolute_Pa)
    return Side(name, gauge_Pa, absolute_Pa, bubble_K, _or_none(fluid.dew_temperature, absolute_Pa))


def _or_none(relation, pressure_Pa: float) -> float | None:
    """The saturation temperature, or None outside the fluid's saturation range."""
    try:
        return relation(pressure_Pa)
    except InputError:
        return None


def scale_top(fluid, temperature_K: float, unit: PressureUnit) -> float:
    """Upper end of a gauge [unit]: the saturation pressure at a temperature, rounded up."""
    from coldbench.panels.scales import round_step, round_up

    top_K = min(temperature_K, fluid.critical_temperature_K - 4.0)
    absolute_Pa = fluid.bubble_pressure(top_K)
    top = quantity.from_si(absolute_Pa - 101_325.0, unit.name, "gauge pressure")
    return round_up(top, round_step(top, 10))
