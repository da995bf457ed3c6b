"""Printable pressure–enthalpy and temperature–entropy charts with cycles and points on them.

In a notebook:

    state_chart("R134a", points={"A": state_pT("R134a", 1.2e6, 313.15)})
    state_chart("R134a", "T-s", cycle=solve_cycle(...))

Lines differ in dashes and weight and carry their values, so a grey print reads as well.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, degrees

from coldbench.errors import InputError
from coldbench.panels.figures import figure_html
from coldbench.panels.scales import plain, ticks
from coldbench.panels.state_lines import (
    KINDS,
    PH,
    Line,
    Plot,
    checked_kind,
    path_between,
    plot,
    shown_point,
)
from coldbench.refrigerant.fluids import fluid as fluid_named

WIDTH_IN, HEIGHT_IN = 9.2, 6.1
_BOX = (0.075, 0.155, 0.905, 0.775)  # left, bottom, width, height of the axes [share]
_LOOKS = {
    "isotherm": {"colors": "#8f3b00", "linewidths": 0.9, "linestyles": [(0, (6, 2.2))]},
    "isobar": {"colors": "#8f3b00", "linewidths": 0.9, "linestyles": [(0, (6, 2.2))]},
    "quality": {"colors": "#5d6670", "linewidths": 0.8, "linestyles": [(0, (1, 2))]},
    "isentrope": {"colors": "#00626b", "linewidths": 0.9, "linestyles": [(0, (7, 2, 1, 2))]},
}
_INK, _GRID = "#1c2126", "#e0e4e6"
_PATCH = {"facecolor": "white", "edgecolor": "none", "pad": 0.7}
_MARKERS = "sD^vPX*o"
_WHOLE_PRESSURES = [m * 10**k for k in range(0, 6) for m in (1, 2, 5)]


@dataclass(frozen=True, eq=False)
class StateChart:
    """A drawn chart: the matplotlib figure and its text alternative."""

    figure: object
    alt: str

    def html(self, caption: str = "") -> str:
        """The chart as HTML with inline SVG and the text alternative."""
        return figure_html(self.figure, self.alt, caption, crop=False)

    def _repr_html_(self) -> str:
        return self.html()


def state_chart(fluid: str = "R134a", kind: str = PH, cycle=None,
                points: Mapping[str, object] | None = None) -> StateChart:
    """Draw a chart of a fluid, with a cycle or points on it if wanted.

    Parameters
    ----------
    fluid : name of any listed refrigerant
    kind : "P-h" or "T-s"
    cycle : a `Cycle`, a `LoopResult` or an iterable of `State` in the order of flow
    points : label → `State`, drawn as single points

    Returns
    -------
    StateChart
        shown by a notebook; `.html()` for a page, `.figure` for everything else

    Raises
    ------
    InputError : unknown fluid or kind; a point or cycle of another fluid

    >>> chart = state_chart("R-152a")
    >>> chart.alt[:34]
    'Pressure–enthalpy chart of R-152a:'
    """
    shown = plot(fluid_named(fluid).name, checked_kind(kind))
    stations = cycle_stations(cycle)
    points = dict(points or {})
    for label, state in [*stations, *points.items()]:
        _check_state(shown, label, state)
    axes = _axes(shown, [state for _, state in [*stations, *points.items()]])
    _draw_lines(axes, shown)
    _draw_cycle(axes, shown, stations)
    _draw_points(axes, shown, points)
    return StateChart(axes.figure, _alternative(shown, stations, points))


def cycle_stations(cycle) -> list[tuple[str, object]]:
    """Names and states of a cycle in the order of flow; states that coincide are one.

    >>> cycle_stations(None)
    []
    """
    if cycle is None or getattr(cycle, "running", True) is False:
        return []
    if hasattr(cycle, "compressor_outlet"):
        names = ("compressor inlet", "compressor outlet", "condenser inlet", "condenser outlet",
                 "valve inlet", "evaporator inlet", "evaporator outlet")
        named = list(zip(names, cycle.points, strict=True))
    elif hasattr(cycle, "states"):
        named = list(cycle.states.items())
    else:
        named = [(f"point {k}", state) for k, state in enumerate(cycle, 1)]
    kept = [item for k, item in enumerate(named) if k == 0 or not _same(item[1], named[k - 1][1])]
    return kept[:-1] if len(kept) > 1 and _same(kept[-1][1], kept[0][1]) else kept


def _same(a, b) -> bool:
    """Whether two states could not be told apart on a chart."""
    near_h = abs(a.enthalpy_J_kg - b.enthalpy_J_kg) < 500.0
    return near_h and abs(a.pressure_Pa / b.pressure_Pa - 1.0) < 0.005


def _check_state(shown: Plot, label: str, state) -> None:
    wanted = ("fluid", "pressure_Pa", "enthalpy_J_kg", "temperature_K", "entropy_J_kgK")
    if not all(hasattr(state, name) for name in wanted):
        raise InputError(f"{label}: {state!r} is no state; use state_pT, state_ph or saturated")
    if state.fluid != shown.fluid:
        raise InputError(f"{label} is a state of {state.fluid}, the chart is of {shown.fluid}")


def _axes(shown: Plot, states: list):
    """Empty axes, stretched to hold every state."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN))
    axes = figure.add_axes(_BOX)
    places = [shown_point(shown.kind, state) for state in states]
    (left, right), (low, high) = shown.x_range, shown.y_range
    axes.set_xlim(min([left, *(x - 5e-3 * abs(x) for x, _ in places)]),
                  max([right, *(1.01 * x for x, _ in places)]))  # fmt: skip
    if shown.kind == PH:
        axes.set_yscale("log")
        low = min([low, *(0.9 * y for _, y in places)])
        kept = [p for p in _WHOLE_PRESSURES if low <= p <= high]
        axes.set_yticks(kept, [plain(p) for p in kept])
        axes.minorticks_off()
        between = [m * 10**k for k in range(6) for m in (3, 4, 6, 7, 8, 9)]
        axes.hlines([p for p in between if low < p < high], *axes.get_xlim(), color=_GRID,
                    linewidth=0.6, zorder=0.5)  # one object: many ticks are slow to draw
    else:
        low = min([low, *(y - 2 for _, y in places)])
        high = max([high, *(y + 2 for _, y in places)])
        axes.set_yticks(ticks(low, high, 20))
    axes.set_ylim(low, high)
    axes.set_xticks(ticks(*axes.get_xlim(), 25 if shown.kind == PH else 0.1))
    axes.grid(color=_GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=8.5, length=3, colors=_INK)
    axes.set_xlabel(shown.x_words, color=_INK)
    axes.set_ylabel(shown.y_words, color=_INK)
    axes.set_title(f"{fluid_named(shown.fluid).designation}: {KINDS[shown.kind].lower()}",
                   loc="left", fontsize=12, fontweight="bold", color=_INK)  # fmt: skip
    return axes


