"""The class report: what it finds in an invented class, its JSON, its page, its terminal text."""

import io
import json
import os
import re
import runpy
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as some

from coldbench.cli import main
from coldbench.errors import InputError
from coldbench.grading.feedback import write_class
from coldbench.grading.record import CellResult, Record, load_all, save
from coldbench.grading.report import make_report, report_from_json, report_to_json
from coldbench.grading.report_attention import with_own_repairs
from coldbench.grading.report_html import write_report
from coldbench.grading.report_items import Place, stuck_from
from coldbench.grading.report_matches import Entry, column_hits, find_matches
from coldbench.grading.report_pages import style_sheet
from coldbench.grading.report_text import print_report
from coldbench.worksheet.marks import Mark

HERE = Path(__file__).parent
rc = runpy.run_path(str(HERE / "report_class.py"))
check_page = runpy.run_path(str(HERE / "report_pages_check.py"))["check_page"]
LAB = rc["LAB"]


@pytest.fixture(scope="module")
def graded(tmp_path_factory):
    """A class of 24, graded, with feedback."""
    course = rc["make_course"](tmp_path_factory.mktemp("class"))
    rc["make_class"](course)
    write_class(course, LAB)
    return course


@pytest.fixture(scope="module")
def report(graded):
    return make_report(graded, LAB)


def shown(report, width=100):
    from rich.console import Console

    stream = io.StringIO()
    print_report(report, Console(file=stream, width=width, highlight=False))
    return stream.getvalue()


def test_the_class_is_summed_up(graded, report):
    records = load_all(graded.records, LAB)
    assert report.summary["learners"] == 24 == sum(report.summary["histogram"])
    assert [one.total for one in report.learners] == pytest.approx([r.score for r in records])
    assert report.summary["answers_to_mark"] == sum(
        cell.score is None for r in records for cell in r.cells)
    assert report.summary["learners_late"] == 1 and report.sandbox == {"bubblewrap": 24}


def test_facility_is_the_mean_share(graded, report):
    records = load_all(graded.records, LAB)
    for question in report.questions[:5]:
        shares = [m.share for r in records for c in r.cells for m in c.marks
                  if m.question == question.question]
        assert question.facility == pytest.approx(sum(shares) / len(shares))
        assert sum(question.counts.values()) == 24
        assert question.attempts == 24 - question.counts["missing"]
    assert report.questions[5].facility is None, "answers to it wait for a hand"


def test_hardest_come_first(report):
    known = [report.questions[n - 1].facility for n in report.hardest_first]
    assert known[:-1] == sorted(known[:-1]) and known[-1] is None


def test_common_mistakes_are_counted_by_name(graded, report):
    marks = [m for r in load_all(graded.records, LAB) for c in r.cells for m in c.marks]
    wanted = sum(m.mistake == "took gauge for absolute" for m in marks)
    found = {row["name"]: row for row in report.mistakes}
    assert wanted > 2 and found["took gauge for absolute"]["count"] == wanted
    assert list(found["took gauge for absolute"]["questions"]) == ["2"]


def test_a_step_from_an_earlier_slip_is_no_mistake_of_its_own(tmp_path):
    course = rc["make_course"](tmp_path)
    mark = Mark("a", 1.0, "right", "Right from your own value.", mistake="carried a value forward")
    save(Record(LAB, "ml-1", "", (CellResult("c", "a", "checked", 1.0, 1.0, (mark,)),)),
         course.records)
    found = make_report(course, LAB)
    assert found.mistakes == [] and found.questions[0].counts["right"] == 1


def test_who_is_stuck_is_told(report):
    stuck = {one.learner: one.stuck_at for one in report.learners if one.stuck_at}
    assert stuck and all(
        set(one.states[one.stuck_at - 1:]) == {"missing"} and
        (one.stuck_at == 1 or one.states[one.stuck_at - 2] != "missing")
        for one in report.learners if one.stuck_at)
    assert any("gave no more answers" in note["text"] for note in report.attention)


def test_the_copier_is_found_and_nobody_else(report):
    assert [(m.learner, m.other) for m in report.matches] == [("ml-09", "ml-08")]
    match = report.matches[0]
    assert match.hits >= 3 and match.expected_hits < 1 and match.expected_pairs < 0.2
    assert any("ml-09 with ml-08's numbers" in note["text"] for note in report.attention)


