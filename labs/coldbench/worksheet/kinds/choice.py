"""One choice out of several, or every choice that fits."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.marks import Mark


def fold(text: str) -> str:
    """Compare words without regard to case, spaces and dashes.

    >>> fold(" Dew  point ") == fold("dew-point")
    True
    """
    return "".join(ch for ch in text.casefold() if ch.isalnum())


def pick(value: Any, options: tuple[str, ...]) -> str:
    """Find the option meant by a text; raises InputError listing the options."""
    if isinstance(value, (str, int, float)) and not isinstance(value, bool):
        for option in options:
            if fold(str(value)) == fold(option):
                return option
    raise InputError(f"{str(value)[:60]!r} is not one of the choices: {'; '.join(options)}")


@dataclass(frozen=True)
class ChoiceQuestion(Question):
    """A question answered by one of `choices` (or several, when `several` is true)."""

    choices: tuple[str, ...] = ()
    several: bool = False

    def __post_init__(self) -> None:
        if len(self.choices) < 2 or len({fold(c) for c in self.choices}) < len(self.choices):
            raise InputError("choices must be two or more different texts")

    @property
    def wanted(self) -> str:
        count = "a list of the choices that fit" if self.several else "one of the choices"
        return f"{count}: {'; '.join(self.choices)}"

    def read(self, value: Any, unit: Any = None) -> Answer:
        if self.several:
            items = value if isinstance(value, list) else [value]
            picked = [c for c in self.choices if c in {pick(v, self.choices) for v in items}]
            return Answer(picked, "; ".join(picked) or "none")
        choice = pick(value, self.choices)
        return Answer(choice, choice)

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             ) -> Mark:
        """Mark a choice; several choices earn the share of right decisions less the wrong ones."""
        key = self.read(key).value
        shown = "; ".join(key) if self.several else key
        if answer.value == key:
            return self.decided(answer, 1.0, "Right.", key=shown)
        for name, mistake in mistakes.items():
            wrong = as_mistake(mistake).value
            if wrong is not None and self.read(wrong).value == answer.value:
                return self.blamed(answer, name, mistake, key=shown)
        if not self.several:
            return self.decided(answer, 0.0, "Not the one that fits.", key=shown)
        hits = len(set(answer.value) & set(key))
        extras = len(set(answer.value) - set(key))
        share = max(0.0, (hits - extras) / max(len(key), 1))
        return self.decided(answer, min(share, 0.99), f"{hits} of {len(key)} found, "
                            f"{extras} chosen that do not fit.", key=shown)
