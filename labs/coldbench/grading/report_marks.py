"""Marks as they stand now: records of the automatic marking joined with the gradebook.

The record says why, the gradebook says how much: a mark or a comment that a person entered in
nbgrader's form counts here at once. Without a gradebook the records alone are used.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.database import sqlite_file
from coldbench.grading.record import CellResult, Record, from_json, load_all


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
        """Cells that need a person: not marked yet, or their check failed."""
        return tuple(c for c in self.cells
                     if c.needs_hand or (c.cell.trouble and not c.by_hand))


def settle(record: Record, hand: HandMarks | None = None) -> Standing:
    """Join a record with what the gradebook holds about it."""
    found = hand.cells if hand else {}
    cells = tuple(_settled(cell, found.get(cell.grade_id)) for cell in record.cells)
    return Standing(record, cells, hand.late_penalty if hand else 0.0)


def _settled(cell: CellResult, mark: HandMark | None) -> Settled:
    if mark is None:
        return Settled(cell, cell.score, cell.score is None, False, False, "")
    by_hand = mark.manual_score is not None or bool(mark.extra_credit)
    given = (mark.manual_score, mark.auto_score, cell.score)
    base = next((score for score in given if score is not None), None)
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
    hands = hand_marks(course, lab, learner)
    return [settle(record, hands.get(record.learner)) for record in records]


def walk_standings(course: Course, lab: str, learners: Iterable[str]) -> Iterator[Standing]:
    """Some learners' marks as they stand now, one after the other, in a large class too."""
    hands = hand_marks(course, lab)
    for learner in sorted(learners):
        path = course.records / lab / f"{learner}.json"
        yield settle(from_json(path.read_text(encoding="utf-8")), hands.get(learner))


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


def hand_marks(course: Course, lab: str, learner: str | None = None) -> dict[str, HandMarks]:
    """Read what the gradebook holds about a lab [of one learner], by learner.

    Empty without a gradebook. Raises InputError when there is one but it cannot be read.
    """
    file = sqlite_file(course.gradebook_url)
    if file is not None and not file.is_file():
        return {}
    from coldbench.grading.gradebook import open_gradebook, quiet

    with quiet(), open_gradebook(course) as book:
        return _read_gradebook(book, lab, learner)


def _read_gradebook(book: Any, lab: str, learner: str | None) -> dict[str, HandMarks]:
    from nbgrader.api import BaseCell, Comment, Grade, SubmittedNotebook

    cells: dict[str, dict[str, HandMark]] = {}
    late: dict[str, float] = {}
    notebooks = (SubmittedNotebook.late_submission_penalty,)
    for who, penalty in _rows(book, notebooks, SubmittedNotebook, lab, learner):
        cells[who], late[who] = {}, float(penalty or 0.0)
    # Its automatic comments ("No response.") are left out: the page says that in its own words.
    comments = {(who, name): text or "" for who, name, text in _rows(
        book, (BaseCell.name, Comment.manual_comment), Comment, lab, learner)}
    columns = (BaseCell.name, Grade.auto_score, Grade.manual_score, Grade.extra_credit,
               Grade.needs_manual_grade)
    for who, name, auto, manual, extra, needs in _rows(book, columns, Grade, lab, learner):
        cells[who][name] = HandMark(auto, manual, extra, bool(needs),
                                    comments.pop((who, name), ""))
    for (who, name), text in comments.items():
        cells[who][name] = HandMark(comment=text)
    return {who: HandMarks(cells[who], late[who]) for who in cells}


def _rows(book: Any, columns: tuple[Any, ...], table: Any, lab: str, learner: str | None,
          ) -> Iterable[Any]:
    """Rows (learner, *columns) of a table that hangs on a lab's submitted notebooks."""
    from nbgrader.api import (
        Assignment, BaseCell, Student, SubmittedAssignment, SubmittedNotebook,
    )

    query = book.db.query(Student.id, *columns).select_from(table)
    if table is not SubmittedNotebook:
        query = (query.join(BaseCell, table.cell_id == BaseCell.id)
                 .join(SubmittedNotebook, table.notebook_id == SubmittedNotebook.id))
    query = (query.join(SubmittedAssignment,
                        SubmittedNotebook.assignment_id == SubmittedAssignment.id)
             .join(Student, SubmittedAssignment.student_id == Student.id)
             .join(Assignment, SubmittedAssignment.assignment_id == Assignment.id)
             .filter(Assignment.name == lab))
    return (query if learner is None else query.filter(Student.id == learner)).all()
