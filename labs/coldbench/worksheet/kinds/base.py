"""What every answer kind has in common."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Self

from coldbench.worksheet.marks import Mark, Mistake, named_mistake, status_of


@dataclass(frozen=True)
class Answer:
    """An answer whose form is right.

    value [SI float, text, list or table]; text [as shown back to the learner];
    doubt [a sentence when the size looks odd, else ""].
    """

    value: Any
    text: str
    doubt: str = ""


@dataclass(frozen=True)
class Question:
    """A question's form: its name and what an answer to it looks like."""

    name: str

    @classmethod
    def table_keys(cls) -> tuple[str, ...]:
        """Keys a `[[question]]` table of this kind may hold beside `id` and `kind`."""
        return tuple(item.name for item in fields(cls) if item.name != "name")

    @classmethod
    def from_table(cls, name: str, row: dict[str, Any]) -> Self:
        """Build the question from its table; raises InputError with the reason."""
        return cls(name=name, **{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()})

    @property
    def wanted(self) -> str:
        """Say what kind of answer is wanted."""
        raise TypeError(f"{type(self).__name__} does not say what it wants")

    def read(self, value: Any, unit: Any) -> Answer:
        """Read an answer's form [value, unit: plain data]; raises InputError with the reason."""
        raise TypeError(f"{type(self).__name__} reads no answers")

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any], **rules: Any) -> Mark:
        """Mark an answer against a key."""
        raise TypeError(f"{type(self).__name__} marks no answers")

    def decided(self, answer: Answer, share: float, reason: str, **more: Any) -> Mark:
        """Make the mark of this question."""
        return Mark(self.name, round(share, 6), status_of(share), reason, answer=answer.text, **more)

    def blamed(self, answer: Answer, name: str, mistake: Any, **more: Any) -> Mark:
        """Make the mark for a foreseen mistake."""
        mistake = as_mistake(mistake)
        return self.decided(
            answer, mistake.share, named_mistake(name, mistake), mistake=name, **more)


def as_mistake(mistake: Any) -> Mistake:
    """Take a bare wrong value as a mistake that earns nothing."""
    return mistake if isinstance(mistake, Mistake) else Mistake(mistake)
