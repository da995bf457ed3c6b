"""Cases of the lab on automatic control: solvable, unambiguous, no two alike.

Checked for twenty learners in three terms. Keys and tolerances come from the lab's own hidden
checks; the text's constants and examples are compared with the head's calibration.
"""

import contextlib
import io
from collections import Counter
from functools import cache
from pathlib import Path

import jupytext
import pytest

from coldbench.bench import load_bench, read
from coldbench.control import load_calibration
from coldbench.worksheet import MarkingDesk, Worksheet, draw_case, read_manifest
from coldbench.worksheet.desk import open_desk
from coldbench.worksheet.kinds.base import as_mistake
from coldbench.worksheet.tolerance import tolerance_si

LAB = "automatic-control"
FOLDER = Path(__file__).parents[2] / "source" / LAB
COURSES = ("marsh-lane-2026-autumn", "practice", "term-b")
LEARNERS = tuple(f"ml-{number:02d}" for number in range(1, 21))
EVERYBODY = [(course, learner) for course in COURSES for learner in LEARNERS]
NEIGHBOURS = [(course, *pair) for course in COURSES for pair in zip(LEARNERS, LEARNERS[1:])]
NUMBERS = ("load", "required temperature", "blend position", "blower cooling", "blower heating",
           "cloud", "required without ambient", "period", "running share", "cycles in an hour",
           "door position", "stop voltage")


@cache
def check_cells() -> tuple:
    """Set-up and check cells, with their hidden parts."""
    cells = jupytext.read(FOLDER / f"{LAB}.md", fmt="md:myst").cells
    return tuple(
        compile(cell.source, cell.metadata["nbgrader"]["grade_id"], "exec")
        for cell in cells if cell.cell_type == "code"
        and (cell.metadata["nbgrader"]["grade"]
             or cell.metadata.get("coldbench", {}).get("role") == "setup"))


@cache
def marked(course: str, learner: str) -> tuple[dict, dict]:
    """Hidden checks of one learner: (question → (key, mistakes, within), names of the cells)."""
    rules = {}

    def note(self, name, key, mistakes=None, weight=1.0, **more):
        rules[name] = (key, mistakes or {}, more.get("within", "1 %"))

    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(io.StringIO()):
        patch.setattr(Worksheet, "mark", note)
        with open_desk(MarkingDesk(learner, FOLDER, course, {})):
            namespace = {}
            for code in check_cells():
                exec(code, namespace)
    return rules, namespace


def rules_of(course: str, learner: str) -> dict:
    return marked(course, learner)[0]


def quantities(rules: dict):
    """(question, key [SI], mistakes {name: SI}, tolerance [SI]) of every number."""
    manifest = read_manifest(FOLDER)
    for name in NUMBERS:
        key, mistakes, within = rules[name]
        question = manifest.question(name)
        values = {m: as_mistake(given).value for m, given in mistakes.items()}
        yield name, key, {m: v for m, v in values.items() if v is not None}, tolerance_si(
            within, key, question.quantity, question.shown_unit)


def test_every_question_is_checked():
    assert set(rules_of(*EVERYBODY[0])) == set(read_manifest(FOLDER).questions)


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_numbers_are_usual_ones(course, learner):
    rules = rules_of(course, learner)
    assert 200 < rules["load"][0] < 900
    for name in ("required temperature", "required without ambient"):
        assert 276.15 < rules[name][0] < 303.15, name  # never at the limit: the sum is the answer
    assert 0.05 < rules["blend position"][0] < 0.5
    assert 0.4 < rules["blower heating"][0] < 0.8


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_mistakes_are_told_from_the_key_and_from_each_other(course, learner):
    for name, key, mistakes, tolerance in quantities(rules_of(course, learner)):
        assert all(abs(value - key) > tolerance for value in mistakes.values()), name
        values = sorted(mistakes.values())
        assert all(b - a > tolerance for a, b in zip(values, values[1:])), name


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_the_past_decides_in_every_sequence(course, learner):
    """Whoever forgets the hysteresis is seen, in either way, and every word occurs."""
    rules = rules_of(course, learner)
    for name in ("distribution", "fans"):
        key, mistakes, _ = rules[name]
        assert len(set(key.values())) == {"distribution": 3, "fans": 2}[name]
        for mistake, given in mistakes.items():
            assert as_mistake(given).value != key, (name, mistake)


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_five_notes_have_five_reasons(course, learner):
    rules, names = marked(course, learner)
    key, mistakes, _ = rules["compressor off"]
    assert len(set(key.values())) == 5
    assert as_mistake(mistakes["named the last link that stops it"]).value != key


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_a_jam_and_a_lever_are_among_the_doors(course, learner):
    doors = Counter(rules_of(course, learner)["three doors"][0].values())
    assert len(doors) == 3 and doors["jammed"] == doors["lever off"] == 1


