"""Calibration files: what is read, and what is refused with file, key and reason."""

import copy
import json
import re
import tomllib
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.control import (
    calibration_from_tables, calibration_schema, load_calibration, read_calibration,
)
from coldbench.errors import InputError

DATA = resources.files("coldbench.control").joinpath("data")
TEXT = DATA.joinpath("blue_head.toml").read_text("utf-8")
TABLES = tomllib.loads(TEXT)
NAMES = ("blue_head", "one_zone_head")


def changed(path, value):
    """The blue head's tables with one entry replaced, or removed if value is None."""
    tables = copy.deepcopy(TABLES)
    table = tables
    for key in path[:-1]:
        table = table[key]
    if value is None:
        del table[path[-1]]
    else:
        table[path[-1]] = value
    return tables


def test_units_are_converted_once():
    blue = load_calibration("blue_head")
    assert blue.compressor.freeze.off == 275.15 and blue.compressor.high_pressure.off == 2.8e6
    assert blue.sensors["pressure"].substitute == 1.2e6
    assert blue.set_point.lowest_K == 289.15


@pytest.mark.parametrize("name", NAMES)
def test_thresholds_lie_in_the_usual_ranges(name):
    """Gauge pressures and temperatures of the trade (common practice), vehicles differ."""
    limits, fan = load_calibration(name).compressor, load_calibration(name).fan
    assert 1.2e5 <= limits.low_pressure.off <= 2.0e5 and 2.25e5 <= limits.low_pressure.on <= 2.4e5
    assert 28e5 <= limits.high_pressure.off <= 32e5 and 22e5 <= limits.high_pressure.on <= 24e5
    assert 9e5 <= fan.high.off <= 15e5 and 15e5 <= fan.high.on <= 20e5
    assert 273.15 <= limits.freeze.off <= 277.15 and 276.15 <= limits.freeze.on <= 278.15


@pytest.mark.parametrize(("path", "value", "said"), [
    (("compressor", "freeze"), {"on_degC": 2.0, "off_degC": 4.0},
     "blue: compressor: freeze crosses itself: on_degC 2 must be above off_degC 4"),
    (("compressor", "freeze"), {"on_degC": 4.0, "off_degC": 4.0},
     "blue: compressor: freeze crosses itself: on_degC 4 must be above off_degC 4"),
    (("compressor", "high_pressure"), {"on_kPa": 2900.0, "off_kPa": 2800.0},
     "blue: compressor: high_pressure crosses itself: on_kPa 2900 must be below off_kPa 2800"),
    (("compressor", "high_pressure"), {"on_kPa": 2300.0},
     "blue: compressor: high_pressure must be a table with the keys on_kPa and off_kPa"),
    (("compressor", "high_pressure"), {"on_bar": 23.0, "off_bar": 28.0},
     "blue: compressor: high_pressure must be a table with the keys on_kPa and off_kPa"),
    (("compressor", "minimum_off_s"), "8",
     "blue: compressor: minimum_off_s must be a number, not '8'"),
    (("compressor", "minimum_off_s"), -1, "blue: compressor: minimum_off_s = -1 is outside"),
    (("compressor", "minimum_off_s"), None, "blue: compressor: lacks 'minimum_off_s'"),
    (("compressor", "least_off_s"), 8.0, "blue: compressor: unknown key 'least_off_s'; accepted"),
    (("fan", "high"), {"on_kPa": 1000.0, "off_kPa": 950.0}, "blue: fan: high crosses low"),
    (("fan", "high"), {"on_kPa": 2900.0, "off_kPa": 1200.0},
     "blue: fan: high crosses compressor high_pressure: the fans must come on before"),
    (("fan", "low_with_compressor"), 1, "blue: fan: low_with_compressor must be true or false"),
    (("distribution", "foot"), {"on_degC": 34.0, "off_degC": 20.0},
     "blue: distribution: foot crosses bi-level"),
    (("distribution", "positions"), {"face": 0.0}, "blue: distribution: positions must be a table"),
    (("blower", "curve_share"), [1.0, 0.35, 0.5, 0.4], "blue: blower: curve_share must fall to"),
    (("blower", "curve_share"), [1.0, 0.35, 0.5], "blue: blower: curve_share must have as many"),
    (("blower", "curve_share"), [1.0, 0.0, 0.0, 0.5], "blue: blower: curve_share must stay above"),
    (("blower", "curve_share"), [1.0], "blue: blower: curve_share must be a list of at least two"),
    (("blower", "curve_share"), [1.0, 0.3, 0.3, "x"], "blue: blower: curve_share[3] must be a num"),
    (("blower", "curve_degC"), [-15.0, 30.0, 10.0, 50.0], "blue: blower: curve_degC must rise"),
    (("blower", "coolant_cold_degC"), 60.0, "blue: blower: coolant_cold_degC must be below"),
    (("door", "blend", "stop_error"), 0.02, "blue: door.blend: stop_error must be below start"),
    (("door", "blend", "stall_movement"), 0.1, "blue: door.blend: stall_movement is so large"),
    (("door", "blend", "least_travel"), 0.9, "blue: door.blend: least_travel is more than"),
    (("door", "blend", "without_feedback"), "left",
     "blue: door.blend: without_feedback 'left' is unknown; accepted: hold, closed, open"),
    (("door", "blend"), None, "blue: door must have exactly the tables blend, distribution, rec"),
    (("sensor", "sun", "substitute_degC"), 1.0, "blue: sensor.sun: unknown key 'substitute_degC'"),
    (("sensor", "sun", "window", "low_ratio"), 1.0,
     "blue: sensor.sun: window crosses itself: low_ratio 1 must be below high_ratio 1"),
    (("zone", 1, "name"), "left", "blue: zone[1]: name 'left' is already taken"),
    (("zone",), [], "blue: zone must be a list of at least one table"),
    (("code", 0, "source"), "pressure left", "blue: code[0]: source 'pressure left' is unknown"),
    (("code", 0, "fault"), "stalled", "blue: code[0]: fault 'stalled' cannot be told of"),
    (("code", 1, "number"), "P0532", "blue: code[1]: number 'P0532' is already taken"),
    (("code", 1, "fault"), "below", "blue: code[1]: fault 'pressure below' already has a code"),
    (("storing", "age_cycles"), 0, "blue: storing: age_cycles must be a whole number from 1"),
    (("storing", "age_cycles"), 4.0, "blue: storing: age_cycles must be a whole number from 1"),
    (("name",), " ", "blue: name must be a word"),
    (("heater",), {}, "blue: unknown key 'heater'; accepted: name, set_point"),
    (("fan",), None, "blue: lacks 'fan'"),
    (("fan",), 3, "blue: fan: wants a table"),
])
def test_what_is_refused(path, value, said):
    with pytest.raises(InputError) as refusal:
        calibration_from_tables(changed(path, value), "blue")
    assert str(refusal.value).startswith(said)
    assert "\n" not in str(refusal.value)


