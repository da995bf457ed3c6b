"""The drawn symbols of a wiring diagram: what stands still, and what moves with the state."""

from coldbench.panels.svg import line, path, tag, text
from coldbench.panels.wiring_symbols import TRACK, Pen

# Two-terminal symbols of the drawing library, by kind of part.
_ELEMENTS = {
    "source": "Battery", "fuse": "FuseIEC", "resistor": "ResistorIEC",
    "diode": "Diode", "motor": "Motor", "variable_resistor": "Thermistor",
    "current_source": "Photodiode", "potentiometer": "PotentiometerIEC", "coil": "Inductor2",
}  # fmt: skip
_FIRST = {"source": "plus", "motor": "plus"}
_BOXES = ("logic_input", "reference", "ratio_output", "low_side_driver", "pwm_driver")
_ARM = 15.0  # picture units from the middle of a contact to its ends

Pins = dict[str, tuple[float, float]]


def still_symbol(pen: Pen, part, at: tuple[float, float], pins: Pins) -> str:
    """Draw what stands still of a part; library elements go to the pen, the rest is returned.

    Parameters
    ----------
    part : the part, with `kind` and its parameters
    at : its centre [picture units]
    pins : its wired terminals [picture units]
    """
    if part.kind == "relay":
        return _relay(pen, part, at, pins)
    if part.kind == "switch":
        return _contact_ends(at, pins, "a", ("b",))
    if part.kind == "lamp":
        return _lamp(*at)
    if part.kind in _BOXES:
        return _box(part, at, pins)
    return _element(pen, part, at, pins)


def _element(pen: Pen, part, at, pins: Pins) -> str:
    x, y = at
    first = _FIRST.get(part.kind, "a")
    flipped = pins.get(first, (x, y - 1))[1] > y
    ends = ((x, y - 3 * TRACK), (x, y + 3 * TRACK))
    # The library draws a battery from minus to plus, and a potentiometer's wiper on the left.
    pen.upright(_ELEMENTS[part.kind], *ends, turned=flipped != (part.kind == "source"))
    more = ""
    if part.kind == "motor":
        more = text(x, y + 5, "M", "cb-wd-name") + _sign(at, flipped)
    if part.kind == "source":
        more = _sign(at, flipped)
    if part.kind == "potentiometer" and "wiper" in pins:
        wx, wy = pins["wiper"]
        more = path([(x + 10, y), (wx, y), (wx, wy)], "cb-wd-lead") + path(
            [(x + 17, y - 4), (x + 9, y), (x + 17, y + 4)], "cb-wd-lead")  # fmt: skip
    if part.kind == "coil":
        more = _suppression(pen, part, (x - 2 * TRACK, y), (x, y), pins.get("a", (x, y - 1))[1] < y)
    return more


def _sign(at, flipped: bool) -> str:
    x, y = at
    up, down = (y + 34, y - 25) if flipped else (y - 25, y + 34)
    return text(x - 10, up, "+", "cb-wd-small", "end") + text(x - 10, down, "−", "cb-wd-small", "end")


def _suppression(pen: Pen, part, beside, coil, upright: bool) -> str:
    """The diode or resistor across a coil, drawn beside it."""
    kind = part.parameters.get("suppression", "none")
    if kind == "none":
        return ""
    (bx, y), (x, _) = beside, coil
    top, bottom = (bx, y - 20), (bx, y + 20)
    element = "Diode" if kind == "diode" else "ResistorIEC"
    pen.small(element, bottom if upright else top, top if upright else bottom)
    return (path([(x, y - 26), (bx, y - 26), (bx, y - 19)], "cb-wd-lead")
            + path([(bx, y + 19), (bx, y + 26), (x, y + 26)], "cb-wd-lead"))  # fmt: skip


def _relay(pen: Pen, part, at, pins: Pins) -> str:
    x, y = at
    cx = x - 5 * TRACK
    coil = (tag("rect", x=cx - 14, y=y - 9, width=28, height=18, class_="cb-wd-face")
            + line(cx - 7, y + 9, cx + 7, y - 9, "cb-wd-lead")
            + line(cx, y - 36, cx, y - 9, "cb-wd-lead") + line(cx, y + 9, cx, y + 36, "cb-wd-lead"))  # fmt: skip
    frame = tag("rect", x=x - 8 * TRACK + 4, y=y - 30, width=14 * TRACK - 8, height=60, rx=3,
                class_="cb-wd-frame")  # fmt: skip
    high = pins.get("86", (0, y - 1))[1] < y
    numbers = "".join(_terminal(name, px, y, py) for name, (px, py) in pins.items())
    return (frame + numbers + coil + _suppression(pen, part, (cx - 25, y), (cx, y), high)
            + line(cx + 14, y, x + 2, y, "cb-wd-link")
            + _contact_ends(at, pins, "30", ("87", "87a")))  # fmt: skip


