"""Feedback: one page for each learner, made from her record, her notebook and the gradebook.

The page shows the learner's own work beside each question, her points, the reason, the likely
mistake and what to do about it; the key only when the lab's `reveal` allows it. It never shows
an instructor's cell. It is one file, runs no script and loads nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.feedback_safe import one_line, visible
from coldbench.grading.feedback_work import (
    Work, case_text, read_notebook, without_echo, work_by_question,
)
from coldbench.grading.penalty import penalty_rule, why_taken_off
from coldbench.grading.question_labels import question_labels
from coldbench.grading.record import Record
from coldbench.grading.report_marks import (
    HandMarks, Settled, Standing, hand_marks, settle, standings,
)
from coldbench.grading.report_pages import fill, late_words, moment, write_page
from coldbench.grading.report_words import HAND, SIGNS, TROUBLE, WORDS, mark_state, state_of
from coldbench.worksheet.manifest import Manifest, read_manifest
from coldbench.worksheet.marks import MISSING, RIGHT, Mark

CHECK_FAILED = ("The program could not mark this question. This is not your fault; "
                "your teacher has been told.")


@dataclass(frozen=True)
class Part:
    """One marked question: what was answered, how it stands, why.

    lead ["Likely mistake: …" or ""]; key [empty unless it may be shown].
    """

    question: str
    sign: str
    word: str
    lead: str
    reason: str
    answer: str
    key: str


@dataclass(frozen=True)
class Row:
    """One graded cell on the page; score None while it is to be marked by hand."""

    number: int
    label: str
    title: str
    state: str
    sign: str
    word: str
    score: float | None
    points: float
    parts: tuple[Part, ...]
    note: str
    comment: str
    work: tuple[Work, ...]
    run_notes: tuple[str, ...]

    @property
    def lost(self) -> float:
        """Points lost so far."""
        return 0.0 if self.score is None else max(0.0, self.points - self.score)

    @property
    def lost_title(self) -> str:
        """The title, of several questions only those that lost points."""
        lost = [part.question for part in self.parts if part.sign != SIGNS[RIGHT]]
        return ", ".join(lost) if lost and len(self.parts) > 1 else self.title

    @property
    def in_short(self) -> str:
        """What to look at, in a few words: of a reason of many lines the first two."""
        said = [" ".join([p.lead, *p.reason.split("\n")[:2]]).strip() or f"{p.word.capitalize()}."
                for p in self.parts if p.sign != SIGNS[RIGHT]]
        first = (said or [self.comment or self.note or self.word.capitalize() + "."])[0]
        return " ".join([first, *self.run_notes[:1]])


def may_reveal(rule: str, due: datetime | None, now: datetime) -> bool:
    """Say whether a learner may see the keys now.

    rule ["at once", "after due date", "never"]; due [None: never over].

    >>> may_reveal("after due date", None, datetime.now(UTC))
    False
    """
    if rule == "at once":
        return True
    return rule == "after due date" and due is not None and now > due


def feedback_path(course: Course, learner: str, lab: str) -> Path:
    """Where a learner's feedback lies; raises InputError for an id that is no folder name."""
    if not learner or learner in (".", "..") or any(ch in learner for ch in "/\\\0"):
        raise InputError(f"{learner!r} cannot be a learner: it is not the name of a folder")
    return course.desk / "feedback" / learner / lab / f"{lab}.html"


def graded_notebook(course: Course, learner: str, lab: str) -> Path:
    """Where grading leaves a learner's notebook."""
    return course.desk / "autograded" / learner / lab / f"{lab}.ipynb"


def write_feedback(course: Course, record: Record, notebook_path: Path | None = None,
                   hand: HandMarks | None = None, now: datetime | None = None) -> Path:
    """Write one learner's feedback page and return its path.

    record [of the graded submission]; notebook_path [graded notebook; default: where grading
    leaves it]; hand [what the gradebook holds about it; default: looked up there]; now
    [moment for `reveal`]. Raises InputError when the page cannot be written.
    """
    path = feedback_path(course, record.learner, record.lab)
    if hand is None:
        hand = hand_marks(course, record.lab, record.learner).get(record.learner)
    notebook = notebook_path or graded_notebook(course, record.learner, record.lab)
    return write_page(path, feedback_page(course, settle(record, hand), notebook, now))


def write_class(course: Course, lab: str, learner: str | None = None,
                now: datetime | None = None) -> list[Path]:
    """Write the feedback of every graded learner of a lab, or of one; returns the paths.

    Reads the gradebook once. Raises InputError when nothing is graded or the learner is unknown.
    """
    manifest = _manifest(course, lab)
    written = []
    for standing in standings(course, lab, learner):
        who = standing.record.learner
        page = feedback_page(course, standing, graded_notebook(course, who, lab), now, manifest)
        written.append(write_page(feedback_path(course, who, lab), page))
    return written


