"""Oscilloscope records of the bench circuits: where they end, how fast they get there, peaks."""

import math
from importlib import resources

import numpy as np
import pytest

from coldbench.electrical import catalogue, load_circuit, parse_circuit, solve
from coldbench.electrical.instruments import instrument, scope
from coldbench.electrical.instruments.scope import transient
from coldbench.electrical.instruments.time_network import TimeNetwork
from coldbench.electrical.instruments.transient import settle
from coldbench.errors import ConvergenceError, InputError

FANS, CLUTCH, BLOWER = (load_circuit(n) for n in ("three-relay-fans", "clutch", "blower"))
CLUTCH_TEXT = resources.files("coldbench.electrical").joinpath(
    "circuits/clutch.toml").read_text("utf-8")
ALL = ("three-relay-fans", "clutch", "blower", "supply", "sensor-splice")


@pytest.mark.parametrize("name", ALL)
def test_at_rest_it_is_the_steady_solution(name):
    """The network that marches has the voltages of the other solver when nothing moves."""
    circuit = load_circuit(name)
    for state in circuit.states:
        solution = solve(circuit, state)
        case = TimeNetwork(solution, solution.settings)
        volts = settle(case.network, np.zeros(len(solution.node_volts)))
        assert volts == pytest.approx(solution.node_volts, abs=1e-7)


@pytest.mark.parametrize(("name", "state"), [
    ("three-relay-fans", "low"), ("three-relay-fans", "high"), ("clutch", "on"),
    ("blower", "medium")])
def test_at_rest_with_every_fault(name, state):
    circuit = load_circuit(name)
    for fault in catalogue(circuit):
        solution = solve(circuit, state, [fault.id])
        if solution.buzzing:
            continue
        case = TimeNetwork(solution, solution.settings)
        volts = settle(case.network, np.zeros(len(solution.node_volts)))
        driven = np.array([abs(solution.source_ohms[n]) < 1e6 for n in solution.network.nodes])
        assert volts[driven] == pytest.approx(np.array(solution.node_volts)[driven],
                                              abs=1e-7), fault.id


@pytest.mark.parametrize(("circuit", "before", "after", "seconds"), [
    (FANS, "off", "low", 15.0), (FANS, "low", "high", 15.0), (FANS, "high", "off", 30.0),
    (CLUTCH, "off", "on", 0.5), (CLUTCH, "on", "off", 0.5), (CLUTCH, "on", "pressure_trip", 0.5),
    (BLOWER, "off", "high", 15.0),
])
def test_every_record_ends_in_the_steady_state(circuit, before, after, seconds):
    start = solve(circuit, before)
    record, case = transient(start, after, seconds)
    goal = solve(circuit, after, previous=start)
    assert record.voltages[-1] == pytest.approx(goal.node_volts, abs=2e-3)
    assert case.energised == goal.energised


@pytest.mark.parametrize("fault", ["K2:coil_open", "M1:stalled", "M2:open", "F2:blown",
                                   "K1:contacts_burnt=2", "K2:contacts_welded", "B:weak"])
def test_faulty_records_end_in_the_faulty_steady_state(fault):
    start = solve(FANS, "off", [fault])
    record, _ = transient(start, "high", 15.0)
    goal = solve(FANS, "high", [fault], previous=start)
    assert record.voltages[-1] == pytest.approx(goal.node_volts, abs=2e-3)


def test_relay_operates_when_its_coil_current_does():
    """t = −τ·ln(1 − i_operate/i_end), τ = L/R of coil and path (any text on circuits)."""
    trace = scope(solve(FANS, "off"), "low", ["K1.coil"], 0.02)
    when, words = trace.events[0]
    coil = FANS.parts["K1"].parameters
    end_A = trace.values["K1.coil"][-1]
    tau = coil["coil_henry"] / (13.8 / end_A)
    operate_A = coil["operate_V"] / coil["coil_ohm"]
    assert words == "K1 operates"
    assert when == pytest.approx(-tau * math.log(1.0 - operate_A / end_A), rel=0.02)


def test_fan_start_inrush():
    """High from off: for a moment only winding and wires limit the current of each fan."""
    trace = scope(solve(FANS, "off"), "high", ["M1", "M2"], 3.0)
    steady = solve(FANS, "high").currents["M1"]
    assert trace.peak("M1") > 3.0 * steady
    stalled = solve(FANS, "high", ["M1:stalled", "M2:stalled"]).currents["M1"]
    assert 0.95 * stalled < trace.peak("M1") < stalled
    assert trace.values["M1"][-1] == pytest.approx(steady, rel=0.02)


def test_fan_runs_up_with_the_mechanical_time_constant():
    """Shortly after the start, friction and drag are small: d omega/dt = k·i/J."""
    record, case = transient(solve(FANS, "off"), "high", 0.03)
    p = FANS.parts["M1"].parameters
    began = next(when for when, words in record.events if "K1" in words)
    torque = p["k_V_s"] * record.currents["M1"] - p["friction_N_m"] * (record.currents["M1"] > 2)
    gained = np.trapezoid(np.where(record.times > began, torque, 0.0), record.times)
    fan = case.network.parts["M1"]
    drag = p["drag_N_m_s2"] * fan.omega ** 2 * (0.03 - began)  # at most this
    assert gained - drag < p["inertia_kg_m2"] * fan.omega < gained * 1.01


def test_clutch_current_rises_with_L_over_R():
    """63.2 % of the end after one time constant from the closing of the relay."""
    trace = scope(solve(CLUTCH, "off"), "on", ["CL"], 0.2)
    closed = next(when for when, words in trace.events if words == "KC operates")
    end = trace.values["CL"][-1]
    tau = CLUTCH.parts["CL"].parameters["coil_henry"] / (13.8 / end)
    after = np.interp(closed + tau, trace.times, trace.values["CL"])
    assert after / end == pytest.approx(1.0 - math.exp(-1.0), abs=0.01)


