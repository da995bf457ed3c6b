"""The one writer: puts labs, marks and notebooks where nbgrader keeps them.

Everything goes through nbgrader's own `Gradebook` and preprocessors, so manual marking,
feedback and late penalties keep working.
"""

import json
import logging
import shutil
import warnings
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from nbformat.notebooknode import NotebookNode

from coldbench.errors import InputError
from coldbench.grading.attempts import counting
from coldbench.grading.course import Course
from coldbench.grading.job import Graded
from coldbench.grading.lab import Lab
from coldbench.grading.lock import desk_lock
from coldbench.grading.nbgrader_config import put_on_path
from coldbench.grading.penalty import penalty_rule
from coldbench.grading.record import plain_disk_errors, save, write_atomically


@contextmanager
def quiet() -> Iterator[None]:
    """Keep nbgrader's and its database layer's chatter from the user's screen."""
    from sqlalchemy.exc import SAWarning

    logging.getLogger("traitlets").setLevel(logging.ERROR)
    logging.getLogger("tornado.application").setLevel(logging.CRITICAL)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SAWarning)
        warnings.simplefilter("ignore", DeprecationWarning)
        yield


def open_gradebook(course: Course, immediate: bool = False):
    """Open the course's gradebook, made if it is not there yet.

    immediate [take SQLite's write lock at each transaction's start]. Raises InputError when it
    cannot be used.
    """
    from coldbench.grading.book import Book

    put_on_path()
    course.desk.mkdir(parents=True, exist_ok=True)
    with quiet():
        return Book(course.gradebook_url, immediate)


def resources_for(course: Course, lab: str, learner: str = "") -> dict:
    """What nbgrader's preprocessors want to know."""
    return {"language": "python", "unique_key": lab,
            "nbgrader": {"notebook": lab, "assignment": lab, "student": learner,
                         "db_url": course.gradebook_url}}


def register_lab(course: Course, lab: Lab) -> None:
    """Tell the gradebook of a lab's cells, points and due date."""
    from coldbench.grading.release import BEFORE_SAVING, SaveAnswerCells, apply

    saved = apply(BEFORE_SAVING, lab.notebook, {"language": "python"})
    with quiet():
        with open_gradebook(course) as book:
            due = course.due.get(lab.name)
            book.update_or_create_assignment(
                lab.name, duedate=due.isoformat() if due else None)
        try:
            SaveAnswerCells().preprocess(saved, resources_for(course, lab.name))
        except RuntimeError:
            raise InputError(
                f"{lab.name}: answer or graded cells were added or removed, but work for the lab "
                "is already in the gradebook; put the cells back, or give the lab a new name"
            ) from None


def is_registered(course: Course, lab: Lab) -> bool:
    """Say whether the gradebook knows the lab's graded cells as they are now."""
    from nbgrader.api import MissingEntry

    from coldbench.grading.lab import grade_id_of

    with quiet(), open_gradebook(course) as book:
        try:
            notebook = book.find_notebook(lab.name, lab.name)
        except MissingEntry:
            return False
        known = {cell.name: cell.max_score for cell in notebook.grade_cells}
    wanted = {grade_id_of(cell): float(cell.metadata.nbgrader.points)
              for cell in lab.cells("check", "written")}
    return known == wanted


def has_outgrown(course: Course, lab: Lab) -> bool:
    """Say whether a lab's answer or graded cells differ from those the gradebook holds."""
    from nbgrader.api import MissingEntry

    from coldbench.grading.lab import grade_id_of

    with quiet(), open_gradebook(course) as book:
        try:
            known = {cell.name for cell in book.find_notebook(lab.name, lab.name).source_cells}
        except MissingEntry:
            return False
    return known != {grade_id_of(cell) for cell in lab.cells("answer", "learner", "check",
                                                             "written")}


def ensure_registered(course: Course, lab: Lab) -> None:
    """Register a lab unless the gradebook already knows its cells and its due date."""
    if not (is_registered(course, lab) and _due_in_book(course, lab) == course.due.get(lab.name)):
        register_lab(course, lab)


def _due_in_book(course: Course, lab: Lab) -> datetime | None:
    """When the gradebook says that a lab is due; it holds UTC without saying so."""
    with quiet(), open_gradebook(course) as book:
        due = book.find_assignment(lab.name).duedate
    return due.replace(tzinfo=UTC) if due else None


def graded_learners(course: Course, lab: str) -> set[str]:
    """Name the learners of whose submission the gradebook holds marks."""
    from nbgrader.api import MissingEntry

    with quiet(), open_gradebook(course) as book:
        try:
            return {submission.student.id for submission in book.assignment_submissions(lab)}
        except MissingEntry:
            return set()


@contextmanager
def open_writer(course: Course, lab: Lab) -> Iterator["Writer"]:
    """Hold the desk's lock and write one lab's marks; raises InputError when another does."""
    penalty_rule(course.penalty)  # refused now rather than after the first submission
    with desk_lock(course.desk, "grading") as notes:
        ensure_registered(course, lab)
        with open_gradebook(course, immediate=True) as book:
            yield Writer(course, lab, book, notes)


