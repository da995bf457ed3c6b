"""Worksheets: a learner's own numbers, her answers, the marking rules and the messages.

Glossary
    case      the numbers a learner is given; the question, never the answer
    record    one answer as plain data, as it leaves the learner's notebook
    preview   what the learner sees at once: is the form right? Never: is it correct?
    mark      what the trusted marking process decides: a share of the points and a reason
    journal   what the learner measured, line by line, in a file beside the notebook
    desk      the marking process's table, on which records lie while check cells run

Keys and tolerances are arguments of `Worksheet.mark`, written in hidden cells of a lab's
source; none is kept in this package.
"""

from typing import TYPE_CHECKING, Any

from coldbench.worksheet.cases import Case, Draw, Given, draw_case
from coldbench.worksheet.desk import MarkingDesk
from coldbench.worksheet.entries import Entry
from coldbench.worksheet.manifest import Manifest, read_manifest
from coldbench.worksheet.marks import Mark, Mistake
from coldbench.worksheet.sheet import Worksheet

if TYPE_CHECKING:
    from coldbench.worksheet.kinds import Wanted


def __getattr__(name: str) -> Any:
    if name == "Wanted":  # only labs with measurements need it
        from coldbench.worksheet.kinds import Wanted

        return Wanted
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


__all__ = [
    "Case",
    "Draw",
    "Entry",
    "Given",
    "Manifest",
    "Mark",
    "MarkingDesk",
    "Mistake",
    "Wanted",
    "Worksheet",
    "draw_case",
    "read_manifest",
]
