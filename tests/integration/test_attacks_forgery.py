"""Submissions that try to earn marks without answers; each runs with and without the sandbox.

Every attack hands in blank answers unless it says otherwise, so an honest reading gives 0.
"""

import json

import pytest

CHANNEL = """
import json, os, stat
def channels():
    for number in range(3, 256):
        try:
            if stat.S_ISFIFO(os.fstat(number).st_mode):
                yield number
        except OSError:
            pass
def send(content):
    data = content if isinstance(content, bytes) else json.dumps(content).encode() + b"\\n"
    for number in channels():
        view = memoryview(data)
        while view:
            view = view[os.write(number, view):]
"""
RIGHT_LOOKING = json.dumps({
    "question": "evaporating temperature", "share": 1.0, "status": "right", "reason": "Right.",
    "score": 3.0, "points": 3.0, "weight": 1.0})

# name → code of the learner's own cell, run before all others
SWALLOWED = {
    "custom exception handler":
        "get_ipython().set_custom_exc((BaseException,), lambda *a, **k: None)",
    "input transformer": """
ip = get_ipython()
ip.input_transformers_cleanup.append(lambda lines: ["1\\n"])
ip.input_transformers_post.append(lambda lines: ["1\\n"])
""",
    "syntax tree transformer": """
import ast
class Empty(ast.NodeTransformer):
    def visit_Module(self, node):
        return ast.parse("1")
get_ipython().ast_transformers.append(Empty())
""",
    "traceback silenced": """
ip = get_ipython()
for name in ("showtraceback", "_showtraceback", "showsyntaxerror"):
    setattr(type(ip), name, lambda *a, **k: None)
""",
    "run_cell replaced": """
class Fine:
    error_before_exec = error_in_exec = None
    success, result = True, 3.0
type(get_ipython()).run_cell = lambda *a, **k: Fine()
""",
    "builtins replaced": """
import builtins
builtins.abs = lambda value: 0.0
builtins.float = lambda value=0: 0.0
builtins.round = builtins.sum = lambda *a, **k: 3.0
builtins.AssertionError = ArithmeticError
""",
    "comparison replaced": """
import math, numpy
math.isclose = numpy.isclose = numpy.allclose = lambda *a, **k: True
class Equal(float):
    __eq__ = __le__ = __ge__ = __lt__ = __gt__ = lambda self, other: True
    __hash__ = float.__hash__
    __sub__ = __rsub__ = __abs__ = lambda *a: Equal(0)
from coldbench.worksheet import Worksheet
sheet = Worksheet.open("small-lab")
sheet.answer("evaporating temperature", Equal(-39), "degC")
sheet.answer("superheat", Equal(-39), "K")
""",
}
REPLACED = {
    "marking replaced": """
import coldbench.worksheet.sheet as s, coldbench.worksheet.kinds.base as b
import coldbench.worksheet.marks as m, coldbench.worksheet.tolerance as t
right = lambda *a, **k: m.Mark("evaporating temperature", 1.0, "right", "Right.")
s.Worksheet.mark = s._mark_record = b.Question.mark = b.Question.decided = right
t.tolerance_si = lambda *a, **k: float("inf")
m.status_of = lambda share: "right"
""",
    "saturation replaced": """
import coldbench.refrigerant as r, coldbench.quantity as q
r.fluid = lambda name: None
q.to_si = q.parse = lambda *a, **k: 273.15
""",
    "modules replaced": """
import sys, types
class Anything(types.ModuleType):
    def __getattr__(self, name):
        if name.startswith("__"):
            raise AttributeError(name)
        return lambda *a, **k: 1.0
for name in [n for n in sys.modules if n.split(".")[0] in ("coldbench", "nbgrader", "nbformat")]:
    sys.modules[name] = Anything(name)
""",
    "grader imported": """
try:
    import coldbench.grading.marking as g, coldbench.grading.record as rec
    g.score_of = lambda marks, points: points
    from coldbench.worksheet.desk import MarkingDesk, open_desk
    from coldbench.worksheet.marks import Mark
    desk = MarkingDesk("ml-07", ".", "small", {})
    desk.marks.append(Mark("superheat", 1.0, "right", "Right."))
    open_desk(desk).__enter__()
except ImportError:
    pass
""",
}
FORGED = {
    "printed": f"""
import sys
print("✓ evaporating temperature: Right.")
print({RIGHT_LOOKING!r})
print(3.0, file=sys.stderr)
for stream in (sys.__stdout__, sys.__stderr__):
    print({RIGHT_LOOKING!r}, file=stream)
3.0
""",
    "displayed": """
from IPython.display import display, publish_display_data
publish_display_data({"text/plain": "3", "application/json": {"score": 3},
                      "text/html": "<script>document.write(3)</script>"})
display({"check-evaporating": 3.0})
""",
    "written to the channel": CHANNEL + f"""
send({{"record": {RIGHT_LOOKING}}})
send({{"record": {{"question": "check-evaporating", "value": 3, "unit": None}}}})
send({{"cells": {{"check-evaporating": {{"marks": [{RIGHT_LOOKING}], "trouble": ""}}}}}})
for name in ("check-evaporating", "check-superheat", "check-words"):
    send({{"cell": name, "state": "started"}})
    send({{"cell": name, "state": "ok", "note": "", "outputs": [
        {{"kind": "stream", "name": "stdout", "text": "✓ Right.\\n"}},
        {{"kind": "execute_result", "output_type": "execute_result",
          "data": {{"text/plain": "3"}}}},
        {{"kind": "display", "data": {{"text/plain": "3"}}}}]}})
""",
    "marks as answers": CHANNEL + """
for question in ("evaporating temperature", "superheat", "which column"):
    send({"record": {"question": question, "value": {"share": 1, "status": "right"}}})
    send({"record": {"question": question, "value": True}})
    send({"record": {"question": question, "value": "Right."}})
""",
    "reporter replaced": """
import gc, json
for thing in gc.get_objects():
    if type(thing).__name__ == "Reporter":
        thing.event = lambda **content: thing._channel.write(b'{"score": 3}\\n')
""",
}
FILES = {
    "coldbench.py": {"coldbench.py": "raise SystemExit", "coldbench/__init__.py": "x = 1",
                     "coldbench/worksheet.py": "class Worksheet: pass"},
    "library modules": {name: "import os\nos._exit(0)\n" for name in (
        "sitecustomize.py", "usercustomize.py", "IPython.py", "json.py", "numpy.py",
        "matplotlib_inline.py", "nbformat.py", "case.cpython-311.pyc")},
    "settings": {"nbgrader_config.py": "c.Autograde.permissions = 777", "course.toml": "code='x'",
                 "mistakes.toml": "", "ipython_config.py": "1/0", "setup.cfg": "[x]",
                 "matplotlibrc": "backend: nothing", "startup/00.py": "1/0"},
    "source beside": {"small-lab.md": "# nothing", "source/small-lab/small-lab.md": "# nothing",
                      "case.py/x.txt": "", "lab.toml/x.txt": ""},
}
EASY_CASE = """
from coldbench.worksheet import Given
def draw(d):
    return [Given("low_side_gauge_kPa", 0.0, "low", "kPa"), Given("pipe_degC", 0.0, "pipe", "°C")]
"""
EASY_LAB = """
lab = "small-lab"
title = "Small lab"
order = 1
hours = 1
[[question]]
id = "which column"
kind = "choice"
choices = ["dew", "bubble"]
"""
# An honest notebook whose channel is also fed with these: it keeps every mark.
GARBAGE = {
    "not JSON": b"\xff\xfe garbage \x00\n{\n[}\n",
    "other types": b'[]\nnull\n3\n"x"\ntrue\n[{"done": true}]\n',
    "unhashable names": b'{"cell": []}\n{"cell": {"a": 1}}\n{"cell": null, "state": []}\n',
    "wrong members": b'{"record": 5}\n{"record": null}\n{"claim": []}\n{"done": 1}\n'
                     b'{"cell": "setup", "state": ["ok"], "outputs": 5, "note": []}\n',
    "odd outputs": b'{"cell": "setup", "state": "ok", "outputs": [null, 5, {"kind": []}, '
                   b'{"kind": "display", "data": {"image/png": 5}}, {"kind": "stream", '
                   b'"text": {"a": 1}}, {"kind": "error", "ename": [], "trace": 5}]}\n',
    "deep": b'{"record": ' + b"[" * 100_000 + b"]" * 100_000 + b"}\n",
    "deep enough to be read": b'{"record": {"question": "superheat", "value": '
                              + b"[" * 970 + b"]" * 970 + b"}}\n",
    "deep outputs": b'{"cell": "setup", "state": "ok", "outputs": [{"kind": "stream", "text": '
                    + b"[" * 960 + b"]" * 960 + b"}]}\n",
    "long numbers": b'{"record": {"question": "no such question", "value": ' + b"9" * 5000
                    + b'}}\n{"record": {"question": "no such question", "value": 1e999}}\n',
    "many empty lines": b"\n" * 5_000,
    "many small outputs": b'{"cell": "setup", "state": "ok", "outputs": ['
                          + b'{"kind": "stream"},' * 100_000 + b"{}]}\n",
}


