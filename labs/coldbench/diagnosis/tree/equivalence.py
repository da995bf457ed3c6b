"""Do two fault trees say the same? If not, an example in words."""

from dataclasses import dataclass

from coldbench.diagnosis.tree.bdd import FALSE, TRUE, Diagram, diagram_of
from coldbench.diagnosis.tree.model import Tree


@dataclass(frozen=True)
class Difference:
    """A case in which two trees disagree: what happens, and which tree says "top event"."""

    happening: tuple[str, ...]
    first_says_top: bool

    @property
    def words(self) -> str:
        """The example as a sentence about "the first" and "the second" tree."""
        what = {0: "When none of the events happens"}.get(
            len(self.happening), f"When only {_listed(self.happening)} "
            f"happen{'s' if len(self.happening) == 1 else ''}")
        yes, no = ("first", "second") if self.first_says_top else ("second", "first")
        return (f"{what}, the {yes} tree says the top event occurs, the {no} tree says it does "
                "not.")


def _listed(names: tuple[str, ...]) -> str:
    quoted = [f"“{name}”" for name in names]
    return quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + " and " + quoted[-1]


def compare(first: Tree, second: Tree) -> Difference | None:
    """Return the shortest example of a difference, None when the trees are equivalent.

    Parameters
    ----------
    first, second : Tree
        Trees; events of the same name are the same event.

    Returns
    -------
    Difference or None

    Examples
    --------
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> def tree(kind):
    ...     return tree_from({"top": "t", "gate": {"t": {"kind": kind, "inputs": ["a", "b"]}},
    ...                       "event": {"a": 0.1, "b": 0.1}})
    >>> compare(tree("or"), tree("or")) is None
    True
    >>> compare(tree("or"), tree("and")).words
    'When only “b” happens, the first tree says the top event occurs, the second tree says it does not.'
    """
    diagram, (one, other) = diagram_of(first, second)
    if one == other:
        return None
    differ = diagram.ite(one, diagram.ite(other, FALSE, TRUE), other)
    happening = _fewest(diagram, differ)
    return Difference(happening, _holds(diagram, one, set(happening)))


def _fewest(diagram: Diagram, root: int) -> tuple[str, ...]:
    """The events that happen on the way to true with the fewest of them."""
    cost: dict[int, float] = {FALSE: float("inf"), TRUE: 0}
    for n in diagram.reachable(root):
        _, high, low = diagram.nodes[n]
        cost[n] = min(1 + cost[high], cost[low])
    happening, here = [], root
    while here > TRUE:
        level, high, low = diagram.nodes[here]
        if cost[low] <= 1 + cost[high]:
            here = low
        else:
            happening.append(diagram.events[level])
            here = high
    return tuple(happening)


def _holds(diagram: Diagram, root: int, happening: set[str]) -> bool:
    while root > TRUE:
        level, high, low = diagram.nodes[root]
        root = high if diagram.events[level] in happening else low
    return root == TRUE
