"""The pressure-temperature chart: saturation lines of a fluid, and both gauges' points on them."""

from dataclasses import dataclass

from coldbench import quantity
from coldbench.panels.dial import mark
from coldbench.panels.scales import Scale, plain, round_step, ticks
from coldbench.panels.svg import line, path, tag, text

WIDTH, HEIGHT = 430, 310
_LEFT, _RIGHT, _TOP, _BOTTOM = 56, 412, 30, 254
_POINTS = 70


@dataclass(frozen=True)
class Chart:
    """Axes: temperature [shown unit] across, gauge pressure [shown unit] upwards."""

    coldest: float
    warmest: float
    lowest: float
    highest: float
    temperature_unit: str
    pressure_unit: str

    @property
    def across(self) -> Scale:
        """From temperature to x."""
        return Scale(self.coldest, self.warmest, _LEFT, _RIGHT)

    @property
    def up(self) -> Scale:
        """From gauge pressure to y."""
        return Scale(self.lowest, self.highest, _BOTTOM, _TOP)


def backdrop(chart: Chart, lines: list[tuple[str, list[tuple[float, float]]]], symbol: str) -> str:
    """What stands still: axes, grid, and the saturation lines [(words, points)]."""
    plotted = [
        path([(chart.across.place(t), chart.up.place(p)) for t, p in points],
             "cb-curve" if at == 0 else "cb-curve-2")
        for at, (_, points) in enumerate(lines)
    ]  # fmt: skip
    return "".join((
        _grid(chart),
        *plotted,
        text(4, _TOP - 14, f"{chart.pressure_unit} gauge", "cb-small", anchor="start"),
        text(_RIGHT, HEIGHT - 10, f"saturation temperature, {symbol}", "cb-small", anchor="end"),
        text(_LEFT + 14, _TOP + 24, "all liquid", anchor="start"),
        text(_RIGHT - 6, _BOTTOM - 34, "all vapour", anchor="end"),
        _legend(lines),
    ))  # fmt: skip


def points(chart: Chart, sides: list[tuple[str, float | None, float, str]]) -> str:
    """What moves: both points with guides [(look, temperature, gauge pressure, words)]."""
    return "".join(_point(chart, *side) for side in sides)


def saturation_line(chart: Chart, temperature_of, atmosphere_Pa: float):
    """Points (temperature, gauge pressure) of a saturation line [shown units] on the chart.

    temperature_of : saturation temperature [K] of a pressure [Pa absolute], None where none
    """
    found = []
    for k in range(_POINTS + 1):
        # Closer together at low pressure, where the line bends most.
        gauge = chart.lowest + (chart.highest - chart.lowest) * (k / _POINTS) ** 2
        gauge_Pa = quantity.to_si(gauge, chart.pressure_unit, "gauge pressure")
        if gauge_Pa + atmosphere_Pa <= 0:
            continue
        temperature_K = temperature_of(gauge_Pa + atmosphere_Pa)
        if temperature_K is None:
            continue
        shown = quantity.from_si(temperature_K, chart.temperature_unit, "temperature")
        if chart.across.holds(shown):
            found.append((shown, gauge))
    return found


def _grid(chart: Chart) -> str:
    drawn = []
    for value in ticks(chart.lowest, chart.highest, round_step(chart.highest - chart.lowest, 7)):
        y = chart.up.place(value)
        drawn.append(line(_LEFT, y, _RIGHT, y, "cb-thin"))
        drawn.append(text(_LEFT - 8, y + 5, plain(value), anchor="end"))
    for value in ticks(chart.coldest, chart.warmest, round_step(chart.warmest - chart.coldest, 8)):
        x = chart.across.place(value)
        drawn.append(line(x, _TOP, x, _BOTTOM, "cb-thin"))
        drawn.append(text(x, _BOTTOM + 18, plain(value)))
    axes = path([(_LEFT, _TOP), (_LEFT, _BOTTOM), (_RIGHT, _BOTTOM)], "cb-tick")
    return "".join(drawn) + axes


def _legend(lines) -> str:
    """Which line is which; needed only where there are two."""
    if len(lines) < 2:
        return ""
    drawn = []
    for at, (words, _) in enumerate(lines):
        y = _TOP + 46 + 20 * at
        look = "cb-curve" if at == 0 else "cb-curve-2"
        drawn.append(line(_LEFT + 14, y, _LEFT + 44, y, look))
        drawn.append(text(_LEFT + 51, y + 5, words, "cb-small", anchor="start"))
    return "".join(drawn)


def _point(chart: Chart, look: str, temperature: float | None, gauge: float, words: str) -> str:
    """A point with guides to both axes; none where the fluid has no saturation there."""
    if temperature is None or not chart.across.holds(temperature):
        return ""
    x, y = chart.across.place(temperature), chart.up.place(gauge)
    guide = tag("polyline", points=f"{_LEFT},{y:.1f} {x:.1f},{y:.1f} {x:.1f},{_BOTTOM}",
                class_=f"cb-{look} cb-guide")  # fmt: skip
    # The labels stand on opposite sides of the line, so they cannot meet.
    if look == "low":
        place = (min(x + 12, _RIGHT - 96), min(y + 20, _BOTTOM - 6), "start")
    else:
        place = (max(x - 12, _LEFT + 100), max(y - 9, _TOP + 12), "end")
    label = text(place[0], place[1], words, f"cb-{look}-text", anchor=place[2])
    return guide + mark(look, x, y) + label
