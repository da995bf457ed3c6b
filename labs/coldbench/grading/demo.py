"""The demo: an invented class of 24 in a course folder of its own, built, handed in, graded.

Everything lies under `autograde/demo/`, so a real class is never touched.
"""

import hashlib
import shutil
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.course import Course, read_course
from coldbench.grading.database import DEFAULT_FILE
from coldbench.grading.demo_work import Habit, handed_in, journal_handed_in
from coldbench.grading.gradebook import has_outgrown
from coldbench.grading.lab import open_lab
from coldbench.grading.lab_worker import warm_parent
from coldbench.grading.limits import limits_from
from coldbench.grading.record import write_atomically
from coldbench.worksheet.journal import JOURNAL_FILE

NOTE = "INVENTED.md"
POOL = "__demo_pool__.toml"
SEED, BENCHES = 20260306, 4
ASSIGNED_FILES = ("__keys__.json", "__problems__.json.gz", "assigned.json", "bench-*.sealed")
"""A real class's sealed benches and their keys; the invented class gets its own."""
_NOTE_TEXT = """# Invented class

Everything in this folder is made up by `coldbench demo`: the learners, their work, their marks.
No real person is meant. The folder can be deleted at any time; the next demo makes it again.
"""


@dataclass(frozen=True)
class DemoClass:
    """The invented class: settings of its course, and each learner's habit."""

    title: str
    code: str
    due: datetime
    habits: tuple[Habit, ...]


def demo_class() -> DemoClass:
    """Read the invented class from its data file."""
    text = (files("coldbench.grading") / "data" / "demo_class.toml").read_text("utf-8")
    table = tomllib.loads(text)
    habits = tuple(Habit(**row) for row in table["learner"])
    return DemoClass(table["title"], table["code"], table["due"], habits)


def lay_out_demo(course: Course, fresh: bool = False) -> Course:
    """Make the demo's course folder [fresh: start it anew].

    It is also started anew when labs have got other cells since the last demo.

    Raises InputError when the folder exists but was not made by the demo.
    """
    root = course.desk / "demo"
    if root.exists() and not (root / NOTE).is_file():
        raise InputError(f"{root} exists but was not made by the demo; move it away first")
    if fresh:
        shutil.rmtree(root, ignore_errors=True)
    write_atomically(root / NOTE, _NOTE_TEXT)
    shutil.rmtree(root / "source", ignore_errors=True)
    shutil.copytree(course.source, root / "source",
                    ignore=shutil.ignore_patterns("*.ipynb", "__pycache__", ".*", *ASSIGNED_FILES))
    (root / "autograde").mkdir(exist_ok=True)
    shutil.copyfile(course.desk / "nbgrader_config.py", root / "autograde" / "nbgrader_config.py")
    write_atomically(root / "autograde" / "course.toml", _settings(demo_class(), course.labs()))
    demo = read_course(root)
    if (demo.desk / "gradebook.db").exists() and _outgrown(demo):
        return lay_out_demo(course, fresh=True)
    return demo


def assign_demo(demo: Course, say: Callable[[str], None]) -> None:
    """Seal benches for the invented class in every lab that has a pool for it [say: progress].

    They are kept for the next demo, which takes them again while pool and bench are the same.
    """
    from coldbench.grading.assign import assign

    for name in demo.labs():
        folder, kept = demo.source / name, demo.root / "assigned" / name
        if not (folder / POOL).is_file():
            continue
        stamp = _pool_stamp(folder / POOL)
        if (kept / "stamp").is_file() and (kept / "stamp").read_text("utf-8") == stamp:
            shutil.copytree(kept, folder, dirs_exist_ok=True,
                            ignore=shutil.ignore_patterns("stamp"))
            continue
        say(f"{name}: sealing {BENCHES} benches for the class")
        assign(demo, name, str(folder / POOL), SEED, BENCHES, force=True)
        shutil.rmtree(kept, ignore_errors=True)
        for path in (path for one in ASSIGNED_FILES for path in folder.rglob(one)):
            target = kept / path.relative_to(folder)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, target)
        (kept / "stamp").write_text(stamp, "utf-8")


def _pool_stamp(path: Path) -> str:
    """A short text that changes with a pool and with what its bench shows."""
    from coldbench.bench import load_bench
    from coldbench.diagnosis.from_bench.fingerprint import fingerprint
    from coldbench.grading.assign_pool import read_pool

    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return f"{SEED} {BENCHES} {digest} {fingerprint(load_bench(read_pool(path).bench))}"


def _outgrown(demo: Course) -> bool:
    """Say whether a lab has other cells now than when the class was graded before."""
    return any(has_outgrown(demo, open_lab(demo, name)) for name in demo.labs())


def _settings(made_up: DemoClass, labs: list[str]) -> str:
    due = made_up.due.strftime("%Y-%m-%dT%H:%M:%SZ")
    lines = [f"# An invented class, see ../{NOTE}", f'title = "{made_up.title}"',
             f'code = "{made_up.code}"', f'gradebook = "{DEFAULT_FILE}"', "",
             "[due]", *(f"{lab} = {due}" for lab in labs),
             "", "[limits]", "cell_seconds = 5", ""]
    return "\n".join(lines)


def hand_in(course: Course, name: str, level: str, tick: Callable[[], None]) -> None:
    """Hand in the whole class's work for a lab [tick: called after each learner]."""
    lab, made_up = open_lab(course, name), demo_class()
    with warm_parent(lab, level, limits_from(course.limits)) as parent:
        for number, habit in enumerate(made_up.habits):
            folder = course.submitted / habit.id / name
            moment = made_up.due - timedelta(hours=30 - number) + timedelta(
                hours=habit.late_hours and habit.late_hours + 30 - number)
            notebook = handed_in(lab, habit, level, parent)
            _write_bytes(folder / f"{name}.ipynb", notebook)
            if journal := journal_handed_in(lab, habit, notebook, level, parent):
                _write_bytes(folder / JOURNAL_FILE, journal)
            write_atomically(folder / "timestamp.txt", moment.strftime("%Y-%m-%d %H:%M:%S UTC"))
            tick()


def _write_bytes(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
