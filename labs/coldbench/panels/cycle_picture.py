"""The live pressure–enthalpy chart of `CyclePanel`: a still backdrop and the moving cycle."""

from functools import lru_cache
from itertools import pairwise

from coldbench import quantity
from coldbench.panels.dial import mark
from coldbench.panels.scales import plain, ticks
from coldbench.panels.state_lines import PH, Line, Plot, plot
from coldbench.panels.svg import line, path, tag, text
from coldbench.refrigerant.state import saturated

WIDTH, HEIGHT = 700, 440
_LEFT, _RIGHT, _TOP, _BOTTOM = 66, 688, 30, 386
_FAMILIES = {"isotherm": (0, 1, "cb-fine"), "quality": (1, 2, "cb-dots")}  # first, every, look
_LABEL_GAP = 29
_TICKS = [m * 10.0**k for k in range(-2, 5) for m in (1, 2, 5)]


def place(shown: Plot, enthalpy_J_kg: float, pressure_Pa: float) -> tuple[float, float]:
    """Where a state stands in the picture, held within the axes."""
    u = min(max(shown.width(enthalpy_J_kg / 1e3), 0.0), 1.0)
    v = min(max(shown.height(pressure_Pa / 1e3), 0.0), 1.0)
    return _LEFT + u * (_RIGHT - _LEFT), _BOTTOM - v * (_BOTTOM - _TOP)


@lru_cache(maxsize=16)
def backdrop(fluid: str, pressure_unit: str) -> str:
    """What stands still: axes, dome, lines of constant temperature and share of vapour."""
    shown = plot(fluid, PH)
    drawn = [_grid(shown, pressure_unit)]
    for family in shown.families:
        first, every, look = _FAMILIES.get(family.look, (0, 1, ""))
        lines = family.lines[first::every] if look else ()
        drawn += [path(_spot(piece), look) for one in lines for piece in within(shown, one)]
        drawn += [text(x, y + 4, words, "cb-tiny cb-halo")
                  for x, y, words in _label_spots(shown, lines)]  # fmt: skip
    drawn += [path(_spot(piece), "cb-curve") for piece in within(shown, shown.dome)]
    u, v = shown.width(shown.critical[0]), shown.height(shown.critical[1])
    x, y = _spot([(u, v)])[0]
    drawn.append(tag("circle", cx=x, cy=y, r=3.5, class_="cb-dot"))
    return "".join((*drawn, _words(pressure_unit)))


def _words(pressure_unit: str) -> str:
    return "".join((
        text(6, _TOP - 12, f"{pressure_unit} absolute", "cb-small", "start"),
        text(_RIGHT, HEIGHT - 10, "specific enthalpy, kJ/kg", "cb-small", "end"),
        text(_LEFT, HEIGHT - 10, "dashed: temperature, °C; dotted: share of vapour", "cb-small",
             "start"),
        text(_LEFT + 16, _TOP + 64, "liquid", "cb-small", "start"),
        text(_RIGHT - 10, _TOP + 64, "vapour", "cb-small", "end"),
    ))  # fmt: skip


def within(shown: Plot, one: Line) -> list[list[tuple[float, float]]]:
    """The pieces of a line within the axes, as shares of width and height."""
    spots = [(shown.width(x), shown.height(y)) for x, y in zip(one.x, one.y, strict=True)]
    pieces: list[list[tuple[float, float]]] = []
    for a, b in pairwise(spots):
        if cut := _cut(a, b):
            start, end = cut
            if pieces and pieces[-1][-1] == start:
                pieces[-1].append(end)
            else:
                pieces.append([start, end])
    return pieces


def _cut(a: tuple[float, float], b: tuple[float, float]):
    """The part of the stretch a–b within the unit square (Liang and Barsky's clipping)."""
    enter, leave = 0.0, 1.0
    for start, step in ((a[0], b[0] - a[0]), (a[1], b[1] - a[1])):
        if step == 0.0:
            if not 0.0 <= start <= 1.0:
                return None
            continue
        near, far = sorted(((0.0 - start) / step, (1.0 - start) / step))
        enter, leave = max(enter, near), min(leave, far)
    if enter >= leave:
        return None
    ends = ((a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])) for s in (enter, leave))
    first, last = ends
    return (a if enter == 0.0 else first), (b if leave == 1.0 else last)


def _spot(piece) -> list[tuple[float, float]]:
    return [(_LEFT + u * (_RIGHT - _LEFT), _BOTTOM - v * (_BOTTOM - _TOP)) for u, v in piece]


