"""A fault tree: gates, basic events with probabilities, house events, and the checks on them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from coldbench.errors import InputError

KINDS = ("and", "or", "atleast")
MOST_EVENTS, MOST_GATES = 400, 2000


@dataclass(frozen=True)
class Gate:
    """A gate: kind "and", "or" or "atleast" (k or more of its inputs)."""

    kind: str
    inputs: tuple[str, ...]
    k: int | None = None

    @property
    def needed(self) -> int:
        """How many inputs must be true."""
        return {"and": len(self.inputs), "or": 1}.get(self.kind, self.k)

    @property
    def words(self) -> str:
        """The gate's kind as people say it."""
        if self.kind == "atleast":
            return f"{self.k} of {len(self.inputs)}"
        return self.kind.upper()


@dataclass(frozen=True)
class Tree:
    """A fault tree.

    top [name of a gate]; gates [name → Gate]; events [basic event → probability, None where it
    is not known]; house [house event → true or false]; title [for people].
    """

    top: str
    gates: Mapping[str, Gate]
    events: Mapping[str, float | None]
    house: Mapping[str, bool] = field(default_factory=dict)
    title: str = ""

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Gates under the top event, each after the gates it needs."""
        return tuple(_upwards(self))

    @cached_property
    def used_events(self) -> tuple[str, ...]:
        """Basic events under the top event, in the order a reader meets them."""
        seen: dict[str, None] = {}
        waiting = [self.top]
        visited = set()
        while waiting:
            name = waiting.pop()
            if name in self.events:
                seen.setdefault(name)
            elif name in self.gates and name not in visited:
                visited.add(name)
                waiting.extend(reversed(self.gates[name].inputs))
        return tuple(seen)

    def probabilities(self) -> dict[str, float]:
        """Return the probability of each event under the top.

        Returns
        -------
        dict of str to float
            Probability [-].

        Raises
        ------
        InputError
            If one is not known.

        Examples
        --------
        >>> tree_from({"top": "t", "gate": {"t": {"kind": "or", "inputs": ["a"]}},
        ...            "event": {"a": 0.1}}).probabilities()
        {'a': 0.1}
        """
        for name in self.used_events:
            if self.events[name] is None:
                raise InputError(f"event {name!r} has no probability; give a number from 0 to 1")
        return {name: float(self.events[name]) for name in self.used_events}


def _upwards(tree: Tree) -> Iterator[str]:
    """Yield gates under the top, inputs first; the tree must have no cycle."""
    done: set[str] = set()
    waiting = [(tree.top, False)]
    while waiting:
        name, ready = waiting.pop()
        if name in done or name not in tree.gates:
            continue
        if ready:
            done.add(name)
            yield name
        else:
            waiting.append((name, True))
            waiting.extend((child, False) for child in tree.gates[name].inputs)


def tree_from(data: Any, where: str = "tree") -> Tree:
    """Make a fault tree of plain data.

    Parameters
    ----------
    data : dict
        `{"top": name, "gate": {name: {"kind": "and" | "or" | "atleast", "k": 2, "inputs":
        [names]}}, "event": {name: probability}, "house": {name: true}, "title": text}`.
        An event may be given as `"unknown"` where its probability is not known.
    where : str
        File, for messages.

    Returns
    -------
    Tree

    Raises
    ------
    InputError
        With file, name and reason: a cycle, a gate without inputs, a name used for a gate and an
        event, a probability outside 0 to 1, an input that does not exist.

    Examples
    --------
    >>> tree = tree_from({"top": "no cooling", "gate": {"no cooling": {"kind": "or",
    ...     "inputs": ["fuse blown", "relay open"]}}, "event": {"fuse blown": 0.1,
    ...     "relay open": 0.2}})
    >>> tree.used_events
    ('fuse blown', 'relay open')
    """
    if not isinstance(data, Mapping):
        raise InputError(f"{where}: a fault tree is a table with top, gate and event")
    if unknown := sorted(set(map(str, data)) - {"top", "gate", "event", "house", "title"}):
        raise InputError(f"{where}: {unknown[0]!r} is unknown; accepted: top, gate, event, house, "
                         "title")
    gates = {name: _gate(name, row, where) for name, row in _table(data, "gate", where).items()}
    events = {name: _probability(name, p, where)
              for name, p in _table(data, "event", where).items()}
    house = {name: _truth(name, v, where) for name, v in _table(data, "house", where).items()}
    tree = Tree(str(data.get("top", "")), gates, events, house, str(data.get("title", "")))
    check_tree(tree, where)
    return tree


def check_tree(tree: Tree, where: str = "tree") -> None:
    """Refuse a tree whose names or links are wrong.

    Parameters
    ----------
    tree : Tree
        Tree.
    where : str
        File, for messages.

    Raises
    ------
    InputError
        With file, name and reason.

    Examples
    --------
    >>> check_tree(Tree("t", {"t": Gate("or", ("t",))}, {}))
    Traceback (most recent call last):
    coldbench.errors.InputError: tree: gate 't' leads back to itself: t → t
    """
    if len(tree.events) > MOST_EVENTS or len(tree.gates) > MOST_GATES:
        raise InputError(f"{where}: {len(tree.events)} events and {len(tree.gates)} gates; "
                         f"accepted: up to {MOST_EVENTS} events and {MOST_GATES} gates")
    _check_names(tree, where)
    for name, gate in tree.gates.items():
        _check_gate(tree, name, gate, where)
    _check_cycles(tree, where)


def _check_names(tree: Tree, where: str) -> None:
    kinds = {"gate": tree.gates, "event": tree.events, "house event": tree.house}
    used: dict[str, str] = {}
    for kind, names in kinds.items():
        for name in names:
            if not name.strip():
                raise InputError(f"{where}: a {kind} has an empty name")
            if name in used:
                raise InputError(f"{where}: {name!r} is used for a {used[name]} and for a {kind}; "
                                 "each name may mean one thing")
            used[name] = kind
    if tree.top not in tree.gates:
        raise InputError(f"{where}: top {tree.top!r} is not a gate; the tree has: "
                         f"{', '.join(list(tree.gates)[:8]) or 'no gate at all'}")


def _check_gate(tree: Tree, name: str, gate: Gate, where: str) -> None:
    here = f"{where}: gate {name!r}"
    if not gate.inputs:
        raise InputError(f"{here}: has no inputs; a gate needs at least one")
    if len(set(gate.inputs)) < len(gate.inputs):
        twice = next(i for i in gate.inputs if gate.inputs.count(i) > 1)
        raise InputError(f"{here}: input {twice!r} stands twice; name each once")
    for child in gate.inputs:
        if not (child in tree.gates or child in tree.events or child in tree.house):
            raise InputError(f"{here}: input {child!r} is neither a gate nor an event")
    if gate.kind == "atleast" and not 1 <= (gate.k or 0) <= len(gate.inputs):
        raise InputError(f"{here}: k is {gate.k}; accepted: 1 to {len(gate.inputs)}, the number "
                         "of its inputs")


def _check_cycles(tree: Tree, where: str) -> None:
    state: dict[str, int] = {}
    for start in tree.gates:
        path: list[str] = []
        waiting: list[tuple[str, bool]] = [(start, False)]
        while waiting:
            name, leaving = waiting.pop()
            if leaving:
                state[name] = 2
                path.pop()
                continue
            if state.get(name) == 1:
                loop = [*path[path.index(name):], name]
                raise InputError(f"{where}: gate {name!r} leads back to itself: "
                                 + " → ".join(loop))
            if state.get(name) == 2 or name not in tree.gates:
                continue
            state[name] = 1
            path.append(name)
            waiting.append((name, True))
            waiting.extend((child, False) for child in tree.gates[name].inputs)


def _gate(name: str, row: Any, where: str) -> Gate:
    here = f"{where}: gate {name!r}"
    if not isinstance(row, Mapping) or not set(row) <= {"kind", "inputs", "k"}:
        raise InputError(f"{here}: must be a table with kind, inputs and, for atleast, k")
    kind = row.get("kind")
    if kind not in KINDS:
        raise InputError(f"{here}: kind {kind!r:.40} is not one of {', '.join(KINDS)}")
    inputs, k = row.get("inputs"), row.get("k")
    if not isinstance(inputs, list | tuple) or not all(isinstance(i, str) for i in inputs):
        raise InputError(f"{here}: inputs must be a list of names")
    if kind == "atleast" and (isinstance(k, bool) or not isinstance(k, int)):
        raise InputError(f"{here}: k must be a whole number")
    if kind != "atleast" and k is not None:
        raise InputError(f"{here}: k belongs to atleast gates only")
    return Gate(kind, tuple(inputs), k)


def _probability(name: str, value: Any, where: str) -> float | None:
    if value == "unknown" or value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0.0 <= value <= 1.0:
        raise InputError(f"{where}: probability of event {name!r} is {value!r:.40}; accepted: "
                         "0 to 1")
    return float(value)


def _truth(name: str, value: Any, where: str) -> bool:
    if not isinstance(value, bool):
        raise InputError(f"{where}: house event {name!r} must be true or false, not {value!r:.40}")
    return value


def _table(data: Mapping, key: str, where: str) -> Mapping[str, Any]:
    found = data.get(key, {})
    if not isinstance(found, Mapping) or not all(isinstance(name, str) for name in found):
        raise InputError(f"{where}: {key} must be a table of names")
    return found
