"""A learner's right answers on paper, before she has handed anything in.

The lab's reference answers are graded as if this learner had handed them in; what marking then
holds for right is listed. So the list and the marks come from the same place.
"""

from collections.abc import Iterator

from coldbench.grading.course import Course
from coldbench.grading.gate import reference_answers, submission_bytes
from coldbench.grading.job import Job, grade
from coldbench.grading.lab import open_lab
from coldbench.grading.limits import limits_from
from coldbench.grading.marking import MarkingProcess
from coldbench.grading.question_labels import question_labels
from coldbench.grading.record import Record
from coldbench.worksheet.cases import clean_learner_id

BY_HAND = "marked by hand; the rubric stands under the answer in the Formgrader"


def reference_record(course: Course, name: str, learner: str, level: str) -> Record:
    """Grade a lab's reference answers for a learner [level: of the sandbox]; writes nothing.

    Raises InputError when there is no such lab, or the id cannot be a learner's.
    """
    course.require_lab(name)
    learner, lab = clean_learner_id(learner), open_lab(course, name)
    job = Job(learner, submission_bytes(lab, reference_answers(lab, learner)))
    with MarkingProcess(lab) as marking:
        return grade(lab, job, level, limits_from(course.limits), marking).record


def answer_lines(course: Course, record: Record) -> Iterator[str]:
    """List the right answers of a graded record, question by question."""
    labels = question_labels(course, record.lab, [cell.grade_id for cell in record.cells])
    for label, cell in zip(labels, record.cells, strict=True):
        yield f"{label} ({cell.points:g} points)"
        if cell.trouble:
            yield f"  cannot be worked out: {cell.trouble}"
        for mark in cell.marks:
            yield f"  {mark.question}: {mark.key}"
        if cell.kind == "written":
            yield f"  {cell.title}: {BY_HAND}"
