"""Wiring checks of a circuit: every end somewhere, no two supplies tied, numbers used once."""

from coldbench.electrical.circuit import Circuit
from coldbench.errors import InputError


def check_wiring(circuit: Circuit) -> None:
    """Refuse a circuit whose wiring cannot be meant. Raises: InputError."""
    _check_ends(circuit)
    _check_terminals(circuit)
    _check_supplies(circuit)
    _check_numbers(circuit)
    for point in circuit.test_points.values():
        _known_node(circuit, point.at, f"test_point {point.number}: at")
    for key in ("ground", "supply"):
        _known_node(circuit, getattr(circuit, key), key)


def _known_node(circuit: Circuit, node: str, key: str) -> None:
    if node not in circuit.nodes:
        raise InputError(f"{circuit.file}: {key}: there is no terminal or splice {node!r}")


def _check_ends(circuit: Circuit) -> None:
    terminals = {node for part in circuit.parts.values() for node in part.nodes}
    uses: dict[str, int] = {}
    for wire in circuit.wires.values():
        if wire.start == wire.end:
            raise InputError(f"{circuit.file}: wire {wire.id}: both ends are at {wire.start}")
        for key, node in (("from", wire.start), ("to", wire.end)):
            uses[node] = uses.get(node, 0) + 1
            if "." in node and node not in terminals:
                raise InputError(f"{circuit.file}: wire {wire.id}: {key}: {_why(circuit, node)}")
    for wire in circuit.wires.values():
        for key, node in (("from", wire.start), ("to", wire.end)):
            if node not in terminals and uses[node] < 2:
                raise InputError(f"{circuit.file}: wire {wire.id}: {key}: dangling wire, "
                                 f"nothing else ends at {node}")


def _why(circuit: Circuit, node: str) -> str:
    part = circuit.parts.get(node.split(".")[0])
    if part is None:
        return f"unknown part in {node!r}"
    return f"{part.kind} {part.id} has no terminal {node!r}; terminals are " + ", ".join(
        part.terminals)


def _check_terminals(circuit: Circuit) -> None:
    wired = {node for wire in circuit.wires.values() for node in (wire.start, wire.end)}
    for part in circuit.parts.values():
        for terminal, node in zip(part.terminals, part.nodes, strict=True):
            if node not in wired and terminal not in part.definition.spare:
                raise InputError(f"{circuit.file}: part {part.id}: no wire at terminal {terminal}")


def joined(circuit: Circuit, wires=None) -> dict[str, str]:
    """Node → one node that stands for all those joined to it by wires alone."""
    leader = {node: node for node in circuit.nodes}

    def find(node: str) -> str:
        while leader[node] != node:
            node = leader[node]
        return node

    for wire in circuit.wires.values() if wires is None else wires:
        leader[find(wire.start)] = find(wire.end)
    return {node: find(node) for node in circuit.nodes}


def _check_supplies(circuit: Circuit) -> None:
    nets = joined(circuit)
    seen: dict[str, str] = {}
    for part in circuit.parts.values():
        if part.kind in ("source", "reference"):
            other = seen.setdefault(nets[part.nodes[0]], part.id)
            if other != part.id:
                raise InputError(f"{circuit.file}: part {part.id}: two supplies tied, {other} and "
                                 f"{part.id} share a net")
            if nets[part.nodes[0]] == nets[part.nodes[1]]:
                raise InputError(f"{circuit.file}: part {part.id}: supply shorted by wires")


def _check_numbers(circuit: Circuit) -> None:
    numbered: dict[int, list] = {}
    for wire in circuit.wires.values():
        if wire.circuit is not None:
            numbered.setdefault(wire.circuit, []).append(wire)
    for number, wires in numbered.items():
        nets = joined(circuit, wires)
        first = nets[wires[0].start]
        for wire in wires:
            if nets[wire.start] != first:
                raise InputError(f"{circuit.file}: wire {wire.id}: duplicate number, circuit "
                                 f"{number} is already another net's")
