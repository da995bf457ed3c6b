"""Marks and comments given in nbgrader's form: read through its own `Gradebook`."""

import runpy
import shutil
from pathlib import Path

import pytest

from coldbench.errors import InputError
from coldbench.grading.course import read_course
from coldbench.grading.export import marks_of
from coldbench.grading.feedback import write_class, write_feedback
from coldbench.grading.gradebook import open_gradebook, quiet
from coldbench.grading.record import load_all
from coldbench.grading.report import make_report
from coldbench.grading.report_marks import hand_marks, settle, standings

rc = runpy.run_path(str(Path(__file__).parent / "report_class.py"))
LAB = rc["LAB"]


def fill_gradebook(course, records):
    """Register a lab and its marks as grading does."""
    with quiet(), open_gradebook(course) as book:
        book.add_assignment(LAB)
        book.add_notebook(LAB, LAB)
        for cell in records[0].cells:
            written = cell.kind == "written"
            book.add_grade_cell(cell.grade_id, LAB, LAB, max_score=cell.points,
                                cell_type="markdown" if written else "code")
            if written:
                book.add_solution_cell(cell.grade_id, LAB, LAB)
        for record in records:
            book.add_student(record.learner)
            book.add_submission(LAB, record.learner)
            for cell in record.cells:
                grade = book.find_grade(cell.grade_id, LAB, LAB, record.learner)
                grade.auto_score = cell.score
                grade.needs_manual_grade = cell.score is None
        book.db.commit()


def mark_by_hand(course, learner, score, comment, late=0.0):
    """Give a written answer points and a comment, as nbgrader's form does."""
    with quiet(), open_gradebook(course) as book:
        grade = book.find_grade("explain-air", LAB, LAB, learner)
        grade.manual_score, grade.needs_manual_grade = score, False
        book.find_comment("explain-air", LAB, LAB, learner).manual_comment = comment
        book.find_submission_notebook(LAB, LAB, learner).late_submission_penalty = late
        book.db.commit()


@pytest.fixture(scope="module")
def registered(tmp_path_factory):
    """A graded class with its gradebook, made once and copied for each test."""
    course = rc["make_course"](tmp_path_factory.mktemp("registered"))
    fill_gradebook(course, rc["make_class"](course, learners=6))
    return course


@pytest.fixture
def course(registered, tmp_path):
    shutil.copytree(registered.root, tmp_path, dirs_exist_ok=True)
    return read_course(tmp_path)


def test_without_a_gradebook_the_records_alone_count(tmp_path):
    course = rc["make_course"](tmp_path)
    rc["make_class"](course, learners=3)
    assert hand_marks(course, LAB) == {}
    assert not (course.desk / "gradebook.db").exists(), "reading must not make one"
    totals = [one.total for one in standings(course, LAB)]
    assert totals == [record.score for record in load_all(course.records, LAB)]


def test_before_marking_by_hand_both_agree(course):
    for one in standings(course, LAB):
        alone = settle(one.record)
        assert (one.total, one.open_points) == (alone.total, alone.open_points)
        assert [c.needs_hand for c in one.cells] == [c.needs_hand for c in alone.cells]


def test_a_mark_given_by_hand_reaches_feedback_report_and_export(course):
    before = {one.record.learner: one for one in standings(course, LAB)}
    mark_by_hand(course, "ml-03", 2.5, "Say what <b>condenses</b>.", late=0.5)
    one = next(o for o in standings(course, LAB) if o.record.learner == "ml-03")
    assert one.manual == 2.5 and one.total == pytest.approx(before["ml-03"].total + 2.0)
    assert not one.waiting and one.late_penalty == 0.5
    page = write_class(course, LAB, "ml-03")[0].read_text("utf-8")
    assert "2.5 of 3 points" in page and "Say what &lt;b&gt;condenses" in page
    found = next(x for x in make_report(course, LAB).learners if x.learner == "ml-03")
    assert found.manual == 2.5 and found.needs_hand == []
    line = next(x for x in marks_of(course) if x["learner"] == "ml-03")
    assert line["needs_hand"] == 0 and line["points"] == pytest.approx(one.total, abs=1e-3)
    page = write_feedback(course, one.record).read_text("utf-8")
    assert "2.5 of 3 points" in page, "looked up in the gradebook when not handed over"


def test_totals_are_those_of_nbgrader_itself(course):
    mark_by_hand(course, "ml-05", 1.0, "")
    with quiet(), open_gradebook(course) as book:
        theirs = {s.student.id: s.score for s in book.assignment_submissions(LAB)}
    ours = {one.record.learner: one.total for one in standings(course, LAB)}
    assert ours == pytest.approx(theirs)


def test_only_one_learner_is_read_when_one_is_asked_for(course):
    assert set(hand_marks(course, LAB, "ml-02")) == {"ml-02"}
    assert len(hand_marks(course, LAB)) == 6
    assert hand_marks(course, "another-lab") == {}


def test_a_broken_gradebook_is_one_sentence(course):
    (course.desk / "gradebook.db").write_bytes(b"not a database, but long enough to be read" * 50)
    with pytest.raises(InputError, match="cannot be read") as caught:
        hand_marks(course, LAB)
    assert "\n" not in str(caught.value)
