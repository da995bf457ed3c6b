"""What a gradebook holds, for a person: where it lies, labs, learners, answers to mark."""

from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.database import spoken_address, sqlite_file
from coldbench.grading.gradebook import open_gradebook, quiet
from coldbench.grading.lock import holder_of


@dataclass(frozen=True)
class LabInBook:
    """One lab's standing: submissions with marks, and answers that wait for a hand."""

    name: str
    submissions: int
    waiting: int


@dataclass(frozen=True)
class Summary:
    """A gradebook at a glance: address without password, schema, learners, labs, who grades."""

    address: str
    kind: str
    version: str
    learners: int
    labs: tuple[LabInBook, ...]
    grading_now: str


def summarize(course: Course) -> Summary:
    """Look at a course's gradebook; raises InputError when there is none or it is no use."""
    address = course.gradebook_url
    if (file := sqlite_file(address)) is not None and not file.is_file():
        raise InputError(f"there is no gradebook {file} yet; `coldbench build` makes it")
    from coldbench.grading.book import schema_version

    with quiet(), open_gradebook(course) as book:
        labs = tuple(LabInBook(a.name, len(a.submissions), _waiting(book, a.name))
                     for a in book.assignments)
        learners = len(book.students)
    return Summary(spoken_address(address), "SQLite" if sqlite_file(address) else "PostgreSQL",
                   schema_version(), learners, labs, holder_of(course.desk, "grading"))


def _waiting(book, lab: str) -> int:
    """Answers of a lab that a person still has to mark."""
    from nbgrader.api import Assignment, Grade, SubmittedAssignment, SubmittedNotebook

    return (book.db.query(Grade)
            .join(SubmittedNotebook, SubmittedNotebook.id == Grade.notebook_id)
            .join(SubmittedAssignment, SubmittedAssignment.id == SubmittedNotebook.assignment_id)
            .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
            .filter(Assignment.name == lab, Grade.needs_manual_grade).count())
