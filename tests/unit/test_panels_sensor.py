"""The sensor panel: the numbers shown are those of the sensing room, faults included."""

import pytest

from coldbench.errors import InputError
from coldbench.panels import SensorPanel
from coldbench.sensing import Converter, divider_voltage, load_sensors


@pytest.mark.parametrize("name", list(load_sensors()))
def test_every_sensor_has_curve_circuit_and_words(name):
    panel = SensorPanel(name)
    assert [picture[0] for picture in panel._stage["pictures"]] == ["chart", "circuit"]
    assert all(len(words) > 40 for _, words in panel._frame["pictures"].values())
    assert panel.readings()["place"] in ("inside", "above", "below")


def test_the_divider_is_the_one_of_the_sensing_room():
    panel = SensorPanel("ntc-10k-3435", temperature=60, pull_up="4700")
    found = panel.readings()
    ohm = load_sensors()["ntc-10k-3435"].parameter(333.15)
    volts = divider_voltage(ohm, 4700.0, 5.0)
    assert found["resistance_ohm"] == pytest.approx(ohm)
    assert found["volts_V"] == pytest.approx(volts)
    assert found["counts"] == Converter(10).counts(volts, 5.0)
    assert found["believed_SI"] == pytest.approx(333.15, abs=0.2)


@pytest.mark.parametrize(("name", "wire", "volts", "place"), [
    ("ntc-10k-3435", "open", 5.0, "above"), ("ntc-10k-3435", "to_ground", 0.0, "below"),
    ("pressure-32", "open", 0.0, "below"), ("pressure-32", "to_5V", 5.0, "above"),
    ("door", "to_ground", 0.0, "below")])  # fmt: skip
def test_a_fault_in_the_signal_wire_leaves_the_window(name, wire, volts, place):
    panel = SensorPanel(name, wire=wire)
    found = panel.readings()
    assert (found["volts_V"], found["place"], found["believed_SI"]) == (volts, place, None)
    assert place.capitalize() in panel._frame["line"] and "code" in panel._frame["line"]


def test_each_sensor_shows_the_slider_of_its_quantity():
    panel = SensorPanel("ntc-10k-3435")
    for name, control in (("pressure-32", "pressure"), ("sun", "irradiance"), ("door", "position")):
        panel.set(sensor=name)
        names = [c["name"] for c in panel._stage["controls"]]
        assert control in names and "temperature" not in names
        assert ("pull_up" in names) == (name == "sun")


def test_units_are_the_learners():
    panel = SensorPanel(temperature_unit="degF", temperature="25 degC")
    assert panel._frame["line"].startswith("77.0 °F")
    panel = SensorPanel("pressure-32", pressure_unit="bar", pressure=16)
    assert panel._frame["line"].startswith("16.00 bar gives 2.500 V")


def test_more_bits_make_a_finer_count():
    coarse, fine = (SensorPanel(bits=bits).readings()["counts"] for bits in ("8", "12"))
    assert abs(fine - 16 * coarse) <= 16


@pytest.mark.parametrize("temperature", [-30, 100])
def test_the_ends_of_a_range_are_shown(temperature):
    assert SensorPanel(temperature=temperature).readings()["volts_V"] > 0


@pytest.mark.parametrize(("arguments", "words"), [
    ({"sensor": "x"}, "no sensor 'x'"), ({"temperature": 200}, "outside"),
    ({"pull_up": "9999"}, "not one of"), ({"wire": "cut"}, "not one of")])  # fmt: skip
def test_what_does_not_fit_is_refused_in_words(arguments, words):
    with pytest.raises(InputError, match=words):
        SensorPanel(**arguments)