def test_what_is_not_toml_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"head\.toml: not valid TOML"):
        read_calibration("a = ", "head.toml")
    with pytest.raises(InputError, match="cannot be read as text"):
        load_calibration(tmp_path / "none.toml")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="cannot be read as text"):
        load_calibration(binary)


def test_a_file_of_ones_own_is_read(tmp_path):
    mine = tmp_path / "mine.toml"
    mine.write_text(TEXT.replace("minimum_off_s = 8.0", "minimum_off_s = 12"), "utf-8")
    assert load_calibration(mine).compressor.minimum_off_s == 12.0


@settings(max_examples=300)
@given(data=st.data())
def test_a_mutated_file_is_read_or_refused_in_one_sentence(data):
    lines = TEXT.splitlines()
    spot = data.draw(st.integers(0, len(lines) - 1))
    how = data.draw(st.sampled_from(["drop", "double", "number", "word", "cut", "swap"]))
    line = lines[spot]
    lines[spot:spot + 1] = {
        "drop": [], "double": [line, line], "cut": [line[:len(line) // 2]],
        "number": [re.sub(r"-?\d+\.?\d*", data.draw(st.sampled_from(
            ["-1.0", "0", "1e400", "nan", "inf", "true", "99999.0", "[]"])), line, count=1)],
        "word": [line.replace('"', "'", 1)], "swap": [line, *lines[:1]]}[how]
    try:
        read_calibration("\n".join(lines), "mutated.toml")
    except InputError as refusal:
        assert str(refusal).startswith("mutated.toml: ")


def test_the_schema_names_every_key_and_says_what_it_means():
    schema = calibration_schema()
    json.dumps(schema)

    def walk(table, described, where):
        if described.get("type") == "array" and isinstance(table, list):
            for row in table:
                walk(row, described["items"], where)
        elif isinstance(table, dict):
            assert set(table) == set(described["properties"]), where
            assert set(described["required"]) == set(table), where
            for key, value in table.items():
                walk(value, described["properties"][key], f"{where}.{key}")
        else:
            assert {"type", "enum"} & set(described), where

    for name in NAMES:
        walk(tomllib.loads(DATA.joinpath(f"{name}.toml").read_text("utf-8")), schema, name)
    assert schema["properties"]["compressor"]["properties"]["freeze"]["description"]


def test_the_schema_accepts_the_shipped_heads_and_refuses_a_wrong_one():
    from jsonschema import Draft202012Validator

    schema = calibration_schema()
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    for name in NAMES:
        assert validator.is_valid(tomllib.loads(DATA.joinpath(f"{name}.toml").read_text("utf-8")))
    for path, value in ((("fan",), 3), (("compressor", "minimum_off_s"), "8"),
                        (("door", "blend", "without_feedback"), "left"), (("zone",), [])):
        assert not validator.is_valid(changed(path, value))
