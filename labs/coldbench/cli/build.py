"""`coldbench build`: build labs for learners."""

from coldbench.cli.course_option import (
    CourseOption, GradebookOption, LabsArgument, NoSandboxOption,
)


def command(
    labs: LabsArgument = None, course: CourseOption = None, no_sandbox: NoSandboxOption = False,
    gradebook: GradebookOption = None,
) -> None:
    """Build labs: check each against its own answers, then write the student's version."""
    from coldbench.grading.build import build
    from coldbench.grading.course import find_course
    from coldbench.grading.sandbox import choose_level

    found = find_course(course, gradebook)
    for lab in labs or []:
        found.require_lab(lab)
    build(found, labs or [], choose_level(no_sandbox))
