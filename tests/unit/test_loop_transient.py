"""The loop over time: what the needles do at start, at clutch cycling and at shut-down."""

import math
from dataclasses import replace

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.refrigerant.loop import Conditions, fault_kinds, solve_loop
from coldbench.refrigerant.loop.faults import effects as combined_effects
from coldbench.refrigerant.loop.faults import fault_list
from coldbench.refrigerant.loop.transient import (
    Cycling,
    advance,
    blue_cabin,
    blue_stores,
    loop_inputs,
    reading,
    rest_state,
    simulate,
    state_of,
)
from coldbench.refrigerant.loop.transient_balance import moment
from coldbench.refrigerant.loop.transient_clutch import Clutch, Seen, decide
from coldbench.refrigerant.properties import properties

C = 273.15
COOL = Conditions(ambient_K=C + 20.0, intake_K=C + 15.0, intake_humidity=0.6)  # light load
MASS = 1e-9  # relative: both sides gain and lose the same flows, so only rounding is left
# what `transient` states for ten minutes from rest; these benches reach it in a third of that
SAME_PRESSURE, SAME_TEMPERATURE_K = 1e-3, 0.05


def words_of(run, part: str) -> list[float]:
    """Times of the events whose words hold a part."""
    return [event.time_s for event in run.events if part in event.words]


# --- start -----------------------------------------------------------------------------------

@pytest.mark.parametrize("fluid", ["R134a", "R1234yf"])
def test_at_the_start_low_falls_and_high_rises_from_one_common_reading(fluid):
    run = simulate(Conditions(fluid=fluid), 3.0)
    assert run.low_side_gauge_kPa[0] == pytest.approx(run.high_side_gauge_kPa[0])
    assert run.high_side_gauge_kPa[0] == pytest.approx(
        (properties(fluid).saturation_pressure(Conditions().ambient_K) - 101325.0) / 1e3)
    assert (numpy.diff(run.low_side_gauge_kPa) < 0.0).all()
    assert (numpy.diff(run.high_side_gauge_kPa) > 0.0).all()
    assert run.low_side_gauge_kPa[-1] < 0.5 * run.low_side_gauge_kPa[0]
    assert run.high_side_gauge_kPa[-1] > 1.2 * run.high_side_gauge_kPa[0]


def test_the_air_cools_and_the_cabin_follows_slowly():
    run = simulate(Conditions(), 60.0)
    assert run.vent_temperature_K[-1] < run.vent_temperature_K[0] - 10.0
    assert run.coil_temperature_K[-1] < run.vent_temperature_K[-1]
    assert 0.1 < run.cabin_temperature_K[0] - run.cabin_temperature_K[-1] < 10.0


@pytest.mark.parametrize("conditions, faults", [
    (Conditions(), ()),
    (Conditions(fluid="R1234yf"), ()),
    (Conditions(ambient_K=C + 40.0, intake_K=C + 35.0), ()),
    (Conditions(), ("undercharge",)),
    (Conditions(), ("condenser-blocked",)),
    (Conditions(fluid="R1234yf"), ("txv-stuck-closed=0.5",)),
    (Conditions(valve_angle_deg=90.0), ()),
], ids=["R134a", "R1234yf", "hot", "undercharge", "condenser-blocked", "txv", "valve-shut"])
def test_the_end_is_the_steady_state(conditions, faults):
    end = simulate(conditions, 180.0, faults=faults, step_s=10.0).at(180.0)
    steady, air = solve_loop(conditions, faults=faults), conditions.atmosphere_Pa / 1e3
    for name in ("high_side_gauge", "low_side_gauge"):
        assert getattr(end, f"{name}_kPa") + air == pytest.approx(
            getattr(steady, f"{name}_Pa") / 1e3 + air, rel=SAME_PRESSURE)
    for name in ("suction_temperature_K", "discharge_temperature_K", "superheat_K",
                 "liquid_line_temperature_K", "vent_temperature_K", "subcooling_K"):
        assert getattr(end, name) == pytest.approx(getattr(steady, name),
                                                   abs=SAME_TEMPERATURE_K), name
    assert end.receiver_level == pytest.approx(steady.receiver_level, abs=0.01)


