"""The worksheet a lab's cells talk to."""

import math
import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coldbench.errors import InputError
from coldbench.worksheet import channel, desk
from coldbench.worksheet.case_table import CaseTable
from coldbench.worksheet.cases import PRACTICE, clean_learner_id, draw_case
from coldbench.worksheet.entries import Owner
from coldbench.worksheet.journal import journal_value, open_journal
from coldbench.worksheet.journal_words import journal_text
from coldbench.worksheet.kinds import Question
from coldbench.worksheet.manifest import Manifest, read_manifest
from coldbench.worksheet.marks import MALFORMED, MISSING, Mark
from coldbench.worksheet.records import is_blank, make_record
from coldbench.worksheet.spelling import one_line, sentence

if TYPE_CHECKING:
    from coldbench.worksheet.bench_session import BenchSession
    from coldbench.worksheet.circuit_bench import CircuitBench


class Worksheet:
    """One learner's worksheet of one lab: her case, her answers, their form."""

    def __init__(self, manifest: Manifest, folder: Path, course: str, learner: str):
        self.manifest, self.learner, self.course = manifest, learner, course
        self.folder = folder
        self.case = draw_case(folder, manifest.lab, course, learner)
        self._answers: dict[str, dict[str, Any]] = {}
        self._desk = desk.current_desk()
        self.journal = open_journal(folder, Owner(course, manifest.lab, learner))

    @classmethod
    def open(cls, lab: str, learner: str = "", folder: str | Path | None = None) -> "Worksheet":
        """Open a lab's worksheet.

        lab [name]; learner [id; empty or "practice": the hub's user name if there is one, else
        a practice case]; folder [of the lab's files; default: where the notebook lies].
        Raises InputError when the lab's files are missing or the id cannot be used.
        """
        bench = desk.current_desk()
        fixed = channel.assigned()
        if bench or fixed:
            where = Path(bench.folder if bench else fixed.get("folder") or folder or Path.cwd())
            manifest = read_manifest(where)
        else:
            where, manifest = _find_lab(str(lab), Path(folder or Path.cwd()))
        claimed = _claimed(learner)
        if fixed:
            channel.send({"claim": claimed})
        who = bench.learner if bench else fixed.get("learner") or claimed
        return cls(manifest, where, bench.course if bench else manifest.course, who)

    def __repr__(self) -> str:
        return (f"Worksheet of {self.learner}: {self.manifest.title} "
                f"({len(self._answers)} of {len(self.manifest.questions)} questions answered)")

    def show_case(self, *words: str) -> CaseTable:
        """Show the learner's own numbers.

        words [show only numbers whose label starts with one of them; none: all]. Raises
        InputError when no label does.
        """
        return CaseTable(self.learner, self.case.part(*words) if words else self.case)

    def answer(self, question: str, value: Any, unit: Any = None) -> None:
        """Record an answer and say whether its form is right; never whether it is correct.

        question [its name]; value [number, text, list or table; `...` = not yet]; unit [text].
        Never raises: what is wrong is said in a sentence. The last answer counts.
        """
        name = _name(question)
        try:
            _say(self._record(name, value, unit))
        except InputError as error:
            _say(self._refused(name, str(error)))
        except Exception as error:  # an answer's own code can raise anything
            _say(self._refused(name, "this answer cannot be used: reading it raised "
                               f"{type(error).__name__}"))

    def answer_journal(self, question: str) -> None:
        """Record the measurement journal as an answer, and show it.

        question [its name]. Everything measured so far counts, in the file beside the notebook
        too. Never raises.
        """
        self.answer(question, journal_value(self.journal))
        if (findings := self.journal.findings).entries:
            _say(journal_text(findings, troubles=False))

    def bench(self, circuit: Any, **setting: Any) -> "CircuitBench":
        """A circuit on the bench to measure at; what is measured goes into the journal.

        circuit [name or Circuit]; setting [faults, inputs: see `CircuitBench`].
        """
        from coldbench.worksheet.circuit_bench import CircuitBench

        return CircuitBench(circuit, journal=self.journal, **setting)

    def bench_session(self, bench: Any, state: str | None = None, faults: Any = (),
                      name: str = "", **more: Any) -> "BenchSession":
        """A whole bench, or a sealed one, to measure at; what is measured is journalled.

        bench [name, or path of a bench file or sealed file]; state [to begin with]; faults [of a
        bench that is not sealed]; name [of this bench among several]; more [set: see
        `open_bench_session`].
        """
        from coldbench.worksheet.bench_session import open_bench_session

        return open_bench_session(bench, state, faults, journal=self.journal, name=name,
                                  folder=self.folder, **more)

    def _question(self, name: str) -> Question:
        """A question as put to this learner; raises InputError listing the names there are."""
        return self.manifest.question(name).bound(self.course, self.manifest.lab, self.learner)

    def _record(self, name: str, value: Any, unit: Any) -> str:
        record = make_record(name, value, unit, self._question(name).largest_record)
        if is_blank(record["value"]):
            record = {"question": name, "value": None, "unit": None}
            self._answers.pop(name, None)
        else:
            self._answers[name] = record
        channel.send(record)
        return self._preview_line(name)

    def _refused(self, name: str, reason: str) -> str:
        kept = " Your earlier answer still counts." if name in self._answers else ""
        return f"✗ {one_line(name, 80)}: {sentence(reason)}{kept}"

    def preview(self, *questions: str) -> None:
        """Say how the form of each answer stands; of all questions when none is named."""
        for question in questions or self.manifest.questions:
            _say(self._preview_line(_name(question)))

    def _preview_line(self, name: str) -> str:
        try:
            question = self._question(name)
            record = self._answers.get(name)
            if record is None:
                return f"· {name}: not answered yet. Write {sentence(question.wanted)}"
            read = question.read(record["value"], record["unit"])
        except InputError as error:
            return f"✗ {one_line(name, 80)}: {sentence(str(error))}"
        if doubt := read.doubt or self._absent_evidence(read.value):
            return f"? {name}: recorded as {read.text}, but {sentence(doubt)}"
        return f"✓ {name}: recorded as {read.text}. The form is right; it is marked later."

    def _absent_evidence(self, value: Any) -> str:
        """Say which entries a diagnosis names that the journal does not have; "" for none."""
        named = value.get("evidence", ()) if isinstance(value, dict) else ()
        absent = sorted(set(named) - {entry.n for entry in self.journal.entries}) if named else []
        words = ", ".join(map(str, absent[:6]))
        return f"your journal has no entry {words}; sheet.journal shows the numbers" if words else ""

    def given(self, name: str) -> Any:
        """The learner's own answer [SI or plain], or None: to carry an error forward fairly."""
        question = self._question(name)
        record = self._at_desk().records.get(name)
        if record is None or is_blank(record.get("value")):
            return None
        try:
            return question.read(record["value"], record.get("unit")).value
        except InputError:
            return None

    def mark(self, name: str, key: Any, mistakes: dict[str, Any] | None = None,
             weight: float = 1.0, **rules: Any) -> Mark:
        """Mark the learner's answer against a key; only hidden check cells call this.

        key [SI number, choice, list, table or what the answer kind says]; mistakes [name → wrong
        value or Mistake; the first that fits counts]; weight [within its cell]; rules [within,
        partly and others: see the answer kind]. Raises InputError when key, rules or weight
        cannot be used, and outside marking.
        """
        bench = self._at_desk()
        question = self._question(name)
        _check_rules(question, weight, rules)
        record = bench.records.get(name)
        if record is None or is_blank(record.get("value")):
            mark = Mark(name, 0.0, MISSING, "Not answered.")
        else:
            mark = _mark_record(question, record, key, mistakes or {}, rules)
        mark = replace(mark, weight=float(weight))
        bench.marks.append(mark)
        return mark

    def _at_desk(self) -> desk.MarkingDesk:
        if self._desk is None:
            raise InputError("marks are made by the instructor's grading command, not here")
        return self._desk


