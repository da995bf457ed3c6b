"""Cases of the lab on relay fan logic: solvable, unambiguous, no two alike.

The laws are checked for forty learners in five terms. Keys and tolerances come from the lab's own
hidden checks; the physics beside them from Ohm's law and `coldbench.electrical`.
"""

import contextlib
import io
import re
from collections import Counter
from functools import cache
from pathlib import Path

import jupytext
import pytest

from coldbench.electrical import load_circuit, solve
from coldbench.worksheet import MarkingDesk, Wanted, Worksheet, draw_case, read_manifest
from coldbench.worksheet.desk import open_desk
from coldbench.worksheet.kinds.base import as_mistake
from coldbench.worksheet.tolerance import tolerance_si

LAB = "relay-fan-logic"
FOLDER = Path(__file__).parents[2] / "source" / LAB
COURSES = ("marsh-lane-2026-autumn", "marsh-lane-2027-spring", "practice", "term-a", "term-b")
LEARNERS = tuple(f"ml-{number:02d}" for number in range(1, 41))
EVERYBODY = [(course, learner) for course in COURSES for learner in LEARNERS]
NEIGHBOURS = [(course, *pair) for course in COURSES for pair in zip(LEARNERS, LEARNERS[1:])]
# A 12 V supply is a 12 V supply, wherever it stands.
NARROW = {"low fan voltage", "high fan voltage"}
DRAWN = ("supply_V", "winding_ohm", "fan_k_V_s", "fan_drag_N_m_s2", "fan_2_wire_m", "coil_ohm",
         "path", "wire", "missing_relay", "workmate_reading_ohm", "bench_B_serial",
         "bench_C_serial", "bench_E_serial")


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


def quantities(rules: dict):
    """(place, key [SI], mistakes {name: SI or None}, tolerance [SI]) of every number."""
    manifest = read_manifest(FOLDER)
    for name, (key, mistakes, within) in rules.items():
        question = manifest.question(name)
        values = {m: as_mistake(given).value for m, given in mistakes.items()}
        if isinstance(key, float):
            yield name, key, values, tolerance_si(within, key, question.quantity,
                                                  question.shown_unit)
        elif name in ("drops", "ohmmeter"):
            column, = question.columns.values()
            for row, number in key.items():
                yield f"{name}|{row}", number, {m: t.get(row) for m, t in values.items()}, (
                    tolerance_si(within, number, column.quantity, column.shown_unit))


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_circuits_are_usual_ones(course, learner):
    case, rules = case_of(course, learner), rules_of(course, learner)
    assert 13.2 <= case.supply_V <= 14.6
    assert 4.3 < rules["low current"][0] < 9 and 11 < rules["high current"][0] < 20
    assert 3.8 < rules["high power"][0] / rules["low power"][0] < 6
    assert rules["fuse load"][0] < 0.4
    # A blade fuse holds 110 % of its rating for 100 hours (ISO 8820-3 bands, from memory).
    assert 0.75 < rules["stalled fuse load"][0] < 1.1
    assert rules["stalled heat"][0] > 400
    assert 0.04 < rules["bad resistance"][0] < 0.12 and 6 < rules["heat in the joint"][0] < 40
    assert 250e3 < rules["source resistance"][0] < 900e3  # above 1 MΩ a meter's reading wanders


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_rules_of_the_text_predict_well(course, learner):
    """What the text tells a learner to do comes out inside every tolerance."""
    case, rules = case_of(course, learner), rules_of(course, learner)
    amps = marked(course, learner)[1]["sheet_A"]
    low_V, high_V = (case.supply_V - 0.3) / 2, case.supply_V - 0.7
    low_A, high_A = amps(low_V), amps(high_V)
    path_ohm = round(rules["path resistance"][0], 4)
    names = marked(course, learner)[1]
    stalled_A = round(names["jammed_U"], 2) / (case.winding_ohm + path_ohm)
    told = {
        "low fan voltage": low_V, "low current": low_A, "low power": 2 * low_V * low_A,
        "high fan voltage": high_V, "high current": high_A, "high supply current": 2 * high_A,
        "high power": 2 * high_V * high_A, "fuse load": high_A / 60,
        "wire resistance": 1e-3 * (3.3 * case.fan_2_wire_m + 2),
        "wire drop": 1e-3 * (3.3 * case.fan_2_wire_m + 2) * high_A,
        "stalled current": stalled_A, "stalled fuse load": stalled_A / 60,
        "stalled heat": case.winding_ohm * stalled_A**2,
    }
    allowed = {name: (key, tolerance) for name, key, _, tolerance in quantities(rules)}
    off = {name: value / allowed[name][0] - 1 for name, value in told.items()
           if abs(value - allowed[name][0]) > 0.8 * allowed[name][1]}
    assert off == {}


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_rounded_readings_are_exact_enough(course, learner):
    """Steps of 0.01 V and 0.1 A leave results inside half of their tolerance."""
    rules, names = marked(course, learner)
    allowed = {name: (key, tolerance) for name, key, _, tolerance in quantities(rules)}
    volts, amps = round(names["bad_V"], 3), round(names["bad_I"], 1)
    supply, reading = round(names["supply_E"], 2), round(names["reading_E"], 2)
    told = {"bad resistance": volts / amps, "heat in the joint": volts * amps,
            "source resistance": 10e6 * (supply - reading) / reading}
    assert all(abs(value - allowed[name][0]) < 0.55 * allowed[name][1]
               for name, value in told.items())


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_foreseen_mistakes_lie_outside_the_tolerance(course, learner):
    for name, key, mistakes, tolerance in quantities(rules_of(course, learner)):
        for mistake, value in mistakes.items():
            assert value is None or abs(value - key) > tolerance, (name, mistake)


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_foreseen_mistakes_are_told_apart(course, learner):
    """No wrong number can be called by the name of another one."""
    for name, _, mistakes, tolerance in quantities(rules_of(course, learner)):
        values = sorted(value for value in mistakes.values() if value is not None)
        assert all(b - a > tolerance for a, b in zip(values, values[1:]) if b != a), name


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_named_mistakes_of_a_choice_are_wrong_choices(course, learner):
    for name, (key, mistakes, _) in rules_of(course, learner).items():
        if isinstance(key, str):
            chosen = [as_mistake(given).value for given in mistakes.values()]
            assert key not in chosen, name


