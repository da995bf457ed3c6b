"""Building labs: source → instructor notebook → release → gradebook, with the gate between.

A build writes nothing to `release/` before the lab has passed its gate (`gate.py`).
"""

import json
import os
import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path

import nbformat
from nbformat.notebooknode import NotebookNode

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.gate import pass_gate
from coldbench.grading.gradebook import register_lab
from coldbench.grading.job import released_manifest
from coldbench.grading.lab import Lab, open_lab
from coldbench.grading.record import write_atomically
from coldbench.grading.start_page import write_start_page

Report = Callable[[str], None]


def build(course: Course, names: list[str], level: str,
          say: Report = partial(print, flush=True)) -> None:
    """Build labs [names; empty: all]; level [of the sandbox the gate runs in]; say [progress].

    Raises InputError when a lab does not pass its gate; its release is left as it was.
    """
    course.check_due()
    for name in names or course.labs():
        lab = open_lab(course, name)
        for place in (course.source / name, course.release, course.release / name, course.desk):
            if place.exists() and not os.access(place, os.W_OK):  # before minutes of checking
                raise InputError(f"{place} cannot be written by this user")
        say(f"{name}: checking")
        for line in pass_gate(lab, level):
            say(f"{name}: {line}")
        write_instructor_notebook(lab)
        write_release(lab, course.release / name)
        register_lab(course, lab)
        say(f"{name}: built into {course.release / name}")
        if lacks_benches(lab):
            say(f"{name}: no benches are assigned yet, so everybody gets the practice benches; "
                f"`coldbench assign {name}` draws some for your class")
    if course.labs():
        write_start_page(course.release)


def lacks_benches(lab: Lab) -> bool:
    """Say whether a lab draws sealed benches from a pool and none are assigned yet."""
    benches = lab.folder / "benches"
    return (lab.folder / "pool.toml").is_file() and not (benches / "assigned.json").is_file()


def notebook_text(notebook: NotebookNode) -> str:
    """A notebook as text, the same text for the same notebook."""
    return json.dumps(notebook, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def write_instructor_notebook(lab: Lab) -> Path:
    """Write the instructor's notebook beside the lab's source (not kept in git)."""
    path = lab.folder / f"{lab.name}.ipynb"
    write_atomically(path, notebook_text(lab.notebook))
    return path


def write_release(lab: Lab, folder: Path) -> None:
    """Write the student's folder: notebook, lab.toml with the course code, companions."""
    nbformat.validate(lab.released)
    if folder.exists():
        shutil.rmtree(folder)
    write_atomically(folder / f"{lab.name}.ipynb", notebook_text(lab.released))
    for path in lab.companions():
        target = folder / path.relative_to(lab.folder)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
    (folder / "lab.toml").write_bytes(released_manifest(lab))
