"""Cases of the lab on pressure-temperature charts: solvable, unambiguous, no two alike.

The laws are checked for forty learners in three terms. Keys and tolerances come from the
lab's own hidden checks, the physics beside them from `coldbench.refrigerant`.
"""

import contextlib
import io
import runpy
from functools import cache
from pathlib import Path

import jupytext
import pytest

from coldbench.air import standard_atmosphere_pressure
from coldbench.refrigerant import fluid, subcooling, superheat
from coldbench.worksheet import Draw, MarkingDesk, Worksheet, draw_case, read_manifest
from coldbench.worksheet.desk import open_desk
from coldbench.worksheet.kinds.base import as_mistake
from coldbench.worksheet.tolerance import tolerance_si

LAB = "pressure-temperature"
FOLDER = Path(__file__).parents[2] / "source" / LAB
COURSES = ("marsh-lane-2026-autumn", "marsh-lane-2027-spring", "practice")
LEARNERS = tuple(f"ml-{number:02d}" for number in range(1, 41))
EVERYBODY = [(course, learner) for course in COURSES for learner in LEARNERS]
NEIGHBOURS = [(course, *pair) for course in COURSES for pair in zip(LEARNERS, LEARNERS[1:])]
CANDIDATES = ("R-134a", "R-152a", "R-22", "R-410A", "R-744")
# Instruments come in few classes, so neighbours may share one.
FEW_VALUES = {"gauge limit of error", "thermometer limit of error", "superheat limit of error"}


@cache
def case_rule() -> dict:
    """The lab's own rule for drawing a case, by the names in `case.py`."""
    return runpy.run_path(str(FOLDER / "case.py"))


@cache
def case_of(course: str, learner: str):
    return draw_case(FOLDER, LAB, course, learner)


def atmosphere_Pa(case) -> float:
    return standard_atmosphere_pressure(case.altitude_m)


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
def rules_of(course: str, learner: str) -> dict:
    """What the hidden checks of one learner say: question → (key, mistakes, within)."""
    rules = {}

    def note(self, name, key, mistakes=None, weight=1.0, **more):
        rules[name] = (key, mistakes or {}, more.get("within", "1 %"))

    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(io.StringIO()):
        patch.setattr(Worksheet, "mark", note)
        with open_desk(MarkingDesk(learner, FOLDER, course, {})):
            namespace = {}
            for code in check_cells():
                exec(code, namespace)
    return rules


def quantities(rules: dict):
    """(question, key [SI], mistakes, tolerance [SI]) of every numeric question."""
    manifest = read_manifest(FOLDER)
    for name, (key, mistakes, within) in rules.items():
        question = manifest.question(name)
        if isinstance(key, float):
            yield name, key, mistakes, tolerance_si(
                within, key, question.quantity, question.shown_unit)


@pytest.mark.parametrize("course", COURSES)
def test_every_learner_gets_a_case_at_once(course):
    """Drawing again would break the spread between neighbours, so the first draw must serve."""
    rule = case_rule()["draw"]
    assert [name for name in LEARNERS if rule(Draw(course, LAB, name, 0)) is None] == []


