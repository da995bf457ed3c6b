"""Scales: round steps, tick marks, and the place of a value along a line or an arc."""

from dataclasses import dataclass
from math import ceil, floor, log10


def round_step(span: float, marks: int) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts a span into about `marks` parts.

    >>> round_step(3000, 6), round_step(0.9, 5)
    (500.0, 0.2)
    """
    rough = span / marks
    power = 10.0 ** floor(log10(rough))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= rough * 0.999)


def round_up(value: float, step: float) -> float:
    """The next multiple of a step.

    >>> round_up(786, 50)
    800
    """
    return ceil(value / step - 1e-9) * step


def ticks(low: float, high: float, step: float) -> list[float]:
    """The multiples of a step within a range, ends included.

    >>> ticks(-65, 120, 50)
    [-50, 0, 50, 100]
    """
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [round(k * step, 10) for k in range(first, last + 1)]


def plain(number: float) -> str:
    """A tick's number with a true minus sign and no needless zeros."""
    return f"{number:.10g}".replace("-", "−")


@dataclass(frozen=True)
class Scale:
    """A straight mapping from values to places (pixels or degrees), held at its ends.

    >>> Scale(0, 100, 20, 220).place(50), Scale(0, 100, 20, 220).place(500)
    (120.0, 220.0)
    """

    low: float
    high: float
    start: float
    end: float

    def place(self, value: float) -> float:
        """The place of a value; beyond an end, that end."""
        held = min(max(value, self.low), self.high)
        return self.start + (held - self.low) / (self.high - self.low) * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Whether the value lies on the scale."""
        return self.low <= value <= self.high
