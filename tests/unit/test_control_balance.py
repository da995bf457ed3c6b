"""Required discharge temperature and blend position against sums done by hand.

Constants of the blue head, for each zone: skin 15 W/K, glass 0.35 m², people 110 W, recovery
40 W/K, between zones 8 W/K, airflow 0.05 kg/s, air 1006 J/(kg·K): 50.3 W/K.
"""

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.control.blower import curve_share, heating, hold_back
from coldbench.control.door_targets import blend_position, blend_target
from coldbench.control.heat_balance import balance, demand_words
from coldbench.control.sensors import Believed

sc = runpy.run_path(str(Path(__file__).parent / "control_scene.py"))
BLUE, C, scene, settled = sc["BLUE"], sc["C"], sc["scene"], sc["settled"]
LEFT = BLUE.zones[0]


def left(set_point, cabin, ambient, sun, neighbour=None):
    neighbour = set_point if neighbour is None else neighbour
    return balance(LEFT, set_point + C, (neighbour + C,), cabin + C, ambient + C, sun, BLUE)


@pytest.mark.parametrize(("case", "load_W", "wanted_C", "required_C"), [
    # nothing but people: 110/50.3 = 2.187
    ((22.0, 22.0, 22.0, 0.0), 110.0, 19.813, 19.813),
    # 15·13 + 0.35·800 + 110 = 585; 585/50.3 = 11.630
    ((22.0, 22.0, 35.0, 800.0), 585.0, 10.370, 10.370),
    # hot car: 585 + 40·18 = 1305; 1305/50.3 = 25.944, colder than 3 °C may be asked for
    ((22.0, 40.0, 35.0, 800.0), 1305.0, -3.944, 3.0),
    # winter, cabin warm: 15·(−32) + 110 = −370; +7.356
    ((22.0, 22.0, -10.0, 0.0), -370.0, 29.356, 29.356),
    # winter, cabin cold: −370 + 40·(−32) = −1650; +32.803
    ((22.0, -10.0, -10.0, 0.0), -1650.0, 54.803, 54.803),
    # the neighbour is set 4 K warmer: 110 + 8·4 = 142; 142/50.3 = 2.823
    ((22.0, 22.0, 22.0, 0.0, 26.0), 142.0, 19.177, 19.177),
    # end stops: no balance
    ((16.0, 22.0, 30.0, 0.0), 110 + 15 * 14 + 40 * 6, -15.0, 3.0),
    ((28.0, 22.0, 30.0, 0.0), 110 + 15 * 2 - 40 * 6, 50.0, 60.0),
])
def test_required_temperature_by_hand(case, load_W, wanted_C, required_C):
    demand = left(*case)
    assert demand.load_W == pytest.approx(load_W, abs=1e-9)
    assert demand.wanted_K - C == pytest.approx(wanted_C, abs=5e-4)
    assert demand.required_K - C == pytest.approx(required_C, abs=5e-4)


def test_the_sum_is_written_as_a_learner_would():
    assert demand_words(left(22.0, 40.0, 35.0, 800.0), 22.0 + C) == (
        "required left 3.0 °C, the limit: 22.0 °C − 1,305 W / 50.3 W/K = −3.9 °C; 1,305 W = "
        "skin 195 W + sun 280 W + people 110 W + neighbour 0 W + recovery 720 W")
    assert demand_words(left(22.0, 22.0, -10.0, 0.0), 22.0 + C).startswith(
        "required left 29.4 °C = 22.0 °C + 370 W / 50.3 W/K; −370 W = skin −480 W")
    assert "end stop, full cold" in demand_words(left(16.0, 22.0, 30.0, 0.0), 16.0 + C)


@pytest.mark.parametrize(("required_C", "evaporator_C", "coolant_C", "position"), [
    (20.0, 5.0, 85.0, 0.25),    # 15 / (0.75·80)
    (5.0, 5.0, 85.0, 0.0),
    (50.0, 5.0, 85.0, 0.75),
    (10.0, 5.0, 5.0, 1.0),      # cold engine: 5 K over the least span of 5 K
    (7.0, 5.0, 0.0, 0.4),
])
def test_blend_position_by_hand(required_C, evaporator_C, coolant_C, position):
    assert blend_position(BLUE.blend, required_C + C, evaporator_C + C,
                          coolant_C + C) == pytest.approx(position, abs=1e-12)


