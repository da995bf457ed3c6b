"""The greedy order: always the test with the most information for its cost.

Quick and often good, but not always the best: it looks one step ahead only.
"""

import math

from coldbench.diagnosis.strategy.problem import Problem, Test
from coldbench.diagnosis.strategy.steps import Step


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
    useful = [test for test in problem.tests if test.separates(suspects)]
    gain = {test.name: information_gain(problem, test, suspects) for test in useful}

    def worth(test: Test) -> float:
        return gain[test.name] / test.cost if test.cost > 0.0 else math.inf

    return sorted(useful, key=lambda test: -worth(test))


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
