"""Laws of the sensor relations: monotone, invertible, and blind to what must cancel."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.sensing.converter import Converter
from coldbench.sensing.divider import (
    divider_power, divider_resistance, divider_slope, divider_voltage)
from coldbench.sensing.photodiode import SunSensor, lamp_irradiance
from coldbench.sensing.platinum import platinum_resistance, platinum_slope, platinum_temperature
from coldbench.sensing.potentiometer import FeedbackPotentiometer, loaded_fraction
from coldbench.sensing.preferred import SERIES, nearest_preferred
from coldbench.sensing.response import sensor_response, usual_range
from coldbench.sensing.selection import (
    most_sensitive_pull_up, straightest_pull_up, threshold, weakest_sensitivity, window_range_K)
from coldbench.sensing.self_heating import self_heated_temperature
from coldbench.sensing.sensors import load_sensors
from coldbench.sensing.thermistor import ThermistorCurve, beta_curve, steinhart_hart_curve
from coldbench.sensing.thermistor_fit import beta_from_points, fit_beta, fit_steinhart_hart
from coldbench.sensing.transducer import PressureTransducer
from coldbench.sensing.windows import Window

SENSORS = load_sensors()
THERMISTORS = [name for name, sensor in SENSORS.items() if sensor.kind == "thermistor"]
unit = st.floats(0.0, 1.0)
betas = st.floats(2500.0, 5000.0)
ohms = st.floats(100.0, 1e6)


def within(name: str, share: float) -> float:
    """A temperature at a share of a thermistor's range [K]."""
    curve = SENSORS[name].model
    return curve.lowest_temperature_K + share * (
        curve.highest_temperature_K - curve.lowest_temperature_K)


@pytest.mark.parametrize("name", THERMISTORS)
@given(share=unit)
def test_thermistor_there_and_back(name, share):
    kelvin, curve = within(name, share), SENSORS[name].model
    assert curve.temperature(curve.resistance(kelvin)) == pytest.approx(kelvin, abs=1e-8)


@pytest.mark.parametrize("name", THERMISTORS)
@given(a=unit, b=unit)
def test_thermistor_falls(name, a, b):
    assume(abs(a - b) > 1e-6)
    curve = SENSORS[name].model
    cold, hot = sorted((within(name, a), within(name, b)))
    assert curve.resistance(cold) > curve.resistance(hot)


@pytest.mark.parametrize("name", THERMISTORS)
@given(share=st.floats(0.01, 0.99))
def test_thermistor_slope_is_the_derivative(name, share):
    kelvin, curve = within(name, share), SENSORS[name].model
    chord = (curve.resistance(kelvin + 1e-3) - curve.resistance(kelvin - 1e-3)) / 2e-3
    assert curve.slope(kelvin) == pytest.approx(chord, rel=1e-6)


@given(A=st.floats(5e-4, 1.5e-3), B=st.floats(1e-4, 4e-4), C=st.floats(1e-9, 5e-7))
def test_steinhart_hart_inversion_solves_its_own_cubic(A, B, C):
    curve = steinhart_hart_curve(A, B, C)
    x = math.log(curve.resistance(300.0))
    assert A + B * x + C * x**3 == pytest.approx(1.0 / 300.0, rel=1e-12)


@given(beta=betas, r25=ohms)
def test_fits_find_a_beta_curve_again(beta, r25):
    kelvin = np.linspace(250.0, 360.0, 7)
    table = beta_curve(r25, beta).resistance(kelvin)
    assert beta_from_points(kelvin[0], table[0], kelvin[-1], table[-1]) == pytest.approx(beta)
    again = fit_beta(kelvin, table)
    assert again.reference_ohm == pytest.approx(r25)
    assert again.local_beta(300.0) == pytest.approx(beta)


def test_fit_of_more_points_finds_its_own_curve():
    curve = steinhart_hart_curve(1.12924e-3, 2.34108e-4, 0.87755e-7)
    kelvin = np.linspace(233.15, 398.15, 20)
    again = fit_steinhart_hart(kelvin[::-1], curve.resistance(kelvin)[::-1])
    assert again.coefficients == pytest.approx(curve.coefficients, rel=1e-8)


@pytest.mark.parametrize("kelvin, ohm, why", [
    ([250.0, 300.0], [1e4, 1e3], "needs 3 points"),
    ([250.0, 300.0, 300.0], [1e4, 1e3, 5e2], "no temperature may stand twice"),
    ([250.0, 300.0, 350.0], [1e4, 1e3, 2e3], "must fall"),
    ([250.0, 300.0, 350.0], [1e4, 1e3], "one resistance for each"),
    ([250.0, 300.0, 350.0], [1e4, 1e3, -1.0], "above 0 Ohm"),
    ([250.0, 300.0, math.nan], [1e4, 1e3, 1e2], "finite"),
])
def test_fit_refuses_a_bad_table(kelvin, ohm, why):
    with pytest.raises(InputError, match=why):
        fit_steinhart_hart(kelvin, ohm)


