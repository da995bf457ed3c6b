"""Cases: the same words give the same numbers, neighbours differ, the class is spread evenly."""

import copy
import os
import pickle
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet import Case, Draw, Given, draw_case
from coldbench.worksheet.cases import case_identity, clean_learner_id

CLASS = [f"ml-{number:02d}" for number in range(1, 201)]
RULE = '''
from coldbench.worksheet import Draw, Given

def draw(draw: Draw):
    return [Given("low_side_gauge_kPa", draw.grid("low", 150, 250, 1), "low side", "kPa"),
            Given("fluid", draw.choice("fluid", ("R-134a", "R-1234yf", "R-407C")), "fluid"),
            Given("order", tuple(draw.shuffled("order", "abcdefgh")), "order")]
'''
PRINT = """
import sys
from pathlib import Path
from coldbench.worksheet import draw_case
for learner in ("ml-07", "practice", "Zoë Ångström"):
    print(ascii(draw_case(Path(sys.argv[1]), "lab", "autumn", learner)))
"""


def lab_with(folder: Path, rule: str) -> Path:
    (folder / "case.py").write_text(rule, "utf-8")
    return folder


def test_another_process_and_hash_seed_draw_the_same_case(tmp_path):
    folder = lab_with(tmp_path, RULE)
    labs = str(Path(__file__).parents[2] / "labs")
    told = {subprocess.run([sys.executable, "-c", PRINT, str(folder)], capture_output=True,
                           text=True, check=True, env=os.environ | {
                               "PYTHONPATH": labs, "PYTHONHASHSEED": seed}).stdout
            for seed in ("0", "1", "12345")}
    here = "".join(ascii(draw_case(folder, "lab", "autumn", who)) + "\n"
                   for who in ("ml-07", "practice", "Zoë Ångström"))
    assert told == {here}


def test_another_course_or_lab_gives_other_numbers(tmp_path):
    folder = lab_with(tmp_path, RULE)
    def numbers(course, lab):
        return [draw_case(folder, lab, course, who).low_side_gauge_kPa for who in CLASS]
    first = numbers("autumn", "lab")
    for other in (numbers("spring", "lab"), numbers("autumn", "lab 2")):
        assert sum(a == b for a, b in zip(first, other, strict=True)) < 10


@pytest.mark.parametrize("steps", [5, 10, 51, 200])
def test_neighbours_never_get_the_same_number(steps):
    for field in map(str, range(60)):
        drawn = [Draw("c", "lab", who).grid(field, 0, steps - 1, 1) for who in CLASS]
        assert all(a != b for a, b in zip(drawn, drawn[1:], strict=False)), field


def test_a_class_of_200_is_spread_evenly():
    """Each of ten values for 200 learners: 20 expected; chance alone would stray by 13."""
    for field in map(str, range(200)):
        counts = Counter(Draw("c", "lab", who).choice(field, range(10)) for who in CLASS)
        assert len(counts) == 10 and max(abs(n - 20) for n in counts.values()) <= 6, field


def test_two_fields_are_drawn_independently():
    """A class meets every pair of values of two fields; one pair of fields in 30 may be linked."""
    linked = 0
    for number in range(150):
        one, two = f"first {number}", f"second {number}"
        pairs = Counter((d.choice(one, range(3)), d.choice(two, range(3)))
                        for d in (Draw("c", "lab", who) for who in CLASS))
        linked += len(pairs) < 9 or min(pairs.values()) < 5
    assert linked <= 5


@given(st.floats(-1e3, 1e3), st.floats(0, 1e3), st.floats(1e-2, 10), st.integers(0, 10**6))
def test_a_grid_never_leaves_its_range(low, width, step, number):
    value = Draw("c", "lab", f"x{number}").grid("f", low, low + width, step)
    assert low - 1e-6 <= value <= low + width + 1e-6


@pytest.mark.parametrize("grid", [(0, 1, 0), (0, 1, -1), (2, 1, 1), (0, float("inf"), 1),
                                  (float("nan"), 1, 1), (0, 1, float("nan"))])
