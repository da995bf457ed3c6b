"""The words and signs in which a mark is shown, the same on every page.

Each state has a sign and a word, so that nothing depends on colour.
"""

from coldbench.grading.report_marks import Settled
from coldbench.worksheet.marks import (
    MALFORMED, MISSING, PARTLY, RIGHT, WRONG, Mark, status_of,
)

HAND, TROUBLE = "hand", "trouble"
SIGNS = {RIGHT: "✓", PARTLY: "◐", WRONG: "✗", MISSING: "–", MALFORMED: "?", HAND: "✎",
         TROUBLE: "!"}
WORDS = {RIGHT: "right", PARTLY: "partly right", WRONG: "not right", MISSING: "not answered",
         MALFORMED: "could not be read", HAND: "to be marked by hand",
         TROUBLE: "the check itself failed"}


def mark_state(mark: Mark) -> str:
    """Name the state of one mark; a table or list handed in empty was not answered.

    >>> mark_state(Mark("chart", 0.0, "wrong", "0 of 4 right.", answer=""))
    'missing'
    """
    if mark.status == WRONG and not mark.answer.strip():
        return MISSING
    return mark.status if mark.status in SIGNS else TROUBLE


def state_of(settled: Settled) -> str:
    """Name the state of a graded cell: one of `SIGNS`."""
    cell = settled.cell
    if settled.needs_hand:
        return HAND
    if settled.by_hand:
        return status_of(settled.share or 0.0)
    if cell.trouble:
        return TROUBLE
    if cell.kind == "written":
        # The program gives a written answer 0 only when the cell was left as it was.
        return status_of(settled.share) if settled.share else MISSING
    statuses = {mark_state(mark) for mark in cell.marks}
    if len(statuses) == 1:
        return statuses.pop()
    return status_of(settled.share or 0.0)
