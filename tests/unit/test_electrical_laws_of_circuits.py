"""Laws every solved circuit keeps: Kirchhoff, Tellegen, superposition; batch equals single."""

import dataclasses
import math
import random
import runpy
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from coldbench.electrical import (
    Part,
    Wire,
    catalogue,
    load_circuit,
    shipped_circuits,
    solve,
    solve_batch,
)
from coldbench.electrical.laws import CURVED
from coldbench.electrical.network import LEAK

kit = runpy.run_path(str(Path(__file__).with_name("random_circuits.py")))
random_circuit, random_cases = kit["random_circuit"], kit["random_cases"]
seeds = st.integers(0, 10**9)


def node_sums(solution) -> dict[str, float]:
    """Current that leaves each node through all branches and its leak [A]."""
    sums = {node: [LEAK * volts] for node, volts in solution.voltages.items()
            if node != solution.circuit.ground}
    for branch, amps in zip(solution.network.branches, solution.branch_currents, strict=True):
        for node, sign in ((branch.a, 1.0), (branch.b, -1.0)):
            if node in sums:
                sums[node].append(sign * amps)
    return {node: math.fsum(amps) for node, amps in sums.items()}


def check_laws(solution) -> None:
    """Kirchhoff's current law at every node, Tellegen's theorem over all branches.

    Currents through milliohms come from differences of volts that carry 1e-15: hence 1e-9 A.
    """
    worst = max(map(abs, node_sums(solution).values()))
    assert worst < 1e-9 * max(1.0, *map(abs, solution.voltages.values()))
    assert abs(solution.power_balance_W) < 1e-6
    assert all(map(math.isfinite, solution.voltages.values()))


@given(seed=seeds)
@settings(max_examples=60)
def test_random_circuits_keep_kirchhoff_and_tellegen(seed):
    circuit = random_circuit(seed)
    for state, faults in random_cases(circuit, random.Random(seed), 2):
        check_laws(solve(circuit, state, faults))


@pytest.mark.parametrize("seed", [5025, 5937, 6473])
def test_floating_islands_do_not_keep_the_steps_from_ending(seed):
    """Currents that circulate in an island move it by rounding alone, for ever."""
    circuit = random_circuit(seed)
    for solution in solve_batch(circuit, random_cases(circuit, random.Random(seed), 4)):
        check_laws(solution)


@pytest.mark.parametrize("name", shipped_circuits())
def test_every_fault_of_every_circuit_solves_and_keeps_the_laws(name):
    circuit = load_circuit(name)
    cases = [(state, faults) for state in circuit.states
             for faults in ([], *([f.id] for f in catalogue(circuit)))]
    for solution in solve_batch(circuit, cases):
        check_laws(solution)
        assert not solution.buzzing or any("buzzes" in note for note in solution.notes)


@given(seed=seeds)
@settings(max_examples=40, suppress_health_check=[HealthCheck.filter_too_much])
def test_superposition_in_linear_circuits(seed):
    """With two sources v(a, c) + v(b, d) = v(a, d) + v(b, c), which superposition implies."""
    circuit = random_circuit(seed, linear=True)
    pull_ups = [part.id for part in circuit.parts.values() if part.kind == "logic_input"]
    assume(pull_ups)

    def volts(first_V, second_V):
        both = {"B.emf_V": first_V, f"{pull_ups[0]}.reference_V": second_V}
        return solve(circuit, "one", inputs=both).voltages

    a, b, c, d = volts(6.0, 3.0), volts(14.0, 5.0), volts(6.0, 5.0), volts(14.0, 3.0)
    for node in circuit.nodes:
        assert a[node] + b[node] == pytest.approx(c[node] + d[node], abs=1e-9)


