"""From a platform's export to marks: several attempts, the best of them, points taken off."""

import json
import os
import subprocess
import sys
import zipfile

import pytest

from coldbench.grading.attempts import attempts_of, counting, mark_of
from coldbench.grading.collect import collect, manner_of
from coldbench.grading.course import find_course
from coldbench.grading.report_marks import standings

LAB = "small-lab"
SETTINGS = """
[collect]
pattern = "{learner}_{lab}_{time}.ipynb"
attempts = "best"
[penalty]
late_percent_per_day = 10
late_most_percent = 50
attempt_percent = 5
"""
ATTEMPTS = {  # learner → (time, what differs from the reference answers)
    "ml-01": [("20261201-100000", {"answer-words": "pass"}), ("20261202-100000", {}),
              ("20261203-100000", {"answer-superheat": "pass"})],
    "ml-02": [("20261201-100000", {"answer-words": "pass", "written": "Because."}),
              ("20261210-100000", {"written": "It is so."})],  # better, but six days late
    "ml-03": [("20261205-180000", {})],  # two days late
    "ml-04": [("20261201-100000", {}), ("20261202-100000", {"answer-words": "pass  # the same"}),
              ("20261203-100000", {"written": "Added."})],
}


@pytest.fixture(scope="module")
def graded(new_desk, level, tmp_path_factory):
    """A class whose attempts were collected and graded, the best counting."""
    desk = new_desk()
    settings = desk.course.desk / "course.toml"
    settings.write_text(settings.read_text("utf-8") + SETTINGS)
    desk.course = find_course(desk.root)
    export = tmp_path_factory.mktemp("export") / "export.zip"
    with zipfile.ZipFile(export, "w") as archive:
        for learner, attempts in ATTEMPTS.items():
            for time, changes in attempts:
                archive.writestr(f"{learner}_{LAB}_{time}.ipynb",
                                 json.dumps(desk.notebook({**desk.reference, **changes})))
    collect(desk.course, [export], manner_of(desk.course))
    desk.outcome = desk.grade(level)
    return desk


def total(desk, learner) -> float:
    (one,) = standings(desk.course, LAB, learner)
    return one.total


def test_the_best_attempt_counts(graded):
    marks = {learner: [mark_of(attempt) for attempt in attempts_of(graded.course, LAB, learner)]
             for learner in ATTEMPTS}
    assert marks == {"ml-01": [5, 9, 7], "ml-02": [5, 9], "ml-03": [None], "ml-04": [9, 5, 9]}
    # Of 12 points: a day late costs 1.2 up to 6, each attempt before 0.6.
    assert {learner: counting(graded.course, LAB, learner) for learner in ATTEMPTS} == {
        "ml-01": (2, 3), "ml-02": (1, 2), "ml-03": (1, 1), "ml-04": (1, 3)}
    assert total(graded, "ml-01") == pytest.approx(9 - 0.6)
    assert total(graded, "ml-02") == 5
    assert total(graded, "ml-03") == pytest.approx(9 - 2.4)
    assert total(graded, "ml-04") == 9


def test_the_account_stands_in_the_record(graded):
    assert ("3 attempts were handed in; attempt 2 counts, as the best one. The program gave "
            "5, 9, 7 points for them, in order.") in graded.record("ml-01").repairs
    assert graded.record("ml-03").repairs == ()


def test_a_second_call_grades_nothing_again(graded, level):
    before = {learner: total(graded, learner) for learner in ATTEMPTS}
    assert graded.grade(level).graded == []
    assert {learner: total(graded, learner) for learner in ATTEMPTS} == before


def test_a_new_rule_reaches_work_graded_before(graded, level):
    settings = graded.course.desk / "course.toml"
    text = settings.read_text("utf-8")
    settings.write_text(text.replace("late_percent_per_day = 10", "late_percent_per_day = 20"))
    try:
        graded.course = find_course(graded.root)
        assert graded.grade(level).graded == []
        assert total(graded, "ml-03") == pytest.approx(9 - 4.8)
    finally:
        settings.write_text(text)
        graded.course = find_course(graded.root)
        graded.grade(level)


def test_nbgraders_own_command_takes_off_the_same(graded):
    before = {learner: total(graded, learner) for learner in ("ml-01", "ml-03")}
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", "autograde", LAB, "--force", "--student=ml-01"],
        cwd=graded.course.desk, capture_output=True, text=True, timeout=120,
        env=os.environ | {"COLDBENCH_NO_SANDBOX": "1", "PYTHONWARNINGS": "ignore"})
    assert done.returncode == 0, done.stderr
    assert {learner: total(graded, learner) for learner in before} == before
