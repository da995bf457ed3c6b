"""The compiled form of a circuit: numbered nodes, branches sorted by law, order of elimination.

The wiring depends on the circuit and on extra branches of faults alone, so one network serves
every state, every relay position and almost every fault.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from coldbench.electrical.branches import RELEASED, Branch, circuit_branches
from coldbench.electrical.circuit import Circuit
from coldbench.electrical.laws import CURVED
from coldbench.electrical.star_mesh import GROUND, Plan, make_plan

LEAK = 1e-12  # siemens from every node to ground, so that a floating node has a voltage
FIRST_GUESS_V = {"motor": 0.0, "lamp": 0.0, "diode": 0.0, "photo": 5.0, "regulator": 5.0}


@dataclass(frozen=True, eq=False)
class Network:
    """Nodes (ground left out), branches and their ends as node numbers.

    coils: relay id → position of its coil branch.
    """

    nodes: tuple[str, ...]
    branches: tuple[Branch, ...]
    ends: tuple[tuple[int, int], ...]
    coils: dict[str, int]
    plan: Plan

    @cached_property
    def curved(self) -> dict[str, list[int]]:
        """Law → positions of its branches."""
        return {law: found for law in CURVED
                if (found := [n for n, b in enumerate(self.branches) if b.law == law])}

    @cached_property
    def bent(self) -> list[int]:
        """Positions of all curved branches, law by law."""
        return [n for positions in self.curved.values() for n in positions]

    @cached_property
    def steady(self) -> list[int]:
        """Positions of linear branches that no relay switches."""
        return [n for n, b in enumerate(self.branches) if b.law == "linear" and not b.when]

    @cached_property
    def switched(self) -> list[tuple[int, int, bool]]:
        """Branches that relays switch: (position, number of the relay, closed when released)."""
        relays = list(self.coils)
        return [(n, relays.index(b.part), b.when == RELEASED)
                for n, b in enumerate(self.branches) if b.when]

    @cached_property
    def places(self) -> dict[str, list[int]]:
        """Part or wire id → positions of its branches."""
        table: dict[str, list[int]] = {}
        for n, branch in enumerate(self.branches):
            table.setdefault(branch.part, []).append(n)
        return table

    @cached_property
    def late_edges(self) -> list[tuple[int, int, int]]:
        """Meshes between the nodes that are eliminated last: (slot, node, node)."""
        late = {step[0] for step in self.plan.steps[self.plan.middle:]}
        return [(slot, a, b) for (a, b), slot in self.plan.slots.items()
                if a in late and b in late]

    @cached_property
    def targets(self) -> list[tuple[int, int, int]]:
        """For each branch (slot or -1, node or -1, node or -1)."""
        return [(self.plan.slot(a, b) if GROUND not in (a, b) and a != b else -1, a, b)
                for a, b in self.ends]

    def number(self, node: str) -> int:
        """Number of a node, -1 for ground."""
        return self.numbers.get(node, GROUND)

    @cached_property
    def numbers(self) -> dict[str, int]:
        """Node → number."""
        return {node: n for n, node in enumerate(self.nodes)}


def network_of(circuit: Circuit, extra: tuple[Branch, ...] = ()) -> Network:
    """The network of a circuit with a fault's extra branches; kept for the next call."""
    wiring = tuple((b.part, b.name, b.a, b.b) for b in extra)
    kept = circuit.memory.setdefault("networks", {})
    if wiring not in kept:
        if len(kept) > 500:
            kept.clear()
        kept[wiring] = _compile(circuit, extra)
    return kept[wiring]


def _compile(circuit: Circuit, extra: tuple[Branch, ...]) -> Network:
    table = circuit_branches(circuit, {}, {})
    branches = tuple(branch for group in table.values() for branch in group) + extra
    names = dict.fromkeys(node for node in circuit.nodes)
    names.update(dict.fromkeys(node for b in branches for node in (b.a, b.b)))
    names.pop(circuit.ground)
    numbers = {node: n for n, node in enumerate(names)}
    ends = tuple((numbers.get(b.a, GROUND), numbers.get(b.b, GROUND)) for b in branches)
    switched = {node for b, pair in zip(branches, ends, strict=True) if b.when for node in pair}
    curved = {node for b, pair in zip(branches, ends, strict=True) if b.law != "linear"
              for node in pair}
    coils = {b.part: n for n, b in enumerate(branches)
             if b.name == "coil" and circuit.parts[b.part].kind == "relay"}
    plan = make_plan(len(names), ends, switched - {GROUND}, curved - {GROUND})
    return Network(tuple(names), branches, ends, coils, plan)


@dataclass(eq=False)
class System:
    """A network with numbers: one case (floats) or many (arrays over cases).

    siemens, emf_V: for each branch; curved: law → array [values, branches(, cases)];
    operate_A, release_A: coil currents, and welded: whether the contacts stay in the operated
    position, as arrays [relays(, cases)].
    """

    network: Network
    siemens: list
    emf_V: list
    curved: dict[str, np.ndarray]
    operate_A: np.ndarray
    release_A: np.ndarray
    welded: np.ndarray

    def select(self, chosen: np.ndarray) -> "System":
        """The chosen cases alone; chosen, true or false for each case."""
        return System(
            self.network, [pick(g, chosen) for g in self.siemens],
            [pick(e, chosen) for e in self.emf_V],
            {law: values[:, :, chosen] for law, values in self.curved.items()},
            *(array[:, chosen] for array in (self.operate_A, self.release_A, self.welded)))

    def guess(self) -> list:
        """Voltages across the curved branches to start from [V], law by law."""
        return [FIRST_GUESS_V[law] for law, places in self.network.curved.items()
                for _ in places]

    def curved_currents(self, across: list) -> tuple[list, list]:
        """Current [A] and slope [S] of every curved branch at the voltages across them [V]."""
        currents, slopes, begin = [], [], 0
        for law, values in self.curved.items():
            count = values.shape[1]
            volts = np.array(across[begin:begin + count])
            if values.ndim > volts.ndim + 1:
                volts = volts[:, np.newaxis]
            begin += count
            current, slope = CURVED[law][0](volts, *values[2:])
            currents.extend(_rows(values[0] * current + values[1] * volts))
            slopes.extend(_rows(values[0] * slope + values[1]))
        return currents, slopes


def pick(number, chosen: np.ndarray):
    """A number for the chosen cases: an array over cases is cut, a float stays."""
    return number[chosen] if isinstance(number, np.ndarray) else number


def _rows(array: np.ndarray) -> list:
    """One float for each branch, or one row of cases."""
    return array.tolist() if array.ndim == 1 else list(array)
