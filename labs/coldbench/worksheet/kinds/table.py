"""A table of quantities: one number for each row and column.

Glossary
    place   one cell's name, "row|column"
    fault   why what stands in a cell cannot be read; the other cells still count
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake, typed
from coldbench.worksheet.kinds.quantity import QuantityQuestion
from coldbench.worksheet.marks import MALFORMED, MISSING, Mark
from coldbench.worksheet.records import is_blank
from coldbench.worksheet.spelling import exact, find, one_line, quoted, sentence

MOST_NOTES = 4
LONGEST_TEXT = 400


@dataclass(frozen=True)
class TableQuestion(Question):
    """A question answered by a table `{row: number}` or `{row: {column: number}}`.

    rows [texts; empty: the lab's case names them at marking]; columns [name → the table of a
    quantity question: quantity, unit, plausible].
    """

    columns: dict[str, QuantityQuestion] = field(default_factory=dict)
    rows: tuple[str, ...] = ()
    rules: ClassVar[tuple[str, ...]] = ("within", "partly")

    @classmethod
    def from_table(cls, name: str, row: dict[str, Any]) -> "TableQuestion":
        columns = row.get("columns")
        if not isinstance(columns, dict) or not columns:
            raise InputError("columns must be a table of column names")
        rows = typed("rows", row.get("rows", []), tuple[str, ...])
        for key, names in (("columns", tuple(columns)), ("rows", rows)):
            if len({exact(n) for n in names}) < len(names) or any("|" in n for n in names):
                raise InputError(f"{key} must have different names without the sign |")
        return cls(name, {c: _column(c, spec) for c, spec in columns.items()}, rows)

    @property
    def wanted(self) -> str:
        rows = f"the rows {'; '.join(self.rows)}" if self.rows else "each row"
        parts = [f"{name} ({column.shown_unit_sign})" for name, column in self.columns.items()]
        return f"a table {{ }} with {' and '.join(parts)} for {rows}"

    def read(self, value: Any, unit: Any = None) -> Answer:
        if not isinstance(value, dict) or not value:
            raise InputError(f"{quoted(value)} is not a table; write {self.wanted}")
        cells: dict[str, Answer] = {}
        faults: dict[str, str] = {}
        for written, entry in value.items():
            try:
                row = self._row(written, cells)
                numbers = self._entries(row, entry, unit)
            except InputError as error:
                faults[one_line(written, 40)] = str(error)
                continue
            self._read_row(numbers, cells, faults)
        if not cells and faults:
            raise InputError("; ".join(f"{self._place(p)}: {why}" for p, why in _first(faults, 1)))
        values = {place: cell.value for place, cell in cells.items()}
        return Answer(values, self._text(values), self._doubt(cells, faults), cells=cells,
                      faults=faults)

    def _row(self, written: str, cells: Mapping[str, Answer]) -> str:
        row = find(written, self.rows) if self.rows else one_line(written, 60).replace("|", "/")
        if row is None:
            raise InputError(f"there is no such row; the rows are {'; '.join(self.rows)}")
        if any(place.startswith(f"{row}|") for place in cells):
            raise InputError("this row stands twice")
        return row

    def _entries(self, row: str, entry: Any, unit: Any) -> dict[str, tuple[Any, Any]]:
        """Split a row into {place: (number, unit)}."""
        if not isinstance(entry, dict):
            if len(self.columns) > 1 and not is_blank(entry):
                raise InputError(f"name the columns, like {{ {self._pattern()} }}")
            entry = dict.fromkeys(self.columns, entry)
        entries = {}
        for written, number in entry.items():
            column = find(written, self.columns) or one_line(written, 40).replace("|", "/")
            its_unit = unit.get(column) if isinstance(unit, dict) else unit
            entries[f"{row}|{column}"] = number, its_unit
        return entries

    def _pattern(self) -> str:
        return ", ".join(f'"{column}": …' for column in self.columns)

    def _read_row(self, numbers: Mapping[str, tuple[Any, Any]], cells: dict[str, Answer],
                  faults: dict[str, str]) -> None:
        for place, (number, unit) in numbers.items():
            if is_blank(number):
                continue
            if place.rpartition("|")[2] not in self.columns:
                columns = "; ".join(self.columns)
                faults[place] = f"there is no such column; the columns are {columns}"
                continue
            try:
                cells[place] = self._column(place).read(number, unit)
            except InputError as error:
                faults[place] = str(error)

    def _doubt(self, cells: Mapping[str, Answer], faults: Mapping[str, str]) -> str:
        doubts = [f"{self._place(place)} cannot be read: {why}" for place, why in _first(faults, 2)]
        if empty := self._empty(cells, faults):
            more = f" and {len(empty) - 6} more" if len(empty) > 6 else ""
            doubts.append(f"still empty: {'; '.join(empty[:6])}{more}")
        odd = {place: cell.doubt for place, cell in cells.items() if cell.doubt}
        doubts += [f"{self._place(place)}: {why}" for place, why in _first(odd, 1)]
        return ". Also: ".join(doubts)

    def _empty(self, cells: Mapping[str, Answer], faults: Mapping[str, str]) -> list[str]:
        """Names of the empty cells; of the row alone where the whole row is empty."""
        names: list[str] = []
        for row in self.rows or dict.fromkeys(p.rpartition("|")[0] for p in cells):
            places = [f"{row}|{column}" for column in self.columns]
            empty = [place for place in places if place not in cells and place not in faults]
            names += [row] if empty == places else [self._place(place) for place in empty]
        return names

    def _text(self, values: Mapping[str, float]) -> str:
        rows: dict[str, list[str]] = {}
        for place, value in values.items():
            row, _, column = place.rpartition("|")
            shown = self._shown(place, value)
            rows.setdefault(row, []).append(
                shown if len(self.columns) == 1 else f"{column} {shown}")
        text = "; ".join(f"{row}: {', '.join(shown)}" for row, shown in rows.items())
        return text if len(text) <= LONGEST_TEXT else text[:LONGEST_TEXT - 1] + "…"

    def _shown(self, place: str, value: Any) -> str:
        return self._column(place).show(value)

    def _place(self, place: str) -> str:
        """Name a cell for people: its row, and its column where there are several."""
        row, _, column = place.rpartition("|")
        if row and (len(self.columns) > 1 or column not in self.columns):
            return f"{row}, {column}"
        return row or column

    def _column(self, place: str) -> QuantityQuestion:
        return self.columns[place.rpartition("|")[2]]

    def mark(self, answer: Answer, key: Mapping[str, Any],
             mistakes: Mapping[str, Any] = {}, within: Any = None,  # noqa: B006
             partly: Mapping[str, float] = {}) -> Mark:  # noqa: B006
        """Mark cell by cell; the share is the mean over all cells of the key.

        key [row → SI, or row → {column → SI}]; within [one tolerance, or column → tolerance];
        partly [wider tolerance → share]; mistakes [name → a table like the key, of the cells
        it touches, or Mistake of one].
        """
        keys = self._flat(key)
        if not keys or None in keys.values():
            raise InputError(f"the key of {self.name!r} has an empty cell, or none at all")
        foreseen = {name: (as_mistake(mistake), self._flat(as_mistake(mistake).value))
                    for name, mistake in mistakes.items()}
        own = self._own(answer, keys)
        foreseen = self._likeliest_first(foreseen, own, keys, within)
        marks = {place: self._mark_cell(own.get(place), answer, place, value, foreseen, within,
                                        partly) for place, value in keys.items()}
        names = [m.mistake for m in marks.values() if m.share < 1 and m.mistake]
        return self.decided(
            answer, sum(m.share for m in marks.values()) / len(marks), self._reason(marks),
            key=self._text(keys), mistake=max(names, key=names.count) if names else "",
            answer_si={place: cell.value for place, cell in own.items()}, key_si=keys,
            tolerance_si={place: m.tolerance_si for place, m in marks.items()
                          if m.tolerance_si is not None})

    def _flat(self, table: Mapping[str, Any] | None) -> dict[str, float | None]:
        """Name the cells of a lab's own table by place."""
        flat: dict[str, float | None] = {}
        for written, entry in (table or {}).items():
            row = find(str(written), self.rows) if self.rows else str(written)
            if row is None:
                raise InputError(f"{written!r} is not a row; the rows are {'; '.join(self.rows)}")
            if not isinstance(entry, Mapping):
                entry = {next(iter(self.columns)): entry}
            for column, value in entry.items():
                if column not in self.columns:
                    raise InputError(f"{column!r} is not a column of {self.name!r}")
                flat[f"{row}|{column}"] = None if value is None else self._own_value(column, value)
        return flat

    def _own_value(self, column: str, value: Any) -> Any:
        """A value of a lab's own table, as answers are read."""
        return float(value)

    def _own(self, answer: Answer, keys: Mapping[str, float]) -> dict[str, Answer]:
        """The learner's cells, by the places of the key."""
        rows = tuple(dict.fromkeys(place.rpartition("|")[0] for place in keys))
        own: dict[str, Answer] = {}
        for place, cell in answer.cells.items():
            row, _, column = place.rpartition("|")
            if (row := find(row, rows)) is not None:
                own.setdefault(f"{row}|{column}", cell)
        return own

    def _likeliest_first(self, foreseen: Mapping[str, Any], own: Mapping[str, Answer],
                         keys: Mapping[str, float], within: Any) -> dict[str, Any]:
        """Put the mistake that explains the most cells first: one cause is likelier than two."""
        def explained(name: str) -> int:
            alone = {name: foreseen[name]}
            return sum(self._mark_cell(own[place], None, place, key, alone, within, {}).mistake
                       == name for place, key in keys.items() if place in own)

        return {name: foreseen[name] for name in sorted(foreseen, key=explained, reverse=True)}

    def _mark_cell(self, cell: Answer | None, answer: Any, place: str, key: float,
                   foreseen: Mapping[str, Any], within: Any, partly: Any) -> Mark:
        question = self._column(place)
        form = within.get(question.name) if isinstance(within, Mapping) else within
        # A missing cell is marked like any other for its tolerance, which reports need.
        stand_in = cell or Answer(float(key), "")
        here = {name: replace(mistake, value=flat[place])
                for name, (mistake, flat) in foreseen.items() if place in flat}
        mark = question.mark(stand_in, key, here, within=form, partly=partly)
        if cell is not None:
            return mark
        if why := answer.faults.get(place) or answer.faults.get(place.rpartition("|")[0]):
            reason = sentence(f"Could not be read: {why}")
            return replace(mark, share=0.0, status=MALFORMED, reason=reason)
        return replace(mark, share=0.0, status=MISSING, reason="Empty.")

    def _reason(self, marks: Mapping[str, Mark]) -> str:
        """Say how many cells are right, and what ails the others, alike ones together."""
        notes: dict[str, list[str]] = {}
        for place, mark in marks.items():
            if mark.share < 1:
                notes.setdefault(mark.reason, []).append(self._place(place))
        right = sum(mark.share >= 1 for mark in marks.values())
        if not notes:
            return "Right."
        said = [f"{'; '.join(places)}: {reason}" for reason, places in notes.items()]
        more = " There is more to mend in the other cells." if len(said) > MOST_NOTES else ""
        return f"{right} of {len(marks)} cells right. {' '.join(said[:MOST_NOTES])}{more}"


def _column(name: str, spec: Any) -> QuantityQuestion:
    if not isinstance(spec, dict):
        raise InputError(f"column {name!r} must be a table with its quantity")
    accepted = QuantityQuestion.table_keys()
    if unknown := sorted(set(spec) - set(accepted)):
        raise InputError(f"column {name!r} has an unknown key {unknown[0]!r}; "
                         f"accepted: {', '.join(accepted)}")
    try:
        return QuantityQuestion.from_table(name, spec)
    except InputError as error:
        raise InputError(f"column {name!r}: {error}") from None


def _first(table: Mapping[str, str], count: int) -> Iterable[tuple[str, str]]:
    return list(table.items())[:count]
