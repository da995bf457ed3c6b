"""Faults: written form, catalogue, and that each really changes the circuit it is in."""

import pytest

from coldbench.electrical import (
    Fault,
    catalogue,
    load_circuit,
    parse_circuit,
    parse_fault,
    shipped_circuits,
    solve,
    solve_batch,
)
from coldbench.electrical.kinds import KINDS, WIRE_MODES
from coldbench.errors import InputError

FAMILIES = {"open", "high resistance", "short to ground", "short to supply", "crossed", "leak",
            "ground", "coil", "contacts", "fuse", "motor", "supply", "switch", "driver", "sensor",
            "value", "short"}


@pytest.mark.parametrize("text", ["K1:coil_open", "W12:high_resistance=2.5", "W1:crossed=W2"])
def test_a_fault_reads_back_as_written(text):
    assert str(parse_fault(text)) == text


@pytest.mark.parametrize("text", ["", ":", "K1", "K1:", ":open", "K1:open=", "=3"])
def test_other_texts_are_refused(text):
    with pytest.raises(InputError, match="PART:MODE"):
        parse_fault(text)


def test_the_families_of_all_modes_are_known():
    modes = [mode for kind in KINDS.values() for mode in kind.modes.values()]
    assert {mode.family for mode in [*modes, *WIRE_MODES.values()]} == FAMILIES


@pytest.mark.parametrize("name", shipped_circuits())
def test_the_catalogue_names_every_part_and_reads_back(name):
    circuit = load_circuit(name)
    faults = catalogue(circuit)
    assert len({fault.id for fault in faults}) == len(faults)
    assert {fault.part for fault in faults} == {*circuit.parts, *circuit.wires}
    for fault in faults:
        read = parse_fault(fault.id)
        assert (read.part, read.mode) == (fault.part, fault.mode)
        assert fault.description.startswith(fault.part) and "{" not in fault.description


@pytest.mark.parametrize("name", shipped_circuits())
def test_every_fault_shows_somewhere(name):
    """In some state a voltage or a source resistance differs from the healthy circuit's.

    Megohms to ground on a live wire change a voltage by less than a microvolt: they must show in
    the source resistance of some node by a part in 1e10 at least.
    """
    circuit = load_circuit(name)
    faults = catalogue(circuit)
    healthy = dict(zip(circuit.states, solve_batch(circuit, [(s, ()) for s in circuit.states]),
                       strict=True))
    cases = [(state, [fault.id]) for fault in faults for state in circuit.states]
    seen = set()
    for (state, (fault,)), found in zip(cases, solve_batch(circuit, cases), strict=True):
        before = healthy[state]
        ohms, now = before.source_ohms, found.source_ohms
        share = 1e-10 if fault.endswith("chafed") else 1e-4
        if any(abs(found.voltages[n] - before.voltages[n]) > 1e-6
               or abs(now[n] / ohms[n] - 1.0) > share for n in circuit.nodes[1:]):
            seen.add(fault)
    hidden = {fault.id for fault in faults} - seen
    assert not hidden, sorted(hidden)


def test_a_wire_ending_at_ground_has_no_short_to_ground():
    faults = {fault.id for fault in catalogue(load_circuit("three-relay-fans"))}
    circuit = load_circuit("three-relay-fans")
    for wire in circuit.wires.values():
        if wire.end == circuit.ground:
            assert f"{wire.id}:short_to_ground" not in faults
            assert f"{wire.id}:corroded" in faults
        if wire.start == circuit.supply:
            assert f"{wire.id}:short_to_supply" not in faults


CIRCUIT = """
name = "row"
title = "A row"
ground = "B.minus"
[states.rest]
[[part]]
id = "B"
kind = "source"
emf_V = 12.0
resistance_ohm = 0.01
[[part]]
id = "R1"
kind = "resistor"
resistance_ohm = 10.0
[[part]]
id = "R2"
kind = "resistor"
resistance_ohm = 20.0
"""


def row():
    """B — W0 — R1 — W1 — R2 — W2 — B."""
    text = CIRCUIT
    for n, (start, end) in enumerate([("B.plus", "R1.a"), ("R1.b", "R2.a"), ("R2.b", "B.minus")]):
        text += (f'[[wire]]\nid = "W{n}"\nfrom = "{start}"\nto = "{end}"\nsize_mm2 = 1.0\n'
                 "length_m = 1.0\n")
    return parse_circuit(text, "row.toml")


