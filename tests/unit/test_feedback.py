"""Feedback pages: what a learner sees, what she must not see yet, and that nothing in them runs."""

import json
import runpy
from datetime import UTC, datetime
from pathlib import Path

import pytest

from coldbench.errors import InputError
from coldbench.grading import feedback
from coldbench.grading.feedback_safe import one_line, safe_markdown, safe_picture, visible
from coldbench.grading.feedback_work import Shown, Work, without_echo
from coldbench.grading.question_labels import question_labels
from coldbench.grading.record import CellResult, Record, save
from coldbench.grading.report_marks import HandMark, HandMarks, settle
from coldbench.worksheet.marks import Mark

HERE = Path(__file__).parent
rc = runpy.run_path(str(HERE / "report_class.py"))
check_page = runpy.run_path(str(HERE / "report_pages_check.py"))["check_page"]

BEFORE, AFTER = datetime(2026, 12, 1, tzinfo=UTC), datetime(2026, 12, 5, tzinfo=UTC)
HOSTILE = ["<script>alert(1)</script>", "<img src=x onerror=alert(1)>",
           "</pre></code><svg/onload=x>",
           "\"><iframe src=javascript:alert(1)>", "' onmouseover='x", "{{ 7*7 }}{% raw %}",
           "javascript:alert(1)", "]]><!--", "\x1b]8;;http://x\x07link\x1b[0m", "\u202egnp.exe",
           "http://example.invalid/x.png", "&lt;script&gt;", "a" * 30_000, "\ud800"]


def page_of(course, record, now=AFTER, hand=None):
    notebook = feedback.graded_notebook(course, record.learner, record.lab)
    return feedback.feedback_page(course, settle(record, hand), notebook, now)


def one_record(*marks, **more):
    cells = tuple(CellResult(f"check-{i}", mark.question, "checked", 2.0, 2 * mark.share, (mark,))
                  for i, mark in enumerate(marks))
    return Record(rc["LAB"], more.pop("learner", "ml-01"), "k", cells + more.pop("cells", ()),
                  **more)


WRONG = Mark("superheat", 0.0, "wrong", "Not right.", answer="9 K", key="KEY-5.5 K")


@pytest.fixture
def course(tmp_path):
    return rc["make_course"](tmp_path)


def test_a_page_shows_the_learners_own_work_and_why(course):
    record = rc["make_class"](course)[15]
    named = next(c for c in record.cells if c.marks and c.marks[0].mistake)
    text = check_page(page_of(course, record)).text
    assert "A bench at rest" in text and record.learner in text
    assert f"Likely mistake: {named.marks[0].mistake}." in text
    assert "add the atmosphere" in text
    assert named.marks[0].answer in text and "Your work" in text
    assert f"Case of {record.learner}" in text


def test_no_instructors_cell_reaches_a_page(course):
    for record in rc["make_class"](course):
        page = page_of(course, record)
        for secret in ("SECRET", "HIDDEN", "sheet.mark", "tolerance"):
            assert secret not in page


@pytest.mark.parametrize(("reveal", "now", "due", "shown"), [
    ("at once", BEFORE, True, True), ("after due date", BEFORE, True, False),
    ("after due date", AFTER, True, True), ("after due date", AFTER, False, False),
    ("never", AFTER, True, False)])
def test_the_key_is_shown_only_when_the_lab_allows_it(tmp_path, reveal, now, due, shown):
    course = rc["make_course"](tmp_path, reveal)
    if not due:
        course.due.clear()
    page = page_of(course, one_record(WRONG), now)
    assert ("KEY-5.5" in page) is shown
    assert ("Right answers are shown after the due date, Fri 4 December 2026" in page) is (
        reveal == "after due date" and due and not shown)


def test_a_right_step_from_an_earlier_slip_says_so_and_shows_the_key(tmp_path):
    mark = Mark("a", 1.0, "right", "This step is right.", mistake="carried", answer="4 K",
                key="KEY-5.5 K")
    text = check_page(page_of(rc["make_course"](tmp_path, "at once"), one_record(mark))).text
    assert "This step is right." in text and "KEY-5.5" in text and "2 of 2 points" in text


