"""A drawing of the bench: engine bay with the refrigerant's way, air box with its doors.

High-pressure pipes are drawn full, low-pressure ones broken. What turns has blades, what stands
still a bar through them; each is named in words as well.
"""

from coldbench.panels.bench_view import HEARD, TURNING, BenchView, sentence
from coldbench.panels.svg import line, path, polar, tag, text

WIDTH, HEIGHT = 940, 356
_CONDENSER, _EVAPORATOR = (56, 92, 224, 46), (600, 66, 40, 144)
_COMPRESSOR, _RADIUS = (96, 266), 42
_TOP, _BOTTOM, _RIGHT, _MIDDLE = 60, 216, 926, 138
_LIQUID_X, _LIQUID_Y, _SUCTION_Y = 400, 250, 296
_VALVE_X, _BULKHEAD_X = 476, 436
_INLET = (512, _MIDDLE)
_BLOWER = (556, _MIDDLE)
_HEATER = (716, 104, 28, 68)
_FLAP = 34
PLACES = {
    "compressor outlet": (108, 178, 198), "liquid line": (298, 104, 138),
    "after hand valve": (388, 224, 244), "evaporator inlet": (496, 241, 272),
    "suction line": (330, 287, 318), "compressor inlet": (152, 287, 318),
}  # fmt: skip
FLOWS = {"condenser": (152, 158), "vent": (792, _BOTTOM + 44)}
_ENDS = {"after hand valve"}


def backdrop(view: BenchView) -> str:
    """What stands still: parts, pipes, walls and their names."""
    return "".join((
        tag("line", x1=_BULKHEAD_X, y1=8, x2=_BULKHEAD_X, y2=HEIGHT - 8, class_="cb-fine"),
        text(12, 24, "engine bay", "cb-small", "start"),
        text(_BULKHEAD_X + 12, 24, "air box", "cb-small", "start"),
        _pipes(), _parts(), _air_box(tuple(view.vents)), _pipe_names(view),
    ))  # fmt: skip


def _pipes() -> str:
    (cx, cy), r = _COMPRESSOR, _RADIUS
    bx, by, bw, bh = _CONDENSER
    ex, _, ew, _ = _EVAPORATOR
    return "".join((
        path([(cx, cy - r), (cx, by + bh)], "cb-pipe cb-high cb-hot-pipe"),
        path([(bx + bw, by + bh / 2), (_LIQUID_X, by + bh / 2), (_LIQUID_X, _LIQUID_Y),
              (_VALVE_X, _LIQUID_Y)], "cb-pipe cb-high"),
        path([(_VALVE_X, _LIQUID_Y), (ex + 10, _LIQUID_Y), (ex + 10, _BOTTOM - 6)],
             "cb-pipe cb-low"),
        path([(ex + ew - 8, _BOTTOM - 6), (ex + ew - 8, _SUCTION_Y), (cx, _SUCTION_Y)],
             "cb-pipe cb-low cb-wide-pipe"),
    ))  # fmt: skip


def _parts() -> str:
    (cx, cy), (bx, by, bw, bh), vx, vy = _COMPRESSOR, _CONDENSER, _VALVE_X, _LIQUID_Y
    valve = [(vx - 13, vy - 10), (vx + 13, vy + 10), (vx + 13, vy - 10), (vx - 13, vy + 10)]
    return "".join((
        _box(_CONDENSER), _fins(_CONDENSER),
        text(bx + bw / 2, by + bh / 2 + 5, "condenser", "cb-small"),
        tag("circle", cx=cx, cy=cy, r=_RADIUS, class_="cb-case"),
        text(cx, cy + 5, "compressor", "cb-bench-part"),
        path(valve, "cb-case", closed=True),
        text(vx, vy + 30, "valve", "cb-bench-part"),
        _box(_EVAPORATOR), _fins_down(_EVAPORATOR),
    ))  # fmt: skip