@pytest.mark.parametrize(("course", "one", "other"), NEIGHBOURS)
def test_neighbours_cannot_copy(course, one, other):
    theirs = {name: key for name, key, *_ in quantities(rules_of(course, other))}
    alike = [name for name, key, _, tolerance in quantities(rules_of(course, one))
             if abs(key - theirs[name]) <= tolerance]
    assert len(alike) <= 5, alike
    keys = [rules_of(course, learner) for learner in (one, other)]
    assert keys[0]["compressor off"][0] != keys[1]["compressor off"][0]
    cases = [draw_case(FOLDER, LAB, course, learner) for learner in (one, other)]
    assert cases[0].mean_required_C != cases[1].mean_required_C


@pytest.mark.parametrize(("course", "learner"), EVERYBODY[::12])
def test_readings_prove_the_doors(course, learner):
    """What the benches show leads to the key by the rules of the text."""
    rules, names = marked(course, learner)
    for letter, word in rules["three doors"][0].items():
        shown = names["door_readings"](getattr(names["case"], f"bench_{letter}_serial"))
        live, seen = shown["live door blend left"], shown["door blend left"]
        found = ("feedback lost" if live is None else "lever off" if abs(live - seen) > 5
                 else "jammed" if shown["codes"] else "sound")
        assert found == word


@pytest.mark.parametrize(("relay", "dead"), [("K1", "M1"), ("K3", "M2")])
@pytest.mark.parametrize(("dust", "ambient_C"), [(0.90, 31.0), (0.95, 35.0)])
def test_bench_s_tells_its_story(relay, dead, dust, ambient_C):
    """At the corners of the drawn values: one fan dead, the limit in the heat, no code."""
    bench, faults = load_bench("blue"), [f"{relay}:coil_open", f"condenser-blocked={dust}"]
    morning = read(bench, "full cooling", faults, set={"ambient_degC": 22, "cabin_degC": 26})
    assert not morning.cycling and morning.outputs.fan == "high" and morning.codes == ()
    fans = {fan: abs(morning.values[f"current {fan}"].value) for fan in ("M1", "M2")}
    assert fans.pop(dead) < 0.5 and min(fans.values()) > 10
    hot = read(bench, "full cooling", faults, set={"ambient_degC": ambient_C})
    assert hot.cycling and any("high pressure" in words for words in hot.cycle_words)
    mended = read(bench, "full cooling", faults[1:], set={"ambient_degC": ambient_C})
    assert not mended.cycling and 2000 < mended.values["gauge high"].value < 2800


def test_constants_and_thresholds_of_the_text():
    """What the text tells is what the head's calibration holds."""
    text, head = (FOLDER / f"{LAB}.md").read_text("utf-8"), load_calibration("blue_head")
    zone = head.zones[0]
    assert head.zones[1].skin_W_per_K == zone.skin_W_per_K == 15
    assert (zone.glass_m2, zone.people_W, zone.recovery_W_per_K) == (0.35, 110, 40)
    assert zone.airflow_kg_per_s * head.heat_balance.air_heat_capacity_J_per_kg_K == (
        pytest.approx(50.3))
    assert head.heat_balance.between_zones_W_per_K == 8
    assert head.blend.heater_effectiveness == 0.75
    c = head.compressor
    for band, unit, words in ((c.speed, 1, "{:.0f} rpm"), (c.supply, 1, "{:.1f} V"),
                              (c.low_pressure, 1e3, "{:,.0f} kPa"),
                              (c.high_pressure, 1e3, "{:,.0f} kPa")):
        assert words.format(band.on / unit) in text and words.format(band.off / unit) in text
    for band, on, off in ((c.ambient, 4, 1), (c.coolant, 110, 117), (c.freeze, 4, 2),
                          (head.distribution.bi_level, 22, 18), (head.distribution.foot, 34, 30)):
        assert (band.on - 273.15, band.off - 273.15) == pytest.approx((on, off))
    assert (head.fan.high.on, head.fan.high.off) == (1.6e6, 1.2e6) and c.minimum_off_s == 8