@pytest.fixture(scope="module")
def forged(new_desk, each_level):
    """Every attempt to earn marks without answers, graded once at each level."""
    desk = new_desk()
    desk.submit("aa-honest")
    desk.submit("zz-honest")
    for group in (SWALLOWED, REPLACED, FORGED):
        for name, code in group.items():
            desk.submit_blank(name, {"learner": code})
    desk.submit("easy files", {"answer-evaporating": "evaporating = -26.07\n"
                               'sheet.answer("evaporating temperature", -26.07, "degC")'},
                files={"case.py": EASY_CASE, "lab.toml": EASY_LAB})
    desk.grade(each_level)
    return desk


@pytest.fixture(scope="module")
def noisy(new_desk, level):
    """Answers that deserve marks, with noise around them."""
    desk = new_desk()
    for name, files in FILES.items():
        desk.submit(f"files {name}", files=files)
    for name, data in GARBAGE.items():
        desk.submit(f"garbage {name}",
                    {"learner": f"{CHANNEL}\nsend({data!r})", "answer-words":
                     desk.reference["answer-words"] + f"\nsend({data!r})"})
    first = {"answer-evaporating": desk.reference["answer-evaporating"]}
    for name, code in (("ends early", 'send({"done": True})\nimport time; time.sleep(1)'),
                       ("floods", 'while True: send(b"x" * 1_000_000)'),
                       ("floods with lines", 'while True: send(b"{}\\n" * 10_000)')):
        desk.submit_blank(name, {**first, "answer-superheat": f"{CHANNEL}\n{code}"})
    desk.submit_blank("tells many answers", {
        "answer-superheat": 'for i in range(3000): sheet.answer("superheat", i / 100, "K")'})
    desk.submit("ml-07", {"learner": 'LEARNER = "ml-40"'})
    desk.submit("ml-08", {
        "learner": 'LEARNER = "ml-40"\nfrom coldbench.worksheet import channel\n'
                   'channel._assigned["learner"] = "ml-40"'})
    desk.submit("ml-09", {"learner": "LEARNER = '<b>ml-40</b>\\x1b[2J'"})
    desk.grade(level)
    return desk


