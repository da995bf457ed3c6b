"""The name a question bears in its lab, such as "Question 7" or "Bench question A".

Reports and feedback use it, so that teacher, learner and notebook speak of the same question.
An author writes it in bold at the start of a line above the answer cell: `**Question 7.** …`.
"""

import re

from coldbench.grading.course import Course

_MARKS = re.compile(
    r"^\*\*(?P<label>(?:\w+ )?[Qq]uestion \w+)\b"
    r"|\bgrade_id\"?: *\"?(?P<cell>[\w.-]+)", re.MULTILINE)


def labels_in(source: str) -> dict[str, str]:
    """Find each cell's question in a lab's source [Markdown]: {grade_id: label}.

    >>> labels_in('**Question 7.** How far?\\n```\\nnbgrader: {grade_id: check-far}\\n```')
    {'check-far': 'Question 7'}
    """
    found: dict[str, str] = {}
    label = ""
    for mark in _MARKS.finditer(source):
        label = mark["label"] or label
        if mark["cell"] and label:
            found[mark["cell"]] = label
    return found


def question_labels(course: Course, lab: str, cells: list[str]) -> list[str]:
    """Name the questions of a lab's graded cells [grade_ids, in order].

    They are counted through when the source is not at hand or leaves one of them without a name.
    """
    try:
        found = labels_in((course.source / lab / f"{lab}.md").read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError):
        found = {}
    if all(cell in found for cell in cells):
        return [found[cell] for cell in cells]
    return [f"Question {number}" for number in range(1, len(cells) + 1)]
