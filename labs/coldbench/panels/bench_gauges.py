"""The two gauges of a bench: needles only where they were read."""

from coldbench import quantity
from coldbench.errors import InputError
from coldbench.panels import dial as dials
from coldbench.panels.bench_view import BenchView
from coldbench.panels.gauge_panel import faces
from coldbench.panels.svg import text
from coldbench.refrigerant import fluid as fluid_named

WIDTH, HEIGHT = 540, 300
ATMOSPHERE_Pa = 101_325.0
"""The inner scale is printed for the standard atmosphere, as on any gauge."""


def backdrop(view: BenchView) -> str:
    """Cases and scales, kPa outside and °C of saturation inside."""
    return _faces(view)[0] + text(WIDTH / 2, 16, fluid_named(view.fluid).designation, "cb-small")


def foreground(view: BenchView) -> str:
    """Needles and readings; words where no gauge has been read."""
    pair = _faces(view)[1]
    if view.gauges is None:
        return "".join(text(dial.centre[0], dial.centre[1] + 84, "not read", "cb-small")
                       for dial in pair)  # fmt: skip
    return "".join(dials.needle(dial, reading, pressure, temperature)
                   for dial, (reading, pressure, temperature)
                   in zip(pair, _sides(view), strict=True))  # fmt: skip


def words(view: BenchView) -> str:
    """Both gauges in a sentence."""
    if view.gauges is None:
        return "The gauges have not been read."
    low, high = (f"{pressure} gauge, {temperature}" for _, pressure, temperature in _sides(view))
    return f"Low side {low}; high side {high}."


def _faces(view: BenchView):
    return faces(view.fluid, ATMOSPHERE_Pa, "kPa", "degC")


def _sides(view: BenchView) -> list[tuple[float, str, str]]:
    """Low and high: reading [kPa gauge], pressure and saturation temperature in words."""
    fluid = fluid_named(view.fluid)
    relations = (fluid.dew_temperature, fluid.bubble_temperature)
    return [(kPa, f"{kPa:,.0f} kPa".replace("-", "−"), _saturation(relation, kPa))
            for kPa, relation in zip(view.gauges, relations, strict=True)]  # fmt: skip


def _saturation(relation, kPa: float) -> str:
    try:
        kelvin = relation(1e3 * kPa + ATMOSPHERE_Pa)
    except InputError:
        return "no saturation"
    return quantity.format_quantity(kelvin, "degC", "temperature", digits=1)
