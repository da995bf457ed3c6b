"""The healthy loop reads like a healthy car, with each refrigerant."""

import pytest

from coldbench.refrigerant.loop import Conditions, solve_loop

ZERO_C = 273.15


@pytest.mark.parametrize("fluid", ["R134a", "R1234yf", "R152a"])
def test_a_healthy_bench_reads_like_a_healthy_car(fluid):
    # common practice: at 30 degC, fans on high, about 1500 rpm
    got = solve_loop(Conditions(fluid=fluid, ambient_K=303.15))
    assert got.flags == ()
    assert 0.8e6 < got.high_side_gauge_Pa < 1.4e6 and 150e3 < got.low_side_gauge_Pa < 250e3
    assert 4.0 < got.superheat_K < 8.0 and 4.0 < got.subcooling_K < 9.0
    assert 50.0 < got.discharge_temperature_K - ZERO_C < 80.0
    assert 5.0 < got.vent_temperature_K - ZERO_C < 12.0
    assert 3e3 < got.capacity_W < 5e3
