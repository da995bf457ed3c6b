"""Answer kinds: one module each, with how an answer is read and how it is marked.

A new kind is a subclass of `Question` in a module of its own, listed in `KINDS`.
"""

from collections.abc import Callable
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question
from coldbench.worksheet.kinds.choice import ChoiceQuestion
from coldbench.worksheet.kinds.diagnosis import DiagnosisQuestion
from coldbench.worksheet.kinds.fault_tree import FaultTreeQuestion
from coldbench.worksheet.kinds.journal import JournalQuestion, Wanted
from coldbench.worksheet.kinds.ordered import OrderedQuestion
from coldbench.worksheet.kinds.quantity import QuantityQuestion
from coldbench.worksheet.kinds.steps import StepsQuestion
from coldbench.worksheet.kinds.table import TableQuestion
from coldbench.worksheet.kinds.truth_table import TruthTableQuestion

KINDS: dict[str, type[Question]] = {
    "quantity": QuantityQuestion,
    "choice": ChoiceQuestion,
    "ordered list": OrderedQuestion,
    "table": TableQuestion,
    "truth table": TruthTableQuestion,
    "steps": StepsQuestion,
    "journal": JournalQuestion,
    "fault tree": FaultTreeQuestion,
    "diagnosis": DiagnosisQuestion,
}


def question_from_table(
    row: dict[str, Any], refuse: Callable[[str, str], InputError]
) -> Question:
    """Build a question from its `[[question]]` table [refuse: (key, reason) → error]."""
    if not isinstance(row, dict):
        raise refuse("id", "missing; a question is a table [[question]]")
    row = dict(row)
    name, kind = row.pop("id", None), row.pop("kind", None)
    if not isinstance(name, str) or not name.strip():
        raise refuse("id", "missing; a question needs a name")
    if not isinstance(kind, str) or kind not in KINDS:
        raise refuse("kind", f"{kind!r} of {name!r} is not one of {', '.join(KINDS)}")
    accepted = KINDS[kind].table_keys()
    if unknown := set(row) - set(accepted):
        raise refuse(sorted(unknown)[0], f"unknown for {name!r}; accepted: {', '.join(accepted)}")
    try:
        return KINDS[kind].from_table(name, row)
    except InputError as error:
        raise refuse(name, str(error)) from None


__all__ = ["KINDS", "Answer", "Question", "Wanted", "question_from_table"]
