"""Options that several commands share, and how a course is spoken of on the screen."""

import shlex
from pathlib import Path
from typing import Annotated

import typer

CourseOption = Annotated[
    Path | None,
    typer.Option("--course", metavar="DIR", help="Course folder; default: found by walking up."),
]
NoSandboxOption = Annotated[
    bool,
    typer.Option("--no-sandbox", help="Accept to run learners' code with limits only."),
]
GradebookOption = Annotated[
    str | None,
    typer.Option("--gradebook", metavar="ADDRESS",
                 help="Gradebook: SQLite file or postgresql://…; default: as course.toml says."),
]
WorkersOption = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", min=1, max=64,
                 help="Submissions graded at a time; default: one for each core."),
]
LabsArgument = Annotated[
    list[str] | None, typer.Argument(metavar="LAB", help="Labs; default: all of the course.")
]


def short(path: Path) -> str:
    """A path as seen from the working directory, when it lies below it."""
    try:
        return path.resolve().relative_to(Path.cwd()).as_posix()
    except ValueError:
        return str(path)


def spoken(command: str, course) -> str:
    """A command as one would type it here: with --course where it is needed."""
    from coldbench.errors import InputError
    from coldbench.grading.course import find_course

    try:
        needed = find_course().root != course.root
    except InputError:
        needed = True
    return f"coldbench {command}" + (
        f" --course {shlex.quote(short(course.root))}" if needed else "")