def test_an_honest_class_is_rarely_suspected(tmp_path):
    suspected = 0
    for seed in range(20):
        dice = __import__("random").Random(seed)
        honest = [rc["make_record"](rc["make_course"](tmp_path / f"{seed}-{n}"), f"ml-{n:02d}",
                                    dice, n) for n in range(1, 13) if n != 9]
        suspected += bool(find_matches(honest)[0])
    assert suspected <= 6  # listed are pairs of which chance makes fewer than 0.2 a class


@given(some.lists(some.tuples(some.floats(0, 100), some.floats(0, 100)), max_size=12))
def test_hits_agree_with_looking_at_every_pair(numbers):
    column = {f"ml-{i}": Entry(answer, key, 1.0, abs(answer - key) > 1.0)
              for i, (answer, key) in enumerate(numbers)}
    pairs = [(a, b) for a in column for b in column if column[a].wrong
             and column[a].apart(column[b])]
    hits, comparisons = column_hits(column)
    assert sorted(hits) == sorted(p for p in pairs if column[p[0]].fits(column[p[1]]))
    assert comparisons == len(pairs)


def test_right_answers_and_named_mistakes_are_never_matches():
    def record(learner, key, answer, mistake=""):
        marks = tuple(Mark(f"q{i}", 0.0, "wrong", "", mistake=mistake, answer_si=answer,
                           key_si=key, tolerance_si=0.5) for i in range(6))
        return Record(LAB, learner, "", tuple(CellResult(m.question, m.question, "checked", 1.0,
                                                         0.0, (m,)) for m in marks))
    others = [record(f"ml-{n}", 100.0 + 9 * n, 0.0) for n in range(8)]
    assert find_matches([*others, record("x", 50.0, 109.0)])[0][0].other == "ml-1"
    assert not find_matches([*others, record("x", 50.0, 109.0, "named")])[0]
    assert not find_matches([*others, record("x", 50.0, 50.2)])[0]
    assert not find_matches([*others, record("x", 109.4, 108.7)])[0], "keys too close to tell"


def test_tables_are_compared_where_they_state_a_tolerance():
    def record(learner, shift, copied):
        keys = {f"{row}|T": 10.0 * i + shift for i, row in enumerate("ABCD")}
        answers = {place: key + copied for place, key in keys.items()}
        mark = Mark("chart", 0.0, "wrong", "", answer_si=answers, key_si=keys,
                    tolerance_si=dict.fromkeys(keys, 0.2))
        return Record(LAB, learner, "", (CellResult("c", "chart", "checked", 1.0, 0.0, (mark,)),))
    found, _ = find_matches([record(f"ml-{n}", n, 0.0) for n in range(8)] + [record("x", 9, -4)])
    assert [(m.learner, m.other, m.hits, m.identical) for m in found] == [("x", "ml-5", 4, 4)]


def test_a_check_that_marks_two_questions_counts_as_two(tmp_path):
    course = rc["make_course"](tmp_path)
    marks = (Mark("a", 1.0, "right", "Right.", weight=3.0), Mark("b", 0.0, "missing", "No."))
    for n in range(5):
        save(Record(LAB, f"ml-{n}", "", (CellResult("c", "a · b", "checked", 4.0, 3.0, marks),)),
             course.records)
    found = make_report(course, LAB)
    assert [(q.question, q.points, q.facility) for q in found.questions] == [
        ("a", 3.0, 1.0), ("b", 1.0, 0.0)]
    assert found.learners[0].stuck_at == 2 and found.questions[0].discrimination is None


def test_a_failed_check_lowers_nobody_and_is_told(tmp_path):
    course = rc["make_course"](tmp_path)
    good = CellResult("c", "a", "checked", 2.0, 2.0, (Mark("a", 1.0, "right", "Right."),))
    bad = CellResult("c", "c", "checked", 2.0, 0.0, (), "NameError")
    for n, cell in enumerate((good, good, bad)):
        save(Record(LAB, f"ml-{n}", "", (cell,)), course.records)
    found = make_report(course, LAB)
    assert found.questions[0].facility == 1.0 and found.questions[0].counts["trouble"] == 1
    assert "failed for 1 learner" in found.attention[0]["text"]
    assert found.summary["answers_to_mark"] == 1


@given(some.lists(some.sampled_from(["right", "missing", "malformed", "hand"])))
def test_stuck_means_nothing_but_gaps_to_the_end(states):
    index = stuck_from([Place(state, None) for state in states])
    if index is None:
        assert not states or states[-1] != "missing"
    else:
        assert set(states[index:]) == {"missing"}
        assert index == 0 or states[index - 1] != "missing"


