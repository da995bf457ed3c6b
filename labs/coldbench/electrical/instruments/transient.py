"""Marches a network through time: nodal equations with companions, Newton in each step.

Node 0 of the matrix is the first node after the reference; the reference has index −1. Step
lengths follow the states (currents of windings, voltages of capacitances, back-EMF): a step
is repeated shorter when a state leaves the straight line through its past by more than
`_STRAY` of the largest value it has had. After every switching two short backward-Euler steps
settle what jumps, then the second-order backward difference formula goes on.

Source: as in `dynamic`.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from coldbench.electrical.instruments.dynamic import STEADY, Step, backward, euler
from coldbench.errors import ConvergenceError

_LEAK_S = 1e-12  # 1 TΩ from each node to the reference, as in the steady solution
_STRAY = 5e-4
_PASSES = 60
_SETTLED_V = 1e-9
_SMALLEST = 1e-9  # of the whole time; shorter steps mean there is no solution
_FIRST = 1e-7
_TINY = 1e-2  # amperes or volts too small to look at closely


@dataclass
class Branch:
    """A conductance g [S] with a current j [A] beside it, from node a to node b."""

    a: int
    b: int
    g: float
    j: float = 0.0

    def current(self, voltages: np.ndarray) -> float:
        """Current [A] from a to b.

        >>> Branch(0, -1, 2.0).current(np.array([3.0]))
        6.0
        """
        return self.g * across(voltages, self.a, self.b) + self.j


@dataclass
class Network:
    """Branches (may be switched between steps) and parts with memory or a curved law."""

    nodes: int
    branches: dict[str, Branch] = field(default_factory=dict)
    parts: dict[str, object] = field(default_factory=dict)

    def matrix(self) -> tuple[np.ndarray, np.ndarray]:
        """Conductance matrix [S] and injected currents [A] of the branches."""
        G, I = np.eye(self.nodes) * _LEAK_S, np.zeros(self.nodes)
        for branch in self.branches.values():
            stamp(G, I, branch.a, branch.b, branch.g, branch.j)
        return G, I

    def states(self) -> np.ndarray:
        """What cannot jump, one number for each part."""
        return np.array([part.state for part in self.parts.values()])


@dataclass
class March:
    """What was recorded: times [s], voltages [V] (time, node), currents [A] by part."""

    times: np.ndarray
    voltages: np.ndarray
    currents: dict[str, np.ndarray]
    branch_currents: dict[str, np.ndarray]
    events: list[tuple[float, str]]


Event = tuple[float, Callable[[Network], str]]
Watch = Callable[[Network, np.ndarray], str]


def across(voltages: np.ndarray, a: int, b: int) -> float:
    """Return the voltage from node a to node b; −1 is the reference.

    Parameters
    ----------
    voltages : array (nodes,)
        Node voltages [V].
    a, b : int
        Node numbers.

    Returns
    -------
    float
        Voltage [V].

    Examples
    --------
    >>> across(np.array([3.0, 1.0]), 0, -1)
    3.0
    """
    return float((voltages[a] if a >= 0 else 0.0) - (voltages[b] if b >= 0 else 0.0))


def stamp(G: np.ndarray, I: np.ndarray, a: int, b: int, g: float, j: float) -> None:
    """Add a branch i = g·v + j from a to b to the nodal equations G·v = I, in place.

    Parameters
    ----------
    G : array (nodes, nodes)
        Conductances [S].
    I : array (nodes,)
        Injected currents [A].
    a, b : int
        Node numbers, −1 for the reference.
    g, j : float
        Conductance [S] and current [A].

    Examples
    --------
    >>> G, I = np.zeros((1, 1)), np.zeros(1)
    >>> stamp(G, I, 0, -1, 2.0, -1.0)
    >>> float(G[0, 0]), float(I[0])
    (2.0, 1.0)
    """
    if a >= 0:
        G[a, a] += g
        I[a] -= j
    if b >= 0:
        G[b, b] += g
        I[b] += j
    if a >= 0 and b >= 0:
        G[a, b] -= g
        G[b, a] -= g


def settle(network: Network, guess: np.ndarray) -> np.ndarray:
    """Return the steady voltages, and leave every part in that steady state.

    Parameters
    ----------
    network : Network
        Changed in place: parts take the steady state.
    guess : array (nodes,)
        Where Newton starts [V].

    Returns
    -------
    array (nodes,)
        Node voltages [V].

    Raises
    ------
    ConvergenceError
        Newton found no solution.
    """
    voltages = newton(network, *network.matrix(), guess, STEADY)
    if voltages is None:
        raise ConvergenceError("the circuit has no steady state to start from")
    take(network, voltages, STEADY)
    return voltages


def take(network: Network, voltages: np.ndarray, step: Step) -> None:
    """Let every part take the voltages as the end of a step.

    Parameters
    ----------
    network : Network
        Changed in place.
    voltages : array (nodes,)
        Node voltages [V].
    step : Step
        The step that led there.
    """
    for part in network.parts.values():
        part.accept(across(voltages, part.a, part.b), step)


def newton(network: Network, G: np.ndarray, I: np.ndarray, guess: np.ndarray,
           step: Step) -> np.ndarray | None:
    """Return the voltages at the end of a step, or None where Newton does not settle.

    Parameters
    ----------
    network : Network
        Not changed.
    G, I : arrays
        From `network.matrix()`.
    guess : array (nodes,)
        Start [V].
    step : Step
        Length and rule.

    Returns
    -------
    array (nodes,) or None
        Node voltages [V].
    """
    voltages, last = guess, math.inf
    for _ in range(_PASSES):
        A, b = G.copy(), I.copy()
        for part in network.parts.values():
            g, j = part.companion(across(voltages, part.a, part.b), step)
            stamp(A, b, part.a, part.b, g, j)
        reached = np.linalg.solve(A, b)
        change = float(np.abs(reached - voltages).max(initial=0.0))
        if change <= _SETTLED_V * (1.0 + float(np.abs(reached).max(initial=0.0))):
            return reached
        # halve once Newton runs in circles
        voltages = reached if change < last else 0.5 * (voltages + reached)
        last = change
    return None


def march(network: Network, voltages: np.ndarray, duration_s: float,
          events: Sequence[Event] = (), watch: Watch | None = None,
          longest_s: float | None = None) -> March:
    """Return what happens from a start to `duration_s`.

    Parameters
    ----------
    network : Network
        Parts in their starting state; changed in place.
    voltages : array (nodes,)
        Voltages before the start [V].
    duration_s : float
        Length of the record [s].
    events : sequence of (time, action)
        Switchings known beforehand [s]; the action changes branches and returns words.
    watch : function, optional
        Called after every step; changes branches and returns words, or "".
    longest_s : float, optional
        Longest step [s]; duration/200 if left out.

    Returns
    -------
    March

    Raises
    ------
    ConvergenceError
        No solution even for the shortest step.
    """
    return _Marcher(network, voltages, duration_s, longest_s or duration_s / 200.0).run(
        sorted(events, key=lambda event: event[0]), watch)


class _Marcher:
    """The march under way."""

    def __init__(self, network: Network, voltages: np.ndarray, duration_s: float,
                 longest_s: float) -> None:
        self.network, self.voltages = network, voltages
        self.duration, self.longest = duration_s, longest_s
        self.time, self.rows, self.happened = 0.0, [], []
        self.largest = np.maximum(np.abs(network.states()), _TINY)
        self.restart()

    def restart(self) -> None:
        """Begin anew after a switching: short steps, no past to extend."""
        self.G, self.I = self.network.matrix()
        self.h, self.last_h = self.duration * _FIRST, math.inf
        self.early, self.slope = 2, None

    def run(self, events: list[Event], watch: Watch | None) -> March:
        """Step to the end."""
        self.record()
        while self.time < self.duration * (1.0 - 1e-12):
            while events and events[0][0] <= self.time + self.duration * 1e-12:
                self.switched(events.pop(0)[1](self.network))
            goal = events[0][0] if events else self.duration
            self.advance(min(goal, self.duration))
            self.record()
            if watch and (words := watch(self.network, self.voltages)):
                self.switched(words)
        return self.result()

    def switched(self, words: str) -> None:
        """Note a switching and begin anew."""
        self.happened.append((self.time, words))
        self.restart()

    def advance(self, goal: float) -> None:
        """Make one step that is accurate enough, at most to `goal`."""
        before = self.network.states()
        while True:
            h = min(self.h, self.longest, goal - self.time)
            step = euler(h) if self.early else backward(h, self.last_h)
            reached = newton(self.network, self.G, self.I, self.voltages, step)
            error = math.inf if reached is None else self.error(reached, before, step, h)
            shortest = h <= self.duration * _SMALLEST
            if error <= 1.0 or (shortest and reached is not None):
                break
            if shortest:
                raise ConvergenceError(f"no solution {self.time:.6g} s after the start")
            self.h = h * max(0.1, min(0.5, 0.9 / math.sqrt(error)))
        self.accept(reached, before, step, h, goal)
        self.h = h * min(2.0, 0.9 / math.sqrt(max(error, 1e-4)))

    def error(self, reached: np.ndarray, before: np.ndarray, step: Step, h: float) -> float:
        """How far states leave the line through their past, as a share of what is allowed."""
        saved = [dict(vars(part)) for part in self.network.parts.values()]
        take(self.network, reached, step)
        after = self.network.states()
        for part, old in zip(self.network.parts.values(), saved, strict=True):
            vars(part).update(old)
        if self.slope is None:  # the very first step has no past to compare with
            return 0.25
        line = before + self.slope * h
        scale = np.maximum(self.largest, np.abs(after))
        return float((np.abs(after - line) / scale).max(initial=0.0)) / _STRAY

    def accept(self, reached: np.ndarray, before: np.ndarray, step: Step, h: float,
               goal: float) -> None:
        """Move on."""
        take(self.network, reached, step)
        after = self.network.states()
        self.slope, self.voltages = (after - before) / h, reached
        self.largest = np.maximum(self.largest, np.abs(after))
        self.early = max(0, self.early - 1)
        self.last_h = h
        arrived = goal - self.time - h <= self.duration * 1e-12
        self.time = goal if arrived else self.time + h

    def record(self) -> None:
        """Keep time, voltages and currents."""
        self.rows.append((
            self.time, self.voltages.copy(),
            [part.current for part in self.network.parts.values()],
            [branch.current(self.voltages) for branch in self.network.branches.values()]))

    def result(self) -> March:
        """The record as arrays."""
        times, voltages, *currents = zip(*self.rows, strict=True)
        of_parts, of_branches = (np.array(rows).reshape(len(times), -1).T for rows in currents)
        return March(np.array(times), np.array(voltages),
                     dict(zip(self.network.parts, of_parts, strict=True)),
                     dict(zip(self.network.branches, of_branches, strict=True)), self.happened)
