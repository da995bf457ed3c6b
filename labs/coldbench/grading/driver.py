"""Grading a class: every submission of a lab, several at a time, one writer.

A submission that cannot be graded never stops the others. A second call grades only what
changed: the record of an earlier call names the hash of all that decided its marks. Submissions
are read, graded and written one by one, so that a large class takes no more memory than a small
one.
"""

import tomllib
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.best_attempt import choose_best
from coldbench.grading.course import Course
from coldbench.grading.executors import DaskGraders, Graders, LocalGraders
from coldbench.grading.gradebook import graded_learners, open_writer
from coldbench.grading.job import Graded, Job, job_key
from coldbench.grading.lab import Lab, open_lab
from coldbench.grading.limits import Limits, limits_from
from coldbench.grading.record import Record, from_json
from coldbench.grading.submissions import read_submitted, submission_folders

WORTH_WARMING = 3  # submissions of a worker; warming up takes as long as two cold starts


@dataclass
class Outcome:
    """What grading a lab came to; records are read from the desk when asked for.

    graded, kept [learners graded now, and unchanged since before]; failed [of those graded, who
    waits for a hand because the program could not]; refused [(folder, reason)]; notes [sentences
    on the grading as a whole].
    """

    lab: str
    folder: Path
    graded: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def walk(self, learners: list[str]) -> Iterator[Record]:
        """Read the records of some learners, one after the other."""
        for learner in sorted(learners):
            text = (self.folder / self.lab / f"{learner}.json").read_text(encoding="utf-8")
            yield from_json(text)

    @property
    def records(self) -> list[Record]:
        """Records made now, by learner."""
        return list(self.walk(self.graded))

    @property
    def all_records(self) -> list[Record]:
        """Every record of the class, by learner."""
        return list(self.walk([*self.graded, *self.kept]))


@dataclass(frozen=True)
class Wish:
    """What to grade of a class.

    only [learners; empty: all]; since [only what was handed in from then on]; force [grade again
    what is unchanged]; cold [start Python anew for each submission].
    """

    only: tuple[str, ...] = ()
    since: datetime | None = None
    force: bool = False
    cold: bool = False


@dataclass(frozen=True)
class Progress:
    """How far grading has come: counts of submissions, and the record just made."""

    done: int
    total: int
    failed: int = 0
    record: Record | None = None


