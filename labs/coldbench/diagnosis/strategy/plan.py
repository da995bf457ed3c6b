"""The best order of tests for a problem, with the greedy one beside it."""

from dataclasses import dataclass

from coldbench.diagnosis.strategy.bounded import bounded_steps, lower_bound, small_enough
from coldbench.diagnosis.strategy.exact import best_steps
from coldbench.diagnosis.strategy.greedy import greedy_steps
from coldbench.diagnosis.strategy.problem import Problem, inseparable
from coldbench.diagnosis.strategy.reduce import reduced
from coldbench.diagnosis.strategy.steps import Step, expected_cost, room_for


@dataclass(frozen=True)
class Plan:
    """The order of tests.

    expected_cost, greedy_expected_cost, lower_bound [unit of cost]; exact [True: no strategy
    costs less]; inseparable [groups that no test tells apart].
    """

    problem: Problem
    strategy: Step
    greedy: Step
    expected_cost: float
    greedy_expected_cost: float
    lower_bound: float
    exact: bool
    inseparable: list[tuple[str, ...]]


def plan(problem: Problem, suspects: int | None = None) -> Plan:
    """Find the order of tests of least expected cost.

    Exact for up to 20 groups of suspects that tests can tell apart; beyond, the better of a
    bounded search and the greedy order, with a bound that no order can go below.

    Parameters
    ----------
    problem : Problem
        Faults and tests.
    suspects : int, optional
        Where to start [bits]; everyone if left out.

    Returns
    -------
    Plan

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> made = plan(problem_from({"faults": {"a": 0.5, "b": 0.5},
    ...     "tests": {"t": {"cost": 3, "outcomes": {"a": "yes", "b": "no"}}}}))
    >>> made.expected_cost, made.strategy.test.name, made.exact
    (3.0, 't', True)
    """
    with room_for(problem):
        return _plan(problem, problem.everyone if suspects is None else suspects)


def _plan(problem: Problem, suspects: int) -> Plan:
    small = reduced(problem, suspects)
    exact = small_enough(small.problem.everyone)
    greedy = small.expanded(greedy_steps(small.problem))
    best = small.expanded(best_steps(small.problem) if exact else bounded_steps(small.problem))
    costs = {id(step): expected_cost(problem, step) for step in (best, greedy)}
    if not exact and costs[id(greedy)] < costs[id(best)]:
        best = greedy
    bound = costs[id(best)] if exact else lower_bound(small.problem)
    return Plan(problem, best, greedy, costs[id(best)], costs[id(greedy)], bound, exact,
                inseparable(problem, suspects))
