"""Rebuilding: the instructor's notebook with only the learner's own cells put in.

Cell tags, metadata, order and locked cells of a submission do not count. Answer cells are
found by `grade_id`; cells the learner added keep their place after the cell they followed,
because her answers may use what they define.
"""

import copy

from nbformat.notebooknode import NotebookNode
from nbformat.v4 import new_code_cell, new_markdown_cell

from coldbench.grading.intake import Submission, claimed_lab
from coldbench.grading.lab import Lab, grade_id_of, role_of

LEARNERS_OWN = ("learner", "answer", "written")
MOST_EXTRA_CELLS = 300
MOST_REPAIRS = 30


def rebuild(lab: Lab, submission: Submission) -> tuple[NotebookNode, list[str]]:
    """Rebuild a notebook from the lab and a submission; returns it and the repairs made.

    The notebook has the released cells in the released order, the learner's answers in their
    places, and her extra cells marked `coldbench: {role: extra}`. Nothing is taken from the
    notebook of another lab.
    """
    notebook = copy.deepcopy(lab.released)
    if other := other_lab(lab, submission):
        return notebook, [f"This is the notebook of another lab, {other}: nothing of it was taken. "
                          f"Hand in the one of {lab.name}."]
    known = {grade_id_of(cell): cell for cell in notebook.cells}
    repairs: list[str] = []
    seen, extras = _sort_cells(submission, known, repairs)
    if submission.cells:
        repairs += [_put_back(cell) for grade_id, cell in known.items()
                    if grade_id not in seen and role_of(cell) != "text"]
    notebook.cells = _with_extras(notebook.cells, extras)
    return notebook, _few(repairs)


def other_lab(lab: Lab, submission: Submission) -> str:
    """The lab whose notebook was handed in instead of this lab's; empty if it is this lab's.

    Its set-up opens that lab, and it lacks most answer cells of this one; ids such as "order"
    stand in several labs.
    """
    opened = claimed_lab(submission)
    own = {grade_id_of(cell) for cell in lab.released.cells
           if role_of(cell) in ("answer", "written")}
    there = {cell["grade_id"] for cell in submission.cells}
    return opened if opened != lab.name and 2 * len(own & there) < len(own) else ""


def _put_back(cell: NotebookNode) -> str:
    if role_of(cell) in LEARNERS_OWN:
        return f"Cell {grade_id_of(cell)!r} was missing; an empty one was put back."
    return f"The locked cell {grade_id_of(cell)!r} was missing; it was put back."


def _few(sentences: list[str]) -> list[str]:
    """Each sentence once, and not more than a reader wants."""
    kept = list(dict.fromkeys(sentences))
    if len(kept) > MOST_REPAIRS:
        more = len(kept) - MOST_REPAIRS
        kept = [*kept[:MOST_REPAIRS], f"{more} more repairs were made."]
    return kept


def _sort_cells(submission: Submission, known: dict[str, NotebookNode], repairs: list[str],
                ) -> tuple[set[str], dict[str, list[NotebookNode]]]:
    seen: set[str] = set()
    extras: dict[str, list[NotebookNode]] = {}
    place, count = "", 0
    for cell in submission.cells:
        grade_id = cell["grade_id"]
        if grade_id in known and grade_id not in seen:
            seen.add(grade_id)
            place = grade_id
            _take_over(known[grade_id], cell, repairs)
            continue
        if grade_id in known and role_of(known[grade_id]) not in LEARNERS_OWN:
            repairs.append(f"A copy of the locked cell {grade_id!r} was left out.")
            continue
        if grade_id in known:
            repairs.append(f"Cell {grade_id!r} stood twice; the copy was run as an added cell.")
        count += 1
        if count <= MOST_EXTRA_CELLS and cell["source"].strip():
            extras.setdefault(place, []).append(_extra(cell, count))
    if count > MOST_EXTRA_CELLS:
        repairs.append(f"Only the first {MOST_EXTRA_CELLS} added cells were kept.")
    return seen, extras


def _take_over(target: NotebookNode, cell: dict[str, str], repairs: list[str]) -> None:
    grade_id = grade_id_of(target)
    if role_of(target) in LEARNERS_OWN:
        target.source = cell["source"]
        if cell["type"] != target.cell_type:
            repairs.append(f"Cell {grade_id!r} had been turned into another type of cell; "
                           "it was turned back.")
    elif target.cell_type == "code" and _words(cell["source"]) != _words(target.source):
        repairs.append(f"The locked cell {grade_id!r} had been changed; "
                       "the instructor's version was used.")


def _words(source: str) -> list[str]:
    return source.split()


def _extra(cell: dict[str, str], number: int) -> NotebookNode:
    make = new_code_cell if cell["type"] == "code" else new_markdown_cell
    return make(cell["source"], id=f"extra-{number:03d}",
                metadata={"coldbench": {"role": "extra"}})


def _with_extras(cells: list[NotebookNode], extras: dict[str, list[NotebookNode]],
                 ) -> list[NotebookNode]:
    placed = list(extras.get("", []))
    for cell in cells:
        placed.append(cell)
        placed += extras.get(grade_id_of(cell), [])
    return placed


def runnable(notebook: NotebookNode) -> list[dict[str, str]]:
    """List the code cells a learner's process runs: set-up, her own, and added ones."""
    wanted = ("setup", "learner", "answer", "extra", "written")
    return [{"id": cell["id"], "grade_id": grade_id_of(cell) or cell["id"],
             "source": cell.source}
            for cell in notebook.cells if cell.cell_type == "code" and role_of(cell) in wanted]
