"""The greedy order: always the test with the most information for its cost.

Quick and often good, but not always the best: it looks one step ahead only.
"""

import math

from coldbench.diagnosis.strategy.problem import Problem, Test, bits
from coldbench.diagnosis.strategy.steps import Step

_DIGITS = 12  # of a gain in bit: beyond them, equal tests would seem to differ


def information_gain(problem: Problem, test: Test, suspects: int) -> float:
    """Return how much uncertainty a test takes away on average.

    H(outcome), since each fault gives one certain outcome [bit].

    Parameters
    ----------
    problem : Problem
        Probabilities.
    test : Test
        Test.
    suspects : int
        Suspect set [bits].

    Returns
    -------
    float
        Gain [bit]; 0 when every suspect gives the same outcome or none is possible.

    Source: Shannon 1948 (mutual information).

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5},
    ...     "tests": {"t": {"cost": 1, "outcomes": {"a": "yes", "b": "no"}}}})
    >>> information_gain(problem, problem.tests[0], problem.everyone)
    1.0
    """
    whole = problem.probability(suspects)
    if whole <= 0.0:
        return 0.0
    shares = [problem.probability(left) / whole for _, left in test.split(suspects)]
    return abs(math.fsum(-p * math.log2(p) for p in shares if p > 0.0))


def ranked_tests(problem: Problem, suspects: int) -> list[Test]:
    """Return the tests that separate a suspect set, most information for its cost first.

    Parameters
    ----------
    problem : Problem
        Tests.
    suspects : int
        Suspect set [bits].

    Returns
    -------
    list of Test
        Free tests come first; of equals, the first in the file.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> ranked_tests(problem_from({"faults": {"a": 1}, "tests": {}}), 1)
    []
    """
    useful = [n for n, test in enumerate(problem.tests) if test.separates(suspects)]
    if not useful:
        return []
    gain = _gains(problem, suspects)

    def worth(n: int) -> float:
        cost = problem.tests[n].cost
        return round(gain[n], _DIGITS) / cost if cost > 0.0 else math.inf

    return [problem.tests[n] for n in sorted(useful, key=lambda n: -worth(n))]


def _gains(problem: Problem, suspects: int) -> list[float]:
    """`information_gain` of every test at once."""
    import numpy

    masks, begins = problem.masks
    here = numpy.zeros(len(problem.faults))
    here[list(bits(suspects))] = 1.0
    weights = numpy.array(problem.prior) * here
    whole = weights.sum()
    if whole <= 0.0:
        return [0.0] * len(problem.tests)
    shares = masks @ (weights / whole)
    terms = numpy.zeros(len(shares))
    numpy.log2(shares, out=terms, where=shares > 0.0)
    terms *= -shares
    # a test without outcomes has none to sum; every test of a problem has at least one
    return numpy.add.reduceat(terms, begins).tolist()


def greedy_steps(problem: Problem, suspects: int | None = None) -> Step:
    """Return the greedy strategy.

    Parameters
    ----------
    problem : Problem
        Faults and tests.
    suspects : int, optional
        Where to start [bits]; everyone if left out.

    Returns
    -------
    Step

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> greedy_steps(problem_from({"faults": {"a": 1}, "tests": {}})).test is None
    True
    """
    suspects = problem.everyone if suspects is None else suspects
    tests = ranked_tests(problem, suspects) if suspects.bit_count() > 1 else []
    if not tests:
        return Step(suspects)
    best = tests[0]
    return Step(suspects, best, {outcome: greedy_steps(problem, left)
                                 for outcome, left in best.split(suspects)})