class Writer:
    """The one writer of a lab's marks: one transaction for each submission.

    notes [sentences for the user, such as that a killed grader's work is gone on with].
    """

    def __init__(self, course: Course, lab: Lab, book: Any, notes: list[str] | None = None):
        from coldbench.grading.book import SaveMarks

        self.notes = notes or []
        self._course, self._lab, self._book = course, lab, book
        self._step = SaveMarks(book)

    def save(self, graded: Graded) -> None:
        """Write one graded submission: marks, then notebook, then record.

        Wherever this is cut short, the record is not the new one, so the next call grades the
        submission again; it comes to the same, and marks by hand stay. Raises InputError when
        the disk is full or the gradebook cannot be written.
        """
        record, lab = graded.record, self._lab
        folder = self._course.desk / "autograded" / record.learner / lab.name
        before = _looked_at(_read_cells(folder / f"{lab.name}.ipynb"))
        after = _looked_at(graded.notebook.cells)
        same = {name for name, seen in before.items() if seen == after.get(name)}
        with quiet(), self._book.transaction():
            self._save_marks(graded, same)
        write_atomically(folder / f"{lab.name}.ipynb", nbformat_text(graded.notebook))
        with plain_disk_errors(folder):
            _tidy(folder, lab.name, record.submitted_at)
        save(record, self._course.records)

    def _save_marks(self, graded: Graded, same: set[str]) -> None:
        """Store scores; a mark by hand stays, and is settled while its answer is the same.

        nbgrader asks for a second look at every mark by hand when a submission is graded again.
        """
        book, record, lab = self._book, graded.record, self._lab.name
        book.hold_learner(record.learner)
        settled = {grade.name: grade.auto_score for grade in book.grades_of(lab, record.learner)
                   if grade.manual_score is not None and not grade.needs_manual_grade}
        book.update_or_create_student(record.learner)
        book.update_or_create_submission(lab, record.learner,
                                         timestamp=record.submitted_at or None)
        resources = resources_for(self._course, lab, record.learner)
        self._step.preprocess(graded.notebook, resources)
        for grade in book.find_submission_notebook(lab, lab, record.learner).grades:
            if grade.name in same and settled.get(grade.name, ...) == grade.auto_score:
                grade.needs_manual_grade = False
        take_points_off(self._course, lab, record.learner, book)

    def settle_penalties(self) -> None:
        """Take points off by the rule as it is now, for work graded before as well.

        All are read at once, and only what differs is written, so that nobody who marks by hand
        meanwhile has to wait.
        """
        book, lab = self._book, self._lab.name
        with quiet(), book.transaction():
            held = {s.student_id: (s.total_seconds_late, s.notebooks[0].late_submission_penalty)
                    for s in book.assignment_submissions(lab) if s.notebooks}
        full = self._lab.points
        for learner, (late_seconds, off) in held.items():
            if (off or 0.0) != points_off(self._course, lab, learner, full, late_seconds):
                with quiet(), book.transaction():
                    take_points_off(self._course, lab, learner, book)


def points_off(course: Course, lab: str, learner: str, full: float, late_seconds: float) -> float:
    """Points that the course's rule takes off a submission [full: points of the lab]."""
    place, _ = counting(course, lab, learner)
    return penalty_rule(course.penalty).points_off(full, late_seconds, max(0, place - 1))


def take_points_off(course: Course, lab: str, learner: str, book: Any) -> None:
    """Store what the course's rule takes off a submission, where nbgrader keeps it.

    Late is what nbgrader says, so an extension that was granted counts.
    """
    notebook = book.find_submission_notebook(lab, lab, learner)
    notebook.late_submission_penalty = points_off(
        course, lab, learner, notebook.notebook.max_score,
        notebook.assignment.total_seconds_late) or None


def _tidy(folder: Path, lab: str, submitted_at: str) -> None:
    """Leave nothing of an earlier grading beside a graded notebook."""
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        elif path.name not in (f"{lab}.ipynb", "timestamp.txt"):
            path.unlink()
    if submitted_at:
        write_atomically(folder / "timestamp.txt", submitted_at)
    else:
        (folder / "timestamp.txt").unlink(missing_ok=True)


def _looked_at(cells: Iterable[Mapping[str, Any]]) -> dict[str, tuple]:
    """What a mark by hand was given for [grade_id → points, and a written answer's text]."""
    found = {}
    for cell in cells:
        about = cell["metadata"].get("nbgrader", {})
        if about.get("grade"):
            text = "".join(cell["source"]) if about.get("solution") else ""
            found[about["grade_id"]] = (float(about["points"]), text)
    return found


def _read_cells(path: Path) -> list[dict[str, Any]]:
    """Cells of the notebook graded before; none when there is no such notebook."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))["cells"]
    except (OSError, ValueError):
        return []


def nbformat_text(notebook: NotebookNode) -> str:
    """A notebook as the text of its file.

    nbformat's own writer indents and checks it against the schema, which takes as long as to
    run it; the notebook is of our own making.
    """
    return json.dumps(notebook, ensure_ascii=False, sort_keys=True)
