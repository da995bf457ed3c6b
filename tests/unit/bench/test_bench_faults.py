"""The blue bench's catalogue: complete, numbered, and every fault of it solved and told apart."""

import json
from collections import Counter
from fnmatch import fnmatchcase

import pytest
from coldbench.bench import (
    BenchFault,
    bench_faults,
    catalogue,
    differences,
    fault_table,
    load_bench,
    numbered,
    read,
)
from coldbench.cli.app import app
from coldbench.errors import InputError
from typer.testing import CliRunner

BLUE = load_bench("blue")
ALL = catalogue(BLUE)
STATES = ("hot day", "gentle cooling", "heating")
OTHERS = tuple(state for state in BLUE.states if state not in STATES)


def test_four_families_each_worth_having():
    assert len(ALL) >= 120
    count = Counter(one.family for one in ALL)
    assert set(count) == {"refrigerant", "electrical", "sensor", "control"}
    assert min(count.values()) >= 15


def test_numbers_are_different_and_stay():
    numbers = [one.number for one in ALL]
    assert len(set(numbers)) == len(numbers) and all(1000 <= n <= 9999 for n in numbers)
    assert [one.number for one in catalogue(load_bench("blue"))] == numbers
    assert numbers != sorted(numbers)  # the order tells nothing
    assert numbered(BLUE, numbers[7]) == ALL[7]
    with pytest.raises(InputError, match="no fault number 12"):
        numbered(BLUE, 12)


def test_every_entry_is_a_fault_the_bench_takes_by_name_and_by_number():
    for one in ALL:
        assert isinstance(one, BenchFault) and one.description and one.proven_at
        by_name, by_number = bench_faults(BLUE, [one.id]), bench_faults(BLUE, [str(one.number)])
        assert by_name.texts == (one.id,) and by_number.texts == (str(one.number),)
        assert by_name.electrical == by_number.electrical and by_name.loop == by_number.loop
        assert by_name.doors == by_number.doors and by_name.head_dead == by_number.head_dead
        assert by_name.calibration == by_number.calibration
        assert 0.0 <= one.severity <= 1.0


def test_what_is_inside_a_control_unit_is_a_fault_of_control():
    families = {one.id: one.family for one in ALL}
    assert families["D201:stuck_off"] == families["VR:dead"] == families["RP405:open"] == "control"
    assert families["K1:coil_open"] == "electrical" and families["RT401:open"] == "sensor"


@pytest.fixture(scope="module")
def table():
    """Every fault in three operating states, on two processes."""
    return fault_table(BLUE, STATES, workers=2)


def test_every_fault_comes_to_rest_or_cycles_and_breaks_no_law(table):
    """Mass and energy of the loop are kept (but for a trip, whose surplus of heat is what drives
    the pressure up), so is the power in the wiring; the high side is never below the low side."""
    assert len(table.rows) == (len(ALL) + 1) * len(STATES)
    for place, row in table.rows.items():
        assert abs(row.mass) < 1e-5 and abs(row.power_W) < 1e-3, place
        assert abs(row.energy) < 1e-5 or row.limited, place
        value = {key: number for key, (number, _) in row.values.items()}
        assert value["gauge high"] >= value["gauge low"] - 1e-3, place
        assert 0.0 <= value["vent flow"] <= 100.0 and value["condenser flow"] >= 0.0, place
        if abs(value["current MB"]) < 1e-3:
            assert value["vent flow"] < 0.1, place
        if not value["clutch"]:
            assert value["gauge high"] == pytest.approx(value["gauge low"], abs=5.0), place


def test_every_fault_shows_or_the_file_says_why_not(table):
    """A fault that shows nowhere has its reason, and nobody is excused who shows."""
    quiet = [one.id for one in ALL if not any(table.differences(one.id, s) for s in STATES)]
    elsewhere = fault_table(BLUE, OTHERS, quiet, workers=2)
    hidden = [fault for fault in quiet
              if not any(elsewhere.differences(fault, state) for state in OTHERS)]
    reasons = BLUE.catalogue.invisible
    excused = {one.id for one in ALL if any(fnmatchcase(one.id, name) for name in reasons)}
    assert set(hidden) == excused
    for name, reason in reasons.items():
        assert reason and any(fnmatchcase(fault, name) for fault in hidden), name


def test_a_table_is_the_readings_whoever_works_it_out(table):
    for fault in ("K3:coil_open", "undercharge"):
        found = read(BLUE, "hot day", [fault])
        row = table.row(fault, "hot day")
        assert row.values == {k: (m.value, m.uncertainty) for k, m in found.values.items()}
        assert table.differences(fault, "hot day") == differences(read(BLUE, "hot day"), found)
        assert table.measured(fault, "hot day", "gauge high") == found.values["gauge high"]
    with pytest.raises(InputError, match="no fault 'M9:open'"):
        table.row("M9:open", "hot day")
    with pytest.raises(InputError, match="workers is 0"):
        fault_table(BLUE, workers=0)