def kept_record(course: Course, job: Job, lab: Lab, level: str, limits: Limits) -> Record | None:
    """The record of an earlier call, if nothing that decides the marks has changed since."""
    path = course.records / lab.name / f"{job.learner}.json"
    notebook = course.desk / "autograded" / job.learner / lab.name / f"{lab.name}.ipynb"
    try:
        record = from_json(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    same = record.key == job_key(lab, job, limits, level)
    return record if same and notebook.is_file() else None


def check_code(course: Course, lab: Lab) -> None:
    """Refuse to mark work with other numbers than learners were handed out.

    Raises InputError when the lab in `release/` was built under another course code.
    """
    try:
        manifest = tomllib.loads((course.release / lab.name / "lab.toml").read_text("utf-8"))
    except (OSError, ValueError):
        return  # nothing handed out from here
    given = manifest.get("course", lab.course_code)
    if given != lab.course_code:
        raise InputError(
            f"{lab.name} was handed out with the course code {given!r}, but course.toml says "
            f"{lab.course_code!r}, so every learner would be marked with other numbers; put the "
            "code back, or for a new term build the lab and hand it out again")


def grade_lab(course: Course, name: str, level: str, workers: int = 2, force: bool = False,
              progress: Callable[[Progress], None] = lambda ignored: None,
              wish: Wish | None = None, client: Any = None) -> Outcome:
    """Grade a lab's submissions.

    level [of the sandbox]; workers [submissions at a time on this machine]; force [grade again
    what is unchanged]; progress [told after each step]; wish [what to grade]; client [of a Dask
    cluster, which then grades instead of this machine].
    """
    lab = open_lab(course, name)
    check_code(course, lab)
    course.check_due()
    limits = limits_from(course.limits)
    wish = wish or Wish(force=force)
    class_ = _Class(course, lab, level, limits, wish)
    outcome = class_.outcome
    with (closing(_graders(client, lab, level, limits, workers, wish.cold, len(class_))) as graders,
          _opened(graders, class_, course, lab) as writer):
        outcome.notes = writer.notes
        progress(Progress(0, len(class_)))
        choose_best(course, lab, limits, level, wish.only,
                    lambda jobs: filter(None, _stream(graders, jobs)))
        for graded in _stream(graders, class_):
            if graded is not None:
                writer.save(graded)
                _count(outcome, graded.record)
            progress(Progress(len(outcome.kept) + len(outcome.graded), len(class_),
                              len(outcome.failed), graded.record if graded else None))
        writer.settle_penalties()
    return outcome


def _opened(graders: Graders, class_: "_Class", course: Course, lab: Lab) -> Any:
    """Open the gradebook, while the graders start if some work is surely new."""
    if class_.has_new_work():
        graders.warm_up()
    return open_writer(course, lab)


def _graders(client: Any, lab: Lab, level: str, limits: Limits, workers: int, cold: bool,
             submissions: int) -> Any:
    if client:
        return DaskGraders(client, lab, level, limits, cold)
    workers = max(1, min(workers, submissions))  # cores without a submission need no worker
    return LocalGraders(lab, level, limits, workers,
                        cold or submissions < WORTH_WARMING * workers)


def _count(outcome: Outcome, record: Record) -> None:
    outcome.graded.append(record.learner)
    outcome.failed += [record.learner] if not record.key else []


class _Class:
    """A lab's submissions, read one by one; gives those that are to be graded."""

    def __init__(self, course: Course, lab: Lab, level: str, limits: Limits, wish: Wish):
        self._course, self._lab, self._level, self._limits = course, lab, level, limits
        self._wish = wish
        folders, refused = submission_folders(course, lab.name)
        self._left_out = 0
        self.outcome = Outcome(lab.name, course.records, refused=refused)
        self._folders = [(learner, folder) for learner, folder in folders
                         if not wish.only or learner in wish.only]

    def has_new_work(self) -> bool:
        """Say whether something is to be graded for certain; nothing is read for it."""
        records = self._course.records / self._lab.name
        return bool(self._folders) and (self._wish.force or any(
            not (records / f"{learner}.json").exists() for learner, _ in self._folders))

    def __len__(self) -> int:
        """Submissions to grade or to keep, as far as is known; those left out do not count."""
        return len(self._folders) - self._left_out

    def __iter__(self) -> Iterator[Job | None]:
        """Give each job, or None for one that is kept as it is or left out."""
        known = set() if self._wish.force else graded_learners(self._course, self._lab.name)
        for learner, folder in self._folders:
            job, reason = read_submitted(self._course, self._lab.name, learner, folder,
                                         self._limits)
            if job is None:
                self._left_out += 1
                self.outcome.refused = sorted([*self.outcome.refused, (learner, reason)])
                yield None
            elif self._wish.since and not _handed_in_since(job, folder, self._wish.since):
                self._left_out += 1
                yield None
            elif learner in known and self._is_kept(job):
                self.outcome.kept.append(learner)
                yield None
            else:
                yield job

    def _is_kept(self, job: Job) -> bool:
        return kept_record(self._course, job, self._lab, self._level, self._limits) is not None


def _handed_in_since(job: Job, folder: Path, moment: datetime) -> bool:
    """Say whether work was handed in since a moment; without a stamp its files' time counts."""
    if job.submitted_at:
        return datetime.fromisoformat(job.submitted_at) >= moment
    newest = max((path.lstat().st_mtime for path in [folder, *folder.rglob("*")]), default=0.0)
    return newest >= moment.timestamp()


def _stream(graders: Graders, jobs: Iterable[Job | None]) -> Iterator[Graded | None]:
    """Give results as they come; at most a few jobs are begun ahead of the workers."""
    running: set[Future] = set()
    for job in jobs:
        if job is None:
            yield None
            continue
        running.add(graders.submit(job))
        while len(running) >= 2 * graders.width:
            yield from _finished(graders, running)
    while running:
        yield from _finished(graders, running)


def _finished(graders: Graders, running: set[Future]) -> Iterator[Graded]:
    done, _ = wait(running, return_when=FIRST_COMPLETED)
    for future in done:
        running.discard(future)
        yield graders.result(future)
