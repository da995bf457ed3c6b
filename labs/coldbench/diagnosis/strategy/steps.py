"""A strategy as a tree of steps: a test, and for each outcome what to do next."""

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

from coldbench.diagnosis.strategy.problem import Problem, Test


_FRAMES = 8  # calls that one step of a strategy takes at most, with some to spare


@contextmanager
def room_for(problem: Problem) -> Iterator[None]:
    """Let calls nest as deep as a strategy may be: parts tested one by one, one for each fault."""
    before = sys.getrecursionlimit()
    sys.setrecursionlimit(before + _FRAMES * len(problem.faults))
    try:
        yield
    finally:
        sys.setrecursionlimit(before)


@dataclass(frozen=True)
class Step:
    """One step: the suspects so far and the test to make, or no test at the end.

    suspects [bits]; branches [outcome → next step].
    """

    suspects: int
    test: Test | None = None
    branches: Mapping[str, "Step"] = field(default_factory=dict)


def expected_cost(problem: Problem, step: Step) -> float:
    """Return what a strategy costs on average.

    Σ over steps of cost of its test · probability to come there.

    Parameters
    ----------
    problem : Problem
        Probabilities.
    step : Step
        First step.

    Returns
    -------
    float
        Expected cost, given that the fault is among the first step's suspects [unit of cost].

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> expected_cost(problem_from({"faults": {"a": 1.0}, "tests": {}}), Step(1))
    0.0
    """
    chance = problem.probability(step.suspects)
    if chance <= 0.0:
        return 0.0
    return sum(s.test.cost * problem.probability(s.suspects) for s in _all(step) if s.test) / chance


def _all(step: Step) -> Iterator[Step]:
    waiting = [step]
    while waiting:
        here = waiting.pop()
        yield here
        waiting.extend(here.branches.values())


def path_cost(step: Step, fault: int) -> float:
    """Return what a strategy costs when one certain fault is present.

    Parameters
    ----------
    step : Step
        First step.
    fault : int
        Its position in the problem.

    Returns
    -------
    float
        Cost [unit of cost].

    Examples
    --------
    >>> path_cost(Step(1), 0)
    0.0
    """
    paid = 0.0
    while step.test is not None:
        paid += step.test.cost
        step = next(s for s in step.branches.values() if s.suspects >> fault & 1)
    return paid


def plain_steps(problem: Problem, step: Step) -> dict:
    """Return a strategy as plain data for JSON.

    Parameters
    ----------
    problem : Problem
        Names.
    step : Step
        First step.

    Returns
    -------
    dict
        `{"test": name, "outcomes": {outcome: …}}`, at the end `{"faults": [names]}`.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> plain_steps(problem_from({"faults": {"a": 1.0}, "tests": {}}), Step(1))
    {'faults': ['a']}
    """
    if step.test is None:
        return {"faults": list(problem.names(step.suspects))}
    return {"test": step.test.name, "cost": step.test.cost,
            "outcomes": {outcome: plain_steps(problem, s) for outcome, s in step.branches.items()}}


def steps_in_words(problem: Problem, step: Step, indent: str = "") -> list[str]:
    """Return a strategy as lines of text, one for each outcome.

    Parameters
    ----------
    problem : Problem
        Names.
    step : Step
        First step.
    indent : str
        What each line starts with.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> steps_in_words(problem_from({"faults": {"a": 1.0}, "tests": {}}), Step(1))
    ['cause: a']
    """
    if step.test is None:
        names = problem.names(step.suspects)
        found = "cause" if len(names) == 1 else "cannot be told apart"
        return [f"{indent}{found}: {', '.join(names)}"]
    lines = [f"{indent}{step.test.name} (cost {step.test.cost:g})"]
    for outcome, after in step.branches.items():
        lines.append(f"{indent}  {outcome}:")
        lines += steps_in_words(problem, after, indent + "    ")
    return lines
