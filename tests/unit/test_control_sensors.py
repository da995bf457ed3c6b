"""Failed sensors: what is believed, what stops, what is stored. The choices are common practice."""

import runpy
from dataclasses import replace
from pathlib import Path

import pytest

from coldbench.control import Signal, clear_codes, initial_state, new_operation_cycle, settle, step
from coldbench.control.sensors import judge_window
from coldbench.sensing.codes import Status
from coldbench.sensing.windows import Window, WindowState

sc = runpy.run_path(str(Path(__file__).parent / "control_scene.py"))
BLUE, C = sc["BLUE"], sc["C"]
scene, settled, run = sc["scene"], sc["settled"], sc["run"]
OPEN, SHORT = Signal.opened(), Signal.shorted()


def codes(done):
    return dict(done.outputs.codes)


@pytest.mark.parametrize(("sensor", "substitute", "code_short", "code_open"), [
    ("ambient", "20.0 °C", "B1101", "B1102"), ("cabin", "22.0 °C", "B1103", "B1104"),
    ("evaporator", "5.0 °C", "B1105", "B1106"), ("coolant", "80.0 °C", "B1107", "B1108"),
    ("pressure", "1,200 kPa", "P0532", "P0533"),
    ("discharge_left", "15.0 °C", "B1121", "B1122"),
    ("discharge_right", "15.0 °C", "B1123", "B1124"),
    ("sun_left", "0 W/m²", "B1111", None), ("sun_right", "0 W/m²", "B1113", None),
])
def test_a_failed_sensor_has_a_substitute_and_a_code(sensor, substitute, code_short, code_open):
    name = sensor.replace("_", " ")
    for signal, code in ((SHORT, code_short), (OPEN, code_open)):
        if code is None:
            continue
        done = settled(**{sensor: signal}).step
        assert done.outputs.failed_sensors == (name,)
        assert f"{name} failed: substitute {substitute}" in done.why("sensors")
        assert set(codes(done)) == {code}
        assert codes(done)[code] & Status.testFailed and codes(done)[code] & Status.confirmedDTC
        assert code in done.why("codes")


def test_an_open_sun_sensor_is_darkness_and_no_code_tells():
    """An open photodiode cannot be told from night (common practice: pull-up input)."""
    done = settled(sun_left=Signal(0.0, 1.0)).step
    assert done.outputs.failed_sensors == () and not codes(done)


@pytest.mark.parametrize(("sensor", "compressor", "fan"), [
    ("pressure", False, "high"), ("evaporator", False, "off"),
    ("ambient", True, "low"), ("cabin", True, "low"), ("discharge_left", True, "low"),
    ("coolant", True, "low"),
])
@pytest.mark.parametrize("signal", [OPEN, SHORT], ids=["open", "shorted"])
def test_what_a_failed_sensor_does_to_compressor_and_fans(sensor, compressor, fan, signal):
    running = settled()
    done = settled(state=running.step.state, actuators=running.actuators,
                   **{sensor: signal}).step
    assert (done.outputs.compressor, done.outputs.fan) == (compressor, fan)
    if not compressor:
        assert done.why("compressor") == (
            f"compressor off: sensors: {sensor} sensor failed: running would be blind")


def test_the_last_good_value_holds_until_the_verdict():
    state = settled(pressure=1.9e6).step.state
    early = step(state, scene(pressure=OPEN, cabin=24.0 + C), BLUE, 0.2)
    assert early.outputs.compressor and early.outputs.failed_sensors == ()
    assert "pressure doubtful: last good value 1,900 kPa" in early.why("sensors")
    late = step(early.state, scene(pressure=OPEN), BLUE, 0.3)
    assert not late.outputs.compressor and late.outputs.failed_sensors == ("pressure",)


def test_a_head_that_wakes_without_a_needed_sensor_does_not_start():
    for done in run(initial_state(BLUE), 20.0, 0.1, scene(pressure=OPEN)):
        assert not done.outputs.compressor


def test_a_sensor_is_believed_again_only_after_a_while():
    state = settled(evaporator=OPEN).step.state
    steps = run(state, 4.0, 0.5, scene(evaporator=9.0 + C))
    assert [bool(done.outputs.failed_sensors) for done in steps] == [True] * 3 + [False] * 5
    assert steps[-1].outputs.compressor


def test_a_loose_wire_does_not_switch_the_compressor_with_every_touch():
    state, seen = settled().step.state, []
    for _ in range(30):  # 0.3 s open, 0.7 s closed: shorter than either verdict
        for signal, dt_s in ((OPEN, 0.3), (Signal(9.0 + C), 0.7)):
            done = step(state, scene(evaporator=signal), BLUE, dt_s)
            state = done.state
            seen.append(done.outputs.compressor)
    assert all(seen)


def test_without_the_duct_sensor_the_blend_door_is_calculated_alone():
    with_it = settled(discharge=30.0 + C, ambient=0.0 + C, set_point_K=24.0 + C).step
    without = settled(discharge=OPEN, ambient=0.0 + C, set_point_K=24.0 + C).step
    assert "no correction: no duct sensor" in without.why("door blend left")
    assert "30.0 °C in the duct" in with_it.why("door blend left")


def test_stored_codes_outlive_the_fault_until_cleared():
    failed = settled(cabin=OPEN)
    mended = settled(state=failed.step.state, actuators=failed.actuators)
    status = codes(mended.step)["B1104"]
    assert not status & Status.testFailed and status & Status.confirmedDTC
    assert "not failing now, confirmed earlier" in mended.step.why("codes")
    after = settle(clear_codes(mended.step.state), scene(doors={}), BLUE, mended.actuators)
    assert not codes(after.step)


def test_clearing_with_the_fault_still_there_brings_the_code_back():
    failed = settled(cabin=OPEN)
    again = settled(state=clear_codes(failed.step.state), actuators=failed.actuators, cabin=OPEN)
    assert codes(again.step)["B1104"] & Status.testFailed


def test_a_code_ages_over_operation_cycles_and_is_forgotten():
    """40 passing cycles (common practice); 0x20 stays until the codes are cleared."""
    state = settled(cabin=OPEN).step.state
    doors = settled().step.state.doors
    state = replace(state, doors=doors)
    for cycle in range(BLUE.storing.age_cycles + 1):
        assert state.codes["B1104"].status & Status.confirmedDTC, cycle
        state = new_operation_cycle(state, BLUE)
        state = run(state, 3.0, 1.0, scene())[-1].state
    state = new_operation_cycle(state, BLUE)
    assert not state.codes["B1104"].status & Status.confirmedDTC
    assert state.codes["B1104"].status & Status.testFailedSinceLastClear


def test_sensors_that_lie_inside_their_window_are_believed():
    """A biased sensor stores no code: only comparison can find it."""
    done = settled(evaporator=1.5 + C).step
    assert not codes(done) and done.outputs.blocked_by.name == "freeze"


def test_a_head_that_wakes_believes_a_sound_signal_at_once_but_waits_with_a_verdict():
    window = Window(fail_s=2.0, heal_s=3.0)
    assert judge_window(window, WindowState(), 0.5, 0.1).verdict == "passed"
    above = judge_window(window, WindowState(), 1.0, 0.1)
    assert above.verdict == "untested"
    assert judge_window(window, above, 1.0, 1.9).verdict == "above"
    failed = WindowState("above", 5.0, "above")
    assert judge_window(window, failed, 0.5, 2.9).verdict == "above"
    assert judge_window(window, failed, 0.5, 3.0).verdict == "passed"
