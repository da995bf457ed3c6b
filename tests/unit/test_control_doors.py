"""Doors: following, resting, stalling, learning their end stops, and doing without feedback."""

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.control import Signal, advance, initial_state, settle, sound_actuators
from coldbench.control.actuator import Actuator, move
from coldbench.control.doors import drive_door, position
from coldbench.control.records import DoorState
from coldbench.sensing.codes import Status

sc = runpy.run_path(str(Path(__file__).parent / "control_scene.py"))
BLUE, C, scene, settled = sc["BLUE"], sc["C"], sc["scene"], sc["settled"]
BLEND = BLUE.doors["blend"]
NEW = DoorState(BLEND.closed_ratio, BLEND.open_ratio)


def follow(actuator, target, seconds, dt_s=0.05, state=NEW, search=False, stops=True):
    """Drive one actuator; returns state, actuator and the directions driven."""
    drives = []
    for count in range(round(seconds / dt_s)):
        state, words = drive_door(state, target, actuator.ratio, search and count == 0, BLEND,
                                  dt_s)
        stop = state.closed_ratio + target * (state.open_ratio - state.closed_ratio)
        actuator = move(actuator, state.drive, dt_s, stop if stops and not state.searching
                        else None)
        drives.append(state.drive)
    return state, actuator, drives, words


def blend_actuator(**kept):
    return replace(sound_actuators(BLUE)["blend left"], **kept)


@settings(max_examples=50)
@given(start=st.floats(0.0, 1.0), target=st.floats(0.0, 1.0), dt_s=st.floats(0.02, 3.0),
       stops=st.booleans())
def test_a_sound_door_arrives_and_rests(start, target, dt_s, stops):
    """Also without the quick cut-off, if steps are short against the dead band."""
    if not stops:
        dt_s = min(dt_s, 0.05)
    state, actuator, drives, _ = follow(blend_actuator(position=start), target,
                                        12.0 + 4 * dt_s, dt_s, stops=stops)
    assert abs(actuator.position - target) <= BLEND.start_error + 1e-9
    assert state.stalled_at is None and state.drive == 0
    directions = [d for d in drives if d]
    assert len(set(directions)) <= 1  # never back and forth
    assert directions == [d for d in drives[:len(directions)] if d]  # and never again


def test_start_and_stop_edges():
    at = BLEND.closed_ratio + 0.5 * (BLEND.open_ratio - BLEND.closed_ratio)
    for error, drive_before, drive in (
            (0.0201, 0, 1), (0.0199, 0, 0), (-0.0201, 0, -1), (-0.0199, 0, 0),
            (0.0101, 1, 1), (0.0099, 1, 0), (-0.0101, -1, -1), (-0.0099, -1, 0),
            (0.015, -1, 0), (-0.015, 1, 0)):  # overshot: stops, does not turn back
        state = replace(NEW, drive=drive_before, mark_ratio=at)
        assert drive_door(state, 0.5 + error, at, False, BLEND, 0.05)[0].drive == drive


@settings(max_examples=50)
@given(errors=st.lists(st.floats(-0.0199, 0.0199), min_size=1, max_size=20))
def test_a_door_at_rest_ignores_small_changes_of_its_target(errors):
    state, at = NEW, 0.5
    for error in errors:
        state, _ = drive_door(state, 0.5 + error, at, False, BLEND, 0.5)
        assert state.drive == 0


def test_a_jammed_door_stalls_and_tries_again_when_its_target_moves():
    jammed = blend_actuator(position=0.2, jammed=True)
    state, _, drives, words = follow(jammed, 0.8, 3.0)
    assert state.stalled_at == 0.8 and sum(drives) * 0.05 == pytest.approx(
        BLEND.stall_s, abs=0.051)
    assert words.startswith("stalled at 20 %: waits")
    again, _, drives, _ = follow(jammed, 0.79, 2.0, state=state)
    assert not any(drives)
    again, _, drives, _ = follow(jammed, 0.6, 2.0, state=state)
    assert any(drives) and again.stalled_at == 0.6


def test_a_stall_names_its_numbers():
    done = settled(actuators=sound_actuators(BLUE) | {
        "blend left": blend_actuator(jammed=True)}, ambient=-10.0 + C, cabin=0.0 + C).step
    assert "stalled at 0 %" in done.why("door blend left")
    assert dict(done.outputs.codes)["B1203"] & Status.testFailed
    state, said = NEW, []
    for _ in range(30):
        state, words = drive_door(state, 0.8, 0.26, False, BLEND, 0.05)
        said.append(words)
    assert "stalled at 20 %: driven without movement for 1.0 s ≥ 1.0 s" in said


