"""The class as a table: learners down, questions across, one state and share in each place."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from coldbench.grading.feedback_safe import one_line
from coldbench.grading.record import CellResult
from coldbench.grading.report_marks import Settled, Standing
from coldbench.grading.report_words import HAND, TROUBLE, mark_state, state_of
from coldbench.worksheet.marks import MISSING, RIGHT, Mark


@dataclass(frozen=True)
class Item:
    """One question: the cell it stands in, its name, its points."""

    grade_id: str
    question: str
    title: str
    kind: str
    points: float


@dataclass(frozen=True)
class Place:
    """How one learner stands at one question; share None when not marked."""

    state: str
    share: float | None
    mistake: str = ""


def find_items(standing: Sequence[Standing]) -> list[Item]:
    """List the questions of a class, in the order of the lab.

    A check cell that marks several questions gives one item for each, with its part of the
    points.
    """
    cells: dict[str, CellResult] = {}
    marks: dict[str, dict[str, Mark]] = defaultdict(dict)
    for one in standing:
        for settled in one.cells:
            cell = settled.cell
            cells.setdefault(cell.grade_id, cell)
            for mark in cell.marks:
                marks[cell.grade_id].setdefault(mark.question, mark)
    return [item for grade_id, cell in cells.items() for item in _items_of(cell, marks[grade_id])]


def _items_of(cell: CellResult, marks: dict[str, Mark]) -> list[Item]:
    if len(marks) <= 1:
        name = next(iter(marks), "")
        title = name or cell.title or cell.grade_id
        return [Item(cell.grade_id, name, one_line(title), cell.kind, cell.points)]
    weight = sum(mark.weight for mark in marks.values()) or 1.0
    return [Item(cell.grade_id, name, one_line(name), cell.kind, cell.points * mark.weight / weight)
            for name, mark in marks.items()]


def places_of(one: Standing, items: Sequence[Item]) -> list[Place]:
    """Say how a learner stands at every question."""
    cells = {settled.cell.grade_id: settled for settled in one.cells}
    return [_place(cells.get(item.grade_id), item) for item in items]


def _place(settled: Settled | None, item: Item) -> Place:
    if settled is None:
        return Place(TROUBLE, None)
    state = state_of(settled)
    mark = next((m for m in settled.cell.marks if m.question == item.question), None)
    if state == TROUBLE or (settled.cell.kind == "checked" and mark is None
                            and not settled.by_hand):
        return Place(TROUBLE, None)
    if state == HAND or settled.by_hand or mark is None:
        return Place(state, settled.share, mark.mistake if mark else "")
    state = mark_state(mark)
    # A value carried forward rightly has a name but costs nothing: no mistake of this question.
    return Place(state, max(0.0, min(1.0, mark.share)), "" if state == RIGHT else mark.mistake)


def stuck_from(places: Sequence[Place]) -> int | None:
    """Index of the first question from which all are missing; None when the last has an answer.

    >>> stuck_from([Place("right", 1.0), Place("missing", 0.0), Place("missing", 0.0)])
    1
    """
    index = len(places)
    while index and places[index - 1].state == MISSING:
        index -= 1
    return index if index < len(places) else None


def mistakes_at(column: Sequence[Place], learners: Sequence[str]) -> list[dict[str, object]]:
    """Named mistakes at one question, commonest first, with who made them."""
    count = Counter(place.mistake for place in column if place.mistake)
    return [{"name": name, "count": times,
             "learners": [who for who, place in zip(learners, column, strict=True)
                          if place.mistake == name]}
            for name, times in sorted(count.items(), key=lambda pair: (-pair[1], pair[0]))]
