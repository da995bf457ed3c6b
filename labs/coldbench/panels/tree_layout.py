"""Places of a fault tree's boxes: levels from the top down, branches as close as they go.

A node is put midway over its children; neighbouring branches are pushed together until their
boxes are one gap apart at the level where they come closest.

Source: Reingold & Tilford, Tidier drawings of trees, 1981 (the contours).
"""

from collections.abc import Iterator
from dataclasses import dataclass

BOX, GAP = 138, 18  # width of a box, and between two boxes
LINE, PAD = 15, 7  # height of a line, and over and under the lines
STEM, SYMBOL, UNDER, BUS = 8, 42, 18, 26  # box to symbol, symbol, words under it, to next level


@dataclass(frozen=True)
class Node:
    """One place in a drawing.

    key [unique in its drawing]; kind ["or", "and", "atleast", "event", "house", "transfer"];
    lines [its name]; sign [inside the symbol]; under [words under the symbol]; number [of the
    transfer that leads here, or ""].
    """

    key: str
    kind: str
    lines: tuple[str, ...]
    sign: str = ""
    under: str = ""
    number: str = ""
    children: tuple["Node", ...] = ()


@dataclass(frozen=True)
class Placed:
    """A node with the middle of its box's upper edge, and the height of its box."""

    node: Node
    x: float
    y: float
    height: float

    @property
    def symbol_y(self) -> float:
        """Where the symbol under the box begins."""
        return self.y + self.height + STEM


@dataclass(frozen=True)
class Layout:
    """Every node in its place, and the size of it all."""

    placed: dict[str, Placed]
    width: float
    height: float


def layout(root: Node, left: float = 0.0, top: float = 0.0) -> Layout:
    """Place a tree with its upper left corner at (left, top).

    Parameters
    ----------
    root : its top node
    left, top : corner [picture units]

    Returns
    -------
    Layout
        width and height of the tree alone

    Examples
    --------
    >>> leaves = tuple(Node(name, "event", (name,)) for name in "ab")
    >>> places = layout(Node("t", "or", ("t",), children=leaves)).placed
    >>> places["t"].x == (places["a"].x + places["b"].x) / 2
    True
    """
    offsets, lefts, rights = _spread(root)
    shift = left + BOX / 2 - min(lefts)
    heights = [max(len(n.lines) for n in level) * LINE + 2 * PAD for level in _levels(root)]
    tops = [top]
    for height in heights[:-1]:
        tops.append(tops[-1] + height + STEM + SYMBOL + UNDER + BUS)
    placed = {node.key: Placed(node, offset + shift, tops[depth], heights[depth])
              for node, depth, offset in offsets}  # fmt: skip
    bottom = tops[-1] + heights[-1] + STEM + SYMBOL + UNDER
    return Layout(placed, max(rights) - min(lefts) + BOX, bottom - top)


def _levels(root: Node) -> Iterator[list[Node]]:
    level = [root]
    while level:
        yield level
        level = [child for node in level for child in node.children]


def _spread(node: Node) -> tuple[list[tuple[Node, int, float]], list[float], list[float]]:
    """Offsets of a branch from its top node, and its left and right edge at each level."""
    placed: list[tuple[Node, int, float]] = []
    lefts: list[float] = []
    rights: list[float] = []
    shifts: list[float] = []
    for child in node.children:
        own, own_lefts, own_rights = _spread(child)
        pairs = zip(rights, own_lefts, strict=False)
        shift = max((r - l + BOX + GAP for r, l in pairs), default=0.0)
        shifts.append(shift)
        placed += [(n, depth + 1, x + shift) for n, depth, x in own]
        rights = [x + shift for x in own_rights] + rights[len(own_rights):]
        lefts += [x + shift for x in own_lefts[len(lefts):]]
    middle = (shifts[0] + shifts[-1]) / 2 if shifts else 0.0
    return ([(node, 0, 0.0)] + [(n, depth, x - middle) for n, depth, x in placed],
            [0.0] + [x - middle for x in lefts], [0.0] + [x - middle for x in rights])  # fmt: skip
