"""Five hundred submissions damaged at random: none stops the class, each gets a sentence.

All are read and rebuilt. Those of which cells are left are run and marked too: as many as
`RUN` says, since each takes a fork of the warmed worker and the marking of it.
"""

import json
import random

import pytest

from coldbench.grading.intake import read_submission
from coldbench.grading.limits import Limits
from coldbench.grading.rebuild import rebuild

COUNT, RUN, SEED = 500, 500, 20261204
UNDAMAGED = ("ml-01", "ml-02", "ml-03")
LEAST_READABLE, LEAST_UNREADABLE = 100, 100


def flip_bytes(data: bytes, r: random.Random) -> bytes:
    hurt = bytearray(data)
    for _ in range(r.choice((1, 3, 20, 400))):
        hurt[r.randrange(len(hurt))] = r.randrange(256)
    return bytes(hurt)


def cut(data: bytes, r: random.Random) -> bytes:
    return data[: r.randrange(len(data))]


def drop_piece(data: bytes, r: random.Random) -> bytes:
    start = r.randrange(len(data))
    return data[:start] + data[start + r.randrange(1, 2_000):]


def double_piece(data: bytes, r: random.Random) -> bytes:
    start = r.randrange(len(data))
    return data[:start] + data[start:start + 500] + data[start:]


def other_encoding(data: bytes, r: random.Random) -> bytes:
    name = r.choice(("utf-16", "utf-16-le", "utf-32", "utf-8-sig"))
    return data.decode().encode(name)


def something_else(data: bytes, r: random.Random) -> bytes:
    return r.choice((b"", b"\0" * 5_000, b"PK\x03\x04" + data[:300], b"<html></html>", b"[]",
                     b"null", b"{}", b"7", b'"cells"', b"[" * 50_000, b'{"cells":' * 20_000,
                     b'{"cells": [1e999, NaN, {"a": []}]}', r.randbytes(4_000)))


ODD = (None, 7, -1.5, True, "", "x", [], {}, [[]], {"a": 1}, ["a", 1], "\ud800", "\u202e", 10**400)


def odd_values(data: bytes, r: random.Random) -> bytes:
    """Put values of other types anywhere into the tree."""
    tree = json.loads(data)
    for _ in range(r.choice((1, 2, 6))):
        place = tree
        while True:
            keys = (list(place) if isinstance(place, dict) else range(len(place)))
            if not keys:
                break
            key = r.choice(list(keys))
            inner = place[key]
            if isinstance(inner, (dict, list)) and inner and r.random() < 0.75:
                place = inner
                continue
            place[key] = r.choice(ODD)
            break
    return json.dumps(tree).encode()


def cells_moved(data: bytes, r: random.Random) -> bytes:
    tree = json.loads(data)
    cells = tree["cells"]
    for _ in range(r.choice((1, 3, 10))):
        what = r.randrange(4)
        place = r.randrange(len(cells)) if cells else 0
        if what == 0 and cells:
            del cells[place]
        elif what == 1 and cells:
            cells.insert(place, json.loads(json.dumps(r.choice(cells))))
        elif what == 2:
            r.shuffle(cells)
        elif cells:
            cells[place] = r.choice(ODD)
    return json.dumps(tree).encode()


def metadata_changed(data: bytes, r: random.Random) -> bytes:
    tree = json.loads(data)
    for cell in tree["cells"]:
        if r.random() < 0.4:
            grader = cell["metadata"].get("nbgrader") or {}
            key = r.choice(("grade_id", "points", "grade", "solution", "locked",
                            "schema_version", "cell_type"))
            if r.random() < 0.3:
                grader.pop(key, None)
            else:
                grader[key] = r.choice((*ODD, "learner", "setup", "check-words", 99))
            cell["metadata"]["nbgrader"] = grader if r.random() < 0.8 else r.choice(ODD)
    tree["metadata"] = r.choice((tree["metadata"], {}, None, 7))
    tree["nbformat"] = r.choice((4, 3, 5, "4", None))
    return json.dumps(tree).encode()


