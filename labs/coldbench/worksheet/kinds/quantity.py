"""A number with a unit."""

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from typing import Any, ClassVar

from coldbench.errors import InputError
from coldbench.quantity import (
    KINDS as QUANTITY_KINDS,
)
from coldbench.quantity import format_quantity, from_si, normalise_unit, parse, to_si, units_of
from coldbench.quantity.number import read_number, split_number
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.kinds.unit_words import a, check_unit, either, unit_sign, usual_units
from coldbench.worksheet.marks import Mark, checked_share
from coldbench.worksheet.spelling import one_line, quoted
from coldbench.worksheet.tolerance import default_within, is_near, tolerance_si

_NO_NUMBER = re.compile(r"[+-]?(nan|inf|infinity)\b.*", re.IGNORECASE)


@cache
def slips() -> dict[str, Any]:
    """Shares for slips any numeric question can show [from marking_rules.toml]."""
    text = (files("coldbench.worksheet") / "data" / "marking_rules.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True)
class QuantityQuestion(Question):
    """A question answered by a quantity.

    quantity [kind, e.g. "temperature difference"]; unit [preferred]; plausible [low, high as
    text with units: outside it the preview asks the learner to look again].
    """

    quantity: str = "ratio"
    unit: str = ""
    plausible: tuple[str, ...] = ()
    rules: ClassVar[tuple[str, ...]] = ("within", "partly")

    def __post_init__(self) -> None:
        if self.quantity not in QUANTITY_KINDS:
            raise InputError(
                f"quantity {self.quantity!r} is not one of {', '.join(QUANTITY_KINDS)}")
        if self.unit:
            normalise_unit(self.unit, self.quantity)
        if self.plausible and (len(self.plausible) != 2 or self._usual[0] >= self._usual[1]):
            raise InputError("plausible must be [low, high] with low below high")

    @property
    def wanted(self) -> str:
        if QUANTITY_KINDS[self.quantity].bare:
            if self.shown_unit == "1":
                return f"a plain number, or one with {either(self._units)}"
            return f"a number in {self.shown_unit_sign}, or text with its unit"
        return (f"{a(self.quantity)}: a number in {self.shown_unit_sign}, or text with its unit "
                f"({', '.join(self._units)})")

    @property
    def shown_unit(self) -> str:
        """The unit in which answers and keys are shown."""
        return self.unit or units_of(self.quantity)[0]

    @property
    def shown_unit_sign(self) -> str:
        """The same unit, as people write it ("number" for a bare number)."""
        return unit_sign(self.shown_unit, self.quantity) or "number"

    @cached_property
    def _units(self) -> tuple[str, ...]:
        return usual_units(self.quantity, self.unit)

    @cached_property
    def _usual(self) -> tuple[float, ...]:
        return tuple(parse(text, self.quantity) for text in self.plausible)

    def show(self, value_si: float) -> str:
        """Write a value of this question [SI] for people; a bare number with four figures."""
        if self.shown_unit == "1":
            return figures(value_si, 4)
        return format_quantity(value_si, self.shown_unit, self.quantity)

    def read(self, value: Any, unit: Any = None) -> Answer:
        number, unit = self._written(value, unit)
        value_si = self._si(number, unit)
        return Answer(value_si, self._text(number, unit, value_si), self._doubt(value_si),
                      number, unit)

    def _written(self, value: Any, unit: Any) -> tuple[float, str]:
        """The number and its unit; raises InputError in words for a learner.

        A unit beside the number counts before the one given for the whole answer: the first
        was written with this number, the second often stands in the lab's own line.
        """
        if decimal := _comma_decimal(value):
            raise InputError(f"{one_line(value)} is two numbers; write a decimal with a point: "
                             f"{decimal}")
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            raise InputError(f"{_short(value)} is not a number; write {self.wanted}")
        if not isinstance(unit, (str, type(None))):
            raise InputError(f"{_short(unit)} is not a unit; write {self.wanted}")
        written, beside = self._parts(value)
        if not beside and not (unit or "").strip() and not QUANTITY_KINDS[self.quantity].bare:
            shown = one_line(value) if isinstance(value, str) else figures(value)
            meant = either([f'"{shown} {sign}"' for sign in self._units[:3]])
            raise InputError(f"{shown} has no unit; which do you mean: {meant}?")
        return written, self._unit(beside or unit or "")

    def _parts(self, value: float | str) -> tuple[float, str]:
        """Split what was written into its number and the unit beside it."""
        if isinstance(value, str) and not _NO_NUMBER.fullmatch(value.strip()):
            number, unit = split_number(value)
            if len(number) > 40:
                raise InputError(f"{quoted(value)} has too many digits to be a reading; "
                                 f"write {self.wanted}")
            if not number:
                raise InputError(f"{quoted(value)} does not start with a number; "
                                 f"write {self.wanted}")
            return read_number(number), unit
        try:
            number = float(str(value).split()[0])
        except (OverflowError, ValueError):
            number = math.inf
        if math.isfinite(number):
            return number, ""
        what = "nan, not a number" if math.isnan(number) else f"{number}, without end"
        raise InputError(f"the value is {what}; look for an empty value or a division by zero "
                         "in the steps before")

    def _unit(self, text: str) -> str:
        if len(text) > 40:
            raise InputError(f"{quoted(text)} is not a known unit; write {self.wanted}")
        return check_unit(one_line(text), self.quantity, self.unit)

    def _si(self, number: float, unit: str) -> float:
        try:
            if self._is_negative_vacuum(number, unit):
                raise InputError("write a vacuum without the minus sign, "
                                 f"like {self._plain(-number, unit)}")
            value_si = to_si(number, unit, self.quantity)
        except InputError as error:
            lowest = QUANTITY_KINDS[self.quantity].minimum
            if lowest is None:
                raise
            raise InputError(f"{self._plain(number, unit)} is impossible; the lowest "
                             f"{self.quantity} is {self._limit(lowest)}") from error
        if not math.isfinite(value_si):
            raise InputError(f"{number:g} is too large a number")
        return value_si

    def _is_negative_vacuum(self, number: float, unit: str) -> bool:
        return number < 0 and to_si(1.0, unit, self.quantity) < 0

    def _text(self, number: float, unit: str, value_si: float) -> str:
        text = self._plain(number, unit)
        if unit == normalise_unit(self.shown_unit, self.quantity):
            return text
        return f"{text} ({self.show(value_si)})"

    def _plain(self, number: float, unit: str) -> str:
        return f"{figures(number)} {unit_sign(unit, self.quantity)}".strip()

    def _limit(self, value_si: float) -> str:
        """A limit in the question's own unit, with no more digits than it needs."""
        number = from_si(value_si, self.shown_unit, self.quantity)
        return self._plain(round(number, 6) + 0.0, self.shown_unit)

    def _doubt(self, value_si: float) -> str:
        if not self.plausible or self._usual[0] <= value_si <= self._usual[1]:
            return ""
        size = "high" if value_si > self._usual[1] else "low"
        low, high = (self._limit(limit) for limit in self._usual)
        return f"that looks very {size} (usual here: {low} to {high}); check the unit and the sign"

    def mark(self, answer: Answer, key: float, mistakes: Mapping[str, Any] = {},  # noqa: B006
             within: str | Iterable[str] | None = None,
             partly: Mapping[str, float] = {}) -> Mark:  # noqa: B006
        """Mark a quantity.

        key [SI]; within [tolerance, see `tolerance`]; partly [wider tolerance → share];
        mistakes [name → wrong value SI, or Mistake; the first that fits counts].
        """
        key, within = _finite(key), within or default_within(self.quantity)
        half_width = self._half_width(within, key)
        facts = {"key": self.show(key), "answer_si": answer.value, "key_si": key,
                 "tolerance_si": half_width}
        shares = [share for form, share in partly.items()
                  if checked_share(share) and is_near(answer.value, key,
                                                      self._half_width(form, key))]
        if is_near(answer.value, key, half_width):
            return self.decided(answer, 1.0, "Right.", **facts)
        for name, mistake in mistakes.items():
            if self._shows(answer, as_mistake(mistake).value, within):
                return self.blamed(answer, name, mistake, **facts)
        if shares:
            return self.decided(answer, max(shares), "Close, but not exact enough; read the "
                                "scale with more care, and round only at the end.", **facts)
        return self._slip(answer, key, half_width, facts) or self.decided(
            answer, 0.0, "Not right, and it fits none of the usual mistakes; "
            "go through the steps again.", **facts)

    def _half_width(self, form: Any, target: float) -> float:
        return tolerance_si(form, target, self.quantity, self.shown_unit)

    def _shows(self, answer: Answer, wrong: Any, within: Any) -> bool:
        """Say whether an answer shows a foreseen wrong value [None: it does not apply]."""
        if wrong is None or not math.isfinite(wrong := float(wrong)):
            return False
        try:
            half_width = self._half_width(within, wrong)
        except InputError:  # a share of zero
            half_width = 0.0
        return is_near(answer.value, wrong, half_width)

    def _slip(self, answer: Answer, key: float, half_width: float,
              facts: dict[str, Any]) -> Mark | None:
        if answer.number is None:
            return None
        if meant := self._meant_unit(answer, key, half_width):
            wrote = unit_sign(answer.unit, self.quantity) or "no unit"
            return self._slipped(answer, "unit slip",
                                 f"The number is right {meant}, but you wrote {wrote}.", facts)
        if self._would_be_right(0.0, answer.unit, key, half_width):
            return None  # any small number would do
        if self._would_be_right(-answer.number, answer.unit, key, half_width):
            return self._slipped(answer, "sign slip", "The size is right, the sign is not.", facts)
        for factor in slips()["power_of_ten_slip"]["factors"]:
            if any(self._would_be_right(number, answer.unit, key, half_width)
                   for number in (answer.number * factor, answer.number / factor)):
                return self._slipped(answer, "power of ten slip", "A decimal point or a prefix "
                                     f"slipped: off by a factor of {factor:g}.", facts)
        return None

    def _slipped(self, answer: Answer, name: str, reason: str, facts: dict[str, Any]) -> Mark:
        share = slips()[name.replace(" ", "_")]["share"]
        return self.decided(answer, share, reason, mistake=name, **facts)

    def _meant_unit(self, answer: Answer, key: float, half_width: float) -> str | None:
        """Find a unit in which the number written would be right: "in kPa", "as a part of 1".

        Where zero is right, any small number is right in a smaller unit: no slip is seen.
        """
        zero = self._zero(answer.unit)
        zero_is_right = is_near(zero, key, half_width)
        for unit in units_of(self.quantity):
            if unit == answer.unit or (zero_is_right and self._zero(unit) == zero):
                continue
            if self._would_be_right(answer.number, unit, key, half_width):
                sign = unit_sign(unit, self.quantity)
                return f"in {sign}" if sign else "as a part of 1"
        return None

    def _zero(self, unit: str) -> float:
        return to_si(0.0, unit, self.quantity)

    def _would_be_right(self, number: float, unit: str, key: float, half_width: float) -> bool:
        try:
            return (is_near(to_si(number, unit, self.quantity), key, half_width)
                    and not self._is_negative_vacuum(number, unit))
        except InputError:
            return False


def figures(number: float, count: int = 6) -> str:
    """Write a number with so many figures; a large one to the last whole digit.

    >>> figures(1 / 3), figures(1000000.0), figures(-0.0), figures(-2.5), figures(12345.6, 4)
    ('0.333333', '1000000', '0', '−2.5', '12346')
    """
    shown = f"{number + 0.0:.{count}g}"
    if "e+" in shown and abs(number) < 1e15:
        shown = f"{number + 0.0:.0f}"
    return shown.replace("-", "\u2212")


def _finite(key: Any) -> float:
    try:
        number = float(key)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number):
        raise InputError(f"the key {one_line(key)} is not a finite number")
    return number


def _comma_decimal(value: Any) -> str:
    """What 81,4 was meant to be: Python reads two whole numbers.

    >>> _comma_decimal([81, 4]), _comma_decimal([81, 4.5]), _comma_decimal(81.4)
    ('81.4', '', '')
    """
    if isinstance(value, list) and len(value) == 2 and all(type(part) is int for part in value):
        return f"{value[0]}.{value[1]}" if value[1] >= 0 else ""
    return ""


def _short(value: Any) -> str:
    return "…" if value is None else one_line(value)
