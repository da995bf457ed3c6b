"""Cases of the lab on sensor circuits: solvable, unambiguous, no two alike.

The laws are checked for forty learners in five terms. Keys and tolerances come from the lab's own
hidden checks; the physics beside them from `coldbench.sensing` and `coldbench.electrical`.
"""

import contextlib
import io
import math
import runpy
from collections import Counter
from functools import cache
from pathlib import Path

import jupytext
import pytest

from coldbench.electrical import load_circuit, solve
from coldbench.sensing import (
    CodePolicy, CodeState, beta_curve, fit_errors_K, load_sensors, nearest_preferred, read_sensors,
    status_meaning, step_code)
from coldbench.worksheet import Draw, MarkingDesk, Worksheet, draw_case, read_manifest
from coldbench.worksheet.desk import open_desk
from coldbench.worksheet.kinds.base import as_mistake
from coldbench.worksheet.tolerance import tolerance_si

LAB = "sensor-circuits"
FOLDER = Path(__file__).parents[2] / "source" / LAB
COURSES = ("marsh-lane-2026-autumn", "marsh-lane-2027-spring", "practice", "term-a", "term-b")
LEARNERS = tuple(f"ml-{number:02d}" for number in range(1, 41))
EVERYBODY = [(course, learner) for course in COURSES for learner in LEARNERS]
NEIGHBOURS = [(course, *pair) for course in COURSES for pair in zip(LEARNERS, LEARNERS[1:])]
# Resistors come in few sizes, and an error or a drop of a tenth of a volt in few steps.
FEW_VALUES = {"error in the freezer", "head should show", "bench sensor error", "bench pull-up",
              "voltage lost in the joint", "bench reference", "bench signal", "resistance of the joint"}


@cache
def case_rule() -> dict:
    """The lab's own rule for drawing a case, by the names in `case.py`."""
    return runpy.run_path(str(FOLDER / "case.py"))


@cache
def case_of(course: str, learner: str):
    return draw_case(FOLDER, LAB, course, learner)


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


def flat(table, question) -> dict:
    """Row → number of a table, of several columns "row, column"."""
    found = {}
    for row, entry in table.items():
        for column, value in (entry.items() if isinstance(entry, dict)
                              else [(next(iter(question.columns)), entry)]):
            found[f"{row}|{column}"] = value
    return found


def quantities(rules: dict):
    """(place, key [SI], mistakes {name: SI or None}, tolerance [SI]) of every number."""
    manifest = read_manifest(FOLDER)
    for name, (key, mistakes, within) in rules.items():
        question = manifest.question(name)
        values = {m: as_mistake(given).value for m, given in mistakes.items()}
        if isinstance(key, (int, float)) and not isinstance(key, bool):
            yield name, key, values, tolerance_si(within, key, question.quantity,
                                                  question.shown_unit)
        elif isinstance(key, dict) and hasattr(question, "columns"):
            tables = {m: flat(v, question) for m, v in values.items() if v}
            for place, number in flat(key, question).items():
                column = question.columns[place.rpartition("|")[2]]
                form = within[column.name] if isinstance(within, dict) else within
                yield f"{name}|{place}", number, {m: t.get(place) for m, t in tables.items()}, (
                    tolerance_si(form, number, column.quantity, column.shown_unit))


@pytest.mark.parametrize("course", COURSES)
def test_every_learner_gets_a_case_at_once(course):
    rule = case_rule()["draw"]
    assert [name for name in LEARNERS if rule(Draw(course, LAB, name, 0)) is None] == []


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_readings_are_physical(course, learner):
    case = case_of(course, learner)
    ohms = (case.box_freezer_ohm, case.box_cool_ohm, case.box_pipe_ohm, case.box_warm_ohm)
    assert all(cold > 1.2 * warm for cold, warm in zip(ohms, ohms[1:]))
    assert 0.1 < case.pressure_signal_V / case.low_reference_V < 0.9
    irradiance = case.lamp_at_1_m_W_m2 / case.lamp_distance_m**2
    assert 200 < irradiance < 1300 and 5 - 0.8e-6 * irradiance * 4700 > 0.1
    stops = sorted((case.door_closed_counts, case.door_open_counts))
    assert stops[0] < case.door_now_counts < stops[1]
    assert 400 < case.bench_gauge_kPa < 800
    assert 0 < case.sheet_signal_V < case.sheet_reference_V


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_the_formula_fails_in_the_freezer_alone(course, learner):
    """B from two points errs by under half a kelvin between them, by 1.2 to 4 K in the cold."""
    rules = rules_of(course, learner)
    assert 1.2 < rules["error in the freezer"][0] < 4
    assert 3000 < rules["B of the box sensor"][0] < 4400


