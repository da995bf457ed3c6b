"""`coldbench gradebook`: look at the gradebook, or move it to another database."""

from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, GradebookOption

group = typer.Typer(name="gradebook", no_args_is_help=True,
                    help="Look at the gradebook, or copy it into another database.")
_ADDRESS = "A SQLite file or an address such as postgresql://grader@db.example/coldbench."


@group.command()
def show(course: CourseOption = None, gradebook: GradebookOption = None) -> None:
    """Say where the gradebook is kept and what it holds."""
    from coldbench.grading.book_summary import summarize
    from coldbench.grading.course import find_course
    from coldbench.grading.report_pages import plural

    found = summarize(find_course(course, gradebook))
    print(f"gradebook  {found.address} ({found.kind}, tables of version {found.version})")
    print(f"learners   {found.learners}")
    for lab in found.labs:
        print(f"{lab.name}: {plural(lab.submissions, 'graded submission')}, "
              f"{plural(lab.waiting, 'answer')} to mark by hand")
    if found.grading_now:
        print(f"grading now: {found.grading_now}")


@group.command()
def copy(
    source: Annotated[str, typer.Argument(metavar="FROM", help=_ADDRESS)],
    target: Annotated[str, typer.Argument(metavar="TO", help="The same for the copy.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Delete first what the other database holds.")
    ] = False,
    course: CourseOption = None,
) -> None:
    """Copy a gradebook into an empty database and compare every row."""
    from pathlib import Path

    from coldbench.grading.book_copy import copy_gradebook
    from coldbench.grading.course import find_course
    from coldbench.grading.database import database_address, spoken_address
    from coldbench.grading.gradebook import put_on_path, quiet
    from coldbench.grading.lock import desk_lock
    from coldbench.grading.report_pages import plural

    desk = find_course(course).desk
    put_on_path()
    addresses = [database_address(text, Path.cwd()) for text in (source, target)]
    with desk_lock(desk, "grading"), quiet():  # no marks are written while rows are copied
        rows = copy_gradebook(*addresses, replace)
    print(f"{plural(sum(rows.values()), 'row')} in {plural(len(rows), 'table')} copied from "
          f"{spoken_address(addresses[0])} to {spoken_address(addresses[1])}; all are the same")
    print(f"{rows['student']} learners, {rows['submitted_assignment']} submissions, "
          f"{rows['grade']} marks, {rows['comment']} comments")
    print('to use the copy, write into course.toml, above its tables: gradebook = "…"')


@group.command()
def upgrade(course: CourseOption = None, gradebook: GradebookOption = None) -> None:
    """Bring the gradebook of an older nbgrader up to date."""
    from coldbench.grading.book_upgrade import upgrade_gradebook
    from coldbench.grading.course import find_course
    from coldbench.grading.gradebook import quiet
    from coldbench.grading.lock import desk_lock

    found = find_course(course, gradebook)
    with desk_lock(found.desk, "grading"), quiet():
        version, copy = upgrade_gradebook(found.gradebook_url)
    print(f"the gradebook's tables are of version {version} now"
          + (f"; as it was before: {copy}" if copy else ""))