def test_a_written_answer_waits_for_a_hand_and_then_shows_score_and_comment(course):
    written = (CellResult("explain", "explain air", "written", 3.0, None),)
    record = one_record(WRONG, cells=written)
    before = check_page(page_of(course, record)).text
    assert "to be marked by hand" in before and "0 of 3" not in before and "0.0" not in before
    assert "3 points, striped in the bar" in before
    hand = HandMarks({"explain": HandMark(None, 2.5, None, False, "Say what condenses.")})
    after = check_page(page_of(course, record, hand=hand)).text
    assert "2.5 of 3 points" in after and "Say what condenses." in after
    assert "to be marked by hand" not in after


def test_a_blank_written_answer_is_not_answered_rather_than_waiting(course):
    record = one_record(WRONG, cells=(CellResult("explain", "explain", "written", 3.0, 0.0),))
    text = check_page(page_of(course, record)).text
    assert "not answered" in text and "by hand" not in text


def test_a_mark_set_by_hand_counts_and_is_said(course):
    hand = HandMarks({"check-0": HandMark(0.0, 1.0, 0.5, False)}, late_penalty=0.25)
    text = check_page(page_of(course, one_record(WRONG), hand=hand)).text
    assert "1.5 of 2 points" in text and "set this mark by hand" in text
    assert "0.25 points were taken off" in text and "1.25 of 2 points" in text


def test_an_answer_graded_anew_after_marking_is_looked_at_again(course):
    hand = HandMarks({"explain": HandMark(None, 2.0, None, True)})
    record = one_record(WRONG, cells=(CellResult("explain", "explain", "written", 3.0, None),))
    assert "looked at again" in check_page(page_of(course, record, hand=hand)).text


def test_a_failed_check_is_not_the_learners_fault_and_leaks_nothing(course):
    failed = CellResult("check-x", "superheat", "checked", 2.0, 0.0, (),
                        "NameError in line 4: KEY-5.5")
    text = check_page(page_of(course, one_record(cells=(failed,)))).text
    assert "not your fault" in text and "KEY-5.5" not in text and "NameError" not in text


def test_stopped_cells_notices_repairs_and_lateness_are_told(course):
    record = one_record(WRONG, run={"answer-3": "stopped: stopped after 20 s", "a": "ok",
                                    "b": "error: NameError: no p"},
                        notices=("The notebook says it belongs to 'ml-02'.",),
                        repairs=("Cell 'x' was missing; an empty one was put back.",),
                        late_seconds=7800.0)
    text = check_page(page_of(course, record)).text
    assert "“answer-3” was stopped: stopped after 20 s. Is there a loop that never ends?" in text
    assert "NameError: no p" in text and "belongs to 'ml-02'" in text
    assert "'x' was missing" in text and "2 h 10 min late" in text


def test_the_dearest_questions_come_first(course):
    marks = [Mark(f"q{i}", share, "partly", f"reason {i}") for i, share in
             enumerate((0.5, 0.0, 0.9, 0.2, 1.0))]
    standing = settle(one_record(*marks))
    rows = [feedback._row(i, f"Question {i}", c, (), {}, False)
            for i, c in enumerate(standing.cells)]
    assert [row.title for row in feedback.look_at_first(rows)] == ["q1", "q3", "q0"]


def test_of_a_reason_of_many_lines_the_summary_holds_the_first_two(course):
    mark = Mark("bench 1", 0.4, "partly", "Shares.\nTwo causes are left.\nEntry 4 was dear.")
    (cell,) = settle(one_record(mark)).cells
    row = feedback._row(1, "Question 3", cell, (), {}, False)
    assert row.in_short == "Shares. Two causes are left."
    assert "Two causes are left.\nEntry 4 was dear." in page_of(course, one_record(mark))


