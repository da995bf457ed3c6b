"""What an invented learner hands in: reference work spoilt the way learners spoil it."""

import copy
import json
import random
import re
from dataclasses import dataclass
from typing import Any

from coldbench.grading.gate import Seeded, reference_answers, seeded_mistakes
from coldbench.grading.lab import Lab, grade_id_of, role_of
from coldbench.grading.limits import Limits
from coldbench.grading.rebuild import runnable
from coldbench.grading.run import run_cells
from coldbench.grading.warm import WarmParent
from coldbench.worksheet.kinds import JournalQuestion

_EDITED = re.compile(r'("reading": )(-?[\d.]+)')
_QUESTION = re.compile(r"sheet\.answer\(\s*(['\"])(.+?)\1")
GOOD = ("The gauge shows pressure above the air around it, so I added the local atmosphere first. "
        "Then I read the temperature from the chart and compared it with the pipe thermometer. "
        "The difference told me how far the vapour is above boiling.")
THIN = "because the pressure is low"


@dataclass(frozen=True)
class Habit:
    """How one invented learner works; see demo_class.toml."""

    id: str
    mistakes: int
    answered: float
    written: str
    typed: bool = False
    late_hours: float = 0.0
    special: str = ""
    journal: str = ""


def journal_handed_in(lab: Lab, habit: Habit, notebook: bytes, level: str,
                      parent: WarmParent | None = None) -> bytes | None:
    """Make the journal file that lies beside an invented learner's notebook.

    It holds what her cells measure. None: the lab has no journal, she measured nothing, or left
    the file behind.
    """
    wanted = [name for name, question in lab.manifest.questions.items()
              if isinstance(question, JournalQuestion)]
    if not wanted or habit.journal == "left behind":
        return None
    learner = neighbour(habit.id) if habit.journal == "neighbour's" else habit.id
    value = _run(lab, learner, notebook, level, parent).get(wanted[0], {}).get("value")
    lines = value.get("journal", []) if isinstance(value, dict) else []
    if habit.journal == "edited" and len(lines) > 1:
        lines[-1] = _EDITED.sub(lambda found: f"{found[1]}{float(found[2]) + 0.7:.2f}", lines[-1])
    return "".join(f"{line}\n" for line in lines).encode() or None


def neighbour(learner: str) -> str:
    """The learner one number lower.

    >>> neighbour("ml-08")
    'ml-07'
    """
    return f"{learner[:-2]}{int(learner[-2:]) - 1:02d}"


def handed_in(lab: Lab, habit: Habit, level: str,
              parent: WarmParent | None = None) -> bytes:
    """Make the notebook an invented learner hands in."""
    dice = random.Random(f"{lab.name} {habit.id}")
    cells = _answer_cells(lab, habit, level, dice, parent)
    notebook = copy.deepcopy(lab.released)
    for cell in notebook.cells:
        cell.source = cells.get(grade_id_of(cell), cell.source)
        if role_of(cell) == "written" and habit.written:
            cell.source = _written(lab, grade_id_of(cell), habit.written)
    if habit.special == "deleted a cell":
        middle = list(cells)[len(cells) // 2]
        notebook.cells = [c for c in notebook.cells if grade_id_of(c) != middle]
    data = json.dumps(notebook, ensure_ascii=False).encode()
    return data[: int(len(data) * 0.7)] if habit.special == "broken file" else data


def _answer_cells(lab: Lab, habit: Habit, level: str, dice: random.Random,
                  parent: WarmParent | None) -> dict[str, str]:
    reference = reference_answers(lab, habit.id)
    if habit.special == "neighbour's numbers":
        work = typed_answers(lab, neighbour(habit.id), level, parent)
    elif habit.typed:
        work = typed_answers(lab, habit.id, level, parent)
    else:
        work = dict(reference)
    work.update({seed.answer: seed.code for seed in _chosen_mistakes(lab, habit, dice)})
    done = round(len(reference) * habit.answered)
    cells = {name: work[name] for name in list(reference)[:done]}
    claimed = "ml-01" if habit.special == "wrong id" else habit.id
    cells["learner"] = f'LEARNER = "{claimed}"'
    spoilt = list(cells)[min(3, done)] if done else ""
    if habit.special == "exception":
        cells[spoilt] = "pressure = reading_of_gauge + 101\n" + cells[spoilt]
    if habit.special == "endless loop":
        cells[spoilt] = "pressure = 0\nwhile pressure < 300:\n    presure = pressure + 1\n"
    return cells


def _chosen_mistakes(lab: Lab, habit: Habit, dice: random.Random) -> list[Seeded]:
    seeds = seeded_mistakes(lab, habit.id)
    dice.shuffle(seeds)
    chosen: dict[str, Seeded] = {}
    for seed in seeds:
        if len(chosen) < habit.mistakes:
            chosen.setdefault(seed.answer, seed)
    return list(chosen.values())


def typed_answers(lab: Lab, learner: str, level: str,
                  parent: WarmParent | None = None) -> dict[str, str]:
    """The reference answers for a learner's case as typed-in, rounded values, cell by cell."""
    from coldbench.grading.gate import submission_bytes

    reference = reference_answers(lab, learner)
    records = _run(lab, learner, submission_bytes(lab, reference), level, parent)
    return {name: _typed_cell(source, records) for name, source in reference.items()}


def _run(lab: Lab, learner: str, data: bytes, level: str,
         parent: WarmParent | None) -> dict[str, dict[str, Any]]:
    """Records of a notebook's answers, run as when it is graded."""
    from coldbench.grading.intake import read_submission
    from coldbench.grading.job import Job, files_for
    from coldbench.grading.rebuild import rebuild

    limits = Limits(cell_seconds=5.0)
    notebook, _ = rebuild(lab, read_submission(data, limits))
    run = run_cells(runnable(notebook), learner, files_for(lab, Job(learner, data)), level, limits,
                    sizes=lab.record_sizes, parent=parent)
    return run.records


def _typed_cell(source: str, records: dict[str, dict[str, Any]]) -> str:
    if "sheet.answer_journal(" in source or ".measure(" in source:  # measured, not typed
        return source
    lines = []
    for _, question in _QUESTION.findall(source):
        if record := records.get(question):
            unit = f", {record['unit']!r}" if record["unit"] is not None else ""
            lines.append(f"sheet.answer({question!r}, {_rounded(record['value'])!r}{unit})")
    return "\n".join(lines) or source


def _rounded(value: Any) -> Any:
    """Round numbers as somebody does who reads them from a scale."""
    if isinstance(value, float):
        return round(value, 1) if abs(value) < 100 else round(value)
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    return value


def _written(lab: Lab, grade_id: str, quality: str) -> str:
    import tomllib

    path = lab.folder / "mistakes.toml"
    rows = tomllib.loads(path.read_text("utf-8-sig")).get("written", []) if path.is_file() else []
    for row in rows:
        if row.get("cell") == grade_id and row.get("quality") == quality:
            return row["text"].strip()
    return GOOD if quality == "good" else THIN
