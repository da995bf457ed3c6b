"""`coldbench grade`: grade a class."""

import sys
from typing import Annotated

import typer

from coldbench.cli.course_option import (
    CourseOption,
    LabsArgument,
    NoSandboxOption,
    WorkersOption,
)
from coldbench.errors import InputError


def command(
    labs: LabsArgument = None,
    course: CourseOption = None,
    workers: WorkersOption = 2,
    force: Annotated[bool, typer.Option("--force", help="Grade unchanged work again.")] = False,
    no_sandbox: NoSandboxOption = False,
) -> None:
    """Grade every submission of the labs; a second call grades only what changed."""
    from coldbench.grading.course import find_course
    from coldbench.grading.sandbox import choose_level

    found = find_course(course)
    names = [found.require_lab(lab) for lab in labs or found.labs()]
    level = choose_level(no_sandbox)
    outcomes = [grade_with_progress(found, name, level, workers, force) for name in names]
    for outcome in outcomes:
        say_outcome(found, outcome)
    if not any(outcome.all_records or outcome.refused for outcome in outcomes):
        raise InputError(
            f"no submissions of {', '.join(names)} in {found.submitted}; put each at "
            f"{found.submitted.name}/LEARNER/LAB/LAB.ipynb{_where_the_demo_is(found)}")


def _where_the_demo_is(course) -> str:
    """Point to the invented class, if there is one."""
    from coldbench.grading.demo import NOTE

    demo = course.desk / "demo"
    return f" (the invented class: add --course {demo})" if (demo / NOTE).is_file() else ""


def grade_with_progress(course, name: str, level: str, workers: int, force: bool = False):
    """Grade one lab behind a progress bar, then write its feedback."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn

    from coldbench.grading.driver import grade_lab
    from coldbench.grading.feedback import write_feedback

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
               TimeRemainingColumn())
    with Progress(*columns, console=Console(file=sys.stderr)) as bar:
        task = bar.add_task(name, total=None)

        def progress(done: int, total: int, record) -> None:
            bar.update(task, completed=done, total=total)
            if record is not None:
                write_feedback(course, record)

        return grade_lab(course, name, level, workers, force, progress)


def say_outcome(course, outcome) -> None:
    """Print what grading came to, in a few lines."""
    records = outcome.all_records
    if records:
        hand = sum(any(c.score is None or c.trouble for c in r.cells) for r in records)
        mean = sum(record.score for record in records) / len(records)
        print(f"{outcome.lab}: {len(outcome.records)} graded, {len(outcome.unchanged)} unchanged, "
              f"mean {mean:.1f} of {records[0].points:g} points, {hand} with work for a hand; "
              f"sandbox: {records[0].sandbox}")
        print(f"  feedback: {course.desk / 'feedback'}   "
              f"report: coldbench report {outcome.lab}")
    for folder, reason in outcome.refused:
        print(f"  refused {folder!r}: {reason}")
