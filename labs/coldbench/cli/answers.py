"""`coldbench answers`: a learner's right answers, for the teacher beside her."""

from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, NoSandboxOption
from coldbench.cli.say import say


def command(
    lab: Annotated[str, typer.Argument(metavar="LAB", help="Name of a lab of the course.")],
    learner: Annotated[str, typer.Argument(metavar="ID", help="Whose numbers: a learner's id.")],
    course: CourseOption = None, no_sandbox: NoSandboxOption = False,
) -> None:
    """List the right answers to one learner's numbers. For teachers: keep it off their screens."""
    from coldbench.grading.answer_sheet import answer_lines, reference_record
    from coldbench.grading.course import find_course
    from coldbench.grading.sandbox import choose_level

    found = find_course(course)
    record = reference_record(found, lab, learner, choose_level(no_sandbox))
    say("\n".join([f"{lab}, right answers for {record.learner}:", *answer_lines(found, record)]))
