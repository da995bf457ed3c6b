"""The gate a lab passes before it is released.

For several learners: the reference answers earn every point, an untouched notebook earns none
and runs to its end without an error, and each seeded mistake is called by its name.
"""

import importlib.util
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.job import Graded, Job, grade
from coldbench.grading.lab import Lab, grade_id_of
from coldbench.grading.lab_worker import warm_parent
from coldbench.grading.limits import Limits
from coldbench.grading.marking import MarkingProcess
from coldbench.grading.release import check_companions
from coldbench.worksheet.cases import PRACTICE

SOLUTION_MARKS = ("### BEGIN SOLUTION", "### END SOLUTION")
GATE_LEARNERS = (PRACTICE, "gate-01", "gate-02")
REFERENCE = "__reference__.py"


@dataclass(frozen=True)
class Seeded:
    """A seeded mistake: code for one answer cell and the mark it must get."""

    answer: str
    question: str
    name: str
    status: str
    code: str


def seeded_mistakes(lab: Lab, learner: str = PRACTICE) -> list[Seeded]:
    """Read `mistakes.toml` for a learner; raises InputError with file, key and reason."""
    path = lab.folder / "mistakes.toml"
    if not path.is_file():
        return []
    try:
        rows = tomllib.loads(path.read_text(encoding="utf-8-sig")).get("mistake", [])
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{lab.name}/mistakes.toml: {error}") from None
    if not isinstance(rows, list):
        raise InputError(f"{lab.name}/mistakes.toml: mistake: must be tables, [[mistake]]")
    answers, known = reference_answers(lab), desk_names(lab, learner)
    return [replace(one, code=with_names(one.code, known)) for one in
            (_seeded(lab, index, row, answers) for index, row in enumerate(rows, start=1))]


def _seeded(lab: Lab, index: int, row: dict[str, str], answers: dict[str, str]) -> Seeded:
    where = f"{lab.name}/mistakes.toml: mistake {index}"
    keys = [item.name for item in fields(Seeded)]
    if set(row) != set(keys) or not all(isinstance(text, str) for text in row.values()):
        raise InputError(f"{where}: wanted are the texts {', '.join(keys)}")
    if row["answer"] not in answers:
        raise InputError(f"{where}: answer: {row['answer']!r} is not an answer cell; "
                         f"there are {', '.join(answers)}")
    return Seeded(**row)


def submission_bytes(lab: Lab, changes: dict[str, str]) -> bytes:
    """A submission as bytes: the release with some answer cells changed [grade_id → source]."""
    import copy
    import json

    notebook = copy.deepcopy(lab.released)
    for cell in notebook.cells:
        cell.source = changes.get(grade_id_of(cell), cell.source)
    return json.dumps(notebook).encode()


def reference_answers(lab: Lab, learner: str = PRACTICE) -> dict[str, str]:
    """The instructor's answer cells, without the marks around solutions [grade_id → source].

    Where the lab knows more of a learner's work than the learner may, see `desk_names`.
    """
    known = desk_names(lab, learner)
    return {grade_id_of(cell): with_names(_unmarked(cell.source), known)
            for cell in lab.cells("answer")}


def desk_names(lab: Lab, learner: str) -> dict[str, Any]:
    """What only the desk knows of a learner's work, as names for reference answers and mistakes.

    A lab with sealed benches has `__reference__.py` with a function names(folder, course,
    learner) → {name: plain value}; nothing for other labs. Raises InputError when it fails.
    """
    path = lab.folder / REFERENCE
    if not path.is_file():
        return {}
    spec = importlib.util.spec_from_file_location(f"coldbench_reference_{lab.folder.name}", path)
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
        return module.names(lab.folder, lab.course_code, learner)
    except Exception as error:  # the lab's own code can raise anything
        raise InputError(f"{lab.name}/{REFERENCE}: {type(error).__name__}: {error}") from error


def with_names(source: str, known: dict[str, Any]) -> str:
    """Put those of the desk's names that a cell uses in front of it.

    >>> with_names("print(PART)", {"PART": "K1", "MODE": "open"})
    "PART = 'K1'\\nprint(PART)"
    """
    used = [f"{name} = {value!r}" for name, value in known.items()
            if re.search(rf"\b{name}\b", source)]
    return "\n".join([*used, source])


def _unmarked(source: str) -> str:
    lines = source.splitlines()
    return "\n".join(line for line in lines if line.strip() not in SOLUTION_MARKS)


def pass_gate(lab: Lab, level: str, limits: Limits = Limits()) -> list[str]:  # noqa: B008
    """Put a lab through its gate; returns sentences of what was checked, raises InputError."""
    check_companions(lab.companions())
    groups = list(_groups(seeded_mistakes(lab, "gate-02")))
    with MarkingProcess(lab) as marking, warm_parent(lab, level, limits) as parent:
        def graded(learner: str, changes: dict[str, str]) -> Graded:
            job = Job(learner, submission_bytes(lab, changes))
            return grade(lab, job, level, limits, marking, parent)

        for learner in GATE_LEARNERS:
            reference = reference_answers(lab, learner)
            _require_full(lab, learner, graded(learner, reference))
        _require_nothing(lab, graded("gate-01", {}))
        for group in groups:
            changes = {**reference, **{seed.answer: seed.code for seed in group}}
            _require_named(lab, group, graded("gate-02", changes))
    return [f"reference answers earn every point for {len(GATE_LEARNERS)} learners",
            "an untouched notebook runs to its end and earns nothing",
            f"{sum(map(len, groups))} seeded mistakes are called by their names"]


def _require_full(lab: Lab, learner: str, graded: Graded) -> None:
    for cell in graded.record.cells:
        if cell.kind == "checked" and (cell.score != cell.points or cell.trouble):
            why = cell.trouble or "; ".join(f"{m.question}: {m.reason} (answer {m.answer}, "
                                            f"key {m.key})" for m in cell.marks)
            state = [s for s in graded.record.run.values() if s != "ok"]
            raise InputError(f"{lab.name}: the reference answer of {cell.grade_id!r} earns "
                             f"{cell.score:g} of {cell.points:g} for {learner!r}: {why} {state}")


def _require_nothing(lab: Lab, graded: Graded) -> None:
    record = graded.record
    if failed := {k: v for k, v in record.run.items() if v != "ok"}:
        raise InputError(f"{lab.name}: an untouched notebook does not run to its end: {failed}")
    if record.score:
        earning = [cell.grade_id for cell in record.cells if cell.score]
        raise InputError(f"{lab.name}: an untouched notebook earns points in {earning}")


def _groups(seeds: list[Seeded]) -> Iterator[list[Seeded]]:
    """Group seeded mistakes so that no two of a group change the same cell."""
    left = list(seeds)
    while left:
        group: dict[str, Seeded] = {}
        for seed in left:
            group.setdefault(seed.answer, seed)
        left = [seed for seed in left if group[seed.answer] is not seed]
        yield list(group.values())


def _require_named(lab: Lab, group: list[Seeded], graded: Graded) -> None:
    marks = {mark.question: mark for cell in graded.record.cells for mark in cell.marks}
    for seed in group:
        mark = marks.get(seed.question)
        if mark is None:
            raise InputError(f"{lab.name}/mistakes.toml: no check marks {seed.question!r}")
        if (mark.mistake, mark.status) != (seed.name, seed.status):
            raise InputError(
                f"{lab.name}/mistakes.toml: {seed.question!r}: expected {seed.name!r} "
                f"({seed.status}), marking said {mark.mistake!r} ({mark.status}): {mark.reason} "
                f"(answer {mark.answer}, key {mark.key})")
