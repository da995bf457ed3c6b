"""Steps that nbgrader's own commands run in a course: the same grading, one at a time."""

import os
from functools import cache
from html import escape
from typing import Any

from jinja2 import pass_context
from nbconvert.exporters import HTMLExporter, NotebookExporter
from nbconvert.preprocessors import Preprocessor
from nbformat.notebooknode import NotebookNode
from nbformat.v4 import new_notebook
from nbgrader.preprocessors import NbGraderPreprocessor

from coldbench.errors import InputError
from coldbench.grading.course import Course, find_course
from coldbench.grading.feedback_safe import safe_markdown
from coldbench.grading.gradebook import open_gradebook, take_points_off
from coldbench.grading.job import RUBRIC, Job
from coldbench.grading.lab import Lab, open_lab
from coldbench.grading.lab_worker import LabWorker
from coldbench.grading.limits import limits_from
from coldbench.grading.record import save
from coldbench.grading.sandbox import choose_level
from coldbench.grading.submissions import find_submissions

NO_SANDBOX_VARIABLE = "COLDBENCH_NO_SANDBOX"
LONGEST_WRITTEN = 100_000  # characters shown to whoever marks by hand


class DamageTolerantExporter(NotebookExporter):
    """Hands on an empty notebook for every file.

    `GradeInTrust` reads the submission itself, because a damaged one would stop nbgrader.
    """

    def from_filename(self, filename: str, resources: Any = None, **ignored: Any) -> tuple:
        """Start the steps without reading the file."""
        return self.from_notebook_node(new_notebook(), resources)


class KeepAsSubmitted(NbGraderPreprocessor):
    """The first of nbgrader's two passes: nothing is to be done."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple:
        """Hand on what came."""
        return nb, resources


class GradeInTrust(NbGraderPreprocessor):
    """The second pass: rebuild, run apart, mark in trust; marks land in the cells' outputs."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple:
        """Grade the submission that nbgrader is at."""
        about = resources["nbgrader"]
        course = find_course()
        lab, limits = open_lab(course, about["assignment"]), limits_from(course.limits)
        level = choose_level(bool(os.environ.get(NO_SANDBOX_VARIABLE)))
        worker = LabWorker(lab, level, limits, cold=True)  # one submission repays no warming up
        try:
            job = _job_of(course, lab.name, about["student"], limits)
            graded = worker.grade(job)
        finally:
            worker.close()
        save(graded.record, course.records)
        _keep_plain_files(course, lab, job)
        return graded.notebook, resources


class TakePointsOff(NbGraderPreprocessor):
    """The last step: points taken off by the course's rule."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple:
        """Store them for the submission that nbgrader is at."""
        about, course = resources["nbgrader"], find_course()
        with open_gradebook(course) as book, book.transaction():
            take_points_off(course, about["assignment"], about["student"], book)
        return nb, resources


def _keep_plain_files(course: Course, lab: Lab, job: Job) -> None:
    """Remove what nbgrader copied beside the notebook, but for plain files and the lab's own.

    It follows links: one in a submission would bring a file of the teacher's to the learner.
    """
    folder = course.desk / "autograded" / job.learner / lab.name
    own = {path.relative_to(lab.folder).as_posix() for path in lab.companions()}
    kept = {*own, *(name for name, _ in job.files), "lab.toml", "timestamp.txt"}
    for path in folder.rglob("*"):
        if path.is_file() and path.relative_to(folder).as_posix() not in kept:
            path.unlink()


def _job_of(course: Course, lab: str, learner: str, limits: Any) -> Any:
    jobs, refused = find_submissions(course, lab, limits)
    for job in jobs:
        if job.learner == learner:
            return job
    reasons = dict(refused)
    raise InputError(reasons.get(learner, f"no submission of {learner!r} for {lab} was found"))


class HideRubrics(NbGraderPreprocessor):
    """Leave rubrics out of what learners see."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple:
        """Drop the rubric cells."""
        nb.cells = [cell for cell in nb.cells
                    if cell.metadata.get("coldbench", {}).get("role") != RUBRIC]
        return nb, resources


class EscapeNames(Preprocessor):
    """Before a page is made: names become text, since nbgrader's templates would take markup."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple:
        """Escape the names that the form shows."""
        for name in ("student", "first_name", "last_name", "notebook_path"):
            if isinstance(resources.get(name), str):
                resources[name] = escape(resources[name])
        return nb, resources


class TakeFromSource(NbGraderPreprocessor):
    """Take a lab's notebook from its MyST source, whatever the built one says."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple:
        """Replace the notebook by the lab's source."""
        lab = open_lab(find_course(), resources["nbgrader"]["assignment"])
        return lab.notebook, resources


@pass_context
def inert_markdown(context: Any, source: str) -> str:
    """Turn a cell's Markdown into HTML for nbgrader's pages; a learner's runs and loads nothing.

    Whoever marks by hand reads it in a page that may change marks.
    """
    cell = context.get("cell") or {}
    if _is_the_teachers(cell.get("metadata", {})):
        return _exporter().markdown2html(context, source)
    # Formulas are left as typed: their language can make links, too.
    page = safe_markdown(source, LONGEST_WRITTEN)
    return f'<div class="tex2jax_ignore mathjax_ignore">{page}</div>'


def _is_the_teachers(metadata: Any) -> bool:
    """Say whether a cell of a graded notebook is the lab's own: locked, or a rubric."""
    about = metadata.get("nbgrader", {})
    locked = about.get("locked") is True and not about.get("solution")
    return locked or metadata.get("coldbench", {}).get("role") == RUBRIC


@cache
def _exporter() -> HTMLExporter:
    return HTMLExporter()
