"""A truth table: for each combination of inputs, what each output does.

In `lab.toml`, inputs and outputs are tables of names with the words each can take:

    [[question]]
    id = "fan states"
    kind = "truth table"
    [question.inputs]
    "low request" = ["off", "on"]
    "high request" = ["off", "on"]
    [question.outputs]
    "left fan" = ["off", "slow", "fast"]

A learner may write rows in any of these ways, in any order:

    {("off", "on"): {"left fan": "slow"}, …}     inputs in the order of the question
    {"off, on": "slow", …}                       one output: its word alone
    [{"low request": "off", "high request": "on", "left fan": "slow"}, …]

For words such as off and on, False and True, 0 and 1 do as well. A hidden check gives the key as
such a table, or as a function of the inputs:

    sheet.mark("fan states", key=lambda low, high: "fast" if high == "on" else …, by="row")
"""

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, typed
from coldbench.worksheet.kinds.choice import ChoiceQuestion, pick
from coldbench.worksheet.kinds.table import TableQuestion
from coldbench.worksheet.marks import MALFORMED, MISSING, Mark, named_mistake
from coldbench.worksheet.spelling import exact, find, sentence

MOST_ROWS = 64
_SAME = (("0", "false", "off", "no", "open", "released"),
         ("1", "true", "on", "yes", "closed", "energised"))


def meant(value: Any, words: tuple[str, ...]) -> Any:
    """Put the word that False, True, 0, 1 or a like word means in its place.

    >>> meant(True, ("released", "energised")), meant("slow", ("slow", "fast"))
    ('energised', 'slow')
    """
    if not isinstance(value, (str, bool, int, float)):
        return value
    text = exact(str(value)[:40]).removesuffix(".0")
    if find(text, words):
        return value
    for same in _SAME:
        fitting = [word for word in words if exact(word) in same]
        if text in same and len(fitting) == 1:
            return fitting[0]
    return value


@dataclass(frozen=True)
class OutputColumn(ChoiceQuestion):
    """One output of a truth table, a choice of words."""

    def read(self, value: Any, unit: Any = None) -> Answer:
        return super().read(meant(value, self.choices), unit)


