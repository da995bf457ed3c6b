"""Marks as they stand now: records of the automatic marking joined with the gradebook.

The record says why, the gradebook says how much: a mark or a comment that a person entered in
nbgrader's form counts here at once. Without a gradebook the records alone are used.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.record import CellResult, Record, load_all

SQLITE = "sqlite:///"


@dataclass(frozen=True)
class HandMark:
    """What the gradebook holds about one cell; scores in points, None when there is none."""

    auto_score: float | None = None
    manual_score: float | None = None
    extra_credit: float | None = None
    needs_hand: bool = False
    comment: str = ""


@dataclass(frozen=True)
class HandMarks:
    """What the gradebook holds about one submission: cells by `grade_id`, points off if late."""

    cells: Mapping[str, HandMark]
    late_penalty: float = 0.0


@dataclass(frozen=True)
class Settled:
    """One graded cell as it stands now.

    score [points; None while a hand is needed and nothing was given yet]; needs_hand;
    by_hand [a person gave the score]; again [was marked by hand, but the answer was graded
    anew since]; comment [of the teacher].
    """

    cell: CellResult
    score: float | None
    needs_hand: bool
    by_hand: bool
    again: bool
    comment: str

    @property
    def share(self) -> float | None:
        """Share of the points [0 to 1], None when not marked yet."""
        if self.score is None or self.cell.points <= 0:
            return None
        return max(0.0, min(1.0, self.score / self.cell.points))


@dataclass(frozen=True)
class Standing:
    """One learner's marks in one lab as they stand now."""

    record: Record
    cells: tuple[Settled, ...]
    late_penalty: float = 0.0

    @property
    def auto(self) -> float:
        """Points the program gave."""
        return sum(c.score or 0.0 for c in self.cells if not c.by_hand)

    @property
    def manual(self) -> float:
        """Points a person gave."""
        return sum(c.score or 0.0 for c in self.cells if c.by_hand)

    @property
    def total(self) -> float:
        """Points so far, less those taken off for handing in late; never below zero."""
        return max(0.0, self.auto + self.manual - self.late_penalty)

    @property
    def points(self) -> float:
        """Points that could be earned."""
        return self.record.points

    @property
    def open_points(self) -> float:
        """Points of answers nobody has marked yet."""
        return sum(c.cell.points for c in self.cells if c.score is None)

    @property
    def percent_so_far(self) -> float | None:
        """Percent of the points marked so far; None when nothing is marked."""
        marked = self.points - self.open_points
        return 100 * self.total / marked if marked > 0 else None

    @property
    def waiting(self) -> tuple[Settled, ...]:
        """Cells that need a person."""
        return tuple(c for c in self.cells if c.needs_hand)


def settle(record: Record, hand: HandMarks | None = None) -> Standing:
    """Join a record with what the gradebook holds about it."""
    found = hand.cells if hand else {}
    cells = tuple(_settled(cell, found.get(cell.grade_id)) for cell in record.cells)
    return Standing(record, cells, hand.late_penalty if hand else 0.0)


def _settled(cell: CellResult, mark: HandMark | None) -> Settled:
    if mark is None:
        return Settled(cell, cell.score, cell.score is None, False, False, "")
    by_hand = mark.manual_score is not None or bool(mark.extra_credit)
    base = next((s for s in (mark.manual_score, mark.auto_score, cell.score) if s is not None), None)
    score = None if base is None and not by_hand else (base or 0.0) + (mark.extra_credit or 0.0)
    needs = mark.needs_hand or score is None
    return Settled(cell, score, needs, by_hand, needs and by_hand, mark.comment)


def standings(course: Course, lab: str, learner: str | None = None) -> list[Standing]:
    """Every learner's marks in one lab as they stand now, sorted by learner.

    Raises InputError when the lab, the learner or any record is missing.
    """
    records = load_all(course.records, course_lab(course, lab))
    if not records:
        raise InputError(f"nothing graded yet for {lab}: run `coldbench grade {lab}`")
    if learner is not None:
        records = [record for record in records if record.learner == learner]
        if not records:
            raise InputError(f"no graded submission of {learner!r} for {lab}; "
                             f"see `coldbench report {lab}` for the learners there are")
    hands = hand_marks(course, lab)
    return [settle(record, hands.get(record.learner)) for record in records]


