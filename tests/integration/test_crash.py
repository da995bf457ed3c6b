"""Grading cut short: killed, a full disk, two graders at once. A rerun comes to the same marks."""

import errno
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time

import nbformat
import pytest

from coldbench.errors import InputError
from coldbench.grading.collect import collect, manner_of
from coldbench.grading import record as record_module
from coldbench.grading.driver import Wish
from coldbench.grading.gradebook import graded_learners, open_gradebook, quiet
from coldbench.grading.lock import desk_lock, holder_of
from coldbench.grading.sandbox import LIMITS_ONLY

CLASS = {  # learner → what differs from the reference answers
    "ml-01": {}, "ml-02": {"answer-superheat": "pass"}, "ml-03": {"written": "Because."},
    "ml-04": {"answer-words": "1 / 0"},
}
KILLS = 10
GRADER = """
import sys
from coldbench.grading.course import find_course
from coldbench.grading.driver import grade_lab
print("ready", flush=True)
grade_lab(find_course(sys.argv[1]), "small-lab", sys.argv[2], workers=2)
"""


def grader(desk, level) -> subprocess.Popen:
    """Start grading in a process of its own, in a group that can be killed."""
    return subprocess.Popen([sys.executable, "-c", GRADER, str(desk.root), level],
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def all_marks(desk) -> dict:
    """Everything the gradebook, records and graded notebooks say, without ids and times."""
    found = {}
    for learner in CLASS:
        record = desk.record(learner)
        found[learner] = (desk.book(learner), record.key, record.cells, record.repairs,
                          desk.outputs(learner))
    with quiet(), open_gradebook(desk.course) as book:
        found["counts"] = (len(book.students), len(book.assignment_submissions("small-lab")))
    return found


def mark_by_hand(desk, learner, points):
    """Give a mark as nbgrader's form does."""
    with quiet(), open_gradebook(desk.course) as book:
        grade = book.find_grade("written", "small-lab", "small-lab", learner)
        grade.manual_score, grade.needs_manual_grade = points, False
        book.db.commit()


@pytest.fixture(scope="module")
def undisturbed(new_desk, level):
    """The class graded in one go, with a mark by hand, then one submission handed in again."""
    desk = new_desk()
    hand_in_and_mark(desk, level)
    desk.grade(level)
    return desk


def hand_in_and_mark(desk, level):
    desk.submit("ml-03", CLASS["ml-03"])
    desk.grade(level)
    mark_by_hand(desk, "ml-03", 2.0)
    for learner, changes in CLASS.items():
        desk.submit(learner, changes)
    desk.submit("ml-03", {**CLASS["ml-03"], "answer-superheat": "pass"})


def test_killed_ten_times_it_comes_to_the_same(undisturbed, new_desk, level):
    desk = new_desk()
    hand_in_and_mark(desk, level)
    moments = random.Random(20261204)
    cut_short, seconds = 0, 0.0
    for number in range(KILLS):
        if number % 3 == 0 and number:  # what was finished is to be done again
            desk.submit("ml-01", {"answer-superheat": f"pass  # {number}"})
        process = grader(desk, level)
        assert process.stdout.readline() == "ready\n"
        started = time.monotonic()
        try:
            process.wait(moments.uniform(0, seconds or 3.0))
        except subprocess.TimeoutExpired:
            cut_short += 1
        process.send_signal(signal.SIGKILL)
        process.communicate()
        seconds = max(seconds, time.monotonic() - started)
    assert cut_short >= KILLS // 2  # else nothing was tried
    desk.submit("ml-01", CLASS["ml-01"])
    outcome = desk.grade(level)
    assert len(outcome.notes) <= 1
    assert all_marks(desk) == all_marks(undisturbed)
    assert desk.book("ml-03")["written"] == (None, 2.0, False)
    assert desk.grade(level).graded == []


def steps_of_saving(monkeypatch, stop_at: int):
    """Let the program end abruptly at one step of writing: a commit, or a file put in place."""
    from coldbench.grading.book import _Session

    count = 0

    def counted(real):
        def call(*words, **named):
            nonlocal count
            count += 1
            if count == stop_at:
                raise KeyboardInterrupt
            result = real(*words, **named)
            return result
        return call

    monkeypatch.setattr(_Session, "commit", counted(_Session.commit))
    monkeypatch.setattr(os, "replace", counted(os.replace))


def test_cut_short_at_every_step_of_writing_it_comes_to_the_same(undisturbed, level, tmp_path,
                                                                 monkeypatch):
    """The one submission with a mark by hand is written anew, cut short at each step in turn."""
    from coldbench.grading.gradebook import open_writer
    from coldbench.grading.job import Graded

    root = shutil.copytree(undisturbed.root, tmp_path / "course")
    desk = type(undisturbed)(root)
    notebook = nbformat.reads(json.dumps(desk.graded_notebook("ml-03")), as_version=4)
    again = Graded(notebook, desk.record("ml-03"))
    for step in range(1, 40):
        with monkeypatch.context() as patch:
            try:
                with open_writer(desk.course, desk.lab) as writer:
                    steps_of_saving(patch, step)
                    writer.save(again)
                break
            except KeyboardInterrupt:
                pass
        with open_writer(desk.course, desk.lab) as writer:
            writer.save(again)
        assert all_marks(desk) == all_marks(undisturbed), step
    assert step > 5


def test_cut_short_in_the_middle_no_half_of_the_marks_is_in_the_gradebook(desk, monkeypatch):
    desk.submit("ml-01")
    desk.grade(LIMITS_ONLY)
    before = desk.book("ml-01")
    desk.submit_blank("ml-01")
    desk.submit("ml-02")

    def cut(*ignored):
        raise KeyboardInterrupt
    monkeypatch.setattr("coldbench.grading.gradebook.take_points_off", cut)  # after the scores
    for learner in ("ml-01", "ml-02"):
        with pytest.raises(KeyboardInterrupt):
            desk.grade(LIMITS_ONLY, wish=Wish(only=(learner,)))
    assert desk.book("ml-01") == before
    assert graded_learners(desk.course, "small-lab") == {"ml-01"}  # not even a row without marks


@pytest.mark.parametrize("place", ["records", "autograded", "grading.lock", "attempts"])
def test_what_stands_in_the_way_is_one_sentence(desk, level, place):
    desk.submit("ml-01", data=b"[]")
    path = desk.course.desk / place
    if place == "grading.lock":
        path.mkdir()
    else:
        path.write_text("a file where a folder should be")
    if place == "attempts":
        folder = desk.root / "export"
        shutil.copytree(desk.folder("ml-01"), folder / "ml-02" / "small-lab")
        (folder / "ml-02" / "small-lab" / "small-lab.ipynb").write_bytes(b"[ ]")

        def act():
            collect(desk.course, [folder], manner_of(desk.course))
    else:
        def act():
            desk.grade(level)
    with pytest.raises(InputError, match=f"{place}.* cannot be written: ") as refusal:
        act()
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("what", ["file", "database"])
def test_a_full_disk_is_one_sentence_and_no_mark_is_lost(undisturbed, level, tmp_path,
                                                         monkeypatch, what):
    desk = type(undisturbed)(shutil.copytree(undisturbed.root, tmp_path / "course"))
    before = all_marks(desk)
    if what == "file":
        def full(descriptor):
            raise OSError(errno.ENOSPC, "No space left on device")
        monkeypatch.setattr(record_module.os, "fsync", full, raising=True)
    else:
        from sqlalchemy import event
        from sqlalchemy.engine import Engine

        def small(connection, record):
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {pages}")
        event.listen(Engine, "connect", small)
    for number in range(40):
        desk.submit(f"new-{number:02d}", data=b"[]")
    try:
        with pytest.raises(InputError, match="the disk is full: .* make room") as refusal:
            desk.grade(level)
    finally:
        if what == "database":
            event.remove(Engine, "connect", small)
        monkeypatch.undo()
    assert "\n" not in str(refusal.value)
    assert {k: v for k, v in all_marks(desk).items() if k != "counts"} == {
        k: v for k, v in before.items() if k != "counts"}
    assert len(desk.grade(level).all_records) == len(CLASS) + 40
    assert not list(desk.course.desk.rglob(".*.json.*"))


def test_marks_by_hand_meanwhile_are_both_kept(undisturbed, level, tmp_path):
    """nbgrader's own gradebook writes into the same SQLite file while a class is graded."""
    from nbgrader.api import Gradebook

    desk = type(undisturbed)(shutil.copytree(undisturbed.root, tmp_path / "course"))
    graded = threading.Event()
    given, lost = [], []

    def mark():
        while not graded.is_set():
            points = (len(given) % 6) / 2
            with quiet(), Gradebook(desk.course.gradebook_url) as book:
                for learner in ("ml-01", "ml-03"):
                    grade = book.find_grade("written", "small-lab", "small-lab", learner)
                    grade.manual_score, grade.needs_manual_grade = points, False
                book.db.commit()
            given.append(points)
            lost.extend(who for who in ("ml-01", "ml-03") if desk.book(who)["written"][1] != points)

    teacher = threading.Thread(target=mark)
    teacher.start()
    try:
        outcome = desk.grade(level, force=True)
    finally:
        graded.set()
        teacher.join()
    assert len(outcome.graded) == len(CLASS) and len(given) > 2 and lost == []
    for learner in CLASS:
        assert desk.scores(learner) == undisturbed.scores(learner)
        assert {n: desk.book(learner)[n][0] for n in desk.full} == desk.scores(learner)


def test_two_graders_at_once(undisturbed, level, tmp_path):
    desk = type(undisturbed)(shutil.copytree(undisturbed.root, tmp_path / "course"))
    ready = ("import sys; from pathlib import Path; from coldbench.grading.lock import desk_lock\n"
             "with desk_lock(Path(sys.argv[1]), 'grading'):\n"
             "    print('held', flush=True); sys.stdin.readline()")
    other = subprocess.Popen([sys.executable, "-c", ready, str(desk.course.desk)], text=True,
                             stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert other.stdout.readline() == "held\n"
    with pytest.raises(InputError, match=rf"on {socket.gethostname()} \(process {other.pid}\), "
                                         r"since \d+ seconds ago, is grading at"):
        desk.grade(level)
    assert str(other.pid) in holder_of(desk.course.desk, "grading")
    other.send_signal(signal.SIGKILL)
    other.communicate()
    assert holder_of(desk.course.desk, "grading") == ""
    (note,) = desk.grade(level).notes
    assert f"(process {other.pid}) had begun" in note and "was cut short" in note
    assert not (desk.course.desk / "grading.lock").exists()
    assert desk.grade(level).notes == []


def test_a_lock_of_another_machine_is_respected(tmp_path):
    lock = tmp_path / "grading.lock"
    lock.write_text(json.dumps({"owner": "ann", "host": "dock-2", "pid": 7,
                                "since": time.time() - 7300}))
    with pytest.raises(InputError, match=r"ann on dock-2 \(process 7\) began grading here 2 hours "
                                         r"ago, .* delete .*grading\.lock"):
        with desk_lock(tmp_path, "grading"):
            pass
    assert lock.exists()
    lock.write_bytes(b"\x00 nonsense")
    with pytest.raises(InputError, match="somebody on .* began grading"):
        with desk_lock(tmp_path, "grading"):
            pass
    lock.unlink()
    with desk_lock(tmp_path, "grading"), pytest.raises(InputError, match="already"):
        with desk_lock(tmp_path, "grading"):
            pass
