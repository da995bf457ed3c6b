"""A round gauge: pressure on the outer scale, saturation temperature on the inner one.

The sides differ in shape and words, not only in colour: the low side has a round case and a
disc as its mark, the high side an eight-sided case and a square.
"""

from dataclasses import dataclass

from coldbench import quantity
from coldbench.panels.scales import Scale, plain, round_step, ticks
from coldbench.panels.svg import arc, line, path, polar, tag, text

RADIUS = 76.0
CASE = 130.0
SWEEP = (-130.0, 130.0)
_LABEL_GAP_DEG = 15.0


@dataclass(frozen=True)
class Dial:
    """Where a gauge stands, what it is called, and its pressure scale [unit, gauge].

    look : "low" or "high", decides the shape
    """

    look: str
    centre: tuple[float, float]
    lowest: float
    highest: float
    unit: str

    @property
    def scale(self) -> Scale:
        """From gauge pressure [unit] to angle [degrees clockwise from straight up]."""
        return Scale(self.lowest, self.highest, *SWEEP)


def face(dial: Dial, temperature_marks: list[tuple[float, str]], inner_words: str) -> str:
    """What stands still: case, both scales, their units [marks: (gauge pressure, words)]."""
    x, y = dial.centre
    return "".join((
        _case(dial),
        arc(dial.centre, RADIUS, *SWEEP, "cb-tick"),
        _pressure_marks(dial),
        _temperature_marks(dial, temperature_marks),
        mark(dial.look, x - 40, y + 57),
        text(x - 28, y + 62, f"{dial.look} side", "cb-name", anchor="start"),
        text(x, y + CASE + 22, f"outside {dial.unit} gauge, inside {inner_words}", "cb-small"),
    ))  # fmt: skip


def needle(dial: Dial, reading: float, pressure: str, temperature: str) -> str:
    """What moves: the needle, and both readings in words."""
    x, y = dial.centre
    angle = dial.scale.place(reading)
    points = [
        polar(dial.centre, RADIUS - 1, angle - 0.7),
        polar(dial.centre, RADIUS - 1, angle + 0.7),
        polar(dial.centre, 5, angle + 90),
        polar(dial.centre, 18, angle + 180),
        polar(dial.centre, 5, angle - 90),
    ]
    return "".join((
        path(points, f"cb-{dial.look}-needle", closed=True),
        tag("circle", cx=x, cy=y, r=7, class_=f"cb-{dial.look}-mark"),
        text(x, y + 84, pressure, "cb-value"),
        text(x, y + 105, temperature),
    ))  # fmt: skip


def mark(look: str, x: float, y: float) -> str:
    """A side's mark: a disc for the low side, a square for the high side."""
    if look == "low":
        return tag("circle", cx=x, cy=y, r=6.5, class_="cb-low-mark")
    return tag("rect", x=x - 6, y=y - 6, width=12, height=12, class_="cb-high-mark")


def temperature_marks(dial: Dial, atmosphere_Pa: float, pressure_of, unit: str):
    """Marks of the inner scale: gauge pressures [dial unit] of round temperatures.

    pressure_of : saturation pressure [Pa absolute] of a temperature [K]; None where none exists
    """
    step = 10 if unit == "degC" else 20
    marks = []
    for shown in range(-120, 421, step):
        absolute_Pa = pressure_of(quantity.to_si(shown, unit, "temperature"))
        if absolute_Pa is None:
            continue
        reading = quantity.from_si(absolute_Pa - atmosphere_Pa, dial.unit, "gauge pressure")
        if dial.scale.holds(reading):
            marks.append((reading, plain(shown)))
    return marks


def _case(dial: Dial) -> str:
    x, y = dial.centre
    if dial.look == "low":
        return tag("circle", cx=x, cy=y, r=CASE, class_="cb-case")
    corners = [polar(dial.centre, CASE + 9, 22.5 + 45 * k) for k in range(8)]
    return path(corners, "cb-case", closed=True)


def _pressure_marks(dial: Dial) -> str:
    step = round_step(dial.highest - dial.lowest, 8)
    drawn = []
    for value in ticks(dial.lowest, dial.highest, step / 5):
        angle = dial.scale.place(value)
        whole = abs(value / step - round(value / step)) < 1e-6
        outer = polar(dial.centre, RADIUS + (9 if whole else 5), angle)
        drawn.append(line(*polar(dial.centre, RADIUS, angle), *outer, "cb-tick"))
        if whole:
            drawn.append(_number(dial, value, angle))
    return "".join(drawn)


def _number(dial: Dial, value: float, angle_deg: float) -> str:
    """A number outside the arc, growing away from it."""
    across = polar((0.0, 0.0), 1.0, angle_deg)[0]
    anchor = "middle" if abs(across) < 0.35 else "start" if across > 0 else "end"
    x, y = polar(dial.centre, RADIUS + (17 if anchor == "middle" else 13), angle_deg)
    return text(x, y + 5, plain(value), "cb-number", anchor)


def _temperature_marks(dial: Dial, marks: list[tuple[float, str]]) -> str:
    """Inner ticks; numbers from the warm end down, left out where they would touch."""
    drawn, last = [], 1e9
    for value, words in reversed(marks):
        angle = dial.scale.place(value)
        inner = polar(dial.centre, RADIUS - 8, angle)
        drawn.append(line(*polar(dial.centre, RADIUS, angle), *inner, "cb-rule"))
        if last - angle >= _LABEL_GAP_DEG:
            tx, ty = polar(dial.centre, RADIUS - 20, angle)
            drawn.append(text(tx, ty + 5, words, "cb-small"))
            last = angle
    return "".join(drawn)