def test_switch_off_with_resistor_with_diode_and_without():
    """Relay coil cut by its driver: the diode holds the open end one drop above the supply,
    the resistor lets it rise by I·R, nothing at all by what the driver stands."""
    clamp_V = instrument("scope").extra["driver_clamp_V"]
    peaks = {}
    for kind in ("diode", "resistor", "none"):
        text = CLUTCH_TEXT.replace('suppression = "resistor"', f'suppression = "{kind}"')
        circuit = parse_circuit(text, "clutch.toml")
        on = solve(circuit, "on")
        trace = scope(on, "off", [("KC.85", "B.minus"), "KC.coil"], 0.05)
        peaks[kind] = trace.peak("KC.85–B.minus")
        current = on.currents["KC.coil"]
    assert peaks["diode"] == pytest.approx(13.8 + 0.8, abs=0.2)
    assert peaks["resistor"] == pytest.approx(13.8 + current * 680.0, rel=0.12)
    assert peaks["none"] == pytest.approx(clamp_V, abs=1.0)
    assert peaks["diode"] < peaks["resistor"] < peaks["none"]


def test_switch_off_energy_bounds_the_peak():
    """Without anything to stop it, no more than ½·L·I² can be in the stray capacitance."""
    on = solve(CLUTCH, "on")
    trace = scope(on, "off", [("CL.a", "CL.b")], 0.1)
    coil, stray = CLUTCH.parts["CL"].parameters, instrument("scope").extra["stray_F"]
    bound = on.currents["CL"] * math.sqrt(coil["coil_henry"] / stray)
    assert abs(trace.values["CL.a–CL.b"].min()) < bound
    assert trace.values["CL.a–CL.b"].min() > -1.5  # the clutch's diode holds it


def test_pulse_width_line():
    """Full supply for the share D of each period, ground for the rest; the mean is D·V.

    The mean lies a little below the averaged solution: the supply sags while it is loaded.
    """
    medium = solve(BLOWER, "medium")
    trace = scope(medium, "medium", [("BM.out", "BM.ground"), "MB", ("BM.supply", "BM.ground")],
                  0.002)
    out = trace.values["BM.out–BM.ground"]
    high = out > 6.0
    share = float(np.sum(np.diff(trace.times) * high[1:]) / trace.times[-1])
    assert share == pytest.approx(0.6, abs=0.01)
    assert len(trace.events) == 40  # 20 periods of 10 kHz
    on = np.where(high, trace.values["BM.supply–BM.ground"], 0.0)
    hand = on - 0.012 * trace.values["MB"]  # the driver's own 12 mΩ, on or off
    assert np.trapezoid(out, trace.times) == pytest.approx(np.trapezoid(hand, trace.times),
                                                           rel=1e-3)
    assert trace.mean("BM.out–BM.ground", 0.001) == pytest.approx(
        medium.voltage("BM.out") - medium.voltage("BM.ground"), rel=0.05)
    assert trace.mean("MB", 0.001) == pytest.approx(medium.currents["MB"], rel=0.2)
    ripple = np.ptp(trace.values["MB"][trace.times > 0.001])
    assert 1.5 < ripple < 3.0  # V·D·(1 − D)/(L·f) = 2.2 A


def test_a_relay_fed_over_its_own_contact_buzzes_in_time():
    """The steady solver calls it buzzing; on the oscilloscope it opens and closes for good."""
    circuit = parse_buzzer()
    assert solve(circuit, "on").relays["K"] == "buzzing"
    trace = scope(solve(circuit, "off"), "on", ["K.coil"], 0.1)
    assert len([w for _, w in trace.events if w == "K releases"]) > 5


def test_a_long_record_of_a_pulse_width_driver_takes_its_mean():
    start = solve(BLOWER, "off")
    record, _ = transient(start, "medium", 15.0)
    goal = solve(BLOWER, "medium")
    assert record.voltages[-1] == pytest.approx(goal.node_volts, abs=2e-3)


def test_a_record_full_of_buzzing_is_refused():
    with pytest.raises(ConvergenceError, match="K buzzes"):
        scope(solve(parse_buzzer(), "off"), "on", ["K.coil"], 10.0)


def parse_buzzer():
    """A relay whose coil is fed over its own break contact."""
    wires = [("B.plus", "S.a"), ("S.b", "K.30"), ("K.87a", "K.86"), ("K.85", "B.minus")]
    lines = ['name = "circuit"', 'title = "Buzzer"', 'ground = "B.minus"',
             "[states.off]", "on = false", "[states.on]", "on = true",
             '[[part]]\nid = "B"\nkind = "source"\nemf_V = 12.6',
             '[[part]]\nid = "S"\nkind = "switch"\ninput = "on"',
             '[[part]]\nid = "K"\nkind = "relay"\ncoil_ohm = 80.0\nsuppression = "diode"']
    lines += [f'[[wire]]\nid = "W{n}"\nfrom = "{a}"\nto = "{b}"\nsize_mm2 = 1.0\nlength_m = 1.0'
              for n, (a, b) in enumerate(wires, 1)]
    return parse_circuit("\n".join(lines))


def test_refusals():
    off = solve(FANS, "off")
    with pytest.raises(InputError, match="duration"):
        scope(off, "low", ["M1"], 0.0)
    with pytest.raises(InputError, match="no current 'M9'"):
        scope(off, "low", ["M9"], 0.01)
    with pytest.raises(InputError, match="no test point"):
        scope(off, "low", [(99, 1)], 0.01)
    with pytest.raises(InputError, match="no state"):
        scope(off, "middle", ["M1"], 0.01)
