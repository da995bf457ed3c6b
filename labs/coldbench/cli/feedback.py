"""`coldbench feedback`: write learners' feedback anew, after marking by hand."""

from typing import Annotated

import typer

from coldbench.cli.course_option import CourseOption, GradebookOption


def command(
    lab: Annotated[str, typer.Argument(metavar="LAB", help="Name of a graded lab.")],
    course: CourseOption = None,
    gradebook: GradebookOption = None,
    learner: Annotated[
        str | None, typer.Option("--learner", metavar="ID", help="Only this learner.")
    ] = None,
) -> None:
    """Write feedback anew with the marks and comments the gradebook holds now."""
    from coldbench.grading.course import find_course
    from coldbench.grading.feedback import write_class
    from coldbench.grading.report_pages import plural

    found = find_course(course, gradebook)
    pages = write_class(found, lab, learner)
    place = pages[0] if len(pages) == 1 else found.desk / "feedback"
    print(f"{plural(len(pages), 'feedback page')} of {lab} in {place}")
