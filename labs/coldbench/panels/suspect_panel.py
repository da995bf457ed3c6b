"""The list of suspects: strike one out, with the reading that decided it, or bring it back.

In a notebook:

    suspects = SuspectPanel(["F1 blown", "K1 coil open", "fan 1 open"], journal=sheet.journal)
    suspects.strike("F1 blown", 3)      # entry 3 of the journal decided it
    suspects.left

With probabilities the panel shows each suspect's share of what is left. It takes no decision: a
reading rules out what the learner says it rules out.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from textwrap import shorten

from coldbench.errors import InputError
from coldbench.panels.controls import Button, Choice
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.svg import line, tag, text

BY_REASONING = ("0", "reasoning, no reading")
_BUTTONS = (("strike", "Strike out"), ("restore", "Bring back"), ("look", "Look for new readings"))
_HELP = ("On the list: arrow keys go from suspect to suspect, Enter or a click selects, s or "
         "Delete strikes out with the reading chosen in the menu, r brings back.")  # fmt: skip
_ROW, _WIDTH, _NAME, _BAR = 34, 560, 60, 150
MOST_SUSPECTS, MOST_READINGS = 60, 80


@dataclass(frozen=True)
class SuspectState:
    """What is shown: each suspect struck out by which entry [0: reasoning], or not at all."""

    struck: Mapping[str, int]
    selected: int
    shares: Mapping[str, float]
    readings: Mapping[str, str]


class SuspectPanel(Panel):
    """A list of suspects to narrow down.

    Parameters
    ----------
    suspects : names, or name → probability before the first measurement
    journal : a `coldbench.worksheet` journal whose readings can be named, or None
    struck : suspects that are out already: name → number of the entry that decided it
    changes : starting settings, named as the controls: suspect [number in the list], reading
        [number of a journal entry, as text; "0" for reasoning]

    Raises
    ------
    InputError : no suspects or too many, a probability that is none, an unknown name
    """

    title = "Suspects"

    def __init__(self, suspects: Iterable[str] | Mapping[str, float], journal=None,
                 struck: Mapping[str, int] | None = None, **changes):  # fmt: skip
        self.suspects, self._prior = _names(suspects)
        self.journal = journal
        self._struck = {self._known(name): int(n) for name, n in (struck or {}).items()}
        self._readings = self._look()
        start = {"suspect": "1", "reading": BY_REASONING[0],
                 **{name: 0 for name, _ in _BUTTONS}}  # fmt: skip
        self._applied = dict(start)
        super().__init__(start, changes)

    @property
    def left(self) -> tuple[str, ...]:
        """The suspects not struck out."""
        return tuple(name for name in self.suspects if name not in self._struck)

    @property
    def struck(self) -> dict[str, int]:
        """The suspects struck out, with the number of the entry that decided it; 0: reasoning."""
        return dict(self._struck)

    def strike(self, suspect: str, reading: int = 0) -> None:
        """Strike a suspect out by a journal entry, or by reasoning.

        Raises InputError for an unknown suspect or a number that is not in the journal.
        """
        number = self.suspects.index(self._known(suspect)) + 1
        self._readings = self._look()
        self.set(suspect=str(number), reading=str(reading), strike=self.settings["strike"] + 1)

    def restore(self, suspect: str) -> None:
        """Bring a suspect back; raises InputError for an unknown one."""
        self.set(suspect=str(self.suspects.index(self._known(suspect)) + 1),
                 restore=self.settings["restore"] + 1)  # fmt: skip

    def controls(self, settings):
        """Which suspect, by which reading, then what to do."""
        suspects = tuple((str(i), f"{i}: {name}") for i, name in enumerate(self.suspects, 1))
        readings = (BY_REASONING, *self._readings.items())
        return (Choice("suspect", "Suspect", suspects, menu=True),
                Choice("reading", "Decided by", readings, menu=True),
                *(Button(name, words) for name, words in _BUTTONS
                  if name != "look" or self.journal is not None))  # fmt: skip

    def targets(self):
        """The rows of the list, for mouse and keys."""
        return {
            "picture": "suspects", "label": "List of suspects", "help": _HELP, "press": "strike",
            "sets": ["suspect"], "marks": ["selected"],
            "keys": {"s": "strike", "Delete": "strike", "Backspace": "strike", "r": "restore"},
            "points": [[str(i), f"Suspect {i}, {name}, {self._standing(name)}", _WIDTH / 2,
                        _ROW * (i - 0.5) + 4, _WIDTH - 6, _ROW - 4]
                       for i, name in enumerate(self.suspects, 1)],
        }  # fmt: skip

    def compute(self, settings) -> SuspectState:
        """Strike out or bring back what was asked for."""
        pressed = {name for name, _ in _BUTTONS if settings[name] > self._applied[name]}
        name = self.suspects[int(settings["suspect"]) - 1]
        if pressed:
            self._readings = self._look()
        if "strike" in pressed:
            self._struck[name] = int(settings["reading"])
        elif "restore" in pressed:
            self._struck.pop(name, None)
        self._applied = dict(settings)
        return SuspectState(dict(self._struck), int(settings["suspect"]), self._shares(),
                            self._readings)  # fmt: skip

    def _look(self) -> dict[str, str]:
        """Readings of the journal, the newest first: number → words."""
        if self.journal is None:
            return {}
        entries = self.journal.entries[-MOST_READINGS:]
        return {str(entry.n): _reading_words(entry) for entry in reversed(entries)}

    def _shares(self) -> dict[str, float]:
        """Share of each suspect among those left; empty without probabilities."""
        total = sum(self._prior.get(name, 0.0) for name in self.left)
        return {name: self._prior[name] / total for name in self.left} if total > 0 else {}

    def _known(self, name: str) -> str:
        if name not in self.suspects:
            raise InputError(f"{name!r} is not one of the suspects: {'; '.join(self.suspects)}")
        return name

    def _standing(self, name: str) -> str:
        if name not in self._struck:
            return "still possible"
        return f"struck out by {_by(self._struck[name])}"

    def pictures(self, state: SuspectState):
        """The list, with a line through what is out and a bar for each share."""
        rows = "".join(self._row(i, name, state) for i, name in enumerate(self.suspects, 1))
        chosen = tag("rect", x=2, y=_ROW * (state.selected - 1) + 6, width=_WIDTH - 4,
                     height=_ROW - 4, rx=4, class_="cb-ft-chosen")  # fmt: skip
        said = " ".join(f"{name}: {self._standing(name)}{self._percent(name, state)}."
                        for name in self.suspects)  # fmt: skip
        return (Picture("suspects", _WIDTH, _ROW * len(self.suspects) + 8, "List of suspects",
                        f"{self.line(state)} {said}", "", rows + chosen),)  # fmt: skip

    def _row(self, number: int, name: str, state: SuspectState) -> str:
        y = _ROW * (number - 0.5) + 4
        shown = shorten(name, 36 if self._prior else 48, placeholder="…")
        words = text(18, y + 5, f"{number}", "cb-number", "start")
        words += text(_NAME, y + 5, shown, "cb-text", "start")
        if name in state.struck:
            long = min(7.5 * len(shown) + 10, _WIDTH - 170)
            strike = line(_NAME - 6, y, _NAME - 6 + long, y, "cb-ft-struck")
            return words + strike + text(_WIDTH - 14, y + 5, f"out: {_by(state.struck[name])}",
                                         "cb-small", "end")  # fmt: skip
        return words + self._bar(name, y, state)

    def _bar(self, name: str, y: float, state: SuspectState) -> str:
        if name not in state.shares:
            return ""
        share, x = state.shares[name], _WIDTH - _BAR - 60
        box = tag("rect", x=x, y=y - 7, width=_BAR, height=14, class_="cb-ft-box")
        bar = tag("rect", x=x, y=y - 7, width=max(_BAR * share, 0.5), height=14, class_="cb-dot")
        return box + bar + text(_WIDTH - 14, y + 5, f"{100 * share:.0f} %", "cb-number", "end")

    def _percent(self, name: str, state: SuspectState) -> str:
        return f", {100 * state.shares[name]:.0f} %" if name in state.shares else ""

    def line(self, state: SuspectState) -> str:
        """How many are left, and which when they are few."""
        left = [name for name in self.suspects if name not in state.struck]
        said = f"{len(left)} of {len(self.suspects)} suspects left"
        if not left:
            return (f"{said}\nA reading has been trusted too far, or the cause is not on the "
                    "list.")
        return f"{said}\n{', '.join(left)}." if len(left) <= 3 else said

    def table(self, state: SuspectState) -> Table:
        """What was struck out, and by what."""
        rows = tuple((name, state.readings.get(str(n), _by(n)))
                     for name, n in state.struck.items())  # fmt: skip
        return Table("Struck out", ("Suspect", "Decided by"), rows)

    def values(self, state: SuspectState):
        """How many suspects are left, and which."""
        left = [name for name in self.suspects if name not in state.struck]
        return {"left": len(left), "suspects_left": "; ".join(left) or None}


def _names(suspects) -> tuple[tuple[str, ...], dict[str, float]]:
    """Names and probabilities, checked."""
    prior = dict(suspects) if isinstance(suspects, Mapping) else {}
    names = tuple(dict.fromkeys(map(str, suspects)))
    if not 1 <= len(names) <= MOST_SUSPECTS:
        raise InputError(f"{len(names)} suspects; accepted: 1 to {MOST_SUSPECTS}")
    for name, chance in prior.items():
        if isinstance(chance, bool) or not isinstance(chance, int | float) or not 0 <= chance <= 1:
            raise InputError(f"probability of {name!r} is {chance!r}; accepted: 0 to 1")
    return names, {str(name): float(chance) for name, chance in prior.items()}


def _by(number: int) -> str:
    return f"entry {number}" if number else "reasoning"


def _reading_words(entry) -> str:
    """A journal entry in one line, for the menu."""
    where = ", ".join(str(value) for value in entry.arguments.values())
    state = f" ({entry.state.replace('_', ' ')})" if entry.state else ""
    return shorten(f"entry {entry.n}: {entry.instrument} {where}{state}, {entry.shown}", 70,
                   placeholder="…")  # fmt: skip
