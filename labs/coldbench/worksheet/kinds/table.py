"""A table of quantities: one number for each row and column."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question
from coldbench.worksheet.kinds.choice import fold
from coldbench.worksheet.kinds.quantity import QuantityQuestion
from coldbench.worksheet.marks import Mark
from coldbench.worksheet.records import is_blank


@dataclass(frozen=True)
class TableQuestion(Question):
    """A question answered by a table `{row: number}` or `{row: {column: number}}`.

    rows [texts; empty: the lab's case names them at marking]; columns [name → the table of a
    quantity question: quantity, unit, plausible].
    """

    columns: dict[str, QuantityQuestion] = field(default_factory=dict)
    rows: tuple[str, ...] = ()

    @classmethod
    def from_table(cls, name: str, row: dict[str, Any]) -> "TableQuestion":
        columns = row.get("columns")
        if not isinstance(columns, dict) or not columns:
            raise InputError("columns must be a table of column names")
        made = {c: QuantityQuestion.from_table(c, dict(spec)) for c, spec in columns.items()}
        return cls(name, made, tuple(str(r) for r in row.get("rows", ())))

    @property
    def wanted(self) -> str:
        rows = f" for the rows {'; '.join(self.rows)}" if self.rows else " for each row"
        return f"a table with {' and '.join(self.columns)}{rows}"

    def read(self, value: Any, unit: Any = None) -> Answer:
        if not isinstance(value, dict) or not value:
            raise InputError(f"{str(value)[:60]!r} is not a table; wanted is {self.wanted}")
        cells, doubts, missing = {}, [], []
        for row, entry in value.items():
            name = self._row(row)
            for column, question in self.columns.items():
                number, its_unit = self._entry(entry, unit, column)
                if is_blank(number):
                    missing.append(f"{name}, {column}")
                    continue
                read = self._cell(question, name, number, its_unit)
                cells[f"{name}|{column}"] = read.value
                doubts += [f"{name}: {read.doubt}"] if read.doubt else []
        absent = [row for row in self.rows if not any(c.startswith(f"{row}|") for c in cells)]
        if absent or missing:
            doubts.append(f"still empty: {'; '.join(absent or missing)}")
        return Answer(cells, self._text(cells), " · ".join(doubts[:3]))

    def _row(self, row: str) -> str:
        if not self.rows:
            return str(row)
        for name in self.rows:
            if fold(str(row)) == fold(name):
                return name
        raise InputError(f"{str(row)[:40]!r} is not a row; the rows are {'; '.join(self.rows)}")

    def _entry(self, entry: Any, unit: Any, column: str) -> tuple[Any, Any]:
        if isinstance(entry, dict):
            folded = {fold(str(k)): v for k, v in entry.items()}
            entry = folded.get(fold(column))
        elif len(self.columns) > 1:
            raise InputError(f"a row must name its columns: {', '.join(self.columns)}")
        unit = unit.get(column) if isinstance(unit, dict) else unit
        return entry, unit

    def _cell(self, question: QuantityQuestion, row: str, number: Any, unit: Any) -> Answer:
        try:
            return question.read(number, unit)
        except InputError as error:
            raise InputError(f"row {row}: {error}") from None

    def _text(self, cells: Mapping[str, float]) -> str:
        shown = (f"{place.split('|')[0]}: {self._column(place).show(v)}" for place, v in cells.items())
        return "; ".join(shown)[:400]

    def _column(self, place: str) -> QuantityQuestion:
        return self.columns[place.split("|")[-1]]

    def mark(self, answer: Answer, key: Mapping[str, Any], mistakes: Mapping[str, Any] = {},  # noqa: B006
             within: Any = "1 %") -> Mark:
        """Mark cell by cell; the share is the mean over all cells of the key.

        key [row → SI, or row → {column → SI}]; within [one tolerance, or column → tolerance];
        mistakes [name → a table like the key, or Mistake of one].
        """
        keys = self._flat(key)
        marks = {place: self._mark_cell(answer, place, value, mistakes, within)
                 for place, value in keys.items()}
        share = sum(m.share for m in marks.values()) / len(marks)
        wrong = {place: m for place, m in marks.items() if m.share < 1}
        notes = "; ".join(f"{p.replace('|', ', ')}: {m.reason}" for p, m in list(wrong.items())[:4])
        names = [m.mistake for m in wrong.values() if m.mistake]
        return self.decided(
            answer, share, f"{len(marks) - len(wrong)} of {len(marks)} right. {notes}".strip(),
            key=self._text(keys), mistake=max(set(names), key=names.count) if names else "",
            answer_si=answer.value, key_si=keys)

    def _flat(self, table: Mapping[str, Any]) -> dict[str, float]:
        flat = {}
        for row, entry in table.items():
            row = self._row(row)
            if isinstance(entry, Mapping):
                flat.update({f"{row}|{column}": float(v) for column, v in entry.items()})
            else:
                flat[f"{row}|{next(iter(self.columns))}"] = float(entry)
        return flat

    def _mark_cell(self, answer: Answer, place: str, key: float, mistakes: Mapping[str, Any],
                   within: Any) -> Mark:
        question = self._column(place)
        by_fold = {fold(p): v for p, v in answer.value.items()}
        if fold(place) not in by_fold:
            return Mark(self.name, 0.0, "missing", "empty.")
        from coldbench.worksheet.kinds.base import as_mistake
        from coldbench.worksheet.marks import Mistake

        here = {}
        for name, mistake in mistakes.items():
            mistake = as_mistake(mistake)
            if (value := self._flat(mistake.value).get(place)) is not None:
                here[name] = Mistake(value, mistake.share, mistake.advice)
        form = within.get(question.name, "1 %") if isinstance(within, Mapping) else within
        given = Answer(by_fold[fold(place)], question.show(by_fold[fold(place)]))
        return question.mark(given, key, here, within=form)
