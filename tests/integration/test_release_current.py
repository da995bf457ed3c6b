"""What is committed in `release/` is what `source/` builds for this term."""

from pathlib import Path

import pytest

from coldbench.grading.build import write_release
from coldbench.grading.course import find_course
from coldbench.grading.lab import open_lab
from coldbench.worksheet.journal import JOURNAL_FILE

COURSE = find_course(Path(__file__).resolve().parents[2])


def files_in(folder: Path) -> dict[str, bytes]:
    """Every file below a folder [relative name → bytes]."""
    return {path.relative_to(folder).as_posix(): path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file() and path.name != JOURNAL_FILE
            and not {"__pycache__", ".ipynb_checkpoints"} & set(path.parts)}


def test_there_are_labs():
    assert COURSE.labs()


@pytest.mark.parametrize("lab", COURSE.labs())
def test_release_is_current(lab, tmp_path):
    write_release(open_lab(COURSE, lab), tmp_path / lab)
    assert files_in(tmp_path / lab) == files_in(COURSE.release / lab), "run `coldbench build`"


@pytest.mark.parametrize("lab", COURSE.labs())
def test_release_holds_nothing_hidden(lab):
    shown = b"\n".join(files_in(COURSE.release / lab).values()).decode("utf-8", "replace")
    for word in ("HIDDEN TESTS", "BEGIN SOLUTION", "MARK SCHEME", "sheet.mark(", "mistakes="):
        assert word not in shown
