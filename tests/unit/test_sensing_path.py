"""From a physical value through the circuit, with its faults, to what the control head believes."""

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.electrical import catalogue, load_circuit, solve
from coldbench.errors import InputError
from coldbench.sensing import (
    HeadMemory, clear_codes, divider_power, load_control_head, new_cycle, read_sensors,
    sensor_inputs, solve_sensors, step_head, stored_codes)

CIRCUIT, HEAD = load_circuit("sensor-splice"), load_control_head()
PHYSICAL = {"ambient": 303.15, "cabin": 300.15, "left outlet": 285.15, "right outlet": 286.15,
            "evaporator": 277.15, "pressure": 1.2e6, "sun": 600.0, "left blend door": 0.2,
            "right blend door": 0.3, "mode door": 0.8}
ON_REFERENCE_SPLICE = {"pressure", "left blend door", "right blend door", "mode door"}


@cache
def readings(*faults: str, state: str = "on") -> dict:
    """Readings at PHYSICAL with faults."""
    return read_sensors(solve_sensors(CIRCUIT, PHYSICAL, faults=faults, settings=state))


def believed(memory: HeadMemory, seen: dict, seconds: float) -> tuple[HeadMemory, dict]:
    """`step_head` of the shipped head."""
    return step_head(HEAD, memory, seen, seconds)


# The widest honest error: one count, plus what self-heating and the wiper's load make.
TOLERANCE = {"temperature": 0.45, "gauge pressure": 5e3, "irradiance": 3.0, "position": 0.008}


def test_sound_head_reads_what_is_there():
    assert set(PHYSICAL) == set(HEAD.inputs)
    for name, reading in readings().items():
        assert reading.place == "inside"
        assert reading.value == pytest.approx(PHYSICAL[name], abs=TOLERANCE[reading.quantity])


@settings(max_examples=25)
@given(share=st.floats(0.0, 1.0), reference=st.floats(4.6, 5.4))
def test_round_trip_whatever_the_values_and_the_reference(share, reference):
    physical = {"ambient": 248.15 + 75.0 * share, "evaporator": 263.15 + 40.0 * share,
                "pressure": 3.2e6 * share, "left blend door": share, "right blend door": share}
    inputs = sensor_inputs(CIRCUIT, physical) | {"VR.emf_V": reference}
    found = read_sensors(solve(CIRCUIT, "on", inputs=inputs))
    for name, value in physical.items():
        assert found[name].value == pytest.approx(value, abs=TOLERANCE[found[name].quantity])


@settings(max_examples=20)
@given(extra=st.floats(1.0, 2000.0))
def test_bad_ground_splice_moves_every_signal_up(extra):
    now = readings(f"W20:high_resistance={extra}")
    assert all(now[name].volts > readings()[name].volts for name in HEAD.inputs)


@settings(max_examples=20)
@given(extra=st.floats(1.0, 2000.0))
def test_bad_reference_splice_moves_the_signals_it_feeds_down(extra):
    now = readings(f"W10:high_resistance={extra}")
    for name in HEAD.inputs:
        fell = now[name].volts < readings()[name].volts
        assert fell == (name in ON_REFERENCE_SPLICE)


def test_worse_splice_moves_signals_further():
    rows = [readings(f"W20:high_resistance={ohm}") for ohm in (10.0, 100.0, 1000.0)]
    for name in HEAD.inputs:
        volts = [row[name].volts for row in rows]
        assert volts == sorted(volts) and volts[0] < volts[2]


def test_open_reference_splice_has_four_symptoms_and_no_other():
    seen = readings("W10:open")
    assert {name for name, r in seen.items() if r.place != "inside"} == ON_REFERENCE_SPLICE
    assert all(seen[name].place == "below" for name in ON_REFERENCE_SPLICE)


def test_resistor_by_hand_in_series_with_the_ground_splice():
    # One thermistor alone on the splice: divider with the extra resistance by hand.
    open_others = [f"W{n}:open" for n in range(32, 41)] + [f"W{n}:open" for n in (11, 12, 13, 14)]
    solution = solve(CIRCUIT, "on", faults=[*open_others, "W20:high_resistance=2000"],
                     inputs=sensor_inputs(CIRCUIT, {}, {"ambient": 8000.0}))
    volts = read_sensors(solution)["ambient"].volts
    assert volts == pytest.approx(5.0 * 10_000.0 / 20_000.0, abs=2e-3)


def test_low_reference_cancels_but_for_the_sun_sensor():
    now = readings("VR:low=4.5")
    for name in HEAD.inputs:
        same = abs(now[name].counts - readings()[name].counts) <= 1
        assert same == (name != "sun")


def test_shared_ground_lifts_the_head_but_no_reading():
    lifted = solve_sensors(CIRCUIT, PHYSICAL, settings="on_with_cool_box")
    assert lifted.voltage(3) > 0.05
    for name, reading in read_sensors(lifted).items():
        assert reading.counts == readings()[name].counts


