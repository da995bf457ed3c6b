"""Sensors against published tables, coefficients and standards.

Each check quotes its source; "computed" rows follow from the published row above them.
"""

import numpy as np
import pytest

from coldbench.sensing.codes import CLEARED, CodeState, Status, step_code
from coldbench.sensing.converter import Converter
from coldbench.sensing.divider import divider_voltage
from coldbench.sensing.platinum import platinum_resistance, platinum_temperature
from coldbench.sensing.thermistor import beta_curve, extended_curve, steinhart_hart_curve
from coldbench.sensing.thermistor_fit import (
    beta_from_points, fit_beta, fit_errors_K, fit_steinhart_hart)
from coldbench.sensing.transducer import PressureTransducer
from coldbench.sensing.windows import Window

# Published: maker's R–T table for a 10 k 3435 thermistor (°C, kOhm).
MAKER_TABLE = {-30: 111.3, -20: 67.77, 0: 27.28, 10: 17.96, 25: 10.00, 40: 5.827, 50: 4.160,
               60: 3.020, 70: 2.228, 85: 1.451, 100: 0.9731}
TABLE_K = np.array(list(MAKER_TABLE)) + 273.15
TABLE_OHM = np.array(list(MAKER_TABLE.values())) * 1e3
BETA_3435 = beta_curve(10e3, 3435.0)


@pytest.mark.parametrize("celsius", MAKER_TABLE)
def test_beta_equation(celsius):
    # IEC 60539-1, from memory: R = R25·exp(B(1/T − 1/298.15)).
    kelvin = celsius + 273.15
    by_hand = 10e3 * np.exp(3435.0 * (1.0 / kelvin - 1.0 / 298.15))
    assert BETA_3435.resistance(kelvin) == pytest.approx(by_hand, rel=1e-12)


def test_beta_of_the_maker_table():
    # Published: maker's R–T table for a 10 k 3435 thermistor, whose name gives B25/85 = 3435 K;
    # four printed digits of resistance allow B ± 1 K.
    assert beta_from_points(298.15, 10e3, 358.15, 1451.0) == pytest.approx(3435.0, abs=1.0)


@pytest.mark.parametrize("celsius, error_K", [(-30, 3.43), (-20, 2.53), (0, 1.11), (10, 0.58),
                                              (60, -0.42), (70, -0.32)])
def test_error_of_plain_beta(celsius, error_K):
    # Computed from the maker's R–T table for a 10 k 3435 thermistor.
    found = fit_errors_K(BETA_3435, [celsius + 273.15], [MAKER_TABLE[celsius] * 1e3])[0]
    assert found == pytest.approx(error_K, abs=0.005)


def test_steinhart_hart_through_three_points():
    # Computed from the maker's R–T table for a 10 k 3435 thermistor, through −20/25/70 °C.
    curve = fit_steinhart_hart(TABLE_K[[1, 4, 8]], TABLE_OHM[[1, 4, 8]])
    A, B, _, C = curve.coefficients
    assert A == pytest.approx(8.89770e-4, abs=0.5e-9)
    assert B == pytest.approx(2.51042e-4, abs=0.5e-9)
    assert C == pytest.approx(1.94626e-7, abs=0.5e-12)
    errors_K = fit_errors_K(curve, TABLE_K[:9], TABLE_OHM[:9])  # −30 to 70 °C
    assert np.abs(errors_K).max() == pytest.approx(0.027, abs=0.0005)


def test_least_squares_beats_beta_on_the_whole_table():
    # Maker's R–T table for a 10 k 3435 thermistor, −30 to 100 °C.
    cubic = np.abs(fit_errors_K(fit_steinhart_hart(TABLE_K, TABLE_OHM), TABLE_K, TABLE_OHM)).max()
    plain = np.abs(fit_errors_K(fit_beta(TABLE_K, TABLE_OHM), TABLE_K, TABLE_OHM)).max()
    assert cubic < 0.1 and plain > 1.0


@pytest.mark.parametrize("celsius, ohm", [(0, 32_650.0), (-40, 336_103.2), (-20, 97_006.9)])
def test_curve_10k3(celsius, ohm):
    # Published: data-logger manual, worked example, NTC "10K3 curve"; agrees to 3 mK.
    curve = steinhart_hart_curve(1.12924e-3, 2.34108e-4, 0.87755e-7)
    assert abs(curve.temperature(ohm) - 273.15 - celsius) < 3e-3


