"""Grading a class: every submission of a lab, several at a time, one writer.

A submission that cannot be graded never stops the others. A second call grades only what
changed: the record of an earlier call names the hash of all that decided its marks.
"""

import queue
import threading
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from functools import partial

from coldbench.errors import InputError
from coldbench.grading.best_attempt import choose_best
from coldbench.grading.course import Course
from coldbench.grading.gradebook import graded_learners, open_writer
from coldbench.grading.job import Graded, Job, grade, job_key, ungraded
from coldbench.grading.lab import Lab, open_lab
from coldbench.grading.limits import Limits, limits_from
from coldbench.grading.marking import MarkingProcess
from coldbench.grading.record import Record, from_json
from coldbench.grading.submissions import find_submissions


@dataclass
class Outcome:
    """What grading a lab came to.

    records [newly graded]; unchanged [records kept from before]; refused [(folder, reason)];
    notes [sentences on the grading as a whole].
    """

    lab: str
    records: list[Record] = field(default_factory=list)
    unchanged: list[Record] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def all_records(self) -> list[Record]:
        """Every record of the class, by learner."""
        return sorted([*self.records, *self.unchanged], key=lambda record: record.learner)


class MarkingPool:
    """Marking processes shared by workers: each is used by one worker at a time."""

    def __init__(self, lab: Lab, count: int):
        self._free: queue.SimpleQueue[MarkingProcess] = queue.SimpleQueue()
        self._all = [MarkingProcess(lab) for _ in range(count)]
        for process in self._all:
            self._free.put(process)

    def grade(self, lab: Lab, job: Job, level: str, limits: Limits) -> Graded:
        """Grade one job with a free marking process."""
        process = self._free.get()
        try:
            return grade(lab, job, level, limits, process)
        except InputError as error:
            return ungraded(lab, job, level, limits, str(error))
        except Exception as error:  # one submission's trouble must not stop the class
            return ungraded(lab, job, level, limits,
                            f"Grading this submission failed ({type(error).__name__}: {error}).")
        finally:
            self._free.put(process)

    def close(self) -> None:
        """End every process."""
        for process in self._all:
            process.close()


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
              progress: Callable[[int, int, Record | None], None] = lambda *ignored: None,
              ) -> Outcome:
    """Grade a lab's submissions.

    level [of the sandbox]; workers [submissions at a time]; force [grade again what is
    unchanged]; progress [called with (done, all, the record just made)].
    """
    lab = open_lab(course, name)
    check_code(course, lab)
    limits = limits_from(course.limits)
    with open_writer(course, lab) as writer:
        run = partial(_in_parallel, lab, level=level, limits=limits, workers=workers)
        choose_best(course, lab, limits, level, run)
        jobs, refused = find_submissions(course, name, limits)
        outcome = Outcome(name, refused=refused, notes=writer.notes)
        known = set() if force else graded_learners(course, name)
        waiting = []
        for job in jobs:
            kept = kept_record(course, job, lab, level, limits) if job.learner in known else None
            outcome.unchanged += [kept] if kept else []
            waiting += [] if kept else [job]
        progress(len(outcome.unchanged), len(jobs), None)
        for graded in run(waiting):
            writer.save(graded)
            outcome.records.append(graded.record)
            progress(len(outcome.unchanged) + len(outcome.records), len(jobs), graded.record)
        writer.settle_penalties()
    return outcome


def _in_parallel(lab: Lab, jobs: list[Job], level: str, limits: Limits, workers: int,
                 ) -> Iterator[Graded]:
    """Grade jobs on several threads; each thread only waits for its own processes."""
    if not jobs:
        return
    lab.released, lab.fingerprint  # noqa: B018 - worked out once, before threads share them
    pool = MarkingPool(lab, min(workers, len(jobs)))
    stop = threading.Event()

    def one(job: Job) -> Graded | None:
        return None if stop.is_set() else pool.grade(lab, job, level, limits)

    with ThreadPoolExecutor(min(workers, len(jobs))) as executor:
        try:
            for done in as_completed([executor.submit(one, job) for job in jobs]):
                yield done.result()
        finally:
            stop.set()
            executor.shutdown(wait=True, cancel_futures=True)
            pool.close()
