"""Two drawings for `SensorPanel`: volts and counts over the value, and the sensor's circuit.

In the chart the full line is the input's voltage; broken lines are the limits of the window,
and the stretch beyond each is hatched. A second, thinner line is the resistance where there is
one, on a logarithmic scale of its own.
"""

from math import log10

from coldbench.panels.scales import Scale, plain, round_step, ticks
from coldbench.panels.sensor_state import REFERENCE_V, SensorState
from coldbench.panels.svg import line, path, tag, text
from coldbench.panels.wiring_symbols import Pen

WIDTH, HEIGHT = 560, 360
CIRCUIT_WIDTH, CIRCUIT_HEIGHT = 296, 360
_LEFT, _RIGHT, _TOP, _BOTTOM = 56, 494, 34, 308
_MOVED = "translate(26 0)"
_AXIS, _HIGH, _MIDDLE, _LOW = 96, 58, 180, 300  # of the circuit
_UP = Scale(0.0, REFERENCE_V, _BOTTOM, _TOP)


def backdrop(state: SensorState, values, label: str) -> str:
    """Axes, window and curves.

    Parameters
    ----------
    state : what is shown
    values : the curve's values in the shown unit
    label : quantity and unit of the horizontal axis
    """
    across = Scale(float(values[0]), float(values[-1]), _LEFT, _RIGHT)
    curve = [(across.place(float(x)), _UP.place(float(v)))
             for x, v in zip(values, state.curve.volts, strict=True)]  # fmt: skip
    return "".join((_grid(across, label), _counts(state), _window(state),
                    _ohms(state, across, values), path(curve, "cb-curve")))  # fmt: skip


def _grid(across: Scale, label: str) -> str:
    marks = []
    for volts in range(int(REFERENCE_V) + 1):
        y = _UP.place(volts)
        marks += [line(_LEFT, y, _RIGHT, y, "cb-thin"),
                  text(_LEFT - 8, y + 5, plain(volts), "cb-number", "end")]  # fmt: skip
    step = round_step(across.high - across.low, 6)
    for value in ticks(across.low, across.high, step):
        x = across.place(value)
        marks += [line(x, _TOP, x, _BOTTOM, "cb-thin"),
                  text(x, _BOTTOM + 18, plain(value), "cb-number")]  # fmt: skip
    marks.append(tag("rect", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=_BOTTOM - _TOP,
                     class_="cb-rule"))  # fmt: skip
    return "".join((*marks, text(8, _TOP - 12, "volts at the input", "cb-small", "start"),
                    text(_RIGHT, HEIGHT - 12, label, "cb-small", "end")))  # fmt: skip


def _counts(state: SensorState) -> str:
    steps = state.converter.steps
    marks = [text(_RIGHT + 8, _UP.place(REFERENCE_V * share) + 5, f"{round(steps * share)}",
                  "cb-number", "start") for share in (0, 0.25, 0.5, 0.75, 1)]  # fmt: skip
    return "".join((*marks, text(WIDTH - 6, _TOP - 12, "counts", "cb-small", "end")))


def _window(state: SensorState) -> str:
    low, high = (REFERENCE_V * r for r in (state.window.low_ratio, state.window.high_ratio))
    names = {"above": "above: open", "below": "below: short to ground"}
    if state.pull_up_ohm is None:
        names = {"above": "above: short to supply", "below": "below: open or short to ground"}
    drawn = []
    edges = ((high, _TOP, names["above"], 15), (low, _BOTTOM, names["below"], -6))
    for limit, edge, words, dy in edges:
        y, words = _UP.place(limit), f"{words} ({limit:.2f} V)"
        drawn += [tag("rect", x=_LEFT, y=min(y, edge), width=_RIGHT - _LEFT, height=abs(y - edge),
                      class_="cb-outside"),
                  line(_LEFT, y, _RIGHT, y, "cb-fine"),
                  text(_RIGHT - 8, y + dy, words, "cb-tiny cb-halo", "end")]  # fmt: skip
    return "".join(drawn)


def _ohms(state: SensorState, across: Scale, values) -> str:
    """The resistance over the value on a scale of its own, where the sensor is a resistor."""
    if state.curve.parameter_name != "resistance_ohm":
        return ""
    ohm = [log10(float(r)) for r in state.curve.parameter]
    low, high = min(ohm), max(ohm)
    up = Scale(low, high + 1e-9, _BOTTOM - 24, _TOP + 24)
    points = [(across.place(float(x)), up.place(r)) for x, r in zip(values, ohm, strict=True)]
    corners = ((0, 6, "start"), (-1, -6, "end"))
    ends = [text(points[k][0] + dx, points[k][1] - 8, ohms(10 ** ohm[k]), "cb-tiny cb-halo", anchor)
            for k, dx, anchor in corners]  # fmt: skip
    said = text(_LEFT, HEIGHT - 12, "full: volts; broken: resistance", "cb-tiny", "start")
    return path(points, "cb-curve-2 cb-second") + "".join(ends) + said