@pytest.mark.parametrize("celsius, ohm", [(0, 32_554.8), (50, 3_605.3), (85, 1_070.3),
                                          (100, 677.3)])
def test_extended_cubic_3977(celsius, ohm):
    # Published: coefficients from a maker's data sheet as quoted publicly; values computed. The
    # sheet has a second polynomial, ln(R/R25) in 1/T, which gives these resistances; the two
    # agree to 10 mK, and so must our curve (the first) with the second.
    kelvin = celsius + 273.15
    second = 10e3 * np.exp(-14.6337 + 4791.842 / kelvin - 115334.0 / kelvin**2
                           - 3.730535e6 / kelvin**3)
    assert second == pytest.approx(ohm, abs=0.05)
    curve = extended_curve(3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8, 10e3)
    assert curve.temperature(ohm) == pytest.approx(kelvin, abs=0.010)


@pytest.mark.parametrize("celsius, ohm", [(100, 138.5055), (-50, 80.3063), (200, 175.8560),
                                          (0, 100.0)])
def test_platinum(celsius, ohm):
    # Published: IEC 60751, A 3.9083e-3, B −5.775e-7, C −4.183e-12.
    assert platinum_resistance(celsius + 273.15) == pytest.approx(ohm, abs=0.5e-4)
    assert platinum_temperature(ohm) == pytest.approx(celsius + 273.15, abs=3e-4)


@pytest.mark.parametrize("pull_up, celsius, volts", [
    (2.2e3, 0, 4.644), (2.2e3, 25, 4.098), (2.2e3, 60, 2.877),
    (10e3, 0, 3.708), (10e3, 25, 2.500), (10e3, 60, 1.148)])
def test_pull_up_divider(pull_up, celsius, volts):
    # Computed: beta equation with B 3435, 5 V.
    sensor = BETA_3435.resistance(celsius + 273.15)
    assert divider_voltage(sensor, pull_up, 5.0) == pytest.approx(volts, abs=0.0005)


@pytest.mark.parametrize("share, ratio", [(0.0, 0.1), (0.25, 0.3), (0.5, 0.5), (1.0, 0.9)])
def test_ratiometric_transducer(share, ratio):
    # Common practice: V/V_ref = 0.1 + 0.8·p/p_max.
    assert PressureTransducer(3.2e6).ratio(share * 3.2e6) == pytest.approx(ratio, abs=1e-12)


@pytest.mark.parametrize("volts, place", [(4.95, "above"), (4.85, "inside"), (2.5, "inside"),
                                          (0.21, "inside"), (0.09, "below")])
def test_open_and_short_windows(volts, place):
    # Common practice: about > 4.9 V open, < 0.1–0.2 V short, after 0.5–20 s.
    window = Window()
    assert window.place(volts / 5.0) == place
    assert 0.1 <= window.low_ratio * 5.0 <= 0.2 and window.high_ratio * 5.0 == pytest.approx(4.9)
    assert 0.5 <= window.fail_s <= 20.0


@pytest.mark.parametrize("value, name", [
    (0x01, "testFailed"), (0x02, "testFailedThisOperationCycle"), (0x04, "pendingDTC"),
    (0x08, "confirmedDTC"), (0x10, "testNotCompletedSinceLastClear"),
    (0x20, "testFailedSinceLastClear"), (0x40, "testNotCompletedThisOperationCycle"),
    (0x80, "warningIndicatorRequested")])
def test_status_bits(value, name):
    # Published: ISO 14229-1, status bits.
    assert Status[name] == value


def test_status_after_clearing():
    # From memory: ISO 14229-1, 0x50 after clearing.
    assert CLEARED == 0x50
    assert step_code(CodeState(0x2F, 2), "clear").status == 0x50


def test_converter_against_its_definition():
    # Common practice: an ideal N-bit converter has 2^N codes, each V_ref/2^N wide.
    converter = Converter(10)
    assert converter.step_V(5.0) == pytest.approx(4.8828e-3, abs=5e-8)
    assert [converter.counts(v) for v in (0.0, 0.0048, 0.0049, 4.9951, 4.9952, 5.0)] == [
        0, 0, 1, 1022, 1023, 1023]
