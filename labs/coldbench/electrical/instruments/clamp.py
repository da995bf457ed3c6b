"""Current clamp: put around one wire or part, or told the two points it lies between."""

from typing import NamedTuple

from coldbench.electrical.instruments.data import instrument
from coldbench.electrical.instruments.reading import Reading, read_display
from coldbench.electrical.solution import Solution
from coldbench.errors import InputError

Place = str | int
Path = tuple[tuple[str, ...], float]
Ways = dict[str, dict[str, dict[str, float]]]


def clamp(solution: Solution, around: str) -> Reading:
    """Return the current in a wire or part.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    around : str
        Id of a wire or part, or one path of it ("K1.coil").

    Returns
    -------
    Reading
        Current [A], positive from the first end or terminal to the second; shown in steps
        of 0.1 A.

    Raises
    ------
    InputError
        Unknown id.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> clamp(solve(load_circuit("three-relay-fans"), "low"), "M1").shown
    '6.3 A'
    """
    if around not in solution.currents:
        known = ", ".join((*solution.circuit.parts, *solution.circuit.wires))
        raise InputError(f"clamp: {solution.circuit.name} has no wire or part {around!r}; "
                         f"it has {known}")
    return read_display(instrument("clamp"), solution.currents[around])


def clamp_between(solution: Solution, red: Place, black: Place) -> Reading:
    """Return the current in the one wire or part that leads from red to black.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    red, black : str or int
        Test-point numbers or nodes at its ends.

    Returns
    -------
    Reading
        Current [A], positive from red to black.

    Raises
    ------
    InputError
        No way, or more than one, leads from red to black without a branching.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> clamp_between(solve(load_circuit("three-relay-fans"), "low"), 5, 6).shown
    '6.3 A'
    """
    found = path_between(solution, red, black)
    if found is None:
        raise InputError(f"clamp: no single wire or part leads from {red} to {black}; give the "
                         f"two ends of one: {_nearby(solution, red)}")
    names, amps = found
    return read_display(instrument("clamp"), amps, f"Around {', '.join(names)}.")


def path_between(solution: Solution, red: Place, black: Place) -> Path | None:
    """Return the wires and parts of the only unbranched way from red to black, and its current.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    red, black : str or int
        Test-point numbers or nodes.

    Returns
    -------
    tuple of (ids, float) or None
        Ids in order and current from red to black [A]; None if there is no such way or
        several.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> path_between(solve(load_circuit("three-relay-fans"), "off"), "K1.87", "M1.minus")[0]
    ('W9', 'M1')
    """
    start, goal = (solution.circuit.node(place) for place in (red, black))
    around = _ways(solution)
    found = [walk for first in around.get(start, {})
             if (walk := _walk(around, start, first, goal))]
    if start == goal or len(found) != 1:
        return None
    walk = found[0]
    return tuple(name for name, _, _ in walk), walk[0][2]


class Way(NamedTuple):
    """The unbranched way between two nodes: ids in order, and the node after the first of them."""

    names: tuple[str, ...]
    there: str


def all_ways(solution: Solution) -> dict[tuple[str, str], Way]:
    """Return every pair of nodes that `path_between` finds a way for.

    Parameters
    ----------
    solution : Solution
        Solved circuit.

    Returns
    -------
    dict of (red, black) to Way

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> all_ways(solve(load_circuit("three-relay-fans"), "off"))["K1.87", "M1.minus"].names
    ('W9', 'M1')
    """
    around, found = _ways(solution), {}
    for start in around:
        for first in around[start]:
            for goal, way in _reached(around, start, first).items():
                found.setdefault((start, goal), []).append(way)
    known = set(solution.circuit.nodes)
    return {(red, black): ways[0] for (red, black), ways in found.items()
            if len(ways) == 1 and red != black and {red, black} <= known}


def way_currents(solution: Solution, ways: dict[tuple[str, str], Way]) -> list[float]:
    """Return the current of each way from red to black [A], list.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    ways : dict
        From `all_ways`, of the same circuit.

    Returns
    -------
    list of float

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> low = solve(load_circuit("three-relay-fans"), "low")
    >>> ways = {("M1.plus", "M1.minus"): Way(("M1",), "M1.minus")}
    >>> round(way_currents(low, ways)[0], 1)
    6.3
    """
    around = _ways(solution)
    return [around[red][way.names[0]][way.there] for (red, _), way in ways.items()]


def _reached(around: Ways, start: str, first: str) -> dict[str, Way]:
    """Every node that the unbranched way through `first` comes to, with that way."""
    found, names, here, name, there = {}, (), start, first, ""
    while True:
        ends = around[here][name]
        names = (*names, name)
        for goal in ends:
            found.setdefault(goal, Way(names, there or goal))
        # a terminal without a wire leads nowhere
        onward = [end for end in ends if len(around[end]) > 1]
        if len(onward) != 1 or len(names) > len(around):
            return found
        there = there or onward[0]
        others = [other for other in around[onward[0]] if other != name]
        if len(others) != 1 or onward[0] == start:
            return found
        here, name = onward[0], others[0]


def _ways(solution: Solution) -> Ways:
    """Node → id of wire or part → node at its other end → current that way [A]."""
    table: Ways = {}
    for branch, amps in zip(solution.network.branches, solution.branch_currents, strict=True):
        for here, there, flow in ((branch.a, branch.b, amps), (branch.b, branch.a, -amps)):
            ends = table.setdefault(here, {}).setdefault(branch.part, {})
            ends[there] = ends.get(there, 0.0) + flow
    return table


def _walk(around: Ways, start: str, first: str, goal: str) -> list[tuple[str, str, float]]:
    """Steps (id, node reached, current) from start through `first` to goal; [] if it branches."""
    steps, here, name = [], start, first
    while True:
        ends = around[here][name]
        if goal in ends:
            return [*steps, (name, goal, ends[goal])]
        # a terminal without a wire leads nowhere
        onward = [end for end in ends if len(around[end]) > 1]
        if len(onward) != 1 or len(steps) > len(around):
            return []
        there, flow = onward[0], ends[onward[0]]
        steps.append((name, there, flow))
        others = [other for other in around[there] if other != name]
        if len(others) != 1 or there == start:
            return []
        here, name = there, others[0]


def _nearby(solution: Solution, place: Place) -> str:
    """Ends of what hangs on a place: "W8 leads to M1.plus"."""
    here = solution.circuit.node(place)
    return ", ".join(f"{name} leads to {' or '.join(ends)}"
                     for name, ends in _ways(solution).get(here, {}).items())
