"""The numbers of the small lab."""

from coldbench.worksheet import Draw, Given


def draw(d: Draw) -> list[Given]:
    """Draw a suction pressure and a pipe temperature."""
    return [
        Given("low_side_gauge_kPa", d.grid("low side", 150, 230, 1), "low-side gauge", "kPa"),
        Given("pipe_degC", d.grid("pipe", 8, 16, 0.1), "suction pipe", "°C"),
    ]