def test_curve_that_turns_back_is_refused():
    with pytest.raises(InputError, match="no monotone curve"):
        steinhart_hart_curve(1e-3, 2e-4, -1e-7)
    with pytest.raises(InputError, match="no monotone curve"):
        ThermistorCurve((1e-3, 1e-5, 1e-5, 1e-9))


@pytest.mark.parametrize("kelvin", [200.0, 500.0, -1.0, math.inf])
def test_thermistor_outside_its_range_is_refused(kelvin):
    with pytest.raises(InputError, match="thermistor temperature"):
        beta_curve(10e3, 3435.0).resistance(kelvin)


@given(kelvin=st.floats(73.15, 1123.15))
def test_platinum_there_and_back(kelvin):
    assert platinum_temperature(platinum_resistance(kelvin)) == pytest.approx(kelvin, abs=1e-9)


@given(kelvin=st.floats(74.0, 1120.0))
def test_platinum_rises_with_its_slope(kelvin):
    chord = (platinum_resistance(kelvin + 0.01) - platinum_resistance(kelvin - 0.01)) / 0.02
    assert platinum_slope(kelvin) == pytest.approx(chord, rel=1e-5) and chord > 0.0


@given(sensor=ohms, pull_up=ohms, reference=st.floats(1.0, 12.0))
def test_divider_there_and_back(sensor, pull_up, reference):
    volts = divider_voltage(sensor, pull_up, reference)
    assert divider_resistance(volts, pull_up, reference) == pytest.approx(sensor, rel=1e-6)


@given(sensor=ohms, pull_up=ohms)
def test_heat_is_greatest_where_sensor_equals_pull_up(sensor, pull_up):
    assert divider_power(sensor, pull_up) <= divider_power(pull_up, pull_up) * (1 + 1e-12)


@given(share=unit, dissipation=st.floats(1e-3, 20e-3))
def test_self_heating_balances_and_reads_warm(share, dissipation):
    curve = SENSORS["ntc-10k-3435"].model
    medium = 243.15 + 70.0 * share
    hot = self_heated_temperature(curve, medium, dissipation, 4.7e3)
    heat = divider_power(curve.resistance(hot), 4.7e3)
    assert hot > medium and heat == pytest.approx(dissipation * (hot - medium), abs=1e-9)


@given(pressure=st.floats(0.0, 3.2e6), reference=st.floats(4.5, 5.5))
def test_reference_error_cancels_in_a_ratiometric_input(pressure, reference):
    transducer, converter = PressureTransducer(3.2e6), Converter(12)
    ratio = transducer.ratio(pressure)
    assert converter.counts(ratio * reference, reference) == converter.counts(ratio * 5.0, 5.0)
    assert transducer.pressure(ratio) == pytest.approx(pressure, abs=1e-3)


@given(share=st.floats(0.05, 0.95), reference=st.floats(4.5, 5.5))
def test_reference_error_cancels_in_a_pull_up_input_too(share, reference):
    ohm, converter = SENSORS["ntc-10k-3435"].model.resistance(within("ntc-10k-3435", share)), \
        Converter(10)
    seen = [converter.counts(divider_voltage(ohm, 10e3, v), v) for v in (5.0, reference)]
    assert seen[0] == seen[1]


def test_reference_error_does_not_cancel_against_a_fixed_scale():
    transducer, converter = PressureTransducer(3.2e6), Converter(10)
    ratio = transducer.ratio(1.6e6)
    assert converter.counts(ratio * 4.5, 5.0) < converter.counts(ratio * 5.0, 5.0) - 40


@given(light=st.floats(0.0, 1500.0), angle=st.floats(0.0, 1.5))
def test_sun_sensor_is_linear_and_follows_the_cosine(light, angle):
    sensor = SunSensor(0.8e-6, 5e-9)
    assert sensor.irradiance(sensor.current(light)) == pytest.approx(light, abs=1e-6)
    tilted = sensor.current(light, angle) - 5e-9
    assert tilted == pytest.approx((sensor.current(light) - 5e-9) * math.cos(angle), abs=1e-15)


def test_sun_behind_the_sensor_leaves_the_dark_current_and_heat_doubles_it():
    sensor = SunSensor(0.8e-6, 5e-9)
    assert sensor.current(1000.0, angle_rad=2.0) == pytest.approx(5e-9)
    # common practice: dark current doubles every 10 K
    assert sensor.current(0.0, temperature_K=318.15) == pytest.approx(20e-9)


@given(distance=st.floats(0.1, 3.0))
def test_lamp_follows_the_inverse_square(distance):
    assert lamp_irradiance(90.0, 2.0 * distance) == pytest.approx(
        lamp_irradiance(90.0, distance) / 4.0)


@given(position=unit, start=unit, end=unit)
def test_door_there_and_back(position, start, end):
    assume(abs(start - end) > 0.01)
    door = FeedbackPotentiometer(5e3, start, end)
    assert door.position(door.fraction(position)) == pytest.approx(position, abs=1e-9)


@given(share=unit, track=ohms, load=ohms)
def test_loaded_wiper_equals_two_parallel_resistors(share, track, load):
    lower = share * track
    below = lower * load / (lower + load)
    upper = (1.0 - share) * track
    by_hand = below / (below + upper) if below + upper else 0.0
    assert loaded_fraction(share, track, load) == pytest.approx(by_hand, rel=1e-9, abs=1e-12)


