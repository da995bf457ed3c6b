"""`coldbench grade` where nothing was handed in, or in the wrong place: one sentence says so."""

import runpy
import shutil
from pathlib import Path

import pytest

from coldbench.cli import main
from coldbench.errors import InputError
from coldbench.grading.build import build
from coldbench.grading.course import find_course
from coldbench.grading.driver import grade_lab

rc = runpy.run_path(str(Path(__file__).parent / "report_class.py"))
LAB = rc["LAB"]


@pytest.fixture
def course(tmp_path, monkeypatch):
    course = rc["make_course"](tmp_path / "course")
    monkeypatch.chdir(course.root)
    return course


def refusal(capsys, *words):
    """What a refused command says on the screen."""
    with pytest.raises(SystemExit) as end:
        main(["grade", *words])
    said = capsys.readouterr()
    assert end.value.code == 2 and said.out == ""
    return said.err


def test_nothing_handed_in_points_to_the_invented_class(course, capsys):
    assert "`coldbench demo` makes an invented class" in refusal(capsys)
    demo = course.desk / "demo" / "autograde"
    demo.mkdir(parents=True)
    (demo / "course.toml").write_text("")
    said = refusal(capsys)
    assert said.count("\n") == 1 and LAB in said and "autograde/submitted" in said
    assert "lives in autograde/demo: add --course autograde/demo" in said


def test_a_notebook_in_the_wrong_folder_is_named(course, capsys):
    (course.submitted / "ml-07").mkdir(parents=True)
    (course.submitted / "ml-07" / f"{LAB}.ipynb").write_text("{}")
    said = refusal(capsys)
    assert f"'ml-07/{LAB}.ipynb' was found" in said and "submitted/LEARNER/LAB/LAB.ipynb" in said


def test_an_unknown_lab_is_refused_before_anything_runs(course, capsys):
    assert f"the labs are: {LAB}" in refusal(capsys, "no-lab")


def test_a_build_looks_at_its_folders_before_it_checks(monkeypatch):
    course = find_course(Path(__file__).parents[1] / "integration" / "small_course")
    monkeypatch.setattr("coldbench.grading.build.pass_gate", lambda *ignored: pytest.fail("checked"))
    monkeypatch.setattr("os.access", lambda path, mode: Path(path) != course.desk)
    with pytest.raises(InputError, match="autograde cannot be written by this user"):
        build(course, [], "limits")


def test_a_refusal_of_the_work_is_one_line_too(course, capsys):
    (course.submitted / "ml-07" / LAB).mkdir(parents=True)
    (course.submitted / "ml-07" / LAB / f"{LAB}.ipynb").write_text("{}")
    said = refusal(capsys, "--no-sandbox")  # this lab has no text, so nothing can be graded
    assert said == f"coldbench: {LAB}: {LAB}.md is missing\n"


def test_a_due_date_of_no_lab_is_refused(tmp_path):
    root = shutil.copytree(Path(__file__).parents[1] / "integration" / "small_course", tmp_path / "c")
    settings = root / "autograde" / "course.toml"
    settings.write_text(settings.read_text("utf-8").replace("small-lab =", "smal-lab ="), "utf-8")
    assert "smal-lab" in settings.read_text("utf-8")
    course = find_course(root)
    for work in (lambda: build(course, [], "limits"), lambda: grade_lab(course, "small-lab", "limits")):
        with pytest.raises(InputError, match="due.smal-lab: there is no lab of this name"):
            work()
