"""Cases: a learner's own numbers, drawn from (course code, lab, learner id).

A case is public. Whoever knows the course code can work it out, and gains nothing by it:
a case is the question, never the answer. Learners whose ids end in a number (`ml-07`,
`ml-08`) are spread evenly over each range, so neighbours always differ.

Source of the spreading rule: additive recurrence with a quadratic irrational step
(Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods, 1992, from memory).
"""

import hashlib
import importlib.util
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from coldbench.errors import InputError

PRACTICE = "practice"
LONGEST_ID = 64
_STEPS = (math.sqrt(5) / 2 - 0.5, math.sqrt(2) - 1, math.sqrt(3) - 1, math.sqrt(13) / 2 - 1.5,
          2 - math.sqrt(2), 3 - math.sqrt(5), math.sqrt(7) - 2)


def clean_learner_id(text: str) -> str:
    """Give a learner id its one spelling [text: 1 to 64 visible characters].

    Raises InputError for an empty, over-long or control-character id.

    >>> clean_learner_id("  ml-07 ")
    'ml-07'
    """
    learner = unicodedata.normalize("NFC", str(text)).strip()
    if not learner or len(learner) > LONGEST_ID or not learner.isprintable() or "/" in learner:
        raise InputError(
            f"learner id {learner[:80]!r} cannot be used; "
            f"a learner id is 1 to {LONGEST_ID} visible characters without a slash"
        )
    return learner


def _unit_hash(*words: str) -> float:
    """Map words to a number in 0 to 1 that anybody can work out again."""
    digest = hashlib.sha256("\x1f".join(words).encode()).digest()
    return int.from_bytes(digest[:7], "big") / 2**56


@dataclass(frozen=True)
class Given:
    """One number or word of a case, with the label and unit the learner reads.

    >>> Given("altitude_m", 450.0, "altitude of the workshop", "m").text
    '450 m'
    """

    name: str
    value: Any
    label: str
    unit: str = ""

    @property
    def text(self) -> str:
        """The value as shown to the learner."""
        return f"{_show(self.value)} {self.unit}".strip()


def _show(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.10g}".replace("-", "−")
    if isinstance(value, (list, tuple)):
        return ", ".join(_show(item) for item in value)
    return str(value)


class Draw:
    """Draws the numbers of one learner's case; the same words always give the same numbers.

    >>> one, two = Draw("demo", "lab", "ml-07"), Draw("demo", "lab", "ml-08")
    >>> one.grid("speed", 1000, 2000, 50) != two.grid("speed", 1000, 2000, 50)
    True
    >>> one.grid("speed", 1000, 2000, 50) == Draw("demo", "lab", "ml-07").grid(
    ...     "speed", 1000, 2000, 50)
    True
    """

    def __init__(self, course_code: str, lab: str, learner: str, attempt: int = 0):
        self._words = (course_code, lab, str(attempt))
        number = re.fullmatch(r"(.*?)(\d{1,6})", learner)
        self._group, self._number = (number[1], int(number[2])) if number else (learner, 0)

    def fraction(self, field: str) -> float:
        """Draw a number in 0 to 1 for a field, evenly spread over numbered learners."""
        start = _unit_hash(*self._words, field, self._group)
        step = _STEPS[int(_unit_hash(*self._words, field, "step") * len(_STEPS))]
        return (start + self._number * step) % 1.0

    def grid(self, field: str, low: float, high: float, step: float) -> float:
        """Draw one of low, low + step, … high; each is equally likely."""
        count = round((high - low) / step) + 1
        return round(low + step * int(self.fraction(field) * count), 10)

    def choice(self, field: str, options: Sequence[Any]) -> Any:
        """Draw one of the options; each is equally likely."""
        return options[int(self.fraction(field) * len(options))]

    def shuffled(self, field: str, options: Iterable[Any]) -> list[Any]:
        """Draw an order of the options."""
        return sorted(options, key=lambda item: _unit_hash(
            *self._words, field, self._group, str(self._number), str(item)))


class Case:
    """A learner's numbers, read as attributes with the unit in the name.

    >>> case = Case([Given("altitude_m", 450.0, "altitude", "m")])
    >>> case.altitude_m
    450.0
    """

    def __init__(self, givens: Sequence[Given]):
        names = [given.name for given in givens]
        if len(set(names)) != len(names):
            raise InputError(f"a case names {names} where each name may stand once")
        object.__setattr__(self, "_givens", MappingProxyType({g.name: g for g in givens}))

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_") or name not in self._givens:
            raise AttributeError(f"this case has no {name!r}; it has {', '.join(self._givens)}")
        return self._givens[name].value

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError("a case cannot be changed; it is the question you were given")

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._givens]

    @property
    def givens(self) -> tuple[Given, ...]:
        """Every given in the order the lab wrote them."""
        return tuple(self._givens.values())


def draw_case(lab_folder: Path, lab: str, course_code: str, learner: str) -> Case:
    """Draw a learner's case with the lab's own rule.

    lab_folder [holds case.py with `draw(draw: Draw) -> list[Given] | None`]; a rule returns
    None when the numbers it drew do not make a solvable question, and is asked again.
    Raises InputError when the rule is missing or finds nothing in 200 attempts.
    """
    rule = _load_rule(lab_folder / "case.py")
    for attempt in range(200):
        givens = rule(Draw(course_code, lab, clean_learner_id(learner), attempt))
        if givens is not None:
            return Case(givens)
    raise InputError(f"{lab}/case.py finds no solvable case for {learner!r} in 200 attempts")


def _load_rule(path: Path) -> Callable[[Draw], list[Given] | None]:
    if not path.is_file():
        raise InputError(
            f"{path.name} is missing beside the notebook ({path.parent}); keep the files of a "
            "lab folder together, or copy the folder again"
        )
    spec = importlib.util.spec_from_file_location(f"coldbench_case_{path.parent.name}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.draw
