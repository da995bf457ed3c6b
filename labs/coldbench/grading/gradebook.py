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
from coldbench.grading.course import Course
from coldbench.grading.job import Graded
from coldbench.grading.lab import Lab
from coldbench.grading.nbgrader_config import put_on_path
from coldbench.grading.record import save, write_atomically


@contextmanager
def quiet() -> Iterator[None]:
    """Keep nbgrader's and its database layer's chatter from the user's screen."""
    from sqlalchemy.exc import SAWarning

    logging.getLogger("traitlets").setLevel(logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SAWarning)
        warnings.simplefilter("ignore", DeprecationWarning)
        yield


def open_gradebook(course: Course):
    """Open the course's gradebook, made if it is not there yet."""
    from nbgrader.api import Gradebook

    put_on_path()
    course.desk.mkdir(parents=True, exist_ok=True)
    return Gradebook(course.gradebook_url)


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


def save_graded(course: Course, lab: Lab, graded: Graded) -> None:
    """Write one graded submission: notebook, marks, record; the record last of all."""
    from nbgrader.preprocessors import AssignLatePenalties, SaveAutoGrades

    record = graded.record
    folder = course.desk / "autograded" / record.learner / lab.name
    settled = _settled_by_hand(course, lab, record.learner)
    before = _looked_at(_read_cells(folder / f"{lab.name}.ipynb"))
    if folder.exists():
        shutil.rmtree(folder)
    _write_notebook(folder / f"{lab.name}.ipynb", graded.notebook)
    if record.submitted_at:
        write_atomically(folder / "timestamp.txt", record.submitted_at)
    resources = resources_for(course, lab.name, record.learner)
    with quiet():
        with open_gradebook(course) as book:
            book.update_or_create_student(record.learner)
            stamp = {"timestamp": record.submitted_at} if record.submitted_at else {}
            book.update_or_create_submission(lab.name, record.learner, **stamp)
        for step in (SaveAutoGrades, AssignLatePenalties):
            step().preprocess(graded.notebook, resources)
    after = _looked_at(graded.notebook.cells)
    _keep_settled(course, lab, record.learner,
                  {name: score for name, score in settled.items()
                   if name in before and before[name] == after.get(name)})
    save(record, course.records)


def _settled_by_hand(course: Course, lab: Lab, learner: str) -> dict[str, float | None]:
    """Marks a person gave and has done with [grade_id → what the program had given]."""
    from nbgrader.api import MissingEntry

    with quiet(), open_gradebook(course) as book:
        try:
            notebook = book.find_submission_notebook(lab.name, lab.name, learner)
        except MissingEntry:
            return {}
        return {grade.name: grade.auto_score for grade in notebook.grades
                if grade.manual_score is not None and not grade.needs_manual_grade}


def _keep_settled(course: Course, lab: Lab, learner: str,
                  settled: dict[str, float | None]) -> None:
    """Spare the teacher a second look at marks whose answer and automatic score are as before.

    nbgrader asks for that look whenever a submission is graded again.
    """
    if not settled:
        return
    with quiet(), open_gradebook(course) as book:
        for grade in book.find_submission_notebook(lab.name, lab.name, learner).grades:
            if grade.name in settled and grade.auto_score == settled[grade.name]:
                grade.needs_manual_grade = False
        book.db.commit()


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


def _write_notebook(path: Path, notebook: NotebookNode) -> None:
    import nbformat

    write_atomically(path, nbformat.writes(notebook))
