"""From the instructor's notebook to the student's: solutions, hidden checks and rubrics go."""

import copy
from collections.abc import Iterable
from pathlib import Path

from nbformat.notebooknode import NotebookNode
from nbgrader.preprocessors import (
    ClearHiddenTests,
    ClearOutput,
    ClearSolutions,
    ComputeChecksums,
    LockCells,
    NbGraderPreprocessor,
    SaveCells,
)
from traitlets import Dict, Unicode

from coldbench.errors import InputError

LOCKED_NOTE = "# Locked: run this cell, do not change it."
ANSWER_NOTE = "# Your answer: change this cell."
WORKING_STUB = "# your working"
WRITTEN_STUB = "*Write your answer here, in place of this line.*"
_HIDDEN = ("### BEGIN", "### END", "=== BEGIN MARK SCHEME", "sheet.mark(")


class SayWhatIsLocked(NbGraderPreprocessor):
    """Say in words which cells are locked: JupyterLab draws them like ordinary ones."""

    def preprocess_cell(self, cell: NotebookNode, resources: dict, index: int) -> tuple:
        """Put one comment line on top of a code cell."""
        if cell.cell_type == "code":
            note = ANSWER_NOTE if cell.metadata.nbgrader.get("solution") else LOCKED_NOTE
            if not cell.source.startswith(note):
                cell.source = f"{note}\n{cell.source}"
        return cell, resources


class ClearAnswers(ClearSolutions):
    """Remove solutions, but leave the cell in which a learner writes her id."""

    code_stub = Dict({"python": WORKING_STUB})
    text_stub = Unicode(WRITTEN_STUB)

    def preprocess_cell(self, cell: NotebookNode, resources: dict, index: int) -> tuple:
        """Clear one cell."""
        if cell.metadata.get("nbgrader", {}).get("grade_id") == "learner":
            return cell, resources
        return super().preprocess_cell(cell, resources, index)


class SaveAnswerCells(SaveCells):
    """Tell the gradebook of answer and graded cells only.

    Text, panels and set-up come from the lab's source, so they may change during a term;
    nbgrader would refuse a cell more or less once work has been handed in.
    """

    def preprocess_cell(self, cell: NotebookNode, resources: dict, index: int) -> tuple:
        """Note one cell."""
        grader = cell.metadata.get("nbgrader", {})
        if not (grader.get("grade") or grader.get("solution")):
            return cell, resources
        return super().preprocess_cell(cell, resources, index)


BEFORE_SAVING = (SayWhatIsLocked, LockCells, ClearAnswers, ClearOutput, ComputeChecksums)
AFTER_SAVING = (ClearHiddenTests, ComputeChecksums)


def apply(steps: Iterable[type], notebook: NotebookNode, resources: dict) -> NotebookNode:
    """Run nbgrader preprocessors over a copy of a notebook."""
    notebook = copy.deepcopy(notebook)
    for step in steps:
        notebook, resources = step().preprocess(notebook, resources)
    return notebook


def check_companions(paths: Iterable[Path]) -> None:
    """Refuse files that would travel with the release and hold solutions or checks.

    A copy of the source under another name (`lab.md~`, `lab.md.orig`) is the usual case.
    """
    for path in paths:
        content = path.read_bytes()
        for word in _HIDDEN:
            if word.encode() in content:
                raise InputError(f"{path.parent.name}/{path.name} would be released and holds "
                                 f"{word!r}; move it out of the lab's folder")


def check_regions(notebook: NotebookNode) -> None:
    """Check that hidden regions are opened and closed in turn; raises InputError with the cell."""
    for cell in notebook.cells:
        for region in ("### {} SOLUTION", "### {} HIDDEN TESTS", "=== {} MARK SCHEME ==="):
            begin, end = region.format("BEGIN"), region.format("END")
            lines = [line.strip() for line in cell.source.splitlines()]
            order = [line for line in lines if line in (begin, end)]
            if order != [begin, end] * (len(order) // 2):
                raise InputError(f"cell {cell.metadata.nbgrader.grade_id!r}: each hidden region "
                                 f"must open with {begin!r} and close with {end!r}")


def check_recording(notebook: NotebookNode, released: NotebookNode) -> None:
    """Check that learners keep every line that records an answer; raises InputError with the cell.

    nbgrader clears an answer cell without solution marks as a whole, and with it such a line:
    whatever the learner did would then count as not answered.
    """
    for cell, left in zip(notebook.cells, released.cells, strict=True):
        if cell.cell_type == "code" and "sheet.answer" in cell.source and (
                "sheet.answer" not in left.source):
            raise InputError(f"cell {cell.metadata.nbgrader.grade_id!r} would reach learners without "
                             "its sheet.answer line; put the solution above it between its marks")


def make_release(notebook: NotebookNode) -> NotebookNode:
    """Make the student's notebook; raises InputError if anything hidden would remain."""
    check_regions(notebook)
    resources = {"language": "python"}
    released = apply((*BEFORE_SAVING, *AFTER_SAVING), notebook, resources)
    check_recording(notebook, released)
    for cell in released.cells:
        for word in _HIDDEN:
            if word in cell.source:
                raise InputError(
                    f"cell {cell.metadata.nbgrader.grade_id!r} would show {word!r} to learners; "
                    "close its hidden region properly"
                )
    return released
