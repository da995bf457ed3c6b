"""The standard atmosphere and gauge readings at altitude against published figures."""

import pytest

from coldbench.air import standard_atmosphere_pressure
from coldbench.quantity import gauge_from_absolute
from coldbench.refrigerant import fluid


@pytest.mark.parametrize(("altitude_m", "pressure_Pa"), [
    # ISO 2533:1975, pressure against geopotential altitude (formula and constants of the
    # standard: 288.15 K, -6.5 K/km, 9.80665 m/s2, 287.05287 J/(kg K)).
    (0, 101325.0), (500, 95460.8), (1000, 89874.6), (1500, 84556.0), (2000, 79495.2),
    (2250, 77058.4), (3000, 70108.5), (4000, 61640.2),
])
def test_iso_2533_rows(altitude_m, pressure_Pa):
    assert standard_atmosphere_pressure(altitude_m) == pytest.approx(pressure_Pa, abs=0.06)


@pytest.mark.parametrize(("temperature_degC", "sea_level_kPa", "at_2250_m_kPa"), [
    # Computed from the R-134a equation of state (Tillner-Roth and Baehr 1994) and ISO 2533.
    (0, 191.48, 215.74), (25, 564.06, 588.32), (50, 1216.58, 1240.85),
])
def test_r134a_gauge_at_sea_level_and_2250_m(temperature_degC, sea_level_kPa, at_2250_m_kPa):
    pressure_Pa = fluid("R134a").bubble_pressure(temperature_degC + 273.15)
    for altitude_m, expected_kPa in ((0, sea_level_kPa), (2250, at_2250_m_kPa)):
        gauge_Pa = gauge_from_absolute(pressure_Pa, standard_atmosphere_pressure(altitude_m))
        assert gauge_Pa / 1e3 == pytest.approx(expected_kPa, abs=0.01)


def test_a_sea_level_chart_reads_2_kelvin_high_at_2250_m():
    # Computed: the gauge reading of R-134a at 0 degC and 2250 m, read on a sea-level chart.
    r134a = fluid("R134a")
    gauge_Pa = r134a.bubble_pressure(273.15) - standard_atmosphere_pressure(2250)
    read_K = r134a.bubble_temperature(gauge_Pa + standard_atmosphere_pressure(0))
    assert read_K - 273.15 == pytest.approx(2.2, abs=0.05)