def _draw_lines(axes, shown: Plot) -> None:
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D

    keys = []
    for family in shown.families:
        look = _LOOKS[family.look]
        lines = [list(zip(line.x, line.y, strict=True)) for line in family.lines]
        axes.add_collection(LineCollection(lines, **look), autolim=False)
        for line in family.lines:
            _label(axes, line, look["colors"])
        keys.append(Line2D([], [], color=look["colors"], linewidth=1.1,
                           linestyle=look["linestyles"][0], label=family.words))  # fmt: skip
    axes.plot(shown.dome.x, shown.dome.y, color=_INK, linewidth=2.0)
    axes.plot(*shown.critical, marker="o", markersize=4.5, color=_INK)
    keys.insert(0, Line2D([], [], color=_INK, linewidth=2.0, label="saturated liquid and vapour"))
    axes.figure.legend(handles=keys, loc="lower center", ncols=len(keys), frameon=False,
                       fontsize=8.5, handlelength=3.6, bbox_to_anchor=(0.5, 0.005))  # fmt: skip


def _label(axes, line: Line, colour: str) -> None:
    """The value of a line, written along it."""
    for at in line.labels_at:
        if found := _place(axes, line, at):
            x, y, slope_deg = found
            axes.text(x, y, line.label, rotation=0.0 if line.upright else slope_deg,
                      rotation_mode="anchor", fontsize=7.2, ha="center", va="center",
                      color=colour, clip_on=True, bbox=_PATCH)  # fmt: skip


