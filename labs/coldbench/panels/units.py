"""The units a panel shows, chosen by the learner: words for SI values, and control settings."""

import re
from dataclasses import dataclass

from coldbench import quantity
from coldbench.panels.controls import Choice, Slider
from coldbench.panels.gauge_state import PRESSURE_UNITS, TEMPERATURE_UNITS
from coldbench.panels.scales import round_step, round_up

_DIFFERENCE_UNITS = {"degC": "K", "degF": "°F"}


@dataclass(frozen=True)
class Units:
    """Units of pressure and temperature; each method writes an SI value in words.

    >>> Units("bar", "degF").pressure(2e5), Units("kPa", "degC").difference(5.04)
    ('2.00 bar', '5.0 K')
    """

    pressure_unit: str = "kPa"
    temperature_unit: str = "degC"

    def pressure(self, pressure_Pa: float, kind: str = "gauge pressure") -> str:
        """A pressure [Pa, gauge or absolute as `kind` says]."""
        number = quantity.from_si(pressure_Pa, self.pressure_unit, kind)
        digits = PRESSURE_UNITS[self.pressure_unit].digits
        return f"{number:.{digits}f} {self.pressure_unit}".replace("-", "−")

    def absolute(self, pressure_Pa: float) -> str:
        """An absolute pressure [Pa]."""
        return self.pressure(pressure_Pa, "absolute pressure")

    def temperature(self, temperature_K: float) -> str:
        """A temperature [K]."""
        return quantity.format_quantity(
            temperature_K, self.temperature_unit, "temperature", digits=1).replace("-", "−")

    def difference(self, difference_K: float) -> str:
        """A temperature difference [K]."""
        return quantity.format_quantity(
            difference_K, self.difference_unit, "temperature difference", digits=1)

    @property
    def difference_unit(self) -> str:
        """Unit of a temperature difference."""
        return _DIFFERENCE_UNITS[self.temperature_unit]


def unbroken(*lines: str) -> str:
    """Lines in which a number and its unit stay together.

    >>> unbroken("it is 7 K") == "it is 7\N{NO-BREAK SPACE}K"
    True
    """
    return "\n".join(re.sub(r"(?<=\d) (?=[°%A-Za-z])", "\u00a0", words) for words in lines)


def unit_choices() -> tuple[Choice, Choice]:
    """The two controls that choose the units."""
    return (Choice("pressure_unit", "Pressure unit", tuple((u, u) for u in PRESSURE_UNITS)),
            Choice("temperature_unit", "Temperature unit", tuple(TEMPERATURE_UNITS.items())))


def chosen_units(settings) -> Units:
    """The units in a panel's settings."""
    return Units(settings["pressure_unit"], settings["temperature_unit"])


def gauge_slider(name: str, label: str, low_Pa: float, high_Pa: float, units: Units,
                 fine: bool = False) -> Slider:  # fmt: skip
    """A slider of gauge pressure over about low_Pa to high_Pa."""
    unit = PRESSURE_UNITS[units.pressure_unit]
    low, high = (quantity.from_si(p, unit.name, "gauge pressure") for p in (low_Pa, high_Pa))
    step = round_step(high - low, 20)
    return Slider(name, label, -round_up(-low, step), round_up(high, step),
                  unit.low_step if fine else unit.high_step, unit.name,
                  "gauge pressure")  # fmt: skip


def temperature_slider(name: str, label: str, coldest_K: float, hottest_K: float,
                       units: Units) -> Slider:  # fmt: skip
    """A slider of temperature, in whole degrees, within coldest_K to hottest_K."""
    ends = (quantity.from_si(t, units.temperature_unit, "temperature")
            for t in (coldest_K, hottest_K))  # fmt: skip
    low, high = (round(end) for end in ends)
    symbol = TEMPERATURE_UNITS[units.temperature_unit]
    return Slider(name, label, low, high, 1, symbol, "temperature")


def difference_slider(name: str, label: str, most_K: float, units: Units) -> Slider:
    """A slider of a temperature difference from 0 to about most_K."""
    most = quantity.from_si(most_K, units.difference_unit, "temperature difference")
    return Slider(name, label, 0, round(most), 0.5, units.difference_unit,
                  "temperature difference")  # fmt: skip


def percent_slider(name: str, label: str, least: int, most: int, step: int = 1) -> Slider:
    """A slider of a share in percent."""
    return Slider(name, label, least, most, step, "%", "ratio")
