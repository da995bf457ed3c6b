"""One choice out of several, or every choice that fits."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.marks import Mark
from coldbench.worksheet.spelling import exact, find, fold, quoted

__all__ = ["ChoiceQuestion", "check_options", "fold", "pick"]


def pick(value: Any, options: tuple[str, ...]) -> str:
    """Find the option meant by a text; raises InputError listing the options."""
    if isinstance(value, (str, int, float)) and not isinstance(value, bool):
        text = f"{value:g}" if isinstance(value, float) else str(value)
        if option := find(text[:400], options):
            return option
    raise InputError(f"{quoted(value)} is not one of the choices: {'; '.join(options)}")


def check_options(key: str, options: tuple[str, ...]) -> None:
    """Raise InputError unless there are two or more options, all different."""
    if len(options) < 2 or len({exact(option) for option in options}) < len(options):
        raise InputError(f"{key} must be two or more different texts")


@dataclass(frozen=True)
class ChoiceQuestion(Question):
    """A question answered by one of `choices` (or several, when `several` is true)."""

    choices: tuple[str, ...] = ()
    several: bool = False

    def __post_init__(self) -> None:
        check_options("choices", self.choices)

    @property
    def wanted(self) -> str:
        if self.several:
            return f"a list [ ] of all that fit, out of: {'; '.join(self.choices)}"
        return f"one of these: {'; '.join(self.choices)}"

    def read(self, value: Any, unit: Any = None) -> Answer:
        if self.several:
            items = value if isinstance(value, (list, tuple, set, frozenset)) else [value]
            if isinstance(value, str) and "," in value and not find(value[:400], self.choices):
                items = value[:400].split(",")
            chosen = {pick(item, self.choices) for item in items}
            picked = [choice for choice in self.choices if choice in chosen]
            return Answer(picked, "; ".join(picked) or "none of them")
        if isinstance(value, list) and len(value) == 1:
            value = value[0]
        if isinstance(value, list):
            raise InputError(f"only one choice counts here, not a list; write {self.wanted}")
        choice = pick(value, self.choices)
        return Answer(choice, choice)

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             ) -> Mark:
        """Mark a choice.

        Of several choices, the share of those that fit less the share of those that do not:
        choosing all, or none, earns nothing.
        """
        key = self.read(key).value
        shown = ("; ".join(key) or "none of them") if self.several else key
        if answer.value == key:
            return self.decided(answer, 1.0, "Right.", key=shown)
        for name, mistake in mistakes.items():
            wrong = as_mistake(mistake).value
            if wrong is not None and self.read(wrong).value == answer.value:
                return self.blamed(answer, name, mistake, key=shown)
        if not self.several:
            return self.decided(answer, 0.0, "Not the one that fits.", key=shown)
        return self._several(answer, key, shown)

    def _several(self, answer: Answer, key: list[str], shown: str) -> Mark:
        hits = len(set(answer.value) & set(key))
        extras = len(answer.value) - hits
        missing = " There are more that fit." if hits < len(key) else ""
        share = hits / max(len(key), 1) - extras / max(len(self.choices) - len(key), 1)
        return self.decided(answer, min(max(share, 0.0), 0.99), f"Of your {len(answer.value)} "
                            f"choices, {hits} fit and {extras} do not.{missing}", key=shown)