def test_pictures_are_shown_and_other_outputs_are_inert(course):
    record = rc["make_class"](course, learners=1)[0]
    outputs = [
        {"output_type": "display_data", "data": {"image/png": rc["picture"](),
                                                 "text/plain": "<Figure>"}},
        {"output_type": "display_data", "data": {"text/html": "<script>HTML()</script>"}},
        {"output_type": "display_data", "data": {"image/svg+xml": "<svg onload='x'/>"}},
        {"output_type": "display_data", "data": {"image/png": "PHN2Zz4="}},
        {"output_type": "error", "ename": "<b>E", "evalue": "bad", "traceback": ["/secret/place"]},
        *[rc["printed"](text) for text in HOSTILE[:-1]]]
    rc["write_notebook"](course, record, [
        rc["cell"]("code", "\n".join(HOSTILE[:-1]), "answer-x", outputs, solution=True,
                   locked=False),
        {**rc["cell"]("markdown", "\n\n".join(HOSTILE[:6]) + "\n\n[a](javascript:b) ![p](http://q)"
                      " <http://auto.invalid>\n\n# Head\n\n```<x>\ncode\n```", "extra-1"),
         "metadata": {"coldbench": {"role": "extra"}}}])
    page = page_of(course, record)
    reader = check_page(page)
    assert page.count("data:image/png") == 1
    assert "HTML()" not in page and "/secret/place" not in page and "<Figure>" not in reader.text
    assert "<b>E: bad" in reader.text and "<script>alert(1)</script>" in reader.text


def test_hostile_text_anywhere_is_inert(course):
    for text in HOSTILE:
        text = text.encode("utf-8", "replace").decode()
        mark = Mark(text, 0.0, "wrong", text, mistake=text, answer=text, key=text)
        record = one_record(mark, learner="ml-01", notices=(text,), repairs=(text,),
                            run={text: f"error: {text}"}, submitted_at=text)
        hand = HandMarks({"check-0": HandMark(0.0, None, None, False, text)})
        check_page(page_of(course, record, hand=hand))


@pytest.mark.parametrize("learner", ["<script>x</script>".replace("/", "∕"), "ml 07", "学生-7",
                                     "' onload='x", "a" * 64, "javascript:x", "{{x}}"])
def test_odd_ids_make_inert_pages_in_their_own_folder(course, learner):
    path = feedback.write_feedback(course, one_record(WRONG, learner=learner))
    assert path == course.desk / "feedback" / learner / rc["LAB"] / f"{rc['LAB']}.html"
    check_page(path.read_text("utf-8"))


@pytest.mark.parametrize("learner", ["..", ".", "", "a/b", "a\\b"])
def test_an_id_that_leads_elsewhere_is_refused(course, learner):
    with pytest.raises(InputError, match="not the name of a folder"):
        feedback.write_feedback(course, one_record(WRONG, learner=learner))


@pytest.mark.parametrize("content", [None, "{", "[]", '{"cells": 5}', '{"cells": [5, {}]}',
                                     '{"cells": [{"cell_type": "code", "metadata": 3, "source": 9,'
                                     ' "outputs": [4, {"output_type": "stream", "text": 7}]}]}'])
def test_a_damaged_or_absent_notebook_costs_only_the_work_shown(course, content):
    record = one_record(WRONG)
    path = feedback.graded_notebook(course, record.learner, record.lab)
    if content is not None:
        path.parent.mkdir(parents=True)
        path.write_text(content, "utf-8")
    assert "0 of 2 points" in check_page(page_of(course, record)).text


def test_write_class_writes_everybody_or_one(course):
    rc["make_class"](course, learners=3)
    assert len(feedback.write_class(course, rc["LAB"])) == 3
    assert len(feedback.write_class(course, rc["LAB"], "ml-02")) == 1
    with pytest.raises(InputError, match="no graded submission of 'ml-99'"):
        feedback.write_class(course, rc["LAB"], "ml-99")