@pytest.mark.parametrize(("course", "learner"), EVERYBODY)
def test_only_the_bad_section_drops_much(course, learner):
    """The bad section drops more than twice what any sound one of that fan does."""
    names = marked(course, learner)[1]
    across, in_high = names["across"], names["in_high"]
    drops = {bad: across(in_high, *points[:2]) for bad, points in names["SECTIONS"].items()}
    bad = names["bad"]
    assert 0.5 < drops[bad] < 2
    assert all(2 * drop < drops[bad] for other, drop in drops.items() if other != bad)
    like = "M2" if names["weak_fan"] == "M1" else "M1"
    weak, sound = (across(in_high, f"{fan}.plus", f"{fan}.minus")
                   for fan in (names["weak_fan"], like))
    assert weak < sound - 0.4


@pytest.mark.parametrize(("course", "learner"), EVERYBODY[::5])
def test_bench_c_can_be_proved(course, learner):
    """Its fans do what no sound bench does, and the coil's current parts coil from contacts."""
    names = marked(course, learner)[1]
    states = ("off", "low", "high")
    operating, speeds = names["operating"], names["speeds"]
    faulty = [speeds(operating(names["bench_c"], state)) for state in states]
    assert faulty != [speeds(operating(names["bench_a"], state)) for state in states]
    high = operating(names["bench_c"], "high")
    coils = {wire: high.currents[wire] for wire in ("W21", "W22", "W23")}
    dead = [wire for wire, amps in coils.items() if amps < 0.1]
    expected = {"K1": "W21", "K2": "W22", "K3": "W23"}[names["bad_relay"]]
    assert dead == ([expected] if names["mode"] == "coil_open" else [])


@pytest.mark.parametrize(("course", "one", "other"), NEIGHBOURS)
def test_neighbours_cannot_copy(course, one, other):
    """Of the numbers, few are alike; the benches differ, and never all of the drawn values."""
    theirs = {name: key for name, key, *_ in quantities(rules_of(course, other))}
    mine = list(quantities(rules_of(course, one)))
    alike = {name for name, key, _, tolerance in mine if abs(key - theirs[name]) <= tolerance}
    assert len(alike - NARROW) <= 10, alike
    cases = case_of(course, one), case_of(course, other)
    assert sum(getattr(cases[0], name) == getattr(cases[1], name) for name in DRAWN) <= 3
    assert cases[0].bench_B_serial != cases[1].bench_B_serial
    keys = [rules_of(course, learner) for learner in (one, other)]
    assert keys[0]["bad section"][0] != keys[1]["bad section"][0] or (
        keys[0]["fault of bench C"][0] != keys[1]["fault of bench C"][0])


