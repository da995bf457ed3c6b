"""A journal's way through grading: the file that was handed in counts, and only what it proves."""

import json
import shutil
from pathlib import Path

import pytest

from coldbench.grading.build import build
from coldbench.grading.course import find_course
from coldbench.grading.demo_work import Habit, handed_in, journal_handed_in
from coldbench.grading.driver import grade_lab
from coldbench.grading.feedback import write_class
from coldbench.grading.gate import reference_answers, submission_bytes
from coldbench.grading.lab import open_lab
from coldbench.grading.record import from_json
from coldbench.worksheet import Worksheet, channel
from coldbench.worksheet.entries import Owner, check_lines
from coldbench.worksheet.journal import JOURNAL_FILE

LAB = "meter-lab"
CODE = {"answer-measurements": 'sheet.answer_journal("measurements")'}  # measured at the panel
AGAIN = {"answer-measurements": 'bench.set("low")\nbench.measure(3, 4)\nbench.measure(5, 6)\n'
                                'sheet.answer_journal("measurements")'}


@pytest.fixture(scope="module")
def course(tmp_path_factory, level):
    """The course, built through its gate."""
    root = tmp_path_factory.mktemp("journal") / "course"
    shutil.copytree(Path(__file__).parent / "journal_course", root)
    course = find_course(root)
    (course.source / LAB / JOURNAL_FILE).write_text("the author's own, tried out\n", "utf-8")
    build(course, [], level, say=lambda line: None)
    return course


def journal_of(course, learner, folder, measure=lambda bench: None) -> str:
    """What a learner's journal holds after she has measured in her own folder."""
    shutil.copytree(course.release / LAB, folder / learner / LAB)
    sheet = Worksheet.open(LAB, learner, folder / learner / LAB)
    bench = sheet.bench("three-relay-fans",
                        faults=[f"K1:contacts_burnt={sheet.case.contacts_ohm}"])
    bench.set("low")
    bench.measure(3, 4)
    bench.measure(5, 6)
    measure(bench)
    return (folder / learner / LAB / JOURNAL_FILE).read_text("utf-8")


def edited(journal: str) -> str:
    """The journal with another reading in its second measurement."""
    lines = journal.splitlines()
    reading = json.loads(lines[2])["reading"]
    lines[2] = lines[2].replace(f'"reading": {reading}', f'"reading": {reading + 1.5}')
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def graded(course, level, tmp_path_factory):
    """Records of a class that handed in journals of many kinds [learner → record]."""
    folder = tmp_path_factory.mktemp("own")
    own = {name: journal_of(course, name, folder) for name in ("ml-01", "ml-02", "ml-03")}
    refused = journal_of(course, "ml-06", folder, lambda b: b.measure(3, 4, mode="ohm"))
    work = {
        "ml-01": (CODE, own["ml-01"]), "ml-02": (CODE, edited(own["ml-02"])),
        "ml-03": (AGAIN, own["ml-01"]), "ml-04": (AGAIN, None), "ml-05": (CODE, None),
        "ml-06": (AGAIN, refused), "ml-07": (CODE, "\x00\nnonsense\n" * 3),
        "ml-08": (CODE, "x" * 3_000_000),
    }
    lab = open_lab(course, LAB)
    for learner, (cells, journal) in work.items():
        target = course.submitted / learner / LAB
        target.mkdir(parents=True)
        (target / f"{LAB}.ipynb").write_bytes(
            submission_bytes(lab, {**reference_answers(lab), **cells}))
        if journal is not None:
            (target / JOURNAL_FILE).write_text(journal, "utf-8")
    grade_lab(course, LAB, level)
    write_class(course, LAB)
    return {learner: from_json((course.records / LAB / f"{learner}.json").read_text("utf-8"))
            for learner in work}


def mark_of(record):
    """The mark of the journal."""
    return record.cells[0].marks[0]


def page(course, learner):
    """A learner's feedback."""
    return (course.desk / "feedback" / learner / LAB / f"{LAB}.html").read_text("utf-8")


def test_the_authors_own_journal_is_not_handed_out(course):
    assert not (course.release / LAB / JOURNAL_FILE).exists()


def test_an_honest_journal_of_panel_measurements_counts(course, graded):
    mark = mark_of(graded["ml-01"])
    assert (mark.share, mark.reason, mark.mistake) == (1.0, "Right.", "")
    assert graded["ml-01"].score == graded["ml-01"].points == 6
    assert "2 measurements (voltmeter 2)" in page(course, "ml-01")


def test_an_edited_reading_is_named_and_loses_its_part(course, graded):
    mark = mark_of(graded["ml-02"])
    assert mark.share == pytest.approx(0.5)
    assert mark.mistake == "journal changed by hand or damaged"
    assert "Line 3 of the journal was changed by hand" in mark.reason
    assert "the voltage of fan 1" in mark.reason
    assert "Line 3 of the journal was changed by hand" in page(course, "ml-02")


def test_anothers_journal_earns_nothing_even_if_the_cells_measure_again(course, graded):
    mark = mark_of(graded["ml-03"])
    assert (mark.share, mark.mistake) == (0.0, "another learner's journal")
    assert "learner &#39;ml-01&#39;" in page(course, "ml-03")


def test_without_a_file_the_measurements_of_the_cells_count_and_this_is_said(graded):
    mark = mark_of(graded["ml-04"])
    assert mark.share == 1.0 and "No journal file came with the notebook" in mark.reason
    assert mark_of(graded["ml-05"]).status == "missing"


def test_cells_that_measure_again_add_nothing_to_the_file(graded):
    mark = mark_of(graded["ml-06"])
    assert "3 measurements" in mark.answer and "1 of them refused" in mark.answer
    assert mark.mistake == "put the ohmmeter to a live circuit"
    assert mark.share == pytest.approx(0.9)


def test_a_file_of_nonsense_earns_nothing_and_stops_nobody(graded):
    for learner in ("ml-07", "ml-08"):
        mark = mark_of(graded[learner])
        assert mark.share == 0 and mark.reason.endswith(".") and len(mark.reason) < 700
        assert graded[learner].cells[1].score == 2.0
        assert not any(cell.trouble for cell in graded[learner].cells)


def test_the_table_of_measurements_stands_under_the_answer(course, graded):
    notebook = course.desk / "autograded" / "ml-01" / LAB / f"{LAB}.ipynb"
    assert "red K1.30, black K1.87" in notebook.read_text("utf-8")


def test_the_learners_own_folder_survives_a_restart(course, tmp_path):
    journal_of(course, "ml-09", tmp_path)
    folder = tmp_path / "ml-09" / LAB
    sheet = Worksheet.open(LAB, "ml-09", folder)  # a new kernel
    assert channel.assigned() == {} and len(sheet.journal.entries) == 2
    sheet.bench("three-relay-fans").measure(1, 2)
    assert [entry.n for entry in sheet.journal.entries] == [1, 2, 3]


def test_invented_learners_hand_journals_in(course, level):
    lab = open_lab(course, LAB)

    def lines(journal):
        habit = Habit("ml-08", 0, 1.0, "", journal=journal)
        made = journal_handed_in(lab, habit, handed_in(lab, habit, level), level)
        return None if made is None else made.decode().splitlines()

    def found(journal, learner="ml-08"):
        return check_lines(lines(journal), Owner("journal", LAB, learner))

    assert len(found("").entries) == 2 and not found("").troubles
    assert found("edited").damaged == (3,)
    assert found("neighbour's").foreign and len(found("neighbour's", "ml-07").entries) == 2
    assert lines("left behind") is None