def feedback_page(course: Course, standing: Standing, notebook: Path | None,
                  now: datetime | None = None, manifest: Manifest | None = None) -> str:
    """Make one learner's feedback page as HTML text."""
    record = standing.record
    manifest = manifest or _manifest(course, record.lab)
    reveal = may_reveal(manifest.reveal, course.due.get(record.lab), now or datetime.now(UTC))
    cells = read_notebook(notebook)
    work = work_by_question(cells, [cell.grade_id for cell in record.cells])
    labels = question_labels(course, record.lab, [cell.grade_id for cell in record.cells])
    rows = [_row(index, label, settled, work.get(settled.cell.grade_id, ()), record.run, reveal)
            for index, (label, settled) in enumerate(
                zip(labels, standing.cells, strict=True), start=1)]
    return fill("feedback.html", title=manifest.title, learner=one_line(record.learner),
                course=course.title, standing=standing, rows=rows, first=look_at_first(rows),
                waiting=[row for row in rows if row.state == HAND], reveal=reveal,
                reveal_note=_reveal_note(manifest, course, record.lab, reveal),
                notes=list(_notes(record)), late=late_words(record.late_seconds),
                case=case_text(cells),
                taken_off=why_taken_off(penalty_rule(course.penalty), record.points,
                                        record.late_seconds, standing.late_penalty),
                leftover=work.get("", ()), has_work=bool(cells))


def look_at_first(rows: Iterable[Row], most: int = 3) -> list[Row]:
    """The questions that cost most points, dearest first."""
    return sorted((row for row in rows if row.lost > 0), key=lambda r: (-r.lost, r.number))[:most]


def _manifest(course: Course, lab: str) -> Manifest:
    folder = course.source / lab
    if (folder / "lab.toml").is_file():
        return read_manifest(folder)
    return Manifest(lab=lab, title=lab, order=0, hours=1.0)  # graded once, since taken away


def _row(index: int, label: str, settled: Settled, work: tuple[Work, ...],
         run: Mapping[str, str], reveal: bool) -> Row:
    state, cell = state_of(settled), settled.cell
    failed = state == TROUBLE
    parts = () if failed else tuple(_part(mark, reveal) for mark in cell.marks)
    run_notes = tuple(note for item in work if (note := run_words(run.get(item.name, "ok"))))
    shown = without_echo(work, [mark.question for mark in cell.marks])
    return Row(index, label, one_line(cell.title or cell.grade_id), state, SIGNS[state],
               "not marked yet" if failed else WORDS[state],
               None if failed else settled.score, cell.points, parts,
               CHECK_FAILED if failed else _hand_note(settled),
               visible(settled.comment), shown, run_notes)


def _hand_note(settled: Settled) -> str:
    if settled.again:
        return ("Your teacher marked this before; the answer has been graded anew since, "
                "so it will be looked at again.")
    if settled.needs_hand:
        return "Your teacher marks this answer by hand; it does not count yet."
    if settled.by_hand and settled.cell.kind == "checked":
        return "Your teacher set this mark by hand."
    return "Marked by your teacher." if settled.by_hand else ""


def _part(mark: Mark, reveal: bool) -> Part:
    lead, reason = f"Likely mistake: {mark.mistake}.", mark.reason
    if mark.mistake and reason.startswith(lead):
        reason = reason.removeprefix(lead).strip()
    else:
        lead = ""
    status = mark_state(mark)
    plainly_right = status == RIGHT and reason == "Right."
    if status == MISSING:
        reason = ""  # the word beside it says so
    return Part(one_line(mark.question), SIGNS[status], WORDS[status], one_line(lead),
                "" if plainly_right else visible(reason), visible(mark.answer),
                visible(mark.key) if reveal and not plainly_right else "")


def run_words(state: str) -> str:
    """Say how a cell of the learner ended, in words for her; empty when it ran well.

    >>> run_words("stopped: stopped after 20 s")
    'This cell was stopped: stopped after 20 s. Is there a loop that never ends?'
    """
    kind, _, note = one_line(state).partition(": ")
    if kind == "ok":
        return ""
    if kind == "stopped":
        hint = " Is there a loop that never ends?" if "after" in note or "time" in note else ""
        return f"This cell was stopped: {note}.{hint}"
    if kind == "not run":
        return f"This cell was not run: {note}."
    return f"This cell ended with an error: {note or kind}."


def _notes(record: Record) -> Iterable[str]:
    """Sentences the learner should read about her notebook as a whole."""
    yield from (one_line(text, 600) for text in (*record.notices, *record.repairs))
    for name, state in record.run.items():
        if words := run_words(state):
            yield words.replace("This cell", f"Your cell “{one_line(name, 60)}”", 1)


def _reveal_note(manifest: Manifest, course: Course, lab: str, reveal: bool) -> str:
    if reveal or manifest.reveal == "never":
        return ""
    due = course.due.get(lab)
    return f"Right answers are shown after the due date, {moment(due)}." if due else ""


__all__ = ["Part", "Row", "feedback_page", "feedback_path", "graded_notebook", "look_at_first",
           "may_reveal", "write_class", "write_feedback"]
