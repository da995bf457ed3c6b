"""A number with a unit."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from coldbench.errors import InputError
from coldbench.quantity import (
    KINDS as QUANTITY_KINDS,
)
from coldbench.quantity import format_quantity, normalise_unit, parse, to_si, units_of
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.marks import Mark
from coldbench.worksheet.tolerance import tolerance_si

_NUMBER = re.compile(r"[+\-−]?\s*(\d+([.,]\d*)?|[.,]\d+)(e[+\-]?\d+)?", re.IGNORECASE)


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

    def __post_init__(self) -> None:
        if self.quantity not in QUANTITY_KINDS:
            raise InputError(
                f"quantity {self.quantity!r} is not one of {', '.join(QUANTITY_KINDS)}")
        if self.unit:
            normalise_unit(self.unit, self.quantity)
        if self.plausible:
            low, high = (parse(text, self.quantity) for text in self.plausible)
            if low >= high:
                raise InputError("plausible must be [low, high] with low below high")

    @property
    def wanted(self) -> str:
        units = ", ".join(u for u in units_of(self.quantity) if u) or "no unit"
        return f"a {self.quantity} as a number with a unit ({units})"

    @property
    def shown_unit(self) -> str:
        """The unit in which answers and keys are shown."""
        return self.unit or units_of(self.quantity)[0]

    def show(self, value_si: float) -> str:
        """Write a value of this question [SI] for people."""
        return format_quantity(value_si, self.shown_unit, self.quantity)

    def read(self, value: Any, unit: Any = None) -> Answer:
        value_si = self._si(value, unit)
        doubt = ""
        if self.plausible:
            low, high = (parse(text, self.quantity) for text in self.plausible)
            if not low <= value_si <= high:
                doubt = (f"unusual size; between {self.show(low)} and {self.show(high)} "
                         "would be usual here: check the unit and the sign")
        return Answer(value_si, self._as_written(value, unit), doubt)

    def _as_written(self, value: Any, unit: Any) -> str:
        number = f"{value:.6g}".replace("-", "−") if isinstance(value, float) else str(value)
        return f"{number} {unit or ''}".strip()[:200]

    def _si(self, value: Any, unit: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            raise InputError(f"{_short(value)} is not a number; wanted is {self.wanted}")
        if not isinstance(unit, (str, type(None))):
            raise InputError(f"{_short(unit)} is not a unit; wanted is {self.wanted}")
        if isinstance(value, str):
            bare = _NUMBER.fullmatch(value.strip())
            return parse(f"{value} {unit}" if bare and unit else value, self.quantity)
        return to_si(float(value), unit or "", self.quantity)

    def mark(self, answer: Answer, key: float, mistakes: Mapping[str, Any] = {},  # noqa: B006
             within: str | Iterable[str] = "1 %", partly: Mapping[str, float] = {},  # noqa: B006
             ) -> Mark:
        """Mark a quantity.

        key [SI]; within [tolerance, see `tolerance`]; partly [wider tolerance → share];
        mistakes [name → wrong value SI, or Mistake].
        """
        def near(target: float, form: Any = within) -> bool:
            return abs(answer.value - target) <= self._half_width(form, target)

        facts = {"key": self.show(key), "answer_si": answer.value, "key_si": float(key),
                 "tolerance_si": self._half_width(within, key)}
        if near(key):
            return self.decided(answer, 1.0, "Right.", **facts)
        for name, mistake in mistakes.items():
            if (wrong := as_mistake(mistake).value) is not None and near(float(wrong)):
                return self.blamed(answer, name, mistake, **facts)
        for form, share in partly.items():
            if near(key, form):
                return self.decided(answer, share, f"Close: within {form}, but not exact enough; "
                                    "read the scale or round later.", **facts)
        return self._slip(answer, key, near, facts) or self.decided(
            answer, 0.0, "Not right, and none of the usual mistakes fits; "
            "go through the steps again.", **facts)

    def _half_width(self, form: Any, target: float) -> float:
        return tolerance_si(form, target, self.quantity, self.shown_unit)

    def _slip(self, answer: Answer, key: float, near: Any, facts: dict[str, Any]) -> Mark | None:
        rules = slips()
        if unit := self._meant_unit(answer, key, facts["tolerance_si"]):
            return self.decided(answer, rules["unit_slip"]["share"], f"The number is right in "
                                f"{unit}, but you wrote another unit.",
                                mistake="unit slip", **facts)
        if "temperature" not in self.quantity or self.shown_unit != "K":
            if near(-key) and key:
                return self.decided(answer, rules["sign_slip"]["share"],
                                    "The size is right, the sign is not.",
                                    mistake="sign slip", **facts)
        for factor in rules["power_of_ten_slip"]["factors"]:
            if key and self.quantity != "temperature" and (near(key * factor) or near(key / factor)):
                return self.decided(answer, rules["power_of_ten_slip"]["share"], "A decimal point "
                                    f"or prefix slipped: off by a factor of {factor:g}.",
                                    mistake="power of ten slip", **facts)
        return None

    def _meant_unit(self, answer: Answer, key: float, half_width: float) -> str | None:
        """Find a unit in which the number written would be right."""
        found = _NUMBER.match(answer.text.replace("−", "-"))
        if not found:
            return None
        number = float(found[0].replace(",", ".").replace(" ", ""))
        for unit in units_of(self.quantity):
            try:
                if abs(to_si(number, unit, self.quantity) - key) <= half_width:
                    return unit
            except InputError:
                continue
        return None


def _short(value: Any) -> str:
    text = "…" if value is None else repr(value)
    return text if len(text) < 60 else text[:57] + "…"