def test_a_case_that_is_not_clear_is_refused():
    """Seeded: readings that fit two refrigerants, or half a verdict, are not accepted."""
    rule = case_rule()
    case = case_of(*EVERYBODY[0])
    values = {given.name: given.value for given in case.givens}
    air_kPa = atmosphere_Pa(case) / 1e3
    assert rule["accepted"](values, air_kPa)
    rest_kPa = rule["bubble_kPa"]("R-134a", case.rest_temperature_C) - air_kPa
    bottle_kPa = sum(rule["bubble_kPa"](name, case.bottle_temperature_C)
                     for name in ("R-134a", "R-152a")) / 2 - air_kPa
    for spoilt in ({"rest_gauge_kPa": rest_kPa + 30}, {"bottle_gauge_kPa": bottle_kPa},
                   {"visitor_suction_pipe_C": 1.5 + rule["dew_C"](
                       "R-134a", case.visitor_low_gauge_kPa + air_kPa)},
                   {"suction_pipe_C": case.suction_pipe_C + 20}):
        assert not rule["accepted"](values | spoilt, air_kPa)


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_readings_are_physical(course, learner):
    case = case_of(course, learner)
    air_Pa = atmosphere_Pa(case)
    assert 1500 <= case.altitude_m <= 2500
    low_Pa = case.low_side_gauge_kPa * 1e3 + air_Pa
    high_Pa = case.high_side_gauge_bar * 1e5 + air_Pa
    imported_Pa = case.imported_low_gauge_psi * 6894.757 + air_Pa
    assert 3 <= superheat("R-134a", low_Pa, case.suction_pipe_C + 273.15) <= 15
    assert 2 <= subcooling("R-134a", high_Pa, case.liquid_line_C + 273.15) <= 12
    assert case.discharge_pipe_C > fluid("R-134a").bubble_temperature(high_Pa) - 273.15 + 10
    pipe_K = (case.imported_suction_pipe_F - 32) / 1.8 + 273.15
    assert 2.5 <= superheat("R-134a", imported_Pa, pipe_K) <= 15
    assert 3 <= superheat(
        "R-407C", case.bus_low_absolute_kPa * 1e3, case.bus_suction_pipe_C + 273.15) <= 15
    assert 2 <= subcooling(
        "R-407C", case.bus_high_absolute_kPa * 1e3, case.bus_liquid_line_C + 273.15) <= 12
    sheet_Pa = case.sheet_barometer_hPa * 100
    assert 3 <= superheat("R-134a", case.sheet_low_gauge_kPa * 1e3 + sheet_Pa,
                          case.sheet_suction_pipe_C + 273.15) <= 15
    assert 2 <= subcooling("R-134a", case.sheet_high_gauge_kPa * 1e3 + sheet_Pa,
                           case.sheet_liquid_line_C + 273.15) <= 12
    assert case.chart_temperatures_C == tuple(sorted(case.chart_temperatures_C))


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_choices_are_unambiguous(course, learner):
    case = case_of(course, learner)
    air_Pa = atmosphere_Pa(case)
    bottle_Pa = case.bottle_gauge_kPa * 1e3 + air_Pa
    bottle_K = case.bottle_temperature_C + 273.15
    misfits = sorted(abs(fluid(name).bubble_pressure(bottle_K) - bottle_Pa) for name in CANDIDATES)
    assert misfits[0] < 10e3 and misfits[1] > 2 * 10e3
    expected_Pa = fluid("R-134a").bubble_pressure(case.rest_temperature_C + 273.15) - air_Pa
    distance_Pa = abs(case.rest_gauge_kPa * 1e3 - expected_Pa)
    assert distance_Pa < 10e3 or distance_Pa > 50e3  # the lab counts below 30 kPa as none
    wet_K = superheat("R-134a", case.visitor_low_gauge_kPa * 1e3 + air_Pa,
                      case.visitor_suction_pipe_C + 273.15)
    flash_K = subcooling("R-134a", case.visitor_high_gauge_bar * 1e5 + air_Pa,
                         case.visitor_liquid_line_C + 273.15)
    assert all(abs(k) < 0.5 or k > 3.5 for k in (wet_K, flash_K))  # it counts below 1 K as none


@pytest.mark.parametrize("course", COURSES)
def test_every_choice_occurs(course):
    """No choice can be ruled out from what the class has."""
    found = {name: {rules_of(course, learner)[name][0] for learner in LEARNERS}
             for name in ("bottle", "what the bench holds", "visitor")}
    assert {name: len(keys) for name, keys in found.items()} == {
        "bottle": 3, "what the bench holds": 3, "visitor": 4}


@pytest.mark.parametrize(("course", "one", "other"), NEIGHBOURS)
def test_neighbours_cannot_copy(course, one, other):
    theirs = {name: key for name, key, *_ in quantities(rules_of(course, other))}
    alike = [name for name, key, _, tolerance in quantities(rules_of(course, one))
             if abs(key - theirs[name]) <= tolerance]
    assert set(alike) <= FEW_VALUES


@pytest.mark.parametrize(("course", "one", "other"), NEIGHBOURS)
def test_neighbours_charts_differ(course, one, other):
    """Each row has few whole degrees, so one row of five may be alike."""
    mine, theirs = (rules_of(course, name)["chart"][0] for name in (one, other))
    alike = [row for row in mine
             if abs(mine[row]["absolute"] / theirs[row]["absolute"] - 1) <= 0.025]
    assert len(alike) <= 1


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_foreseen_mistakes_lie_outside_the_tolerance(course, learner):
    for name, key, mistakes, tolerance in quantities(rules_of(course, learner)):
        for mistake, given in mistakes.items():
            value = as_mistake(given).value
            assert value is None or abs(value - key) > tolerance, (name, mistake)


def test_enough_mistakes_are_foreseen():
    rules = rules_of(*EVERYBODY[0])
    unforeseen = [name for name, _, mistakes, _ in quantities(rules) if not mistakes]
    assert unforeseen == []
    assert len(rules) == len(read_manifest(FOLDER).questions)
