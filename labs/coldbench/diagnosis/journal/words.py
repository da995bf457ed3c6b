"""What to tell a learner about the path: where it left the good ones, and why."""

from collections.abc import Sequence

from coldbench.diagnosis.journal.proof import listed
from coldbench.diagnosis.journal.score import (
    CONTRARY, DEAR, EARLY, IMPLIED, REPEATED, PathScore, StepScore,
)
from coldbench.diagnosis.strategy import Problem
from coldbench.diagnosis.strategy.problem import Test

_MOST = 3


def path_in_words(score: PathScore) -> list[str]:
    """Return sentences about a path, the most important first.

    Parameters
    ----------
    score : PathScore
        From `score_path`.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from coldbench.diagnosis.journal import PathStep, score_path
    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5}, "tests": {
    ...     "quick": {"cost": 1, "outcomes": {"a": "yes", "b": "no"}},
    ...     "vain": {"cost": 2, "outcomes": {"a": "same", "b": "same"}}}})
    >>> print(*path_in_words(score_path(problem, [
    ...     PathStep(1, "vain", "vain", "same")], "a")), sep="\\n")
    These readings leave 2 causes: a, b.
    At entry 1 (vain) your path left the good ones: it could teach nothing, for both causes left \
give this reading. Best was “quick” (1 min): it parts them into 2 groups.
    Your choices cost 3 min on average, the best path 1 min.
    """
    first = score.left_good_path
    said = [score.proof.words]
    if first is not None:
        said.append(f"At {first.step.named} your path left the good ones: "
                    f"{_why(score.problem, first)}")
    said += _others(score, first)
    if score.impossible:
        said.append(f"Your bench could not have given {_names(score.impossible)}.")
    if contrary := score.of_kind(CONTRARY):
        said.append(f"Not what this bench shows, so it proves nothing: {_names(contrary)}.")
    if score.refusals:
        said.append(f"Refused, since it is not safe: {_names(score.refusals)}. "
                    f"{_sentence(score.refusals[0].step.refused)}")
    if score.steps:
        said.append(f"Your choices cost {_minutes(score.expected_minutes)} on average, the best "
                    f"path {_minutes(score.best_minutes)}.")
    return said


def _minutes(value: float) -> str:
    return f"{round(value, 1):g} min"


def _names(steps: Sequence[StepScore]) -> str:
    names = [one.step.named for one in steps[:_MOST]]
    more = f" and {len(steps) - _MOST} more" if len(steps) > _MOST else ""
    return ", ".join(names) + more


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."


def _others(score: PathScore, first: StepScore | None) -> list[str]:
    """Further steps that taught nothing, or parts replaced early."""
    wasted = [one for one in score.wasted if one is not first]
    said = [f"Nothing new could come of {_names(wasted)}."] if wasted else []
    early = [one for one in score.early if one is not first]
    return said + [_sentence(f"{one.step.replaced} was replaced before the cause was proven")
                   for one in early]


def _why(problem: Problem, one: StepScore) -> str:
    left = one.before.bit_count()
    every = {1: "the one cause left gives", 2: "both causes left give"}.get(
        left, f"all {left} causes left give")
    if one.kind == IMPLIED:
        said = f"it could teach nothing, for {every} this reading."
    elif one.kind == REPEATED:
        said = "it repeats an earlier measurement, which told the same."
    elif one.kind == EARLY:
        said = (f"{one.step.replaced} was replaced while {left} causes were left: "
                f"{listed(problem, one.before)}.")
    else:
        said = f"it takes {_minutes(one.cost)} and {_parts(problem.test.get(one.step.test), one)}."
    if one.better is None:
        return said + (" The cause was proven already." if one.kind != DEAR else "")
    them = "it" if left == 1 else "them"
    return f"{said} Best was “{one.better.name}” ({_minutes(one.better.cost)}): it parts {them} " \
           f"into {len(one.better.split(one.before))} groups."


def _parts(test: Test | None, one: StepScore) -> str:
    """How a test parts the suspects there were."""
    left = one.before.bit_count()
    if test is None:
        return f"leaves {one.after.bit_count()} of {left} causes"
    groups = test.split(one.before)
    largest = max(mask.bit_count() for _, mask in groups)
    return f"parts the {left} causes left into {len(groups)} groups, the largest of {largest}"
