"""The symbols of a wiring diagram: where their terminals are and how they are drawn.

Symbols follow IEC 60617 as the drawing library *schemdraw* has them; a relay is drawn as one
unit, coil beside contact, as vehicle wiring diagrams do (common practice). Terminal numbers
of relays by DIN 72552.

Glossary
- *track*: the grid that symbols and wires lie on, `TRACK` picture units wide.
- *pin*: where a terminal meets its wires, in tracks from the centre of its symbol.
"""

from dataclasses import dataclass

TRACK = 12
_UNIT = 36.0  # picture units to one unit of the drawing library
_HALF = 3  # tracks from the centre of a symbol to its pins


@dataclass(frozen=True)
class Shape:
    """What the layout must know of a kind of part.

    pins : terminal -> (x, y) [tracks], y negative upwards
    paths : (terminal, terminal, weight) along which current flows, for ordering from supply
        to ground
    left, right : extent of the body without its label [tracks]
    turns : groups of pins that may be turned over so that the higher potential is on top; a
        pin that makes a group alone turns towards what it is wired to
    """

    pins: dict[str, tuple[int, int]]
    paths: tuple[tuple[str, str, float], ...]
    left: int = 2
    right: int = 2
    turns: tuple[tuple[str, ...], ...] = ()


def _two(first: str = "a", second: str = "b", **extent) -> Shape:
    """A symbol with one terminal on top and one at the bottom."""
    return Shape({first: (0, -_HALF), second: (0, _HALF)}, ((first, second, 1.0),),
                 turns=((first, second),), **extent)  # fmt: skip


_RELAY = Shape(
    {"86": (-5, -_HALF), "85": (-5, _HALF), "30": (0, -_HALF), "87": (0, _HALF),
     "87a": (3, _HALF)},
    (("86", "85", 3.0), ("30", "87", 1.0), ("30", "87a", 1.0)),
    left=8, right=6, turns=(("86", "85"), ("30", "87", "87a")),
)  # fmt: skip
_SENSOR = {"supply": (0, -_HALF), "ground": (0, _HALF), "signal": (3, -_HALF)}

SHAPES = {
    "source": _two("plus", "minus"),
    "fuse": _two(),
    "switch": _two(),
    "relay": _RELAY,
    "diode": _two("a", "k"),
    "resistor": _two(),
    "lamp": _two(),
    "motor": _two("plus", "minus"),
    "coil": _two(left=3),
    "variable_resistor": _two(),
    "current_source": _two(),
    "low_side_driver": Shape({"out": (0, -_HALF), "ground": (0, _HALF)},
                             (("out", "ground", 1.0),), left=3, right=3),
    "pwm_driver": Shape({"supply": (0, -_HALF), "out": (0, _HALF), "ground": (3, _HALF)},
                        (("supply", "out", 1.0), ("supply", "ground", 3.0)), left=3, right=4),
    "logic_input": Shape({"pin": (0, _HALF), "ground": (3, _HALF)},
                         (("pin", "ground", 9.0),), left=3, right=4),
    "reference": Shape({"out": (0, _HALF), "ground": (3, _HALF)},
                       (("out", "ground", 9.0),), left=3, right=4),
    "ratio_output": Shape(_SENSOR, (("supply", "ground", 2.0), ("signal", "ground", 1.5)),
                          left=3, right=4, turns=(("signal",),)),
    "potentiometer": Shape({"a": (0, -_HALF), "b": (0, _HALF), "wiper": (3, -_HALF)},
                           (("a", "wiper", 1.0), ("wiper", "b", 1.0)), right=4, turns=(("wiper",),)),
}  # fmt: skip
# Potentials that a part gives of itself, as shares of the supply.
HELD = {"logic_input": ("pin", 0.8), "reference": ("out", 0.9)}


def pins_of(kind: str, turned: tuple[bool, ...]) -> dict[str, tuple[int, int]]:
    """Pins of a kind [tracks], each group of `turns` turned over where `turned` says so.

    >>> pins_of("fuse", (True,))["a"]
    (0, 3)
    """
    shape = SHAPES[kind]
    over = {name for group, turn in zip(shape.turns, turned, strict=True) if turn
            for name in group}  # fmt: skip
    return {name: (x, -y if name in over else y) for name, (x, y) in shape.pins.items()}


class Pen:
    """Draws library elements at picture coordinates and gives the SVG.

    >>> pen = Pen()
    >>> pen.upright("FuseIEC", (20, 10), (20, 60))
    >>> "<path" in pen.svg()
    True
    """

    def __init__(self):
        import schemdraw
        from schemdraw import elements

        self._library = elements
        self._drawing = schemdraw.Drawing(canvas="svg", show=False)
        self._drawing.config(color="currentColor", lw=1.6, inches_per_unit=0.5)

    def upright(self, element: str, start, end, turned: bool = False, **options) -> None:
        """A two-terminal element between two points; `turned` swaps its ends."""
        start, end = (end, start) if turned else (start, end)
        make = getattr(self._library, element)
        self._drawing += make(**options).at(_point(start)).to(_point(end))

    def small(self, element: str, start, end) -> None:
        """A small two-terminal element between two points."""
        make = getattr(self._library, element)
        self._drawing += make().scale(0.55).at(_point(start)).to(_point(end))

    def stub(self, element: str, at) -> None:
        """A one-terminal element, such as a ground, below a point."""
        self._drawing += getattr(self._library, element)().at(_point(at))

    def svg(self) -> str:
        """What was drawn, as SVG elements without their frame."""
        if not self._drawing.elements:
            return ""
        text = self._drawing.get_imagedata("svg").decode("utf-8")
        return text[text.index(">", text.index("<svg")) + 1 : text.rindex("</svg>")].strip()


def _point(at) -> tuple[float, float]:
    return at[0] / _UNIT, -at[1] / _UNIT