@pytest.mark.parametrize(("duct_C", "position"), [
    (20.0, 0.25),  # as required: no correction
    (26.0, 0.19),  # 6 K too warm: −0.01·6
    (14.0, 0.31),
    (60.0, 0.10),  # limited to 0.15
    (-10.0, 0.40),
])
def test_correction_by_the_duct_sensor_by_hand(duct_C, position):
    demand = replace(left(22.0, 22.0, 22.0, 0.0), required_K=20.0 + C)
    believed = {"evaporator": Believed(5.0 + C, "measured"),
                "coolant": Believed(85.0 + C, "measured"),
                "discharge left": Believed(duct_C + C, "measured")}
    target, words = blend_target(demand, believed, BLUE.blend, air_moves=True)
    assert target == pytest.approx(position, abs=1e-12)
    assert words.startswith("(20.0 °C − 5.0 °C) / 60.0 K = 25 % ")
    assert blend_target(demand, believed, BLUE.blend, air_moves=False)[0] == 0.25
    believed["discharge left"] = Believed(duct_C + C, "substitute")
    assert blend_target(demand, believed, BLUE.blend, air_moves=True)[0] == 0.25


@pytest.mark.parametrize(("wanted_C", "share"), [
    (-40.0, 1.0), (-15.0, 1.0), (-2.5, 0.675), (10.0, 0.35), (20.0, 0.35), (30.0, 0.35),
    (40.0, 0.575), (50.0, 0.80), (90.0, 0.80),
])
def test_blower_curve_by_hand(wanted_C, share):
    assert curve_share(BLUE.blower, wanted_C + C) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(("coolant_C", "most"), [
    (-20.0, 0.35), (30.0, 0.35), (45.0, 0.675), (60.0, 1.0), (95.0, 1.0)])
def test_hold_back_by_hand(coolant_C, most):
    assert hold_back(BLUE.blower, coolant_C + C) == pytest.approx(most, abs=1e-12)


def test_cold_coolant_holds_heating_back_but_never_cooling():
    winter = dict(ambient=-10.0 + C, cabin=-10.0 + C, sun=0.0, evaporator=5.0 + C)
    warm, cold = (settled(coolant=t + C, **winter).step for t in (85.0, 20.0))
    assert warm.outputs.blower == pytest.approx(0.80)
    assert cold.outputs.blower == pytest.approx(0.35)
    assert "held back: coolant 20.0 °C < 60.0 °C" in cold.why("blower")
    summer = settled(coolant=20.0 + C, cabin=40.0 + C).step
    # load 15·8 + 0.35·200 + 110 + 40·18 = 1020 W; wanted 22 − 20.278 = 1.722 °C
    assert summer.outputs.blower == pytest.approx(0.35 + 0.65 * (10.0 - 1.722) / 25.0, abs=1e-4)
    assert "held back" not in summer.why("blower")


temperatures = st.floats(-30.0, 60.0)
suns = st.floats(0.0, 1200.0)


@given(set_point=st.floats(16.0, 28.0), cabin=temperatures, hotter=st.floats(0.0, 40.0),
       ambient=temperatures, sun=suns)
def test_a_hotter_cabin_never_asks_for_warmer_air_or_less_cooling(set_point, cabin, hotter,
                                                                  ambient, sun):
    before, after = left(set_point, cabin, ambient, sun), left(set_point, cabin + hotter,
                                                               ambient, sun)
    assert after.required_K <= before.required_K and after.wanted_K <= before.wanted_K
    share = curve_share(BLUE.blower, after.wanted_K)
    if not heating(BLUE.blower, before.wanted_K):
        assert share >= curve_share(BLUE.blower, before.wanted_K) - 1e-12
    if heating(BLUE.blower, after.wanted_K):
        assert share <= curve_share(BLUE.blower, before.wanted_K) + 1e-12


@given(set_point=st.floats(16.0, 28.0), cabin=temperatures, ambient=temperatures, sun=suns,
       more=st.floats(0.0, 30.0), more_sun=st.floats(0.0, 500.0))
def test_more_heat_from_outside_never_asks_for_warmer_air(set_point, cabin, ambient, sun, more,
                                                          more_sun):
    before = left(set_point, cabin, ambient, sun)
    assert left(set_point, cabin, ambient + more, sun).required_K <= before.required_K
    assert left(set_point, cabin, ambient, sun + more_sun).required_K <= before.required_K


@given(cabin=temperatures, ambient=temperatures, sun=suns, low=st.floats(16.0, 28.0),
       higher=st.floats(0.0, 12.0))
def test_a_higher_set_point_never_asks_for_colder_air(cabin, ambient, sun, low, higher):
    high = min(low + higher, 28.0)
    assert left(high, cabin, ambient, sun).required_K >= left(
        low, cabin, ambient, sun).required_K


def test_sun_on_one_side_cools_that_side_alone():
    done = settled(sun_left=800.0, sun_right=0.0, cabin=22.0 + C).step.outputs
    by_zone = {demand.zone: demand for demand in done.demands}
    # 0.35·800 / 50.3 = 5.567 K
    assert by_zone["right"].required_K - by_zone["left"].required_K == pytest.approx(
        5.567, abs=5e-4)
    assert done.door("blend left").target <= done.door("blend right").target
