"""Marks for a diagnosis: shares of cause, proof and path, in this one place."""

from dataclasses import dataclass

from coldbench.diagnosis.journal.score import PathScore
from coldbench.diagnosis.journal.words import path_in_words
from coldbench.errors import InputError


@dataclass(frozen=True)
class Shares:
    """Shares of the points, and what costs some of the path's.

    part, mode [cause named rightly]; proof [cause proven by readings: in full when its mode is
    proven, `part_proof` of it when only its part is]; path [a good way, for a proven cause only];
    full_within, spare_minutes [the path's share is whole up to that many times the best expected
    cost, or so many minutes above it]; none_beyond [and nothing beyond that many times, from
    where it was whole]; refusal, early [share of the path's that each refused step or part
    replaced early costs].
    """

    part: float = 0.3
    mode: float = 0.1
    proof: float = 0.4
    path: float = 0.2
    part_proof: float = 0.75
    full_within: float = 1.5
    spare_minutes: float = 10.0
    none_beyond: float = 4.0
    refusal: float = 0.25
    early: float = 0.5

    def __post_init__(self) -> None:
        if abs(self.part + self.mode + self.proof + self.path - 1.0) > 1e-9:
            raise InputError("the shares of part, mode, proof and path must sum to 1")


SHARES = Shares()


@dataclass(frozen=True)
class PathMarks:
    """Marks of a diagnosis, each a share of all points [0 to 1].

    part, mode, proof, path; total [their sum]; words [sentences for the learner].
    """

    part: float
    mode: float
    proof: float
    path: float
    words: tuple[str, ...]

    @property
    def total(self) -> float:
        """Share of the points earned."""
        return min(self.part + self.mode + self.proof + self.path, 1.0)


def mark_path(score: PathScore, right_part: bool, right_mode: bool, shares: Shares = SHARES,
              ) -> PathMarks:
    """Return the marks of a diagnosis.

    Who names another part earns nothing: proof of it there is none. Who names the right part
    without proof earns the shares of part and mode, and none of the path's.

    Parameters
    ----------
    score : PathScore
        The path.
    right_part, right_mode : bool
        What the learner named; the mode counts only with the part.
    shares : Shares
        Shares.

    Returns
    -------
    PathMarks

    Examples
    --------
    >>> from coldbench.diagnosis.journal import PathStep, score_path
    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5},
    ...     "tests": {"t": {"cost": 3, "outcomes": {"a": "yes", "b": "no"}}}})
    >>> guessed = mark_path(score_path(problem, [], "a"), True, True)
    >>> proven = mark_path(score_path(problem, [PathStep(test="t", outcome="yes")], "a"),
    ...                    True, True)
    >>> guessed.total, proven.total
    (0.4, 1.0)
    """
    words = tuple(path_in_words(score))
    if not right_part:
        return PathMarks(0.0, 0.0, 0.0, 0.0, ("Another part is the cause.", *words))
    proven = 1.0 if score.proof.mode else shares.part_proof if score.proof.part else 0.0
    path = path_share(score, shares) if score.proof.part else 0.0
    return PathMarks(shares.part, shares.mode if right_mode else 0.0, shares.proof * proven,
                     shares.path * path, words)


def path_share(score: PathScore, shares: Shares = SHARES) -> float:
    """Return how good a path was [0 to 1], whatever was proven.

    1 while the expected cost is within `full_within` times the best or `spare_minutes` of it,
    falling in proportion to 0 at `none_beyond` times that; less for refused steps and parts
    replaced early; 0 with a reading that the bench could not have given.

    Parameters
    ----------
    score : PathScore
        The path.
    shares : Shares
        Limits.

    Returns
    -------
    float
    """
    if score.impossible:
        return 0.0
    full = max(shares.full_within * score.best_minutes,
               score.best_minutes + shares.spare_minutes)
    beyond = (score.expected_minutes - full) / ((shares.none_beyond - 1.0) * full)
    lost = shares.refusal * len(score.refusals) + shares.early * len(score.early)
    return max(1.0 - max(beyond, 0.0) - lost, 0.0)
