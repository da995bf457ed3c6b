"""The sheet in the learner's notebook and at the marking desk."""

import html.parser
import io
import os
import re
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import Case, Given, MarkingDesk, Worksheet, channel
from coldbench.worksheet.case_table import CaseTable
from coldbench.worksheet.desk import open_desk

TOML = """
title = "Fans"
order = 1
hours = 1
[[question]]
id = "superheat"
kind = "quantity"
quantity = "temperature difference"
unit = "K"
plausible = ["-2 K", "30 K"]
[[question]]
id = "low side"
kind = "quantity"
quantity = "absolute pressure"
unit = "kPa"
[[question]]
id = "column"
kind = "choice"
choices = ["bubble", "dew"]
[[question]]
id = "all that fit"
kind = "choice"
several = true
choices = ["one", "two", "three"]
[[question]]
id = "steps"
kind = "ordered list"
items = ["first", "second", "third"]
[[question]]
id = "chart"
kind = "table"
rows = ["A", "B"]
[question.columns.gauge]
quantity = "gauge pressure"
unit = "kPa"
"""
RULE = """
from coldbench.worksheet import Given
def draw(draw):
    return [Given("low_side_gauge_kPa", draw.grid("low", 150, 230, 1), "low-side gauge", "kPa")]
"""
QUESTIONS = re.findall(r'id = "(.*)"', TOML)
KEYS = {"superheat": 5.0, "low side": 200e3, "column": "dew", "all that fit": ["one", "two"],
        "steps": ["first", "second", "third"], "chart": {"A": 100e3, "B": 200e3}}


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    place = tmp_path_factory.mktemp("labs") / "fans"
    place.mkdir()
    (place / "lab.toml").write_text(TOML, "utf-8")
    (place / "case.py").write_text(RULE, "utf-8")
    return place


@pytest.fixture(scope="module")
def sheet(folder) -> Worksheet:
    return Worksheet.open("fans", "ml-07", folder)


@pytest.fixture
def said(capsys):
    return lambda: capsys.readouterr().out.strip()


def marking(folder, records):
    """A sheet at a desk with these records [question → (value, unit)]."""
    desk = MarkingDesk("ml-07", folder, "practice", {
        name: {"question": name, "value": value, "unit": unit}
        for name, (value, unit) in records.items()})
    with open_desk(desk):
        return Worksheet.open("fans", "ml-99"), desk


class Hostile:
    def __getattribute__(self, name):
        raise RuntimeError("no")

    def __repr__(self):
        raise RuntimeError("no")

    __str__ = __float__ = __len__ = __iter__ = __bool__ = __repr__


class Odd(str):
    def strip(self, *_):
        raise RuntimeError("no")


def weird():
    endless: list = []
    endless.append(endless)
    frame = type("Frame", (), {"shape": (2, 2), "tolist": lambda self: [], "columns": ["a"]})()
    return [Hostile(), [Hostile()], {"A": Hostile()}, Odd("x"), endless, {1: {2: endless}},
            "x" * 10**6, "\ud800", "a\nb\x1b[31m", np.array([1.0, np.nan]), np.zeros((3, 3)),
            np.array(["a"]), np.datetime64("2024-01-01"), frame, (n for n in range(3)),
            iter([]), {1, 2}, frozenset("a"), b"5", bytearray(5), memoryview(b"5"), max, int,
            Hostile, lambda: 5, object(), type, sys, ..., None, True, 1j, 10**400,
            float("nan"), float("inf"), -0.0, [], {}, (), "", [None], {"A": None}, {"A": {}},
            {"A": [[]]}, [[["x"]]], {(1, 2): 3}, {None: 1}, Exception("x"), Case([]), range(5)]