WIRE = 0.004 + 0.0195


@pytest.mark.parametrize(("fault", "amps"), [
    ("W1:open", 0.0),
    ("W1:high_resistance=5", 12.0 / (30.01 + 3 * WIRE + 5.0)),
    ("W2:corroded=2", 12.0 / (30.01 + 3 * WIRE + 2.0)),
    ("W1:short_to_ground", 12.0 / (10.01 + 2 * WIRE + 1 / (1 / 0.02 + 1 / (20.0 + WIRE)))),
    ("R1:open", 0.0),
    ("R1:changed=40", 12.0 / (60.01 + 3 * WIRE)),
    ("B:weak=9", 9.0 / (30.1 + 3 * WIRE)),
])
def test_currents_by_hand(fault, amps):
    assert solve(row(), "rest", [fault]).currents["R1"] == pytest.approx(amps, rel=1e-9,
                                                                         abs=1e-10)


def test_a_chafed_wire_leaks_by_its_megohms():
    found = solve(row(), "rest", ["W1:open", "W1:chafed=2"])
    assert found.thevenin("R2.a")[1] == pytest.approx(
        1.0 / (1.0 / 2e6 + 1.0 / (20.0 + WIRE)), rel=1e-6)


def test_a_short_to_the_supply_lifts_the_far_end():
    found = solve(row(), "rest", ["W1:short_to_supply=0.02"])
    assert found.voltage("R2.a") == pytest.approx(found.voltage("B.plus"), abs=0.02)
    assert found.currents["R2"] == pytest.approx(0.6, abs=0.01)


def test_crossed_wires_swap_their_far_ends():
    """W0 then runs B.plus–R2.a and W1 R1.b–R1.a: R2 has the battery alone, R1 none."""
    found = solve(row(), "rest", [Fault("W0", "crossed", "W1")])
    assert found.currents["R2"] == pytest.approx(12.0 / (20.01 + 2 * WIRE), rel=1e-9)
    assert found.currents["R1"] == pytest.approx(0.0, abs=1e-9)
    assert found.currents["W0"] == pytest.approx(found.currents["R2"], rel=1e-9)


def test_two_faults_at_once_add_up():
    both = solve(row(), "rest", ["W1:high_resistance=5", "R2:changed=100"])
    assert both.currents["R1"] == pytest.approx(12.0 / (110.01 + 3 * WIRE + 5.0), rel=1e-9)
    assert len(both.effect.words) == 2


def test_a_worn_motor_turns_slower_and_draws_more():
    fans = load_circuit("three-relay-fans")
    healthy, worn = solve(fans, "high"), solve(fans, "high", ["M1:worn=4"])
    assert worn.motors["M1"].rpm < healthy.motors["M1"].rpm
    assert worn.currents["M1"] > healthy.currents["M1"]


@pytest.mark.parametrize(("pair", "amps"), [
    (("R2:open", "R2:changed=100"), 0.0),  # a break prevails over any resistance
    (("B:weak=9", "W1:high_resistance=5"), 9.0 / (30.1 + 3 * WIRE + 5.0))])
def test_the_order_of_faults_changes_nothing(pair, amps):
    for faults in (pair, pair[::-1]):
        assert solve(row(), "rest", faults).currents["R1"] == pytest.approx(amps, rel=1e-9,
                                                                            abs=1e-10)


def test_a_shorted_sensor_that_is_also_shifted_has_the_shifted_short():
    """0.5 ohm times 4, whichever of the two is named first."""
    sensors = load_circuit("sensor-splice")
    state = next(iter(sensors.states))
    for faults in (["RT1:shorted", "RT1:shifted=4"], ["RT1:shifted=4", "RT1:shorted"]):
        changed = solve(sensors, state, faults).effect.parameters["RT1"]
        assert changed["resistance_ohm"] == 2.0


@pytest.mark.parametrize("pair", [("K1:coil_shorted=1", "K1:coil_shorted=2"),
                                  ("D1:stuck_on", "D1:stuck_off"),
                                  ("W4:crossed=W5", "W6:crossed=W5")])
def test_faults_that_contradict_each_other_are_refused(pair):
    fans = load_circuit("three-relay-fans")
    for faults in (pair, pair[::-1]):
        with pytest.raises(InputError, match="twice|contradict"):
            solve(fans, "low", faults)
