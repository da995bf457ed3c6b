"""The best attempt counts: every attempt is graded, and the one with most points is put in.

Points are those of the program, less what the course's rule takes off; written answers count
once a person marked the attempt that was put in. Of equal ones the earlier counts.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from coldbench.grading.attempts import (
    Attempt, attempts_of, keep_mark, mark_of, place_attempt, policy_of,
)
from coldbench.grading.course import Course
from coldbench.grading.job import Graded, Job, job_key
from coldbench.grading.lab import Lab
from coldbench.grading.limits import Limits
from coldbench.grading.penalty import penalty_rule
from coldbench.grading.submissions import job_from


def choose_best(course: Course, lab: Lab, limits: Limits, level: str, only: Sequence[str],
                run: Callable[[list[Job]], Iterable[Graded]]) -> None:
    """Put every learner's best attempt into `submitted/`, where the course wants the best.

    only [learners; empty: all]; run [grades jobs, in any order]. Attempts graded before under the
    same key are not graded again. Nothing is done under another policy, for learners with one
    attempt, or whose submission was taken away.
    """
    if policy_of(course) != "best" or not (course.attempts / lab.name).is_dir():
        return
    several = {}
    for folder in sorted((course.attempts / lab.name).iterdir()):
        there = (course.submitted / folder.name / lab.name).is_dir()
        attempts = attempts_of(course, lab.name, folder.name)
        if len(attempts) > 1 and there and (not only or folder.name in only):
            several[folder.name] = attempts
    by_key: dict[str, tuple[str, int, Attempt, Job]] = {}
    for learner, attempts in several.items():
        for place, attempt in enumerate(attempts):
            job = job_from(course, lab.name, learner, attempt.folder, limits)
            job = replace(job, notes=())
            by_key[job_key(lab, job, limits, level)] = (learner, place, attempt, job)
    rule = penalty_rule(course.penalty)
    waiting = {key: item for key, item in by_key.items() if mark_of(item[2], key) is None}
    for graded in run([job for *_, job in waiting.values()]):
        # A submission that could not be graded has no key; it counts as no points.
        if graded.record.key in waiting:
            keep_mark(waiting[graded.record.key][2], graded.record.key, graded.record.score)
    for learner in several:
        mine = [(key, item) for key, item in by_key.items() if item[0] == learner]
        _, best = max(mine, key=lambda pair: (_worth(lab, rule, *pair), -pair[1][1]))
        place_attempt(course, lab.name, learner, best[2])


def _worth(lab: Lab, rule, key: str, item: tuple[str, int, Attempt, Job]) -> float:
    """Points of an attempt less what is taken off; below zero when it has none yet."""
    _, place, attempt, job = item
    points = mark_of(attempt, key)
    if points is None:
        return -1.0
    full = sum(float(cell.metadata.nbgrader.points) for cell in lab.cells("check", "written"))
    return max(0.0, points - rule.points_off(full, job.late_seconds, place))