@pytest.mark.parametrize("number", range(len(weird())))
def test_no_value_makes_the_sheet_raise(sheet, said, number):
    value = weird()[number]
    for question in (*QUESTIONS, value):
        for unit in (None, value):
            sheet.answer(question, value, unit)
    sheet.preview(*QUESTIONS)
    lines = said().splitlines()
    assert all(line[0] in "✓✗?·" for line in lines), [x for x in lines if x[0] not in "✓✗?·"]
    assert all(len(line) < 700 for line in lines)
    for name in QUESTIONS:
        sheet.answer(name, None)


VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=30),
              st.complex_numbers(), st.binary(max_size=5),
              st.integers(0, len(weird()) - 1).map(lambda number: weird()[number])),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.tuples(inner),
                            st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=6)


@given(st.sampled_from(QUESTIONS), VALUES, VALUES)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_data_makes_the_sheet_raise_or_stay_silent(sheet, capsys, question, value, unit):
    sheet.answer(question, value, unit)
    line = capsys.readouterr().out
    assert line.startswith(("✓ ", "✗ ", "? ", "· ")) and line.count("\n") == 1


@given(st.sampled_from(QUESTIONS), VALUES, VALUES)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_record_that_travels_is_marked(folder, question, value, unit):
    from coldbench.worksheet.records import make_record
    try:
        record = make_record(question, value, unit)
    except InputError:
        return
    bench, _ = marking(folder, {question: (record["value"], record["unit"])})
    mark = bench.mark(question, KEYS[question])
    assert 0 <= mark.share <= 1
    assert mark.status in ("right", "partly", "wrong", "missing", "malformed")
    assert mark.reason and "\n" not in mark.reason
    assert bench.mark(question, KEYS[question]) == mark
    bench.given(question)


@pytest.mark.parametrize("record", [{}, {"value": 5}, {"unit": "K"}, {"value": [], "unit": []}])
def test_a_record_with_parts_missing_is_marked(folder, record):
    desk = MarkingDesk("ml-07", folder, "practice", {"superheat": record})
    with open_desk(desk):
        mark = Worksheet.open("fans").mark("superheat", 5.0)
    assert mark.share == 0 and mark.status in ("missing", "malformed")


def test_the_preview_is_the_same_for_right_and_wrong_answers(sheet, said):
    for question, right, wrong in (("superheat", 5.0, 6.0), ("column", "dew", "bubble"),
                                   ("steps", KEYS["steps"], KEYS["steps"][::-1])):
        lines = []
        for value in (right, wrong):
            sheet.answer(question, value, "K" if question == "superheat" else None)
            lines.append(re.sub(r"recorded as .*?\.( The|$)", r"recorded.\1", said()))
        assert lines[0] == lines[1]
        assert lines[0].endswith("The form is right; it is marked later.")


def test_an_answer_can_be_given_again_and_taken_back(sheet, said):
    sheet.answer("superheat", 5, "K")
    sheet.answer("superheat", 6, "K")
    assert "recorded as 6 K" in said().splitlines()[-1]
    sheet.answer("superheat", object())
    assert said().endswith("Your earlier answer still counts.")
    sheet.preview("superheat")
    assert "recorded as 6 K" in said()
    sheet.answer("superheat", ...)
    sheet.preview("superheat")
    assert said().splitlines()[-1].startswith("· superheat: not answered yet.")


def test_the_channel_hears_each_answer_and_each_taking_back(sheet, said):
    heard = []
    channel.listen(heard.append)
    try:
        sheet.answer("superheat", np.float64(5), "K")
        sheet.answer("superheat", ...)
        sheet.answer("superheat", max)
        sheet.answer("chart", {"A": None, "B": ...}, "kPa")
    finally:
        channel.listen(None)
    assert [record["value"] for record in heard] == [5.0, None, None]


def test_a_channel_that_breaks_is_told_and_does_not_raise(sheet, said):
    def broken(record):
        raise OSError("gone")

    channel.listen(broken)
    try:
        sheet.answer("superheat", 5, "K")
    finally:
        channel.listen(None)
    assert said().startswith("✗ superheat: this answer cannot be used: reading it raised OSError.")
    sheet.answer("superheat", ...)


