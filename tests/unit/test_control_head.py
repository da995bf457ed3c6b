"""The whole head: pure, explained, quiet under constant inputs, safe, and obedient to the hand."""

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.control import (
    Signal, explain, explain_compressor, initial_state, settle, step, with_wishes,
)
from coldbench.control.compressor import LINKS
from coldbench.errors import InputError

sc = runpy.run_path(str(Path(__file__).parent / "control_scene.py"))
BLUE, PLAIN, C = sc["BLUE"], sc["PLAIN"], sc["C"]
scene, settled, run = sc["scene"], sc["settled"], sc["run"]


def sensor(low, high):
    """A sensor that is sound, open or shorted."""
    return st.one_of(st.floats(low, high).map(Signal), st.just(Signal.opened()),
                     st.just(Signal.shorted()))


climates = st.fixed_dictionaries({
    "ambient": sensor(-30.0 + C, 55.0 + C), "cabin": sensor(-30.0 + C, 70.0 + C),
    "sun_left": sensor(0.0, 1200.0), "sun": sensor(0.0, 1200.0),
    "discharge_left": sensor(-10.0 + C, 80.0 + C), "discharge": sensor(-10.0 + C, 80.0 + C),
    "evaporator": sensor(-15.0 + C, 50.0 + C), "pressure": sensor(-0.1e6, 3.4e6),
    "coolant": sensor(-30.0 + C, 125.0 + C),
    "supply_V": st.floats(0.0, 16.0), "speed_rpm": st.floats(0.0, 6000.0),
})
drivers = st.fixed_dictionaries({
    "on": st.booleans(), "ac": st.booleans(), "defrost": st.booleans(),
    "set_points_K": st.tuples(*[st.floats(16.0, 28.0).map(lambda t: t + C)] * 2),
    "blower": st.none() | st.floats(0.0, 1.0), "recirculation": st.none() | st.booleans(),
    "distribution": st.sampled_from([None, "face", "bi-level", "foot", "foot-screen", "screen"]),
    "calibrate_doors": st.booleans(),
})
moments = st.builds(lambda climate, driver: scene(wishes=driver, **climate), climates, drivers)


@settings(max_examples=60)
@given(start=moments, now=moments)
def test_constant_inputs_settle_and_then_nothing_changes(start, now):
    """No chatter: whatever was before, outputs come to rest and stay."""
    state = run(initial_state(BLUE), 3.0, 0.5, start)[-1].state
    quiet = settle(state, replace(now, doors={}), BLUE)
    doors = {name: Signal.at(actuator.ratio) for name, actuator in quiet.actuators.items()}
    for done in run(quiet.step.state, 30.0, 0.5, replace(now, doors=doors)):
        assert not done.changes
        assert done.outputs == quiet.step.outputs


@settings(max_examples=30)
@given(now=moments, dt_s=st.sampled_from([0.25, 3.0, 10.0, 60.0]))
def test_the_length_of_the_steps_does_not_decide_where_it_settles(now, dt_s):
    now = replace(now, doors={}, wishes=replace(now.wishes, calibrate_doors=False))
    fine = settle(initial_state(BLUE), now, BLUE, dt_s=1.0)
    other = settle(initial_state(BLUE), now, BLUE, dt_s=dt_s, longest_s=600.0)
    coarse, exact = other.step.outputs.by_topic(), fine.step.outputs.by_topic()
    assert coarse == exact
    for name, actuator in fine.actuators.items():
        assert abs(other.actuators[name].position - actuator.position) <= 0.05


@given(moments=st.lists(moments, min_size=2, max_size=4), dt_s=st.floats(0.05, 20.0))
def test_the_same_history_decides_the_same(moments, dt_s):
    def history():
        state, steps = initial_state(BLUE), []
        for inputs in moments:
            steps.append(step(state, inputs, BLUE, dt_s))
            state = steps[-1].state
        return steps
    assert history() == history()


