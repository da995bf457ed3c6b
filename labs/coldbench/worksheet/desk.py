"""The marking desk: records of one learner lie here while a lab's check cells run.

Only the trusted marking process opens a desk. While one is open, `Worksheet.open` gives the
check cells a sheet bound to it, with the learner's true case and her records.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coldbench.worksheet.marks import Mark


@dataclass
class MarkingDesk:
    """One learner's records and the marks made from them.

    learner [id the folder names]; folder [the instructor's lab folder]; course [code];
    records [question → plain record]; marks [made so far].
    """

    learner: str
    folder: Path
    course: str
    records: Mapping[str, dict[str, Any]]
    marks: list[Mark] = field(default_factory=list)

    def take_marks(self) -> list[Mark]:
        """Hand over the marks made since the last call."""
        taken, self.marks = self.marks, []
        return taken


_open_desk: ContextVar[MarkingDesk | None] = ContextVar("open_desk", default=None)


def current_desk() -> MarkingDesk | None:
    """The desk that is open in this process, if any."""
    return _open_desk.get()


@contextmanager
def open_desk(desk: MarkingDesk) -> Iterator[MarkingDesk]:
    """Keep a desk open while check cells run."""
    token = _open_desk.set(desk)
    try:
        yield desk
    finally:
        _open_desk.reset(token)
