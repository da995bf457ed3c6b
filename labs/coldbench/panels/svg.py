"""Short functions that write SVG as text. Coordinates in the picture's own units, y downwards.

>>> tag("line", x1=0, y1=0, x2=3.14159, y2=1, **{"class": "cb-line"})
'<line x1="0" y1="0" x2="3.14" y2="1" class="cb-line"/>'
"""

from html import escape
from math import cos, radians, sin


def tag(name: str, *children: str, **attributes) -> str:
    """One element; `_` in an attribute name becomes `-`; children are SVG text."""
    words = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_attribute(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    inner = "".join(children)
    return f"<{name}{words}>{inner}</{name}>" if inner else f"<{name}{words}/>"


def line(x1: float, y1: float, x2: float, y2: float, look: str) -> str:
    """A straight line with the style class `look`."""
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=look)


def text(x: float, y: float, words: str, look: str = "cb-text", anchor: str = "middle") -> str:
    """Words at a point; `anchor` is start, middle or end."""
    return tag("text", escape(words), x=x, y=y, text_anchor=anchor, class_=look)


def path(points, look: str, closed: bool = False) -> str:
    """A line through the points (x, y)."""
    steps = "L".join(f"{_attribute(x)} {_attribute(y)}" for x, y in points)
    return tag("path", d=f"M{steps}{'Z' if closed else ''}", class_=look)


def polar(centre: tuple[float, float], radius: float, angle_deg: float) -> tuple[float, float]:
    """The point at an angle [degrees clockwise from straight up] and radius from the centre.

    >>> polar((0, 0), 10, 90)
    (10.0, -0.0)
    """
    angle = radians(angle_deg)
    return round(centre[0] + radius * sin(angle), 2), round(centre[1] - radius * cos(angle), 2)


def arc(centre: tuple[float, float], radius: float, start_deg: float, end_deg: float,
        look: str) -> str:  # fmt: skip
    """A clockwise arc between two angles [degrees clockwise from straight up]."""
    (x1, y1), (x2, y2) = polar(centre, radius, start_deg), polar(centre, radius, end_deg)
    large = 1 if end_deg - start_deg > 180 else 0
    return tag("path", d=f"M{x1} {y1}A{radius} {radius} 0 {large} 1 {x2} {y2}", class_=look)


def _attribute(value) -> str:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return escape(str(value))
