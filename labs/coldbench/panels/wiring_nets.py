"""A circuit as the layout of its diagram sees it: symbols, nets, and which way current runs.

Every part is replaced by one ohm or so between its terminals and the circuit is solved once:
the potentials tell what lies nearer to the supply, hence higher in the diagram. They are of
use for drawing only.
"""

from dataclasses import dataclass

import numpy as np

from coldbench.panels.wiring_symbols import HELD, SHAPES, pins_of

_WIRE_SIEMENS, _LEAK_SIEMENS = 50.0, 1e-6
_EVEN = 1e-4  # potentials closer than this say nothing about which end is higher


@dataclass(frozen=True)
class Symbols:
    """What is to be laid out.

    kinds : part id -> kind
    pins : part id -> {terminal: (x, y)} of its wired terminals [tracks from its centre]
    wires : wire id -> (node, node); a node is "part.terminal" or the name of a splice
    nets : node -> number of its net (nodes joined by wires)
    splices : names of the splices
    ground : the reference node
    """

    kinds: dict[str, str]
    pins: dict[str, dict[str, tuple[int, int]]]
    wires: dict[str, tuple[str, str]]
    nets: dict[str, int]
    splices: tuple[str, ...]
    ground: str


def symbols_of(circuit) -> Symbols:
    """The symbols of a circuit, each turned so that its higher potential is on top."""
    kinds = {part.id: part.kind for part in circuit.parts.values()}
    wires = {wire.id: (wire.start, wire.end) for wire in circuit.wires.values()}
    wired = {node for ends in wires.values() for node in ends} | {circuit.ground}
    potentials = _potentials(kinds, wires, circuit.ground)
    nets = _nets(wires, [f"{p}.{t}" for p, kind in kinds.items() for t in SHAPES[kind].pins])
    pins = {
        name: {t: at for t, at in _turned(name, kinds, potentials, nets).items()
               if f"{name}.{t}" in wired or kind == "relay" and t in ("30", "87")}
        for name, kind in kinds.items()
    }  # fmt: skip
    splices = tuple(sorted(node for node in wired if "." not in node))
    return Symbols(kinds, pins, wires, nets, splices, circuit.ground)


def _nets(wires, nodes) -> dict[str, int]:
    """Number the groups of nodes that wires join."""
    root: dict[str, str] = {node: node for node in nodes}

    def find(node):
        root.setdefault(node, node)
        while root[node] != node:
            node = root[node]
        return node

    for start, end in wires.values():
        root[find(start)] = find(end)
    names: dict[str, int] = {}
    return {node: names.setdefault(find(node), len(names)) for node in list(root)}


def _potentials(kinds, wires, ground) -> dict[str, float]:
    """Potential of each node as a share of the supply; see the module."""
    nodes = sorted({n for ends in wires.values() for n in ends}
                   | {f"{p}.{t}" for p, kind in kinds.items() for t in SHAPES[kind].pins})  # fmt: skip
    at = {node: k for k, node in enumerate(nodes)}
    matrix = np.eye(len(nodes)) * _LEAK_SIEMENS
    given = np.full(len(nodes), 0.5 * _LEAK_SIEMENS)

    def join(one, other, siemens):
        i, j = at[one], at[other]
        matrix[[i, j, i, j], [i, j, j, i]] += np.array([1, 1, -1, -1]) * siemens

    def hold(node, share):
        matrix[at[node], at[node]] += 1.0
        given[at[node]] += share

    for start, end in wires.values():
        join(start, end, _WIRE_SIEMENS)
    for name, kind in kinds.items():
        if kind == "source":
            hold(f"{name}.plus", 1.0)
            continue
        for one, other, weight in SHAPES[kind].paths:
            join(f"{name}.{one}", f"{name}.{other}", 1.0 / weight)
        if kind in HELD:
            hold(f"{name}.{HELD[kind][0]}", HELD[kind][1])
    matrix[at[ground], at[ground]] += 1e6
    solved = np.linalg.solve(matrix, given)
    return {node: float(solved[k]) for node, k in at.items()}


def _turned(name: str, kinds, potentials, nets) -> dict[str, tuple[int, int]]:
    """Pins of a part, its groups turned over where the potentials ask for it."""
    kind, turns = kinds[name], []
    for group in SHAPES[kind].turns:
        first = potentials[f"{name}.{group[0]}"]
        rest = [potentials[f"{name}.{terminal}"] for terminal in group[1:]]
        rest = rest or _mates(name, group[0], kinds, potentials, nets)
        turns.append(kind != "source" and first < sum(rest) / len(rest) - _EVEN)
    if SHAPES[kind].turns and len(SHAPES[kind].turns[0]) == 1:  # drawn upwards: turn for below
        turns[0] = not turns[0]
    return pins_of(kind, tuple(turns))


def _mates(name: str, terminal: str, kinds, potentials, nets) -> list[float]:
    """Mean potential of each other part on the net of a terminal; of ground if there is none."""
    net, found = nets[f"{name}.{terminal}"], []
    for other, kind in kinds.items():
        nodes = [f"{other}.{t}" for t in SHAPES[kind].pins]
        if other != name and any(nets[node] == net for node in nodes):
            found.append(sum(potentials[node] for node in nodes) / len(nodes))
    return found or [0.0]
