"""A simple drawing of the bench's loop: parts, pipes in the direction of flow, thermometers.

The high side is drawn with a full line, the low side with a broken one; the suction pipe is
the widest, the liquid line the thinnest, as on the bench.
"""

from dataclasses import dataclass

from coldbench.panels.svg import line, path, polar, tag, text

WIDTH, HEIGHT = 600, 424
_LEFT, _RIGHT, _TOP, _BOTTOM = 66, 490, 78, 330
_COMPRESSOR = (_LEFT, 204)
_CONDENSER, _EVAPORATOR = (150, 46, 250, 64), (150, 298, 180, 64)
_RECEIVER = (_RIGHT - 17, 96, 34, 62)
_VALVE, _GLASS, _EXPANSION = (_RIGHT, 210), (_RIGHT, 262), (404, _BOTTOM)


@dataclass(frozen=True)
class LoopView:
    """What the drawing shows, in words and shares.

    receiver_level : 0 to 1, or None where it is not shown; bubbles : 0 to 1, share of vapour
    """

    discharge: str
    liquid_line: str
    after_valve: str
    evaporator_inlet: str
    suction: str
    vent: str
    condenser_air: str
    cabin_air: str
    speed: str
    valve_angle_deg: float
    receiver_level: float | None
    bubbles: float
    iced: bool
    running: bool
    sight_glass: bool = True


def backdrop(designation: str, sight_glass: bool = True) -> str:
    """What stands still: pipes, parts and their names."""
    x, y = _COMPRESSOR
    return "".join((
        _pipes(),
        _box(_CONDENSER),
        _fins(_CONDENSER),
        _box(_EVAPORATOR),
        _fins(_EVAPORATOR),
        _box(_RECEIVER, corner=14),
        tag("circle", cx=x, cy=y, r=50, class_="cb-case"),
        _glass() if sight_glass else "",
        _expansion_valve(),
        _names(designation),
    ))  # fmt: skip


def _glass() -> str:
    x, y = _GLASS
    return (tag("circle", cx=x, cy=y, r=13, class_="cb-case")
            + text(_RIGHT - 28, y + 5, "sight glass", "cb-small", "end"))


def _pipes() -> str:
    (cx, cy), (bx, _, bw, _), (ex, _, ew, _) = _COMPRESSOR, _CONDENSER, _EVAPORATOR
    return "".join((
        path([(cx, cy), (cx, _TOP), (bx, _TOP)], "cb-pipe cb-high cb-hot-pipe"),
        path([(bx + bw, _TOP), (_RIGHT, _TOP), (_RIGHT, _BOTTOM), _EXPANSION], "cb-pipe cb-high"),
        path([_EXPANSION, (ex + ew, _BOTTOM)], "cb-pipe cb-low"),
        path([(ex, _BOTTOM), (cx, _BOTTOM), (cx, cy)], "cb-pipe cb-low cb-wide-pipe"),
    ))  # fmt: skip


def _box(area, corner: int = 5) -> str:
    x, y, w, h = area
    return tag("rect", x=x, y=y, width=w, height=h, rx=corner, class_="cb-case")