def _label_spots(shown: Plot, lines) -> list[tuple[float, float, str]]:
    """Places (x, y, words) of the lines' values; one that would touch another is left out."""
    found: list[tuple[float, float, str]] = []
    for one in lines:
        for at in one.labels_at:
            spots = [(shown.width(x), shown.height(y)) for x, y in zip(one.x, one.y, strict=True)]
            spot = _crossing(spots if at < 0 else spots[::-1], abs(at))
            if spot is None or not 0.03 < spot[0] < 0.97:
                continue
            x, y = _spot([spot])[0]
            if all(abs(x - other) > _LABEL_GAP or y != height for other, height, _ in found):
                found.append((x, y, one.label))
    return found


def _crossing(spots, height: float) -> tuple[float, float] | None:
    """First place where a way of shares (u, v) passes a height."""
    for a, b in pairwise(spots):
        if a[1] != b[1] and min(a[1], b[1]) <= height <= max(a[1], b[1]):
            return a[0] + (height - a[1]) / (b[1] - a[1]) * (b[0] - a[0]), height
    return None


def _grid(shown: Plot, pressure_unit: str) -> str:
    drawn = []
    for value in _TICKS:
        kPa = quantity.to_si(value, pressure_unit, "absolute pressure") / 1e3
        if shown.y_range[0] <= kPa <= shown.y_range[1]:
            y = _spot([(0.0, shown.height(kPa))])[0][1]
            drawn.append(line(_LEFT, y, _RIGHT, y, "cb-thin"))
            drawn.append(text(_LEFT - 8, y + 5, plain(value), anchor="end"))
    for value in ticks(*shown.x_range, 50):
        x = _spot([(shown.width(value), 0.0)])[0][0]
        drawn.append(line(x, _TOP, x, _BOTTOM, "cb-thin"))
        drawn.append(text(x, _BOTTOM + 20, plain(value)))
    frame = [(_LEFT, _TOP), (_LEFT, _BOTTOM), (_RIGHT, _BOTTOM), (_RIGHT, _TOP)]
    return "".join(drawn) + path(frame, "cb-tick", closed=True)


def cycle_foreground(cycle, superheat: str, subcooling: str) -> str:
    """What moves: the four processes, their names, and the four numbered states.

    cycle : `Cycle` without pressure drops; superheat, subcooling : in words
    """
    shown = plot(cycle.fluid, PH)
    states = (cycle.compressor_inlet, cycle.compressor_outlet, cycle.condenser_outlet,
              cycle.evaporator_inlet)  # fmt: skip
    one, two, three, four = spots = [place(shown, s.enthalpy_J_kg, s.pressure_Pa) for s in states]
    low = one[1] > _BOTTOM - 62  # too little room below the evaporator's line
    return "".join((
        path([one, two], "cb-way"),
        path([two, three], "cb-way cb-high"),
        path([three, four], "cb-way"),
        path([four, one], "cb-way cb-low"),
        _stretch(shown, states[2], 0.0),
        _stretch(shown, states[0], 1.0),
        _words_at(three[0] + 12, three[1] + 22, subcooling, "cb-small", "start"),
        _words_at(one[0] + 18, one[1] + (-10 if low else 34), superheat, "cb-small", "start"),
        _words_at((two[0] + three[0]) / 2 + 10, two[1] - 9, "condenser", "cb-high-text"),
        _words_at((four[0] + one[0]) / 2 - 6, one[1] + (-10 if low else 21), "evaporator",
                  "cb-low-text"),
        _words_at((one[0] + two[0]) / 2 + 16, (one[1] + two[1]) / 2 + 5, "compressor", "cb-text",
                  "start"),
        _words_at(three[0] - 10, (three[1] + four[1]) / 2 + 5, "valve", "cb-text", "end"),
        *(_numbered(k, *spot) for k, spot in enumerate(spots, 1)),
    ))  # fmt: skip


def _words_at(x: float, y: float, words: str, look: str, anchor: str = "middle") -> str:
    return text(x, y, words, f"{look} cb-halo", anchor)


def _stretch(shown: Plot, state, edge_quality: float) -> str:
    """The part of the way that lies beyond the dome, thick: subcooling or superheat."""
    edge = saturated(state.fluid, state.pressure_Pa, edge_quality)
    a, b = (place(shown, s.enthalpy_J_kg, s.pressure_Pa) for s in (edge, state))
    return "" if abs(a[0] - b[0]) < 1.5 else path([a, b], "cb-stretch")


def _numbered(number: int, x: float, y: float) -> str:
    dx, dy, anchor = {1: (11, 16, "start"), 2: (11, -6, "start"), 3: (-11, -6, "end"),
                      4: (-11, 16, "end")}[number]  # fmt: skip
    return (mark("low" if number in (1, 4) else "high", x, y)
            + _words_at(x + dx, y + dy, str(number), "cb-name", anchor))  # fmt: skip
