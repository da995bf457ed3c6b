"""The transient solver against closed formulas: windings, capacitances, turning motors."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.electrical.instruments.dynamic import Capacitance, Static, Turning, Winding
from coldbench.electrical.instruments.transient import Branch, Network, march, settle

SUPPLY_V = 13.8
FEED_OHM = 0.5


def network(parts: dict, nodes: int = 1, g: float = 1.0 / FEED_OHM) -> Network:
    """A source with its resistance on node 0, and the parts."""
    return Network(nodes, {"source": Branch(0, -1, g, -SUPPLY_V * g)}, parts)


def at(record, times_s, values):
    """Values of the record at other times, on straight lines between the steps."""
    return np.interp(times_s, record.times, values)


def test_winding_rises_with_L_over_R():
    """i = V/R·(1 − exp(−t·R/L)) (any text on circuits)."""
    net = network({"coil": Winding(0, -1, R=3.1, L=0.06)})
    record = march(net, np.zeros(1), 0.1)
    tau = 0.06 / (3.1 + FEED_OHM)
    hand = SUPPLY_V / 3.6 * (1.0 - np.exp(-record.times[3:] / tau))
    assert record.currents["coil"][3:] == pytest.approx(hand, abs=5e-4 * SUPPLY_V / 3.6)


def test_capacitance_charges_with_RC():
    """v = V·(1 − exp(−t/RC)); the series resistance counts too."""
    net = network({"cap": Capacitance(0, -1, C=1e-3, R=0.5)})
    record = march(net, np.zeros(1), 0.01)
    inside = record.voltages[:, 0] - 0.5 * record.currents["cap"]
    hand = SUPPLY_V * (1.0 - np.exp(-record.times[3:] / 1e-3))
    assert inside[3:] == pytest.approx(hand, abs=5e-4 * SUPPLY_V)


def test_motor_time_constants():
    """Without friction and drag: electrical L/R, mechanical J·R/k², far apart."""
    motor = Turning(0, -1, R=0.2, k=0.04, friction=0.0, viscous=0.0, drag=0.0, L=1e-4,
                    J=2e-3)
    record = march(network({"fan": motor}), np.zeros(1), 4.0)
    omega_end = SUPPLY_V / 0.04
    tau = 2e-3 * (0.2 + FEED_OHM) / 0.04 ** 2
    speed = (record.voltages[:, 0] - 0.2 * record.currents["fan"]) / 0.04
    assert at(record, tau, speed) / omega_end == pytest.approx(1 - math.exp(-1), abs=2e-3)
    early = march(network({"fan": Turning(0, -1, 0.2, 0.04, 0.0, 0.0, 0.0, 1e-4, 2e-3)}),
                  np.zeros(1), 1e-3)
    tau = 1e-4 / (0.2 + FEED_OHM)
    stall = SUPPLY_V / (0.2 + FEED_OHM)
    assert at(early, tau, early.currents["fan"]) / stall == pytest.approx(
        1 - math.exp(-1), abs=2e-3)


def test_inrush_peaks_just_below_the_stall_current():
    """The first current is limited by resistance alone, once L/R is over."""
    motor = Turning(0, -1, 0.3, 0.032, 0.015, 0.0, 8.5e-6, 2e-4, 2e-3)
    record = march(network({"fan": motor}, g=1 / 0.03), np.zeros(1), 3.0)
    stall = SUPPLY_V / 0.33
    assert 0.97 * stall < record.currents["fan"].max() < stall


@settings(max_examples=30, deadline=None)
@given(friction=st.floats(0.0, 0.5), drag=st.floats(0.0, 1e-4), viscous=st.floats(0.0, 1e-3),
       k=st.just(0.0) | st.floats(0.005, 0.1))
def test_end_of_the_march_is_the_steady_state(friction, drag, viscous, k):
    """A long record ends where `settle` says, whatever the motor."""
    def motor():
        return Turning(0, -1, 0.3, k, friction, viscous, drag, 2e-4, 2e-3)
    steady = settle(network({"fan": motor()}), np.zeros(1))
    tau = 2e-3 * 0.8 / k ** 2 if k else 1.0
    record = march(network({"fan": motor()}), np.zeros(1), 20.0 * tau)
    assert record.voltages[-1] == pytest.approx(steady, abs=1e-5)


def switch_off(parts: dict, L: float, opened_S: float = 1e-9, duration_s: float = 0.02):
    """A coil of 88 Ω fed from node 0 and drawn to ground at node 1 by a switch that opens."""
    net = network({"coil": Winding(0, 1, 88.0, L), **parts}, nodes=2)
    net.branches["switch"] = Branch(1, -1, 10.0)
    start = settle(net, np.zeros(2))

    def opened(n: Network) -> str:
        n.branches["switch"].g = opened_S
        return "switch opens"

    current = net.parts["coil"].current
    return current, march(net, start, duration_s, [(0.0, opened)])


def test_coil_switch_off_peak_follows_the_energy():
    """½·L·I² = ½·C·(V² ) at the first peak; resistance takes a few percent."""
    L, C = 0.25, 1e-7
    current, record = switch_off({"cap": Capacitance(0, 1, C)}, L)
    peak = (record.voltages[:, 1] - record.voltages[:, 0]).max()
    lossless = current * math.sqrt(L / C)
    # damping over a quarter period, times what the current already gave
    alpha, omega0 = 88.0 / (2 * L), 1 / math.sqrt(L * C)
    omega = math.sqrt(omega0 ** 2 - alpha ** 2)
    t = record.times
    # v(0) = −R·I across the coil's capacitance, i(0) = I: damped oscillation in closed form
    v0 = -88.0 * current
    slope0 = current / C
    exact = np.exp(-alpha * t) * (v0 * np.cos(omega * t)
                                  + (slope0 + alpha * v0) / omega * np.sin(omega * t))
    assert peak == pytest.approx(exact.max(), rel=2e-3)
    assert 0.9 * lossless < peak < lossless


def test_diode_holds_the_switch_off_at_its_own_voltage():
    """With a diode across the coil the open end rises by no more than the diode's drop."""
    def law(v):
        size = max(v, 0.0)
        return (size - 0.7) / 0.01 if size > 0.7 else 0.0, 100.0 if size > 0.7 else 1e-9
    current, record = switch_off({"diode": Static(1, 0, law), "cap": Capacitance(0, 1, 1e-9)},
                                 0.25)
    rise = record.voltages[:, 1] - record.voltages[:, 0]
    assert rise.max() == pytest.approx(0.7 + 0.01 * current, abs=0.05)
    # the current now dies with L/R and the diode's drop against it
    tau = 0.25 / 88.01
    hand = (current + 0.7 / 88.01) * math.exp(-2e-3 / tau) - 0.7 / 88.01
    assert at(record, 2e-3, record.currents["coil"]) == pytest.approx(hand, rel=3e-3)
