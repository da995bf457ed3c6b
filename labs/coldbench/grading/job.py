"""Grading one submission: bytes in, a graded notebook and a record out. No database here."""

import hashlib
import json
import time
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from threading import Event

from nbformat.notebooknode import NotebookNode
from nbformat.v4 import new_markdown_cell

from coldbench.grading.intake import read_submission
from coldbench.grading.lab import Lab, grade_id_of, role_of
from coldbench.grading.limits import Limits
from coldbench.grading.outputs import plain_output
from coldbench.grading.marking import MarkingProcess, MarkingStopped
from coldbench.grading.rebuild import rebuild, runnable
from coldbench.grading.record import CellResult, Record
from coldbench.grading.run import Run, run_cells
from coldbench.grading.warm import WarmParent
from coldbench.worksheet.cases import PRACTICE

RUBRIC = "rubric"
_SIGN = {"right": "✓", "partly": "◐", "wrong": "✗", "missing": "–", "malformed": "?"}


@dataclass(frozen=True)
class Job:
    """One submission to grade.

    learner [id the folder names]; data [the notebook's bytes, None: nothing handed in];
    files [(name, bytes) beside it]; submitted_at [ISO time or ""]; late_seconds;
    notes [sentences on what of the folder was left out].
    """

    learner: str
    data: bytes | None
    files: tuple[tuple[str, bytes], ...] = ()
    submitted_at: str = ""
    late_seconds: float = 0.0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Graded:
    """What grading made of a job."""

    notebook: NotebookNode
    record: Record


def job_key(lab: Lab, job: Job, limits: Limits, level: str) -> str:
    """Hash of all that decides a job's marks: the same key means the same marks."""
    digest = hashlib.sha256(lab.fingerprint.encode())
    digest.update(json.dumps([job.learner, level, asdict(limits), job.submitted_at,
                              job.late_seconds, job.notes,
                              None if job.data is None else len(job.data)]).encode())
    digest.update(job.data or b"")
    for name, data in job.files:
        digest.update(f"\0{name}\0{len(data)}\0".encode() + data)
    return digest.hexdigest()


def grade(lab: Lab, job: Job, level: str, limits: Limits, marking: MarkingProcess,
          parent: WarmParent | None = None, halt: Event | None = None) -> Graded:
    """Grade one submission: rebuild, run apart, mark in trust, put together.

    parent [a pre-warmed one for the run; without it Python is started anew]; halt [once it is
    set, the run is broken off with an InputError].
    """
    started = time.monotonic()
    submission = read_submission(job.data, limits)
    notebook, repairs = rebuild(lab, submission)
    cells = runnable(notebook)
    course_root = lab.folder.parents[1]
    run = (run_cells(cells, job.learner, files_for(lab, job), level, limits, [course_root],
                     lab.record_sizes, parent, halt)
           if submission.cells else Run(states={}))
    key = job_key(lab, job, limits, level)
    try:
        results = marking.mark(job.learner, run.records, limits.marking_seconds)
    except MarkingStopped as stop:
        key, results = "", not_marked(lab, str(stop))  # without a key it is graded again
    write_outputs(notebook, run, results)
    record = Record(
        lab=lab.name, learner=job.learner, key=key,
        cells=tuple(_all_results(lab, notebook, results)),
        repairs=(*job.notes, *submission.repairs, *repairs), notices=_notices(job, run),
        run=_states_by_grade_id(cells, run), sandbox=level, submitted_at=job.submitted_at,
        late_seconds=job.late_seconds, seconds=round(time.monotonic() - started, 3))
    return Graded(with_rubrics(lab, notebook), record)


def with_rubrics(lab: Lab, notebook: NotebookNode) -> NotebookNode:
    """Put each written answer's rubric under it, for whoever marks by hand."""
    cells = []
    for cell in notebook.cells:
        cells.append(cell)
        rubric = lab.rubrics.get(grade_id_of(cell))
        if rubric:
            cells.append(new_markdown_cell(
                f"**Rubric (for the teacher)**\n\n{rubric}", id=f"rubric-{cell['id']}"[:64],
                metadata={"coldbench": {"role": RUBRIC}}))
    notebook.cells = cells
    return notebook