def test_self_heating_is_in_the_circuit():
    cold = solve(CIRCUIT, "on", inputs=sensor_inputs(CIRCUIT, {"ambient": 303.15}))
    warm = solve_sensors(CIRCUIT, {"ambient": 303.15})
    ohm = (warm.voltage("RT1.a") - warm.voltage("RT1.b")) / warm.currents["RT1"]
    sensor = HEAD.input("ambient").sensor
    rise = sensor.model.temperature(ohm) - 303.15
    assert rise == pytest.approx(divider_power(ohm, 10e3) / sensor.dissipation_W_K, rel=0.01)
    assert warm.voltage(5) < cold.voltage(5)


def test_resistor_in_place_of_a_sensor():
    solution = solve_sensors(CIRCUIT, PHYSICAL, instead={"ambient": 10e3})
    assert read_sensors(solution)["ambient"].value == pytest.approx(298.15, abs=0.1)
    with pytest.raises(InputError, match="cannot stand in for a transducer"):
        sensor_inputs(CIRCUIT, {}, {"pressure": 1e3})


@pytest.mark.parametrize("physical, why", [
    ({"ambiant": 300.0}, "no input 'ambiant'; inputs are ambient"),
    ({"ambient": 500.0}, "input 'ambient': thermistor temperature must be from 243.15"),
    ({"mode door": 1.5}, "input 'mode door': door position must be from 0 to 1"),
    ({"pressure": "12 bar"}, "pressure must be a number"),
])
def test_bad_physical_values(physical, why):
    with pytest.raises(InputError, match=why):
        sensor_inputs(CIRCUIT, physical)


@pytest.mark.parametrize("fault, name, place", [
    ("W31:open", "ambient", "above"), ("RT1:shorted", "ambient", "below"),
    ("W37:open", "pressure", "below"), ("W26:open", "pressure", "above"),
    ("W11:open", "pressure", "below"), ("RV1:wiper_open", "left blend door", "below"),
    ("W12:open", "left blend door", "below"), ("W28:open", "left blend door", "above"),
    ("RT5:open", "evaporator", "above"), ("PD1:shorted", "sun", "below"),
    ("W36:open", "sun", "inside")])  # an open sun sensor looks like darkness
def test_one_fault_one_symptom(fault, name, place):
    seen = readings(fault)
    assert seen[name].place == place
    others = {n for n, r in seen.items() if r.place != "inside"} - {name}
    assert not others


def test_dead_reference_gives_no_reading_and_its_own_code():
    seen = readings("W11:short_to_ground")
    assert {r.place for r in seen.values()} == {"no reference"}
    memory, beliefs = believed(HeadMemory(), seen, 1.0)
    assert [code.code for code in stored_codes(HEAD, memory)] == ["P0642"]
    assert {b.source for b in beliefs.values()} == {"substitute"}


def test_shifted_sensor_is_wrong_and_stores_nothing():
    seen = readings("RT1:shifted=1.3")
    memory, beliefs = believed(HeadMemory(), seen, 100.0)
    assert beliefs["ambient"].source == "measured"
    assert beliefs["ambient"].value < PHYSICAL["ambient"] - 5.0
    assert not stored_codes(HEAD, memory)


def test_life_of_a_loose_connector():
    memory, beliefs = believed(HeadMemory(), readings(), 5.0)
    good = beliefs["ambient"].value
    memory, beliefs = believed(memory, readings("W31:open"), 1.0)
    assert (beliefs["ambient"].source, beliefs["ambient"].value) == ("last good value", good)
    memory, beliefs = believed(memory, readings("W31:open"), 1.5)
    assert (beliefs["ambient"].source, beliefs["ambient"].value) == ("substitute", 288.15)
    assert [(c.code, c.status) for c in stored_codes(HEAD, memory)] == [("P0073", 0x27)]
    memory, beliefs = believed(memory, readings(), 0.5)
    assert beliefs["ambient"].source == "substitute"  # not yet healed
    memory, beliefs = believed(memory, readings(), 0.6)
    assert beliefs["ambient"].value == good
    assert [c.status for c in stored_codes(HEAD, memory)] == [0x26]
    memory, _ = believed(new_cycle(memory), readings("W31:open"), 3.0)
    assert [(c.status, c.meaning) for c in stored_codes(HEAD, memory)] == [
        (0x2F, "failing now, confirmed")]
    memory, _ = believed(new_cycle(memory), readings(), 3.0)
    assert [c.status for c in stored_codes(HEAD, memory)] == [0x2C]
    assert not stored_codes(HEAD, clear_codes(memory))


def test_cleared_code_comes_back_while_the_fault_is_there():
    memory, _ = believed(HeadMemory(), readings("W31:open"), 3.0)
    memory, _ = believed(clear_codes(memory), readings("W31:open"), 0.1)
    assert [c.code for c in stored_codes(HEAD, memory)] == ["P0073"]


def test_missing_reading_is_refused():
    some = {k: v for k, v in readings().items() if k != "sun"}
    with pytest.raises(InputError, match="no reading for the inputs sun"):
        believed(HeadMemory(), some, 1.0)


def test_every_catalogued_fault_gives_readings():
    faults = catalogue(CIRCUIT)
    assert len(faults) > 200
    for fault in faults:
        seen = read_sensors(solve(CIRCUIT, "on", faults=[fault.id]))
        assert set(seen) == set(HEAD.inputs)
        memory, beliefs = believed(HeadMemory(), seen, 30.0)
        assert set(beliefs) == set(HEAD.inputs)
