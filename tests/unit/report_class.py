"""A small graded class for tests of feedback, report and export. All of it is invented.

Marks are made by the kit's own answer kinds, so they look as grading leaves them; only the
learners' slips are drawn here. Load it with `runpy` or importlib; it holds no tests.
"""

import base64
import json
import random
import struct
import zlib
from dataclasses import replace
from pathlib import Path

from coldbench.errors import InputError
from coldbench.grading.course import Course, read_course
from coldbench.grading.record import CellResult, Record, save
from coldbench.worksheet import Mistake, read_manifest
from coldbench.worksheet.marks import MALFORMED, MISSING, Mark

LAB = "rest-pressure"
MANIFEST = """
title = "A bench at rest"
order = 1
hours = 2
reveal = "{reveal}"
[[question]]
id = "room temperature"
kind = "quantity"
quantity = "temperature"
unit = "degC"
[[question]]
id = "low side absolute"
kind = "quantity"
quantity = "absolute pressure"
unit = "kPa"
[[question]]
id = "superheat"
kind = "quantity"
quantity = "temperature difference"
unit = "K"
[[question]]
id = "air in the system"
kind = "choice"
choices = ["yes", "no", "cannot be told"]
[[question]]
id = "chart"
kind = "table"
rows = ["A", "B", "C"]
[question.columns."saturation temperature"]
quantity = "temperature"
unit = "degC"
"""
COURSE = """
title = "Marsh Lane workshop"
code = "marsh-lane-test"
[due]
rest-pressure = 2026-12-04T17:00:00Z
"""
QUESTIONS = ("room temperature", "low side absolute", "superheat", "air in the system", "chart")


def make_course(root: Path, reveal: str = "after due date") -> Course:
    """Write a course folder with one lab and no submissions."""
    (root / "source" / LAB).mkdir(parents=True)
    (root / "source" / LAB / "lab.toml").write_text(MANIFEST.format(reveal=reveal), "utf-8")
    (root / "autograde").mkdir()
    (root / "autograde" / "course.toml").write_text(COURSE, "utf-8")
    return read_course(root)


def make_class(course: Course, learners: int = 24, seed: int = 7) -> list[Record]:
    """Grade an invented class: ml-01 … with slips, gaps, a copier and odd notebooks."""
    records = [make_record(course, f"ml-{n:02d}", random.Random(seed * 1000 + n), n)
               for n in range(1, learners + 1)]
    for record in records:
        save(record, course.records)
        write_notebook(course, record)
    return records


def keys_of(n: int) -> dict:
    """The right answers of learner number n [SI]."""
    spread = (n * 0.618034) % 1
    low = 250e3 + 400e3 * ((n * 0.414214) % 1)
    return {"room temperature": 288.15 + 20 * spread, "low side absolute": low,
            "superheat": 4 + 12 * ((n * 0.732051) % 1),
            "air in the system": "yes" if n % 3 else "no",
            "chart": {row: 268.15 + 30 * ((n * 0.236068 + i * 0.3) % 1)
                      for i, row in enumerate("ABC")}}


def make_record(course: Course, learner: str, dice: random.Random, n: int) -> Record:
    """Make one learner's record; weak learners slip and stop earlier."""
    ability = dice.random()
    stops = 5 if ability > 0.25 else dice.choice([2, 3, 4])
    keys, others = keys_of(n), keys_of(n - 1)
    cells = []
    for index, name in enumerate(QUESTIONS):
        answer = _answer(name, keys[name], dice, ability) if index < stops else ...
        if n == 9 and index in (0, 1, 2, 4):  # copies a neighbour's numbers
            answer = _written_like(name, others[name])
        cells.append(_checked(course, name, keys[name], answer))
    blank = stops < 5
    cells.append(CellResult("explain-air", "explain air", "written", 3.0, 0.0 if blank else None))
    notices = (("The notebook says it belongs to 'ml-12'; it was marked with the case of "
                "'ml-05'.",) if n == 5 else ())
    run = {"answer-superheat": "stopped: stopped after 20 s"} if n == 14 else {}
    return Record(course_lab_name(), learner, f"key-{n}", tuple(cells), notices=notices, run=run,
                  sandbox="bubblewrap", seconds=1.2, late_seconds=9_000.0 if n == 7 else 0.0,
                  submitted_at="2026-12-04T15:20:00+00:00")


def course_lab_name() -> str:
    """The lab's name."""
    return LAB


def _answer(name: str, key: object, dice: random.Random, ability: float) -> object:
    good = dice.random() < 0.25 + 0.75 * ability
    if name == "air in the system":
        return (key if good else dice.choice(["yes", "no", "cannot be told"]))
    if name == "chart":
        return {row: round(k - 273.15 + (0 if good or dice.random() < 0.5 else dice.uniform(-9, 9)),
                           1) for row, k in key.items()}
    if dice.random() < 0.05:
        return "five or so"
    if good:
        return _written_like(name, key)
    if name == "low side absolute":
        return (round(key / 1e3 - 101.3, 1), "kPa")
    if name == "superheat" and dice.random() < 0.5:
        return (round(-key, 1), "K")
    return _written_like(name, key + dice.uniform(3, 12) * (1e4 if key > 1e4 else 1))


