"""`coldbench answers`: the list a teacher reads is what marking holds for right."""

import pytest

from coldbench.cli import main
from coldbench.grading.answer_sheet import answer_lines, reference_record
from coldbench.grading.course import find_course


def everything_in(folder):
    """Bytes of every file below a folder [path → bytes]."""
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_answers_are_the_keys_of_the_marks(built_course, level):
    course = find_course(built_course)
    (lab,) = course.labs()
    before = everything_in(built_course)
    one, other = (reference_record(course, lab, learner, level) for learner in ("ml-07", "ml-08"))
    assert everything_in(built_course) == before
    checked = [cell for cell in one.cells if cell.kind == "checked"]
    assert checked and all(cell.score == cell.points for cell in checked)
    lines = list(answer_lines(course, one))
    assert [line for line in lines if line.startswith("Question")]
    for cell in checked:
        for mark in cell.marks:
            assert f"  {mark.question}: {mark.key}" in lines and mark.key
    assert lines != list(answer_lines(course, other))
    assert any("marked by hand" in line for line in lines) == any(
        cell.kind == "written" for cell in one.cells)


@pytest.mark.parametrize(("lab", "learner", "told"), [
    ("no-such-lab", "ml-07", "no-such-lab"), ("small-lab", "../ml-07", "learner id")])
def test_what_there_is_no_answer_for_is_refused(built_course, capsys, lab, learner, told):
    with pytest.raises(SystemExit) as end:
        main(["answers", lab, learner, "--course", str(built_course)])
    assert end.value.code == 2
    assert told in capsys.readouterr().err
