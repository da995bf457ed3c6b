"""Operating points against ngspice: every shipped circuit, state and fault, and random circuits.

Source of the figure: node voltages within 1e-6 V of ngspice on all nodes with a source
resistance below 1 MΩ. Relays stand in the deck in the positions the solver found; ngspice's own
voltages must then give each coil a current that keeps its relay there.
"""

import random
import runpy
from pathlib import Path

import pytest

from coldbench.electrical import catalogue, load_circuit, netlist, shipped_circuits, solve_batch
from coldbench.electrical.netlist import deck_of

HERE = Path(__file__).parent
run_decks = runpy.run_path(str(HERE / "spice_decks.py"))["run_decks"]
kit = runpy.run_path(str(HERE.parent / "unit" / "random_circuits.py"))

AGREE_V = 1e-6
DRIVEN_OHM = 1e6


def disagreements(solution, spice: dict[str, float]) -> list[str]:
    """One sentence for each driven node on which ngspice says otherwise."""
    ohms = solution.source_ohms
    return [f"{node}: {volts!r} here, {spice[node.lower()]!r} there"
            for node, volts in solution.voltages.items()
            if ohms[node] < DRIVEN_OHM and not abs(volts - spice[node.lower()]) <= AGREE_V]


def wrong_relays(solution, spice: dict[str, float]) -> list[str]:
    """Relays whose coil current, as ngspice has it, would move them from where they stand."""
    found = []
    for relay, state in solution.relays.items():
        part = solution.circuit.parts[relay]
        changed = part.parameters | solution.effect.parameters.get(relay, {})
        coil_V = spice[f"{relay}.86".lower()] - spice[f"{relay}.85".lower()]
        amps = abs(coil_V) / changed["coil_ohm"]
        operate, release = (part.parameters[key] / part.parameters["coil_ohm"]
                            for key in ("operate_V", "release_V"))
        stays = {"energised": amps >= release, "buzzing": amps >= operate,
                 "released": amps < operate or not changed["pull"]}[state]
        if not stays:
            found.append(f"{relay} is {state} at {amps:.4f} A")
    return found


def problems(solutions: list, ngspice: str, folder: Path) -> list[str]:
    """All that ngspice disagrees with."""
    answers = run_decks(ngspice, [deck_of(solution) for solution in solutions], folder)
    return [f"{s.circuit.name} {s.settings} {s.effect.words}: {words}"
            for s, spice in zip(solutions, answers, strict=True)
            for words in (*disagreements(s, spice), *wrong_relays(s, spice))]


@pytest.mark.parametrize("name", shipped_circuits())
def test_every_state_and_fault_of_a_shipped_circuit(name, needs_ngspice, tmp_path):
    circuit = load_circuit(name)
    cases = [(state, faults) for state in circuit.states
             for faults in ([], *([f.id] for f in catalogue(circuit)))]
    found = problems(solve_batch(circuit, cases), needs_ngspice, tmp_path)
    assert not found, "\n".join(found[:20])


def test_sequences_keep_their_relays(needs_ngspice, tmp_path):
    """From every state to every other: the relays of the first are the start of the second."""
    fans = load_circuit("three-relay-fans")
    first = solve_batch(fans, [(state, ()) for state in fans.states for _ in fans.states])
    then = solve_batch(fans, [{"settings": state, "previous": before} for before, state in
                              zip(first, list(fans.states) * len(fans.states), strict=True)])
    assert not problems(then, needs_ngspice, tmp_path)


@pytest.mark.parametrize("first", [0, 1000])
def test_random_circuits_with_random_faults(first, needs_ngspice, tmp_path):
    solutions = []
    for seed in range(first, first + 80):
        circuit = kit["random_circuit"](seed, linear=first == 0)
        solutions += solve_batch(circuit, kit["random_cases"](circuit, random.Random(seed), 3))
    found = problems(solutions, needs_ngspice, tmp_path)
    assert not found, "\n".join(found[:20])


def test_a_seeded_error_is_seen(needs_ngspice, tmp_path):
    """Another resistance in the deck than in the circuit: the comparison must notice."""
    fans = load_circuit("three-relay-fans")
    solution = solve_batch(fans, [("low", ())])[0]
    wire = max(fans.wires, key=lambda name: abs(solution.currents[name]))
    line = next(line for line in netlist(fans, "low").splitlines()
                if line.startswith(f"R{wire} "))
    deck = deck_of(solution).replace(line, f"{line[:line.rindex(' ')]} 0.011")
    assert disagreements(solution, run_decks(needs_ngspice, [deck], tmp_path)[0])


def test_printed_deck_solves_in_batch_mode(needs_ngspice, tmp_path):
    """`ngspice -b` on the deck as it is prints every node by its own name."""
    import re
    import subprocess

    fans = load_circuit("three-relay-fans")
    (tmp_path / "case.cir").write_text(netlist(fans, "high", ["K2:missing"]), "ascii")
    done = subprocess.run([needs_ngspice, "-b", str(tmp_path / "case.cir")],
                          capture_output=True, text=True, timeout=60)
    printed = dict(re.findall(r"^(\S+) = (\S+)$", done.stdout, re.M))
    solution = solve_batch(fans, [("high", ["K2:missing"])])[0]
    for node, ohm in solution.source_ohms.items():
        if ohm < DRIVEN_OHM:
            assert float(printed[node.lower()]) == pytest.approx(solution.voltages[node],
                                                                 abs=AGREE_V)