@given(moments=st.lists(moments, min_size=2, max_size=5), dt_s=st.floats(0.05, 20.0))
def test_every_decision_has_one_reason_and_every_change_is_marked(moments, dt_s):
    state = initial_state(BLUE)
    for inputs in moments:
        before, done = state.outputs, step(state, inputs, BLUE, dt_s)
        state, now = done.state, done.outputs.by_topic()
        assert [reason.topic for reason in done.reasons] == list(now)
        assert all(len(reason.words.split()) >= 3 for reason in done.reasons)
        changed = {topic for topic in now if not before or before.by_topic()[topic] != now[topic]}
        assert {reason.topic for reason in done.changes} == changed
        for field in ("compressor", "fan", "blower", "distribution", "recirculation", "codes"):
            if before and getattr(before, field) != getattr(done.outputs, field):
                assert ("fans" if field == "fan" else field) in changed
        numbered = ["sensors", "required left", "required right", "blower", "codes",
                    "door blend left", "door distribution"]
        numbered += [] if done.outputs.failed_sensors else ["fans"]
        for topic in numbered:
            assert any(letter.isdigit() for letter in done.why(topic)), done.why(topic)


@given(moments=st.lists(moments, min_size=3, max_size=12), dt_s=st.floats(0.1, 5.0))
def test_the_compressor_rests_its_minimum_time(moments, dt_s):
    state, off_s = initial_state(BLUE), 0.0
    for inputs in moments:
        done = step(state, inputs, BLUE, dt_s)
        if done.outputs.compressor and not state.compressor:
            assert off_s + dt_s >= BLUE.compressor.minimum_off_s - 1e-7
        off_s = 0.0 if done.outputs.compressor or state.compressor else off_s + dt_s
        state = done.state


@given(moments=st.lists(moments, min_size=1, max_size=4), dt_s=st.floats(0.05, 20.0))
def test_outputs_stay_within_what_they_can_be(moments, dt_s):
    state = initial_state(BLUE)
    for inputs in moments:
        done = step(state, inputs, BLUE, dt_s)
        state, out = done.state, done.outputs
        assert 0.0 <= out.blower <= 1.0 and out.fan in ("off", "low", "high")
        assert all(0.0 <= door.target <= 1.0 and door.drive in (-1, 0, 1) for door in out.doors)
        assert out.compressor is (out.blocked_by is None)
        assert [link.name for link in out.chain] == list(LINKS)
        assert not (out.compressor and (not inputs.wishes.on or out.blower == 0.0))


@settings(max_examples=30)
@given(climate=climates)
def test_a_hotter_cabin_gets_no_warmer_blend(climate):
    kept = {name: value for name, value in climate.items() if name != "cabin"}
    doors = [{d.name: d.target for d in settled(cabin=t + C, **kept).step.outputs.doors}
             for t in (15.0, 25.0, 45.0)]
    for side in ("blend left", "blend right"):
        assert doors[0][side] >= doors[1][side] >= doors[2][side]


# --- the compressor chain -------------------------------------------------------------------

STOPS = {  # link: what brings it about
    "head": {"wishes": {"ac": False}}, "drive": {"speed_rpm": 0.0}, "supply": {"supply_V": 9.0},
    "sensors": {"pressure": Signal.opened()}, "ambient": {"ambient": -5.0 + C},
    "coolant": {"coolant": 120.0 + C}, "low pressure": {"pressure": 0.1e6},
    "high pressure": {"pressure": 2.9e6}, "freeze": {"evaporator": 1.0 + C},
}


def test_the_cases_cover_the_chain():
    assert set(STOPS) | {"pause"} == set(LINKS)


@pytest.mark.parametrize("name", STOPS)
def test_each_link_alone_stops_the_compressor_and_is_named(name):
    running = settled()
    assert running.step.outputs.compressor
    stopped = settled(state=running.step.state, actuators=running.actuators, **STOPS[name]).step
    assert not stopped.outputs.compressor
    assert stopped.outputs.blocked_by.name == name
    assert stopped.why("compressor").startswith(f"compressor off: {name}: ")
    text = explain_compressor(stopped.outputs)
    assert f"link {LINKS.index(name) + 1} of {len(LINKS)}, {name}." in text
    assert text.count("STOPS IT") == 1


def test_of_several_links_the_first_is_named_and_all_are_told():
    both = settled(speed_rpm=0.0, evaporator=1.0 + C).step.outputs
    assert both.blocked_by.name == "drive"
    assert [link.name for link in both.chain if not link.passes] == ["drive", "freeze"]
    assert "would stop it freeze" in explain_compressor(both)


