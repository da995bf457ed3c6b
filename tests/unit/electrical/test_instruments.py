"""Instruments on solved circuits: what they show, when they refuse, what they do to a circuit."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.electrical import load_circuit, parse_circuit, solve
from coldbench.electrical.instruments import (
    Refusal,
    clamp,
    clamp_between,
    drop,
    instrument,
    lamp,
    loaded_voltage,
    ohmmeter,
    path_between,
    voltmeter,
    with_lamp,
)
from coldbench.electrical.instruments.data import instruments
from coldbench.electrical.instruments.reading import read_display, rounded_text
from coldbench.errors import InputError

FANS = load_circuit("three-relay-fans")
CLUTCH = load_circuit("clutch")
OFF, LOW, HIGH = (solve(FANS, state) for state in ("off", "low", "high"))
METER_OHM = 10e6

DIVIDER = """
name = "circuit"
title = "Divider"
ground = "B.minus"
[states.only]
[[part]]
id = "B"
kind = "source"
emf_V = 12.0
resistance_ohm = 0.01
[[part]]
id = "R1"
kind = "resistor"
resistance_ohm = {upper}
[[part]]
id = "R2"
kind = "resistor"
resistance_ohm = {lower}
{extra}
[[wire]]
id = "W1"
from = "B.plus"
to = "R1.a"
size_mm2 = 1.0
length_m = 1.0
[[wire]]
id = "W2"
from = "R1.b"
to = "R2.a"
size_mm2 = 1.0
length_m = 1.0
[[wire]]
id = "W3"
from = "R2.b"
to = "B.minus"
size_mm2 = 1.0
length_m = 1.0
"""
BETWEEN = """
[[part]]
id = "X"
{what}
[[wire]]
id = "WX1"
from = "R2.a"
to = "X.a"
size_mm2 = 0.75
length_m = {length}
joint_ohm = {joint}
[[wire]]
id = "WX2"
from = "B.minus"
to = "X.b"
size_mm2 = 0.75
length_m = {length}
joint_ohm = {joint}
"""


def divider(upper: float, lower: float, extra: str = ""):
    """A divider of two resistors on 12 V, and what is put between its middle and ground."""
    return solve(parse_circuit(DIVIDER.format(upper=upper, lower=lower, extra=extra)), "only")


# --- voltmeter ------------------------------------------------------------------------------


@settings(max_examples=30)
@given(upper=st.floats(1.0, 500.0), lower=st.floats(1.0, 500.0))
def test_meter_is_a_ten_megohm_resistor(upper, lower):
    """Formula and a real 10 MΩ resistor in the circuit agree to 1e-8 V.

    Up to 500 Ω: beyond, the 1 TΩ at the resistor's own terminals shows. The whole range is
    compared with another program in tests/reference.
    """
    what = f'kind = "resistor"\nresistance_ohm = {METER_OHM}'
    explicit = divider(upper, lower, BETWEEN.format(what=what, length=0.01, joint=1e-4))
    there = explicit.voltage("R2.a")
    assert voltmeter(divider(upper, lower), "R2.a", "B.minus").value == pytest.approx(
        there, abs=1e-8)


@given(open_V=st.floats(-60, 60), source_ohm=st.floats(0.0, 1e9))
def test_a_meter_never_shows_more_than_there_is(open_V, source_ohm):
    assert abs(loaded_voltage(open_V, source_ohm, METER_OHM)) <= abs(open_V)


def test_reading_turns_with_the_leads():
    assert voltmeter(LOW, 5, 6).value == pytest.approx(-voltmeter(LOW, 6, 5).value, abs=1e-12)


@pytest.mark.parametrize("state", ["off", "low", "high"])
def test_meter_formula_at_every_pair_of_test_points(state):
    solution = solve(FANS, state)
    for red in FANS.test_points:
        open_V, source_ohm = solution.thevenin(red, 2)
        reading = voltmeter(solution, red, 2)
        assert reading.value == pytest.approx(
            open_V * METER_OHM / (METER_OHM + source_ohm), abs=1e-12)
        assert reading.floating == (source_ohm > 1e6)


def test_a_floating_lead_is_never_zero():
    broken = solve(FANS, "low", ["W14:open"])
    reading = voltmeter(broken, "K2.87", "B.minus")
    assert reading.floating
    assert "unsteady" in reading.shown
    assert "0.00" not in reading.shown
    assert reading.as_data()["value"] is None


def test_ghost_voltage_collapses_under_the_lamp():
    """A broken wire that leaks over megohms shows volts to a meter and nothing to a lamp."""
    relay_feed = next(n for n, w in FANS.wires.items() if w.start == "F1.b")
    ghost = solve(FANS, "off", [f"{relay_feed}:open"])
    healthy = voltmeter(OFF, "K1.30", "B.minus")
    assert healthy.value > 13.5
    # a hair of wet dirt of 0.9 Mohm bridges the break
    leaking = solve(FANS, "off", [f"{relay_feed}:high_resistance=9e5"])
    meter = voltmeter(leaking, "K1.30", "B.minus")
    assert not meter.floating
    assert meter.value > 12.0
    assert lamp(leaking, "K1.30", "B.minus").value < 0.001
    assert "dark" in lamp(leaking, "K1.30", "B.minus").note
    assert "bright" in lamp(OFF, "K1.30", "B.minus").note
    assert voltmeter(ghost, "K1.30", "B.minus").floating


def test_chafed_request_line_pulls_the_reading_and_floats_when_cut_off():
    line = next(n for n, w in CLUTCH.wires.items() if w.start == "E1.pin")
    healthy = voltmeter(solve(CLUTCH, "off"), "D1.out", "B.minus").value
    chafed = voltmeter(solve(CLUTCH, "off", [f"{line}:chafed=0.01"]), "D1.out", "B.minus").value
    assert 3.5 < chafed < healthy - 0.5


def test_drop_names_what_lies_between():
    reading = drop(LOW, 4, 5)
    assert reading.value == pytest.approx(
        6.304 * FANS.wires[path_between(LOW, 4, 5)[0][0]].resistance_ohm, rel=1e-3)
    assert reading.note.startswith("Across W")
    whole = drop(LOW, "F1.b", "K2.30")
    assert "M1" in whole.note
    assert drop(LOW, 1, 2).note == ""  # many ways lead from supply to ground


# --- ohmmeter -------------------------------------------------------------------------------


def test_ohmmeter_refuses_a_live_circuit():
    for red, black in ((5, 6), (15, 16), (1, 2), (13, 14)):
        with pytest.raises(Refusal, match="live"):
            ohmmeter(LOW, red, black)
    with pytest.raises(InputError, match="disconnect the battery"):
        ohmmeter(OFF, "K1.86", "K1.85")  # no difference between the leads, yet both live


def test_ohmmeter_on_a_dead_fan():
    assert ohmmeter(OFF, 5, 6).value == pytest.approx(0.17, abs=1e-6)
    assert ohmmeter(LOW, 5, 6, battery="disconnected").value == pytest.approx(0.17, abs=1e-6)


def test_parallel_coil_spoils_the_reading():
    """Coils 2 and 3 are drawn together: the meter shows both, and their suppressors.

    By hand: two times 88 Ω with 680 Ω beside it, in parallel.
    """
    one = 1.0 / (1.0 / 88.0 + 1.0 / 680.0)
    alone = ohmmeter(OFF, "K1.86", "K1.85", battery="disconnected").value
    both = ohmmeter(OFF, "K2.86", "K2.85", battery="disconnected").value
    assert alone == pytest.approx(one, rel=1e-3)
    assert both == pytest.approx(one / 2.0, rel=3e-3)
    open_coil = solve(FANS, "off", ["K2:coil_open"])
    spoiled = ohmmeter(open_coil, "K2.86", "K2.85", battery="disconnected").value
    assert 60.0 < spoiled < 90.0  # an open coil, and still a plausible number


def test_an_open_wire_reads_overload():
    wire = next(n for n, w in FANS.wires.items() if w.start == "K1.87")
    broken = solve(FANS, "off", [f"{wire}:open"])
    reading = ohmmeter(broken, "K1.87", "M1.plus", battery="disconnected")
    assert (reading.shown, reading.as_data()["value"]) == ("OL", None)


def test_filaments_are_cold():
    supply = load_circuit("supply")
    part = supply.parts["L1"].parameters
    cold = part["cold_share"] * part["rated_V"] ** 2 / part["rated_W"]
    reading = ohmmeter(solve(supply, "rest", ["F1:blown"]), "L1.a", "L1.b",
                       battery="disconnected")
    assert reading.value == pytest.approx(1.0 / (1.0 / cold + 1.0 / 560.0), rel=1e-3)


# --- clamp ----------------------------------------------------------------------------------


def test_clamp_shows_steps_of_a_tenth():
    assert clamp(LOW, "M1").shown == "6.3 A"
    assert clamp_between(LOW, 6, 5).shown == "-6.3 A"
    assert clamp(LOW, "K1.coil").shown == "0.2 A"  # 0.155 A: too small for a clamp
    with pytest.raises(InputError, match="no wire or part 'M9'"):
        clamp(LOW, "M9")
    with pytest.raises(InputError, match="no single wire or part"):
        clamp_between(LOW, 1, 2)


def test_two_clamps_around_a_splice_add_up():
    """Kirchhoff at splice S2 in the high state."""
    into = [n for n, w in FANS.wires.items() if w.end == "S2"]
    out, = (n for n, w in FANS.wires.items() if w.start == "S2")
    assert sum(clamp(HIGH, n).value for n in into) == pytest.approx(
        clamp(HIGH, out).value, abs=1e-6)


# --- test lamp ------------------------------------------------------------------------------


@pytest.mark.parametrize("upper", [0.1, 5.0, 200.0, 1e6])
@pytest.mark.parametrize("watts", [5, 21])
def test_lamp_inserted_is_the_lamp_in_the_circuit(upper, watts):
    what = f'kind = "lamp"\nrated_V = 12.0\nrated_W = {watts}.0'
    explicit = divider(upper, 100.0, BETWEEN.format(what=what, length=1.0, joint=0.005))
    there = explicit.voltage("X.a") - explicit.voltage("X.b")
    reading = lamp(divider(upper, 100.0), "R2.a", "B.minus", f"{watts}W")
    assert reading.value == pytest.approx(there, abs=1e-9)


def test_lamp_finds_the_bad_joint_that_a_meter_misses():
    wire = next(n for n, w in FANS.wires.items() if w.start == "F1.b")
    bad = solve(FANS, "off", [f"{wire}:high_resistance=30"])
    assert voltmeter(bad, 3, 2).value == pytest.approx(voltmeter(OFF, 3, 2).value, abs=1e-3)
    assert lamp(bad, 3, 2, "21W").value < 0.5 * lamp(OFF, 3, 2, "21W").value


def test_a_lamp_across_a_coil_driver_can_operate_the_relay():
    """A lamp is a load: from the coil's ground side to ground it lets the coil's current pass."""
    reading = lamp(OFF, "K1.85", "B.minus", "21W")
    assert "moves K1" in reading.note
    assert with_lamp(OFF, "K1.85", "B.minus", "21W").motors["M1"].state == "running"
    assert OFF.motors["M1"].state == "stopped"  # the solved case itself is not changed


def test_unknown_bulb_and_place_are_refused():
    with pytest.raises(InputError, match="5W, 21W"):
        lamp(OFF, 1, 2, "55W")
    with pytest.raises(InputError, match="no test point"):
        lamp(OFF, 1, 99)


# --- what the display says ------------------------------------------------------------------


@given(value=st.floats(-59.0, 59.0))
def test_shown_is_within_the_uncertainty(value):
    reading = read_display(instrument("voltmeter"), value)
    assert abs(float(reading.shown.split()[0]) - value) <= reading.uncertainty


@given(value=st.floats(-1e3, 1e3), places=st.integers(0, 4))
def test_rounded_text_has_the_places_of_its_step(value, places):
    text = rounded_text(value, 10.0 ** -places)
    assert len(text.partition(".")[2]) == places
    assert not (text.startswith("-") and float(text) == 0.0)


def test_overload():
    reading = read_display(instrument("voltmeter"), 700.0)
    assert (reading.shown, reading.overload, math.isinf(reading.value)) == ("OL", True, True)


@pytest.mark.parametrize(("text", "reason"), [
    ("[voltmeter]\nunit = 'V'\naccuracy = 0.1\ndigits = 1", "voltmeter: title"),
    ("[voltmeter]\ntitle = 'V'\nunit = 'V'\naccuracy = -0.1\ndigits = 1", "accuracy"),
    ("[m]\ntitle = 'V'\nunit = 'V'\naccuracy = 0.1\ndigits = 1\nranges = [[1.0]]", "ranges"),
    ("[m]\ntitle = 'V'\nunit = 'V'\naccuracy = 0.1\ndigits = 1\nranges = [[6.0, 0.1], [1.0, 0.1]]",
     "smallest range first"),
    ("[m]\ntitle = 'V'\nunit = 'V'\naccuracy = 0.1\ndigits = 1\nohm = 'ten'", "ohm"),
    ("m = 3", "must be a table"),
    ("[m", "instruments.toml"),
])
def test_a_bad_instrument_file_is_named(tmp_path, text, reason):
    path = tmp_path / "instruments.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError, match=r"instruments\.toml") as error:
        instruments(path)
    assert reason in str(error.value)


def test_every_reading_of_a_circuit_has_words_and_numbers():
    for state in (OFF, LOW, HIGH):
        for red in FANS.test_points:
            data = voltmeter(state, red, 2).as_data()
            assert data["shown"]
            assert data["floating"] or np.isfinite(data["value"])