def course_lab(course: Course, lab: str) -> str:
    """Check a lab's name: one in source/, or one that was graded; raises InputError."""
    if lab in graded_labs(course):
        return lab
    return course.require_lab(lab)


def graded_labs(course: Course) -> list[str]:
    """Labs that have records: those in source/ in teaching order, then others by name."""
    found = {path.parent.name for path in course.records.glob("*/*.json")}
    ordered = [lab for lab in course.labs() if lab in found]
    return ordered + sorted(found - set(ordered))


def unreadable_records(course: Course, lab: str, standing: Iterable[Standing]) -> list[str]:
    """Names of record files that could not be read, so that no mark is lost in silence."""
    read = {item.record.learner for item in standing}
    return sorted(p.name for p in (course.records / lab).glob("*.json") if p.stem not in read)


def hand_marks(course: Course, lab: str) -> dict[str, HandMarks]:
    """Read what the gradebook holds about a lab, by learner; empty without a gradebook.

    Raises InputError when there is a gradebook but it cannot be read.
    """
    url = course.gradebook_url
    if url.startswith(SQLITE) and not Path(url.removeprefix(SQLITE)).is_file():
        return {}
    from sqlalchemy.exc import SQLAlchemyError

    try:
        return _read_gradebook(url, lab)
    except SQLAlchemyError as error:
        reason = str(getattr(error, "orig", None) or error).splitlines()[0]
        raise InputError(f"the gradebook {url} cannot be read: {reason}") from None


def _read_gradebook(url: str, lab: str) -> dict[str, HandMarks]:
    from nbgrader.api import BaseCell, Comment, Grade, Gradebook, SubmittedNotebook

    with Gradebook(url) as book:
        try:
            notebooks = _notebooks(book, lab)
            columns = (Grade.notebook_id, BaseCell.name, Grade.auto_score, Grade.manual_score,
                       Grade.extra_credit, Grade.needs_manual_grade)
            grades = _of_lab(book.db.query(*columns).select_from(Grade), Grade, lab).all()
            said = _of_lab(book.db.query(Comment.notebook_id, BaseCell.name, Comment.comment)
                           .select_from(Comment), Comment, lab).all()
            late = dict(book.db.query(SubmittedNotebook.id,
                                      SubmittedNotebook.late_submission_penalty).all())
        finally:
            book.db.rollback()
    cells: dict[str, dict[str, HandMark]] = {learner: {} for learner in notebooks.values()}
    comments = {(note, name): text or "" for note, name, text in said}
    for note, name, auto, manual, extra, needs in grades:
        mark = HandMark(auto, manual, extra, bool(needs), comments.pop((note, name), ""))
        cells[notebooks[note]][name] = mark
    for (note, name), text in comments.items():
        cells[notebooks[note]].setdefault(name, HandMark(comment=text))
    return {learner: HandMarks(cells[learner], float(late.get(note) or 0.0))
            for note, learner in notebooks.items()}


def _notebooks(book: object, lab: str) -> dict[str, str]:
    """Submitted notebooks of a lab: id → learner."""
    from nbgrader.api import Assignment, Student, SubmittedAssignment, SubmittedNotebook

    rows = (book.db.query(SubmittedNotebook.id, Student.id).select_from(SubmittedNotebook)
            .join(SubmittedAssignment,
                  SubmittedNotebook.assignment_id == SubmittedAssignment.id)
            .join(Student, SubmittedAssignment.student_id == Student.id)
            .join(Assignment, SubmittedAssignment.assignment_id == Assignment.id)
            .filter(Assignment.name == lab))
    return dict(rows.all())


def _of_lab(query: object, table: type, lab: str) -> object:
    from nbgrader.api import Assignment, BaseCell, SubmittedAssignment, SubmittedNotebook

    return (query.join(BaseCell, table.cell_id == BaseCell.id)
            .join(SubmittedNotebook, table.notebook_id == SubmittedNotebook.id)
            .join(SubmittedAssignment,
                  SubmittedNotebook.assignment_id == SubmittedAssignment.id)
            .join(Assignment, SubmittedAssignment.assignment_id == Assignment.id)
            .filter(Assignment.name == lab))