def test_a_grid_that_has_no_values_is_refused(grid):
    with pytest.raises(InputError, match="grid 'f'"):
        Draw("c", "lab", "x").grid("f", *grid)
    with pytest.raises(InputError, match="no options"):
        Draw("c", "lab", "x").choice("f", [])


@pytest.mark.parametrize("spelling", ["ML-07", " ml-07 ", "ml\u201107", "ml\u201307", "Ml-07",
                                      "\uff4d\uff4c-07", "ml-7"])
def test_a_learner_may_spell_her_id_a_little_differently(spelling):
    same = Draw("c", "lab", "ml-07").fraction("f")
    assert Draw("c", "lab", clean_learner_id(spelling)).fraction("f") == same


def test_composed_and_decomposed_letters_are_one_id():
    assert clean_learner_id("Zoe\u0308") == clean_learner_id("Zo\u00eb")
    assert case_identity("zoe\u0308") == case_identity("ZO\u00cb")


@pytest.mark.parametrize("text", ["", "  ", "a/b", "a\\b", "..", ".", "x" * 65, "a\nb", "a\x00b",
                                  "a\u202eb", "\ud800"])
def test_an_id_that_cannot_be_used_is_refused(text):
    with pytest.raises(InputError, match="learner id"):
        clean_learner_id(text)


@given(st.text(max_size=80))
def test_any_text_is_an_id_with_a_case_or_refused(text):
    try:
        learner = clean_learner_id(text)
    except InputError:
        return
    assert clean_learner_id(learner) == learner
    assert 0 <= Draw("c", "lab", learner).fraction("f") < 1


@pytest.mark.parametrize(("rule", "reason"), [
    ("def draw(d):\n    return None", "finds no solvable case for 'ml-07' in 200 attempts"),
    ("def draw(d):\n    return 1 / 0", "case.py failed in line 2: ZeroDivisionError"),
    ("import nothing_of_this_name", "case.py failed in line 1: ModuleNotFoundError"),
    ("def draw(d) return 5", "case.py failed.*SyntaxError"),
    ("x = 5", "holds no function draw"), ("draw = 5", "holds no function draw"),
    ("def draw(d):\n    return 5", "case.py failed.*TypeError"),
    ("def draw(d):\n    return [5]", "must return a list of Given"),
    ("from coldbench.worksheet import Given\ndef draw(d):\n    return [Given('a b', 1, 'x')]",
     "cannot name a number 'a b'"),
    ("from coldbench.worksheet import Given\ndef draw(d):\n    return [Given('a', 1, 'x')] * 2",
     "names 'a' twice")])
def test_a_rule_that_does_not_work_is_told_in_a_sentence(tmp_path, rule, reason):
    with pytest.raises(InputError, match=reason):
        draw_case(lab_with(tmp_path, rule), "lab", "c", "ml-07")


def test_a_missing_rule_says_what_to_do(tmp_path):
    with pytest.raises(InputError, match="case.py is missing beside the notebook .* copy the"):
        draw_case(tmp_path, "lab", "c", "ml-07")


def test_a_rule_is_asked_again_until_it_is_content(tmp_path):
    rule = RULE.replace("    return [", "    if draw.fraction('x') > 0.1:\n        return None\n"
                        "    return [")
    assert draw_case(lab_with(tmp_path, rule), "lab", "c", "ml-07").fluid.startswith("R-")


def test_a_case_stays_as_it_is():
    case = Case([Given("altitude_m", 450.0, "altitude", "m")])
    for change in ("case.altitude_m = 1", "case.other = 1", "del case.altitude_m"):
        with pytest.raises(AttributeError, match="cannot be changed"):
            exec(change, {"case": case})
    with pytest.raises(AttributeError, match="this case has no 'altitude'; did you mean altitude_m"):
        case.altitude  # noqa: B018
    for twin in (copy.copy(case), copy.deepcopy(case), pickle.loads(pickle.dumps(case))):
        assert twin.altitude_m == 450.0
    assert "altitude_m" in dir(case) and repr(case) == "Case(altitude_m=450.0)"
