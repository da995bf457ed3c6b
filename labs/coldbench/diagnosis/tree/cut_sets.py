"""Minimal cut sets from a decision diagram.

They are kept as a diagram of their own, in which a path of `high` branches to true is one set:
thousands of sets cost little room. Only for trees without negation, which all of ours are.

Source: Rauzy, New algorithms for fault tree analysis, 1993.
"""

from collections.abc import Iterator, Mapping
from functools import cached_property

from coldbench.diagnosis.tree.bdd import FALSE, TRUE, Diagram


class CutSets:
    """The minimal cut sets of one node of a diagram."""

    def __init__(self, diagram: Diagram, root: int) -> None:
        self.diagram = diagram
        self._unique: dict[tuple[int, int, int], int] = {}
        self.nodes = [diagram.nodes[FALSE], diagram.nodes[TRUE]]
        self._without: dict[tuple[int, int], int] = {}
        self._count = {FALSE: 0, TRUE: 1}
        self.root = self._minimal(root)

    def _node(self, level: int, high: int, low: int) -> int:
        if high == FALSE:
            return low
        key = (level, high, low)
        if key not in self._unique:
            self._unique[key] = len(self.nodes)
            self.nodes.append(key)
        return self._unique[key]

    def _minimal(self, root: int) -> int:
        made = {FALSE: FALSE, TRUE: TRUE}
        for n in self.diagram.reachable(root):
            level, high, low = self.diagram.nodes[n]
            made[n] = self._node(level, self._less(made[high], made[low]), made[low])
        return made[root]

    def _less(self, family: int, other: int) -> int:
        """Sets of a family that hold no set of another family."""
        if family == FALSE or other == TRUE or family == other:
            return FALSE
        if other == FALSE or family == TRUE:
            return family
        key = (family, other)
        if key not in self._without:
            self._without[key] = self._less_new(family, other)
        return self._without[key]

    def _less_new(self, family: int, other: int) -> int:
        level, high, low = self.nodes[family]
        level_o, high_o, low_o = self.nodes[other]
        if level < level_o:
            return self._node(level, self._less(high, other), self._less(low, other))
        if level > level_o:
            return self._less(family, low_o)
        kept = self._less(self._less(high, high_o), low_o)
        return self._node(level, kept, self._less(low, low_o))

    @property
    def count(self) -> int:
        """How many minimal cut sets there are."""
        return self._counted(self.root)

    def _counted(self, root: int) -> int:
        for n in self._below(root):
            if n not in self._count:
                _, high, low = self.nodes[n]
                self._count[n] = self._count[high] + self._count[low]
        return self._count[root]

    def _below(self, root: int) -> list[int]:
        seen, stack = {FALSE, TRUE}, [root]
        while stack:
            here = stack.pop()
            if here not in seen:
                seen.add(here)
                stack += self.nodes[here][1:]
        return sorted((n for n in seen if n > TRUE), key=lambda n: -self.nodes[n][0])

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        """Yield the sets, each in the order of the diagram's events."""
        stack: list[tuple[int, tuple[str, ...]]] = [(self.root, ())]
        while stack:
            here, chosen = stack.pop()
            if here == TRUE:
                yield chosen
            elif here != FALSE:
                level, high, low = self.nodes[here]
                stack.append((low, chosen))
                stack.append((high, (*chosen, self.diagram.events[level])))

    def smallest(self, limit: int) -> list[tuple[str, ...]]:
        """Return up to `limit` sets, those of fewest events first."""
        found: list[tuple[str, ...]] = []
        least = self._least_sizes()
        for size in range(len(self.diagram.events) + 1):
            for one in self._of_size(size, least):
                if len(found) == limit:
                    return found
                found.append(one)
            if len(found) >= self.count:
                break
        return found

    def _of_size(self, size: int, least: dict[int, float]) -> Iterator[tuple[str, ...]]:
        stack: list[tuple[int, tuple[str, ...]]] = [(self.root, ())]
        while stack:
            here, chosen = stack.pop()
            left = size - len(chosen)
            if here == TRUE and left == 0:
                yield chosen
            elif here > TRUE and least[here] <= left:
                level, high, low = self.nodes[here]
                stack.append((low, chosen))
                stack.append((high, (*chosen, self.diagram.events[level])))

    def _least_sizes(self) -> dict[int, float]:
        least: dict[int, float] = {FALSE: float("inf"), TRUE: 0}
        for n in self._below(self.root):
            _, high, low = self.nodes[n]
            least[n] = min(1 + least[high], least[low])
        return least

    def rare_event_bound(self, chance: Mapping[str, float]) -> float:
        """Return the sum of the sets' probabilities: never below the exact value."""
        value = {FALSE: 0.0, TRUE: 1.0}
        for n in self._below(self.root):
            level, high, low = self.nodes[n]
            value[n] = chance[self.diagram.events[level]] * value[high] + value[low]
        return value[self.root]

    def union_with(self, event: str) -> int:
        """Return the diagram's node of "some minimal cut set that holds the event happens"."""
        wanted, d = self.diagram.level[event], self.diagram
        holding: dict[int, int] = {}
        for n in self._nodes:
            level, high, low = self.nodes[n]
            if level < wanted:
                others = holding.get(low, FALSE)
                either = d.either(holding.get(high, FALSE), others)
                holding[n] = d.node(level, either, others)
            elif level == wanted:  # further down the event cannot stand any more
                holding[n] = d.node(level, self._unions[high], FALSE)
        return holding.get(self.root, FALSE)

    @cached_property
    def _nodes(self) -> list[int]:
        return self._below(self.root)

    @cached_property
    def _unions(self) -> dict[int, int]:
        """The diagram's node of "some set of this family happens", for every family."""
        d, union = self.diagram, {FALSE: FALSE, TRUE: TRUE}
        for n in self._nodes:
            level, high, low = self.nodes[n]
            union[n] = d.node(level, d.either(union[high], union[low]), union[low])
        return union