def _place(axes, line: Line, at: float) -> tuple[float, float, float] | None:
    """Where a line passes the label's height, else the right edge: x, y, slope [degrees]."""
    height, width = _shares(axes)
    spots = [(width(x), height(y)) for x, y in zip(line.x, line.y, strict=True)]
    if at > 0:
        spots.reverse()
    found = _crossing(spots, 1, abs(at)) or _crossing(spots, 0, 0.975)
    if found is None:
        return None
    (u, v), (du, dv) = found
    if not (0.02 < u < 0.98 and 0.02 < v < 0.98):
        return None
    slope = degrees(atan2(dv * _BOX[3] * HEIGHT_IN, du * _BOX[2] * WIDTH_IN))
    return *_value(axes, u, v), (slope + 90) % 180 - 90


def _crossing(spots: list, axis: int, level: float):
    """First place where a way of shares (u, v) passes a level of u (axis 0) or v (axis 1)."""
    for a, b in pairwise(spots):
        if a[axis] != b[axis] and min(a[axis], b[axis]) <= level <= max(a[axis], b[axis]):
            share = (level - a[axis]) / (b[axis] - a[axis])
            step = (b[0] - a[0], b[1] - a[1])
            return (a[0] + share * step[0], a[1] + share * step[1]), step
    return None


def _shares(axes):
    """Functions from y and x to shares of the axes' height and width."""
    from math import log

    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    if axes.get_yscale() == "log":
        return lambda y: log(y / low) / log(high / low), lambda x: (x - left) / (right - left)
    return lambda y: (y - low) / (high - low), lambda x: (x - left) / (right - left)


def _value(axes, u: float, v: float) -> tuple[float, float]:
    """x and y at shares of the axes' width and height."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    y = low * (high / low) ** v if axes.get_yscale() == "log" else low + v * (high - low)
    return left + u * (right - left), y


def _draw_cycle(axes, shown: Plot, stations: list) -> None:
    if not stations:
        return
    way = path_between(shown.kind, [state for _, state in stations])
    axes.plot(*zip(*way, strict=True), color=_INK, linewidth=2.6, solid_joinstyle="round")
    for number, (_, state) in enumerate(stations, 1):
        away = ((10, 0), (10, 0), (-10, 8), (-10, -8), (10, -11), (10, 9), (-10, 9))[number % 7]
        _marked(axes, *shown_point(shown.kind, state), str(number), "o", away)


def _draw_points(axes, shown: Plot, points: Mapping) -> None:
    for at, (label, state) in enumerate(points.items()):
        x, y = shown_point(shown.kind, state)
        _marked(axes, x, y, str(label), _MARKERS[at % len(_MARKERS)], (0, 12))


def _marked(axes, x: float, y: float, label: str, marker: str, away: tuple) -> None:
    """A mark with its label beside it."""
    axes.plot(x, y, marker=marker, markersize=7, color="white", markeredgecolor=_INK,
              markeredgewidth=1.8, zorder=5)  # fmt: skip
    side = "left" if away[0] > 0 else "right" if away[0] < 0 else "center"
    axes.annotate(label, (x, y), away, textcoords="offset points", fontsize=11,
                  fontweight="bold", color=_INK, zorder=6, ha=side, va="center",
                  bbox=_PATCH | {"alpha": 0.85})  # fmt: skip


def _alternative(shown: Plot, stations: Iterable, points: Mapping) -> str:
    """The chart in words."""
    (left, right), (low, high) = shown.x_range, shown.y_range
    name = fluid_named(shown.fluid).designation
    scale = " on a logarithmic scale" if shown.kind == PH else ""
    words = [f"{KINDS[shown.kind]} of {name}: {shown.y_words} from {plain(round(low))} to "
             f"{plain(round(high))}{scale}, against "
             f"{shown.x_words} from {left:.4g} to {right:.4g}, with the dome of saturated liquid "
             f"and vapour and lines of {_listed(f.words for f in shown.families)}."]
    numbered = [(f"{k} {label}", state) for k, (label, state) in enumerate(stations, 1)]
    for title, named in (("Cycle", numbered), ("Points", list(points.items()))):
        if named:
            said = "; ".join(f"{label} at {_state_words(state)}" for label, state in named)
            words.append(f"{title}: {said}.")
    return " ".join(words)


def _listed(words: Iterable[str]) -> str:
    first, *rest = reversed([w.split(",")[0] for w in words])
    return f"{', '.join(reversed(rest))} and {first}"


def _state_words(state) -> str:
    return (f"{state.pressure_Pa / 1e3:.0f} kPa, {plain(round(state.temperature_K - 273.15, 1))} "
            f"°C, {state.enthalpy_J_kg / 1e3:.1f} kJ/kg ({state.region})")  # fmt: skip