def test_a_mended_door_passes_its_test_again():
    broken = sound_actuators(BLUE) | {"blend left": blend_actuator(jammed=True)}
    cold = settled(actuators=broken, ambient=-10.0 + C, cabin=0.0 + C)
    warm = settled(state=cold.step.state, actuators=sound_actuators(BLUE),
                   ambient=10.0 + C, cabin=20.0 + C)
    status = dict(warm.step.outputs.codes)["B1203"]
    assert not status & Status.testFailed and status & Status.confirmedDTC


def test_something_in_the_way_stops_the_door_short_of_its_end():
    """Symptom for the lab: full cold is asked for, and warm air leaks in."""
    blocked = sound_actuators(BLUE) | {"blend left": blend_actuator(position=0.6, lowest=0.3)}
    done = settled(actuators=blocked, set_point_K=BLUE.set_point.lowest_K)
    assert done.actuators["blend left"].position == 0.3
    assert "B1203" in dict(done.step.outputs.codes)


@pytest.mark.parametrize("dt_s", [0.05, 0.5, 1.0, 2.0])
def test_the_search_learns_where_the_door_really_stops(dt_s):
    """The potentiometer was fitted 5 % turned: learned, and positions are right again."""
    shifted = blend_actuator(closed_ratio=0.15, open_ratio=0.95, position=0.4)
    state, actuator, _, _ = follow(shifted, 0.5, 40.0, dt_s, search=True)
    assert (state.closed_ratio, state.open_ratio) == pytest.approx((0.15, 0.95), abs=0.021)
    assert not state.travel_bad and not state.searching
    assert actuator.position == pytest.approx(0.5, abs=0.05)
    assert position(state, shifted.closed_ratio) == pytest.approx(0.0, abs=0.03)


def test_end_stops_that_cannot_be_are_not_learned():
    short = blend_actuator(lowest=0.3, highest=0.7, position=0.5)
    state, _, _, _ = follow(short, 0.5, 30.0, search=True)
    assert state.travel_bad
    assert (state.closed_ratio, state.open_ratio) == (BLEND.closed_ratio, BLEND.open_ratio)
    wrong_way = blend_actuator(closed_ratio=0.9, open_ratio=0.1, position=0.5)
    assert follow(wrong_way, 0.5, 30.0, search=True)[0].travel_bad


def test_a_calibration_run_on_the_head_stores_or_clears_the_travel_code():
    short = sound_actuators(BLUE) | {"blend right": blend_actuator(lowest=0.3, highest=0.7,
                                                                   position=0.5)}
    bad = settled(actuators=short, wishes={"calibrate_doors": True})
    assert dict(bad.step.outputs.codes)["B1214"] & Status.testFailed
    held = settled(state=bad.step.state, actuators=bad.actuators,
                   wishes={"calibrate_doors": True})
    assert held.step.state.doors["blend right"].travel_bad  # no second run while it is held
    released = settled(state=held.step.state, actuators=sound_actuators(BLUE))
    good = settled(state=released.step.state, actuators=released.actuators,
                   wishes={"calibrate_doors": True})
    assert not dict(good.step.outputs.codes)["B1214"] & Status.testFailed


@pytest.mark.parametrize(("door", "end", "code"), [
    ("blend left", 0.0, "B1202"), ("distribution", 1.0, "B1222"), ("recirculation", 0.0, "B1232")])
def test_without_feedback_a_door_goes_to_its_safe_end_and_stops(door, end, code):
    start = {name: replace(a, position=0.5) for name, a in sound_actuators(BLUE).items()}
    done = settle(initial_state(BLUE), scene(doors={door: Signal.opened()}), BLUE, start)
    assert done.actuators[door].position == end
    command = done.step.outputs.door(door)
    assert (command.drive, command.position) == (0, None)
    assert f"door {door}" in done.step.outputs.failed_sensors
    assert set(dict(done.step.outputs.codes)) == {code}


def test_a_door_holds_while_its_feedback_is_only_doubtful():
    state, actuators = settled().step.state, sound_actuators(BLUE)
    done, moved = advance(state, scene(doors={"blend left": Signal.shorted()}), BLUE, actuators,
                          0.5)
    assert done.outputs.door("blend left").drive == 0
    assert moved["blend left"] == actuators["blend left"]
    assert done.outputs.failed_sensors == ()
    assert "feedback doubtful, held" in done.why("door blend left")


@given(position=st.floats(0.0, 1.0), drive=st.sampled_from([-1, 0, 1]),
       parts=st.lists(st.floats(0.01, 5.0), min_size=1, max_size=6))
def test_an_actuator_moves_the_same_in_one_step_or_many(position, drive, parts):
    whole = move(Actuator(position, 6.0, 0.1, 0.9), drive, sum(parts))
    actuator = Actuator(position, 6.0, 0.1, 0.9)
    for part in parts:
        actuator = move(actuator, drive, part)
    assert actuator.position == pytest.approx(whole.position, abs=1e-12)
    assert 0.0 <= actuator.position <= 1.0
