"""A lab as the grading desk knows it: the instructor's notebook and what is made from it.

Source of the cell rules: nbgrader's metadata schema 3; everything is keyed on `grade_id`.
"""

import copy
import hashlib
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from nbformat.notebooknode import NotebookNode

from coldbench import __version__
from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.worksheet import Manifest, read_manifest
from coldbench.worksheet.journal import JOURNAL_FILE
from coldbench.worksheet.records import LARGEST_RECORD_BYTES

LEARNER_CELL = "learner"
NOT_RELEASED = ("mistakes.toml", "pool.toml", JOURNAL_FILE)


def role_of(cell: NotebookNode) -> str:
    """Name a cell's role: text, setup, panel, learner, answer, check or written."""
    grader = cell.metadata.get("nbgrader", {})
    if grader.get("grade") and grader.get("solution"):
        return "written"
    if grader.get("grade"):
        return "check"
    if grader.get("solution"):
        return "learner" if grader.get("grade_id") == LEARNER_CELL else "answer"
    if cell.cell_type != "code":
        return "text"
    return cell.metadata.get("coldbench", {}).get("role", "panel")


def grade_id_of(cell: NotebookNode) -> str:
    """A cell's `grade_id`, or empty."""
    grader = cell.metadata.get("nbgrader")
    return str(grader.get("grade_id", "")) if isinstance(grader, dict) else ""


@dataclass(frozen=True)
class Lab:
    """One lab of a course: its folder, its manifest, its instructor notebook."""

    name: str
    folder: Path
    course_code: str
    manifest: Manifest
    notebook: NotebookNode

    @cached_property
    def released(self) -> NotebookNode:
        """The student's notebook: no solution, no hidden check, no rubric."""
        from coldbench.grading.release import make_release

        return make_release(self.notebook)

    @cached_property
    def rubrics(self) -> dict[str, str]:
        """The marking scheme of each written cell."""
        found = {}
        for cell in self.notebook.cells:
            scheme = re.search(r"=== BEGIN MARK SCHEME ===\s*(.*?)\s*=== END MARK SCHEME ===",
                               cell.source, re.DOTALL)
            if scheme and role_of(cell) == "written":
                found[grade_id_of(cell)] = scheme[1]
        return found

    @cached_property
    def fingerprint(self) -> str:
        """Hash of everything on the lab's side that decides marks."""
        digest = hashlib.sha256(f"{__version__}\0{self.course_code}".encode())
        for path in sorted(self.folder.rglob("*")):
            worked = path.suffix == ".ipynb" or path.name == JOURNAL_FILE
            if path.is_file() and not worked and "__pycache__" not in path.parts:
                digest.update(path.relative_to(self.folder).as_posix().encode())
                digest.update(path.read_bytes())
        return digest.hexdigest()

    @property
    def record_sizes(self) -> dict[str, int]:
        """Questions whose answers may be larger than usual [question → characters]."""
        return {name: question.largest_record for name, question in self.manifest.questions.items()
                if question.largest_record != LARGEST_RECORD_BYTES}

    @property
    def points(self) -> float:
        """Points of all that is checked or marked by hand."""
        return sum(float(cell.metadata.nbgrader.points) for cell in self.cells("check", "written"))

    def cells(self, *roles: str) -> list[NotebookNode]:
        """The instructor's cells that play one of the roles, in order."""
        return [cell for cell in self.notebook.cells if role_of(cell) in roles]

    def companions(self) -> list[Path]:
        """Files that travel with the student's notebook."""
        kept = []
        for path in sorted(self.folder.rglob("*")):
            hidden = any(part.startswith((".", "__")) for part in path.relative_to(self.folder).parts)
            if path.is_file() and not hidden and path.name not in NOT_RELEASED:
                if path.suffix not in (".ipynb", ".md", ".pyc"):
                    kept.append(path)
        return kept


def open_lab(course: Course, name: str) -> Lab:
    """Read a lab's source; raises InputError with file, cell and reason when it is not right."""
    folder = course.source / course.require_lab(name)
    notebook = read_source(folder / f"{name}.md")
    return Lab(name, folder, course.code, read_manifest(folder), notebook)


def read_source(path: Path) -> NotebookNode:
    """Read a MyST notebook and give every cell a stable `grade_id`."""
    import jupytext

    try:
        notebook = jupytext.reads(path.read_text(encoding="utf-8"), fmt="md:myst")
    except FileNotFoundError:
        raise InputError(f"{path.parent.name}: {path.name} is missing") from None
    except Exception as error:  # the parser's own errors are of many types
        raise InputError(f"{path.name} cannot be read as a MyST notebook: {error}") from None
    notebook.metadata = NotebookNode(kernelspec=NotebookNode(
        display_name="Python 3", language="python", name="python3"))
    notebook.nbformat, notebook.nbformat_minor = 4, 5
    notebook.cells = [_prepared(cell, index) for index, cell in enumerate(notebook.cells)]
    _check_ids(path, notebook)
    return notebook


def _prepared(cell: NotebookNode, index: int) -> NotebookNode:
    cell = copy.deepcopy(cell)
    defaults: dict[str, Any] = {"grade": False, "solution": False, "locked": True, "task": False,
                                "schema_version": 3, "cell_type": cell.cell_type,
                                "grade_id": f"cell-{index:03d}"}
    grader = NotebookNode({**defaults, **cell.metadata.get("nbgrader", {})})
    if grader.solution:
        grader.locked = False
    kept = {"nbgrader": grader}
    if "coldbench" in cell.metadata:
        kept["coldbench"] = cell.metadata["coldbench"]
    cell.metadata = NotebookNode(kept)
    cell["id"] = re.sub(r"[^A-Za-z0-9_-]", "-", grader.grade_id)[:64]
    if cell.cell_type == "code":
        cell.outputs, cell.execution_count = [], None
    return cell


def _check_ids(path: Path, notebook: NotebookNode) -> None:
    seen: set[str] = set()
    for cell in notebook.cells:
        name = grade_id_of(cell)
        if name in seen:
            raise InputError(f"{path.name}: grade_id {name!r} stands twice; each may stand once")
        seen.add(name)
        if role_of(cell) in ("check", "written") and not cell.metadata.nbgrader.get("points", 0) > 0:
            raise InputError(f"{path.name}: cell {name!r} is graded but has no points")