@given(seed=seeds)
@settings(max_examples=40)
def test_linear_circuits_are_in_proportion_to_their_only_source(seed):
    circuit = random_circuit(seed, linear=True)
    others = {f"{part.id}.reference_V": 0.0 for part in circuit.parts.values()
              if part.kind == "logic_input"}
    state = next(iter(circuit.states))
    one, three = (solve(circuit, state, inputs=others | {"B.emf_V": emf}).voltages
                  for emf in (5.0, 15.0))
    for node in circuit.nodes:
        assert three[node] == pytest.approx(3.0 * one[node], abs=1e-10)


@given(seed=seeds)
@settings(max_examples=25)
def test_a_batch_gives_what_single_cases_give(seed):
    circuit = random_circuit(seed)
    cases = random_cases(circuit, random.Random(seed), 6)
    for together, case in zip(solve_batch(circuit, cases), cases, strict=True):
        alone = solve(circuit, *case)
        assert together.relays == alone.relays
        ohms = alone.source_ohms
        for node, volts in alone.voltages.items():
            allowed = 1e-9 if ohms[node] < 1e6 else 1e-6
            assert together.voltages[node] == pytest.approx(volts, abs=allowed)


def with_load(circuit, red: str, black: str, ohm: float):
    """The circuit with a resistor between two nodes, and the resistance of its two wires."""
    load = Part("LOAD", "resistor", "", {"resistance_ohm": ohm})
    leads = {name: Wire(name, None, node, end, 6.0, 0.1) for name, node, end in
             (("LEAD1", red, "LOAD.a"), ("LEAD2", black, "LOAD.b"))}
    loaded = dataclasses.replace(circuit, parts=circuit.parts | {"LOAD": load},
                                 wires=circuit.wires | leads, memory={})
    return loaded, sum(lead.resistance_ohm for lead in leads.values())


@given(seed=seeds)
@settings(max_examples=40)
def test_thevenin_foretells_what_a_load_does(seed):
    """In a linear circuit V = V_oc·R/(R + R_th), against the circuit with R really in it."""
    circuit = random_circuit(seed, linear=True)
    solution = solve(circuit, "one")
    driven = [n for n in circuit.nodes if solution.source_ohms[n] < 1e5]
    red, black = random.Random(seed).sample(driven, 2)
    volts, ohm = solution.thevenin(red, black)
    assert solution.thevenin(black, red) == pytest.approx((-volts, ohm), rel=1e-9, abs=1e-12)
    assert ohm >= 0.0
    loaded, leads = with_load(circuit, red, black, 10.0)
    after = solve(loaded, "one")
    seen = after.voltage("LOAD.a") - after.voltage("LOAD.b")
    assert seen == pytest.approx(volts * 10.0 / (10.0 + ohm + leads), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("law", CURVED)
@given(v=st.floats(-20.0, 20.0), data=st.data())
def test_every_law_rises_and_its_slope_is_its_own(law, v, data):
    """The slope that Newton uses lies between the steepnesses on both sides."""
    import numpy as np

    values = {
        "diode": st.just((1.15e-8, 0.0465, 1.17)),
        "lamp": st.sampled_from([(0.5, 3.0), (8.0, 60.0)]),
        "motor": st.sampled_from([(0.18, 0.0395, 0.077, 1e-5, 8.65e-6), (0.5, 0.0, 0.1, 0.0, 0.0),
                                  (1.0, 0.02, 0.01, 1e-5, 0.0)]),
        "regulator": st.just((5.0, 0.1, 0.2, 0.01)),
        "photo": st.just((8e-5, 1e-7, 1.15e-8, 0.0465, 1.17)),
    }[law]
    own = data.draw(values)
    h = 1e-6
    i, slope = (x[0] for x in CURVED[law][0](np.array([v]), *own))
    below, above = (CURVED[law][0](np.array([x]), *own)[0][0] for x in (v - h, v + h))
    assert below <= i + 1e-12 and i <= above + 1e-12 and slope >= 0.0
    sides = sorted(((i - below) / h, (above - i) / h))
    slack = 1e-4 * max(1.0, abs(slope)) + 1e-9 * abs(i) / h
    assert sides[0] - slack <= slope <= sides[1] + slack