@dataclass(frozen=True)
class TruthTableQuestion(TableQuestion):
    """A question answered by a truth table.

    inputs [name → words it can take]; columns [output → its words]; rows [worked out: every
    combination, named "off, on"].
    """

    inputs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    rules: ClassVar[tuple[str, ...]] = ("by",)

    @classmethod
    def table_keys(cls) -> tuple[str, ...]:
        return "inputs", "outputs"

    @classmethod
    def from_table(cls, name: str, row: dict[str, Any]) -> "TruthTableQuestion":
        inputs = _words("inputs", row.get("inputs"))
        outputs = _words("outputs", row.get("outputs"))
        if twice := [name for name in outputs if find(name, inputs)]:
            raise InputError(f"outputs and inputs must have different names, not {twice[0]!r}")
        count = math.prod(map(len, inputs.values()))
        if count > MOST_ROWS:
            raise InputError(f"inputs make {count} rows; at most {MOST_ROWS} can be asked")
        rows = tuple(", ".join(values) for values in itertools.product(*inputs.values()))
        columns = {output: OutputColumn(output, words) for output, words in outputs.items()}
        return cls(name, columns, rows, inputs)

    @property
    def wanted(self) -> str:
        parts = [f"{name} ({' or '.join(column.choices)})"
                 for name, column in self.columns.items()]
        each = (f"each {next(iter(self.inputs))}, {len(self.rows)} in all" if len(self.inputs) == 1
                else f"each of the {len(self.rows)} combinations of {', '.join(self.inputs)}")
        return f"a table {{ }} with {', '.join(parts)} for {each}, like {{ {self._example()} }}"

    def _example(self) -> str:
        inputs = ", ".join(f'"{words[0]}"' for words in self.inputs.values())
        where = f"({inputs})" if len(self.inputs) > 1 else inputs
        return f'{where}: "…"' if len(self.columns) == 1 else f"{where}: {{{self._pattern()}}}"

    def read(self, value: Any, unit: Any = None) -> Answer:
        if isinstance(value, list):
            value = self._from_rows(value)
        return super().read(value, unit)

    def _from_rows(self, rows: list[Any]) -> dict[str, Any]:
        """Turn a list of rows into a table; what cannot be placed is kept under its number."""
        if rows and not any(isinstance(row, (dict, list)) for row in rows):
            raise InputError(f"a list does not say which row is which; write {self.wanted}")
        table: dict[str, Any] = {}
        for number, row in enumerate(rows, start=1):
            where, cells = f"row {number}", row
            if isinstance(row, dict):
                named = {find(str(key)[:100], self.inputs) or str(key): item
                         for key, item in row.items()}
                given = [named.pop(name) for name in self.inputs if name in named]
                if len(given) == len(self.inputs):
                    where, cells = ", ".join(map(str, given)), named
            elif isinstance(row, list) and len(row) == len(self.inputs) + len(self.columns):
                size = len(self.inputs)
                where, cells = ", ".join(map(str, row[:size])), row[size:]
            table[where if where not in table else f"{where} (again, row {number})"] = cells
        return table

    def _row(self, written: str, cells: Mapping[str, Answer]) -> str:
        parts = [part.strip(" ()'\"") for part in str(written)[:400].split(",")]
        if len(parts) != len(self.inputs):
            raise InputError(f"a row is named by {len(self.inputs)} words, "
                             f"one for each of {', '.join(self.inputs)}")
        named = [pick(meant(part, words), words)
                 for part, words in zip(parts, self.inputs.values(), strict=True)]
        return super()._row(", ".join(named), cells)

    def _entries(self, row: str, entry: Any, unit: Any) -> dict[str, tuple[Any, Any]]:
        if isinstance(entry, list) and len(entry) == len(self.columns):
            entry = dict(zip(self.columns, entry, strict=True))
        return super()._entries(row, entry, None)

    def _shown(self, place: str, value: Any) -> str:
        return str(value)

    def _own_value(self, column: str, value: Any) -> Any:
        return self.columns[column].read(value).value

    def _flat(self, table: Any) -> dict[str, Any]:
        """A lab's own table, or a function of the inputs that gives a row, by place."""
        if callable(table):
            table = {row: table(*values) for row, values in
                     zip(self.rows, itertools.product(*self.inputs.values()), strict=True)}
        named = {self._row(_joined(row), {}): entry for row, entry in (table or {}).items()}
        return super()._flat({row: self._named(entry) for row, entry in named.items()})

    def _named(self, entry: Any) -> Any:
        if isinstance(entry, (list, tuple)) and len(entry) == len(self.columns):
            return dict(zip(self.columns, entry, strict=True))
        return entry

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             by: str = "cell") -> Mark:
        """Mark a truth table cell by cell, or row by row.

        key [row → {output → word}, row → word of the one output, or a function of the inputs;
        rows it does not name are not asked]; by ["cell", or "row": a row counts when all its
        outputs are right]; mistakes [name → a table or function like the key, of the cells it
        touches, or a Mistake of one].
        """
        if by not in ("cell", "row"):
            raise InputError(f'by must be "cell" or "row", not {by!r}')
        mark = super().mark(answer, key, mistakes)
        share = self._row_share(answer, self._flat(key)) if by == "row" else mark.share
        return self.decided(answer, share, mark.reason, mistake=mark.mistake, key=mark.key)

    def _row_share(self, answer: Answer, keys: Mapping[str, Any]) -> float:
        rows: dict[str, bool] = {}
        for place, value in keys.items():
            row = place.rpartition("|")[0]
            cell = answer.cells.get(place)
            rows[row] = rows.get(row, True) and cell is not None and cell.value == value
        return sum(rows.values()) / len(rows)

    def _mark_cell(self, cell: Answer | None, answer: Any, place: str, key: Any,
                   foreseen: Mapping[str, Any], within: Any, partly: Any) -> Mark:
        if cell is None:
            row = place.rpartition("|")[0]
            if why := answer.faults.get(place) or answer.faults.get(row):
                return Mark(self.name, 0.0, MALFORMED, sentence(f"Could not be read: {why}"))
            return Mark(self.name, 0.0, MISSING, "Empty.")
        if cell.value == key:
            return self.decided(cell, 1.0, "Right.")
        for name, (mistake, flat) in foreseen.items():
            if flat.get(place) == cell.value:
                return self.decided(cell, mistake.share, named_mistake(name, mistake),
                                    mistake=name)
        return self.decided(cell, 0.0, "Not right.")


def _joined(row: Any) -> str:
    return ", ".join(map(str, row)) if isinstance(row, (tuple, list)) else str(row)


def _words(key: str, table: Any) -> dict[str, tuple[str, ...]]:
    """Check a table of names and words; raises InputError with the key and the reason."""
    if not isinstance(table, dict) or not table:
        raise InputError(f'{key} must be a table of names, each with its words, '
                         f'like {{ "fan" = ["off", "on"] }}')
    checked = {}
    for name, words in table.items():
        if "|" in name or "," in name or not name.strip():
            raise InputError(f"{key}: a name without the signs | and , is wanted, not {name!r}")
        texts = typed(f"{key}.{name}", words, tuple[str, ...])
        if len(texts) < 2 or len({exact(text) for text in texts}) < len(texts):
            raise InputError(f"{key}.{name} must be two or more different words")
        if bad := [text for text in texts if "|" in text or "," in text]:
            raise InputError(f"{key}.{name}: words without the signs | and , are wanted, "
                             f"not {bad[0]!r}")
        checked[name] = texts
    if len({exact(name) for name in checked}) < len(checked):
        raise InputError(f"{key} must have different names")
    return checked

