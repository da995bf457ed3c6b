"""What grades one lab's submissions, one at a time: a marking process and a pre-warmed parent."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event

from coldbench.errors import InputError
from coldbench.grading.job import Graded, Job, files_for, grade, ungraded
from coldbench.grading.lab import Lab
from coldbench.grading.limits import Limits
from coldbench.grading.marking import MarkingProcess
from coldbench.grading.sandbox import BUBBLEWRAP
from coldbench.grading.warm import WarmParent


class LabWorker:
    """Grades one lab's submissions.

    level [of the sandbox]; cold [start Python anew for each submission]. Setting `halt` breaks
    off what is being graded. Close it after use.
    """

    def __init__(self, lab: Lab, level: str, limits: Limits, cold: bool = False):
        self._lab, self._level, self._limits = lab, level, limits
        self._marking = MarkingProcess(lab)
        # A parent without walls of its own could be harmed by its children.
        self.halt = Event()
        self._parent = None if cold or level != BUBBLEWRAP else parent_for(lab, limits)

    def warm_up(self) -> None:
        """Start the processes ahead of the first submission."""
        self._marking.start()
        if self._parent is not None:
            self._parent.start()

    def grade(self, job: Job) -> Graded:
        """Grade one submission; its troubles become a sentence in its record, never an error."""
        try:
            return grade(self._lab, job, self._level, self._limits, self._marking,
                         self._parent, self.halt)
        except InputError as error:
            return ungraded(self._lab, job, self._level, self._limits, str(error))
        except Exception as error:  # one submission's trouble must not stop the class
            return ungraded(self._lab, job, self._level, self._limits,
                            f"Grading this submission failed ({type(error).__name__}: {error}).")

    def close(self) -> None:
        """End the processes; set `halt` first where one may be at work."""
        if self._parent is not None:
            self._parent.close()
        self._marking.close()


@contextmanager
def warm_parent(lab: Lab, level: str, limits: Limits) -> Iterator[WarmParent | None]:
    """A pre-warmed parent where the level has walls for it, else None."""
    parent = parent_for(lab, limits) if level == BUBBLEWRAP else None
    try:
        yield parent
    finally:
        if parent is not None:
            parent.close()


def parent_for(lab: Lab, limits: Limits) -> WarmParent:
    """Make a pre-warmed parent for a lab; it is started with the first run."""
    cells = [{"id": cell["id"], "source": cell.source} for cell in lab.cells("setup")
             if cell.cell_type == "code"]
    files = files_for(lab, Job("practice", None))
    return WarmParent(lab.fingerprint, cells, files, limits, [lab.folder.parents[1]])
