"""The grader's side of marking: starts the marking process and asks it."""

import contextlib
import json
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

from coldbench.errors import InputError
from coldbench.grading.lab import Lab, grade_id_of, role_of
from coldbench.grading.record import CellResult
from coldbench.worksheet.marks import Mark


def marking_cells(lab: Lab) -> list[dict[str, str]]:
    """The instructor's cells that marking runs: set-up and checks, with hidden parts."""
    return [{"grade_id": grade_id_of(cell), "role": role_of(cell), "source": cell.source}
            for cell in lab.cells("setup", "check") if cell.cell_type == "code"]


class MarkingStopped(InputError):
    """Marking one submission took too long or ended the marking process."""


class MarkingProcess:
    """A running marking process of one lab; use it as a context manager.

    It is started when first asked, and again after it had to be stopped.
    """

    def __init__(self, lab: Lab):
        self._lab = lab
        self._process: subprocess.Popen | None = None
        self._lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def __enter__(self) -> "MarkingProcess":
        return self

    def __exit__(self, *details: Any) -> None:
        self.close()

    def start(self) -> None:
        """Start ahead of the first request; trouble shows with that request."""
        if self._process is None:
            with contextlib.suppress(BrokenPipeError):
                self._start()

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._reader.join()
            with contextlib.suppress(BrokenPipeError):
                self._process.stdin.close()
            self._process.stdout.close()
            self._process = None

    def _start(self) -> None:
        root = str(Path(__file__).resolve().parents[2])
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "coldbench.grading.marker"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": root, "OPENBLAS_NUM_THREADS": "1",
                 "PYTHONUTF8": "1", "PYTHONDONTWRITEBYTECODE": "1", "MPLBACKEND": "agg"})
        self._lines = queue.SimpleQueue()
        # A thread, because a pipe cannot be waited on for a limited time everywhere.
        self._reader = threading.Thread(
            target=_read_lines, args=(self._process.stdout, self._lines), daemon=True)
        self._reader.start()
        self._send({"folder": str(self._lab.folder), "course": self._lab.course_code,
                    "cells": marking_cells(self._lab)})

    def _send(self, message: Mapping[str, Any]) -> None:
        self._process.stdin.write(json.dumps(message).encode() + b"\n")
        self._process.stdin.flush()

    def mark(self, learner: str, records: Mapping[str, Any], seconds: float = 60.0,
             ) -> dict[str, CellResult]:
        """Mark a learner's records [seconds: time allowed].

        Raises InputError when the lab's own set-up fails, MarkingStopped when marking these
        records took too long or ended the process; the next call starts it anew.
        """
        reply = self._ask({"learner": learner, "records": dict(records)}, seconds)
        if "failure" in reply:
            raise InputError(f"{self._lab.name}: marking failed: {reply['failure']}")
        return {grade_id: self._result(grade_id, found)
                for grade_id, found in reply["cells"].items()}

    def _ask(self, request: Mapping[str, Any], seconds: float) -> dict[str, Any]:
        line, why = b"", "ended the marking process"
        try:
            if self._process is None:
                self._start()
            self._send(request)
            line = self._lines.get(timeout=seconds)
        except BrokenPipeError:
            pass
        except queue.Empty:
            why = f"took more than {seconds:g} s"
        if not line.endswith(b"\n"):
            self.close()
            raise MarkingStopped(f"Marking {self._lab.name} {why}, so it was stopped.")
        return json.loads(line)

    def _result(self, grade_id: str, found: dict[str, Any]) -> CellResult:
        cell = next(c for c in self._lab.notebook.cells if grade_id_of(c) == grade_id)
        points = float(cell.metadata.nbgrader.points)
        marks = tuple(Mark(**mark) for mark in found["marks"])
        title = " · ".join(dict.fromkeys(mark.question for mark in marks)) or grade_id
        # Half a check says nothing about the other half: it waits for a hand.
        score = 0.0 if found["trouble"] else score_of(marks, points)
        return CellResult(grade_id, title, "checked", points, score, marks, found["trouble"])


def _read_lines(stream: IO[bytes], lines: "queue.SimpleQueue[bytes]") -> None:
    """Put each line, and an empty one at the end, into a queue."""
    for line in stream:
        lines.put(line)
    lines.put(b"")


def score_of(marks: tuple[Mark, ...], points: float) -> float:
    """Points earned: the weighted mean share, to a thousandth of a point.

    >>> score_of((Mark("a", 1.0, "right", ""), Mark("b", 0.0, "wrong", "")), 4.0)
    2.0
    """
    weight = sum(mark.weight for mark in marks)
    share = sum(mark.share * mark.weight for mark in marks) / weight if weight else 0.0
    return round(min(max(share, 0.0), 1.0) * points, 3)
