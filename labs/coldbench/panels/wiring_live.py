"""What moves on a wiring diagram: contacts, leads of the meter, and values on request.

A state never shows by colour alone: an energised relay has its arm over, its link drawn full
and the word beside it; the red lead has a round mark and the letter R, the black lead a square
mark and the letter B.
"""

from dataclasses import dataclass

from coldbench.panels.svg import line, tag, text
from coldbench.panels.wiring_diagram import POINT_RADIUS, Diagram
from coldbench.panels.wiring_labels import text_width
from coldbench.panels.wiring_parts import arm, driver_arm
from coldbench.panels.wiring_symbols import TRACK


@dataclass(frozen=True)
class Live:
    """What is shown of the running circuit.

    closed : ids of the switches, drivers and relays whose contact is over
    words : part id -> word beside it ("energised", "6.31 A")
    volts : test point number -> words beside it ("13.78 V")
    """

    closed: frozenset[str] = frozenset()
    words: dict[str, str] | None = None
    volts: dict[int, str] | None = None


REST = Live()


def live_of(circuit, settings, solution) -> Live:
    """What a solution shows: volts at the test points, amps, relays by their word.

    Parameters
    ----------
    circuit : the circuit
    settings : {input: value} of the state
    solution : `coldbench.electrical.Solution` of that state
    """
    words, closed = {}, set()
    for name, part in circuit.parts.items():
        if part.kind == "relay":
            words[name] = solution.relays[name]
            closed |= {name} if words[name] == "energised" else set()
        elif part.kind in ("switch", "low_side_driver"):
            on = bool(settings.get(part.input, part.kind == "switch"))
            words[name] = _SWITCHED[part.kind][on]
            closed |= {name} if on else set()
        elif part.kind in ("motor", "coil", "lamp", "fuse", "pwm_driver"):
            words[name] = amps(solution.currents[name])
    volts = {n: f"{solution.voltage(n):.2f} V".replace("-", "−") for n in circuit.test_points}
    return Live(frozenset(closed), words, volts)


_SWITCHED = {"switch": ("open", "closed"), "low_side_driver": ("off", "on")}


def amps(current_A: float) -> str:
    """A current in words, its direction left out.

    >>> amps(-6.314), amps(0.0212)
    ('6.31 A', '0.02 A')
    """
    return f"{abs(current_A):.2f} A"


def moving(drawn: Diagram, live: Live = REST) -> str:
    """SVG of contacts and of the values that are shown."""
    pieces = []
    for name, part in drawn.circuit.parts.items():
        over = name in live.closed
        if part.kind in ("relay", "switch"):
            pieces.append(arm(part, drawn.parts[name], drawn.pins[name], over))
        elif part.kind == "low_side_driver":
            pieces.append(driver_arm(drawn.parts[name], over))
        if part.kind == "relay" and over:
            x, y = drawn.parts[name]
            pieces.append(line(x - 5 * TRACK + 14, y, x + 2, y, "cb-wd-energised"))
    for name, word in (live.words or {}).items():
        place = drawn.beside[name]
        pieces.append(text(place.x, place.y, word, "cb-wd-live", place.anchor))
    for number, word in (live.volts or {}).items():
        place = drawn.values[number]
        pieces.append(text(place.x, place.y, word, "cb-wd-live", place.anchor))
    return "".join(pieces)


def leads(drawn: Diagram, red: int | None, black: int | None) -> str:
    """SVG of the meter's leads on their test points."""
    r = POINT_RADIUS
    pieces = []
    if red is not None:
        x, y = drawn.points[red]
        pieces.append(tag("circle", cx=x, cy=y, r=r + 4, class_="cb-wd-red"))
        pieces.append(_flag(x - r - 5, y - r - 3, "R", "cb-wd-red-flag"))
    if black is not None:
        x, y = drawn.points[black]
        pieces.append(tag("rect", x=x - r - 5, y=y - r - 5, width=2 * r + 10, height=2 * r + 10,
                          class_="cb-wd-black"))  # fmt: skip
        pieces.append(_flag(x + r + 5, y - r - 3, "B", "cb-wd-black-flag"))
    return "".join(pieces)


def callout(drawn: Diagram, point: int, words: str) -> str:
    """A small flag with a reading beside a test point, kept inside the drawing."""
    (x, y), width = drawn.points[point], text_width(words, 14) + 18
    boxes = [_flag_box(drawn, x + dx - width / 2, y + dy - 13, width)
             for dx, dy in _flag_spots(width)]  # fmt: skip
    left, top, right, bottom = min(boxes, key=drawn.places.crowding)
    end = min(max(x, left), right), min(max(y, top), bottom)
    return (line(x, y, *end, "cb-wd-lead")
            + tag("rect", x=left, y=top, width=width, height=26, rx=4, class_="cb-wd-flag")
            + text(left + width / 2, top + 18, words, "cb-wd-reading"))  # fmt: skip


def _flag_spots(width: float) -> list[tuple[float, float]]:
    """Where a flag may stand, from its test point: near first."""
    side = width / 2 + 30
    return [(dx, dy) for dy in (0, -34, 34, -50, 50, -70, 70)
            for dx in (-side, side, 0, -side / 2, side / 2) if abs(dx) >= side or dy]  # fmt: skip


def _flag_box(drawn: Diagram, left: float, top: float, width: float):
    left = min(max(4.0, left), drawn.width - width - 4)
    top = min(max(4.0, top), drawn.height - 30.0)
    return left, top, left + width, top + 26


def _flag(x: float, y: float, letter: str, look: str) -> str:
    return tag("circle", cx=x, cy=y, r=8, class_=look) + text(x, y + 4, letter, "cb-wd-letter")
