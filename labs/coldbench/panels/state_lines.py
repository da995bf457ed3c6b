"""What a pressure–enthalpy or temperature–entropy chart shows, ready to draw by any means.

A *plot* holds the axes' ranges, the families of lines in shown units, and where each line has
its label. `chart_figure` draws it for print, `cycle_picture` for a live panel.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import log10

from coldbench.errors import InputError
from coldbench.panels.scales import plain
from coldbench.refrigerant.chart_data import ChartData, ChartLine
from coldbench.refrigerant.chart_files import stored_chart
from coldbench.refrigerant.fluids import fluid as fluid_named

PH, TS = "P-h", "T-s"
KINDS = {PH: "Pressure–enthalpy chart", TS: "Temperature–entropy chart"}
_PATH_STEPS = 48


@dataclass(frozen=True)
class Line:
    """One line [x, y in shown units] and its label.

    labels_at : where the label stands, as shares of the axes' height; the line is searched from
        its end for a positive share, from its start for a negative one
    upright : the label stands upright: along a steep line a minus sign would vanish in it
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    label: str = ""
    labels_at: tuple[float, ...] = ()
    upright: bool = False


@dataclass(frozen=True)
class Family:
    """Lines of one look; `words` say what they are and in which unit they are labelled."""

    look: str
    words: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Plot:
    """Axes [shown units], dome, and families of lines; y is logarithmic on a P–h chart."""

    kind: str
    fluid: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    dome: Line
    critical: tuple[float, float]
    families: tuple[Family, ...]

    @property
    def x_words(self) -> str:
        """Name of the axis across."""
        return ("specific enthalpy, kJ/kg" if self.kind == PH
                else "specific entropy, kJ/(kg·K)")

    @property
    def y_words(self) -> str:
        """Name of the axis upwards."""
        return "absolute pressure, kPa" if self.kind == PH else "temperature, °C"

    def height(self, y: float) -> float:
        """Share of the height of the axes at y."""
        low, high = self.y_range
        if self.kind == PH:
            return log10(max(y, 1e-9) / low) / log10(high / low)
        return (y - low) / (high - low)

    def width(self, x: float) -> float:
        """Share of the width of the axes at x."""
        return (x - self.x_range[0]) / (self.x_range[1] - self.x_range[0])

    def holds(self, x: float, y: float) -> bool:
        """Whether a point lies within the axes."""
        return 0 <= self.width(x) <= 1 and 0 <= self.height(y) <= 1


def checked_kind(kind: str) -> str:
    """The kind of chart, whatever the dash and case; raises InputError for another.

    >>> checked_kind("p–H")
    'P-h'
    """
    for known in KINDS:
        if str(kind).replace("–", "-").casefold() == known.casefold():
            return known
    raise InputError(f"chart {kind!r} is not one of {', '.join(KINDS)}")


@lru_cache(maxsize=16)
def plot(fluid: str, kind: str = PH) -> Plot:
    """The chart of a fluid.

    Parameters
    ----------
    fluid : name of any listed refrigerant
    kind : "P-h" or "T-s"

    Raises
    ------
    InputError : unknown fluid or kind

    >>> plot("R134a").y_range[0] < 30 < 4059 < plot("R134a").y_range[1]
    True
    """
    kind, name = checked_kind(kind), fluid_named(fluid).name
    data = stored_chart(name)
    make = _pressure_enthalpy if kind == PH else _temperature_entropy
    x_range, y_range, families = make(data)
    x, y = _shown(kind, data.bubble)
    dome = Line(*map(tuple, _shown(kind, _rounded_dome(data))))
    return Plot(kind, name, x_range, y_range, dome, (x[-1], y[-1]), families)


def shown_point(kind: str, state) -> tuple[float, float]:
    """A state [p, h, T, s in SI, as attributes] as x and y in shown units."""
    if kind == PH:
        return state.enthalpy_J_kg / 1e3, state.pressure_Pa / 1e3
    return state.entropy_J_kgK / 1e3, state.temperature_K - 273.15


def path_between(kind: str, states: Iterable, closed: bool = True) -> list[tuple[float, float]]:
    """Way from state to state in shown units.

    On a P–h chart the states are joined by straight lines. On a T–s chart each step is walked
    in ln p and h together, so that boiling and condensing follow their isobars.
    """
    states = list(states)
    if kind == PH:
        way = [shown_point(kind, state) for state in states]
        return way + way[:1] if closed else way
    pairs = list(zip(states, states[1:] + (states[:1] if closed else []), strict=False))
    way = [point for a, b in pairs for point in _walk(kind, a, b)]
    return [*way, shown_point(kind, pairs[-1][1])] if pairs else []