def test_after_a_cut_the_pause_is_the_last_reason_left():
    running = settled()
    cut = step(running.step.state, scene(evaporator=1.0 + C), BLUE, 0.5)
    assert [link.name for link in cut.outputs.chain if not link.passes] == ["freeze"]
    steps = run(cut.state, 10.0, 0.5, scene(evaporator=6.0 + C))
    waiting = [not done.outputs.compressor for done in steps]
    assert waiting == [True] * 15 + [False] * 5  # on in the step that ends 8.0 s after the cut
    assert steps[0].why("compressor") == "compressor off: pause: off for 0.5 s < 8.0 s"


def test_defrost_asks_for_the_compressor_fresh_air_and_the_screen():
    done = settled(wishes={"ac": False, "defrost": True, "recirculation": True,
                           "distribution": "face"}).step
    assert done.outputs.compressor and done.outputs.distribution == "screen"
    assert not done.outputs.recirculation and done.outputs.blower >= BLUE.blower.defrost_share
    assert done.outputs.door("distribution").target == 1.0


def test_air_to_the_screen_by_hand_takes_fresh_air_whatever_the_button_says():
    done = settled(wishes={"distribution": "screen", "recirculation": True}).step
    assert not done.outputs.recirculation and "screen" in done.why("recirculation")


def test_the_hand_overrides_the_automatic():
    done = settled(wishes={"blower": 0.2, "distribution": "foot-screen", "recirculation": True,
                           "ac": False}).step
    assert done.outputs.blower == 0.2 and done.outputs.distribution == "foot-screen"
    assert done.outputs.recirculation and not done.outputs.compressor
    for topic in ("blower", "distribution", "recirculation"):
        assert "set by hand" in done.why(topic)


def test_switched_off_nothing_runs_but_a_hot_engine_gets_its_fans():
    off = settled(wishes={"on": False}).step.outputs
    assert (off.compressor, off.fan, off.blower) == (False, "off", 0.0)
    assert settled(wishes={"on": False}, coolant=106.0 + C).step.outputs.fan == "high"


def test_a_set_point_at_its_end_stop_means_full_cold_or_full_hot():
    cold = settled(set_point_K=BLUE.set_point.lowest_K).step
    hot = settled(set_point_K=BLUE.set_point.highest_K).step
    assert [cold.outputs.door(f"blend {z}").target for z in ("left", "right")] == [0.0, 0.0]
    assert [hot.outputs.door(f"blend {z}").target for z in ("left", "right")] == [1.0, 1.0]
    assert cold.outputs.blower == 1.0 and hot.outputs.blower == pytest.approx(0.8)
    assert "end stop, full cold" in cold.why("door blend left")


def test_fans_after_a_high_pressure_cut_keep_running_until_the_pressure_is_down():
    running = settled(pressure=1.9e6)
    state = running.step.state
    seen = []
    for pressure in (2.9e6, 2.4e6, 2.2e6, 1.3e6, 1.2e6):
        done = run(state, 10.0, 1.0, scene(pressure=pressure, **{}))[-1]
        state = done.state
        seen.append((done.outputs.compressor, done.outputs.fan))
    assert seen == [(False, "high"), (False, "high"), (True, "high"), (True, "high"),
                    (True, "low")]


def test_the_blower_rises_no_faster_than_it_may():
    steps = run(initial_state(BLUE), 4.0, 0.5, scene(wishes={"blower": 1.0}))
    assert [round(done.outputs.blower, 6) for done in steps] == [
        0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0]
    assert "on its way to 100 %" in steps[0].why("blower")


def test_one_zone_without_sun_and_duct_sensors():
    done = settled(PLAIN).step
    assert done.outputs.compressor and len(done.outputs.demands) == 1
    assert [door.name for door in done.outputs.doors] == ["blend cabin", "distribution",
                                                          "recirculation"]
    # load 30·8 + 0.7·300 + 220 + 70·2 = 810; airflow·c_p = 90.54; 22 − 8.946 = 13.054 °C
    assert done.outputs.demands[0].required_K - C == pytest.approx(13.054, abs=5e-4)
    assert "sun cabin not fitted: fixed value 300 W/m²" in done.why("sensors")
    assert done.outputs.failed_sensors == ()