def test_an_unknown_question_is_told_with_the_names(sheet, said):
    sheet.answer("superhaet", 5, "K")
    sheet.preview("superhaet")
    for line in said().splitlines():
        assert line.startswith("✗ superhaet: 'superhaet' is not a question of fans; did you mean "
                               "'superheat'; its questions are superheat, low side,")


def test_a_preview_without_names_shows_every_question(sheet, said):
    sheet.preview()
    assert [line.split(":")[0][2:] for line in said().splitlines()] == QUESTIONS


def test_a_plain_terminal_gets_plain_letters(sheet, monkeypatch):
    plain = io.TextIOWrapper(io.BytesIO(), "ascii")
    monkeypatch.setattr(sys, "stdout", plain)
    sheet.answer("superheat", "−5 K")
    plain.flush()
    assert b"superheat: recorded as ?5 K" in plain.buffer.getvalue()


def test_marks_are_not_made_in_a_learners_notebook(sheet):
    for call in (lambda: sheet.mark("superheat", 5.0), lambda: sheet.given("superheat")):
        with pytest.raises(InputError, match="made by the instructor's grading command, not here"):
            call()


def test_the_desk_shows_the_true_learners_case_whatever_the_cell_claims(folder):
    bench, _ = marking(folder, {})
    assert bench.learner == "ml-07"
    same = Worksheet.open("fans", "ml-07", folder)
    assert bench.case.low_side_gauge_kPa == same.case.low_side_gauge_kPa


def test_an_error_is_carried_forward_with_what_the_learner_gave(folder):
    bench, _ = marking(folder, {"superheat": ("9 degF", None), "low side": ("warm", None),
                                "chart": ({"A": 1, "B": "x"}, "kPa")})
    assert bench.given("superheat") == pytest.approx(5)
    assert bench.given("low side") is None and bench.given("column") is None
    assert bench.given("chart") == {"A|gauge": 1e3}
    with pytest.raises(InputError, match="is not a question"):
        bench.given("superhaet")


def test_marks_lie_on_the_desk_in_order_with_their_weight(folder):
    bench, desk = marking(folder, {"superheat": (5, "K")})
    bench.mark("superheat", 5.0, weight=2)
    bench.mark("column", "dew", weight=0.5)
    marks = desk.take_marks()
    assert [(m.question, m.status, m.weight) for m in marks] == [
        ("superheat", "right", 2.0), ("column", "missing", 0.5)]
    assert desk.take_marks() == []


@pytest.mark.parametrize(("call", "reason"), [
    (lambda s: s.mark("superheat", 5.0, weight=-1), "weight of 'superheat' must be 0 or more"),
    (lambda s: s.mark("superheat", 5.0, weight=float("nan")), "weight"),
    (lambda s: s.mark("column", "dew", within="1 K"), "takes no marking rule 'within'"),
    (lambda s: s.mark("superheat", 5.0, nearly=1), "accepted: within, partly"),
    (lambda s: s.mark("column", "gas"), "is not one of the choices"),
    (lambda s: s.mark("nothing", 5.0), "is not a question of fans")])
def test_what_a_lab_does_wrong_is_told_in_a_sentence(folder, call, reason):
    bench, _ = marking(folder, {"superheat": (5, "K"), "column": ("dew", None)})
    with pytest.raises(InputError, match=reason):
        call(bench)


# --- opening --------------------------------------------------------------------------------


def test_a_sheet_opens_in_its_folder_and_from_the_folder_above(folder, monkeypatch):
    for place in (folder, folder.parent):
        monkeypatch.chdir(place)
        assert Worksheet.open("fans").manifest.title == "Fans"


@pytest.mark.parametrize("lab", ["superheat", "", "../fans", 5])
def test_a_lab_that_is_not_there_is_never_replaced_by_another(folder, monkeypatch, lab):
    monkeypatch.chdir(folder)
    with pytest.raises(InputError, match="are not in .*; keep the notebook in its own lab folder"):
        Worksheet.open(lab)


