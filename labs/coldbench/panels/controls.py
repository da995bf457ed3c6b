"""Controls of a panel, declared as data: the page builds them, Python checks what they send.

Glossary
- *setting*: the value Python keeps, in SI where the control has a quantity.
- *shown*: the number the learner sees, in the control's unit.
"""

from dataclasses import dataclass, field
from decimal import Decimal

from coldbench import quantity
from coldbench.errors import InputError

_SLACK = 1e-9


@dataclass(frozen=True)
class _Control:
    """What every control has; a kind of control overrides what it needs.

    group : words over the controls that belong together; "" stands alone
    """

    name: str
    label: str
    group: str = field(default="", kw_only=True)

    def held(self, setting):
        """The setting itself, or the nearest one the control still offers."""
        return setting

    def value(self, setting):
        """What the page shows for a setting."""
        return setting


@dataclass(frozen=True)
class Slider(_Control):
    """A number on a scale, with a box to type it in.

    Parameters
    ----------
    name : name used in `panel.set(name=…)`
    label : words beside the control
    minimum, maximum, step : range and step [unit]
    unit : unit shown, e.g. "kPa"; empty for a plain number
    kind : quantity kind, e.g. "gauge pressure"; empty for a plain number

    >>> Slider("turns", "Turns of the valve", 0, 4, 0.5).clean(2)
    2.0
    """

    minimum: float
    maximum: float
    step: float
    unit: str = ""
    kind: str = ""

    def clean(self, given, unit: str = "") -> float:
        """Setting [SI] for a given number [`unit`, else the shown unit] or a text with its unit.

        Raises
        ------
        InputError : not a number, or outside the range
        """
        setting = self._setting(given, unit or self.unit)
        shown = self.shown(setting)
        slack = _SLACK * max(abs(self.minimum), abs(self.maximum), 1.0)
        if not self.minimum - slack <= shown <= self.maximum + slack:
            raise InputError(
                f"{self.label}: {_plain(self._rounded(setting))}{self._space_unit} is outside "
                f"{_plain(self.minimum)} to {_plain(self.maximum)}{self._space_unit}"
            )
        return setting

    def held(self, setting: float) -> float:
        """The setting [SI] itself, or the nearer end of the range when it lies outside."""
        shown = self.shown(setting)
        if self.minimum <= shown <= self.maximum:
            return setting
        return self._si(min(max(shown, self.minimum), self.maximum), self.unit)

    def shown(self, setting: float) -> float:
        """The setting [SI] in the shown unit."""
        return quantity.from_si(setting, self.unit, self.kind) if self.kind else setting

    def declaration(self, setting: float) -> dict:
        """What the page needs to build the control."""
        return {
            "role": "slider", "name": self.name, "label": self.label, "unit": self.unit,
            "min": self.minimum, "max": self.maximum, "step": self.step,
        }  # fmt: skip

    def value(self, setting: float) -> float:
        """The number the page shows [unit], one decimal finer than the step."""
        return self._rounded(setting)

    def words(self, setting: float) -> str:
        """The setting in words, e.g. "212 kPa"."""
        return f"{_plain(self._rounded(setting))}{self._space_unit}"

    def _setting(self, given, unit: str) -> float:
        if isinstance(given, str) and self.kind:
            return quantity.parse(given, self.kind)
        try:
            number = float(given)
        except (TypeError, ValueError):
            raise InputError(f"{self.label}: {given!r} is not a number") from None
        if number != number or number in (float("inf"), float("-inf")):
            raise InputError(f"{self.label}: {given!r} is not a number")
        return self._si(number, unit)

    def _si(self, number: float, unit: str) -> float:
        return quantity.to_si(number, unit, self.kind) if self.kind else number

    def _rounded(self, setting: float) -> float:
        places = max(0, -Decimal(str(self.step)).normalize().as_tuple().exponent)
        return round(self.shown(setting), places + 1) + 0.0

    @property
    def _space_unit(self) -> str:
        return f" {self.unit}" if self.unit not in ("", "°") else self.unit


@dataclass(frozen=True)
class Choice(_Control):
    """One of a few options, as a row of radio buttons or as a menu.

    Parameters
    ----------
    name, label : as for `Slider`
    options : pairs (value, words)
    menu : True draws a drop-down menu

    >>> Choice("unit", "Unit", (("kPa", "kPa"), ("bar", "bar"))).clean("BAR")
    'bar'
    """

    options: tuple[tuple[str, str], ...]
    menu: bool = False

    def clean(self, given, unit: str = "") -> str:
        """The option that equals the given value or its words, whatever the case."""
        wanted = str(given).strip().casefold()
        for value, words in self.options:
            if wanted in (value.casefold(), words.casefold()):
                return value
        accepted = ", ".join(words for _, words in self.options)
        raise InputError(f"{self.label}: {given!r} is not one of {accepted}")

    def held(self, setting: str) -> str:
        """The setting itself, or the first option when it is no longer offered."""
        return setting if setting in dict(self.options) else self.options[0][0]

    def declaration(self, setting: str) -> dict:
        """What the page needs to build the control."""
        return {
            "role": "menu" if self.menu else "radio", "name": self.name, "label": self.label,
            "options": [list(option) for option in self.options],
        }  # fmt: skip

    def words(self, setting: str) -> str:
        """The setting in words."""
        return dict(self.options)[setting]


@dataclass(frozen=True)
class Toggle(_Control):
    """Something that is on or off.

    >>> Toggle("fan", "Fan").words(True)
    'on'
    """

    def clean(self, given, unit: str = "") -> bool:
        """True or False, given as such."""
        if given in (True, False):
            return bool(given)
        raise InputError(f"{self.label}: {given!r} is neither True nor False")

    def declaration(self, setting: bool) -> dict:
        """What the page needs to build the control."""
        return {"role": "toggle", "name": self.name, "label": self.label}

    def words(self, setting: bool) -> str:
        """The setting in words."""
        return "on" if setting else "off"


@dataclass(frozen=True)
class Button(_Control):
    """A button; its setting counts the presses, so that none is lost when two come together.

    >>> Button("probe", "Take a reading").clean(3)
    3
    """

    def clean(self, given, unit: str = "") -> int:
        """Number of presses so far, a whole number from 0."""
        if isinstance(given, int) and not isinstance(given, bool) and given >= 0:
            return given
        raise InputError(f"{self.label}: {given!r} is not a number of presses")

    def declaration(self, setting: int) -> dict:
        """What the page needs to build the control."""
        return {"role": "button", "name": self.name, "label": self.label}

    def words(self, setting: int) -> str:
        """The presses in words."""
        return f"pressed {setting} times" if setting != 1 else "pressed once"


Control = Slider | Choice | Toggle | Button


def _plain(number: float) -> str:
    """A number without needless zeros and with a true minus sign, e.g. "−12.5"."""
    return f"{number:.10g}".replace("-", "−")
