"""What every answer kind has in common."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, ClassVar, Self

from coldbench.errors import InputError
from coldbench.worksheet.marks import Mark, Mistake, named_mistake, status_of
from coldbench.worksheet.records import LARGEST_RECORD_BYTES


@dataclass(frozen=True)
class Answer:
    """An answer whose form is right.

    value [SI float, text, list or table]; text [as shown back to the learner];
    doubt [what to look at again, when something looks odd, else ""]; number, unit [as written,
    canonical spelling; quantities only]; cells [place → its answer; tables only]; faults
    [place → why it cannot be read; tables only].
    """

    value: Any
    text: str
    doubt: str = ""
    number: float | None = None
    unit: str = ""
    cells: Mapping[str, "Answer"] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Question:
    """A question's form: its name and what an answer to it looks like.

    rules [names of the marking rules a kind takes beside the key and the mistakes];
    largest_record [characters an answer's record may hold].
    """

    name: str
    rules: ClassVar[tuple[str, ...]] = ()
    largest_record: ClassVar[int] = LARGEST_RECORD_BYTES

    @classmethod
    def table_keys(cls) -> tuple[str, ...]:
        """Keys a `[[question]]` table of this kind may hold beside `id` and `kind`."""
        return tuple(item.name for item in fields(cls) if item.name != "name")

    @classmethod
    def from_table(cls, name: str, row: dict[str, Any]) -> Self:
        """Build the question from its table; raises InputError with the reason."""
        types = {item.name: item.type for item in fields(cls)}
        return cls(name=name, **{key: typed(key, value, types[key])
                                 for key, value in row.items()})

    def bound(self, course: str, lab: str, learner: str) -> "Question":
        """The question as put to one learner; most kinds ask everybody alike."""
        return self

    @property
    def wanted(self) -> str:
        """Say what kind of answer is wanted, so that it can follow the word "write"."""
        raise TypeError(f"{type(self).__name__} does not say what it wants")

    def read(self, value: Any, unit: Any) -> Answer:
        """Read an answer's form [value, unit: plain data]; raises InputError with the reason."""
        raise TypeError(f"{type(self).__name__} reads no answers")

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any], **rules: Any) -> Mark:
        """Mark an answer against a key."""
        raise TypeError(f"{type(self).__name__} marks no answers")

    def decided(self, answer: Answer, share: float, reason: str, **more: Any) -> Mark:
        """Make the mark of this question."""
        share = min(max(round(float(share), 6), 0.0), 1.0)
        return Mark(self.name, share, status_of(share), reason, answer=answer.text, **more)

    def blamed(self, answer: Answer, name: str, mistake: Any, **more: Any) -> Mark:
        """Make the mark for a foreseen mistake."""
        mistake = as_mistake(mistake)
        return self.decided(
            answer, mistake.share, named_mistake(name, mistake), mistake=name, **more)


def as_mistake(mistake: Any) -> Mistake:
    """Take a bare wrong value as a mistake that earns nothing."""
    return mistake if isinstance(mistake, Mistake) else Mistake(mistake)


def typed(key: str, value: Any, kind: Any) -> Any:
    """Check the type of a table's value; a list of texts becomes a tuple.

    >>> typed("choices", ["bubble", "dew"], tuple[str, ...])
    ('bubble', 'dew')
    """
    if kind is str and isinstance(value, str):
        return value
    if kind is bool and isinstance(value, bool):
        return value
    if kind == tuple[str, ...] and isinstance(value, list):
        if all(isinstance(item, str) and item.strip() for item in value):
            return tuple(value)
    words = {str: "text", bool: "true or false"}.get(kind, "a list of texts, none of them empty")
    raise InputError(f"{key} must be {words}")