@pytest.mark.parametrize("blank", ["", " ", "practice", "Practice ", None, ...])
def test_without_an_id_the_hubs_name_counts_and_else_the_practice_case(folder, monkeypatch, blank):
    monkeypatch.delenv("JUPYTERHUB_USER", raising=False)
    assert Worksheet.open("fans", blank, folder).learner == "practice"
    monkeypatch.setenv("JUPYTERHUB_USER", "ml-11")
    assert Worksheet.open("fans", blank, folder).learner == "ml-11"
    assert Worksheet.open("fans", "ml-12", folder).learner == "ml-12"


def test_a_source_folder_named_by_a_dot_keeps_its_name(folder, monkeypatch):
    monkeypatch.chdir(folder)
    assert Worksheet.open("fans", folder=".").manifest.lab == "fans"


def test_an_id_that_cannot_be_used_is_told(folder):
    with pytest.raises(InputError, match="learner id 'a/b' cannot be used"):
        Worksheet.open("fans", "a/b", folder)


def test_a_graded_notebook_shows_the_assigned_learner_and_reports_the_claim(folder, monkeypatch):
    heard = []
    monkeypatch.setattr(channel, "_assigned", {"learner": "ml-07", "folder": folder})
    channel.listen(heard.append)
    try:
        assert Worksheet.open("fans", "ml-99").learner == "ml-07"
    finally:
        channel.listen(None)
    assert heard == [{"claim": "ml-99"}]


def test_opening_does_not_load_slow_libraries():
    import subprocess
    program = textwrap.dedent("""
        import sys, coldbench.worksheet
        slow = {"pint", "numpy", "scipy", "matplotlib", "CoolProp", "IPython", "nbformat"}
        print(sorted(slow & set(sys.modules)))
    """)
    labs = str(Path(__file__).parents[2] / "labs")
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True,
                         env=os.environ | {"PYTHONPATH": labs}, check=True)
    assert run.stdout == "[]\n"


# --- the case as a table --------------------------------------------------------------------


class Tags(html.parser.HTMLParser):
    def __init__(self, page):
        super().__init__()
        self.tags, self.open = [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


CASE = Case([Given("pressure_kPa", -12.0, "gauge <b>&", "kPa", digits=1),
             Given("fluid", "R-<script>", "fluid"), Given("rows_C", (1.0, -2.0), "rows", "°C")])


def test_the_case_is_a_table_a_screen_reader_can_read():
    page = CaseTable("<i>ml</i>", CASE)._repr_html_()
    found = Tags(page)
    assert not found.open and "<script" not in page and "<i>" not in page and "<b>" not in page
    tags = found.tags
    assert [tag for tag, _ in tags].count("caption") == 1
    heads = [attrs["scope"] for tag, attrs in tags if tag == "th"]
    assert heads == ["col"] * 3 + ["row"] * 3
    assert "−12.0\u00a0kPa" in page and "case.pressure_kPa" in page


def test_the_case_lines_up_in_a_terminal():
    lines = repr(CaseTable("ml-07", CASE)).splitlines()
    assert lines[0] == "Case of ml-07"
    assert lines[1] == "gauge <b>&   −12.0 kPa  case.pressure_kPa"
    assert len({line.index("case.") for line in lines[1:]}) == 1


def test_practice_numbers_are_said_to_be_nobodys():
    table = CaseTable("practice", CASE)
    assert "nobody's" in repr(table) and "nobody's" in table._repr_html_()
    assert "nobody's" not in repr(CaseTable("ml-07", CASE))


def test_the_sheet_says_what_it_is(folder):
    assert repr(Worksheet.open("fans", "ml-07", folder)) == (
        "Worksheet of ml-07: Fans (0 of 6 questions answered)")
