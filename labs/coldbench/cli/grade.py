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
    workers: WorkersOption = None,
    every: Annotated[bool, typer.Option("--all", help="All labs of the course.")] = False,
    only: Annotated[list[str] | None, typer.Option(
        "--only", metavar="LEARNER", help="Only this learner's work; may be given again.")] = None,
    since: Annotated[str | None, typer.Option(
        "--since", metavar="TIME", help="Only work handed in since, such as 2026-12-04 or "
        "'2026-12-04 17:00'.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Grade unchanged work again.")] = False,
    cold: Annotated[bool, typer.Option(
        "--cold", help="Start Python anew for each submission: slower, same marks.")] = False,
    scheduler: Annotated[str, typer.Option(
        "--scheduler", metavar="ADDRESS", help="Grade on the Dask cluster at this address.")] = "",
    cluster: Annotated[str, typer.Option(
        "--cluster", metavar="KIND", help="Start a Dask cluster: slurm or kubernetes.")] = "",
    no_sandbox: NoSandboxOption = False,
    gradebook: GradebookOption = None,
) -> None:
    """Grade every submission of the labs; a second call grades only what changed."""
    from coldbench.grading.course import find_course
    from coldbench.grading.driver import Wish
    from coldbench.grading.submissions import misplaced

    if every and labs:
        raise InputError(f"--all means all labs; leave it out, or leave out {', '.join(labs)}")
    found = find_course(course, gradebook)
    wanted = [found.require_lab(lab) for lab in labs or found.labs()]
    names = [name for name in wanted if any(found.submitted.glob(f"*/{name}"))]
    if not names:
        raise InputError(_nothing_to_grade(found, wanted))
    wish = Wish(tuple(only or ()), _moment(since), force, cold)
    names = _with_work_of(found, names, wish.only)
    with _client(scheduler, cluster, workers) as client:
        level = _level(no_sandbox, bool(client))
        outcomes = []
        for name in names:
            outcomes.append(grade_with_progress(found, name, level, workers, wish, client))
            say_outcome(found, outcomes[-1])
    if stray := misplaced(found):
        print(f"not looked at: {_some(stray)}. {_PLACE}")


def _level(no_sandbox: bool, elsewhere: bool) -> str:
    """Choose the sandbox level; machines of a cluster must all have the same."""
    from coldbench.grading.sandbox import BUBBLEWRAP, LIMITS_ONLY, choose_level

    if elsewhere:
        return LIMITS_ONLY if no_sandbox else BUBBLEWRAP
    return choose_level(no_sandbox)


def _client(scheduler: str, cluster: str, workers: int | None):
    """A Dask client where one is asked for, else nothing."""
    from contextlib import nullcontext

    from coldbench.grading.executors import cores, dask_client

    if scheduler and cluster:
        raise InputError("--scheduler takes a cluster that runs, --cluster starts one; "
                         "give one of them")
    if not (scheduler or cluster):
        return nullcontext()
    return dask_client(scheduler, cluster, workers or cores())


def _moment(since: str | None):
    """Read the time given with --since; without a time zone it is this machine's."""
    from datetime import datetime

    if since is None:
        return None
    try:
        return datetime.fromisoformat(since).astimezone()
    except ValueError:
        raise InputError(f"--since {since!r} is not a time; wanted is one such as 2026-12-04 or "
                         "'2026-12-04 17:00'") from None


def _with_work_of(course, names: list[str], only: tuple[str, ...]) -> list[str]:
    """Labs that one of some learners handed in; all where no learner is named."""
    handed = {learner: [name for name in names if (course.submitted / learner / name).is_dir()]
              for learner in only}
    for learner, labs in handed.items():
        if not labs:
            raise InputError(f"no submission of {learner!r} for {', '.join(names)}")
    return [name for name in names if not only or any(name in labs for labs in handed.values())]


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


def grade_with_progress(course, name: str, level: str, workers: int | None = None, wish=None,
                        client=None):
    """Grade one lab behind a progress bar, and write each learner's feedback."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    from coldbench.grading.driver import grade_lab
    from coldbench.grading.executors import cores
    from coldbench.grading.feedback import write_feedback

    words = TextColumn("{task.completed} done, {task.fields[failed]} failed, "
                       "{task.fields[left]} left")
    bar = Bar(TextColumn("{task.description}"), BarColumn(), words, TimeRemainingColumn(),
              console=Console(file=sys.stderr))
    task = bar.add_task(name, total=None, failed=0, left="?")

    def progress(now) -> None:
        bar.update(task, completed=now.done, total=now.total, failed=now.failed,
                   left=now.total - now.done)
        bar.start()  # not before: what is refused at once needs no bar
        if now.record is not None:
            write_feedback(course, now.record)

    try:
        return grade_lab(course, name, level, workers or cores(), progress=progress,
                         wish=wish, client=client)
    except KeyboardInterrupt:
        _stop(bar)
        print(f"coldbench: {name}: stopped; what is graded is kept, and the same command "
              "goes on from there", file=sys.stderr)
        raise typer.Exit(130) from None
    finally:
        _stop(bar)


def _stop(bar) -> None:
    """Stop a progress bar, if it ever started; without a terminal it would leave an empty line."""
    if bar.live.is_started:
        bar.stop()


def say_outcome(course, outcome) -> None:
    """Print what grading came to, in a few lines."""
    from dataclasses import replace

    from coldbench.grading.report_attention import names, with_own_repairs
    from coldbench.grading.report_marks import walk_standings
    from coldbench.grading.report_pages import plural

    for note in outcome.notes:
        print(f"{outcome.lab}: {note}")
    learners = [*outcome.graded, *outcome.kept]
    if learners:
        said, total, waiting, points, sandbox = [], 0.0, 0, 0.0, ""
        for one in walk_standings(course, outcome.lab, learners):
            total, waiting = total + one.total, waiting + len(one.waiting)
            points, sandbox = one.record.points, one.record.sandbox
            said.append(replace(one.record, cells=(), run={}))  # a large class stays small
        print(f"{outcome.lab}: {len(outcome.graded)} graded, {len(outcome.kept)} unchanged; "
              f"sandbox: {sandbox}")
        print(f"  mean {total / len(learners):.1f} of {points:g} points so far, "
              f"{plural(waiting, 'answer')} to mark by hand")
        mended = set(with_own_repairs(said))
        if odd := [one.learner for one in said if one.notices or one.learner in mended]:
            print(f"  notices about {names(odd)}: see the report")
    if outcome.failed:
        print(f"  the program could not grade {names(outcome.failed)}: see the report")
    for folder, reason in outcome.refused:
        print(f"  refused {folder!r}: {reason}")
    if learners:
        print(f"  feedback  {short(course.desk / 'feedback')}")
        print(f"  report    {spoken(f'report {outcome.lab}', course)}")