DAMAGES = (flip_bytes, cut, drop_piece, double_piece, other_encoding, something_else, odd_values,
           cells_moved, metadata_changed)


@pytest.fixture(scope="module")
def damaged(new_desk):
    """A desk with three honest notebooks, and (name, how, bytes, what is read) of 500 damaged."""
    desk = new_desk()
    data = json.dumps(desk.notebook(desk.reference), indent=1).encode()
    found = []
    for number in range(COUNT):
        r = random.Random(SEED + number)
        how = DAMAGES[number % len(DAMAGES)]
        hurt = how(data, r)
        found.append((f"hurt-{number:03d}", how.__name__, hurt, hurt == data))
    return desk, found


def test_each_is_read_and_rebuilt_and_what_is_lost_is_said(damaged):
    desk, found = damaged
    readable, unreadable = 0, 0
    released = {cell["id"]: cell.source for cell in desk.lab.released.cells}
    for name, how, data, same in found:
        submission = read_submission(data, Limits())
        notebook, repairs = rebuild(desk.lab, submission)
        said = [*submission.repairs, *repairs]
        readable += bool(submission.cells)
        unreadable += not submission.cells
        assert all(sentence.endswith(".") and "\n" not in sentence for sentence in said), name
        locked = {c["id"]: c.source for c in notebook.cells if c["id"] in released
                  and c.metadata.get("nbgrader", {}).get("locked")}
        assert locked == {cell: released[cell] for cell in locked}, name
        answers = {c.metadata.nbgrader.grade_id: c.source for c in notebook.cells
                   if "nbgrader" in c.metadata}
        lost = [cell for cell, source in desk.reference.items()
                if not answers[cell].strip() or answers[cell] == released[cell]]
        if lost or not submission.cells:
            assert said or same, (name, how, lost)
        json.dumps([c.source for c in notebook.cells], ensure_ascii=False).encode()
    assert readable >= LEAST_READABLE and unreadable >= LEAST_UNREADABLE


@pytest.fixture(scope="module")
def graded(damaged, level):
    """The honest, all the unreadable, and RUN of the readable in one class, graded."""
    desk, found = damaged
    for learner in UNDAMAGED:
        desk.submit(learner)
    readable = [item for item in found if read_submission(item[2], Limits()).cells]
    run = random.Random(SEED).sample(readable, min(RUN, len(readable)))
    unreadable = [item for item in found if item not in readable]
    class_ = sorted([*run, *unreadable])
    for name, _, data, _ in class_:
        desk.submit(name, data=data)
    desk.outcome = desk.grade(level, workers=2)
    return desk, class_


def test_none_stops_the_class(graded):
    desk, class_ = graded
    assert desk.outcome.refused == [] and desk.outcome.failed == []
    assert len(desk.outcome.graded) == len(class_) + len(UNDAMAGED)
    for learner in UNDAMAGED:
        assert desk.scores(learner) == desk.full
        assert desk.record(learner).repairs == desk.record(learner).notices == ()
        assert {n: desk.book(learner)[n][0] for n in desk.full} == desk.full


def test_each_gets_a_sentence_for_every_mark_it_lost(graded):
    desk, class_ = graded
    full, unanswered = 0, 0
    for name, how, data, _ in class_:
        record = desk.record(name)
        lost = [cell for cell in record.cells if cell.kind == "checked"
                and cell.score != desk.full[cell.grade_id]]
        full += not lost
        assert all(cell.score is not None and 0 <= cell.score <= cell.points and not cell.trouble
                   for cell in record.cells if cell.kind == "checked"), (name, how)
        for cell in lost:
            assert all(mark.reason for mark in cell.marks) and cell.marks, (name, how)
        if not read_submission(data, Limits()).cells:
            unanswered += 1
            assert record.repairs and record.score == 0, (name, how)
    assert full > 5 and unanswered > LEAST_UNREADABLE
