"""A second grading does only what changed; the gate refuses labs that are not right."""

import shutil
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from coldbench.errors import InputError
from coldbench.grading.build import build
from coldbench.grading.course import find_course
from coldbench.grading.driver import grade_lab
from coldbench.grading.gradebook import open_gradebook, quiet
from coldbench.grading.job import released_manifest


@pytest.fixture
def graded(desk, level):
    for learner in ("ml-01", "ml-02", "ml-03"):
        desk.submit(learner)
    desk.grade(level)
    return desk


def regraded(desk, level, **options) -> set[str]:
    """Who was graded in another call."""
    return {record.learner for record in desk.grade(level, **options).records}


def test_what_is_unchanged_is_kept(graded, level):
    before = {name: graded.book(name) for name in ("ml-01", "ml-02", "ml-03")}
    assert regraded(graded, level) == set()
    assert {name: graded.book(name) for name in before} == before


def test_only_what_changed_is_graded_again(graded, level):
    graded.submit("ml-02", {"answer-superheat": "pass"})
    assert regraded(graded, level) == {"ml-02"}
    assert graded.scores("ml-02")["check-superheat"] == 0
    assert graded.scores("ml-01") == graded.full


@pytest.mark.parametrize("harm", ["record damaged", "record gone", "notebook gone"])
def test_what_was_lost_is_made_again(graded, level, harm):
    record = graded.course.records / "small-lab" / "ml-03.json"
    if harm == "record damaged":
        record.write_text('{"lab": ')
    elif harm == "record gone":
        record.unlink()
    else:
        shutil.rmtree(graded.course.desk / "autograded" / "ml-03")
    assert regraded(graded, level) == {"ml-03"}
    assert graded.scores("ml-03") == graded.full


def test_a_changed_lab_is_graded_anew(graded, level):
    source = graded.course.source / "small-lab" / "small-lab.md"
    source.write_text(source.read_text().replace('within="0.5 K",', 'within="0.6 K",', 1))
    assert regraded(graded, level) == {"ml-01", "ml-02", "ml-03"}


def test_force_grades_everything(graded, level):
    assert regraded(graded, level, force=True) == {"ml-01", "ml-02", "ml-03"}


WRONG = {  # what is spoilt in the lab's source → words of the refusal
    "the key": ('sheet.mark("which column", "dew")', 'sheet.mark("which column", "bubble")',
                "the reference answer of 'check-words' earns"),
    "the untouched notebook": ("superheat = ...", "superheat = undefined_name + 1",
                               "does not run to its end|reference answer"),
    "an untouched answer": ("column = order = chart = ...",
                            'column = order = chart = ...\nsheet.answer("superheat", 1, "K")\n'
                            'sheet.answer("which column", "dew")',
                            "earns points|reference answer"),
    "points": ("points: 3, schema_version: 3, task: false}\n---\nsheet.preview",
               "schema_version: 3, task: false}\n---\nsheet.preview", "graded but has no points"),
    "a region": ("### END HIDDEN TESTS\n```\n", "```\n", "hidden"),
}


@pytest.mark.parametrize("what", WRONG)
def test_the_gate_refuses(desk, level, what):
    old, new, words = WRONG[what]
    source = desk.course.source / "small-lab" / "small-lab.md"
    text = source.read_text()
    assert old in text
    source.write_text(text.replace(old, new, 1))
    released = (desk.course.release / "small-lab" / "small-lab.ipynb").read_bytes()
    with pytest.raises(InputError, match=words) as refusal:
        build(find_course(desk.root), [], level, say=lambda line: None)
    assert "\n" not in str(refusal.value)
    assert (desk.course.release / "small-lab" / "small-lab.ipynb").read_bytes() == released


def test_the_gate_wants_seeded_mistakes_called_by_name(desk, level):
    seeds = desk.course.source / "small-lab" / "mistakes.toml"
    seeds.write_text(seeds.read_text().replace('"took gauge for absolute"', '"another name"', 1))
    with pytest.raises(InputError, match="expected 'another name'"):
        build(find_course(desk.root), [], level, say=lambda line: None)


def mark_by_hand(desk, learner, grade_id, score):
    """Give a mark as nbgrader's form does."""
    with quiet(), open_gradebook(desk.course) as book:
        grade = book.find_grade(grade_id, desk.lab_name, desk.lab_name, learner)
        grade.manual_score, grade.needs_manual_grade = score, False
        book.db.commit()


def test_a_mark_by_hand_stays_settled_while_its_answer_is_the_same(graded, level):
    written = {"written": "Because the vapour is warmer than the boiling point."}
    graded.submit("ml-01", written)
    graded.grade(level)
    mark_by_hand(graded, "ml-01", "written", 2.0)
    mark_by_hand(graded, "ml-01", "check-superheat", 1.5)
    graded.submit("ml-01", {**written, "answer-words": "pass"})
    assert regraded(graded, level) == {"ml-01"}
    assert graded.book("ml-01")["written"] == (None, 2.0, False)
    assert graded.book("ml-01")["check-superheat"] == (2.0, 1.5, False)
    graded.submit("ml-01", {"written": "I changed my mind.", "answer-superheat": "pass"})
    assert regraded(graded, level) == {"ml-01"}
    assert graded.book("ml-01")["written"] == (None, 2.0, True)
    assert graded.book("ml-01")["check-superheat"] == (0.0, 1.5, True)


def test_a_due_date_moved_reaches_the_gradebook(graded, level):
    for due in ("2026-12-04T17:00:00+01:00", "2026-12-05T18:30:00Z"):
        moved = replace(graded.course, due={graded.lab_name: datetime.fromisoformat(due)})
        grade_lab(moved, graded.lab_name, level)
        with quiet(), open_gradebook(moved) as book:
            held = book.find_assignment(graded.lab_name).duedate.replace(tzinfo=UTC)
        assert held == datetime.fromisoformat(due)


def test_another_code_than_was_handed_out_is_refused(graded, level):
    folder = graded.course.release / graded.lab_name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "lab.toml").write_bytes(released_manifest(graded.lab))
    assert regraded(graded, level) == set()
    other = replace(graded.course, code="another-term")
    with pytest.raises(InputError, match="put the code back"):
        grade_lab(other, graded.lab_name, level)
    (folder / "lab.toml").unlink()
    assert len(grade_lab(other, graded.lab_name, level).records) == 3