def _check_rules(question: Question, weight: float, rules: dict[str, Any]) -> None:
    if unknown := sorted(set(rules) - set(question.rules)):
        accepted = ", ".join(question.rules) or "none"
        raise InputError(f"{question.name!r} takes no marking rule {unknown[0]!r}; "
                         f"accepted: {accepted}")
    if not isinstance(weight, (int, float)) or not 0 <= weight < math.inf:
        raise InputError(f"the weight of {question.name!r} must be 0 or more, not {weight!r}")


def _mark_record(question: Question, record: dict[str, Any], key: Any, mistakes: dict[str, Any],
                 rules: dict[str, Any]) -> Mark:
    try:
        answer = question.read(record["value"], record.get("unit"))
    except InputError as error:
        shown = one_line(f"{record['value']} {record.get('unit') or ''}", 200)
        why = one_line(str(error), 400)
        return Mark(question.name, 0.0, MALFORMED, sentence(f"Could not be read: {why}"),
                    answer=shown)
    return question.mark(answer, key, mistakes, **rules)


def _find_lab(lab: str, folder: Path) -> tuple[Path, Manifest]:
    """Find a lab's files in a folder, or in the folder of the lab's name within it."""
    for where in (folder, folder / lab):
        if (where / "lab.toml").is_file():
            manifest = read_manifest(where)
            if manifest.lab == lab:
                return where, manifest
    raise InputError(f"the files of lab {one_line(lab)!r} (lab.toml, case.py) are not in {folder}; "
                     "keep the notebook in its own lab folder, or copy the folder again")


def _claimed(learner: Any) -> str:
    if learner is None or learner is Ellipsis or str(learner).strip().casefold() in ("", PRACTICE):
        learner = os.environ.get("JUPYTERHUB_USER") or PRACTICE
    return clean_learner_id(learner)


def _name(question: Any) -> str:
    """A question's name as plain text, whatever stands in its place."""
    if issubclass(type(question), str):
        return str.__str__(question)
    return "something that is not a name"


def _say(text: str) -> None:
    try:
        print(text)
    except UnicodeEncodeError:  # a terminal that knows no more than plain letters
        print(text.encode("ascii", "replace").decode("ascii"))