def test_the_explanation_reads_in_order():
    text = explain(settled(pressure=1.72e6).step)
    places = [text.index(words) for words in (
        "9 of 9 measured", "required left", "required right", "blower", "air to", "compressor on",
        "fans high: 1,720 kPa ≥ 1,600 kPa", "blend left door", "0 codes stored",
        "Why the compressor is on")]
    assert places == sorted(places)


def test_the_service_tool_moves_what_it_is_asked_to():
    done = settled(service={"fans": "high", "blower": 0.9, "door blend left": 0.7,
                            "compressor": True}, wishes={"ac": False, "on": False})
    out = done.step.outputs
    assert (out.compressor, out.fan, out.blower) == (True, "high", pytest.approx(0.9))
    assert done.actuators["blend left"].position == pytest.approx(0.7, abs=0.02)
    for topic in ("fans", "blower", "door blend left"):
        assert "asked for by the service tool" in done.step.why(topic)
    assert settled(service={"compressor": False}).step.why("compressor") == (
        "compressor off: head: stopped by the service tool")


@pytest.mark.parametrize("name", [name for name in STOPS if name != "head"])
def test_the_service_tool_cannot_overrule_what_protects_the_compressor(name):
    out = settled(service={"compressor": True}, **STOPS[name]).step.outputs
    assert not out.compressor and out.blocked_by.name == name


@pytest.mark.parametrize(("service", "said"), [
    ({"horn": 1.0}, "the service tool cannot test 'horn'; accepted: compressor, fans, blower"),
    ({"fans": "fast"}, "service fans 'fast' is unknown; accepted: off, low, high"),
    ({"compressor": 1}, "service compressor must be True or False, not 1"),
    ({"door blend left": 1.2}, "service door blend left 1.2 is outside 0.0 to 1.0"),
])
def test_impossible_service_requests(service, said):
    with pytest.raises(InputError) as refusal:
        step(initial_state(BLUE), scene(service=service), BLUE, 1.0)
    assert str(refusal.value).startswith(said)


# --- what is refused ------------------------------------------------------------------------


@pytest.mark.parametrize(("changes", "said"), [
    ({"set_points_K": (295.15,)}, "set_points_K has 1 values, but the head has 2 zones"),
    ({"set_points_K": (295.15, 310.15)}, "set point right 37.0 °C is outside 16.0 °C to 28.0 °C"),
    ({"set_points_K": (295.15, float("nan"))}, "set point right must be a finite number"),
    ({"blower": 1.5}, "blower 1.5 is outside 0.0 to 1.0"),
    ({"distribution": "feet"}, "distribution 'feet' is unknown; accepted: face, bi-level"),
])
def test_impossible_wishes(changes, said):
    with pytest.raises(InputError) as refusal:
        step(initial_state(BLUE), with_wishes(scene(), **changes), BLUE, 1.0)
    assert str(refusal.value).startswith(said)


@pytest.mark.parametrize(("kept", "said"), [
    ({"supply_V": float("nan")}, "supply_V must be a finite number, not nan"),
    ({"speed_rpm": -1.0}, "speed_rpm -1.0 is outside 0.0 to 20000.0"),
    ({"cabin": Signal(float("inf"))}, "sensor cabin: value must be a finite number or None"),
    ({"cabin": Signal(295.0, 1.2)}, "sensor cabin: ratio must be a number from 0 to 1"),
    ({"doors": {}}, "door blend left: wants a Signal, not None"),
])
def test_impossible_inputs(kept, said):
    with pytest.raises(InputError) as refusal:
        step(initial_state(BLUE), scene(**kept), BLUE, 1.0)
    assert str(refusal.value).startswith(said)


@pytest.mark.parametrize("dt_s", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_times(dt_s):
    with pytest.raises(InputError, match="dt_s"):
        step(initial_state(BLUE), scene(), BLUE, dt_s)


def test_a_missing_sensor_is_named():
    inputs = scene()
    kept = {name: signal for name, signal in inputs.sensors.items() if name != "pressure"}
    with pytest.raises(InputError, match="sensor pressure: wants a Signal"):
        step(initial_state(BLUE), replace(inputs, sensors=kept), BLUE, 1.0)
