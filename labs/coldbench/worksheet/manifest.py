"""`lab.toml`: what a lab is called, what it is for, and the form of each answer.

The file travels with the student's notebook, so it states the form of an answer (a
temperature, one of four choices), never its key. `read_manifest` checks it and names the
file, the key and the reason when something is wrong.
"""

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds import KINDS, Question, question_from_table

REVEAL = ("never", "after due date", "at once")
_TEXT = ("title", "bench")
_LISTS = ("objectives", "competencies", "prerequisites", "equipment")


@dataclass(frozen=True)
class Manifest:
    """A lab's `lab.toml`, checked.

    lab, course [written in when the lab is released; in a source folder, the folder's name
    and the practice course].
    """

    lab: str
    title: str
    order: int
    hours: float
    course: str = "practice"
    reveal: str = "never"
    bench: str = ""
    objectives: tuple[str, ...] = ()
    competencies: tuple[str, ...] = ()
    prerequisites: tuple[str, ...] = ()
    equipment: tuple[str, ...] = ()
    questions: dict[str, Question] = field(default_factory=dict)

    def question(self, name: str) -> Question:
        """Find a question by its name; raises InputError listing the names there are."""
        if name not in self.questions:
            raise InputError(
                f"{name!r} is not a question of {self.lab}; "
                f"its questions are {', '.join(self.questions)}"
            )
        return self.questions[name]


def read_manifest(folder: Path) -> Manifest:
    """Read and check a lab folder's `lab.toml`; raises InputError with file, key and reason."""
    path = folder / "lab.toml"
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise InputError(f"{folder} is not a lab folder: it holds no lab.toml") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{folder.name}/lab.toml is not valid TOML: {error}") from None
    return _checked(table, folder.name)


def _checked(table: dict[str, Any], lab: str) -> Manifest:
    def refuse(key: str, reason: str) -> InputError:
        return InputError(f"{lab}/lab.toml: {key}: {reason}")

    known = set(Manifest.__dataclass_fields__) - {"questions"} | {"question"}
    if unknown := set(table) - known:
        raise refuse(sorted(unknown)[0], f"unknown key; accepted are {', '.join(sorted(known))}")
    for key in ("title", "order", "hours"):
        if key not in table:
            raise refuse(key, "missing")
    for key in (*_TEXT, "course", "lab"):
        if not isinstance(table.get(key, ""), str):
            raise refuse(key, "must be text")
    for key in _LISTS:
        if not all(isinstance(item, str) for item in table.get(key, [])):
            raise refuse(key, "must be a list of texts")
    if table.get("reveal", "never") not in REVEAL:
        raise refuse("reveal", f"must be one of {', '.join(REVEAL)}")
    if not isinstance(table["order"], int) or not 0 < float(table["hours"]) < 100:
        raise refuse("order, hours", "order is a whole number, hours is between 0 and 100")
    questions = {}
    for row in table.pop("question", []):
        question = question_from_table(row, lambda key, why: refuse(f"question.{key}", why))
        if question.name in questions:
            raise refuse("question.id", f"{question.name!r} stands twice")
        questions[question.name] = question
    lists = {key: tuple(table.pop(key)) for key in _LISTS if key in table}
    return Manifest(lab=table.pop("lab", lab), questions=questions, **table, **lists)


__all__ = ["KINDS", "Manifest", "REVEAL", "read_manifest"]
