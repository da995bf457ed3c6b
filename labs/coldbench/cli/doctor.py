"""`coldbench doctor`: what this machine offers for grading, and what is missing."""

import typer

from coldbench.cli.course_option import CourseOption


def command(course: CourseOption = None) -> None:
    """Say what this machine offers for grading, and what is missing; exits 1 if it cannot."""
    from rich.console import Console
    from rich.table import Table

    from coldbench.errors import InputError
    from coldbench.grading.course import find_course
    from coldbench.grading.doctor import can_grade, examine

    try:
        found = find_course(course)
    except InputError:
        if course is not None:
            raise
        found = None
    table = Table(box=None, show_header=False, pad_edge=False)
    for overflow in ("fold", "fold", "fold"):
        table.add_column(overflow=overflow)
    findings = []
    for finding in examine(found):
        findings.append(finding)
        table.add_row(finding.subject, finding.state, finding.sentence)
    Console(markup=False).print(table)
    if not can_grade(findings):
        raise typer.Exit(1)
