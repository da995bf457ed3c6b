"""`lab.toml`: what a lab is called, what it is for, and the form of each answer.

The file travels with the student's notebook, so it states the form of an answer (a
temperature, one of four choices), never its key. `read_manifest` checks it and names the
file, the key and the reason when something is wrong.
"""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds import KINDS, Question, question_from_table
from coldbench.worksheet.spelling import one_line

REVEAL = ("never", "after due date", "at once")


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
        if isinstance(name, str) and name in self.questions:
            return self.questions[name]
        from difflib import get_close_matches

        close = get_close_matches(name, self.questions, 1) if isinstance(name, str) else []
        meant = f"; did you mean {close[0]!r}" if close else ""
        raise InputError(f"{one_line(name)!r} is not a question of {self.lab}{meant}; "
                         f"its questions are {', '.join(self.questions) or 'none'}")


def read_manifest(folder: Path) -> Manifest:
    """Read and check a lab folder's `lab.toml`; raises InputError with file, key and reason."""
    path, name = folder / "lab.toml", folder.resolve().name
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise InputError(f"{folder} is not a lab folder: it holds no lab.toml") from None
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise InputError(f"{name}/lab.toml is not valid TOML: {error}") from None
    return manifest_from_table(table, name)


def manifest_from_table(table: dict[str, Any], lab: str) -> Manifest:
    """Check the table of a `lab.toml`; raises InputError with file, key and reason.

    >>> manifest_from_table({"title": "Fans", "order": 2, "hours": 1.5}, "fans").title
    'Fans'
    """
    def refuse(key: str, reason: str) -> InputError:
        return InputError(f"{lab}/lab.toml: {key}: {reason}")

    known = set(Manifest.__dataclass_fields__) - {"questions"} | {"question"}
    if unknown := set(table) - known:
        raise refuse(sorted(unknown)[0], f"unknown key; accepted are {', '.join(sorted(known))}")
    if missing := [key for key in _NEEDED if key not in table]:
        raise refuse(missing[0], "missing")
    checked = {key: _CHECKS[key](value, lambda why, key=key: refuse(key, why))
               for key, value in table.items() if key != "question"}
    return Manifest(**{"lab": lab, **checked}, questions=_questions(table, refuse))


def _questions(table: dict[str, Any], refuse: Callable[[str, str], InputError],
               ) -> dict[str, Question]:
    rows = table.get("question", [])
    if not isinstance(rows, list):
        raise refuse("question", "must be written as tables [[question]]")
    questions: dict[str, Question] = {}
    for row in rows:
        question = question_from_table(row, lambda key, why: refuse(f"question.{key}", why))
        if question.name in questions:
            raise refuse("question.id", f"{question.name!r} stands twice")
        questions[question.name] = question
    return questions


def _text(value: Any, refuse: Callable[[str], InputError]) -> str:
    if isinstance(value, str) and value.strip():
        return value
    raise refuse("must be text, not empty")


def _any_text(value: Any, refuse: Callable[[str], InputError]) -> str:
    if isinstance(value, str):
        return value
    raise refuse("must be text")


def _texts(value: Any, refuse: Callable[[str], InputError]) -> tuple[str, ...]:
    if isinstance(value, list) and all(isinstance(item, str) and item.strip() for item in value):
        return tuple(value)
    raise refuse("must be a list of texts, none of them empty")


def _whole(value: Any, refuse: Callable[[str], InputError]) -> int:
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise refuse("must be a whole number")


def _hours(value: Any, refuse: Callable[[str], InputError]) -> float:
    if isinstance(value, (int, float)) and not isinstance(value, bool) and 0 < value < 100:
        return value
    raise refuse("must be a number of hours above 0 and below 100")


def _reveal(value: Any, refuse: Callable[[str], InputError]) -> str:
    if value in REVEAL:
        return value
    raise refuse(f"must be one of {', '.join(REVEAL)}")


_NEEDED = ("title", "order", "hours")
_CHECKS: dict[str, Callable[[Any, Callable[[str], InputError]], Any]] = {
    "lab": _text, "title": _text, "order": _whole, "hours": _hours, "course": _any_text,
    "reveal": _reveal, "bench": _any_text, "objectives": _texts, "competencies": _texts,
    "prerequisites": _texts, "equipment": _texts,
}

__all__ = ["KINDS", "Manifest", "REVEAL", "manifest_from_table", "read_manifest"]