def _terminal(name: str, x: float, y: float, py: float) -> str:
    """A terminal number inside the frame, beside its lead."""
    left = name == "87"
    return text(x - 5 if left else x + 5, y - 18 if py < y else y + 26, name, "cb-wd-terminal",
                "end" if left else "start")  # fmt: skip


def _contact_ends(at, pins: Pins, common: str, others) -> str:
    """Leads and contact points of a switch or relay contact."""
    x, y = at
    way = -1 if pins[common][1] < y else 1
    drawn = [line(x, y + way * 36, x, y + way * _ARM, "cb-wd-lead"), _dot(x, y + way * _ARM)]
    for name in others:
        if name in pins:
            px, py = pins[name]
            drawn += [line(px, py, px, y - way * _ARM, "cb-wd-lead"), _dot(px, y - way * _ARM)]
    return "".join(drawn)


def _lamp(x: float, y: float) -> str:
    r, k = 15, 15 * 0.7071
    return (tag("circle", cx=x, cy=y, r=r, class_="cb-wd-face")
            + line(x - k, y - k, x + k, y + k, "cb-wd-lead")
            + line(x - k, y + k, x + k, y - k, "cb-wd-lead")
            + line(x, y - 36, x, y - r, "cb-wd-lead")
            + line(x, y + r, x, y + 36, "cb-wd-lead"))  # fmt: skip


def _dot(x: float, y: float) -> str:
    return tag("circle", cx=x, cy=y, r=2.6, class_="cb-wd-dot")


def arm(part, at, pins: Pins, closed: bool) -> str:
    """The moving arm of a switch or relay contact."""
    x, y = at
    common, rest = ("30", "87a") if part.kind == "relay" else ("a", None)
    way = -1 if pins[common][1] < y else 1
    if closed:
        end = (x, y - way * _ARM)
    elif rest in pins:
        end = (pins[rest][0], y - way * _ARM)
    else:
        end = (x + 13, y - way * (_ARM - 5))
    return line(x, y + way * _ARM, *end, "cb-wd-arm")


def _box(part, at, pins: Pins) -> str:
    """A controller's or sensor's box with its inside hinted at."""
    x, y = at
    wide = part.kind != "low_side_driver"
    rect = tag("rect", x=x - 30, y=y - 24, width=78 if wide else 60, height=48, rx=3,
               class_="cb-wd-face")  # fmt: skip
    leads = "".join(line(px, py, px, y + (24 if py > y else -24), "cb-wd-lead")
                    for px, py in pins.values())  # fmt: skip
    return rect + leads + _inside(part, x, y, pins)


def _inside(part, x: float, y: float, pins: Pins) -> str:
    if part.kind == "low_side_driver":
        return (line(x, y - 24, x, y - 10, "cb-wd-lead") + line(x, y + 10, x, y + 24, "cb-wd-lead")
                + _dot(x, y - 10) + _dot(x, y + 10))  # fmt: skip
    if part.kind == "pwm_driver":
        steps = [(-16, 8), (-16, -8), (-4, -8), (-4, 8), (8, 8), (8, -8), (20, -8), (20, 8), (32, 8)]
        return path([(x + dx, y + dy) for dx, dy in steps], "cb-wd-lead")
    if part.kind == "ratio_output":
        return path([(x - 14, y + 9), (x + 6, y + 9), (x + 26, y - 9)], "cb-wd-lead") + text(
            x - 12, y - 6, "p → V", "cb-wd-small", "start")  # fmt: skip
    if part.kind == "reference":
        return text(x + 9, y + 5, f"{part.parameters['emf_V']:g} V", "cb-wd-name")
    return _pull_up(part, x, y)


def _pull_up(part, x: float, y: float) -> str:
    """A controller input: the pull-up resistor to its reference and the pin."""
    return (text(x + 9, y - 9, f"{part.parameters['reference_V']:g} V", "cb-wd-small", "start")
            + line(x, y - 20, x, y - 13, "cb-wd-lead") + line(x - 7, y - 20, x + 7, y - 20, "cb-wd-lead")
            + tag("rect", x=x - 4, y=y - 13, width=8, height=20, class_="cb-wd-lead")
            + line(x, y + 7, x, y + 24, "cb-wd-lead")
            + path([(x, y + 14), (x + 12, y + 14)], "cb-wd-lead")
            + path([(x + 12, y + 6), (x + 12, y + 21), (x + 26, y + 14)], "cb-wd-lead", closed=True)
            )  # fmt: skip


def driver_arm(at, closed: bool) -> str:
    """The moving arm inside a low-side driver."""
    x, y = at
    return line(x, y + 10, *((x, y - 10) if closed else (x + 11, y - 7)), "cb-wd-arm")