def _air_box(zones: tuple[str, ...]) -> str:
    """Walls from the inlets to the vents; a wall between two zones."""
    left, (hx, hy, hw, hh) = _INLET[0], _HEATER
    walls = [path([(left - 54, _TOP), (_RIGHT, _TOP)], "cb-tick"),
             path([(left - 54, _BOTTOM), (_RIGHT, _BOTTOM)], "cb-tick")]  # fmt: skip
    if len(zones) > 1:
        walls.append(path([(_EVAPORATOR[0] + _EVAPORATOR[2], _MIDDLE), (hx, _MIDDLE)], "cb-tick"))
        walls.append(path([(hx + hw, _MIDDLE), (_RIGHT, _MIDDLE)], "cb-tick"))
    return "".join((
        *walls, _box((hx, hy, hw, hh)),
        tag("text", "heater", x=hx + hw / 2 + 4, y=_MIDDLE, class_="cb-bench-part",
            text_anchor="middle", transform=f"rotate(-90 {hx + hw / 2 + 4} {_MIDDLE})"),
        text(left - 60, 90, "outside", "cb-bench-part", "start"),
        text(left - 60, 198, "cabin", "cb-bench-part", "start"),
        *(_grille(y) for _, y in channels(zones)),
        text(_EVAPORATOR[0] + 46, _BOTTOM - 10, "evaporator", "cb-bench-part", "start"),
    ))  # fmt: skip


def channels(zones: tuple[str, ...]) -> tuple[tuple[str, float], ...]:
    """Each zone with the top of its channel [picture units]."""
    tops = (_TOP, _MIDDLE) if len(zones) > 1 else ((_TOP + _MIDDLE) / 2,)
    return tuple(zip(zones, tops, strict=False))


def _grille(top: float) -> str:
    strokes = "".join(f"M{_RIGHT - 10} {top + 14 + 10 * k:g}h12" for k in range(6))
    return tag("path", d=strokes, class_="cb-tick")


def _pipe_names(view: BenchView) -> str:
    return "".join(text(PLACES[name][0], PLACES[name][1], name, "cb-bench-part", _anchor(name))
                   for name in view.pipes if name in PLACES)  # fmt: skip


def _anchor(name: str) -> str:
    return "end" if name in _ENDS else "start"


def foreground(view: BenchView) -> str:
    """What moves: fans, blower, clutch, doors; and the readings that were taken."""
    return "".join((
        *(_fan(k, name, share) for k, (name, share) in enumerate(view.fans.items())),
        _clutch(view), _blower(view.blower), _doors(view), _vents(view),
        *(_reading(PLACES[name][0], PLACES[name][2], words, _anchor(name))
          for name, words in view.pipes.items() if words and name in PLACES),
    ))  # fmt: skip


def _fan(k: int, name: str, level: float) -> str:
    x, y = 84 + 168 * k, 56
    return (_rotor((x, y), 28, level)
            + text(x + 42, y - 4, name, "cb-bench-part", "start")
            + text(x + 42, y + 14, TURNING[level], "cb-bench-part", "start"))  # fmt: skip


def _rotor(centre, radius: float, level: float) -> str:
    """A wheel: a bar through it when it stands; strokes of wind, one for each step of speed."""
    x, y = centre
    blades = "".join(
        f"M{x} {y}L{a[0]} {a[1]}L{b[0]} {b[1]}Z" for a, b in (
            (polar(centre, radius - 6, 120 * k), polar(centre, radius - 8, 120 * k + 34))
            for k in range(3)))  # fmt: skip
    drawn = [tag("circle", cx=x, cy=y, r=radius, class_="cb-case"),
             tag("path", d=blades, class_="cb-dot")]  # fmt: skip
    if not level:
        drawn.append(line(x - radius, y + radius, x + radius, y - radius, "cb-curve"))
    for k in range(int(abs(level))):
        a, b = polar(centre, radius + 5, 60 + 120 * k), polar(centre, radius + 5, 110 + 120 * k)
        drawn.append(tag("path", d=f"M{a[0]} {a[1]}A{radius + 5} {radius + 5} 0 0 1 {b[0]} {b[1]}",
                         class_="cb-curve"))  # fmt: skip
    return "".join(drawn)


def _clutch(view: BenchView) -> str:
    """Pulley and plate: touching when pulled in, with a gap when not."""
    if view.clutch is None:
        return ""
    cx, cy = _COMPRESSOR
    gap = 0 if view.clutch else 8
    return "".join((
        tag("rect", x=cx - 58, y=cy - 30, width=10, height=60, class_="cb-case"),
        tag("rect", x=cx - 64 - gap, y=cy - 24, width=6, height=48, class_="cb-dot"),
        text(24, HEIGHT - 18, _clutch_words(view), "cb-bench-word", "start"),
    ))  # fmt: skip