def test_json_round_trip(report):
    text = report_to_json(report)
    assert report_from_json(text) == report
    assert json.loads(text)["format"] == "coldbench report 1"
    for wrong in ("[]", "{}", '{"format": "other"}', "x"):
        with pytest.raises(ValueError):
            report_from_json(wrong)


def test_the_page_is_inert_and_says_what_matters(graded, report):
    path = write_report(graded, report)
    reader = check_page(path.read_text("utf-8"))
    for words in ("Who is stuck where", "took gauge for absolute", "ml-09", "bubblewrap",
                  "Formgrader", "2 h 30 min late", "Correlation (Pearson)", "not a proof"):
        assert words in reader.text
    links = [link for link in reader.links if link.endswith(".html")]
    assert len(links) == 24
    assert all((path.parent / link).resolve().is_file() for link in links)


def test_the_page_links_from_wherever_it_lies(graded, report, tmp_path):
    path = write_report(graded, report, tmp_path / "else" / "page.html")
    links = [x for x in check_page(path.read_text("utf-8")).links if x.endswith(".html")]
    assert links and all((path.parent / link).resolve().is_file() for link in links)


HOSTILE = ["<script>alert(1)</script>", "<img src=x onerror=y>", "\"><svg/onload=x>", "' onclick='",
           "{{ 7*7 }}", "[bold red]x[/]", "\x1b[2J\x1b]0;t\x07", "\u202eevil", "javascript:x", "[/"]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_inert_on_page_and_terminal(tmp_path, text):
    course = rc["make_course"](tmp_path)
    learner = text.replace("/", "∕").replace("\x1b", "").replace("\x07", "") or "x"
    for record in rc["make_class"](course, learners=6):
        cells = tuple(replace(cell, title=text, marks=tuple(
            replace(m, question=text, answer=text, key=text, mistake=text, reason=text)
            for m in cell.marks)) for cell in record.cells)
        save(replace(record, learner=f"{learner}{record.learner}", cells=cells, notices=(text,),
                     repairs=(text,), run={text: text}, sandbox=text), course.records)
    write_class(course, LAB)
    found = make_report(course, LAB)
    check_page(write_report(course, found).read_text("utf-8"))
    printed = shown(found)
    assert not set("\x1b\x07\u202e") & set(printed)
    if text == "[bold red]x[/]":
        assert "[bold red]x[/]" in printed
    assert report_from_json(report_to_json(found)) == found


def test_the_terminal_text_says_what_matters(report):
    for width in (80, 120):
        text = shown(report, width)
        for words in ("Questions, hardest first", "ml-16", "stuck from 3", "bubblewrap",
                      "ml-09 fits ml-08", "Formgrader"):
            assert words in " ".join(text.split())


def test_no_remark_is_cut_on_a_narrow_terminal(report):
    one = replace(report.learners[0], late_seconds=144_000, late_penalty=8.0, needs_hand=[1],
                  notices=["The notebook says it belongs to 'ml-02'."])
    few = replace(report, questions=report.questions[:2], hardest_first=report.hardest_first[:0],
                  learners=[replace(one, states=one.states[:2], stuck_at=0)])
    assert "Questions" in shown(few, width=100).split("Learners, lowest")[1]
    text = shown(replace(report, learners=[one]), width=80)
    remarks = " ".join(text.split("Learners, lowest")[1].split("✓ right")[0].split())
    for words in ("1 day", "16 h", "8 points", "off", "notices"):
        assert words in remarks
    assert f"{one.learner}: The notebook says it belongs to" in text


def run(*words):
    """Run the command; returns its exit status."""
    try:
        main([str(word) for word in words])
    except SystemExit as end:
        return end.code or 0
    return 0


def test_the_command_prints_the_table_and_names_the_page(graded, capsys):
    assert run("report", LAB, "--course", graded.root) == 0
    out = capsys.readouterr().out
    assert "Learners, lowest marks first" in out
    assert str(graded.desk / "reports" / f"{LAB}.html") in out


def test_the_command_prints_pure_json(graded, capsys, tmp_path):
    assert run("report", LAB, "--json", "--html", tmp_path / "r.html", "--course", graded.root) == 0
    captured = capsys.readouterr()
    assert report_from_json(captured.out).lab == LAB
    assert "r.html" in captured.err and (tmp_path / "r.html").is_file()


