"""The class report of one lab: who is stuck where, what went wrong, what needs a person.

`make_report` works it out, `report_to_json` writes it for programs; pages and terminal tables
are made from the same object (`report_html`, `report_text`).

JSON, stable within "coldbench report 1" (keys may be added, none changes its meaning):
    format, lab, title, course, made_at [ISO time]
    summary     learners, points, mean_percent, median_percent, lower_quartile_percent,
                upper_quartile_percent, lowest_percent, highest_percent [of the points marked so
                far, or null], histogram [ten counts: 0–10 %, …, 90–100 %],
                answers_to_mark, learners_to_mark, learners_late
    questions   [number, label (as the lab counts: "7", "A"), grade_id, question, title,
                kind ("checked" | "written"), points,
                facility [0–1 | null], discrimination [−1–1 | null], attempts,
                counts {right, partly, wrong, missing, malformed, hand, trouble},
                mistakes [{name, count, learners}], remarks [sentences]]
    hardest_first   question numbers
    learners    [learner, auto, manual, total, points, percent_so_far, late_seconds,
                late_penalty, needs_hand [question numbers], stuck_at [question number | null],
                unfinished [sentences], notices, repairs, sandbox, seconds,
                states [one of the counts' names for each question], shares [0–1 | null],
                feedback [path beneath the course, "" when there is none]]
    matches     [learner, other, questions, hits, compared, identical, expected_hits,
                expected_pairs], single_hits [wrong answers that fit any other learner]
    mistakes    [{name, count, questions {number: count}}] over the whole lab
    attention   [{about, text}]: what to look at first
    sandbox     {level: submissions}; not_graded, not_handed_in [learners]; unreadable [files]
    definitions {facility, discrimination, quartiles}
"""

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from typing import Any

from coldbench.grading import statistics as st
from coldbench.grading.course import Course
from coldbench.grading.feedback import feedback_path, run_words
from coldbench.grading.feedback_safe import one_line
from coldbench.grading.question_labels import question_labels
from coldbench.grading.report_attention import attention, remarks
from coldbench.grading.report_items import (
    Item, Place, find_items, mistakes_at, places_of, stuck_from,
)
from coldbench.grading.report_marks import Standing, standings, unreadable_records
from coldbench.grading.report_matches import Match, find_matches
from coldbench.grading.report_words import HAND, SIGNS
from coldbench.worksheet.manifest import read_manifest
from coldbench.worksheet.marks import MALFORMED, PARTLY, RIGHT, WRONG

FORMAT = "coldbench report 1"


@dataclass(frozen=True)
class QuestionReport:
    """One question over the whole class."""

    number: int
    grade_id: str
    question: str
    title: str
    kind: str
    points: float
    facility: float | None
    discrimination: float | None
    attempts: int
    counts: dict[str, int]
    mistakes: list[dict[str, Any]]
    remarks: list[str]
    label: str


@dataclass(frozen=True)
class LearnerReport:
    """One learner: marks, what needs a hand, where she got stuck."""

    learner: str
    auto: float
    manual: float
    total: float
    points: float
    percent_so_far: float | None
    late_seconds: float
    late_penalty: float
    needs_hand: list[int]
    stuck_at: int | None
    unfinished: list[str]
    notices: list[str]
    repairs: list[str]
    sandbox: str
    seconds: float
    states: list[str]
    shares: list[float | None]
    feedback: str


@dataclass(frozen=True)
class Report:
    """A class report; see the module's docstring for every field."""

    format: str
    lab: str
    title: str
    course: str
    made_at: str
    summary: dict[str, Any]
    questions: list[QuestionReport]
    hardest_first: list[int]
    learners: list[LearnerReport]
    matches: list[Match]
    single_hits: int
    mistakes: list[dict[str, Any]]
    attention: list[dict[str, str]]
    sandbox: dict[str, int]
    not_graded: list[str]
    not_handed_in: list[str]
    unreadable: list[str]
    definitions: dict[str, str] = field(default_factory=lambda: dict(st.DEFINITIONS))


def make_report(course: Course, lab: str, now: datetime | None = None) -> Report:
    """Work out the report of one lab; raises InputError when nothing is graded yet."""
    standing = standings(course, lab)
    items = find_items(standing)
    table = [places_of(one, items) for one in standing]
    labels = _labels(course, lab, items)
    questions = [_question(index, item, items, standing, table, labels[item.grade_id])
                 for index, item in enumerate(items)]
    learners = [_learner(course, one, places)
                for one, places in zip(standing, table, strict=True)]
    matches, single_hits = find_matches(one.record for one in standing)
    graded = {one.record.learner for one in standing}
    not_graded, not_handed_in = _others(course, lab, graded)
    parts = {"summary": _summary(standing), "questions": questions, "learners": learners,
             "matches": matches, "mistakes": _mistakes(questions)}
    return Report(
        format=FORMAT, lab=lab, title=_title(course, lab), course=course.title,
        made_at=(now or datetime.now(UTC)).isoformat(timespec="seconds"), **parts,
        hardest_first=_hardest_first(questions), single_hits=single_hits,
        attention=attention(**parts), not_graded=not_graded, not_handed_in=not_handed_in,
        sandbox=dict(Counter(one.record.sandbox or "not recorded" for one in standing)),
        unreadable=unreadable_records(course, lab, standing))


