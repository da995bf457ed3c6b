"""The worksheet a lab's cells talk to."""

import html
import os
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.worksheet import channel, desk
from coldbench.worksheet.cases import PRACTICE, Case, clean_learner_id, draw_case
from coldbench.worksheet.manifest import Manifest, read_manifest
from coldbench.worksheet.marks import MALFORMED, MISSING, Mark
from coldbench.worksheet.records import is_blank, make_record


class CaseTable:
    """A learner's case as a table that notebooks and terminals can show."""

    def __init__(self, learner: str, case: Case):
        self.learner, self.case = learner, case

    def __repr__(self) -> str:
        lines = [f"{given.label}: {given.text}   (case.{given.name})" for given in self.case.givens]
        return f"Case of {self.learner}\n" + "\n".join(lines)

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th scope='row' style='text-align:left'>{html.escape(given.label)}</th>"
            f"<td style='text-align:right'>{html.escape(given.text)}</td>"
            f"<td><code>case.{html.escape(given.name)}</code></td></tr>"
            for given in self.case.givens)
        return (f"<table><caption style='text-align:left'>Case of "
                f"<strong>{html.escape(self.learner)}</strong></caption>"
                "<thead><tr><th scope='col'>given</th><th scope='col'>value</th>"
                f"<th scope='col'>in code</th></tr></thead><tbody>{rows}</tbody></table>")


class Worksheet:
    """One learner's worksheet of one lab: her case, her answers, their form."""

    def __init__(self, manifest: Manifest, folder: Path, course: str, learner: str):
        self.manifest, self.learner, self.course = manifest, learner, course
        self.case = draw_case(folder, manifest.lab, course, learner)
        self._answers: dict[str, dict[str, Any]] = {}
        self._desk = desk.current_desk()

    @classmethod
    def open(cls, lab: str, learner: str = "", folder: str | Path | None = None) -> "Worksheet":
        """Open a lab's worksheet.

        lab [name]; learner [id; empty or "practice": the hub's user name if there is one, else
        a practice case]; folder [of the lab's files; default: where the notebook lies].
        Raises InputError when the lab's files are missing or the id cannot be used.
        """
        bench = desk.current_desk()
        fixed = channel.assigned()
        where = Path(bench.folder if bench else fixed.get("folder") or folder or Path.cwd())
        manifest = read_manifest(where)
        if manifest.lab != lab and not (bench or fixed):
            where = where / lab if (where / lab / "lab.toml").is_file() else where
            manifest = read_manifest(where)
        claimed = _claimed(learner)
        if fixed:
            channel.send({"claim": claimed})
        who = bench.learner if bench else fixed.get("learner") or claimed
        return cls(manifest, where, bench.course if bench else manifest.course, who)

    def show_case(self) -> CaseTable:
        """Show the learner's own numbers."""
        return CaseTable(self.learner, self.case)

    def answer(self, question: str, value: Any, unit: Any = None) -> None:
        """Record an answer and say whether its form is right; never whether it is correct.

        question [its name]; value [number, text, list or table; `...` = not yet]; unit [text].
        """
        try:
            self.manifest.question(question)
            if is_blank(value):
                self._answers.pop(question, None)
                record = {"question": question, "value": None, "unit": None}
            else:
                record = self._answers[question] = make_record(question, value, unit)
            channel.send(record)
        except InputError as error:
            print(f"✗ {question}: {error}")
            return
        print(self._preview_line(question))

    def preview(self, *questions: str) -> None:
        """Say how the form of each answer stands."""
        for question in questions:
            print(self._preview_line(question))

    def _preview_line(self, name: str) -> str:
        try:
            question = self.manifest.question(name)
            record = self._answers.get(name)
            if record is None:
                return f"· {name}: not answered yet. Wanted: {question.wanted}."
            read = question.read(record["value"], record["unit"])
        except InputError as error:
            return f"✗ {name}: {error}"
        if read.doubt:
            return f"? {name}: {read.text} is recorded, but: {read.doubt}."
        return f"✓ {name}: {read.text} is recorded. Its form is right; it is marked later."

    def given(self, name: str) -> Any:
        """The learner's own answer [SI or plain], or None: to carry an error forward fairly."""
        record = self._at_desk().records.get(name)
        if record is None or is_blank(record["value"]):
            return None
        try:
            return self.manifest.question(name).read(record["value"], record["unit"]).value
        except InputError:
            return None

    def mark(self, name: str, key: Any, mistakes: dict[str, Any] | None = None,
             weight: float = 1.0, **rules: Any) -> Mark:
        """Mark the learner's answer against a key; only hidden check cells call this.

        key [SI number, choice, list or table]; mistakes [name → wrong value or Mistake];
        weight [within its cell]; rules [within, partly: see the answer kind].
        """
        question = self.manifest.question(name)
        bench = self._at_desk()
        record = bench.records.get(name)
        if record is None or is_blank(record["value"]):
            mark = Mark(name, 0.0, MISSING, "Not answered.", weight=weight)
        else:
            mark = _mark_record(question, record, key, mistakes or {}, rules, weight)
        bench.marks.append(mark)
        return mark

    def _at_desk(self) -> desk.MarkingDesk:
        if self._desk is None:
            raise InputError("marks are made by the instructor's grading command, not here")
        return self._desk


def _mark_record(question: Any, record: dict[str, Any], key: Any, mistakes: dict[str, Any],
                 rules: dict[str, Any], weight: float) -> Mark:
    from dataclasses import replace

    try:
        answer = question.read(record["value"], record["unit"])
    except InputError as error:
        shown = str(record["value"])[:200]
        return Mark(question.name, 0.0, MALFORMED, f"Could not be read: {error}.", answer=shown,
                    weight=weight)
    return replace(question.mark(answer, key, mistakes, **rules), weight=weight)


def _claimed(learner: str) -> str:
    if str(learner).strip() in ("", PRACTICE):
        learner = os.environ.get("JUPYTERHUB_USER") or PRACTICE
    return clean_learner_id(learner)
