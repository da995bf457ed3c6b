"""Marks for the school's record: every lab of a course as CSV or JSON.

CSV is UTF-8 with a header line. Text that a spreadsheet would take for a formula gets an
apostrophe in front, so that opening the file runs nothing.

Long form, one line for each learner and lab: learner, lab, points, maximum, percent [of the
maximum], late_hours, needs_hand [answers a person still has to mark; the points are not final
before it is 0], graded_at [ISO time, UTC], course [its code, so that terms can be told apart].
Wide form, one line for each learner: learner, then
the points of each lab; empty where nothing was handed in.

Source of the characters that start a formula: OWASP, CSV Injection (community page).
"""

import csv
import io
import json
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from coldbench.errors import InputError
from coldbench.grading.course import Course
from coldbench.grading.record import write_atomically
from coldbench.grading.report_marks import Standing, graded_labs, standings, unreadable_records

COLUMNS = ("learner", "lab", "points", "maximum", "percent", "late_hours", "needs_hand",
           "graded_at", "course")
FORMATS = ("csv", "json")
_SPREADSHEETS = ("xlsx", "xls", "xlsm", "ods", "numbers")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def inert(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run as a formula.

    >>> inert("=1+1"), inert("ml-07")
    ("'=1+1", 'ml-07')
    """
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text


def marks_of(course: Course) -> list[dict[str, Any]]:
    """List the marks of every lab; raises InputError when nothing is graded yet."""
    labs = graded_labs(course)
    if not labs:
        raise InputError(f"nothing graded yet in {course.records}: run `coldbench grade LAB`")
    return [_line(course, one) for lab in labs for one in standings(course, lab)]


def _line(course: Course, one: Standing) -> dict[str, Any]:
    record = one.record
    path = course.records / record.lab / f"{record.learner}.json"
    graded_at = datetime.fromtimestamp(path.stat().st_mtime, UTC) if path.is_file() else None
    percent = 100 * one.total / one.points if one.points else 0.0
    return {"learner": record.learner, "lab": record.lab, "points": round(one.total, 3),
            "maximum": round(one.points, 3), "percent": round(percent, 2),
            "late_hours": round(record.late_seconds / 3600, 2), "needs_hand": len(one.waiting),
            "graded_at": graded_at.isoformat(timespec="seconds") if graded_at else "",
            "course": course.code}


def widen(lines: Iterable[dict[str, Any]]) -> tuple[list[str], list[dict[str, Any]]]:
    """Turn long lines into one line for each learner; returns (columns, lines)."""
    labs: dict[str, None] = {}
    learners: dict[str, dict[str, Any]] = {}
    for line in lines:
        labs[line["lab"]] = None
        row = learners.setdefault(line["learner"], {"learner": line["learner"]})
        row[line["lab"]] = line["points"]
    rows = [learners[who] for who in sorted(learners)]
    return ["learner", *labs], [{"learner": None, **dict.fromkeys(labs), **row} for row in rows]


def to_csv(columns: Sequence[str], lines: Iterable[dict[str, Any]]) -> str:
    """Write lines as CSV text with a header."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([inert(name) for name in columns])
    for line in lines:
        values = [line.get(name) for name in columns]
        writer.writerow([inert(v) if isinstance(v, str) else "" if v is None else v
                         for v in values])
    return stream.getvalue()


def form_of(path: Path, form: str | None) -> str:
    """Settle the form of a file [form: as asked for, or None: as its name ends].

    >>> form_of(Path("marks.json"), None), form_of(Path("marks"), None)
    ('json', 'csv')
    """
    ending = path.suffix.lower().removeprefix(".")
    if form is None:
        form = "json" if ending == "json" else "csv"
        if ending in _SPREADSHEETS:
            raise InputError(f"{path.name} would be no {ending} file; spreadsheets open csv: "
                             f"name it {path.with_suffix('.csv').name}")
    if form not in FORMATS:
        raise InputError(f"format {form!r} is not one of {', '.join(FORMATS)}")
    return form


def export_marks(course: Course, path: Path, form: str | None = None, wide: bool = False) -> int:
    """Write the marks of a course into a file; returns the number of lines.

    form ["csv", "json" or None: as the file's name ends]; wide [one line for each learner].
    Raises InputError for another form, when nothing is graded, or when the file cannot be
    written.
    """
    form = form_of(path, form)
    if not path.absolute().parent.is_dir():
        raise InputError(f"{path} cannot be written: there is no folder {path.parent}")
    columns, lines = list(COLUMNS), marks_of(course)
    if wide:
        columns, lines = widen(lines)
    text = (to_csv(columns, lines) if form == "csv"
            else json.dumps(lines, ensure_ascii=False, indent=1) + "\n")
    try:
        write_atomically(path, text)
    except OSError as error:
        raise InputError(f"{path} cannot be written: {error.strerror or error}") from None
    return len(lines)


def left_out(course: Course) -> list[str]:
    """Record files that could not be read, as lab/file: their marks are not in the export."""
    return [f"{lab}/{name}" for lab in graded_labs(course)
            for name in unreadable_records(course, lab, _readable(course, lab))]


def not_final(course: Course) -> int:
    """Count the answers of all labs that a person still has to mark."""
    return sum(line["needs_hand"] for line in marks_of(course))


def without_submission(course: Course) -> list[str]:
    """Marks whose submission no longer lies on the desk, as lab/learner.

    A folder that was renamed leaves such marks behind. None when the desk was cleared.
    """
    if not any(course.submitted.glob("*/*")):
        return []
    return [f"{one.record.lab}/{one.record.learner}" for lab in graded_labs(course)
            for one in _readable(course, lab)
            if not (course.submitted / one.record.learner / lab).is_dir()]


def _readable(course: Course, lab: str) -> list[Standing]:
    from coldbench.grading.record import load_all
    from coldbench.grading.report_marks import settle

    return [settle(record) for record in load_all(course.records, lab)]
