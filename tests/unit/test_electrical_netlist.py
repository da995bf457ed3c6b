"""The text of a SPICE deck; what ngspice makes of it stands in tests/reference."""

import re

from coldbench.electrical import load_circuit, netlist, shipped_circuits


def test_a_deck_names_nodes_as_the_circuit_does_and_tells_its_case():
    fans = load_circuit("three-relay-fans")
    deck = netlist(fans, "high", ["K2:missing"])
    assert deck.isascii() and deck.startswith("* three-relay-fans")
    assert "* relay K1 energised" in deck and "K2" in deck.split("* relay")[0]
    nodes = {word for line in deck.splitlines() if re.match("[RVB]", line)
             for word in line.split()[1:3]}
    assert set(fans.nodes) <= nodes
    assert f"Vground {fans.ground} 0 0" in deck


def test_open_contacts_are_told_not_stamped():
    deck = netlist(load_circuit("three-relay-fans"), "off")
    assert "* K1 does not conduct" in deck
    assert not re.search(r"^RK1 ", deck, re.M)


def test_every_element_has_its_own_name():
    for name in shipped_circuits():
        circuit = load_circuit(name)
        for state in circuit.states:
            lines = [line for line in netlist(circuit, state).splitlines()
                     if re.match("[RVB]", line)]
            names = [line.split()[0].lower() for line in lines]
            assert len(set(names)) == len(names)
            assert not re.search(r"\b(nan|inf)\b", "\n".join(lines))
