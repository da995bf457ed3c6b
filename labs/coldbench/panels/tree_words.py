"""A fault tree read out in words, and names broken into short lines."""

from textwrap import wrap

LETTERS = 18  # in a line of a box
MOST_LINES = 4


def name_lines(name: str) -> tuple[str, ...]:
    """A name in short lines that fit a box; what does not fit ends in "…".

    >>> name_lines("low-speed relay does not close")
    ('low-speed relay', 'does not close')
    """
    lines = wrap(" ".join(name.split()), LETTERS, break_long_words=True) or [""]
    if len(lines) > MOST_LINES:
        lines = [*lines[: MOST_LINES - 1], lines[MOST_LINES - 1][: LETTERS - 1] + "…"]
    return tuple(lines)


def describe_tree(tree) -> str:
    """A whole fault tree in words: one sentence for each gate, from the top down.

    Parameters
    ----------
    tree : `coldbench.diagnosis.tree.Tree`

    Examples
    --------
    >>> from coldbench.diagnosis.tree import tree_from
    >>> print(describe_tree(tree_from({"top": "no air", "gate": {"no air": {"kind": "or",
    ...     "inputs": ["fuse blown", "motor open"]}}, "event": {"fuse blown": 0.1,
    ...     "motor open": "unknown"}})))
    Fault tree of “no air”: 1 gate, 2 basic events. “no air” happens when at least one of these happens (OR gate): “fuse blown”, “motor open”. Probability of “fuse blown”: 0.1.
    """
    gates = top_down(tree)
    said = [f"Fault tree of “{tree.top}”: {_count(len(gates), 'gate')}, "
            f"{_count(len(tree.used_events), 'basic event')}."]  # fmt: skip
    said += [gate_sentence(name, tree.gates[name].kind, tree.gates[name].needed,
                           tree.gates[name].inputs) for name in gates]  # fmt: skip
    said += [f"“{name}” is a condition set to {'happen' if tree.house[name] else 'not happen'}."
             for name in _houses(tree, gates)]  # fmt: skip
    chances = [f"“{name}”: {tree.events[name]:g}" for name in tree.used_events
               if tree.events[name] is not None]  # fmt: skip
    if chances:
        said.append(f"Probability of {'; of '.join(chances)}.")
    return " ".join(said)


def gate_sentence(name: str, kind: str, needed: int | None, inputs) -> str:
    """One gate as a sentence.

    >>> gate_sentence("no air", "and", None, ("fan 1 open", "fan 2 open"))
    '“no air” happens when all of these happen together (AND gate): “fan 1 open”, “fan 2 open”.'
    """
    listed = ", ".join(f"“{one}”" for one in inputs) or "nothing yet"
    rule = {"or": "at least one of these happens (OR gate)",
            "and": "all of these happen together (AND gate)"}.get(
                kind, f"at least {needed} of these {len(inputs)} happen (voting gate)")
    return f"“{name}” happens when {rule}: {listed}."


def top_down(tree) -> list[str]:
    """Names of the gates in the order a reader meets them, level by level."""
    found, level = {tree.top: None}, [tree.top]
    while level:
        level = [child for name in level for child in tree.gates[name].inputs
                 if child in tree.gates and child not in found]  # fmt: skip
        level = list(dict.fromkeys(level))
        found |= dict.fromkeys(level)
    return list(found)


def _houses(tree, gates: list[str]) -> list[str]:
    return list(dict.fromkeys(child for name in gates for child in tree.gates[name].inputs
                              if child in tree.house))  # fmt: skip


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
