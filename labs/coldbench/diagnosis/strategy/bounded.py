"""A good strategy for more suspects than the exact search takes.

Depth first: at each large suspect set the few tests with the most information for their cost are
tried, the best kept; at 20 suspects or fewer the exact search takes over. A set is solved once.
With the budget of trials used up, large sets get the greedy test only. The result is therefore
an upper bound; `lower_bound` says how far from the best it can be.
"""

import heapq
import math
from collections.abc import Iterable

from coldbench.diagnosis.strategy.exact import MOST_EXACT, best_steps
from coldbench.diagnosis.strategy.greedy import ranked_tests
from coldbench.diagnosis.strategy.problem import Problem, Test
from coldbench.diagnosis.strategy.steps import Step, expected_cost

WIDTH, BUDGET = 3, 300
_FEW = 12  # sets up to this size are solved exactly here: larger dense tables cost too much


def bounded_steps(problem: Problem, suspects: int | None = None, width: int = WIDTH,
                  budget: int = BUDGET) -> Step:
    """Return a strategy that is at least as good as the greedy one among those tried.

    Parameters
    ----------
    problem : Problem
        Any size.
    suspects : int, optional
        Where to start [bits]; everyone if left out.
    width : int
        Tests tried at each set.
    budget : int
        Large sets at which more than one test is tried.

    Returns
    -------
    Step

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> bounded_steps(problem_from({"faults": {"a": 1}, "tests": {}})).test is None
    True
    """
    suspects = problem.everyone if suspects is None else suspects
    return Search(problem, width, budget).best(suspects)[1]


class Search:
    """The search with what it has solved already.

    problem; width, budget [as for `bounded_steps`]. Each set asked for has the whole budget, so what
    was asked before changes no answer.
    """

    def __init__(self, problem: Problem, width: int = WIDTH, budget: int = BUDGET) -> None:
        self.problem, self.width, self.budget = problem, width, budget
        self._asked: dict[int, tuple[float, Step]] = {}
        self._exact: dict[int, tuple[float, Step]] = {}
        self._left, self._now = budget, {}

    def best(self, suspects: int) -> tuple[float, Step]:
        """Return cost times probability, and the first step, of a suspect set [bits]."""
        if suspects not in self._asked:
            self._left, self._now = self.budget, {}
            self._asked[suspects] = self._best(suspects)
        return self._asked[suspects]

    def _best(self, suspects: int) -> tuple[float, Step]:
        """The same on the way: small sets once and for all, large ones within the budget."""
        exact = suspects.bit_count() <= _FEW
        known = self._exact if exact else self._now
        if suspects not in known:
            known[suspects] = self._solve(suspects, exact)
        return known[suspects]

    def _solve(self, suspects: int, exact: bool) -> tuple[float, Step]:
        if exact:
            step = best_steps(self.problem, suspects)
            return expected_cost(self.problem, step) * self.problem.probability(suspects), step
        tests = ranked_tests(self.problem, suspects)
        if self._left <= 0:
            tests = tests[:1]
        self._left -= 1
        chance = self.problem.probability(suspects)
        tried = [self._with(test, suspects, chance) for test in tests[:self.width]]
        return min(tried, key=lambda pair: pair[0], default=(0.0, Step(suspects)))

    def _with(self, test, suspects: int, chance: float) -> tuple[float, Step]:
        parts = {outcome: self._best(left) for outcome, left in test.split(suspects)}
        cost = test.cost * chance + math.fsum(value for value, _ in parts.values())
        return cost, Step(suspects, test, {outcome: step for outcome, (_, step) in parts.items()})


def lower_bound(problem: Problem, suspects: int | None = None) -> float:
    """Return a cost that no strategy can go below.

    Free tests come first, which costs nothing. Of what they leave, Huffman's code length of the
    groups that tests can tell apart, with as many branches as the test with the most outcomes,
    times the cheapest test's cost.

    Parameters
    ----------
    problem : Problem
        Any size.
    suspects : int, optional
        Where to start [bits]; everyone if left out.

    Returns
    -------
    float
        Expected cost [unit of cost].

    Source: Huffman 1952; its use as a bound: Pattipati & Alexandridis, 1990.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> lower_bound(problem_from({"faults": {"a": 1}, "tests": {}}))
    0.0
    """
    suspects = problem.everyone if suspects is None else suspects
    useful = [test for test in problem.tests if test.separates(suspects)]
    if not useful or problem.probability(suspects) <= 0.0:
        return 0.0
    free = [test for test in useful if test.cost == 0.0]
    paid = [test for test in useful if test.cost > 0.0]
    parts = _parted([suspects], free)
    return math.fsum(_bound_of(problem, part, paid) for part in parts) / problem.probability(
        suspects)


def _parted(groups: list[int], tests: Iterable[Test]) -> list[int]:
    for test in tests:
        groups = [left for group in groups for _, left in test.split(group)]
    return groups


def _bound_of(problem: Problem, suspects: int, tests: list[Test]) -> float:
    """Huffman's bound times the probability of a suspect set."""
    useful = [test for test in tests if test.separates(suspects)]
    whole = problem.probability(suspects)
    if not useful or whole <= 0.0:
        return 0.0
    weights = [problem.probability(group) / whole for group in _parted([suspects], useful)]
    branches = max(len(test.split(suspects)) for test in useful)
    return whole * min(test.cost for test in useful) * code_length(weights, branches)


def code_length(weights: list[float], branches: int = 2) -> float:
    """Return the mean length of Huffman's code.

    Parameters
    ----------
    weights : list of float
        Probabilities [-].
    branches : int
        Letters of the code, 2 or more.

    Returns
    -------
    float
        Mean length [letters].

    Source: Huffman, A Method for the Construction of Minimum-Redundancy Codes, 1952.

    Examples
    --------
    >>> code_length([0.5, 0.25, 0.25])
    1.5
    """
    heap = list(weights)
    while len(heap) > 1 and (len(heap) - 1) % (branches - 1):
        heap.append(0.0)
    heapq.heapify(heap)
    total = 0.0
    while len(heap) > 1:
        joined = math.fsum(heapq.heappop(heap) for _ in range(min(branches, len(heap))))
        total += joined
        heapq.heappush(heap, joined)
    return total


def small_enough(suspects: int) -> bool:
    """Say whether the exact search takes a suspect set [bits]."""
    return suspects.bit_count() <= MOST_EXACT
