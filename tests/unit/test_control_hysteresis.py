"""Every two-threshold decision of the head: its edges in both directions, and no chatter between.

Each case drives one quantity through the whole head and watches one output.
"""

import runpy
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.control import initial_state, step
from coldbench.control.hysteresis import Band, because, switch
from coldbench.control.words import KPA

sc = runpy.run_path(str(Path(__file__).parent / "control_scene.py"))
BLUE, C, scene = sc["BLUE"], sc["C"], sc["scene"]
LEFT = BLUE.zones[0]


def link(name):
    """Does a link of the compressor chain let through?"""
    return lambda done: next(item for item in done.outputs.chain if item.name == name).passes


def at_least(level):
    """Is the fan request at this level or above?"""
    order = ("off", "low", "high")
    return lambda done: order.index(done.outputs.fan) >= order.index(level)


def wanting(value_K, **more):
    """A scene in which both zones want discharge air of this temperature, by the cabin's."""
    set_K, ambient_K = 22.0 + C, more.get("ambient", 30.0 + C)
    carried = LEFT.airflow_kg_per_s * BLUE.heat_balance.air_heat_capacity_J_per_kg_K
    rest_W = LEFT.skin_W_per_K * (ambient_K - set_K) + LEFT.people_W
    cabin_K = set_K + (carried * (set_K - value_K) - rest_W) / LEFT.recovery_W_per_K
    return scene(sun=0.0, cabin=cabin_K, **more)


compressor, fan = BLUE.compressor, BLUE.fan
NO_AC = {"ac": False}
CASES = {  # name: (band, inputs with that value, is it on?, blur of the value)
    "supply": (compressor.supply, lambda v: scene(supply_V=v), link("supply"), 0.0),
    "speed": (compressor.speed, lambda v: scene(speed_rpm=v), link("drive"), 0.0),
    "ambient": (compressor.ambient, lambda v: scene(ambient=v), link("ambient"), 0.0),
    "coolant": (compressor.coolant, lambda v: scene(coolant=v), link("coolant"), 0.0),
    "low pressure": (compressor.low_pressure, lambda v: scene(pressure=v),
                     link("low pressure"), 0.0),
    "high pressure": (compressor.high_pressure, lambda v: scene(pressure=v),
                      link("high pressure"), 0.0),
    "freeze": (compressor.freeze, lambda v: scene(evaporator=v), link("freeze"), 0.0),
    "fan low": (fan.low, lambda v: scene(pressure=v, speed_rpm=0.0), at_least("low"), 0.0),
    "fan high": (fan.high, lambda v: scene(pressure=v), at_least("high"), 0.0),
    "fan low coolant": (fan.low_coolant, lambda v: scene(coolant=v, wishes=NO_AC),
                        at_least("low"), 0.0),
    "fan high coolant": (fan.high_coolant, lambda v: scene(coolant=v, wishes=NO_AC),
                         at_least("high"), 0.0),
    "bi-level": (BLUE.distribution.bi_level, wanting,
                 lambda done: done.outputs.distribution != "face", 1e-9),
    "foot": (BLUE.distribution.foot, wanting,
             lambda done: done.outputs.distribution == "foot", 1e-9),
    "recirculation required": (BLUE.recirculation.required, wanting,
                               lambda done: done.outputs.recirculation, 1e-9),
    "recirculation ambient": (BLUE.recirculation.ambient,
                              lambda v: wanting(-5.0 + C, ambient=v),
                              lambda done: done.outputs.recirculation, 0.0),
}
every_case = pytest.mark.parametrize("name", CASES)


def walk(name, values):
    """The decision after each value in turn, from a head that has just woken."""
    _, inputs, is_on, _ = CASES[name]
    state, seen = initial_state(BLUE), []
    for value in values:
        done = step(state, inputs(value), BLUE, 0.5)
        state = done.state
        seen.append(is_on(done))
    return seen


@every_case
def test_edges_in_both_directions(name):
    band, _, _, blur = CASES[name]
    up = 1.0 if band.rising else -1.0
    span = abs(band.on - band.off)
    beyond, inner = up * (0.02 * span + blur), 1e-6 * span + 2 * blur
    at_on, at_off = band.on + up * blur, band.off - up * blur
    values = [
        band.off - beyond, band.off + up * inner, 0.5 * (band.on + band.off),
        band.on - up * inner, at_on,  # coming on, and only at the threshold
        band.on + beyond, band.on - up * inner, 0.5 * (band.on + band.off),
        band.off + up * inner, at_off, band.off - beyond,  # going off, and only there
    ]
    assert walk(name, values) == [False] * 4 + [True] * 5 + [False] * 2


@every_case
@settings(max_examples=25)
@given(shares=st.lists(st.floats(0.001, 0.999), min_size=1, max_size=20), on=st.booleans())
def test_inside_the_band_nothing_switches(name, shares, on):
    band, *_ = CASES[name]
    start = band.on + (band.on - band.off) * 0.02 if on else band.off - (band.on - band.off) * 0.02
    seen = walk(name, [start, *(band.off + share * (band.on - band.off) for share in shares)])
    assert seen == [on] * len(seen)


@every_case
def test_the_reason_names_value_and_threshold(name):
    band, inputs, _, _ = CASES[name]
    topic = {"fan": "fans", "recirculation": "recirculation", "bi-level": "distribution",
             "foot": "distribution"}.get(name.split(" ")[0], "compressor")
    on = band.on + 0.02 * (band.on - band.off)
    off = band.off - 0.02 * (band.on - band.off)
    for value in (on, off) if topic != "compressor" else (off,):
        words = step(initial_state(BLUE), inputs(value), BLUE, 10.0).why(topic)
        if not (name == "fan low" and value == on):
            assert any(sign in words for sign in "≥≤<>"), words
        assert any(letter.isdigit() for letter in words)


@given(on=st.floats(-1e6, 1e6), off=st.floats(-1e6, 1e6), value=st.floats(-1e6, 1e6),
       was=st.booleans())
def test_switching_again_with_the_same_value_changes_nothing(on, off, value, was):
    if on == off:
        return
    once = switch(Band(on, off), was, value)
    assert switch(Band(on, off), once, value) is once


@given(value=st.floats(0.0, 4e6), was=st.booleans(), rising=st.booleans())
def test_the_words_of_a_band_are_true(value, was, rising):
    band = Band(1.6e6, 1.2e6) if rising else Band(1.2e6, 1.6e6)
    words = because(band, switch(band, was, value), value, KPA)
    left, sign, right = words.split(",  where")[0].replace(",", "").split(" kPa")[0], \
        next(s for s in "≥≤<>" if s in words), words.replace(",", "").split(" ")[3]
    shown, limit = float(left), float(right)
    true = {"≥": shown >= limit, "≤": shown <= limit, "<": shown < limit, ">": shown > limit}
    assert true[sign], words