def foreground(state: SensorState, values, shown: float) -> str:
    """The point where the sensor stands, with lines to both axes."""
    across = Scale(float(values[0]), float(values[-1]), _LEFT, _RIGHT)
    x, y = across.place(shown), _UP.place(state.volts)
    words = f"{state.volts:.2f} V, {state.counts}"
    falls = state.curve.volts[0] > state.curve.volts[-1]
    right = x < _RIGHT - 120 if falls else x < _LEFT + 120
    rise = -34 if y > _BOTTOM - 24 else 38 if y < _TOP + 32 else -12
    return "".join((
        path([(_LEFT, y), (x, y), (x, _BOTTOM)], "cb-rule cb-guide"),
        path([(x, y), (_RIGHT, y)], "cb-rule cb-guide"),
        tag("circle", cx=x, cy=y, r=7, class_="cb-high-mark"),
        text(x + (12 if right else -12), y + rise, words, "cb-reading cb-halo",
             "start" if right else "end"),
    ))  # fmt: skip


def circuit(state: SensorState) -> str:
    """The input's circuit: reference, pull-up or supply, sensor, ground, and the pin."""
    pen = Pen()
    node, sensor = _sensor(pen, state)
    symbols = tag("g", pen.svg(), class_="cb-wd-symbols")
    return tag("g", symbols, _rails(), sensor, _pin(state, node), transform=_MOVED)


def _rails() -> str:
    """The reference on top and the sensor ground at the bottom."""
    x, top, bottom = _AXIS, _HIGH, _LOW
    return "".join((
        text(x, top - 22, "5 V reference", "cb-small"),
        line(x - 16, top - 12, x + 16, top - 12, "cb-wd-bar"),
        line(x, top - 12, x, top, "cb-wd-lead"),
        line(x, bottom, x, bottom + 10, "cb-wd-lead"),
        line(x - 16, bottom + 10, x + 16, bottom + 10, "cb-wd-bar"),
        text(x, bottom + 32, "sensor ground", "cb-small"),
    ))  # fmt: skip


def _sensor(pen: Pen, state: SensorState) -> tuple[tuple[float, float], str]:
    """The place of the signal, and what the pen has no symbol for."""
    x, top, mid, bottom = _AXIS, _HIGH, _MIDDLE, _LOW
    if state.pull_up_ohm is not None:
        pen.upright("ResistorIEC", (x, top), (x, mid))
        pen.upright("Photodiode" if state.sensor.kind == "photodiode" else "Thermistor",
                    (x, mid), (x, bottom))  # fmt: skip
        return (x, mid), text(x + 22, (top + mid) / 2 - 10, "pull-up", "cb-small", "start")
    if state.sensor.kind == "potentiometer":
        pen.upright("ResistorIEC", (x, top), (x, bottom))
        tip = (x + 12, mid)
        return tip, path([(x + 20, mid - 5), tip, (x + 20, mid + 5)], "cb-wd-lead")
    box = tag("rect", x=x - 34, y=mid - 34, width=68, height=68, rx=4, class_="cb-wd-face")
    leads = line(x, top, x, mid - 34, "cb-wd-lead") + line(x, mid + 34, x, bottom, "cb-wd-lead")
    return (x + 34, mid), leads + box + text(x, mid + 5, "p → V", "cb-wd-name")


def _pin(state: SensorState, node: tuple[float, float]) -> str:
    mid = _MIDDLE
    return "".join((
        line(*node, 196, mid, "cb-wd-lead"),
        tag("circle", cx=node[0], cy=node[1], r=3.5, class_="cb-wd-node"),
        tag("rect", x=196, y=mid - 26, width=62, height=52, rx=4, class_="cb-wd-face"),
        text(227, mid - 4, "input", "cb-wd-name"),
        text(227, mid + 14, f"{state.converter.bits} bits", "cb-tiny"),
    ))  # fmt: skip


def circuit_values(state: SensorState, sensor_words: str) -> str:
    """What moves in the circuit: values, and a broken or shorted signal wire."""
    x, mid = 146, 180
    left = 72 if state.sensor.kind != "transducer" else 56
    pieces = [text(190, mid - 12, f"{state.volts:.2f} V", "cb-reading cb-halo", "end"),
              text(left, 246 if state.pull_up_ohm is not None else mid + 5, sensor_words,
                   "cb-reading", "end")]  # fmt: skip
    if state.pull_up_ohm is not None:
        pieces.append(text(118, 128, ohms(state.pull_up_ohm), "cb-reading", "start"))
    if state.wire == "open":
        pieces += [line(x + 6, mid - 10, x + 22, mid + 10, "cb-wd-cut"),
                   line(x + 6, mid + 10, x + 22, mid - 10, "cb-wd-cut"),
                   text(x + 14, mid + 30, "open", "cb-reading")]  # fmt: skip
    if state.wire == "to_ground":
        pieces += [path([(x + 14, mid), (x + 14, 310), (114, 310)], "cb-wd-cut"),
                   text(x + 22, mid + 52, "short", "cb-reading", "start")]  # fmt: skip
    if state.wire == "to_5V":
        pieces += [path([(x + 14, mid), (x + 14, 46), (114, 46)], "cb-wd-cut"),
                   text(x + 22, mid - 82, "short", "cb-reading", "start")]  # fmt: skip
    return tag("g", *pieces, transform=_MOVED)


def ohms(resistance_ohm: float) -> str:
    """A resistance in words.

    >>> ohms(27280.0), ohms(107.79)
    ('27.3 kΩ', '108 Ω')
    """
    if resistance_ohm >= 1e3:
        return f"{resistance_ohm / 1e3:.3g} kΩ"
    return f"{resistance_ohm:.3g} Ω"