def _clutch_words(view: BenchView) -> str:
    if view.clutch is None:
        return "clutch not in view"
    if view.cycling:
        return "clutch pulls in and lets go, again and again"
    return "clutch pulled in" if view.clutch else "clutch let go"


def _blower(level: float | None) -> str:
    if level is None:
        return ""
    x, y = _BLOWER
    return (_rotor((x, y), 24, level) + text(x, 186, "blower", "cb-bench-part")
            + text(x, 204, HEARD[level], "cb-bench-part"))  # fmt: skip


def _doors(view: BenchView) -> str:
    drawn = []
    for name, at in view.doors.items():
        words = f"{name} {100 * at:.0f} %"
        if name == "recirculation":
            end = polar(_INLET, 58, 225 + 90 * at)
            drawn += [_flap(_INLET, end), text(_BULKHEAD_X + 12, 46, words, "cb-bench-word", "start")]
        elif name == "distribution":
            hinge = (772, _TOP)
            drawn += [_flap(hinge, polar(hinge, 40, 90 + 75 * at)),
                      text(772, 46, words, "cb-bench-word", "start")]  # fmt: skip
        else:
            drawn.append(_blend(name.removeprefix("blend "), at, words, tuple(view.vents)))
    return "".join(drawn)


def _blend(zone: str, at: float, words: str, zones: tuple[str, ...]) -> str:
    """The flap before the heater: over it when full cold, away from it when full hot."""
    hx, hy, _, hh = _HEATER
    lower = len(zones) > 1 and zone == zones[-1]
    hinge = (hx - 5, hy + hh if lower else hy)
    angle = 360 - 180 * at if lower else 180 + 180 * at
    y = _BOTTOM + 18 if lower else 46
    return (_flap(hinge, polar(hinge, _FLAP, angle))
            + text(hx + 20, y, words, "cb-bench-word", "start" if lower else "end"))


def _flap(hinge, end) -> str:
    return (tag("path", d=f"M{hinge[0]} {hinge[1]}L{end[0]} {end[1]}", class_="cb-lever")
            + tag("circle", cx=hinge[0], cy=hinge[1], r=5, class_="cb-wd-dot"))  # fmt: skip


def _vents(view: BenchView) -> str:
    drawn = []
    for zone, top in channels(tuple(view.vents)):
        name = f"vent {zone}" if len(view.vents) > 1 else "vent"
        drawn.append(text(_RIGHT - 18, top + 24, name, "cb-bench-part", "end"))
        if view.vents[zone]:
            drawn.append(_reading(_RIGHT - 18, top + 48, view.vents[zone], "end"))
    for place, (x, y) in FLOWS.items():
        if view.flows.get(place):
            drawn.append(_reading(x, y, f"airflow {view.flows[place]}"))
    return "".join(drawn)


def _reading(x: float, y: float, words: str, anchor: str = "start") -> str:
    return text(x, y, words, "cb-reading", anchor)


def _box(area) -> str:
    x, y, w, h = area
    return tag("rect", x=x, y=y, width=w, height=h, rx=4, class_="cb-case")


def _fins(area) -> str:
    x, y, w, h = area
    strokes = "".join(f"M{x + 12 * k} {y + 4}v7M{x + 12 * k} {y + h - 11}v7"
                      for k in range(1, w // 12))  # fmt: skip
    return tag("path", d=strokes, class_="cb-rule")


def _fins_down(area) -> str:
    x, y, w, h = area
    strokes = "".join(f"M{x + 6} {y + 12 * k}h{w - 12}" for k in range(1, h // 12))
    return tag("path", d=strokes, class_="cb-rule")


def words(view: BenchView) -> str:
    """The drawing in sentences."""
    said = [f"{name} {TURNING[level]}" for name, level in view.fans.items()]
    said += [f"blower {HEARD.get(view.blower, 'not in view')}", _clutch_words(view)]
    said += [f"{name} door at {100 * at:.0f} %" for name, at in view.doors.items()]
    names = {"": view.pipes, "vent ": view.vents, "airflow, ": view.flows}
    taken = [f"{before}{name} {shown}" for before, found in names.items()
             for name, shown in found.items() if shown]  # fmt: skip
    ending = f"Taken: {'; '.join(taken)}." if taken else "No thermometer has been read."
    return f"{sentence(said)} {ending}"