def _written_like(name: str, key: object) -> object:
    if isinstance(key, dict):
        return {row: round(k - 273.15, 1) for row, k in key.items()}
    shown = {"room temperature": (-273.15, 1, "degC"), "low side absolute": (0, 1e-3, "kPa"),
             "superheat": (0, 1, "K")}.get(name)
    return (round((key + shown[0]) * shown[1], 1), shown[2]) if shown else key


def _checked(course: Course, name: str, key: object, answer: object) -> CellResult:
    question = read_manifest(course.source / LAB).question(name)
    grade_id = f"check-{name.replace(' ', '-')}"
    if answer is ...:
        mark = Mark(name, 0.0, MISSING, "Not answered.")
    else:
        value, unit = answer if isinstance(answer, tuple) else (answer, "degC")
        mark = mark_answer(question, key, value, unit)
    return CellResult(grade_id, name, "checked", 2.0, 2.0 * mark.share, (mark,))


def mark_answer(question: object, key: object, value: object, unit: str) -> Mark:
    """Mark an answer as grading does."""
    rules = {}
    if question.name == "low side absolute":
        rules = {"mistakes": {"took gauge for absolute": Mistake(
            key - 101_325, 0.25, "The chart wants absolute pressure: add the atmosphere.")},
            "within": "2 kPa"}
    elif question.name == "chart":
        rules = {"within": "0.5 K"}
    elif question.name != "air in the system":
        rules = {"within": "0.5 K"}
    try:
        read = question.read(value, unit)
    except InputError as error:
        return Mark(question.name, 0.0, MALFORMED, f"Could not be read: {error}.",
                    answer=str(value))
    return question.mark(read, key, **{"mistakes": {}, **rules})


def picture() -> str:
    """A small true PNG as base64."""
    def chunk(name: bytes, data: bytes) -> bytes:
        return (struct.pack(">I", len(data)) + name + data
                + struct.pack(">I", zlib.crc32(name + data)))

    rows = b"".join(b"\0" + bytes(120 if (x // 8 + y // 8) % 2 else 220 for x in range(240))
                    for y in range(64))
    return base64.b64encode(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 240, 64, 8, 0, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")).decode()


def cell(kind: str, source: str, grade_id: str, outputs: list | None = None,
         **grader: bool) -> dict:
    """One notebook cell with the kit's metadata."""
    made = {"cell_type": kind, "id": grade_id, "source": source, "metadata": {
        "nbgrader": {"grade_id": grade_id, "grade": False, "solution": False, "locked": True,
                     **grader}}}
    return {**made, "outputs": outputs or []} if kind == "code" else made


def printed(text: str) -> dict:
    """What a cell printed."""
    return {"output_type": "stream", "name": "stdout", "text": text}


def write_notebook(course: Course, record: Record, extra: list[dict] | None = None) -> Path:
    """Write the graded notebook of a record where grading leaves it."""
    setup = cell("code", "sheet = Worksheet.open('rest-pressure')", "setup", [
        {"output_type": "display_data", "data": {
            "text/html": "<b onclick='x()'>Case</b>",
            "text/plain": f"Case of {record.learner}\nlow side: 215 kPa   (case.low_kPa)"}}])
    setup["metadata"]["coldbench"] = {"role": "setup"}
    cells = [setup]
    for result in record.cells:
        if result.kind == "written":
            cells.append(cell("markdown", "Air raises the pressure **at rest**, because\n\n- it "
                              "does not condense\n- it takes room", result.grade_id, grade=True,
                              solution=True, locked=False))
            continue
        mark = result.marks[0]
        name = result.grade_id.replace("check", "answer")
        cells += [cell("code", f'value = {mark.answer!r}\nsheet.answer("{mark.question}", value)',
                       name, [printed(f"✓ {mark.question}: {mark.answer} is recorded.")],
                       solution=True, locked=False),
                  cell("code", "### BEGIN HIDDEN TESTS\nsheet.mark('SECRET-KEY')\n",
                       result.grade_id, [printed("SECRET-OUTPUT")], grade=True)]
    cells[3:3] = extra or []
    path = (course.desk / "autograded" / record.learner / record.lab / f"{record.lab}.ipynb")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"nbformat": 4, "nbformat_minor": 5, "metadata": {},
                                "cells": cells}), "utf-8")
    return path


def with_learner(record: Record, learner: str) -> Record:
    """The same record under another id."""
    return replace(record, learner=learner)