def _fins(area) -> str:
    """Short strokes along both long edges of an exchanger."""
    x, y, w, h = area
    strokes = []
    for k in range(1, w // 12):
        at = x + 12 * k
        strokes += [f"M{at} {y + 4}v9", f"M{at} {y + h - 13}v9"]
    return tag("path", d="".join(strokes), class_="cb-rule")


def _expansion_valve() -> str:
    x, y = _EXPANSION
    bow = [(x - 16, y - 12), (x + 16, y + 12), (x + 16, y - 12), (x - 16, y + 12)]
    head = tag("path", d=f"M{x} {y}V{y - 20}M{x - 13} {y - 20}a13 9 0 0 1 26 0Z", class_="cb-case")
    return head + path(bow, "cb-case", closed=True)


def _names(designation: str) -> str:
    (cx, cy), (bx, by, bw, bh), (ex, ey, ew, eh) = _COMPRESSOR, _CONDENSER, _EVAPORATOR
    small, left = "cb-small", _RIGHT - 28
    return "".join((
        text(cx, cy - 6, "compressor", small),
        text(bx + bw / 2, by + bh / 2 + 6, "condenser", "cb-name"),
        text(ex + ew / 2, ey + eh / 2 + 6, "evaporator", "cb-name"),
        text(left, 132, "receiver-drier", small, "end"),
        text(left, 180, "liquid line", small, "end"),
        text(left, 215, "hand valve", small, "end"),
        text(left, 298, "after the valve", small, "end"),
        text(_EXPANSION[0] + 22, _BOTTOM + 30, "expansion valve", small, "start"),
        text(cx + 14, 118, "discharge", small, "start"),
        text(cx + 14, 284, "suction", small, "start"),
        line(ex + ew + 24, _BOTTOM + 6, ex + ew + 24, _BOTTOM + 42, "cb-rule"),
        text(ex + ew + 8, _BOTTOM + 58, "evaporator inlet", small, "start"),
        text(cx - 46, _BOTTOM + 58, "intake", small, "start"),
        text(cx - 46, _BOTTOM + 82, "vent", small, "start"),
        text((cx + _RIGHT) / 2 - 40, 214, designation, "cb-name"),
    ))  # fmt: skip


def foreground(view: LoopView) -> str:
    """What moves: temperatures, flow, valve lever, receiver level, bubbles, ice, air."""
    (cx, cy), (bx, by, bw, _), (ex, _, ew, _) = _COMPRESSOR, _CONDENSER, _EVAPORATOR
    right = _RIGHT + 13
    return "".join((
        _reading(cx, cy + 16, view.speed, "middle"),
        text(bx + bw / 2, by - 16, view.condenser_air),
        _reading(cx + 14, 140, view.discharge),
        _reading(right, 180, view.liquid_line),
        _reading(right, 298, view.after_valve),
        _reading(cx + 14, 305, view.suction),
        _reading(ex + ew + 128, _BOTTOM + 58, view.evaporator_inlet),
        _reading(cx + 5, _BOTTOM + 58, view.cabin_air),
        _reading(cx + 5, _BOTTOM + 82, view.vent),
        _lever(view.valve_angle_deg),
        _level(view.receiver_level),
        _bubbles(view) if view.sight_glass else "",
        _ice() if view.iced else "",
        _arrows() if view.running else "",
    ))  # fmt: skip


def _reading(x: float, y: float, words: str, anchor: str = "start") -> str:
    return text(x, y, words, "cb-reading", anchor)


def _lever(angle_deg: float) -> str:
    """The hand valve seen from its stem: the lever lies along the pipe when open."""
    (x, y), turn = _VALVE, angle_deg
    reach = polar((x, y), 26, turn)
    return "".join((
        tag("circle", cx=x, cy=y, r=14, class_="cb-case"),
        tag("path", d=f"M{x} {y}L{reach[0]} {reach[1]}", class_="cb-lever"),
        tag("circle", cx=x, cy=y, r=4, class_="cb-dot"),
        _reading(x + 32, y + 5, f"{angle_deg:g}°"),
    ))  # fmt: skip


def _level(level: float | None) -> str:
    if level is None:
        return ""
    x, y, w, h = _RECEIVER
    full = h - 10
    tall = full * min(max(level, 0.0), 1.0)
    fill = tag("rect", x=x + 5, y=y + 5 + full - tall, width=w - 10, height=tall, rx=6,
               class_="cb-high-mark")  # fmt: skip
    return fill + _reading(x + w + 6, y + h / 2 + 5, f"{100 * level:.0f} %")


def _bubbles(view: LoopView) -> str:
    """Bubbles in the glass, more with more vapour; words beside it."""
    x, y = _GLASS
    words = "clear" if view.bubbles <= 0.0 else "bubbles"
    words = words if view.running else "still"
    spots = ((0, 0), (-5, 5), (5, -4), (-6, -4), (4, 6), (0, -8), (0, 8))
    many = 0 if words != "bubbles" else 3 + min(int(40 * view.bubbles), 4)
    drawn = (tag("circle", cx=x + dx, cy=y + dy, r=2.2, class_="cb-bubble")
             for dx, dy in spots[:many])  # fmt: skip
    return "".join(drawn) + text(x + 20, y + 5, words, anchor="start")


def _ice() -> str:
    """Ice on the coil: six-pointed marks and the word."""
    ex, ey, ew, eh = _EVAPORATOR
    strokes = "".join(
        f"M{cx - 7} {ey + eh / 2}h14M{cx - 3.5} {ey + eh / 2 - 6}l7 12M{cx + 3.5} "
        f"{ey + eh / 2 - 6}l-7 12" for cx in (ex + 22, ex + ew - 22))  # fmt: skip
    return (tag("path", d=strokes, class_="cb-stroke")
            + text(ex + ew / 2, ey - 8, "ice on the coil", "cb-low-text"))  # fmt: skip


def _arrows() -> str:
    """Heads in the direction of flow."""
    heads = ((_LEFT, 112, 0), (118, _TOP, 90), (446, _TOP, 90), (_RIGHT, 236, 180),
             (446, _BOTTOM, 270), (112, _BOTTOM, 270))  # fmt: skip
    return "".join(_head(x, y, turn) for x, y, turn in heads)


def _head(x: float, y: float, turn_deg: float) -> str:
    tip = polar((x, y), 9, turn_deg)
    sides = [polar((x, y), 8, turn_deg + side) for side in (-130, 130)]
    return path([tip, *sides], "cb-dot", closed=True)
