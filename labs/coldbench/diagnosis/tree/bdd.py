"""Binary decision diagrams: a tree's logic in a form that can be counted and weighed exactly.

A node is (level, high, low): if the event of that level happens go on with `high`, else with
`low`. Nodes 0 and 1 are false and true. Equal functions get the same node, so two trees are
equivalent when their nodes are equal.

Sources: Bryant, Graph-based algorithms for Boolean function manipulation, 1986; Rauzy, New
algorithms for fault tree analysis, 1993 (minimal cut sets).
"""

from collections.abc import Mapping, Sequence

from coldbench.diagnosis.tree.model import Gate, Tree
from coldbench.errors import InputError

FALSE, TRUE = 0, 1
MOST_NODES = 400_000


class Diagram:
    """A store of nodes over a fixed order of events."""

    def __init__(self, events: Sequence[str]) -> None:
        self.events = tuple(events)
        self.level = {name: i for i, name in enumerate(self.events)}
        last = len(self.events)
        self.nodes: list[tuple[int, int, int]] = [(last, 0, 0), (last, 1, 1)]
        self._unique: dict[tuple[int, int, int], int] = {}
        self._ite: dict[tuple[int, int, int], int] = {}

    def node(self, level: int, high: int, low: int) -> int:
        """Return the node of a choice, the one there is if there is one."""
        if high == low:
            return low
        key = (level, high, low)
        found = self._unique.get(key)
        if found is None:
            if len(self.nodes) >= MOST_NODES:
                raise InputError(f"this tree's logic needs more than {MOST_NODES} nodes; "
                                 "break it into smaller trees")
            found = self._unique[key] = len(self.nodes)
            self.nodes.append(key)
        return found

    def event(self, name: str) -> int:
        """Return the node of a basic event."""
        return self.node(self.level[name], TRUE, FALSE)

    def ite(self, test: int, then: int, other: int) -> int:
        """Return the node of "if test then … else other"."""
        if test == TRUE or then == other:
            return then
        if test == FALSE:
            return other
        if then == TRUE and other == FALSE:
            return test
        key = (test, then, other)
        found = self._ite.get(key)
        if found is None:
            nodes = self.nodes
            top = min(nodes[test][0], nodes[then][0], nodes[other][0])
            highs, lows = zip(*(nodes[n][1:] if nodes[n][0] == top else (n, n) for n in key),
                              strict=True)
            found = self._ite[key] = self.node(top, self.ite(*highs), self.ite(*lows))
        return found

    def either(self, one: int, other: int) -> int:
        """Return the node of "one or the other"."""
        return self.ite(min(one, other), TRUE, max(one, other))

    def at_least(self, k: int, inputs: Sequence[int]) -> int:
        """Return the node of "k or more of the inputs"."""
        # row[j]: j or more of the inputs seen so far, taken from the last to the first
        row = [TRUE] + [FALSE] * k
        for count, one in enumerate(reversed(inputs), start=1):
            row = [TRUE] + [self.ite(one, row[j - 1], row[j]) if j <= count else FALSE
                            for j in range(1, k + 1)]
        return row[k]

    def gate(self, gate: Gate, inputs: Sequence[int]) -> int:
        """Return the node of a gate with the given inputs."""
        return self.at_least(gate.needed, inputs)

    def tree(self, tree: Tree) -> int:
        """Return the node of a tree's top event."""
        known = {name: TRUE if value else FALSE for name, value in tree.house.items()}
        known |= {name: self.event(name) for name in tree.used_events}
        for name in tree.order:
            gate = tree.gates[name]
            known[name] = self.gate(gate, [known[child] for child in gate.inputs])
        return known[tree.top]

    def reachable(self, root: int) -> list[int]:
        """Return the nodes under a root, children before parents, without false and true."""
        seen, stack = {FALSE, TRUE}, [root]
        while stack:
            here = stack.pop()
            if here not in seen:
                seen.add(here)
                stack += self.nodes[here][1:]
        return sorted((n for n in seen if n > TRUE), key=lambda n: -self.nodes[n][0])

    def probability(self, root: int, chance: Mapping[str, float]) -> dict[int, float]:
        """Return the probability of each node under a root, by Shannon's expansion.

        chance [event → probability; numbers or arrays of equal shape].
        """
        value = {FALSE: 0.0, TRUE: 1.0}
        for n in self.reachable(root):
            level, high, low = self.nodes[n]
            p = chance[self.events[level]]
            value[n] = p * value[high] + (1.0 - p) * value[low]
        return value


def diagram_of(*trees: Tree) -> tuple[Diagram, list[int]]:
    """Return one diagram for several trees and the node of each top event.

    Parameters
    ----------
    *trees : Tree
        Trees; events of the same name are the same event.

    Returns
    -------
    Diagram, list of int

    Examples
    --------
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "and", "inputs": ["a", "b"]}},
    ...                   "event": {"a": 0.1, "b": 0.2}})
    >>> diagram, (top,) = diagram_of(tree)
    >>> round(diagram.probability(top, tree.probabilities())[top], 12)
    0.02
    """
    events = dict.fromkeys(name for tree in trees for name in tree.used_events)
    diagram = Diagram(tuple(events))
    return diagram, [diagram.tree(tree) for tree in trees]