def _walk(kind: str, a, b) -> Iterable[tuple[float, float]]:
    """Points from a to just before b."""
    from coldbench.refrigerant.state import state_ph

    yield shown_point(kind, a)
    across = abs(b.entropy_J_kgK - a.entropy_J_kgK) > 1.0
    for step in range(1, _PATH_STEPS if across else 1):
        share = step / _PATH_STEPS
        pressure = a.pressure_Pa * (b.pressure_Pa / a.pressure_Pa) ** share
        enthalpy = a.enthalpy_J_kg + share * (b.enthalpy_J_kg - a.enthalpy_J_kg)
        yield shown_point(kind, state_ph(a.fluid, pressure, enthalpy))


def _rounded_dome(data: ChartData) -> ChartLine:
    """Both saturation lines as one smooth line over the critical point.

    Their nodes are joined by cubic Hermite pieces in ±(1 − p/p_crit)^⅓, in which h, T and s
    pass the critical point almost straight.
    """
    import numpy as np

    critical_Pa = data.bubble.pressure_Pa[-1]
    halves = [np.stack([line.pressure_Pa, line.enthalpy_J_kg, line.temperature_K,
                        line.entropy_J_kgK]) for line in (data.bubble, data.dew)]
    rows = np.concatenate([halves[0], halves[1][:, -2::-1]], axis=1)
    t = np.cbrt(np.maximum(1.0 - rows[0] / critical_Pa, 0.0))
    t[: halves[0].shape[1]] *= -1.0
    fine = np.unique(np.concatenate([t, *(t[:-1] + k / 4 * np.diff(t) for k in (1, 2, 3))]))
    slopes = np.gradient(rows[1:], t, axis=1)
    at = np.clip(np.searchsorted(t, fine, "right") - 1, 0, len(t) - 2)
    step = t[at + 1] - t[at]
    u = (fine - t[at]) / step
    h, T, s = ((1 + 2 * u) * (1 - u) ** 2 * rows[1:, at] + u * (1 - u) ** 2 * step * slopes[:, at]
               + u**2 * (3 - 2 * u) * rows[1:, at + 1] + u**2 * (u - 1) * step * slopes[:, at + 1])
    return ChartLine(0.0, critical_Pa * (1.0 - np.abs(fine) ** 3), h, T, s)


def _shown(kind: str, line: ChartLine) -> tuple[list[float], list[float]]:
    if kind == PH:
        return (line.enthalpy_J_kg / 1e3).tolist(), (line.pressure_Pa / 1e3).tolist()
    return (line.entropy_J_kgK / 1e3).tolist(), (line.temperature_K - 273.15).tolist()


def _family(kind: str, look: str, words: str, lines: Iterable[ChartLine], label,
            labels_at) -> Family:  # fmt: skip
    drawn = (Line(*map(tuple, _shown(kind, line)), label(line), labels_at(line),
                  look == "isotherm") for line in lines)  # fmt: skip
    return Family(look, words, tuple(drawn))


def _pressure_enthalpy(data: ChartData):
    """Ranges and families of a P–h chart."""
    critical_K = data.bubble.temperature_K[-1]
    h = data.bubble.enthalpy_J_kg[0], max(
        line.enthalpy_J_kg[-1] for line in data.isotherms if line.value < critical_K + 45)
    margin = 0.03 * (h[1] - h[0])
    x_range = (h[0] - margin) / 1e3, (h[1] + margin) / 1e3
    y_range = tuple(p / 1e3 for p in data.pressure_range_Pa)
    families = (
        _family(PH, "quality", "share of vapour", data.quality_lines,
                lambda line: f"{line.value:.1f}", lambda line: (0.09,)),
        _family(PH, "isotherm", "temperature, °C", data.isotherms,
                lambda line: plain(round(line.value - 273.15)),
                lambda line: (0.05, -0.95) if line.value < critical_K - 8 else (0.05,)),
        _family(PH, "isentrope", "entropy, kJ/(kg·K)", data.isentropes,
                lambda line: f"{line.value / 1e3:.2f}", lambda line: (0.96,)),
    )
    return x_range, y_range, families


def _temperature_entropy(data: ChartData):
    """Ranges and families of a T–s chart."""
    critical_K = data.bubble.temperature_K[-1]
    top_K = min(data.temperature_range_K[1], critical_K + 50)
    s = data.bubble.entropy_J_kgK[0], max(
        line.entropy_J_kgK[line.temperature_K <= top_K].max() for line in data.isobars)
    margin = 0.02 * (s[1] - s[0])
    x_range = (s[0] - margin) / 1e3, (s[1] + margin) / 1e3
    y_range = data.temperature_range_K[0] - 273.15, top_K - 273.15
    families = (
        _family(TS, "quality", "share of vapour", data.quality_lines,
                lambda line: f"{line.value:.1f}", lambda line: (0.07,)),
        _family(TS, "isobar", "pressure, kPa absolute", data.isobars,
                lambda line: f"{line.value / 1e3:.0f}", lambda line: (0.95,)),
    )
    return x_range, y_range, families
