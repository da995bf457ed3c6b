"""A fault tree as a drawing: standard gate symbols, its own layout, and all of it in words.

In a notebook:

    fault_tree(read_tree("no-fan-air"))

In a program:

    write_tree_diagram(read_tree("no-fan-air"), "tree.pdf")

A large tree is drawn as several branches, one under the other; a triangle with a number says
where a branch goes on. So is a gate that stands in several places.
"""

from dataclasses import dataclass
from itertools import count
from pathlib import Path

from coldbench.panels.picture import Picture
from coldbench.panels.still import style_sheet
from coldbench.panels.svg import tag, text
from coldbench.panels.svg_file import svg_document, write_drawing
from coldbench.panels.tree_layout import Layout, Node, layout
from coldbench.panels.tree_symbols import drawn, links
from coldbench.panels.tree_words import describe_tree, name_lines, top_down

MOST_ACROSS, MOST_DEEP = 11, 6  # boxes side by side and levels in one branch
MARGIN, BETWEEN = 14, 34
LEGEND = ("≥1: one is enough (OR). &: all together (AND). m/n: m of the n (voting). Circle: basic "
          "event, with its probability where known.")  # fmt: skip
ELSEWHERE = " Triangle: the branch is drawn at the same number."


@dataclass(frozen=True)
class TreeDrawing:
    """A drawn tree: a picture with its text alternative; a notebook shows it."""

    picture: Picture

    def html(self) -> str:
        """The drawing as HTML with inline SVG and its text alternative."""
        body = tag("div", self.picture.svg(), class_="cb-pictures cb-ft-page")
        return tag("style", style_sheet()) + tag("div", body, class_="cb-panel cb-ft-figure")

    def _repr_mimebundle_(self, **options) -> dict:
        words = f"{self.picture.title}. {self.picture.description}"
        return {"text/html": self.html(), "text/plain": words}


def fault_tree(tree) -> TreeDrawing:
    """A fault tree as a drawing for a notebook.

    Parameters
    ----------
    tree : `coldbench.diagnosis.tree.Tree`

    Examples
    --------
    >>> from coldbench.diagnosis.tree import read_tree
    >>> fault_tree(read_tree("pressure-tank")).picture.title
    'Fault tree: tank ruptures'
    """
    return TreeDrawing(tree_picture(tree))


def tree_picture(tree) -> Picture:
    """A fault tree as a picture with its text alternative.

    Parameters
    ----------
    tree : `coldbench.diagnosis.tree.Tree`
    """
    body, width, height = drawing(branches(tree))
    return Picture("tree", round(width), round(height), f"Fault tree: {tree.top}",
                   describe_tree(tree), body, "")  # fmt: skip


def tree_svg(tree) -> str:
    """A fault tree as one SVG document with title, legend and style of its own."""
    picture = tree_picture(tree)
    width, height = max(picture.width, 980), picture.height + 70
    head = text(16, 28, tree.title or tree.top, "cb-name", "start")
    legend = LEGEND + (ELSEWHERE if _cuts(tree) else "")
    foot = text(16, height - 10, legend, "cb-ft-small", "start")
    inner = tag("g", picture.background, transform="translate(0 40)")
    return svg_document(picture.title, picture.description, head + inner + foot, width, height)


def write_tree_diagram(tree, file) -> Path:
    """Write the drawing of a fault tree to a file.

    Parameters
    ----------
    tree : `coldbench.diagnosis.tree.Tree`
    file : where to [.svg, .pdf or .png]

    Raises
    ------
    InputError : another kind of file, a folder that is not there, no browser for PDF or PNG
    """
    return write_drawing(tree_svg(tree), file, f"Fault tree: {tree.top}", "a fault tree",
                         (".svg", ".pdf", ".png"))  # fmt: skip


def drawing(roots: list[Node]) -> tuple[str, float, float]:
    """Draw branches one under the other; returns SVG, width, height."""
    laid, top = [], float(MARGIN)
    for root in roots:
        laid.append(layout(root, MARGIN, top))
        top += laid[-1].height + BETWEEN
    width = max(one.width for one in laid) + 2 * MARGIN + (38 if len(roots) > 1 else 0)
    return "".join(map(drawn_branch, laid)), width, top - BETWEEN + MARGIN


def drawn_branch(one: Layout) -> str:
    """Lines first, then boxes and symbols over them."""
    places = one.placed
    ways = (links(place, [places[child.key] for child in place.node.children])
            for place in places.values())  # fmt: skip
    return "".join(ways) + "".join(map(drawn, places.values()))


def branches(tree) -> list[Node]:
    """A tree as nodes: the top branch, then each branch that a triangle leads to."""
    cuts = _cuts(tree)
    heads = [name for name in top_down(tree) if name in cuts]
    numbers = {name: str(i) for i, name in enumerate(heads, start=1)}
    places, keys = _places(tree), count()
    return [_node(tree, name, numbers, places, keys, head=True) for name in (tree.top, *heads)]


def _node(tree, name: str, numbers: dict, places: dict, keys, head: bool = False) -> Node:
    key, lines = f"n{next(keys)}", name_lines(name)
    if name in tree.house:
        return Node(key, "house", lines, "on" if tree.house[name] else "off")
    if name in tree.events:
        chance = tree.events[name]
        said = [] if chance is None else [f"{chance:g}"]
        said += [f"in {places[name]} places"] if places[name] > 1 else []
        return Node(key, "event", lines, under=", ".join(said))
    if name in numbers and not head:
        return Node(key, "transfer", lines, numbers[name])
    gate = tree.gates[name]
    sign = {"or": "≥1", "and": "&"}.get(gate.kind, f"{gate.k}/{len(gate.inputs)}")
    children = tuple(_node(tree, child, numbers, places, keys) for child in gate.inputs)
    return Node(key, gate.kind, lines, sign, "", numbers.get(name, ""), children)


def _places(tree) -> dict[str, int]:
    """How often each name stands under a gate of the tree."""
    found: dict[str, int] = {}
    for gate in tree.order:
        for child in tree.gates[gate].inputs:
            found[child] = found.get(child, 0) + 1
    return found


def _cuts(tree) -> set[str]:
    """Gates drawn as branches of their own: those in several places, and what is too large."""
    places = _places(tree)
    cuts = {name for name in tree.order if places.get(name, 0) > 1}
    across: dict[str, int] = {}
    deep: dict[str, int] = {}
    for name in tree.order:
        inner = [child for child in tree.gates[name].inputs
                 if child in tree.gates and child not in cuts]  # fmt: skip
        while inner and max(deep[child] for child in inner) >= MOST_DEEP:
            inner.remove(deepest := max(inner, key=deep.get))
            cuts.add(deepest)
        plain = len(tree.gates[name].inputs)
        while inner and plain - len(inner) + sum(across[c] for c in inner) > MOST_ACROSS:
            widest = max(inner, key=across.get)
            if across[widest] <= 1:
                break
            inner.remove(widest)
            cuts.add(widest)
        across[name] = plain - len(inner) + sum(across[child] for child in inner)
        deep[name] = 1 + max((deep[child] for child in inner), default=0)
    return cuts
