"""Marks for the school's record: columns, forms, and nothing a spreadsheet would run."""

import csv
import json
import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from coldbench.cli import main
from coldbench.errors import InputError
from coldbench.grading.export import (
    COLUMNS, export_marks, inert, left_out, to_csv, widen, without_submission,
)
from coldbench.grading.record import load_all, save

rc = runpy.run_path(str(Path(__file__).parent / "report_class.py"))
LAB = rc["LAB"]


@pytest.fixture
def course(tmp_path):
    course = rc["make_course"](tmp_path / "course")
    rc["make_class"](course, learners=8)
    return course


def read(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_learner_has_a_line(course, tmp_path):
    assert export_marks(course, tmp_path / "marks.csv") == 8
    lines, records = read(tmp_path / "marks.csv"), load_all(course.records, LAB)
    assert tuple(lines[0]) == COLUMNS
    for line, record in zip(lines, records, strict=True):
        assert line["learner"] == record.learner and line["lab"] == LAB
        assert float(line["points"]) == pytest.approx(record.score, abs=1e-3)
        assert float(line["maximum"]) == record.points == 13
        assert float(line["percent"]) == pytest.approx(100 * record.score / 13, abs=0.01)
        assert int(line["needs_hand"]) == sum(cell.score is None for cell in record.cells)
        assert line["graded_at"].endswith("+00:00") and line["course"] == "marsh-lane-test"
    assert float(lines[6]["late_hours"]) == 2.5


def test_wide_has_one_line_a_learner_and_one_column_a_lab(course, tmp_path):
    for record in load_all(course.records, LAB)[:3]:
        save(replace(record, lab="older-lab"), course.records)
    export_marks(course, tmp_path / "wide.csv", wide=True)
    lines = read(tmp_path / "wide.csv")
    assert tuple(lines[0]) == ("learner", LAB, "older-lab") and len(lines) == 8
    assert [line["older-lab"] == "" for line in lines] == [False] * 3 + [True] * 5
    export_marks(course, tmp_path / "wide.json", "json", wide=True)
    assert json.loads((tmp_path / "wide.json").read_text("utf-8"))[7]["older-lab"] is None


def test_json_holds_the_same(course, tmp_path):
    export_marks(course, tmp_path / "m.json", "json")
    lines = json.loads((tmp_path / "m.json").read_text("utf-8"))
    assert [tuple(line) for line in lines] == [COLUMNS] * 8


@given(some.text())
def test_no_text_starts_a_formula(text):
    made = inert(text)
    assert not made.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert made in (text, f"'{text}")


@pytest.mark.parametrize("learner", ["=HYPERLINK(1)", "+1", "-07", "@x", "＝1", " =1", "学生,\"7\""])
def test_ids_survive_a_round_trip_as_text(learner):
    table = to_csv(COLUMNS, [{"learner": learner, "lab": "a", "points": -1.5}])
    row = next(csv.DictReader(table.splitlines()))
    assert row["learner"].removeprefix("'") == learner
    assert row["learner"][0] not in "=+-@＝" and row["points"] == "-1.5"


def test_lab_names_in_wide_headers_are_inert():
    columns, rows = widen([{"learner": "a", "lab": "=cmd", "points": 1.0}])
    assert to_csv(columns, rows).startswith("learner,'=cmd\r\na,1.0")


def test_a_record_that_cannot_be_read_is_named(course, capsys, tmp_path):
    (course.records / LAB / "ml-90.json").write_text("{")
    assert left_out(course) == [f"{LAB}/ml-90.json"]
    main_status(["export", str(tmp_path / "m.csv"), "--course", str(course.root)])
    captured = capsys.readouterr()
    assert "8 lines of marks" in captured.out and "ml-90.json" in captured.err


def main_status(words):
    """Run the command; returns its exit status."""
    try:
        main(words)
    except SystemExit as end:
        return end.code or 0
    return 0


@pytest.mark.parametrize(("file", "more", "words"), [
    ("m.csv", ["--format", "xls"], "format 'xls' is not one of csv, json"),
    ("file/m.csv", [], "cannot be written")])
def test_bad_input_is_one_sentence(course, tmp_path, capsys, file, more, words):
    (tmp_path / "file").write_text("")
    assert main_status(["export", str(tmp_path / file), "--course", str(course.root), *more]) == 2
    error = capsys.readouterr().err.strip()
    assert words in error and len(error.splitlines()) == 1


def test_nothing_graded_is_one_sentence(tmp_path):
    with pytest.raises(InputError, match="nothing graded yet.*coldbench grade"):
        export_marks(rc["make_course"](tmp_path), tmp_path / "m.csv")
    assert not (tmp_path / "m.csv").exists()


def test_the_ending_of_the_file_settles_the_form(course, tmp_path):
    export_marks(course, tmp_path / "m.json")
    assert json.loads((tmp_path / "m.json").read_text("utf-8"))[0]["learner"] == "ml-01"
    with pytest.raises(InputError, match=r"name it m\.csv"):
        export_marks(course, tmp_path / "m.xlsx")
    assert not (tmp_path / "m.xlsx").exists()
    assert export_marks(course, tmp_path / "m.xlsx.txt") == 8


def test_a_mistyped_folder_is_not_made(course, tmp_path):
    with pytest.raises(InputError, match="there is no folder"):
        export_marks(course, tmp_path / "nowhere" / "m.csv")
    assert not (tmp_path / "nowhere").exists()


def test_marks_that_are_not_final_or_belong_to_nobody_are_said(course, tmp_path, capsys):
    assert without_submission(course) == []  # the whole desk was cleared: nothing odd
    for n in (1, 2, 3, 4, 5, 6, 8):
        (course.submitted / f"ml-{n:02d}" / LAB).mkdir(parents=True)
    assert without_submission(course) == [f"{LAB}/ml-07"]
    main_returns(["export", str(tmp_path / "m.csv"), "--course", str(course.root)])
    waiting = sum(int(line["needs_hand"]) for line in read(tmp_path / "m.csv"))
    said = capsys.readouterr().err
    assert waiting > 0 and f"not final: {waiting} answers" in said and f"{LAB}/ml-07" in said


def main_returns(words):
    """Run a command that ends well."""
    with pytest.raises(SystemExit) as end:
        main(words)
    assert end.value.code in (0, None)