def test_started_from_the_steady_state_the_needles_stay():
    steady = solve_loop(Conditions())
    run = simulate(Conditions(), 30.0, start=steady, step_s=1.0)
    for series in (run.high_side_gauge_kPa, run.low_side_gauge_kPa):
        assert abs(series - series[0]).max() < SAME_PRESSURE * (series[0] + 101.325)


def test_a_fault_that_appears_moves_the_needles_to_the_new_steady_state():
    before = solve_loop(Conditions())
    run = simulate(Conditions(), 100.0, faults=["condenser-blocked"], start=before, step_s=5.0)
    after = solve_loop(Conditions(), faults=["condenser-blocked"])
    assert run.high_side_gauge_kPa[0] == pytest.approx(before.high_side_gauge_Pa / 1e3, rel=2e-3)
    assert run.high_side_gauge_kPa[-1] == pytest.approx(after.high_side_gauge_Pa / 1e3, rel=2e-3)


# --- shut-down -------------------------------------------------------------------------------

@pytest.fixture(scope="module")
def shut_down():
    """A minute of cooling, then six at rest, in a room of one temperature."""
    return simulate(Conditions(ambient_K=C + 30.0, intake_K=C + 30.0), 420.0, step_s=1.0,
                    clutch=lambda time_s: time_s < 60.0)


def test_after_shut_down_the_needles_meet_at_saturation_and_stay(shut_down):
    off = shut_down.time_s > 60.5
    high, low = shut_down.high_side_gauge_kPa[off], shut_down.low_side_gauge_kPa[off]
    assert (numpy.diff(high) < 0.01).all() and (numpy.diff(low) > -0.01).all()
    assert (high - low > -0.1).all()
    resting = (properties("R134a").saturation_pressure(C + 30.0) - 101325.0) / 1e3
    assert [high[-1], low[-1]] == pytest.approx([resting, resting], rel=2e-3)
    last_minute = shut_down.time_s > 360.0
    for needle in (shut_down.high_side_gauge_kPa, shut_down.low_side_gauge_kPa):
        assert numpy.ptp(needle[last_minute]) < 1.0


def test_at_rest_nothing_is_compressed_and_the_coil_warms(shut_down):
    off = shut_down.time_s > 60.5
    assert not shut_down.clutch_on[off].any()
    assert not shut_down.compressor_flow_kg_per_s[off].any()
    assert shut_down.coil_temperature_K[-1] == pytest.approx(C + 30.0, abs=0.2)


def test_a_cooler_coil_holds_the_low_side_at_its_own_saturation():
    run = simulate(Conditions(ambient_K=C + 30.0, intake_K=C + 20.0), 400.0, step_s=5.0,
                   clutch=lambda time_s: time_s < 30.0)
    pressure = properties("R134a").saturation_pressure
    assert run.low_side_gauge_kPa[-1] == pytest.approx(
        (pressure(run.coil_temperature_K[-1]) - 101325.0) / 1e3, rel=5e-3)
    assert run.high_side_gauge_kPa[-1] == pytest.approx((pressure(C + 30.0) - 101325.0) / 1e3,
                                                        rel=5e-3)
    assert run.low_side_charge_kg[-1] > run.low_side_charge_kg[10]  # liquid creeps to the cold


def test_a_bench_that_never_starts_shows_no_event_and_one_pressure():
    room = Conditions(intake_K=Conditions().ambient_K)
    run = simulate(room, 20.0, clutch=False)
    assert run.events == ()
    assert numpy.ptp(run.high_side_gauge_kPa - run.low_side_gauge_kPa) < 0.1


@pytest.mark.parametrize("conditions, faults", [
    (Conditions(speed_rpm=0.0), ()), (Conditions(clutch_engaged=False), ()),
    (Conditions(), ("clutch-open=1",))], ids=["no speed", "not engaged", "clutch open"])
def test_a_compressor_that_cannot_turn_is_never_said_to_engage(conditions, faults):
    run = simulate(conditions, 5.0, faults=faults, clutch=Cycling())
    assert run.events == () and not run.clutch_on.any()
    assert run.compressor_flow_kg_per_s.max() == 0.0


