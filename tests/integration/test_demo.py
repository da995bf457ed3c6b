"""The demo class: 24 invented learners in a course folder of their own, really graded."""

import shutil
from pathlib import Path

import pytest

from coldbench.cli.demo import print_class, stands_out
from coldbench.errors import InputError
from coldbench.grading.build import build
from coldbench.grading.course import find_course
from coldbench.grading.demo import NOTE, demo_class, hand_in, lay_out_demo
from coldbench.grading.driver import grade_lab
from coldbench.grading.report import make_report
from coldbench.grading.sandbox import LIMITS_ONLY, missing_for_bubblewrap

SMALL = Path(__file__).parent / "small_course"


@pytest.fixture(scope="module")
def course(tmp_path_factory):
    root = tmp_path_factory.mktemp("course") / "small"
    shutil.copytree(SMALL, root)
    return find_course(root)


@pytest.fixture(scope="module")
def outcome(course):
    level = LIMITS_ONLY if missing_for_bubblewrap() else "bubblewrap"
    demo = lay_out_demo(course)
    build(demo, [], level, lambda line: None)
    hand_in(demo, "small-lab", level, lambda: None)
    return grade_lab(demo, "small-lab", level, workers=2)


def by_learner(outcome):
    return {record.learner: record for record in outcome.all_records}


def test_every_learner_gets_a_record(outcome):
    assert sorted(by_learner(outcome)) == sorted(habit.id for habit in demo_class().habits)
    assert len(outcome.all_records) == 24


def test_the_class_differs(outcome):
    assert len({record.score for record in outcome.all_records}) >= 4
    mistakes = {mark.mistake for record in outcome.all_records
                for cell in record.cells for mark in cell.marks}
    assert {"took gauge for absolute", "unit slip"} <= mistakes


def test_what_is_out_of_the_ordinary_is_said(outcome):
    records = by_learner(outcome)
    assert any("stopped" in state for state in records["ml-12"].run.values())
    assert any("error" in state for state in records["ml-10"].run.values())
    assert "breaks off" in " ".join(records["ml-21"].repairs)
    assert "belongs to 'ml-01'" in " ".join(records["ml-19"].notices)
    assert "was missing" in " ".join(records["ml-23"].repairs)
    assert {name for name, record in records.items() if record.late_seconds} == {"ml-06", "ml-15"}


def test_untouched_work_earns_nothing_and_good_work_everything(outcome):
    records = by_learner(outcome)
    assert records["ml-11"].score == 0
    assert records["ml-01"].score == sum(
        cell.points for cell in records["ml-01"].cells if cell.kind == "checked")


def test_the_real_class_is_not_touched(course, outcome):
    there = {path.name for path in course.desk.iterdir()}
    assert there == {"course.toml", "nbgrader_config.py", "demo"}


def test_a_folder_not_made_by_the_demo_is_left_alone(tmp_path):
    shutil.copytree(SMALL, tmp_path / "small")
    mine = tmp_path / "small" / "autograde" / "demo" / "mine.txt"
    mine.parent.mkdir()
    mine.write_text("keep me")
    with pytest.raises(InputError, match="not made by the demo"):
        lay_out_demo(find_course(tmp_path / "small"), fresh=True)
    assert mine.read_text() == "keep me"
    assert NOTE not in {path.name for path in mine.parent.iterdir()}


def test_the_class_table_says_whole_phrases_and_where(outcome, course, monkeypatch, capsys):
    """Seven labs fit 100 columns; what holds for several labs is said once."""
    report = make_report(find_course(course.desk / "demo"), "small-lab")
    late = by_learner(outcome)["ml-06"]
    assert stands_out([late], [report]).startswith("late")
    assert stands_out([late] * 7, [report] * 7).startswith("late (all)")
    monkeypatch.setenv("COLUMNS", "100")
    print_class([outcome] * 7, [report] * 7)
    table = capsys.readouterr().out
    assert max(map(len, table.splitlines())) <= 100
    assert "lab 7" in table.splitlines()[1]
    assert table.count("ml-") >= 24
