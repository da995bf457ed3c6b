"""The grader's side of marking: starts the marking process and asks it."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.lab import Lab, grade_id_of, role_of
from coldbench.grading.record import CellResult
from coldbench.worksheet.marks import Mark


def marking_cells(lab: Lab) -> list[dict[str, str]]:
    """The instructor's cells that marking runs: set-up and checks, with hidden parts."""
    return [{"grade_id": grade_id_of(cell), "role": role_of(cell), "source": cell.source}
            for cell in lab.cells("setup", "check") if cell.cell_type == "code"]


class MarkingProcess:
    """A running marking process of one lab; use it as a context manager."""

    def __init__(self, lab: Lab):
        self._lab = lab
        self._process: subprocess.Popen | None = None

    def __enter__(self) -> "MarkingProcess":
        return self

    def __exit__(self, *details: Any) -> None:
        self.close()

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.stdin.close()
            self._process.stdout.close()
            self._process.wait()
            self._process = None

    def _start(self) -> None:
        root = str(Path(__file__).resolve().parents[2])
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "coldbench.grading.marker"], text=True,
            encoding="utf-8", stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": root, "OPENBLAS_NUM_THREADS": "1",
                 "PYTHONUTF8": "1", "MPLBACKEND": "agg"})
        self._send({"folder": str(self._lab.folder), "course": self._lab.course_code,
                    "cells": marking_cells(self._lab)})

    def _send(self, message: Mapping[str, Any]) -> None:
        self._process.stdin.write(json.dumps(message) + "\n")
        self._process.stdin.flush()

    def mark(self, learner: str, records: Mapping[str, Any]) -> dict[str, CellResult]:
        """Mark a learner's records; raises InputError when the lab's own cells fail."""
        if self._process is None:
            self._start()
        try:
            self._send({"learner": learner, "records": dict(records)})
            line = self._process.stdout.readline()
        except BrokenPipeError:
            line = ""
        if not line:
            self.close()
            raise InputError(f"{self._lab.name}: the marking process ended; "
                             "run `coldbench build` to see what is wrong with the lab")
        reply = json.loads(line)
        if "failure" in reply:
            raise InputError(f"{self._lab.name}: marking failed: {reply['failure']}")
        return {grade_id: self._result(grade_id, found)
                for grade_id, found in reply["cells"].items()}

    def _result(self, grade_id: str, found: dict[str, Any]) -> CellResult:
        cell = next(c for c in self._lab.notebook.cells if grade_id_of(c) == grade_id)
        points = float(cell.metadata.nbgrader.points)
        marks = tuple(Mark(**mark) for mark in found["marks"])
        title = " · ".join(dict.fromkeys(mark.question for mark in marks)) or grade_id
        return CellResult(grade_id, title, "checked", points, score_of(marks, points), marks,
                          found["trouble"])


def score_of(marks: tuple[Mark, ...], points: float) -> float:
    """Points earned: the weighted mean share, to a thousandth of a point.

    >>> score_of((Mark("a", 1.0, "right", ""), Mark("b", 0.0, "wrong", "")), 4.0)
    2.0
    """
    weight = sum(mark.weight for mark in marks)
    share = sum(mark.share * mark.weight for mark in marks) / weight if weight else 0.0
    return round(min(max(share, 0.0), 1.0) * points, 3)
