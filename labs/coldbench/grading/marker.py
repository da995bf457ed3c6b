"""The marking process: runs a lab's check cells on records. It never runs learner code.

Started as `python -P -m coldbench.grading.marker`, one per lab and worker, and reused. The first
line on standard input names the lab; each further line holds one learner's records and is
answered by one line: for every check cell its marks, or why it could not be computed.
"""

import contextlib
import io
import json
import sys
import traceback
from pathlib import Path
from typing import Any

from coldbench.worksheet.desk import MarkingDesk, open_desk


def compile_cells(cells: list[dict[str, str]]) -> list[tuple[str, str, Any]]:
    """Compile cells once [grade_id, role, source] → (grade_id, role, code)."""
    return [(cell["grade_id"], cell["role"],
             compile(cell["source"], f"<{cell['grade_id']}>", "exec")) for cell in cells]


def mark_records(cells: list[tuple[str, str, Any]], desk: MarkingDesk) -> dict[str, Any]:
    """Run set-up and check cells in a fresh namespace; returns {grade_id: marks or trouble}."""
    namespace: dict[str, Any] = {"__name__": "__marking__", "LEARNER": ""}
    results: dict[str, Any] = {}
    with open_desk(desk):
        for grade_id, role, code in cells:
            trouble = _execute(code, namespace)
            marks = [mark.as_dict() for mark in desk.take_marks()]
            if role == "check":
                trouble = trouble or ("" if marks else "the check made no mark")
                results[grade_id] = {"marks": marks, "trouble": trouble}
            elif trouble:
                raise RuntimeError(f"set-up cell {grade_id}: {trouble}")
    return results


def _execute(code: Any, namespace: dict[str, Any]) -> str:
    """Run one cell; returns why it failed, or empty."""
    try:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            exec(code, namespace)  # noqa: S102 - the instructor's own code
    except (Exception, SystemExit) as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        return f"{type(error).__name__} in line {place.lineno}: {error}"[:500]
    return ""


def serve(lines: Any, answer: Any) -> None:
    """Answer requests until the input ends."""
    setting = json.loads(next(lines))
    sys.path.append(setting["folder"])
    cells = compile_cells(setting["cells"])
    for line in lines:
        request = json.loads(line)
        desk = MarkingDesk(request["learner"], Path(setting["folder"]), setting["course"],
                           request["records"])
        try:
            reply = {"cells": mark_records(cells, desk)}
        except Exception as error:  # reported to the instructor, with the lab's name
            reply = {"failure": str(error)[:500]}
        answer(json.dumps(reply) + "\n")


def main() -> None:
    """Serve on standard input and output."""
    stream = sys.stdout
    sys.stdout = sys.stderr

    def answer(text: str) -> None:
        stream.write(text)
        stream.flush()

    serve(iter(sys.stdin.readline, ""), answer)


if __name__ == "__main__":
    main()