def test_a_state_of_a_table_may_be_changed():
    found = fault_table(BLUE, [("off", {"ambient_degC": 10})], [])
    assert found.states == ("off ambient_degC=10",)
    assert found.measured("", found.states[0], "pipe liquid line").value == pytest.approx(10.0)


def test_several_faults_at_once():
    alone = read(BLUE, "hot day", ["condenser-blocked=0.6"]).values["gauge high"].value
    both = read(BLUE, "hot day", ["condenser-blocked=0.6", "M1:open"]).values["gauge high"].value
    assert both > alone
    number = next(one.number for one in ALL if one.id == "head:dead")
    many = bench_faults(BLUE, ["F1:open", "condenser-blocked=0.6", str(number),
                               "blend_left:jammed=0.3"])
    assert [str(one) for one in many.electrical] == ["F1:blown"] and many.head_dead
    assert many.loop[0].severity == 0.6 and many.doors["blend left"].position == 0.3


@pytest.mark.parametrize("faults", [["M1:open", "M1:open"], ["head:dead", "head:dead"],
                                    ["blend_left:jammed", "blend_left:jammed"]])
def test_a_fault_given_twice_is_refused(faults):
    with pytest.raises(InputError, match="given twice"):
        bench_faults(BLUE, faults)


@pytest.mark.parametrize("pair", [
    ("blend_left:jammed=0.3", "blend_left:jammed=0.7"), ("blend_left:jammed", "blend_left:blocked"),
    ("head:freeze_limit_low", "head:freeze_limit_high"), ("SI:stuck_open", "SI:stuck_closed"),
    ("CL:shorted", "CL:high_resistance")], ids=" ".join)
def test_faults_that_contradict_each_other_are_refused_in_either_order(pair):
    for faults in (pair, pair[::-1]):
        with pytest.raises(InputError, match="contradict|one fault"):
            bench_faults(BLUE, faults)


def test_two_wrong_constants_of_the_head_are_both_wrong():
    faults = ["head:fans_high_late", "head:blower_curve_low"]
    for order in (faults, faults[::-1]):
        wrong = bench_faults(BLUE, order).calibration
        assert wrong.fan.high.on == 2.6e6 and max(wrong.blower.curve_share) == 0.5


def test_a_burnt_fuse_that_blows_is_open_in_any_order():
    alone = read(BLUE, "full cooling", ["F202:blown"]).values
    for faults in (["F202:blown", "F202:high_resistance"], ["F202:high_resistance", "F202:blown"]):
        found = read(BLUE, "full cooling", faults).values
        assert {key: one.value for key, one in found.items()} == {
            key: one.value for key, one in alone.items()}


def test_a_stalled_blower_blows_its_own_fuse_and_spares_the_one_before_it():
    found = read(BLUE, "full cooling", ["MB:stalled"])
    assert found.phase.wired.blown == ("F301",)
    assert found.values["clutch"].value == 1.0  # F103 feeds it too


def test_an_ohmmeter_works_where_head_and_reference_are_dead():
    for faults in ([], ["VR:dead"]):
        shown = BLUE.session("off", faults).meter("ohms", 5, 6)
        assert shown.values["ohms"].value == 0.2


def test_a_fault_given_by_its_number_is_put_right_by_the_same_part():
    number = next(one.number for one in ALL if one.id == "belt-slip")
    session = BLUE.session("off", [f" {number}"])
    session.replace("belt")
    assert session.confirm().values["states off"].value == 0.0


@pytest.mark.parametrize("fault", ["M9:open", "M1:melted", "undercharge=7", "blend_left:lost",
                                   "head:tired", "nonsense", "blend_left:jammed=2", "17"])
def test_faults_that_cannot_be_are_refused_in_a_sentence(fault):
    with pytest.raises(InputError) as refused:
        read(BLUE, "off", [fault])
    assert "\n" not in str(refused.value)


def test_the_command_lists_the_catalogue():
    rows = json.loads(CliRunner().invoke(app, ["bench", "faults", "blue", "--json"]).output)
    assert [list(row) for row in rows] == [
        ["id", "number", "family", "part", "mode", "severity", "description"]] * len(ALL)
    assert [(row["id"], row["number"]) for row in rows] == [(one.id, one.number) for one in ALL]
    text = CliRunner().invoke(app, ["bench", "faults", "blue"]).output
    assert all(f"{one.number}  {one.id}  " in text for one in ALL)