@given(volts=st.floats(-1.0, 6.0), bits=st.integers(4, 16))
def test_converter_is_within_half_a_step_and_monotone(volts, bits):
    converter = Converter(bits)
    counts = converter.counts(volts)
    assert 0 <= counts < converter.steps
    assert converter.counts(volts + converter.step_V()) in (counts, counts + 1)
    if 0.0 <= volts < 5.0:
        assert abs(converter.volts(counts) - volts) <= converter.step_V() * 0.500001


@pytest.mark.parametrize("bits", [True, 3, 17, 10.0])
def test_converter_refuses_odd_resolutions(bits):
    with pytest.raises(InputError, match="4 to 16 bits"):
        Converter(bits)


@pytest.mark.parametrize("name", THERMISTORS)
@given(share=st.floats(0.3, 0.7))
def test_most_sensitive_pull_up_beats_its_neighbours(name, share):
    kelvin, curve = within(name, share), SENSORS[name].model
    best = most_sensitive_pull_up(curve, kelvin)

    def steepness(pull_up: float) -> float:
        return -divider_slope(curve.resistance(kelvin), curve.slope(kelvin), pull_up)

    assert steepness(best) > steepness(best * 1.05) and steepness(best) > steepness(best / 1.05)


@given(beta=betas, share=unit)
def test_straightest_pull_up_has_no_curvature(beta, share):
    kelvin, curve = 260.0 + 60.0 * share, beta_curve(10e3, beta)
    pull_up = straightest_pull_up(curve, kelvin)

    def slope(t: float) -> float:
        return divider_slope(curve.resistance(t), curve.slope(t), pull_up)

    assert abs(slope(kelvin + 0.1) - slope(kelvin - 0.1)) < 1e-5 * abs(slope(kelvin))


def test_no_straight_line_for_a_flat_curve():
    with pytest.raises(InputError, match="not above twice"):
        straightest_pull_up(beta_curve(10e3, 500.0), 300.0)


def test_threshold_and_window_speak_of_the_same_divider():
    curve = SENSORS["ntc-10k-3435"].model
    point = threshold(curve, 274.15, 10e3)
    assert divider_resistance(point.voltage_V, 10e3) == pytest.approx(point.resistance_ohm)
    next_ratio = (point.voltage_V + Converter().step_V()) / 5.0
    colder = curve.temperature(divider_resistance(next_ratio, 10e3, 1.0))
    assert 274.15 - colder == pytest.approx(point.kelvin_per_count, rel=0.02)
    low, _ = window_range_K(curve, 2.2e3, Window(0.03, 0.95))
    assert divider_voltage(curve.resistance(low), 2.2e3, 1.0) == pytest.approx(0.95)
    assert weakest_sensitivity(curve, 10e3, 253.15, 333.15) > weakest_sensitivity(
        curve, 200e3, 253.15, 333.15)


@given(decade=st.integers(-2, 6), mantissa=st.floats(1.0, 9.99))
def test_preferred_value_is_near(decade, mantissa):
    ohm = mantissa * 10.0**decade
    # IEC 60063, from memory: E12 values lie within 10 % of any value, E24 within 5 %, and a
    # little more between 1.5 and 1.8 and the like, for they are rounded.
    assert abs(math.log(nearest_preferred(ohm, "E12") / ohm)) < math.log(1.125)
    assert abs(math.log(nearest_preferred(ohm, "E24") / ohm)) < math.log(1.075)


def test_preferred_refuses_an_unknown_series():
    with pytest.raises(InputError, match="accepted: E12, E24"):
        nearest_preferred(100.0, "E7")
    assert [len(values) for values in SERIES.values()] == [12, 24]


@pytest.mark.parametrize("name", SENSORS)
def test_response_is_monotone_and_reads_back(name):
    sensor = SENSORS[name]
    curve = sensor_response(sensor, 4.7e3, points=41)
    steps = np.diff(curve.volts)
    assert (steps < 0).all() or (steps > 0).all()
    assert (curve.values[0], curve.values[-1]) == usual_range(sensor)
    inner = slice(1, -1)
    back = sensor.value(curve.volts[inner] / 5.0, 4.7e3)
    span = curve.values[-1] - curve.values[0]
    assert back == pytest.approx(curve.values[inner], abs=1e-6 * span)
    chords = (curve.volts[2:] - curve.volts[:-2]) / (curve.values[2:] - curve.values[:-2])
    assert curve.volts_per_unit[inner] == pytest.approx(chords, rel=0.02)


def test_response_refuses_nonsense():
    sensor = SENSORS["ntc-10k3"]
    with pytest.raises(InputError, match="pull-up must be a number"):
        sensor_response(sensor)
    with pytest.raises(InputError, match="2 points or more"):
        sensor_response(sensor, 1e3, points=1)
    with pytest.raises(InputError, match="thermistor temperature"):
        sensor_response(sensor, 1e3, lowest=100.0)
