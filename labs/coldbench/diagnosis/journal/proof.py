"""Which suspects some readings leave, and whether that proves a cause."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from coldbench.diagnosis.journal.steps import PathStep
from coldbench.diagnosis.strategy import Problem, inseparable
from coldbench.errors import InputError

_MOST_NAMED = 4


@dataclass(frozen=True)
class Proof:
    """How far readings prove a cause.

    left [suspects that agree with all of them, bits]; part [True: all of them are of the cause's
    part, or no test tells them from it]; mode [True: no test tells them from the cause]; words.
    """

    left: int
    part: bool
    mode: bool
    words: str


def left_by(step: PathStep, problem: Problem) -> int:
    """Return the suspects that a step's reading agrees with [bits].

    Refused and impossible steps, and repairs, say nothing: everyone is left.

    Parameters
    ----------
    step : PathStep
        Step.
    problem : Problem
        Suspects and tests.

    Returns
    -------
    int
        0 where no suspect could have given the reading.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5},
    ...     "tests": {"t": {"cost": 3, "outcomes": {"a": "yes", "b": "no"}}}})
    >>> left_by(PathStep(test="t", outcome="no"), problem)
    2
    """
    if step.refused or step.replaced or not step.possible:
        return problem.everyone
    if step.leaves is not None:
        return step.leaves
    if not step.test:
        return problem.everyone
    if step.test not in problem.test:
        raise InputError(f"{step.test!r} is not a test of this problem")
    return dict(problem.test[step.test].outcomes).get(step.outcome, 0)


def same_as(problem: Problem, truth: str, parts: Mapping[str, str] = {},
            ) -> tuple[int, int]:
    """Return the suspects that count as the cause: by its part, and by what no test parts.

    Parameters
    ----------
    problem : Problem
        Suspects and tests.
    truth : str
        The fault that is present.
    parts : mapping of str to str, optional
        Fault → part to put right; a fault that is not in it is a part of its own.

    Returns
    -------
    (int, int)
        Suspect sets [bits]; the first holds the second.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"K1:open": 0.5, "K1:burnt": 0.5, "F1": 1},
    ...     "tests": {"t": {"cost": 3, "outcomes": {"K1:open": 1, "K1:burnt": 2, "F1": 3}}}})
    >>> same_as(problem, "K1:open", {"K1:open": "K1", "K1:burnt": "K1"})
    (3, 1)
    """
    alone = problem.suspects([truth])
    group = next((names for names in inseparable(problem) if truth in names), (truth,))
    mode = problem.suspects(group) | alone
    part = parts.get(truth, truth)
    return mode | problem.suspects(name for name in problem.faults
                                   if parts.get(name, name) == part), mode


def proof_of(problem: Problem, steps: Iterable[PathStep], truth: str,
             parts: Mapping[str, str] = {}) -> Proof:
    """Return how far some steps prove a cause.

    Parameters
    ----------
    problem : Problem
        Suspects and tests.
    steps : iterable of PathStep
        The evidence: steps with readings.
    truth : str
        The fault that is present.
    parts : mapping of str to str, optional
        Fault → part to put right.

    Returns
    -------
    Proof

    Examples
    --------
    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5},
    ...     "tests": {"t": {"cost": 3, "outcomes": {"a": "yes", "b": "no"}}}})
    >>> proof_of(problem, [], "a").words
    'No reading proves anything.'
    >>> proof_of(problem, [PathStep(test="t", outcome="yes")], "a").mode
    True
    """
    left, readings = problem.everyone, 0
    for step in steps:
        left &= left_by(step, problem)
        readings += is_reading(step)
    return judged(problem, left, *same_as(problem, truth, parts), problem.suspects([truth]),
                  readings)


def is_reading(step: PathStep) -> bool:
    """Say whether a step gave a reading that can be believed."""
    return step.possible and not (step.refused or step.replaced or step.prepares)


def judged(problem: Problem, left: int, part: int, mode: int, truth: int, readings: int) -> Proof:
    """Return the proof that a suspect set makes, from `same_as` [all bits].

    Without any reading nothing is proven, even where only one suspect shows the complaint.
    """
    agrees = bool(left & truth) and readings > 0
    proven_part, proven_mode = agrees and not left & ~part, agrees and not left & ~mode
    if not readings:
        words = "No reading proves anything."
    elif not left:
        words = "No single cause agrees with all of these readings."
    elif not agrees:
        words = "These readings do not agree with the cause."
    elif proven_mode:
        words = "These readings leave one cause only" + (
            ", or several that no test here tells apart." if left.bit_count() > 1 else ".")
    elif proven_part:
        words = "These readings leave one part only, not yet what is wrong with it."
    else:
        words = f"These readings leave {left.bit_count()} causes: {listed(problem, left)}."
    return Proof(left, proven_part, proven_mode, words)


def listed(problem: Problem, suspects: int, most: int = _MOST_NAMED) -> str:
    """Return some suspects by name, the likeliest first [bits → str].

    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"K1:coil_open": 0.1, "belt-slip": 0.2}, "tests": {
    ...     "look": {"cost": 1, "outcomes": {"K1:coil_open": "still", "belt-slip": "turns"}}}})
    >>> listed(problem, 3)
    'belt slip, K1 coil open'
    """
    chance = dict(zip(problem.faults, problem.prior, strict=True))
    names = sorted(problem.names(suspects), key=lambda name: -chance[name])
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(re.sub("[:_-]", " ", name) for name in names[:most]) + more
