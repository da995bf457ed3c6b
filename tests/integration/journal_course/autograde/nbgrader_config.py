"""nbgrader's settings; read when nbgrader runs in this folder."""

from pathlib import Path

from coldbench.grading.nbgrader_config import configure

configure(get_config(), Path(__file__).resolve().parent.parent)  # noqa: F821
