"""The room's TOML files: what ships is sound, and every complaint names file, key and reason."""

from importlib import resources

import pytest

from coldbench.electrical import load_circuit
from coldbench.errors import InputError
from coldbench.sensing import (
    check_head, load_control_head, load_sensors, read_control_inputs, read_sensors_file)

DATA = resources.files("coldbench.sensing").joinpath("data")


def without_comments(name: str) -> str:
    """Text of a shipped file without its comment lines."""
    lines = DATA.joinpath(name).read_text("utf-8").splitlines()
    return "\n".join(line for line in lines if not line.startswith("#"))


SENSORS_TEXT = without_comments("sensors.toml")
INPUTS_TEXT = without_comments("control_inputs.toml")


def test_every_sensor_has_a_source_and_a_range_it_can_work_in():
    sensors = load_sensors()
    assert {sensor.kind for sensor in sensors.values()} == {
        "thermistor", "platinum", "transducer", "photodiode", "potentiometer"}
    assert all(sensor.source and sensor.label for sensor in sensors.values())


def test_head_fits_its_circuit_and_every_part_that_senses_has_an_input():
    head, circuit = load_control_head(), load_circuit("sensor-splice")
    check_head(head, circuit)
    sensing = {part.id for part in circuit.parts.values() if part.kind in (
        "variable_resistor", "ratio_output", "current_source", "potentiometer")}
    assert {one.part for one in head.inputs.values()} == sensing
    points = {point.at for point in circuit.test_points.values()}
    assert all(one.signal in points for one in head.inputs.values())


def test_tracks_and_travel_agree_between_circuit_and_list():
    circuit = load_circuit("sensor-splice")
    for one in load_control_head().inputs.values():
        if one.sensor.kind == "potentiometer":
            assert circuit.parts[one.part].parameters["track_ohm"] == one.sensor.model.track_ohm


@pytest.mark.parametrize("old, new, complaint", [
    ("kind = \"platinum\"", "kind = \"copper\"", "sensor.pt100: kind must be one of"),
    ("form = \"beta\"", "form = \"alpha\"", "sensor.ntc-10k-3435-beta: form must be one of"),
    ("beta_K = 3435", "", "sensor.ntc-10k-3435-beta: lacks 'beta_K'"),
    ("beta_K = 3435", "beta_K = true", "beta_K must be a number, not True"),
    ("beta_K = 3435", "beta_K = -1", "beta_K must be 1 or more"),
    ("beta_K = 3435", "beta_K = nan", "beta_K must be 1 or more"),
    ("beta_K = 3435", "beta_K = 3435\ngamma = 1", "unknown key 'gamma'"),
    ("67770, 27280", "67770, 67780", "sensor.ntc-10k-3435: in a thermistor table"),
    ("67770, 27280", "67770", "one resistance for each temperature"),
    ("lowest_degC = -30", "lowest_degC = 200", "must rise"),
    ("zero_ratio = 0.1", "zero_ratio = 0.95", "sensor.pressure-32: transducer ratios must rise"),
    ("end_fraction = 0.9", "end_fraction = 0.1", "sensor.door: wiper fractions"),
    ("label = \"Platinum 100 Ohm\"", "label = \" \"", "label must not be empty"),
    ("D1 = 6.383091e-8", "D1 = -6.383091e-8", "sensor.ntc-10k-3977: thermistor coefficients"),
    ("[sensor.sun]", "[sensors.sun]", "wants the tables"),
    ("[sensor.sun]", "[sensor.sun", "not valid TOML"),
])
def test_bad_sensor_list(old, new, complaint):
    assert old in SENSORS_TEXT
    with pytest.raises(InputError) as caught:
        read_sensors_file(SENSORS_TEXT.replace(old, new, 1), "mine.toml")
    assert str(caught.value).startswith("mine.toml: ") and complaint in str(caught.value)


@pytest.mark.parametrize("old, new, complaint", [
    ("sensor = \"sun\"", "sensor = \"moon\"", "input 7: sensor 'moon' is not in the list"),
    ("pull_up = \"RP6\"\n", "", "input 7: pull_up: a photodiode needs"),
    ("signal = \"RI1.a\"", "signal = \"RI1.a\"\npull_up = \"RP1\"", "a transducer has no pull-up"),
    ("name = \"cabin\"", "name = \"ambient\"", "name 'ambient' is used twice"),
    ("part = \"RT2\"", "part = \"RT1\"", "part 'RT1' is used twice"),
    ("\"B1702\"", "\"P0072\"", "code 'P0072' is used twice"),
    ("\"B1702\"", "\"P0642\"", "code 'P0642' is used twice"),
    ("high_ratio = 0.98", "high_ratio = 0.01", "input 1: a window's lower limit"),
    ("substitute_degC = 15.0", "substitute_kPa = 15.0", "unknown key 'substitute_kPa'"),
    ("fail_s = 2.0", "fail_s = -2.0", "input 1: fail_s must be from 0 to 600"),
    ("bits = 10", "bits = 20", "converter: bits must be from 4 to 16"),
    ("reference_low_V = 4.0", "reference_low_V = 6.0", "converter: a window's lower limit"),
    ("circuit = \"sensor-splice\"", "circuit = 3", "circuit must be text"),
    ("[converter]", "[convertor]", "wants circuit, [converter] and [[input]]"),
])
def test_bad_control_inputs(old, new, complaint):
    assert old in INPUTS_TEXT
    with pytest.raises(InputError) as caught:
        read_control_inputs(INPUTS_TEXT.replace(old, new, 1), load_sensors(), "mine.toml")
    assert str(caught.value).startswith("mine.toml: ") and complaint in str(caught.value)


@pytest.mark.parametrize("old, new, complaint", [
    ("part = \"RT2\"", "part = \"RT9\"", "input 'cabin': sensor-splice has no variable_resistor"),
    ("part = \"RT2\"", "part = \"F1\"", "no variable_resistor 'F1'"),
    ("pull_up = \"RP2\"", "pull_up = \"RP9\"", "no resistor 'RP9'"),
    ("signal = \"RP2.b\"", "signal = \"RP2.c\"", "no node 'RP2.c'"),
    ("reference = \"VR.out\"", "reference = \"VR.in\"", "no node 'VR.in'"),
])
def test_head_that_does_not_fit_its_circuit(old, new, complaint):
    head = read_control_inputs(INPUTS_TEXT.replace(old, new, 1), load_sensors())
    with pytest.raises(InputError) as caught:
        check_head(head, load_circuit("sensor-splice"))
    assert complaint in str(caught.value)
