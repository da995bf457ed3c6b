"""Cut sets by rows, as one does it with pencil and paper.

Start with the top event in one row. Replace a gate at a time: AND puts its inputs side by side
in the row, OR makes a row for each input, "k of n" a row for each choice of k. When only basic
events are left, strike out every row that holds another one.

Source: Fussell & Vesely, A new methodology for obtaining cut sets for fault trees, 1972.
"""

import itertools
from collections.abc import Iterator

from coldbench.diagnosis.tree.model import Tree
from coldbench.errors import InputError

MOST_ROWS = 2000
Row = tuple[str, ...]


def mocus(tree: Tree) -> list[list[Row]]:
    """Return the table after each replacement; the last one holds the minimal cut sets.

    Parameters
    ----------
    tree : Tree
        Tree.

    Returns
    -------
    list of list of tuple of str
        Tables; each row is a set of names in the order they came in.

    Raises
    ------
    InputError
        If a table would have more than 2000 rows.

    Source: Fussell & Vesely 1972.

    Examples
    --------
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "or", "inputs": ["a", "g"]},
    ...     "g": {"kind": "and", "inputs": ["b", "c"]}}, "event": {"a": .1, "b": .1, "c": .1}})
    >>> for table in mocus(tree):
    ...     print(table)
    [('t',)]
    [('a',), ('g',)]
    [('a',), ('b', 'c')]
    """
    tables = [[(tree.top,)]]
    while (gate := _next_gate(tree, tables[-1])) is not None:
        rows = list(itertools.islice((new for row in tables[-1]
                                      for new in _replaced(tree, row, gate)), MOST_ROWS + 1))
        if len(rows) > MOST_ROWS:
            raise InputError(f"the table of cut sets grows beyond {MOST_ROWS} rows at gate "
                             f"{gate!r}; use the count and the list of the analysis instead")
        tables.append(list(dict.fromkeys(rows)))
    least = minimal(tables[-1])
    return tables if least == tables[-1] else [*tables, least]


def _next_gate(tree: Tree, rows: list[Row]) -> str | None:
    return next((name for row in rows for name in row
                 if name in tree.gates or name in tree.house), None)


def _replaced(tree: Tree, row: Row, gate: str) -> Iterator[Row]:
    if gate not in row:
        yield row
        return
    at = row.index(gate)
    if gate in tree.house:
        if tree.house[gate]:
            yield row[:at] + row[at + 1:]
        return
    inputs = tree.gates[gate].inputs
    for chosen in itertools.combinations(inputs, tree.gates[gate].needed):
        yield tuple(dict.fromkeys(row[:at] + chosen + row[at + 1:]))


def minimal(rows: list[Row]) -> list[Row]:
    """Return the rows that hold no other row, in the same order.

    Parameters
    ----------
    rows : list of tuple of str
        Sets of names.

    Returns
    -------
    list of tuple of str

    Examples
    --------
    >>> minimal([("a", "b"), ("a",), ("c", "b")])
    [('a',), ('c', 'b')]
    """
    sets = [frozenset(row) for row in rows]
    first = {s: i for i, s in reversed(list(enumerate(sets)))}
    return [row for i, row in enumerate(rows)
            if first[sets[i]] == i and not any(other < sets[i] for other in sets)]