def test_nothing_graded_and_unknown_labs_are_said_in_a_sentence(course):
    with pytest.raises(InputError, match="nothing graded yet.*coldbench grade"):
        feedback.write_class(course, rc["LAB"])
    with pytest.raises(InputError, match="there is no lab 'nowhere'"):
        feedback.write_class(course, "nowhere")


def test_an_unwritable_place_is_said_in_a_sentence(course):
    save(one_record(WRONG), course.records)
    (course.desk / "feedback").write_text("a file, not a folder")
    with pytest.raises(InputError, match="cannot be written"):
        feedback.write_class(course, rc["LAB"])


def test_a_lab_taken_out_of_the_course_keeps_its_feedback(course):
    save(one_record(WRONG), course.records)
    (course.source / rc["LAB"] / "lab.toml").unlink()
    page = feedback.write_class(course, rc["LAB"])[0].read_text("utf-8")
    assert "KEY" not in page and rc["LAB"] in check_page(page).text


def test_safe_text():
    assert visible("a\x1b[1;31mb\x9b\x00\u2066c\u2069\td") == "abc d"
    assert "characters left out" in visible("x" * 10_000) and len(visible("x" * 10_000)) < 7_000
    assert one_line("a\n b\u202e\r c") == "a b c"


def test_safe_markdown_knows_no_links_pictures_or_attributes():
    made = safe_markdown("# H\n[x](javascript:y) ![p](http://q) `c`\n\n|a|b|\n|:-|-:|\n|1|2|\n\n"
                         "```js onload=x\nz\n```\n3. three\n\n[r]: http://x\n")
    for bad in ("href", "src", "style", "class=\"language", "<h1", "start="):
        assert bad not in made
    assert "<table>" in made and "<strong>" in safe_markdown("**b**")


def test_safe_picture_takes_only_png_of_sensible_size():
    good = rc["picture"]()
    assert safe_picture(good) == good and safe_picture([good[:40], good[40:]]) == good
    assert not any(map(safe_picture, ["", None, 5, "!!!", good[:20], "QUJD", "A" * 3_000_000]))
    assert not safe_picture(json.dumps({"x": good}))


def test_questions_bear_the_names_they_have_in_the_lab(course):
    record = rc["make_class"](course, learners=1)[0]
    cells = [cell.grade_id for cell in record.cells]
    assert question_labels(course, rc["LAB"], cells)[:2] == ["Question 1", "Question 2"]
    source = "".join(f"**{name}** How?\n+++ {{\"nbgrader\": {{\"grade_id\": \"{cell}\"}}}}\n"
                     for name, cell in zip(("Bench question A.", *["Question 9, again."] * 9),
                                           cells, strict=False))
    (course.source / rc["LAB"] / f"{rc['LAB']}.md").write_text(source, "utf-8")
    labels = question_labels(course, rc["LAB"], cells)
    assert labels == ["Bench question A", *["Question 9"] * (len(cells) - 1)]
    assert "Bench question A · " in check_page(page_of(course, record)).text
    counted = question_labels(course, rc["LAB"], [*cells, "unnamed"])
    assert counted[-1] == f"Question {len(cells) + 1}"


def test_the_worksheets_echo_is_not_shown_again():
    mine = "half: recorded as a joke"
    echo = ("✓ q (K): recorded as 9.9 K. The form is right; it is marked later.\n"
            f"{mine}\n· half: not answered yet. Write a number.\n? q (K): recorded as 9, but why?")
    work = (Work("code", "a", "x = 1", (Shown("text", echo), Shown("error", "✓ half: recorded as")
                                        )), Work("code", "b", "y", (Shown("text", echo[:60]),)))
    first, second = without_echo(work, ["q (K)", "half"])
    assert first.outputs[0].text == f"{mine}\n? q (K): recorded as 9, but why?"
    assert first.outputs[1].text == "✓ half: recorded as"
    assert second.outputs == () and second.source == "y"
