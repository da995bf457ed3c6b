"""How quick a class is graded: `coldbench grade` beside plain `nbgrader autograde`.

    python tests/benchmarks/grading.py [--sizes 24 240 2400] [--stock 24] [--dask 48] [--report]

Both grade the same submissions of lab 1 in the same run on the same machine. Plain nbgrader gets
its own preprocessors and the same checks, written into the notebook so that it can mark in the
learner's kernel. Marks are compared cell by cell. With `--report` the figures are written to
`results/grading.md`; with `--stock 0` they are added to what is there. Processor time is measured by a control group, which takes a super-user.
"""

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import textwrap
import threading
import time
import uuid
from dataclasses import dataclass
from pathlib import Path

import nbformat
import psutil

from coldbench.grading.course import Course, find_course
from coldbench.grading.gate import reference_answers, seeded_mistakes, submission_bytes
from coldbench.grading.gradebook import quiet
from coldbench.grading.lab import LEARNER_CELL, Lab, open_lab, role_of
from coldbench.grading.build import write_release

ROOT = Path(__file__).resolve().parents[2]
LAB = "pressure-temperature"
GRADE = [sys.executable, "-c", "from coldbench.cli import main; main()", "grade", LAB]
HEAR = """
from pathlib import Path as _Path
from coldbench.worksheet import channel as _channel
_heard = {}
_channel.listen(lambda record: _heard.update({record["question"]: record})
                if "question" in record else None)
"""
MARK = """
from coldbench.grading.marking import score_of as _score_of
from coldbench.worksheet.desk import MarkingDesk as _MarkingDesk
from coldbench.worksheet.desk import open_desk as _open_desk
_desk = _MarkingDesk(sheet.learner, _Path("."), sheet.course, _heard)
sheet._desk = _desk
with _open_desk(_desk):
{code}
sheet._desk = None
_score_of(tuple(_desk.take_marks()), {points})
"""


@dataclass(frozen=True)
class Measured:
    """One run: wall and processor time [s], peak memory [MB], time to the first mark [s]."""

    wall_s: float
    cpu_s: float | None
    peak_MB: float
    first_s: float | None


def make_course(root: Path, learners: int) -> tuple[Course, Lab]:
    """Lay out a course with lab 1 and a class: right answers, and a foreseen mistake for some."""
    shutil.copytree(ROOT / "source" / LAB, root / "source" / LAB,
                    ignore=shutil.ignore_patterns("*.ipynb", "__pycache__"))
    (root / "autograde").mkdir()
    (root / "autograde" / "course.toml").write_text('title = "Benchmark"\ncode = "bench"\n')
    course = find_course(root)
    lab = open_lab(course, LAB)
    reference, seeds = reference_answers(lab), seeded_mistakes(lab)
    for number in range(learners):
        learner = f"ml-{number:04d}"
        changes = {**reference, LEARNER_CELL: f'LEARNER = "{learner}"'}
        if number % 3:
            seed = seeds[number % len(seeds)]
            changes[seed.answer] = seed.code
        folder = course.submitted / learner / LAB
        folder.mkdir(parents=True)
        (folder / f"{LAB}.ipynb").write_bytes(submission_bytes(lab, changes))
    return course, lab


def make_stock_course(root: Path, course: Course, lab: Lab, learners: int) -> None:
    """Lay out the same class for plain nbgrader, its checks marking in the learner's kernel."""
    source = root / "source" / LAB
    write_release(lab, course.release / LAB)
    shutil.copytree(course.release / LAB, source, ignore=shutil.ignore_patterns("*.ipynb"))
    notebook = nbformat.from_dict(json.loads(json.dumps(lab.notebook)))
    first = True
    for cell in notebook.cells:
        if cell.cell_type == "code" and role_of(cell) == "setup" and first:
            cell.source, first = HEAR + cell.source, False
        if role_of(cell) == "check":
            code = textwrap.indent(cell.source, "    ")
            cell.source = MARK.format(code=code, points=cell.metadata.nbgrader.points)
    nbformat.write(notebook, source / f"{LAB}.ipynb")
    (root / "nbgrader_config.py").write_text(
        f"c = get_config()\nc.CourseDirectory.root = {str(root)!r}\n"
        "c.ExecutePreprocessor.timeout = 120\nc.ClearSolutions.enforce_metadata = False\n")
    stock(root, "generate_assignment", LAB, "--force")
    for number in range(learners):
        folder = root / "submitted" / f"ml-{number:04d}" / LAB
        shutil.copytree(course.submitted / folder.parent.name / LAB, folder)
        for path in source.iterdir():
            if path.suffix != ".ipynb":
                shutil.copy(path, folder)


