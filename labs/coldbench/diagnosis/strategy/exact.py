"""The best strategy by dynamic programming over suspect sets, for up to 20 faults.

V(S) = min over tests that separate S of  cost·P(S) + Σ over outcomes V(S ∩ outcome),
V = 0 where no test separates S. V is the expected cost not yet divided by P(S), so that a set's
value does not depend on the way it was reached. Every set that tests can lead to is found first,
then valued from the smallest up, a whole layer of equal size at a time.
"""

import numpy

from coldbench.diagnosis.strategy.problem import Problem, bits
from coldbench.diagnosis.strategy.steps import Step
from coldbench.errors import InputError

MOST_EXACT = 20
_BLOCK = 1 << 14  # sets valued at a time: keeps memory flat


def best_steps(problem: Problem, suspects: int | None = None) -> Step:
    """Return the strategy of least expected cost.

    Parameters
    ----------
    problem : Problem
        Any number of tests; at most 20 suspects.
    suspects : int, optional
        Where to start [bits]; everyone if left out.

    Returns
    -------
    Step

    Raises
    ------
    InputError
        If there are more than 20 suspects.

    Source: Bellman's principle; Pattipati & Alexandridis, 1990 (the recursion).

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> best_steps(problem_from({"faults": {"a": 1}, "tests": {}})).test is None
    True
    """
    suspects = problem.everyone if suspects is None else suspects
    places = list(bits(suspects))
    if len(places) > MOST_EXACT:
        raise InputError(f"{len(places)} suspects are too many for the exact search; accepted: "
                         f"up to {MOST_EXACT}")
    small = _Packed(problem, places)
    return small.steps((1 << len(places)) - 1, _choices(small))


class _Packed:
    """The problem on its suspects alone, as arrays: bit j is the j-th suspect."""

    def __init__(self, problem: Problem, places: list[int]) -> None:
        self.places = places
        self.tests = _parting(problem, places)
        self.masks = [numpy.array([m for _, m in outcomes if m], dtype=numpy.int32)
                      for _, outcomes in self.tests]
        self.costs = [test.cost for test, _ in self.tests]
        chance = numpy.array([problem.prior[i] for i in places])
        half = len(places) // 2
        self.half, self.low, self.high = half, _sums(chance[:half]), _sums(chance[half:])

    def probability(self, sets: numpy.ndarray) -> numpy.ndarray:
        return self.low[sets & ((1 << self.half) - 1)] + self.high[sets >> self.half]

    def steps(self, small: int, choice: numpy.ndarray) -> Step:
        suspects = sum(1 << self.places[j] for j in bits(small))
        chosen = int(choice[small]) if small.bit_count() > 1 else -1
        if chosen < 0:
            return Step(suspects)
        test, outcomes = self.tests[chosen]
        return Step(suspects, test, {name: self.steps(small & mask, choice)
                                     for name, mask in outcomes if small & mask})


def _parting(problem: Problem, places: list[int]) -> list[tuple]:
    """The tests that part the suspects, with packed outcomes; of equal tests the cheapest."""
    whole = sum(1 << i for i in places)
    found: dict[frozenset[int], tuple] = {}
    for test in problem.tests:
        split = test.split(whole)
        key = frozenset(mask for _, mask in split)
        if len(split) > 1 and (key not in found or test.cost < found[key][0].cost):
            found[key] = test, split
    return [(test, [(name, _pack(mask, places)) for name, mask in split])
            for test, split in found.values()]


def _pack(mask: int, places: list[int]) -> int:
    return sum(1 << j for j, i in enumerate(places) if mask >> i & 1)


def _sums(values: numpy.ndarray) -> numpy.ndarray:
    """The sum of every subset of some numbers, by its bits."""
    sums = numpy.zeros(1)
    for value in values:
        sums = numpy.concatenate([sums, sums + value])
    return sums


def _choices(small: _Packed) -> numpy.ndarray:
    """The best test of every suspect set that can be reached, −1 where none separates it."""
    size = 1 << len(small.places)
    value = numpy.zeros(size)
    choice = numpy.full(size, -1, dtype=numpy.int32)
    reached = _reachable(small, size)
    order = numpy.bitwise_count(reached.astype(numpy.uint32))
    for count in range(2, len(small.places) + 1):
        layer = reached[order == count]
        for at in range(0, len(layer), _BLOCK):
            _value_block(small, layer[at:at + _BLOCK], value, choice)
    return choice


def _reachable(small: _Packed, size: int) -> numpy.ndarray:
    """Every suspect set of two or more that outcomes can lead to, itself included."""
    seen = numpy.zeros(size, dtype=bool)
    seen[size - 1] = True
    masks = numpy.concatenate(small.masks) if small.masks else numpy.zeros(0, numpy.int32)
    new = numpy.array([size - 1], dtype=numpy.int32)
    found = [new]
    while len(new):
        hits = numpy.zeros(size, dtype=bool)
        for at in range(0, len(new), _BLOCK):
            hits[new[at:at + _BLOCK, None] & masks] = True
        hits &= ~seen
        seen |= hits
        new = numpy.flatnonzero(hits).astype(numpy.int32)
        new = new[numpy.bitwise_count(new.astype(numpy.uint32)) > 1]
        found.append(new)
    return numpy.concatenate(found)


def _value_block(small: _Packed, sets: numpy.ndarray, value: numpy.ndarray,
                 choice: numpy.ndarray) -> None:
    """Value some sets of equal size from the smaller ones, which are valued already."""
    chance = small.probability(sets)
    best = numpy.full(len(sets), numpy.inf)
    chosen = numpy.full(len(sets), -1, dtype=numpy.int32)
    for t, (masks, cost) in enumerate(zip(small.masks, small.costs, strict=True)):
        left = sets[:, None] & masks
        total = cost * chance + value[left].sum(axis=1)
        total[(left == sets[:, None]).any(axis=1)] = numpy.inf
        better = total < best
        best[better], chosen[better] = total[better], t
    known = chosen >= 0
    value[sets[known]], choice[sets] = best[known], chosen
