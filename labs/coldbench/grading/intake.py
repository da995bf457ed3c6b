"""Reading a submitted notebook: whatever it holds, either a notebook or a sentence why not.

A submission is data from a stranger. Nothing in it is trusted, and no damage in it may stop
the class; what can be mended is mended and said.
"""

import codecs
import json
import re
from dataclasses import dataclass, field
from typing import Any

from coldbench.grading.lab import LEARNER_CELL
from coldbench.grading.limits import Limits

MOST_CELLS = 3_000
MOST_DAMAGES = 50
_BYTE_ORDER_MARKS = {  # the longer ones first: UTF-32's begins like UTF-16's
    codecs.BOM_UTF32_LE: "utf-32", codecs.BOM_UTF32_BE: "utf-32",
    codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16",
}
_PADDING = re.compile(r"[ \t\r\n,]*")
# A cell's first key in a file that Jupyter saved; in a cell's own text its quotes are escaped.
_CELL_START = re.compile(r'\{\s*"(?:attachments|cell_type)"\s*:')
_LAB = re.compile(r"\bWorksheet\.open\(\s*(['\"])([a-z0-9-]{1,64})\1")
_CLAIM = re.compile(r"^LEARNER\s*=\s*(['\"])(.{0,64}?)\1", re.MULTILINE)


@dataclass
class Submission:
    """The cells of a submitted notebook, as far as they could be read.

    cells [plain: type, source, grade_id]; repairs [sentences for learner and instructor].
    """

    cells: list[dict[str, str]] = field(default_factory=list)
    repairs: list[str] = field(default_factory=list)


def read_submission(data: bytes | None, limits: Limits) -> Submission:
    """Read a submitted notebook's bytes; never raises, the sentences say what was wrong."""
    if data is None:
        return Submission(repairs=["No notebook was handed in for this lab."])
    if len(data) > limits.notebook_MB * 1e6:
        return Submission(repairs=[
            f"The notebook is larger than the {limits.notebook_MB:g} MB that are read. "
            "Clear its outputs, save it and hand it in again."])
    text, repairs = _text_of(data)
    try:
        found = _cells_of(json.loads(text))
    except (ValueError, RecursionError):
        found = _salvage(text)
    found.repairs[:0] = repairs
    return found


def claimed_learner(notebook: Submission) -> str:
    """The id that a notebook's own first cell names, as far as it can be read; else empty."""
    for cell in notebook.cells:
        if cell["grade_id"] == LEARNER_CELL and (found := _CLAIM.search(cell["source"])):
            return found[2].strip()
    return ""


def claimed_lab(notebook: Submission) -> str:
    """The lab that a notebook's set-up opens, as far as it can be read; else empty."""
    for cell in notebook.cells:
        if cell["type"] == "code" and (found := _LAB.search(cell["source"])):
            return found[2]
    return ""


def _text_of(data: bytes) -> tuple[str, list[str]]:
    """Decode a notebook's bytes; says what was not UTF-8 as notebooks are."""
    for mark, encoding in _BYTE_ORDER_MARKS.items():
        if data.startswith(mark):
            return (data.decode(encoding, "replace"),
                    [f"The file was saved as {encoding.upper()}; it was read as that."])
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        text = data.decode("utf-8-sig", "replace")
        count = text.count("\ufffd")
        were = "was" if count == 1 else "were"
        return text, [f"The file is not UTF-8 text all through: {count} of its characters {were} "
                      "read as \ufffd, so look whether an answer was hurt."]


def _salvage(text: str) -> Submission:
    """Take the whole cells out of a notebook that is damaged somewhere.

    After a place that cannot be read, reading goes on at the next beginning of a cell.
    """
    if not text.strip():
        return Submission(repairs=["The file is empty."])
    start = text.find('"cells"')
    start = text.find("[", start) + 1 if start >= 0 else 0
    if not start:
        return Submission(repairs=["The file is not a notebook: it is not valid JSON."])
    decoder, cells, place, damages = json.JSONDecoder(), [], start, 0
    while len(cells) <= MOST_CELLS:
        place = _PADDING.match(text, place).end()  # type: ignore[union-attr]
        try:
            cell, place = decoder.raw_decode(text, place)
            cells.append(cell)
        except (ValueError, RecursionError):
            following = _CELL_START.search(text, place + 1)
            damages += 1
            if following is None or damages > MOST_DAMAGES or text[place:place + 1] == "]":
                break
            place = following.start()
    found = _cells_of({"nbformat": 4, "cells": cells})
    found.repairs.insert(0, f"The file is damaged or breaks off in the middle; {len(cells)} "
                            "whole cells of it could be read.")
    return found


def _cells_of(tree: Any) -> Submission:
    if not isinstance(tree, dict):
        return Submission(repairs=["The file is JSON, but not a notebook."])
    found = Submission()
    cells = tree.get("cells")
    if cells is None and isinstance(tree.get("worksheets"), list):
        found.repairs.append("The notebook is of an old format (3); its cells were taken over.")
        cells = [cell for sheet in tree["worksheets"] if isinstance(sheet, dict)
                 for cell in sheet.get("cells") or []]
    if not isinstance(cells, list):
        found.repairs.append("The file is JSON, but holds no list of cells.")
        return found
    if len(cells) > MOST_CELLS:
        found.repairs.append(f"The notebook holds {len(cells):,} cells; only the first "
                             f"{MOST_CELLS:,} were read.")
    bad = 0
    for cell in cells[:MOST_CELLS]:
        plain = _plain_cell(cell)
        bad += plain is None
        found.cells += [plain] if plain else []
    if bad:
        found.repairs.append(f"{bad} damaged cells were left out.")
    if not found.cells:
        found.repairs.append("The notebook holds no cells.")
    return found


def _plain_cell(cell: Any) -> dict[str, str] | None:
    if not isinstance(cell, dict):
        return None
    source = cell.get("source", cell.get("input", ""))
    if isinstance(source, list) and all(isinstance(line, str) for line in source):
        source = "".join(source)
    if not isinstance(source, str):
        return None
    metadata = cell.get("metadata")
    grader = metadata.get("nbgrader") if isinstance(metadata, dict) else None
    grade_id = grader.get("grade_id") if isinstance(grader, dict) else None
    kind = cell.get("cell_type")
    return {"type": kind if kind in ("code", "markdown", "raw") else "raw",
            # Lone surrogates cannot be written to a file or shown.
            "source": source.encode("utf-8", "replace").decode("utf-8"),
            "grade_id": grade_id if isinstance(grade_id, str) else ""}