def stock(root: Path, *words: str) -> list[str]:
    """Run an nbgrader command in a course."""
    command = [sys.executable, "-m", "nbgrader", *words]
    done = subprocess.run(command, cwd=root, env=environment(), capture_output=True, text=True,
                          check=False)
    if done.returncode:
        raise SystemExit(done.stderr[-3000:])
    return command


def environment() -> dict[str, str]:
    """Both sides get the same environment."""
    return {**os.environ, "PYTHONPATH": str(ROOT / "labs"), "OPENBLAS_NUM_THREADS": "1",
            "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"}


def measure(command: list[str], folder: Path, records: Path | None = None) -> Measured:
    """Run a command to its end and measure it and all that it starts."""
    group = cpu_group()
    joined = [] if group is None else ["/bin/sh", "-c",
                                       f'echo $$ > {group}/cgroup.procs && exec "$@"', "sh"]
    begun = time.perf_counter()
    process = subprocess.Popen([*joined, *command], cwd=folder, env=environment(),
                               stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    watch = Watch(process.pid, records)
    _, said = process.communicate()
    wall = time.perf_counter() - begun
    watch.stop()
    if process.returncode:
        raise SystemExit(f"{command}: {said[-3000:]}")
    cpu = None if group is None else int((group / "cpuacct.usage").read_text()) / 1e9
    if group is not None:
        time.sleep(0.2)
        group.rmdir()
    return Measured(wall, cpu, watch.peak_MB, watch.first_s)


def cpu_group() -> Path | None:
    """A control group that adds up processor time; None where none can be made."""
    folder = Path(f"/sys/fs/cgroup/cpuacct/coldbench-bench-{uuid.uuid4().hex[:8]}")
    try:
        folder.mkdir()
    except OSError:
        return None
    return folder


class Watch(threading.Thread):
    """Looks at a process and its descendants: memory they hold, the moment of the first mark."""

    def __init__(self, pid: int, records: Path | None):
        super().__init__(daemon=True)
        self._pid, self._records = pid, records
        self._begun, self._ended = time.perf_counter(), threading.Event()
        self.peak_MB, self.first_s = 0.0, None
        self.start()

    def run(self) -> None:
        """Look four times a second."""
        while not self._ended.wait(0.25):
            self.peak_MB = max(self.peak_MB, memory_MB(self._pid))
            if self.first_s is None and self._records and any(self._records.glob("*/*.json")):
                self.first_s = time.perf_counter() - self._begun

    def stop(self) -> None:
        """Look no more."""
        self._ended.set()
        self.join()


def memory_MB(pid: int) -> float:
    """Memory of a process and its descendants, each shared page counted once."""
    total = 0
    try:
        root = psutil.Process(pid)
        for process in [root, *root.children(recursive=True)]:
            try:
                total += process.memory_full_info().pss
            except psutil.Error:  # it ended meanwhile
                continue
    except psutil.Error:
        return 0.0
    return total / 1e6


def marks(database: str) -> dict[tuple[str, str], float]:
    """Every automatic mark of checked cells in a gradebook [(learner, cell) → points]."""
    from nbgrader.api import Gradebook

    with quiet(), Gradebook(database) as book:
        return {(submission.student.id, grade.name): grade.auto_score
                for submission in book.assignment_submissions(LAB)
                for notebook in submission.notebooks for grade in notebook.grades
                if grade.auto_score is not None and grade.name.startswith("check")}


def row(name: str, learners: int, found: Measured) -> str:
    """A line of the table."""
    cpu = "–" if found.cpu_s is None else f"{found.cpu_s / learners:.2f}"
    first = "–" if found.first_s is None else f"{found.first_s:.1f}"
    return (f"| {name} | {learners} | {found.wall_s:.1f} | {learners / found.wall_s:.2f} | "
            f"{found.wall_s / learners:.3f} | {cpu} | {found.peak_MB:.0f} | {first} |")


def compare(folder: Path, learners: int, say) -> tuple[list[str], dict[str, Measured]]:
    """Plain nbgrader and ours over the same class; returns lines and what was measured."""
    course, lab = make_course(folder / "ours", learners)
    make_stock_course(folder / "stock", course, lab, learners)
    found = {"stock": measure([sys.executable, "-m", "nbgrader", "autograde", LAB],
                              folder / "stock")}
    lines = [say(row("`nbgrader autograde`, its own preprocessors", learners, found["stock"]))]
    theirs = marks(f"sqlite:///{folder / 'stock' / 'gradebook.db'}")
    for workers, more in ((1, []), (2, []), (2, ["--cold"])):
        found[f"{workers}{more}"] = one = measure(
            [*GRADE, "--workers", str(workers), "--force", *more], course.root, course.records)
        lines.append(say(row(f"`coldbench grade --workers {workers}{''.join(f' {m}' for m in more)}`",
                             learners, one)))
        ours = marks(course.gradebook_url)
        if ours != theirs:
            odd = {k: (ours.get(k), theirs.get(k)) for k in {*ours, *theirs}
                   if ours.get(k) != theirs.get(k)}
            raise SystemExit(f"marks differ: {dict(list(odd.items())[:10])}")
        shutil.rmtree(course.records)
    lines.append(say(f"\nMarks of all {len(theirs)} checked cells are the same in every way."))
    return lines, found


def grow(folder: Path, learners: int, workers: int, say) -> tuple[str, Measured]:
    """Our own way alone over a class of some size."""
    course, _ = make_course(folder / f"class-{learners}-{workers}", learners)
    found = measure([*GRADE, "--workers", str(workers)], course.root, course.records)
    line = say(row(f"`coldbench grade --workers {workers}`", learners, found))
    shutil.rmtree(course.root)
    return line, found


def on_dask(folder: Path, learners: int, say) -> str:
    """A scheduler and two worker processes on this machine's loopback."""
    from distributed import LocalCluster

    course, _ = make_course(folder / "dask", learners)
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        found = measure([*GRADE, "--scheduler", cluster.scheduler_address], course.root,
                        course.records)
    return say(row("`coldbench grade --scheduler …`, two workers, without their memory",
                   learners, Measured(found.wall_s, None, found.peak_MB, found.first_s)))


def main() -> None:
    """Measure, print, and write the report if asked."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sizes", type=int, nargs="*", default=[24, 240])
    parser.add_argument("--stock", type=int, default=24)
    parser.add_argument("--dask", type=int, default=48)
    parser.add_argument("--report", action="store_true")
    options = parser.parse_args()

    def say(line: str) -> str:
        print(line, flush=True)
        return line

    head = [say("| what | class | wall s | per second | wall s each | CPU s each | peak MB | "
                "first mark s |"), say("|---|---|---|---|---|---|---|---|")]
    lines, found = [], {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if options.stock:
            lines, found = compare(folder, options.stock, say)
        for size in options.sizes:
            lines.append(grow(folder, size, 2, say)[0])
        if options.dask:
            lines.append(on_dask(folder, options.dask, say))
    if options.report and found:
        write_report(head, lines, found)
    elif options.report:
        add_to_report(head, lines)


def write_report(head: list[str], lines: list[str], found: dict[str, Measured]) -> None:
    """Write `results/grading.md`."""
    ratio = found["stock"].wall_s / found["2[]"].wall_s
    table = [line for line in lines if line.startswith("|")]
    words = [line.strip() for line in lines if not line.startswith("|")]
    load = os.getloadavg()[0]
    text = "\n".join([
        "# Speed of grading", "",
        f"`python {' '.join(sys.argv)}`, Python {platform.python_version()}, "
        f"{os.cpu_count()} cores, load {load:.1f} at the end.", "",
        f"Lab 1, sandboxed, two workers: **{ratio:.1f} times** as fast as plain nbgrader in the "
        "same run. " + " ".join(words), "", *head, *table, "",
        "Wall times include the start of the program and of its workers. Memory counts each "
        "shared page once, over all processes.", ""])
    (Path(__file__).parent / "results" / "grading.md").write_text(text, encoding="utf-8")


def add_to_report(head: list[str], lines: list[str]) -> None:
    """Add a run without nbgrader to `results/grading.md`."""
    with (Path(__file__).parent / "results" / "grading.md").open("a", encoding="utf-8") as report:
        report.write("\n".join(["", f"`python {' '.join(sys.argv)}`, load "
                                f"{os.getloadavg()[0]:.1f} at the end.", "", *head, *lines, ""]))


if __name__ == "__main__":
    main()