@pytest.mark.parametrize("course", COURSES)
def test_every_choice_occurs(course):
    """No choice can be ruled out from what the class has."""
    found = {name: Counter(rules_of(course, learner)[name][0] for learner in LEARNERS)
             for name in ("bad section", "fault of bench C", "workmate", "where the ghost begins")}
    assert {name: len(keys) for name, keys in found.items()} == {
        "bad section": 10, "fault of bench C": 10, "workmate": 3, "where the ghost begins": 2}
    assert max(found["bad section"].values()) <= 8


def test_the_eight_states_are_those_of_the_series_and_parallel_circuit():
    """By hand: fan 1 needs relay 1, and relay 2 leads it to ground or on to fan 2."""
    with_relays = rules_of(*EVERYBODY[0])["eight states"][0]
    released, energised = "released", "energised"
    for one in (released, energised):
        for two in (released, energised):
            for three in (released, energised):
                series = (one, two, three) == (energised, released, released)
                fan_1 = "slow" if series else "fast" if one == two == energised else "off"
                fan_2 = "slow" if series else "fast" if three == energised else "off"
                assert with_relays(one, two, three) == {"fan 1": fan_1, "fan 2": fan_2}


def test_the_examples_of_the_text():
    """Numbers of the worked examples, worked out again."""
    text = (FOLDER / f"{LAB}.md").read_text("utf-8")
    amps = 4.7 + 0.7 * 0.9
    assert "**61 W**" in text and round(2 * 5.7 * amps) == 61
    mohm = 1.2 * 7.98 + 2
    assert "= 11.6 mΩ" in text and round(mohm, 1) == 11.6
    assert "**93 mV**" in text and round(11.6 * 8) == 93
    stalled = 12.0 / 0.35
    assert "34.3 A" in text and round(stalled, 1) == 34.3
    assert "114 %" in text and round(100 * stalled / 30) == 114
    assert "**353 W**" in text and round(0.30 * 34.3**2) == 353
    assert "= 54 Ω" in text and 1 / (1 / 60 + 1 / 540) == pytest.approx(54)
    assert "= 0.5 MΩ" in text and 10 * (12.6 - 12) / 12 == pytest.approx(0.5)


def test_the_wire_sizes_of_the_text_are_those_of_the_standard():
    """IEC 60228, class 5: as in the table of the circuit solver."""
    from coldbench.electrical.conductors import wire_resistance

    text = (FOLDER / f"{LAB}.md").read_text("utf-8")
    lines = text.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("| size, mm²"))
    sizes, ohms = ([cell.strip() for cell in lines[n].strip("|").split("|")][1:]
                   for n in (start, start + 2))
    for size, mohm in zip(sizes, ohms, strict=True):
        assert 1e3 * wire_resistance(float(size), 1.0) == pytest.approx(float(mohm))
    assert load_circuit("three-relay-fans").wires["W15"].size_mm2 == 6


@pytest.mark.parametrize("name", ["three-relay-fans", "clutch"])
def test_the_diagram_is_that_of_the_circuit(name):
    """Every part, wire size and test point of the circuit file stands in the picture."""
    picture, circuit = (FOLDER / f"{name}.svg").read_text("utf-8"), load_circuit(name)
    words = re.findall(r">([^<>]+)</text>", picture)
    for part in circuit.parts:
        assert any(word.split(" · ")[0] == part for word in words), part
    assert {f"{wire.circuit} / {wire.size_mm2:g}" for wire in circuit.wires.values()} <= set(words)
    assert {str(number) for number in circuit.test_points} <= set(words)


def test_every_question_is_checked():
    rules = rules_of(*EVERYBODY[0])
    assert set(rules) == set(read_manifest(FOLDER).questions)
    assert [name for name, _, mistakes, _ in quantities(rules) if not mistakes] == []
    assert all(isinstance(want, Wanted) for want in rules["measurements"][0].values())


def test_a_ghost_hides_from_the_voltmeter_not_from_the_lamp():
    names = marked(*EVERYBODY[0])[1]
    bench = names["bench_e"]
    assert solve(bench.circuit, "off", bench.faults).voltage(4) > 13.7  # nothing loads it
    assert 12 < bench.probe(4, 2).value < 13.6
    assert "dark" in bench.probe(4, 2, "lamp").text
