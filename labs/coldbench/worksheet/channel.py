"""The way an answer leaves the notebook.

In a learner's own JupyterLab nothing listens: answers are only previewed. When a notebook is
graded, the process that runs it sets a listener and an assigned learner first.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

_listener: Callable[[dict[str, Any]], None] | None = None
_assigned: dict[str, Any] = {}


def listen(listener: Callable[[dict[str, Any]], None] | None) -> None:
    """Set who hears of answers [listener: takes a plain record]."""
    global _listener
    _listener = listener


def send(record: dict[str, Any]) -> None:
    """Pass a record on, if anybody listens."""
    if _listener is not None:
        _listener(record)


def assign(learner: str, folder: Path, journal: bool = False) -> None:
    """Fix whose case is shown and where the lab's files lie [journal: one was handed in]."""
    _assigned.update(learner=learner, folder=folder, journal=journal)


def assigned() -> dict[str, Any]:
    """What the grader fixed (see `assign`); empty in a learner's own notebook."""
    return dict(_assigned)
