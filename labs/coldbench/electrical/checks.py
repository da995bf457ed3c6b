"""Wiring checks of a circuit: every end somewhere, no two supplies tied, numbers used once."""

from collections.abc import Iterator

from coldbench.electrical.circuit import Circuit
from coldbench.errors import InputError


def check_wiring(circuit: Circuit) -> None:
    """Refuse a circuit whose wiring cannot be meant. Raises: InputError."""
    if found := tuple(wiring_mistakes(circuit)):
        raise InputError(*found)


def wiring_mistakes(circuit: Circuit) -> Iterator[str]:
    """Yield what cannot be meant: file, key, reason [str]."""
    ends = tuple(_ends(circuit))
    yield from ends
    if not ends:  # a wire to nowhere is often why a terminal has none
        yield from _terminals(circuit)
        yield from _supplies(circuit)
        yield from _numbers(circuit)
    yield from _places(circuit)


def _places(circuit: Circuit) -> Iterator[str]:
    known = {end for part in circuit.parts.values() for end in part.nodes}
    known |= {end for wire in circuit.wires.values() for end in (wire.start, wire.end)}
    named = [(f"test_point {point.number}: at", point.at)
             for point in circuit.test_points.values()]
    for key, node in (*named, ("ground", circuit.ground), ("supply", circuit.supply)):
        if node not in known:
            yield f"{circuit.file}: {key}: there is no terminal or splice {node!r}"


def _ends(circuit: Circuit) -> Iterator[str]:
    terminals = {node for part in circuit.parts.values() for node in part.nodes}
    uses: dict[str, int] = {}
    for wire in circuit.wires.values():
        if wire.start == wire.end:
            yield f"{circuit.file}: wire {wire.id}: both ends are at {wire.start}"
        for key, node in (("from", wire.start), ("to", wire.end)):
            uses[node] = uses.get(node, 0) + 1
            if "." in node and node not in terminals:
                yield f"{circuit.file}: wire {wire.id}: {key}: {_why(circuit, node)}"
    for wire in circuit.wires.values():
        for key, node in (("from", wire.start), ("to", wire.end)):
            if "." not in node and uses[node] < 2:
                yield (f"{circuit.file}: wire {wire.id}: {key}: dangling wire, "
                       f"nothing else ends at {node}")


def _why(circuit: Circuit, node: str) -> str:
    part = circuit.parts.get(node.split(".")[0])
    if part is None:
        return f"unknown part in {node!r}"
    return f"{part.kind} {part.id} has no terminal {node!r}; terminals are " + ", ".join(
        part.terminals)


def _terminals(circuit: Circuit) -> Iterator[str]:
    wired = {node for wire in circuit.wires.values() for node in (wire.start, wire.end)}
    for part in circuit.parts.values():
        for terminal, node in zip(part.terminals, part.nodes, strict=True):
            if node not in wired and terminal not in part.definition.spare:
                yield f"{circuit.file}: part {part.id}: no wire at terminal {terminal}"


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


def _supplies(circuit: Circuit) -> Iterator[str]:
    nets = joined(circuit)
    seen: dict[str, str] = {}
    for part in circuit.parts.values():
        if part.kind in ("source", "reference"):
            other = seen.setdefault(nets[part.nodes[0]], part.id)
            if other != part.id:
                yield (f"{circuit.file}: part {part.id}: two supplies tied, {other} and "
                       f"{part.id} share a net")
            if nets[part.nodes[0]] == nets[part.nodes[1]]:
                yield f"{circuit.file}: part {part.id}: supply shorted by wires"


def _numbers(circuit: Circuit) -> Iterator[str]:
    numbered: dict[int, list] = {}
    for wire in circuit.wires.values():
        if wire.circuit is not None:
            numbered.setdefault(wire.circuit, []).append(wire)
    for number, wires in numbered.items():
        nets = joined(circuit, wires)
        first = nets[wires[0].start]
        for wire in wires:
            if nets[wire.start] != first:
                yield (f"{circuit.file}: wire {wire.id}: duplicate number, circuit "
                       f"{number} is already another net's")
