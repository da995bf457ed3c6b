"""`coldbench report`: who is stuck where, what went wrong, what needs a person."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, GradebookOption


def command(
    lab: Annotated[str, typer.Argument(metavar="LAB", help="Name of a graded lab.")],
    as_json: Annotated[
        bool, typer.Option("--json", help="Print JSON for programs instead of tables.")
    ] = False,
    html: Annotated[
        Path | None,
        typer.Option("--html", metavar="FILE",
                     help="Where the page goes; default: autograde/reports/LAB.html."),
    ] = None,
    course: CourseOption = None,
    gradebook: GradebookOption = None,
) -> None:
    """Report on a class: marks, hard questions, common mistakes, who needs help."""
    from coldbench.grading.course import find_course
    from coldbench.grading.report import make_report, report_to_json
    from coldbench.grading.report_html import write_report

    found = find_course(course, gradebook)
    report = make_report(found, lab)
    if as_json:
        print(report_to_json(report))
        if html is not None:
            print(f"page: {write_report(found, report, html)}", file=sys.stderr)
        return
    from rich.console import Console
    from coldbench.grading.report_text import print_report

    page = write_report(found, report, html)
    print_report(report, Console(highlight=False))
    print(f"page: {page}")