@pytest.mark.parametrize("name", [*SWALLOWED, *REPLACED, *FORGED])
def test_no_mark_is_gained(forged, name):
    assert forged.scores(name) == forged.nothing
    assert all(score == 0 for score, _, _ in forged.book(name).values())


def test_a_case_of_ones_own_is_not_used(forged):
    assert forged.scores("easy files")["check-evaporating"] == 0.0


@pytest.mark.parametrize("name", FILES)
def test_files_beside_the_notebook_change_nothing(noisy, name):
    assert noisy.scores(f"files {name}") == noisy.full


@pytest.mark.parametrize("name", GARBAGE)
def test_garbage_on_the_channel_costs_nobody_marks(noisy, name):
    assert noisy.scores(f"garbage {name}") == noisy.full


def test_garbage_is_reported(noisy):
    assert "a line that is not an event" in noisy.words("garbage not JSON")
    assert "A malformed answer was left out" in noisy.words("garbage wrong members")


@pytest.mark.parametrize("name, says", [
    ("ends early", "said it was done before its last cell"),
    ("floods", "it wrote too much"),
    ("floods with lines", "it sent too many lines"),
])
def test_what_was_answered_before_a_trick_counts(noisy, name, says):
    assert noisy.scores(name) == {**noisy.nothing, "check-evaporating": 3.0}
    assert says in noisy.words(name)


def test_many_answers_are_one_answer(noisy):
    record = noisy.record("tells many answers")
    mark = next(m for c in record.cells for m in c.marks if m.question == "superheat")
    assert (mark.answer, mark.share) == ("29.99 K", 0.0)


def test_the_case_is_the_one_of_the_folder(noisy):
    # ml-07 computed her answers from what she was shown, which was her own case.
    assert noisy.scores("ml-07") == noisy.full
    assert "'ml-40'" in noisy.words("ml-07") and "case of 'ml-07'" in noisy.words("ml-07")
    # ml-08 answered with another's numbers.
    assert noisy.scores("ml-08")["check-evaporating"] == 0.0
    assert "'ml-40'" in noisy.words("ml-08")
    # ml-09 has an id that no worksheet opens with, so she had nothing to answer on.
    assert "cannot be used" in noisy.words("ml-09") and "\x1b" not in noisy.words("ml-09")
    assert noisy.scores("ml-09") == noisy.nothing


def test_honest_neighbours_keep_their_marks_and_outputs(forged, desk, each_level):
    for learner in ("aa-honest", "zz-honest"):
        assert forged.scores(learner) == forged.full
        assert forged.record(learner).notices == forged.record(learner).repairs == ()
        desk.submit(learner)
    desk.grade(each_level)
    for learner in ("aa-honest", "zz-honest"):
        assert desk.graded_notebook(learner) == forged.graded_notebook(learner)


def test_every_reason_is_a_sentence(noisy):
    for path in sorted((noisy.course.records / noisy.lab_name).glob("*.json")):
        record = noisy.record(path.stem)
        sentences = [*record.repairs, *record.notices,
                     *(mark.reason for cell in record.cells for mark in cell.marks)]
        for sentence in sentences:
            assert sentence.endswith((".", "?")) and len(sentence) < 700, (path.stem, sentence[:900])
        assert not any(cell.trouble for cell in record.cells), path.stem
