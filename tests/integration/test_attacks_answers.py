"""Odd answers, straight at the marking process: a reason for each, and nothing else suffers."""

import itertools
import json
import math

import pytest

from coldbench.grading.limits import Limits
from coldbench.grading.marking import MarkingProcess, MarkingStopped
from coldbench.grading.run import Run, _Deadline, _take_event

LEARNER = "ml-01"
RIGHT = {"which column": "dew",
         "order of the loop": ["compressor", "condenser", "expansion valve", "evaporator"]}
ODD = [
    "nan", "inf", "-inf", "1e9999", "1e9999 K", 1e308, -1e308, "1e308 MK", 10**400, 10**15, -0.0,
    True, False, None, "", " ", "5 degC; drop table marks", "5 degC\x00", "<script>5 K</script>",
    "=1+1", "__import__('os').system('id')", "{}.__class__", "%s%n", "${jndi:x}", "5j", "1+2j K",
    "0x10 K", "1_000 K", "٣٤ K", "½ K", "- \u20035 K", "\u202e5 K", "５ K", "--5 K", "5,5,5 K",
    "1" * 15_000, "1," * 7_000, "1 234" * 3_000, "+" * 15_000 + "5 K", "e" * 15_000,
    "5 " + "K*" * 7_000 + "K", "5 " + "(" * 10_000, "5 K**1e9", "5 m**999999999", "5 K^K^K",
    [], {}, [1], [[1]], {"value": 5}, {"share": 1, "status": "right"}, [5, "K"],
    {"magnitude": 5, "units": "K"}, list(range(4_000)), {str(n): n for n in range(1_500)},
    {"0 degC": {"gauge": {"gauge": 5}}}, {"0 degC": [5]}, {"0 degC": "5 K"}, {"0 DEG-C": 1e308},
    ["dew", "bubble"], "dew bubble", ["compressor"] * 4, [None] * 4, [["compressor"]],
]
UNITS = [None, "", "K", "degC", "furlong", 5, ["K"], {"gauge": "kPa"}, "K" * 15_000, "N/(m",
         "__class__", "K;K", "m**1e9", "1e9999 K", "\x00", "\u202eK", "lambda: 1"]


@pytest.fixture(scope="module")
def marking(new_desk):
    """A marking process of the small lab."""
    with MarkingProcess(new_desk().lab) as process:
        yield process


def taken(question: str, value, unit) -> dict:
    """Records as they come out of a run's channel."""
    run = Run()
    line = json.dumps({"record": {"question": question, "value": value, "unit": unit}})
    _take_event(line.encode(), run, _Deadline(Limits()), Limits())
    return run.records


@pytest.mark.parametrize("question", [
    "evaporating temperature", "superheat", "which column", "order of the loop", "my chart"])
def test_odd_answers_earn_nothing_and_harm_nothing(marking, question):
    right = {q: {"question": q, "value": v, "unit": None} for q, v in RIGHT.items()}
    earned = set()
    for value, unit in itertools.product(ODD, UNITS):
        records = {**right, **taken(question, value, unit)}
        if question in RIGHT and records[question]["value"] == RIGHT[question]:
            continue  # the run left the odd record out
        for result in marking.mark(LEARNER, records, 10).values():
            assert result.trouble == "", (value, unit, result.trouble)
            assert math.isfinite(result.score)
            for mark in result.marks:
                assert mark.reason.endswith((".", "?")) and len(mark.reason) < 700, mark.reason
                json.dumps(mark.as_dict(), allow_nan=False)
                if mark.question == question and mark.share:
                    earned.add((str(value)[:30], str(unit)[:30]))
                elif mark.question in RIGHT and mark.question != question:
                    assert mark.share == 1.0, (value, unit)
                elif mark.question == "superheat":
                    assert mark.share == 0.0
    assert not earned


def test_marking_the_same_again_gives_the_same(marking):
    records = {"superheat": {"question": "superheat", "value": 8, "unit": "K"}}
    first = marking.mark(LEARNER, records)
    marking.mark("ml-02", {q: {"question": q, "value": v, "unit": None}
                           for q, v in RIGHT.items()})
    assert marking.mark(LEARNER, records) == first


SLOW = """
if sheet.given("evaporating temperature") == 274.15:
    while True: pass
"""
DEADLY = """
import os
if sheet.given("evaporating temperature") == 275.15:
    os._exit(3)
if sheet.given("evaporating temperature") == 276.15:
    raise SystemExit(0)
if sheet.given("evaporating temperature") == 277.15:
    int("277.15 is a secret")
"""


@pytest.fixture
def fragile(desk):
    """A lab whose check hangs, dies or fails for certain answers."""
    source = desk.course.source / "small-lab" / "small-lab.md"
    text = source.read_text("utf-8")
    text = text.replace('sheet.mark("order of the loop"', SLOW + DEADLY
                        + 'sheet.mark("order of the loop"')
    source.write_text(text, "utf-8")
    toml = desk.course.desk / "course.toml"
    toml.write_text(toml.read_text("utf-8") + "marking_seconds = 4\n", "utf-8")
    return type(desk)(desk.root)


def test_a_slow_or_failing_mark_holds_up_nobody(fragile, level):
    answers = {"slow": 1, "dead": 2, "leaves": 3, "fails": 4, "aa-other": 5, "zz-other": 5}
    for learner, celsius in answers.items():
        fragile.submit(learner, {"answer-evaporating": "evaporating = 0\nsheet.answer("
                                 f"'evaporating temperature', {celsius}, 'degC')"})
    fragile.grade(level, workers=1)
    for learner in ("aa-other", "zz-other"):
        assert fragile.scores(learner)["check-words"] == 4.0
        assert not any(cell.trouble for cell in fragile.record(learner).cells)
    assert "took more than 4 s" in fragile.words("slow")
    assert "ended the marking process" in fragile.words("dead")
    for learner in ("slow", "dead"):
        assert fragile.scores(learner) == fragile.nothing
        assert fragile.record(learner).key == ""  # so that the next call tries again
    # The first mark of the check was right already: half a check earns nothing by itself.
    for learner in ("leaves", "fails"):
        assert fragile.scores(learner)["check-words"] == 0.0
        assert fragile.record(learner).cells[2].trouble
        assert "needs a hand" in fragile.outputs(learner)
        assert "secret" not in fragile.outputs(learner)
    again = fragile.grade(level, workers=1)
    assert {record.learner for record in again.records} == {"slow", "dead"}


def test_marking_stops_with_a_sentence(fragile):
    from coldbench.grading.lab import open_lab

    record = {"question": "evaporating temperature", "value": 1, "unit": "degC"}
    with MarkingProcess(open_lab(fragile.course, "small-lab")) as process:
        with pytest.raises(MarkingStopped, match="took more than 6 s, so it was stopped"):
            process.mark(LEARNER, {record["question"]: record}, 6)
        assert process.mark(LEARNER, {}, 30)["check-words"].score == 0.0
