"""Every two-threshold decision on the whole bench, passed in both directions.

The value is put where a sensor feels it; from there it goes through sensor, wiring, converter
and head. So the edges lie where the calibration says, within what the sensor resolves.
"""

from dataclasses import replace

import pytest

from coldbench.bench import bench_faults, load_bench
from coldbench.bench.coupling import Case, Felt
from coldbench.bench.units import Units

BLUE = load_bench("blue")
CALIBRATION = BLUE.calibration
STATE = replace(BLUE.state("full cooling"), recirculation=None)
USUAL = Felt(1.0e6, 281.15, 285.15, 303.15)
LONG_s = 20.0  # longer than every pause and window
kPa, K, RPM = 25e3, 0.4, 1.0  # off the threshold by this much, above what the inputs resolve

LATCHES = {
    "fan low": (CALIBRATION.fan.low, "high_gauge_Pa", kPa),
    "fan high": (CALIBRATION.fan.high, "high_gauge_Pa", kPa),
    "low pressure": (CALIBRATION.compressor.low_pressure, "high_gauge_Pa", kPa),
    "high pressure": (CALIBRATION.compressor.high_pressure, "high_gauge_Pa", kPa),
    "freeze": (CALIBRATION.compressor.freeze, "evaporator_K", K),
    "ambient": (CALIBRATION.compressor.ambient, "ambient_K", K),
    "coolant": (CALIBRATION.compressor.coolant, "coolant_K", K),
    "drive": (CALIBRATION.compressor.speed, "speed_rpm", RPM),
    "recirculation ambient": (CALIBRATION.recirculation.ambient, "ambient_K", K),
}


def put(units, quantity, value):
    """Let the bench feel a value, and its head decide."""
    felt = USUAL
    if quantity in Felt._fields:
        felt = felt._replace(**{quantity: value})
    else:
        units.case = replace(units.case, settings=replace(STATE, **{quantity: value}))
    units.wire(felt)
    units.decide(units.signals(), LONG_s)
    return units.state.latched


@pytest.mark.parametrize("name", LATCHES)
def test_edges_on_the_bench_in_both_directions(name):
    band, quantity, off = LATCHES[name]
    units = Units(Case(BLUE, STATE, bench_faults(BLUE, [])))
    towards = 1.0 if band.on > band.off else -1.0
    put(units, quantity, band.off - towards * off)
    for _ in range(2):
        assert name not in put(units, quantity, band.off - towards * off)
        assert name not in put(units, quantity, band.off + towards * off)
        assert name not in put(units, quantity, band.on - towards * off)
        assert name in put(units, quantity, band.on + towards * off)
        assert name in put(units, quantity, band.on - towards * off)
        assert name in put(units, quantity, band.off + towards * off)


def test_what_the_limits_do_to_compressor_clutch_and_fans():
    units = Units(Case(BLUE, STATE, bench_faults(BLUE, [])))
    put(units, "high_gauge_Pa", 1.0e6)
    put(units, "high_gauge_Pa", 1.0e6)
    assert units.outputs.compressor and units.engaged and units.outputs.fan == "low"
    put(units, "high_gauge_Pa", 2.81e6)
    assert not units.outputs.compressor and units.outputs.fan == "high"
    put(units, "high_gauge_Pa", 2.4e6)  # the wiring follows the request; the limit still holds
    assert not units.engaged and not units.outputs.compressor
    put(units, "high_gauge_Pa", 2.2e6)
    assert units.outputs.compressor


def test_the_pressure_switch_cuts_the_clutch_behind_the_heads_back():
    """A dead pressure signal aside, the switch acts on the pressure itself, with its own band."""
    switch = BLUE.pressure_switch
    units = Units(Case(BLUE, STATE, bench_faults(BLUE, [])))
    for _ in range(2):
        put(units, "high_gauge_Pa", 1.0e6)
    assert units.engaged
    assert not units.feel_pressure(switch.open_Pa - 1e3) and units.pressure_ok
    assert units.feel_pressure(switch.open_Pa) and not units.pressure_ok
    units.wire(USUAL)
    assert units.outputs.compressor and not units.engaged
    assert not units.feel_pressure(switch.close_Pa + 1e3)
    assert units.feel_pressure(switch.close_Pa - 1e3)
    units.wire(USUAL)
    assert units.engaged


def test_the_clutch_pulls_in_at_more_current_than_it_holds_with():
    """A weak supply holds an engaged clutch that it could not pull in."""
    feed = next(w.id for w in BLUE.circuit.wires.values() if w.end == "CL.a" or w.start == "CL.a")
    units = Units(Case(BLUE, STATE, bench_faults(BLUE, [f"{feed}:high_resistance=4"])))
    for _ in range(3):
        put(units, "high_gauge_Pa", 1.0e6)
    amps = abs(units.wired.solution.main_current(BLUE.clutch.coil))
    assert BLUE.clutch.release_A < amps < BLUE.clutch.engage_A and not units.engaged
    units.engaged = True
    units.wire(USUAL)
    assert units.engaged