@pytest.mark.parametrize("conditions", [
    Conditions(), Conditions(intake_K=C + 25.0),
    Conditions(fluid="R1234yf", ambient_K=C + 35.0)], ids=["usual", "mild air", "R-1234yf"])
def test_a_steady_state_stands_still_in_each_of_its_stores(conditions):
    """Refrigerant, coil, bulb, cabin and pipe: the two models of the loop balance alike."""
    inputs = loop_inputs(conditions)
    state = state_of(inputs, solve_loop(conditions))
    rates = zip(state._fields, state, moment(inputs, state).rates, strict=True)
    moving = {name: rate for name, value, rate in rates if abs(rate) > 1e-5 * abs(value)}
    assert not moving  # in units of the store, for each second


@pytest.mark.parametrize(("severity", "turns"), [(0.5, True), (0.51, False)])
def test_at_rest_and_over_time_a_clutch_opens_at_the_same_severity(severity, turns):
    """The catalogue says: above 0.5 the compressor stands still."""
    fault = f"clutch-open={severity}"
    effects = combined_effects(fault_list((fault,)))
    assert loop_inputs(Conditions(), effects=effects).engaged is turns
    assert solve_loop(Conditions(), faults=(fault,)).running is turns


# --- the clutch ------------------------------------------------------------------------------

@pytest.fixture(scope="module")
def cycling():
    """Four minutes of light load under the usual switches."""
    return simulate(COOL, 240.0, clutch=Cycling())


def test_cycling_goes_on_and_off_in_turn_at_a_usual_pace(cycling):
    on, off = words_of(cycling, "engages"), words_of(cycling, "releases")
    assert len(off) >= 4 and len(on) - len(off) in (0, 1)
    assert all(a < b for a, b in zip(on, off, strict=False))
    assert all(a < b for a, b in zip(off, on[1:], strict=False))
    pauses = [b - a for a, b in zip(off, on[1:], strict=False)]
    assert min(pauses) >= Cycling().minimum_off_s
    periods = numpy.diff(on[1:])
    assert periods.min() > 20.0 and periods.max() < 180.0  # common practice


def test_the_samples_tell_the_same_story_as_the_events(cycling):
    for event, after in zip(cycling.events, cycling.events[1:], strict=False):
        between = (cycling.time_s >= event.time_s) & (cycling.time_s < after.time_s)
        assert set(cycling.clutch_on[between]) == {"engages" in event.words}


def test_at_each_release_the_low_side_rises_and_the_high_side_falls(cycling):
    for time in words_of(cycling, "releases")[:3]:
        before, after = cycling.at(time), cycling.at(time + 5.0)
        assert after.low_side_gauge_kPa > before.low_side_gauge_kPa + 20.0
        assert after.high_side_gauge_kPa < before.high_side_gauge_kPa - 20.0


def test_the_probe_in_the_coil_works_between_its_two_thresholds():
    rule = Cycling(minimum_off_s=0.0)
    run = simulate(COOL, 60.0, clutch=rule, stores=replace(blue_stores(), probe_time_s=2.0))
    assert len(run.events) > 3
    assert all("coil at" in event.words for event in run.events if "releases" in event.words)
    on = Clutch(engaged=True)
    between, low, high = 0.5 * (rule.coil_cut_in_K + rule.coil_cut_out_K), 150.0, 900.0
    assert decide(rule, on, 9.0, Seen(between, low, high), 2800.0)[0].engaged
    off, words = decide(rule, on, 9.0, Seen(rule.coil_cut_out_K, low, high), 2800.0)
    assert not off.engaged and "coil" in words
    assert not decide(rule, off, 99.0, Seen(between, low, high), 2800.0)[0].engaged
    assert decide(rule, off, 99.0, Seen(rule.coil_cut_in_K, low, high), 2800.0)[0].engaged


def test_a_starved_low_side_is_cut_out_by_its_switch():
    run = simulate(Conditions(valve_angle_deg=90.0), 40.0, clutch=Cycling())
    assert "low side at" in run.events[1].words
    pauses = zip(words_of(run, "releases"), words_of(run, "engages")[1:], strict=False)
    assert all(b - a >= Cycling().minimum_off_s for a, b in pauses)