def report_to_json(report: Report) -> str:
    """Write a report as JSON text."""
    return json.dumps(asdict(report), ensure_ascii=False, indent=1)


def report_from_json(text: str) -> Report:
    """Read a report from JSON text; raises ValueError when it is not one."""
    data = json.loads(text)
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ValueError(f"not a report of the format {FORMAT!r}")
    data["questions"] = [QuestionReport(**row) for row in data["questions"]]
    data["learners"] = [LearnerReport(**row) for row in data["learners"]]
    data["matches"] = [Match(**{**row, "questions": tuple(row["questions"])})
                       for row in data["matches"]]
    return Report(**data)


def _title(course: Course, lab: str) -> str:
    folder = course.source / lab
    return read_manifest(folder).title if (folder / "lab.toml").is_file() else lab


def _labels(course: Course, lab: str, items: Sequence[Item]) -> dict[str, str]:
    """How the lab counts the question of each cell: "7" of "Question 7", "A" of "Question A"."""
    cells = list(dict.fromkeys(item.grade_id for item in items))
    return {cell: label.split()[-1]
            for cell, label in zip(cells, question_labels(course, lab, cells), strict=True)}


def _question(index: int, item: Item, items: Sequence[Item], standing: Sequence[Standing],
              table: Sequence[Sequence[Place]], label: str) -> QuestionReport:
    column = [places[index] for places in table]
    rows = [[place.share for place in places] for places in table]
    counted = Counter(place.state for place in column)
    counts = {state: counted.get(state, 0) for state in SIGNS}
    # While answers wait for a hand, the few marked ones (blank cells) would mislead.
    settled = not counts[HAND]
    facility = st.facility([place.share for place in column]) if settled else None
    discrimination = (st.discrimination(rows, [i.points for i in items], index)
                      if settled else None)
    return QuestionReport(
        number=index + 1, grade_id=item.grade_id, question=item.question, title=item.title,
        kind=item.kind, points=round(item.points, 6), facility=facility,
        discrimination=discrimination, counts=counts,
        attempts=sum(counts[state] for state in (RIGHT, PARTLY, WRONG, MALFORMED, HAND)),
        mistakes=mistakes_at(column, [one.record.learner for one in standing]),
        remarks=remarks(facility, discrimination, counts, len(table)), label=label)


def _learner(course: Course, one: Standing, places: Sequence[Place]) -> LearnerReport:
    record, stuck = one.record, stuck_from(places)
    page = feedback_path(course, record.learner, record.lab)
    unfinished = [words.replace("This cell", f"Cell {one_line(name, 60)!r}", 1)
                  for name, state in record.run.items() if (words := run_words(state))]
    return LearnerReport(
        learner=record.learner, auto=one.auto, manual=one.manual, total=one.total,
        points=one.points, percent_so_far=one.percent_so_far, late_seconds=record.late_seconds,
        late_penalty=one.late_penalty, stuck_at=None if stuck is None else stuck + 1,
        needs_hand=[i for i, place in enumerate(places, start=1) if place.state == HAND],
        unfinished=unfinished, notices=list(record.notices), repairs=list(record.repairs),
        sandbox=record.sandbox, seconds=record.seconds,
        states=[place.state for place in places], shares=[place.share for place in places],
        feedback=page.relative_to(course.root).as_posix() if page.is_file() else "")


def _summary(standing: Sequence[Standing]) -> dict[str, Any]:
    percents = [p for one in standing if (p := one.percent_so_far) is not None]
    capped = [min(100.0, p) for p in percents]
    return {
        "learners": len(standing), "points": max(one.points for one in standing),
        "mean_percent": st.mean(percents), "median_percent": st.quantile(percents, 0.5),
        "lower_quartile_percent": st.quantile(percents, 0.25),
        "upper_quartile_percent": st.quantile(percents, 0.75),
        "lowest_percent": min(percents, default=None),
        "highest_percent": max(percents, default=None),
        "histogram": st.histogram(capped),
        "answers_to_mark": sum(len(one.waiting) for one in standing),
        "learners_to_mark": sum(bool(one.waiting) for one in standing),
        "learners_late": sum(one.record.late_seconds > 0 for one in standing)}


def _hardest_first(questions: Sequence[QuestionReport]) -> list[int]:
    known = [q for q in questions if q.facility is not None]
    return ([q.number for q in sorted(known, key=lambda q: (q.facility, q.number))]
            + [q.number for q in questions if q.facility is None])


def _mistakes(questions: Sequence[QuestionReport]) -> list[dict[str, Any]]:
    found: dict[str, dict[str, int]] = {}
    for question in questions:
        for row in question.mistakes:
            found.setdefault(row["name"], {})[str(question.number)] = row["count"]
    rows = [{"name": name, "count": sum(at.values()), "questions": at}
            for name, at in found.items()]
    return sorted(rows, key=lambda row: (-row["count"], row["name"]))


def _others(course: Course, lab: str, graded: set[str]) -> tuple[list[str], list[str]]:
    """Learners with a submission not graded yet, and those who handed in other labs only."""
    folders = sorted(p for p in course.submitted.glob("*") if p.is_dir())
    handed_in = {p.name for p in folders if (p / lab).is_dir()}
    return (sorted(handed_in - graded),
            [p.name for p in folders if p.name not in handed_in | graded])
