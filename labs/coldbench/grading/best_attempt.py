"""The best attempt counts: every attempt is graded, and the one with most points is put in.

Points are those of the program, less what the course's rule takes off; written answers count
once a person marked the attempt that was put in. Of equal ones the earlier counts.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from coldbench.grading.attempts import (
    Attempt, attempts_of, keep_mark, mark_of, place_attempt, policy_of,
)
from coldbench.grading.course import Course
from coldbench.grading.job import Graded, Job, job_key
from coldbench.grading.lab import Lab
from coldbench.grading.limits import Limits
from coldbench.grading.penalty import PenaltyRule, penalty_rule
from coldbench.grading.submissions import job_from


def choose_best(course: Course, lab: Lab, limits: Limits, level: str, only: Sequence[str],
                run: Callable[[Iterable[Job]], Iterable[Graded]]) -> None:
    """Put every learner's best attempt into `submitted/`, where the course wants the best.

    only [learners; empty: all]; run [grades jobs, in any order]. Attempts graded before under the
    same key are not graded again. Nothing is done under another policy, for learners with one
    attempt, or whose submission was taken away.
    """
    if policy_of(course) != "best" or not (course.attempts / lab.name).is_dir():
        return
    several = dict(_several(course, lab.name, only))
    found: dict[str, _Entry] = {}  # by job key; no notebook is held in memory
    for learner, attempts in several.items():
        for place, attempt in enumerate(attempts):
            job = _job(course, lab, learner, attempt, limits)
            found[job_key(lab, job, limits, level)] = _Entry(learner, place, attempt,
                                                             job.late_seconds)
    waiting = [entry for key, entry in found.items() if mark_of(entry.attempt, key) is None]
    jobs = (_job(course, lab, entry.learner, entry.attempt, limits) for entry in waiting)
    for graded in run(jobs):
        # A submission that could not be graded has no key; it counts as no points.
        if graded.record.key in found:
            keep_mark(found[graded.record.key].attempt, graded.record.key, graded.record.score)
    rule = penalty_rule(course.penalty)
    for learner in several:
        mine = [(key, entry) for key, entry in found.items() if entry.learner == learner]
        _, best = max(mine, key=lambda pair: (_worth(lab, rule, *pair), -pair[1].place))
        place_attempt(course, lab.name, learner, best.attempt)


@dataclass(frozen=True)
class _Entry:
    """One attempt in the comparison [place: how many came before]."""

    learner: str
    place: int
    attempt: Attempt
    late_seconds: float


def _several(course: Course, lab: str, only: Sequence[str]) -> Iterator[tuple[str, list[Attempt]]]:
    """Learners with several attempts whose submission still lies on the desk."""
    for folder in sorted((course.attempts / lab).iterdir()):
        attempts = attempts_of(course, lab, folder.name)
        there = (course.submitted / folder.name / lab).is_dir()
        if len(attempts) > 1 and there and (not only or folder.name in only):
            yield folder.name, attempts


def _job(course: Course, lab: Lab, learner: str, attempt: Attempt, limits: Limits) -> Job:
    return replace(job_from(course, lab.name, learner, attempt.folder, limits), notes=())


def _worth(lab: Lab, rule: PenaltyRule, key: str, entry: _Entry) -> float:
    """Points of an attempt less what is taken off; below zero when it has none yet."""
    points = mark_of(entry.attempt, key)
    if points is None:
        return -1.0
    return max(0.0, points - rule.points_off(lab.points, entry.late_seconds, entry.place))
