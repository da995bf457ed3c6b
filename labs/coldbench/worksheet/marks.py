"""Marks: a share of the points, and the reason in words.

A reason is shown to the learner before the key may be: it names no key and no tolerance.
"""

from dataclasses import asdict, dataclass
from typing import Any

from coldbench.errors import InputError

RIGHT, PARTLY, WRONG, MISSING, MALFORMED = "right", "partly", "wrong", "missing", "malformed"


@dataclass(frozen=True)
class Mistake:
    """A wrong answer that can be foreseen, and what to say about it.

    value [SI, or a choice, list or table; None: does not apply]; share [0 to 1 of the points];
    advice [a sentence].
    """

    value: Any
    share: float = 0.0
    advice: str = ""

    def __post_init__(self) -> None:
        checked_share(self.share)


@dataclass(frozen=True)
class Mark:
    """What marking decided about one question.

    share [0 to 1 of the points]; status [right, partly, wrong, missing, malformed];
    mistake [name of the foreseen mistake, or ""]; answer, key [as text]; answer_si, key_si,
    tolerance_si [SI, quantities only].
    """

    question: str
    share: float
    status: str
    reason: str
    mistake: str = ""
    answer: str = ""
    key: str = ""
    answer_si: Any = None
    key_si: Any = None
    tolerance_si: Any = None
    weight: float = 1.0

    def as_dict(self) -> dict[str, Any]:
        """The mark as plain data."""
        return asdict(self)


def checked_share(share: float) -> float:
    """Give a share of the points back; raises InputError unless it lies in 0 to 1.

    >>> checked_share(0.5)
    0.5
    """
    if isinstance(share, (int, float)) and 0 <= share <= 1:
        return float(share)
    raise InputError(f"a share of the points lies between 0 and 1, not at {share!r}")


def named_mistake(name: str, mistake: "Mistake") -> str:
    """Say a foreseen mistake in one or two sentences.

    >>> named_mistake("took gauge for absolute", Mistake(1.0))
    'Likely mistake: took gauge for absolute.'
    >>> named_mistake("carried a value forward", Mistake(1.0, 1.0, "This step is right."))
    'This step is right.'
    """
    if mistake.share >= 1 and mistake.advice:
        return mistake.advice
    return f"Likely mistake: {name}. {mistake.advice}".strip()


def status_of(share: float) -> str:
    """Name a share of the points.

    >>> status_of(1.0), status_of(0.5), status_of(0.0)
    ('right', 'partly', 'wrong')
    """
    return RIGHT if share >= 1 else PARTLY if share > 0 else WRONG
