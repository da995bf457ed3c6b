"""Symbols of a fault tree: gates, events, houses, transfers, and the lines between them.

Source: IEC 61025:2006, Fault tree analysis, annex A (shapes from memory): OR and AND gates with
the signs ≥1 and &, a voting gate with m/n, a circle for a basic event, a house for a condition
that is set, a triangle for a branch that is drawn elsewhere.
"""

from coldbench.panels.svg import line, path, tag, text
from coldbench.panels.tree_layout import BOX, BUS, LINE, PAD, STEM, SYMBOL, UNDER, Placed

_HALF = 24  # half the width of a gate
RADIUS = 19


def drawn(place: Placed) -> str:
    """Box, symbol and words of one node."""
    node, x, y = place.node, place.x, place.symbol_y
    symbol = _SYMBOLS[node.kind](x, y)
    words = text(x, y + _SIGN_AT[node.kind], node.sign, "cb-ft-sign") if node.sign else ""
    under = text(x, y + SYMBOL + 14, node.under, "cb-ft-small") if node.under else ""
    stem = line(x, place.y + place.height, x, y, "cb-ft-line")
    return stem + _box(place) + symbol + words + under + _way_out(place)


def links(parent: Placed, children: list[Placed]) -> str:
    """Lines from a gate down to the boxes under it."""
    if not children:
        return ""
    start = parent.symbol_y + SYMBOL - (6 if parent.node.kind in ("or", "atleast") else 0)
    bus = min(child.y for child in children) - BUS / 2
    ends = [child.x for child in children]
    said = [line(parent.x, start, parent.x, bus, "cb-ft-line")]
    if len(ends) > 1:
        said.append(line(min(ends), bus, max(ends), bus, "cb-ft-line"))
    return "".join(said + [line(c.x, bus, c.x, c.y, "cb-ft-line") for c in children])


def frame(place: Placed, look: str) -> str:
    """A frame around a node's box, to point it out."""
    return tag("rect", x=place.x - BOX / 2 - 4, y=place.y - 4, width=BOX + 8,
               height=place.height + 8, rx=4, class_=look)  # fmt: skip


def _box(place: Placed) -> str:
    lines, x = place.node.lines, place.x
    first = place.y + (place.height - LINE * len(lines)) / 2 + LINE - 3.5
    words = "".join(text(x, first + LINE * i, words, "cb-ft-name")
                    for i, words in enumerate(lines))  # fmt: skip
    return tag("rect", x=x - BOX / 2, y=place.y, width=BOX, height=place.height,
               class_="cb-ft-box") + words  # fmt: skip


def _or(x: float, y: float) -> str:
    low = y + SYMBOL
    return tag("path", class_="cb-ft-symbol", d=(
        f"M{x - _HALF:.1f} {low:.1f}Q{x - _HALF + 1:.1f} {y + 12:.1f} {x:.1f} {y:.1f}"
        f"Q{x + _HALF - 1:.1f} {y + 12:.1f} {x + _HALF:.1f} {low:.1f}"
        f"Q{x:.1f} {low - 12:.1f} {x - _HALF:.1f} {low:.1f}Z"))  # fmt: skip


def _and(x: float, y: float) -> str:
    low, shoulder = y + SYMBOL, y + 22
    return tag("path", class_="cb-ft-symbol", d=(
        f"M{x - _HALF:.1f} {low:.1f}V{shoulder:.1f}A{_HALF} 22 0 0 1 {x + _HALF:.1f} "
        f"{shoulder:.1f}V{low:.1f}Z"))  # fmt: skip


def _circle(x: float, y: float) -> str:
    return tag("circle", cx=x, cy=y + RADIUS, r=RADIUS, class_="cb-ft-symbol")


def _house(x: float, y: float) -> str:
    low = y + SYMBOL - 2
    return path([(x, y), (x + 20, y + 15), (x + 20, low), (x - 20, low), (x - 20, y + 15)],
                "cb-ft-symbol", closed=True)  # fmt: skip


def _triangle(x: float, y: float) -> str:
    low = y + SYMBOL - 4
    return path([(x, y), (x + 22, low), (x - 22, low)], "cb-ft-symbol", closed=True)


def _way_out(place: Placed) -> str:
    """The small triangle beside a branch that is drawn here for somewhere else."""
    if not place.node.number or place.node.kind == "transfer":
        return ""
    x, y = place.x + BOX / 2 + 20, place.y + PAD - 4
    return (line(place.x + BOX / 2, y + 14, x, y + 14, "cb-ft-line")
            + path([(x, y), (x + 17, y + 28), (x - 17, y + 28)], "cb-ft-symbol", closed=True)
            + text(x, y + 24, place.node.number, "cb-ft-sign"))  # fmt: skip


_SYMBOLS = {"or": _or, "and": _and, "atleast": _or, "event": _circle, "house": _house,
            "transfer": _triangle}  # fmt: skip
_SIGN_AT = {"or": 26, "and": 28, "atleast": 26, "event": 24, "house": 31, "transfer": 32}

__all__ = ["BOX", "BUS", "STEM", "UNDER", "drawn", "frame", "links"]
