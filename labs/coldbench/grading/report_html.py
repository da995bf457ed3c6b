"""The class report as one page: a heat map, questions, mistakes, matches, what needs a hand."""

from pathlib import Path

from coldbench.grading.attempts import tells_attempts
from coldbench.grading.course import Course
from coldbench.grading.feedback_safe import one_line
from coldbench.grading.report import LearnerReport, Report
from coldbench.grading.report_matches import odds_words
from coldbench.grading.report_pages import fill, late_words, link_to, percent, write_page
from coldbench.grading.report_words import HAND, SIGNS, WORDS
from coldbench.worksheet.marks import PARTLY


def default_place(course: Course, lab: str) -> Path:
    """Where a lab's report lies unless another place is named."""
    return course.desk / "reports" / f"{lab}.html"


def write_report(course: Course, report: Report, place: Path | None = None) -> Path:
    """Write a report's page and return its path; raises InputError when it cannot be written."""
    path = (place or default_place(course, report.lab)).absolute()
    return write_page(path, report_page(course, report, path))


def report_page(course: Course, report: Report, path: Path) -> str:
    """Make a report's page as HTML text; links are relative to `path`."""
    rows = sorted(report.learners, key=lambda one: (_order(one), one.learner))
    links = {one.learner: link_to(course.root / one.feedback, path)
             for one in rows if one.feedback}
    by_number = {q.number: q for q in report.questions}
    return fill("report.html", report=report, rows=[_row(one, links) for one in rows],
                hardest=[by_number[n] for n in report.hardest_first], by_number=by_number,
                signs=SIGNS, words=WORDS, bars=bars(report.summary["histogram"]),
                to_mark=_to_mark(report), odds=odds_words, one_line=one_line,
                told=[one for one in report.learners
                      if one.notices or one.repairs or one.unfinished])


def _order(one: LearnerReport) -> float:
    return -1.0 if one.percent_so_far is None else one.percent_so_far


def _row(one: LearnerReport, links: dict[str, str]) -> dict:
    cells = [{"state": state, "sign": SIGNS[state], "word": _word(state, share),
              "stuck": number == one.stuck_at}
             for number, (state, share) in enumerate(
                 zip(one.states, one.shares, strict=True), start=1)]
    return {"about": one, "name": one_line(one.learner, 64), "link": links.get(one.learner, ""),
            "cells": cells,
            "mended": any(not tells_attempts(text) for text in one.repairs), "late": late_words(one.late_seconds)}


def _word(state: str, share: float | None) -> str:
    return f"{WORDS[state]}, {percent(share)}" if state == PARTLY else WORDS[state]


def _to_mark(report: Report) -> list[dict]:
    """Questions with answers to mark, and whose."""
    found = []
    for question in report.questions:
        who = [one.learner for one in report.learners
               if one.states[question.number - 1] == HAND]
        if who:
            found.append({"question": question, "learners": [one_line(w, 64) for w in who]})
    return found


def bars(counts: list[int], width: int = 440, height: int = 110) -> list[dict]:
    """Columns of a histogram [pixels]: x, y, width, height, count, label."""
    step, most = width / len(counts), max(counts) or 1
    return [{"x": round(index * step + 3, 1), "width": round(step - 6, 1), "count": count,
             "y": round(20 + height * (1 - count / most), 1),
             "height": round(height * count / most, 1),
             "label": f"{100 * index // len(counts)}–{100 * (index + 1) // len(counts)}"}
            for index, count in enumerate(counts)]
