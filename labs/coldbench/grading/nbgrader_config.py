"""nbgrader's settings for a course: `configure(c, root)` is all `nbgrader_config.py` calls.

With these settings plain `nbgrader autograde` and the form's button rebuild, run and mark as
`coldbench grade` does, and give the same marks.
"""

import os
import sys
from pathlib import Path
from typing import Any

from coldbench.grading.course import read_course


def configure(c: Any, root: Path) -> None:
    """Set nbgrader up for the course at a root [c: the configuration object]."""
    c.CourseDirectory.root = str(root)
    c.CourseDirectory.source_directory = "source"
    c.CourseDirectory.release_directory = "release"
    for name in ("submitted", "autograded", "feedback", "solution", "source_with_tests"):
        setattr(c.CourseDirectory, f"{name}_directory", f"autograde/{name}")
    c.CourseDirectory.db_url = read_course(Path(root)).gradebook_url
    c.CourseDirectory.ignore = [".ipynb_checkpoints", "*.pyc", "__pycache__", "feedback",
                                "*.md", "*.md?*", "mistakes.toml", ".*"]
    _set_steps(c)
    c.HTMLExporter.sanitize_html = True  # of outputs; templates of nbgrader pass over the text
    c.HTMLExporter.preprocessors = ["coldbench.grading.nbgrader_steps.EscapeNames"]
    c.HTMLExporter.filters = {"markdown2html": "coldbench.grading.nbgrader_steps.inert_markdown"}
    put_on_path()


def put_on_path() -> None:
    """Put this Python's programs on PATH: nbgrader calls `alembic` by name."""
    folder = str(Path(sys.executable).parent)
    if folder not in os.environ.get("PATH", "").split(os.pathsep):
        os.environ["PATH"] = os.pathsep.join([folder, os.environ.get("PATH", "")])


def _set_steps(c: Any) -> None:
    steps = "coldbench.grading.nbgrader_steps"
    c.Autograde.exporter_class = f"{steps}.DamageTolerantExporter"
    c.Autograde.sanitize_preprocessors = [f"{steps}.KeepAsSubmitted"]
    c.Autograde.autograde_preprocessors = [
        f"{steps}.GradeInTrust",
        "nbgrader.preprocessors.SaveAutoGrades",
        f"{steps}.TakePointsOff",
    ]
    c.GenerateAssignment.preprocessors = [
        f"{steps}.TakeFromSource", "coldbench.grading.release.SayWhatIsLocked",
        "nbgrader.preprocessors.LockCells", "coldbench.grading.release.ClearAnswers",
        "nbgrader.preprocessors.ClearOutput", "nbgrader.preprocessors.ComputeChecksums",
        "coldbench.grading.release.SaveAnswerCells", "nbgrader.preprocessors.ClearHiddenTests",
        "nbgrader.preprocessors.ComputeChecksums",
    ]
    c.GenerateFeedback.preprocessors = [
        f"{steps}.HideRubrics",
        "nbgrader.preprocessors.GetGrades",
        "nbconvert.preprocessors.CSSHTMLHeaderPreprocessor",
    ]
