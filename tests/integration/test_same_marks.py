"""`coldbench grade` and plain `nbgrader autograde` give the same marks, cell by cell."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from coldbench.grading.gradebook import open_gradebook, quiet

CLASS = {  # learner → changed cells (None: not a notebook at all)
    "honest": {},
    "written": {"written": "Because the liquid boils."},
    "blank": {"answer-evaporating": "", "answer-superheat": "", "answer-words": ""},
    "slip": {"answer-evaporating":
             "evaporating = r134a.dew_temperature(case.low_side_gauge_kPa * 1000) - 273.15\n"
             "sheet.answer('evaporating temperature', evaporating, 'degC')"},
    "stderr": {"answer-superheat":
               "import sys; print('careful', file=sys.stderr)\n"
               "superheat = case.pipe_degC - evaporating\nsheet.answer('superheat', superheat, 'K')"},
    "dead": {"answer-superheat": "import os; os._exit(0)"},
    "forged": {"answer-evaporating": "print(3.0)\n3.0", "answer-superheat": "", "answer-words": ""},
    "damaged": None,
}


def nbgrader(folder: Path, *words: str) -> str:
    """Run an nbgrader command in a grading desk; returns what it said."""
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", *words], cwd=folder, capture_output=True, text=True,
        env={**os.environ, "COLDBENCH_NO_SANDBOX": "1"}, timeout=180, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    return done.stderr


@pytest.fixture(scope="module")
def desk(new_desk, level):
    """A class graded with `coldbench grade`, one written answer marked by hand."""
    desk = new_desk()
    for learner, changes in CLASS.items():
        desk.submit(learner, changes, data=b'{"cells": [' if changes is None else None)
    desk.grade(level)
    with quiet(), open_gradebook(desk.course) as book:
        grade = book.find_grade("written", "small-lab", "small-lab", "written")
        grade.manual_score, grade.needs_manual_grade = 2.0, False
        book.db.commit()
    return desk


@pytest.fixture(scope="module")
def both(desk):
    """Marks in the gradebook after each way of grading [learner → (ours, nbgrader's)]."""
    ours = {learner: desk.book(learner) for learner in CLASS}
    shutil.rmtree(desk.course.desk / "autograded")
    nbgrader(desk.course.desk, "autograde", "small-lab")
    return {learner: (ours[learner], desk.book(learner)) for learner in CLASS}


@pytest.mark.parametrize("learner", CLASS)
def test_automatic_marks_are_the_same(both, learner):
    ours, theirs = both[learner]
    assert {cell: marks[0] for cell, marks in ours.items()} == {
        cell: marks[0] for cell, marks in theirs.items()}


def test_the_marks_are_those_deserved(both, desk):
    automatic = {learner: {c: m[0] for c, m in ours.items()} for learner, (ours, _) in both.items()}
    for learner in ("honest", "stderr"):
        assert {c: automatic[learner][c] for c in desk.full} == desk.full
    for learner in ("blank", "forged", "damaged"):
        assert {c: automatic[learner][c] for c in desk.nothing} == desk.nothing
    assert automatic["dead"]["check-evaporating"] == 3.0
    assert automatic["slip"]["check-evaporating"] == 0.0


def test_marks_made_by_hand_are_kept(both, desk, level):
    assert both["written"][1]["written"][1] == 2.0
    desk.grade(level, force=True)
    assert desk.book("written")["written"][1] == 2.0


def test_nbgraders_feedback_shows_nothing_hidden(both, desk):
    shutil.rmtree(desk.course.desk / "feedback", ignore_errors=True)
    nbgrader(desk.course.desk, "generate_feedback", "small-lab")
    for learner in CLASS:
        page = (desk.course.desk / "feedback" / learner / "small-lab" / "small-lab.html").read_text()
        for word in ("HIDDEN TESTS", "MARK SCHEME", "names the reason", "sheet.mark(", "within="):
            assert word not in page, (learner, word)
