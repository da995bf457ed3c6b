"""A learner's own work, taken from her graded notebook and sorted by question.

Only her cells are taken: answers, written answers and cells she added. Locked cells are
passed over, so that no check, hidden or not, can reach a page made from this.
"""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from coldbench.grading.feedback_safe import (
    LONGEST_TEXT, one_line, safe_markdown, safe_picture, visible,
)

LARGEST_NOTEBOOK_BYTES = 60_000_000
MOST_OUTPUTS = 12
_CODE_NAME = re.compile(r" +case\.\w+$", re.MULTILINE)  # of use in a notebook only
_OWN = ("answer", "written", "extra", "learner")


@dataclass(frozen=True)
class Shown:
    """One output fit to be shown: kind ["text", "picture", "error", "note"] and its text."""

    kind: str
    text: str


@dataclass(frozen=True)
class Work:
    """One of the learner's cells.

    kind ["code" or "written"]; name [grade_id or cell id]; source [text, or inert HTML for
    written answers]; outputs; added [the learner put this cell in].
    """

    kind: str
    name: str
    source: str
    outputs: tuple[Shown, ...] = ()
    added: bool = False


def read_notebook(path: Path | None) -> list[dict[str, Any]]:
    """Read a graded notebook's cells as plain data; empty when there is nothing readable."""
    try:
        if path is None or path.stat().st_size > LARGEST_NOTEBOOK_BYTES:
            return []
        cells = json.loads(path.read_text(encoding="utf-8")).get("cells", [])
    except (OSError, ValueError, AttributeError, RecursionError):
        return []
    return [cell for cell in cells if isinstance(cell, dict)] if isinstance(cells, list) else []


def work_by_question(cells: Iterable[dict[str, Any]], graded: Iterable[str],
                     ) -> dict[str, tuple[Work, ...]]:
    """Sort the learner's cells: each belongs to the next graded cell after it.

    graded [grade_ids in question order]; cells after the last one belong to "".
    """
    wanted = set(graded)
    sorted_work: dict[str, list[Work]] = {}
    waiting: list[Work] = []
    for cell in cells:
        name, role = _name_and_role(cell)
        if role in _OWN and (work := _work(cell, name, role)):
            waiting.append(work)
        if name in wanted:
            sorted_work.setdefault(name, []).extend(waiting)
            waiting = []
    sorted_work[""] = waiting
    return {name: tuple(work) for name, work in sorted_work.items()}


def without_echo(work: Iterable[Work], questions: Iterable[str]) -> tuple[Work, ...]:
    """Leave out the lines in which the worksheet only repeats an answer, shown elsewhere.

    A tick beside "recorded" would also look like praise under an answer that is not right.
    """
    names = "|".join(re.escape(name) for name in questions)
    echo = re.compile(rf"^[✓·] (?:{names}): (?:recorded as|not answered yet)\b.*\n?", re.M)
    shown = []
    for item in work:
        outputs = [replace(out, text=echo.sub("", out.text).rstrip()) if out.kind == "text"
                   else out for out in item.outputs]
        shown.append(replace(item, outputs=tuple(out for out in outputs if out.text)))
    return tuple(shown)


def case_text(cells: Iterable[dict[str, Any]]) -> str:
    """The learner's own numbers, as her notebook showed them when it was run; may be empty."""
    for cell in cells:
        if _name_and_role(cell)[1] == "setup":
            for output in cell.get("outputs") or []:
                shown = _output(output)
                if shown and shown.kind == "text" and shown.text.startswith("Case of "):
                    return _CODE_NAME.sub("", shown.text)
    return ""


def _name_and_role(cell: dict[str, Any]) -> tuple[str, str]:
    metadata = cell.get("metadata")
    metadata = metadata if isinstance(metadata, dict) else {}
    grader, own = metadata.get("nbgrader"), metadata.get("coldbench")
    grader = grader if isinstance(grader, dict) else {}
    role = str(own.get("role", "")) if isinstance(own, dict) else ""
    name = str(grader.get("grade_id") or cell.get("id") or "")
    if grader.get("solution"):
        role = "written" if grader.get("grade") else "learner" if name == "learner" else "answer"
    elif grader.get("grade"):
        role = "check"
    return name, role


def _work(cell: dict[str, Any], name: str, role: str) -> Work | None:
    source = cell.get("source", "")
    source = "".join(source) if isinstance(source, list) else str(source)
    if role == "learner" or not source.strip():
        return None
    if cell.get("cell_type") == "code":
        outputs = tuple(_outputs(cell.get("outputs")))
        return Work("code", name, visible(source, 4 * LONGEST_TEXT).rstrip(), outputs,
                    role == "extra")
    return Work("written", name, safe_markdown(source), (), role == "extra")


def _outputs(raw: Any) -> Iterable[Shown]:
    raw = raw if isinstance(raw, list) else []
    shown = [item for item in map(_output, raw) if item]
    yield from shown[:MOST_OUTPUTS]
    if len(shown) > MOST_OUTPUTS:
        yield Shown("note", f"{len(shown) - MOST_OUTPUTS} more outputs are not shown.")


def _output(raw: Any) -> Shown | None:
    if not isinstance(raw, dict):
        return None
    if raw.get("output_type") == "error":
        return Shown("error", one_line(f"{raw.get('ename', '')}: {raw.get('evalue', '')}"))
    if raw.get("output_type") == "stream":
        return _text(raw.get("text"))
    data = raw.get("data")
    if not isinstance(data, dict):
        return None
    if picture := safe_picture(data.get("image/png")):
        return Shown("picture", picture)
    if "text/plain" in data:
        return _text(data["text/plain"])
    return Shown("note", "An output of a kind that is not shown here.") if data else None


def _text(raw: Any) -> Shown | None:
    text = visible("".join(map(str, raw)) if isinstance(raw, list) else raw or "").rstrip()
    return Shown("text", text) if text else None