def test_without_the_condenser_fan_on_a_hot_day_the_trip_acts_and_stays():
    hot = Conditions(ambient_K=C + 45.0, intake_K=C + 35.0, condenser_fan="off")
    run = simulate(hot, 90.0)
    assert len(run.events) == 2 and "high-pressure trip" in run.events[1].words
    assert 2700.0 < run.high_side_gauge_kPa.max() < 3000.0
    assert not run.clutch_on[run.time_s > run.events[1].time_s].any()


def test_the_high_side_switch_acts_before_the_trip_and_lets_go_again():
    hot = Conditions(ambient_K=C + 45.0, intake_K=C + 35.0, condenser_fan="off")
    run = simulate(hot, 90.0, clutch=Cycling())
    assert "cut-out 2700 kPa" in run.events[1].words
    assert len(words_of(run, "engages")) > 1 and not words_of(run, "trip")


def test_wish_asks_and_switches_overrule():
    run = simulate(Conditions(), 30.0, clutch=Cycling(wish=lambda time_s: 5.0 <= time_s < 20.0))
    assert [(e.time_s, e.words.split(":")[0]) for e in run.events] == [
        (5.0, "clutch engages"), (20.0, "clutch releases")]


@settings(max_examples=200, deadline=None)
@given(probe=st.floats(250.0, 310.0), low=st.floats(-90.0, 600.0), high=st.floats(0.0, 3500.0),
       engaged=st.booleans(), pause=st.floats(0.0, 60.0))
def test_the_clutch_never_engages_against_a_switch_nor_too_soon(probe, low, high, engaged, pause):
    rule = Cycling()
    before = Clutch(engaged, 100.0 if not engaged else -math.inf)
    after, words = decide(rule, before, 100.0 + pause, Seen(probe, low, high), 2800.0)
    assert bool(words) or after.engaged == engaged
    if after.engaged:
        assert probe > rule.coil_cut_out_K and low > rule.low_cut_out_gauge_kPa
        assert high < rule.high_cut_out_gauge_kPa
        assert engaged or pause >= rule.minimum_off_s


# --- laws ------------------------------------------------------------------------------------

FAULTS = st.sampled_from(sorted(set(fault_kinds()) - {"overcharge", "undercharge"}))


@settings(max_examples=12, deadline=None)
@given(fluid=st.sampled_from(["R134a", "R1234yf", "R152a"]), ambient=st.floats(278.2, 328.1),
       intake=st.floats(278.2, 328.1), blower=st.floats(0.0, 1.0),
       fan=st.sampled_from(["off", "low", "high"]), speed=st.floats(500.0, 5000.0),
       angle=st.sampled_from([0.0, 45.0, 80.0, 90.0]), charge=st.floats(0.2, 1.5), fault=FAULTS,
       severity=st.floats(0.0, 1.0))
def test_no_refrigerant_is_made_or_lost_and_no_pressure_is_absurd(
        fluid, ambient, intake, blower, fan, speed, angle, charge, fault, severity):
    conditions = Conditions(fluid=fluid, ambient_K=ambient, intake_K=intake, blower=blower,
                            condenser_fan=fan, speed_rpm=speed, valve_angle_deg=angle,
                            charge=charge)
    run = simulate(conditions, 12.0, faults=[(fault, severity)], clutch=lambda t: t < 8.0)
    held = run.high_side_charge_kg + run.low_side_charge_kg
    assert held == pytest.approx(held[0], rel=MASS) and run.mass_residual < MASS
    assert (run.high_side_charge_kg > 0.0).all() and (run.low_side_charge_kg > 0.0).all()
    assert (run.low_side_gauge_kPa > -conditions.atmosphere_Pa / 1e3).all()
    assert all(numpy.isfinite(column).all() for column in run.series.values())


