"""Common-cause failures by the beta factor: parts that fail together for one reason.

Each event of a group is split in two: its own part with probability (1 − β)·p, and one event
common to the group with probability β·p.

Source: Fleming, A reliability model for common mode failures, 1975 (from memory).
"""

from collections.abc import Sequence
from dataclasses import replace

from coldbench.diagnosis.tree.model import Gate, Tree, check_tree
from coldbench.errors import InputError


def with_common_cause(tree: Tree, group: Sequence[str], beta: float,
                      name: str = "common cause") -> Tree:
    """Return a tree in which a group of events can also fail together.

    Parameters
    ----------
    tree : Tree
        Tree.
    group : sequence of str
        Two or more events of equal probability.
    beta : float
        Share of their probability that is common, 0 to 1 [-].
    name : str
        Name of the common event.

    Returns
    -------
    Tree

    Raises
    ------
    InputError
        If an event is unknown, the probabilities differ, or beta is outside 0 to 1.

    Source: Fleming 1975.

    Examples
    --------
    >>> from coldbench.diagnosis.tree.analysis import analyse
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "and", "inputs": ["a", "b"]}},
    ...                   "event": {"a": 0.01, "b": 0.01}})
    >>> round(analyse(with_common_cause(tree, ["a", "b"], 0.1)).top_probability, 9)
    0.001080919
    """
    if not 0.0 <= beta <= 1.0:
        raise InputError(f"beta is {beta!r}; accepted: 0 to 1")
    if missing := [event for event in group if event not in tree.events]:
        raise InputError(f"{missing[0]!r} is not an event of this tree")
    chances = {tree.events[event] for event in group}
    if len(set(group)) < 2 or len(chances) != 1 or None in chances:
        raise InputError("a common-cause group needs two or more events of one known probability")
    p = chances.pop()
    own = {event: f"{event}, alone" for event in group}
    events = {own.get(event, event): (1.0 - beta) * p if event in own else chance
              for event, chance in tree.events.items()} | {name: beta * p}
    gates = dict(tree.gates) | {event: Gate("or", (own[event], name)) for event in own}
    changed = replace(tree, gates=gates, events=events)
    check_tree(changed)
    return changed
