"""`coldbench grade`: grade a class."""

import sys
from typing import Annotated

import typer

from coldbench.cli.course_option import (
    CourseOption,
    GradebookOption,
    LabsArgument,
    NoSandboxOption,
    WorkersOption,
    short,
    spoken,
)
from coldbench.errors import InputError

_PLACE = "A notebook must lie at submitted/LEARNER/LAB/LAB.ipynb; put it there and grade again."


def command(
    labs: LabsArgument = None,
    course: CourseOption = None,
    workers: WorkersOption = 2,
    force: Annotated[bool, typer.Option("--force", help="Grade unchanged work again.")] = False,
    no_sandbox: NoSandboxOption = False,
    gradebook: GradebookOption = None,
) -> None:
    """Grade every submission of the labs; a second call grades only what changed."""
    from coldbench.grading.course import find_course
    from coldbench.grading.sandbox import choose_level
    from coldbench.grading.submissions import misplaced

    found = find_course(course, gradebook)
    wanted = [found.require_lab(lab) for lab in labs or found.labs()]
    names = [name for name in wanted if any(found.submitted.glob(f"*/{name}"))]
    if not names:
        raise InputError(_nothing_to_grade(found, wanted))
    level = choose_level(no_sandbox)
    outcomes = [grade_with_progress(found, name, level, workers, force) for name in names]
    for outcome in outcomes:
        say_outcome(found, outcome)
    if stray := misplaced(found):
        print(f"not looked at: {_some(stray)}. {_PLACE}")


def _nothing_to_grade(course, labs: list[str]) -> str:
    """Say that nothing was handed in, and where an invented class can be seen."""
    from coldbench.grading.submissions import misplaced

    said = f"no submissions of {', '.join(labs)} in {short(course.submitted)}"
    if stray := misplaced(course):
        return f"{said}, but {_some(stray)} was found. {_PLACE}"
    demo = course.desk / "demo"
    if (demo / "autograde" / "course.toml").is_file():
        return f"{said}; the invented class lives in {short(demo)}: add --course {short(demo)}"
    return f"{said}; `coldbench demo` makes an invented class to try"


def _some(names: list[str], most: int = 4) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(map(repr, names[:most])) + more


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
    from coldbench.grading.report_attention import names, with_own_repairs
    from coldbench.grading.report_marks import standings
    from coldbench.grading.report_pages import plural

    for note in outcome.notes:
        print(f"{outcome.lab}: {note}")
    records = outcome.all_records
    if records:
        here = {record.learner for record in records}
        class_ = [one for one in standings(course, outcome.lab) if one.record.learner in here]
        mean = sum(one.total for one in class_) / len(class_)
        print(f"{outcome.lab}: {len(outcome.records)} graded, {len(outcome.unchanged)} unchanged; "
              f"sandbox: {records[0].sandbox}")
        print(f"  mean {mean:.1f} of {records[0].points:g} points so far, "
              f"{plural(sum(len(one.waiting) for one in class_), 'answer')} to mark by hand")
        mended = set(with_own_repairs(records))
        odd = [r.learner for r in records if r.notices or r.learner in mended]
        if odd:
            print(f"  notices about {names(odd)}: see the report")
    for folder, reason in outcome.refused:
        print(f"  refused {folder!r}: {reason}")
    if records:
        print(f"  feedback  {short(course.desk / 'feedback')}")
        print(f"  report    {spoken(f'report {outcome.lab}', course)}")