def test_feedback_command_says_how_many_and_where(graded, capsys):
    assert run("feedback", LAB, "--course", graded.root) == 0
    assert f"24 feedback pages of {LAB} in {graded.desk / 'feedback'}" in capsys.readouterr().out
    assert run("feedback", LAB, "--learner", "ml-07", "--course", graded.root) == 0
    assert "ml-07" in capsys.readouterr().out


@pytest.mark.parametrize("command", [["report"], ["feedback"]])
@pytest.mark.parametrize(("lab", "words"), [
    ("nowhere", "there is no lab 'nowhere'"), (LAB, "nothing graded yet"),
    ("../x", "there is no lab")])
def test_bad_input_is_one_sentence(tmp_path, capsys, command, lab, words):
    course = rc["make_course"](tmp_path)
    assert run(*command, lab, "--course", course.root) == 2
    error = capsys.readouterr().err.strip()
    assert words in error and len(error.splitlines()) == 1


def test_outside_a_course_is_one_sentence(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for words in (["report", LAB], ["feedback", LAB], ["export", "marks.csv"]):
        assert run(*words) == 2
        assert "is not inside a course" in capsys.readouterr().err


def test_an_unwritable_page_is_one_sentence(graded, tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert run("report", LAB, "--html", tmp_path / "file" / "x.html", "--course", graded.root) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_unreadable_records_are_named_not_lost_in_silence(tmp_path):
    course = rc["make_course"](tmp_path)
    rc["make_class"](course, learners=2)
    (course.records / LAB / "ml-66.json").write_text("{")
    (course.submitted / "ml-77" / LAB).mkdir(parents=True)
    (course.submitted / "ml-88" / "other-lab").mkdir(parents=True)
    found = make_report(course, LAB)
    assert found.unreadable == ["ml-66.json"]
    assert found.not_graded == ["ml-77"] and found.not_handed_in == ["ml-88"]
    text = check_page(write_report(course, found).read_text("utf-8")).text
    assert all(who in text for who in ("ml-66.json", "ml-77", "ml-88"))


def luminance(colour):
    """Relative luminance of #rrggbb [0 to 1], WCAG 2.2, "relative luminance"."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_every_text_colour_has_contrast(scheme):
    """At least 4.5 to 1: WCAG 2.2, success criterion 1.4.3 (level AA)."""
    block = re.findall(r":root \{(.*?)\}", style_sheet(), re.DOTALL)[scheme]
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))
    pairs = [(text, ground) for text in ("ink", "soft", "link", "wrong")
             for ground in ("paper", "card", "tint")]
    pairs += [(state, f"{state}-tint") for state in ("right", "partly", "wrong", "quiet", "hand")]
    pairs += [("ink", "hand-tint")]
    for text, ground in pairs:
        high, low = sorted((luminance(colours[text]), luminance(colours[ground])), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= 4.5, (text, ground)


def test_nothing_graded_at_all_raises(tmp_path):
    with pytest.raises(InputError, match="nothing graded yet"):
        make_report(rc["make_course"](tmp_path), LAB)


def test_one_learner_alone_is_reported(tmp_path):
    course = rc["make_course"](tmp_path)
    rc["make_class"](course, learners=1)
    found = make_report(course, LAB)
    assert all(q.discrimination is None for q in found.questions) and not found.matches
    check_page(write_report(course, found).read_text("utf-8"))
    assert os.path.isfile(course.desk / "reports" / f"{LAB}.html")


def test_what_was_mended_for_half_the_class_is_the_labs_doing():
    changed = "The locked cell 'case' was missing; it was put back."
    class_ = [SimpleNamespace(learner=f"ml-{n}", repairs=[changed]) for n in range(6)]
    assert with_own_repairs(class_) == []
    class_[2].repairs.append("The file breaks off in the middle.")
    assert with_own_repairs(class_) == ["ml-2"]
    assert with_own_repairs(class_[1:3]) == ["ml-1", "ml-2"]


def test_several_attempts_are_no_damage():
    told = "2 attempts were handed in; attempt 2 counts, as the last one."
    odd = [SimpleNamespace(learner="ml-01", repairs=[told]),
           SimpleNamespace(learner="ml-02", repairs=[told, "Cell 'order' was missing."])]
    assert with_own_repairs(odd) == ["ml-02"]