def test_the_examples_of_the_text():
    """Numbers of the worked examples, worked out again."""
    text = " ".join((FOLDER / f"{LAB}.md").read_text("utf-8").split())
    beta = math.log(10000 / 1451) / (1 / 298.15 - 1 / 358.15)
    assert "= **3435 K**" in text and round(beta) == 3435
    curve = beta_curve(10e3, 3435)
    assert "**49.6 °C**" in text and round(curve.temperature(4160) - 273.15, 1) == 49.6
    errors = fit_errors_K(curve, [243.15, 253.15], [111300, 67770])
    assert "errs by +2.5 K" in text and round(errors[1], 1) == 2.5 and errors[0] > 3
    assert "**4153 Ω**" in text and round(10e3 * 300.5 / 723.5) == 4153
    air = load_sensors()["ntc-10k-3435"].model
    assert "**50.1 °C**" in text and round(air.temperature(4153) - 273.15, 1) == 50.1
    for celsius, ohm in ((-30, 111300), (0, 27280), (25, 10000), (50, 4160), (100, 973)):
        assert air.resistance(celsius + 273.15) == pytest.approx(ohm, rel=0.005)
    assert "**850 kPa**" in text and 3200 * (1.5 / 4.8 - 0.1) / 0.8 == pytest.approx(850)
    assert "**2.91 V**" in text and round(5 - 0.8e-6 * 556 * 4700, 2) == 2.91
    assert "= **25 %**" in text and (715 - 920) / (100 - 920) == 0.25


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_choices_are_unambiguous(course, learner):
    case, rules = case_of(course, learner), rules_of(course, learner)
    fins = load_sensors()["ntc-10k-3977"].model
    ohm = fins.resistance(case.frost_C + 273.15)
    assert abs(math.log(ohm / nearest_preferred(ohm))) < math.log(1.2) / 2 - 0.02
    drawer = [float(k.split()[0]) * 1e3 for k in read_manifest(FOLDER).question(
        "pull-up from the drawer").choices]
    nearest = min(drawer, key=lambda size: abs(size - ohm))
    assert rules["pull-up from the drawer"][0] == f"{nearest / 1e3:g} kΩ"
    should_C = load_sensors()["ntc-10k-3435"].model.temperature(case.resistor_ohm) - 273.15
    for shown_C in (case.shown_at_plug_C, case.shown_at_head_C):
        assert abs(shown_C - should_C) < 0.4 or abs(shown_C - should_C) > 4


@pytest.mark.parametrize("course", COURSES)
def test_every_choice_occurs(course):
    """No choice can be ruled out from what the class has."""
    found = {name: Counter(rules_of(course, learner)[name][0] for learner in LEARNERS)
             for name in ("bad joint", "who is at fault", "side of the window",
                          "there before, not now")}
    drawer = {rules_of(course, learner)["pull-up from the drawer"][0] for learner in LEARNERS}
    assert len(drawer) >= 4
    assert {name: len(keys) for name, keys in found.items()} == {
        "bad joint": 2, "who is at fault": 3, "side of the window": 2, "there before, not now": 4}
    assert max(found["bad joint"].values()) <= 26


@pytest.mark.parametrize(("course", "learner"), EVERYBODY[::7])
def test_a_bad_joint_gives_its_own_symptoms(course, learner):
    """Behind W10: pressure and doors, no other. Behind W20: all but the sun sensor."""
    names = marked(course, learner)[1]
    circuit, inputs = names["splice"], names["bench"]._inputs
    sound = read_sensors(solve(circuit, "on", inputs=inputs))
    faulty = read_sensors(solve(circuit, "on", faults=[names["joint"]], inputs=inputs))
    moved = {name for name in sound if abs(faulty[name].counts - sound[name].counts) > 3}
    assert all(reading.place == "inside" for reading in faulty.values())
    if names["joint"].startswith("W10"):
        assert moved == {"pressure", "left blend door", "right blend door", "mode door"}
        assert all(faulty[name].counts < sound[name].counts for name in moved)
    else:
        assert moved == set(sound) - {"sun"}
        assert all(faulty[name].counts > sound[name].counts for name in moved)


@pytest.mark.parametrize("wire", [w for w in case_rule()["SINGLE_WIRES"]])
def test_a_wire_of_one_sensor_takes_that_sensor_alone(wire):
    readings = read_sensors(solve(load_circuit("sensor-splice"), "on", faults=[f"{wire}:open"]))
    assert sum(reading.place != "inside" for reading in readings.values()) == 1


def test_the_status_bytes_can_occur():
    """Every status of a case is one that the step function reaches within a few cycles."""
    reached, front = {CodeState()}, {CodeState()}
    for _ in range(9):
        front = {step_code(state, event, CodePolicy()) for state in front
                 for event in ("passed", "failed", "new cycle")} - reached
        reached |= front
    known = {state.status for state in reached}
    confirmed_now, young, before, neither = case_rule()["STATUSES"]
    assert {*confirmed_now, *young, *before, *neither} <= known
    assert {status_meaning(s) for s in confirmed_now} == {"failing now, confirmed"}
    assert {status_meaning(s) for s in young} == {"failing now, not yet confirmed"}
    assert {status_meaning(s) for s in before} == {"not failing now, confirmed earlier"}
    assert all(status_meaning(s).startswith("not failing now, failed") for s in neither)


@pytest.mark.parametrize(("course", "one", "other"), NEIGHBOURS)
def test_neighbours_cannot_copy(course, one, other):
    theirs = {name: key for name, key, *_ in quantities(rules_of(course, other))}
    alike = [name for name, key, _, tolerance in quantities(rules_of(course, one))
             if abs(key - theirs[name]) <= tolerance and "|" not in name]
    assert set(alike) <= FEW_VALUES


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_foreseen_mistakes_lie_outside_the_tolerance(course, learner):
    for name, key, mistakes, tolerance in quantities(rules_of(course, learner)):
        for mistake, value in mistakes.items():
            assert value is None or abs(value - key) > tolerance, (name, mistake, value, key)


def test_enough_mistakes_are_foreseen():
    rules = rules_of(*EVERYBODY[0])
    unforeseen = [name for name, _, mistakes, _ in quantities(rules) if not mistakes]
    assert unforeseen == []
    assert len(rules) == len(read_manifest(FOLDER).questions)
