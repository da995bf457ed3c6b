"""`coldbench export`: marks for the school's record."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, GradebookOption


def command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write, e.g. marks.csv.")],
    course: CourseOption = None,
    gradebook: GradebookOption = None,
    form: Annotated[
        str | None,
        typer.Option("--format", metavar="FORM",
                     help="csv or json; default: as the file's name ends, else csv."),
    ] = None,
    wide: Annotated[
        bool, typer.Option("--wide", help="One line for each learner, one column for each lab.")
    ] = False,
) -> None:
    """Write the marks of all graded labs into one file."""
    from coldbench.grading.course import find_course
    from coldbench.grading.export import (
        export_marks, left_out, not_final, without_submission,
    )
    from coldbench.grading.report_pages import plural

    found = find_course(course, gradebook)
    count = export_marks(found, file, form, wide)
    print(f"{plural(count, 'line')} of marks in {file}")
    if waiting := not_final(found):
        print(f"not final: {plural(waiting, 'answer')} still to be marked by hand "
              "(column needs_hand)", file=sys.stderr)
    for name in without_submission(found):
        print(f"{name}: the marks are in the file, but no such submission lies on the desk any "
              "more; delete its record if it was renamed or withdrawn", file=sys.stderr)
    for name in left_out(found):
        print(f"left out, its record cannot be read: {name}", file=sys.stderr)