def ungraded(lab: Lab, job: Job, level: str, limits: Limits, reason: str) -> Graded:
    """Stand in for a submission that could not be graded: no marks, the reason, a hand needed."""
    try:
        notebook, _ = rebuild(lab, read_submission(job.data, limits))
    except Exception:  # rebuilding may be what failed
        notebook, _ = rebuild(lab, read_submission(None, limits))
    results = not_marked(lab, reason)
    write_outputs(notebook, Run(), results)
    notice = "This submission could not be graded by the program; it needs a hand."
    record = Record(lab.name, job.learner, "", tuple(_all_results(lab, notebook, results)),
                    repairs=job.notes, notices=(notice,), sandbox=level,
                    submitted_at=job.submitted_at, late_seconds=job.late_seconds)
    return Graded(with_rubrics(lab, notebook), record)


def not_marked(lab: Lab, reason: str) -> dict[str, CellResult]:
    """Results of check cells that could not be marked [reason: a sentence, for the teacher]."""
    return {grade_id_of(cell): CellResult(
        grade_id_of(cell), grade_id_of(cell), "checked", float(cell.metadata.nbgrader.points),
        0.0, (), reason) for cell in lab.cells("check")}


def files_for(lab: Lab, job: Job) -> list[tuple[str, bytes]]:
    """The submission's files, with the lab's own files laid over them."""
    own = {path.relative_to(lab.folder).as_posix(): path.read_bytes()
           for path in lab.companions()}
    own["lab.toml"] = released_manifest(lab)
    hers = {name: data for name, data in job.files if not _in_the_way(name, own)}
    return list({**hers, **own}.items())


def _in_the_way(name: str, own: Iterable[str]) -> bool:
    """Say whether a file would be a folder of the lab's, or a folder one of its files."""
    return any(name.startswith(f"{path}/") or path.startswith(f"{name}/") for path in own)


def released_manifest(lab: Lab) -> bytes:
    """The lab's `lab.toml` as learners get it: with its name and the course code written in."""
    text = (lab.folder / "lab.toml").read_text(encoding="utf-8-sig")
    names = {"lab": lab.name, "course": lab.course_code}
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in names.items()]
    return "".join([*lines, text]).encode()


def _notices(job: Job, run: Run) -> tuple[str, ...]:
    notices = list(run.notices)
    for claim in dict.fromkeys(run.claims):
        if claim not in (job.learner, PRACTICE):
            notices.append(f"The notebook says it belongs to {claim!r}; "
                           f"it was marked with the case of {job.learner!r}.")
    return tuple(notices)


def _states_by_grade_id(cells: list[dict[str, str]], run: Run) -> dict[str, str]:
    return {cell["grade_id"]: run.states[cell["id"]] for cell in cells if cell["id"] in run.states}


def _all_results(lab: Lab, notebook: NotebookNode, results: dict[str, CellResult],
                 ) -> list[CellResult]:
    found = []
    for cell in notebook.cells:
        if role_of(cell) == "check":
            found.append(results[grade_id_of(cell)])
        elif role_of(cell) == "written":
            found.append(_written(lab, cell))
    return found


def _written(lab: Lab, cell: NotebookNode) -> CellResult:
    """A written answer: 0 when the cell was left as released, else for a hand to mark."""
    released = next(c for c in lab.released.cells if grade_id_of(c) == grade_id_of(cell))
    blank = not cell.source.strip() or cell.source == released.source
    title = cell.metadata.get("coldbench", {}).get("title") or grade_id_of(cell).replace("-", " ")
    return CellResult(grade_id_of(cell), title, "written",
                      float(cell.metadata.nbgrader.points), 0.0 if blank else None)


def write_outputs(notebook: NotebookNode, run: Run, results: dict[str, CellResult]) -> None:
    """Put run outputs into learner cells, and score and reasons into check cells."""
    for cell in notebook.cells:
        if cell.cell_type != "code":
            continue
        cell.execution_count = None
        if role_of(cell) == "check":
            cell.outputs = mark_outputs(results[grade_id_of(cell)])
        else:
            cell.outputs = list(run.outputs.get(cell["id"], []))
            state = run.states.get(cell["id"], "ok")
            if not state.startswith(("ok", "error")):
                cell.outputs.append(plain_output("stream", name="stdout", text=f"[{state}]"))


def mark_outputs(result: CellResult) -> list[NotebookNode]:
    """Write a check cell's result in the form nbgrader reads: reasons, then the score."""
    lines = [f"{_SIGN.get(mark.status, '·')} {mark.question}: {mark.reason}"
             for mark in result.marks]
    if result.trouble:
        # Why stands in the record only: the text of an error could show what is hidden.
        lines.append("This question could not be checked and needs a hand.")
    score = 0.0 if result.score is None else result.score
    return [plain_output("stream", name="stdout", text="\n".join(lines) + "\n"),
            plain_output("execute_result", data={"text/plain": f"{score:.10g}"}, execution_count=1)]
