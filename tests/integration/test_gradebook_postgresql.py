"""The gradebook in PostgreSQL: the same marks, several people at once, moving it there and back.

A server of the tests' own is started once; without PostgreSQL these tests are skipped.
"""

import dataclasses
import os
import subprocess
import sys
import threading

import pytest
from sqlalchemy import text

from coldbench.cli import main
from coldbench.errors import InputError
from coldbench.grading.book import Book
from coldbench.grading.book_copy import copy_gradebook, count_rows
from coldbench.grading.course import find_course
from coldbench.grading.database import database_address, make_engine, spoken_address
from coldbench.grading.gradebook import open_gradebook, quiet
from coldbench.grading.report_marks import standings

LEARNERS = {"ml-01": {}, "ml-02": {"answer-superheat": "pass"}, "ml-03": {"written": "Because."}}


@pytest.fixture
def coldbench(served, capsys):
    """Runs a command in the course; gives (status, what it printed, its errors)."""
    def run(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main([*words, "--course", str(served.root)])
        shown = capsys.readouterr()
        return end.value.code or 0, shown.out, shown.err
    return run


@pytest.fixture(scope="module")
def served(cluster, new_desk, level):
    """A small class graded into PostgreSQL; the address stands in course.toml."""
    desk = new_desk()
    desk.address = cluster.new_database()
    settings = desk.course.desk / "course.toml"
    settings.write_text(f'gradebook = "{desk.address}"\n' + settings.read_text("utf-8"))
    desk.course = find_course(desk.root)
    (desk.course.desk / "gradebook.db").unlink()
    for learner, changes in LEARNERS.items():
        desk.submit(learner, changes)
    desk.outcome = desk.grade(level)
    return desk


def test_marks_are_those_of_sqlite(served, level):
    for learner in LEARNERS:
        found = served.book(learner)
        assert {name: found[name][0] for name in served.full} == served.scores(learner)
    assert served.scores("ml-01") == served.full
    assert not (served.course.desk / "gradebook.db").exists()
    assert served.grade(level).records == []


def test_the_password_is_never_shown(served, cluster, coldbench):
    _, shown, _ = coldbench("gradebook", "show")
    assert "PostgreSQL" in shown and "grader:***@" in shown
    assert "small-lab: 3 graded submissions, 1 answer to mark by hand" in shown
    wrong = cluster.address("nowhere", password="secret-word")
    for words in (["show", "--gradebook", wrong], ["copy", wrong, "x.db"]):
        status, shown, said = coldbench("gradebook", *words)
        assert status == 2 and "cannot be used" in said and len(said.splitlines()) == 1
        assert "secret-word" not in shown + said
    kept = [path for path in served.course.desk.rglob("*") if path.is_file()
            and path.name != "course.toml" and b"blue%25bench" in path.read_bytes()]
    assert kept == []


def test_nbgraders_own_commands_use_it(served):
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", "db", "student", "list"], capture_output=True,
        cwd=served.course.desk, text=True, timeout=120,
        env=os.environ | {"PYTHONWARNINGS": "ignore"})
    assert done.returncode == 0, done.stderr
    assert all(learner in done.stdout for learner in LEARNERS)


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_an_older_gradebook_is_named_and_upgraded(served, cluster, coldbench, tmp_path, kind):
    """The tables as they were one version ago, with learners but no labs yet."""
    text_ = str(tmp_path / "old.db") if kind == "sqlite" else cluster.new_database()
    address = database_address(text_, tmp_path)
    with quiet(), open_gradebook(dataclasses.replace(served.course, gradebook=address)) as book:
        book.add_student("ml-01")
    engine = make_engine(address)
    with engine.begin() as connection:
        connection.execute(text("DROP TABLE assignment" + " CASCADE" * (kind != "sqlite")))
        connection.execute(text("DROP TABLE course"))
        connection.execute(text("CREATE TABLE assignment (id VARCHAR(32) PRIMARY KEY, "
                                "name VARCHAR(128) NOT NULL UNIQUE, duedate TIMESTAMP)"))
        connection.execute(text("UPDATE alembic_version SET version_num = '282d30a0218e'"))
    engine.dispose()
    words = ["--gradebook", text_]
    status, _, said = coldbench("gradebook", "show", *words)
    assert status == 2 and "coldbench gradebook upgrade" in said
    status, _, said = coldbench("gradebook", "upgrade", *words)
    assert status == 0, said
    assert len(list(tmp_path.glob("old.db.*"))) == (kind == "sqlite")
    _, shown, said = coldbench("gradebook", "show", *words)
    assert "learners   1\n" in shown, said