def test_trapped_air_raises_both_needles_at_rest():
    room = Conditions(clutch_engaged=False)
    plain, airy = (simulate(room, 1.0, faults=f) for f in ((), ("air-in-system",)))
    assert airy.high_side_gauge_kPa[0] > plain.high_side_gauge_kPa[0] + 20.0
    assert airy.low_side_gauge_kPa[0] == pytest.approx(airy.high_side_gauge_kPa[0], rel=1e-6)


def test_at_rest_nothing_flows_through_the_valve_with_air_or_without():
    """Air presses on both sides alike, so it drives nothing."""
    room = Conditions(intake_K=Conditions().ambient_K, clutch_engaged=False)
    for faults in ((), ("air-in-system",)):
        inputs = loop_inputs(room, effects=combined_effects(fault_list(faults)))
        now = moment(inputs, rest_state(inputs))
        assert (now.low_air_Pa > 50e3) is bool(faults)
        assert now.flow.mass_flow == pytest.approx(0.0, abs=1e-12)


def test_air_in_a_loop_nearly_at_the_temperature_outside_is_followed():
    """Liquid that can hardly cool any more, under the pressure of air, once overflowed."""
    run = simulate(Conditions(ambient_K=299.8, intake_K=290.5, condenser_fan="off"), 20.0,
                   faults=[("air-in-system", 0.62)], clutch=lambda time_s: time_s < 12.0)
    assert run.mass_residual < MASS and len(run.events) == 2


def test_a_start_on_the_hottest_day_at_full_speed_is_followed():
    """The first gas, dense and at full speed, would press more than the tables hold."""
    run = simulate(Conditions(ambient_K=C + 55.0, intake_K=C + 55.0, speed_rpm=5000.0), 30.0)
    assert "high-pressure trip" in run.events[-1].words


def test_the_same_run_twice_is_the_same():
    first, again = (simulate(COOL, 40.0, clutch=Cycling()) for _ in range(2))
    assert first.events == again.events and first.end == again.end
    assert all((first.series[k] == again.series[k]).all() for k in first.series)


def test_samples_closer_together_show_the_same_run():
    coarse, fine = (simulate(Conditions(), 20.0, step_s=s) for s in (2.0, 0.25))
    for name in ("high_side_gauge_kPa", "low_side_gauge_kPa"):
        assert getattr(fine, name)[::8] == pytest.approx(getattr(coarse, name), rel=3e-3)


def test_ticks_of_a_bench_add_up_to_a_run():
    inputs = loop_inputs(Conditions())
    state = rest_state(inputs)
    for _ in range(40):
        state = advance(state, inputs, 0.25)
    sample = reading(inputs, state)
    run = simulate(Conditions(), 10.0)
    assert sample.low_side_gauge_kPa == pytest.approx(run.low_side_gauge_kPa[-1], rel=3e-3)
    assert sample.high_side_gauge_kPa == pytest.approx(run.high_side_gauge_kPa[-1], rel=3e-3)


def test_recirculated_air_lets_the_cabin_get_colder():
    fresh, closed = (simulate(Conditions(), 60.0, step_s=5.0,
                              cabin=blue_cabin().with_recirculation(share))
                     for share in (0.0, 0.9))
    assert closed.cabin_temperature_K[-1] < fresh.cabin_temperature_K[-1]


# --- little or no refrigerant ----------------------------------------------------------------

def test_little_refrigerant_pulls_the_low_side_down_and_starves_the_coil():
    little, right = (simulate(Conditions(charge=c), 20.0) for c in (0.2, 1.0))
    assert little.low_side_gauge_kPa[-1] < 0.5 * right.low_side_gauge_kPa[-1]
    assert little.superheat_K[-1] > right.superheat_K[-1] + 5.0


def test_a_shut_valve_pulls_a_vacuum_but_never_below_nothing():
    low = simulate(Conditions(valve_angle_deg=90.0), 20.0).low_side_gauge_kPa
    assert -101.325 < low[-1] < 0.0


def test_an_empty_loop_is_refused_in_words():
    with pytest.raises(InputError, match="charge 0 % is outside 20 to 150 %"):
        simulate(Conditions(charge=0.0), 10.0)
    with pytest.raises(InputError, match="charge .* outside 20 to 150 %"):
        simulate(Conditions(charge=0.25), 10.0, faults=["undercharge=1"])
