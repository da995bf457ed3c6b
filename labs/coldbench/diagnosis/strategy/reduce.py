"""A smaller problem with the same answer: faults no test parts made one, needless tests left out.

A test is needless when another one costs no more and parts whatever it parts: any strategy with
the first is at least as good with the second in its place.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coldbench.diagnosis.strategy.problem import Problem, Test, bits
from coldbench.diagnosis.strategy.steps import Step


@dataclass(frozen=True)
class Reduced:
    """A smaller problem: its fault i stands for groups[i] [bits of the whole problem]."""

    whole: Problem
    problem: Problem
    groups: tuple[int, ...]

    def suspects(self, suspects: int) -> int:
        """Return the groups that meet a suspect set of the whole problem [bits]."""
        return sum(1 << i for i, group in enumerate(self.groups) if group & suspects)

    def members(self, groups: int) -> int:
        """Return the suspect set of the whole problem for a set of groups [bits]."""
        return sum(self.groups[i] for i in bits(groups))

    def expanded(self, step: Step) -> Step:
        """Return a strategy of the smaller problem as one of the whole."""
        if step.test is None:
            return Step(self.members(step.suspects))
        return Step(self.members(step.suspects), self.whole.test[step.test.name],
                    {outcome: self.expanded(after) for outcome, after in step.branches.items()})


def reduced(problem: Problem, suspects: int | None = None) -> Reduced:
    """Return the smaller problem on a suspect set.

    Parameters
    ----------
    problem : Problem
        Faults and tests.
    suspects : int, optional
        Suspect set [bits]; everyone if left out.

    Returns
    -------
    Reduced

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> both = {"a": "yes", "b": "no", "c": "no"}
    >>> small = reduced(problem_from({"faults": {"a": 0.4, "b": 0.3, "c": 0.3},
    ...     "tests": {"dear": {"cost": 2, "outcomes": both},
    ...               "cheap": {"cost": 1, "outcomes": both}}}))
    >>> small.problem.faults, [test.name for test in small.problem.tests]
    (('a', 'b'), ['cheap'])
    """
    suspects = problem.everyone if suspects is None else suspects
    groups = [suspects]
    for test in problem.tests:
        groups = [left for group in groups for _, left in test.split(group)]
    groups.sort(key=lambda group: group & -group)
    whole = problem.probability(suspects)
    weights = [problem.probability(group) for group in groups]
    shares = ([w / whole for w in weights] if whole > 0.0
              else [1.0 / len(groups)] * len(groups))
    names = tuple(problem.faults[next(bits(group))] for group in groups)
    tests = needed_tests(_on_groups(test, groups) for test in problem.tests)
    return Reduced(problem, Problem(names, tuple(shares), tuple(tests)), tuple(groups))


def _on_groups(test: Test, groups: Sequence[int]) -> Test:
    outcomes = [(name, sum(1 << i for i, group in enumerate(groups) if group & mask))
                for name, mask in test.outcomes]
    return Test(test.name, test.cost, tuple((name, mask) for name, mask in outcomes if mask))


def needed_tests(tests: Iterable[Test]) -> list[Test]:
    """Return the tests that no other one makes needless, in their order.

    Parameters
    ----------
    tests : iterable of Test
        All of one problem.

    Returns
    -------
    list of Test
        Of equal tests, the first of the cheapest.

    Examples
    --------
    >>> needed_tests([Test("all", 1.0, (("x", 0b11),))])
    []
    """
    useful = {n: test for n, test in enumerate(tests) if len(test.outcomes) > 1}
    order = sorted(useful, key=lambda n: (useful[n].cost, -len(useful[n].outcomes), n))
    kept: list[int] = []
    seen: set[frozenset[int]] = set()
    for n in order:
        parts = frozenset(mask for _, mask in useful[n].outcomes)
        if parts in seen or any(_refines(useful[k], useful[n]) for k in kept):
            continue
        seen.add(parts)
        kept.append(n)
    return [useful[n] for n in sorted(kept)]


def _refines(fine: Test, coarse: Test) -> bool:
    """True if every outcome of one test lies within one outcome of the other."""
    if len(fine.outcomes) < len(coarse.outcomes):
        return False
    masks = [mask for _, mask in coarse.outcomes]
    return all(any(not mask & ~other for other in masks) for _, mask in fine.outcomes)