def test_marks_by_hand_while_grading_runs_are_both_kept(served, level):
    """A teacher marks through the form while the class is graded again, over and over."""
    rounds, failures = 2, []
    stop = threading.Event()

    def mark_by_hand():
        given = 0.0
        while not stop.is_set():
            given = (given + 0.5) % 3.5
            with quiet(), open_gradebook(served.course) as book:
                grade = book.find_grade("written", "small-lab", "small-lab", "ml-03")
                grade.manual_score, grade.needs_manual_grade = given, False
                book.find_comment("written", "small-lab", "small-lab",
                                  "ml-03").manual_comment = f"given {given}"
                book.db.commit()
            mark_by_hand.last = given
            if served.book("ml-03")["written"][1] != given:
                failures.append(given)

    teacher = threading.Thread(target=mark_by_hand)
    teacher.start()
    try:
        for _ in range(rounds):
            served.grade(level, force=True)
    finally:
        stop.set()
        teacher.join()
    assert failures == []
    assert served.book("ml-03")["written"][1] == mark_by_hand.last
    assert served.scores("ml-03") == served.full
    (one,) = standings(served.course, "small-lab", "ml-03")
    assert one.total == 9 + mark_by_hand.last


def test_moved_there_and_back_it_is_the_same(served, cluster, coldbench, tmp_path):
    first = str(tmp_path / "first.db")
    start = database_address(served.address, tmp_path)
    there = database_address(first, tmp_path)
    rows = copy_gradebook(start, there)
    assert rows["grade"] == 4 * len(LEARNERS) and rows["student"] == len(LEARNERS)
    back = database_address(cluster.new_database(), tmp_path)
    status, shown, said = coldbench("gradebook", "copy", first, back)
    assert status == 0, said
    assert "all are the same" in shown and "%bench" not in shown and "%25bench" not in shown
    assert count_rows(back) == count_rows(there) == rows
    moved = dataclasses.replace(served.course, gradebook=back)
    with quiet(), open_gradebook(moved) as book, open_gradebook(served.course) as old:
        for learner in LEARNERS:
            find = ("small-lab", "small-lab", learner)
            assert ({g.id: (g.name, g.auto_score, g.manual_score, g.needs_manual_grade)
                     for g in book.find_submission_notebook(*find).grades}
                    == {g.id: (g.name, g.auto_score, g.manual_score, g.needs_manual_grade)
                        for g in old.find_submission_notebook(*find).grades})
    with pytest.raises(InputError, match="is not empty .* add --replace"):
        copy_gradebook(there, back)
    assert copy_gradebook(there, back, replace=True) == rows


def test_a_row_that_does_not_fit_stops_the_copy_whole(served, cluster, tmp_path):
    file = database_address("wide.db", tmp_path)
    copy_gradebook(database_address(served.address, tmp_path), file)
    with quiet(), open_gradebook(dataclasses.replace(served.course, gradebook=file)) as book:
        book.update_or_create_student("ml-04", email="x" * 200)  # SQLite takes any length
    target = database_address(cluster.new_database(), tmp_path)
    empty = count_rows(target)
    with pytest.raises(InputError, match="too long") as refusal:
        copy_gradebook(file, target)
    assert "\n" not in str(refusal.value) and cluster.password not in str(refusal.value)
    assert count_rows(target) == empty


def test_two_programs_may_make_the_tables_at_once(served, cluster):
    course = dataclasses.replace(served.course, gradebook=cluster.new_database())
    troubles = []

    def make():
        try:
            with quiet(), open_gradebook(course) as book:
                assert book.students == []
        except Exception as error:  # whatever it is, the test shows it
            troubles.append(error)

    threads = [threading.Thread(target=make) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert troubles == []


def test_an_address_of_another_kind_is_refused(tmp_path):
    with pytest.raises(InputError, match="cannot be kept in 'mysql'"):
        database_address("mysql://ann:secret-word@db/x", tmp_path)
    with pytest.raises(InputError, match="cannot be read") as refusal:
        database_address("postgresql://ann:secret-word@db:port/x", tmp_path)
    assert "secret-word" not in str(refusal.value)
    assert "secret" not in spoken_address("postgresql+psycopg://ann@db/x?password=secret")


def test_a_database_without_an_encoding_keeps_every_letter(cluster, tmp_path, coldbench):
    """What initdb makes where the system names no language, common on servers."""
    bare = cluster.new_database("ENCODING 'SQL_ASCII' LOCALE 'C' TEMPLATE template0")
    learner = "Jörg Müller – 7"
    with open_gradebook_at(str(tmp_path / "book.db"), tmp_path) as book:
        book.add_student(learner)
    assert coldbench("gradebook", "copy", str(tmp_path / "book.db"), bare)[0] == 0
    with open_gradebook_at(bare, tmp_path) as book:
        assert [one.id for one in book.students] == [learner]


def open_gradebook_at(address: str, folder):
    """The gradebook at an address."""
    with quiet():
        return Book(database_address(address, folder))
