"""Fault trees as learners write them: nested lists, a table of gates, or rows of cut sets.

    ["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"]]        a list: gate, then inputs
    ["2 of", "sensor A", "sensor B", "sensor C"]                      two or more of them
    {"no air": ["or", "fuse blown", "both fans"],                     a table: first name = top
     "both fans": ["and", "fan 1 open", "fan 2 open"]}
    [["fuse blown"], ["fan 1 open", "fan 2 open"]]                    rows: each a cut set

Whatever a learner sends is untrusted: sizes are limited before anything is worked out.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from coldbench.diagnosis.tree.model import Gate, Tree, check_tree
from coldbench.errors import InputError
from coldbench.worksheet.spelling import exact, find, one_line, quoted

MOST_GATES, MOST_EVENTS, DEEPEST, LONGEST_NAME = 60, 40, 20, 80
TOP = "top event"
_VOTING = re.compile(r"(?:at least )?(\d{1,3}) ?(?:of|/)(?: ?(\d{1,3}))?|at least (\d{1,3})")
GATE_WORDS = '"or", "and" or a number such as "2 of"'


def gate_rule(word: Any) -> tuple[str, int | None, int | None] | None:
    """What a gate's first word asks for: kind, how many, of how many; None if it is no gate.

    >>> gate_rule("OR"), gate_rule("2 of 3"), gate_rule("fuse blown")
    (('or', None, None), ('atleast', 2, 3), None)
    """
    if not isinstance(word, str) or len(word) > 20:
        return None
    text = exact(word)
    if text in ("or", "and"):
        return text, None, None
    if found := _VOTING.fullmatch(text):
        return "atleast", int(found[1] or found[3]), int(found[2]) if found[2] else None
    return None


def is_rows(value: Any) -> bool:
    """True for rows of names: a list of lists that holds no gate.

    >>> is_rows([["a"], ["b", "c"]]), is_rows(["or", "a"]), is_rows([])
    (True, False, False)
    """
    return isinstance(value, list | tuple) and bool(value) and all(
        isinstance(row, list | tuple) and row and gate_rule(row[0]) is None
        and all(isinstance(name, str) for name in row) for row in value)


@dataclass
class _Reader:
    """Builds one tree; `named` turns what stands for a cause into its one spelling."""

    named: Callable[[str], str]
    gates: dict[str, Gate] = field(default_factory=dict)
    events: dict[str, None] = field(default_factory=dict)
    own: dict[str, str] = field(default_factory=dict)  # a table's gate names, by spelling

    def event(self, written: Any) -> str:
        if not isinstance(written, str) or not written.strip():
            raise InputError(f"{quoted(written)} is neither a cause nor a gate; a gate is a list "
                             f"that begins with {GATE_WORDS}")
        if len(written) > LONGEST_NAME:
            raise InputError(f"the name {one_line(written, 30)!r} is longer than {LONGEST_NAME} "
                             "signs")
        name = self.named(" ".join(written.split()))
        self.events[name] = None
        if len(self.events) > MOST_EVENTS:
            raise InputError(f"the tree has more than {MOST_EVENTS} causes")
        return name

    def gate(self, name: str, value: Any, depth: int) -> str:
        """Take a gate written as a list."""
        if depth > DEEPEST:
            raise InputError(f"the tree is more than {DEEPEST} gates deep")
        if name in self.gates:
            raise InputError(f"two gates are named {one_line(name)!r}")
        if len(self.gates) >= MOST_GATES:
            raise InputError(f"the tree has more than {MOST_GATES} gates")
        rule = gate_rule(value[0]) if value else None
        if rule is None:
            first = quoted(value[0]) if value else "an empty list"
            raise InputError(f"a gate begins with {GATE_WORDS}, not with {first}")
        kind, needed, of = rule
        self.gates[name] = Gate("or", (), None)  # keeps its place: inputs come after it
        inputs = [self.input(name, i, one, depth) for i, one in enumerate(value[1:], start=1)]
        self.gates[name] = _gate(kind, needed, of, inputs)
        return name

    def input(self, gate: str, place: int, value: Any, depth: int) -> str:
        if isinstance(value, list | tuple):
            return self.gate(f"{gate}.{place}" if gate != TOP else f"gate {place}", value,
                             depth + 1)
        if isinstance(value, str) and exact(value) in self.own:
            return self.own[exact(value)]
        return self.event(value)


def _gate(kind: str, needed: int | None, of: int | None, inputs: list[str]) -> Gate:
    if not inputs:
        raise InputError("a gate has no inputs; write them behind its first word")
    if twice := [name for name in inputs if inputs.count(name) > 1]:
        raise InputError(f"{twice[0]!r} stands twice under one gate; name each once")
    if kind != "atleast":
        return Gate(kind, tuple(inputs))
    if of not in (None, len(inputs)):
        raise InputError(f'"{needed} of {of}" has {len(inputs)} inputs; it needs {of}')
    if not 1 <= needed <= len(inputs):
        raise InputError(f'"{needed} of" stands before {len(inputs)} inputs; the number must lie '
                         f"between 1 and {len(inputs)}")
    return Gate(kind, tuple(inputs), needed)


def tree_of(value: Any, named: Callable[[str], str] = str) -> Tree:
    """Make a fault tree of what a learner wrote, in any of the ways the module shows.

    Parameters
    ----------
    value : list, table, or Tree
        Plain data; a `Tree` is taken as it is.
    named : function
        Turns a cause as written into its one spelling; raises InputError when it is none.

    Returns
    -------
    Tree

    Raises
    ------
    InputError
        One sentence: what is wrong and where.

    Examples
    --------
    >>> tree = tree_of(["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"]])
    >>> tree.gates["gate 2"].kind, tree.used_events
    ('and', ('fuse blown', 'fan 1 open', 'fan 2 open'))
    """
    if isinstance(value, Tree):
        return value
    reader = _Reader(named)
    top = TOP
    if isinstance(value, Mapping):
        top = _table(reader, value)
    elif is_rows(value):
        _rows(reader, value)
    elif isinstance(value, list | tuple):
        reader.gate(TOP, value, 1)
    else:
        raise InputError(f"{quoted(value)} is no fault tree; a gate is a list that begins with "
                         f"{GATE_WORDS}")
    tree = Tree(top, reader.gates, dict.fromkeys(reader.events))
    check_tree(tree, "your tree")
    if unused := [name for name in reader.gates if name not in tree.order]:
        raise InputError(f"gate {unused[0]!r} hangs under no other gate; the first gate of the "
                         "table is the top")
    return tree


def _rows(reader: _Reader, rows: Any) -> None:
    if len(rows) >= MOST_GATES:
        raise InputError(f"there are more than {MOST_GATES - 1} rows")
    names = []
    for number, row in enumerate(rows, start=1):
        names.append(reader.gate(f"row {number}", ["and", *row], 1))
    reader.gates = {TOP: _gate("or", None, None, names)} | reader.gates


def _table(reader: _Reader, table: Mapping[Any, Any]) -> str:
    if isinstance(table.get("gate"), Mapping):  # the form of tree files
        top, table = table.get("top"), table["gate"]
        table = {name: _from_file(name, row) for name, row in table.items()}
        if top in table:
            table = {top: table[top]} | table
    if len(table) > MOST_GATES:
        raise InputError(f"the tree has more than {MOST_GATES} gates")
    for name, value in table.items():
        if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_NAME:
            raise InputError(f"{quoted(name)} cannot name a gate; a name is text of up to "
                             f"{LONGEST_NAME} signs")
        if not isinstance(value, list | tuple):
            raise InputError(f"gate {one_line(name)!r} must be a list that begins with "
                             f"{GATE_WORDS}")
        if exact(name) in reader.own:
            raise InputError(f"two gates are named {one_line(name)!r}")
        reader.own[exact(name)] = name
    if not table:
        raise InputError("the table holds no gate")
    for name, value in table.items():
        reader.gate(name, value, 1)
    return next(iter(table))


def _from_file(name: Any, row: Any) -> Any:
    """A gate in the form of tree files, {"kind": …, "inputs": […], "k": …}, as a list."""
    if not isinstance(row, Mapping):
        return row
    kind, inputs = row.get("kind"), row.get("inputs")
    if kind not in ("or", "and", "atleast") or not isinstance(inputs, list | tuple):
        raise InputError(f"gate {one_line(name)!r} needs kind (or, and, atleast) and inputs")
    return [f"{one_line(row.get('k'), 5)} of" if kind == "atleast" else kind, *inputs]


def among(events: tuple[str, ...]) -> Callable[[str], str]:
    """A function that finds a cause among those a question offers.

    >>> among(("Fuse F1 blown", "Fan 1 open"))("fuse f1 blown")
    'Fuse F1 blown'
    """
    def named(written: str) -> str:
        if (found := find(written, events)) is None:
            raise InputError(f"{quoted(written)} is not one of the causes: {'; '.join(events)}")
        return found

    return named


def plain_of(tree: Tree) -> list[Any]:
    """A tree as nested lists; a gate in several places is written out in each.

    >>> plain_of(tree_of({"t": ["or", "a", "g"], "g": ["2 of", "b", "c", "d"]}))
    ['or', 'a', ['2 of', 'b', 'c', 'd']]
    """
    made: dict[str, list[Any]] = {}
    for name in tree.order:
        gate = tree.gates[name]
        word = f"{gate.k} of" if gate.kind == "atleast" else gate.kind
        made[name] = [word, *(made.get(child, child) for child in gate.inputs)]
    return made[tree.top]


def tree_text(tree: Tree, longest: int = 400) -> str:
    """A tree in one line, as shown back to the learner.

    >>> tree_text(tree_of(["or", "a", ["and", "b", "c"], ["2 of", "d", "e", "f"]]))
    'a OR (b AND c) OR 2 of (d, e, f)'
    """
    said: dict[str, str] = {}
    for name in tree.order:
        gate = tree.gates[name]
        inputs = [said.get(child, child) for child in gate.inputs]
        if gate.kind == "atleast":
            flat = [part[1:-1] if part.startswith("(") else part for part in inputs]
            said[name] = f"{gate.k} of ({', '.join(flat)})"
        else:
            text = f" {gate.kind.upper()} ".join(inputs)
            said[name] = f"({text})" if len(inputs) > 1 else text
        said[name] = said[name][: 2 * longest]
    text = said[tree.top]
    text = text[1:-1] if text.startswith("(") and text.endswith(")") else text
    return text if len(text) <= longest else text[: longest - 1] + "…"
