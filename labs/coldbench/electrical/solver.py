"""Solve a circuit: one case, a sequence of states, or many cases at once.

Ground is at 0 V; every other node has 1 TΩ to it. Inputs left out are off. Without a previous
solution all relays start released.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from coldbench.electrical.branches import circuit_branches
from coldbench.electrical.circuit import Circuit
from coldbench.electrical.faults import Effect, effect_of
from coldbench.electrical.loader import check_parameter
from coldbench.electrical.network import Network, System, network_of
from coldbench.electrical.relays import settle
from coldbench.electrical.solution import Solution
from coldbench.errors import InputError

_KEPT_STATES = 64


def solve(circuit: Circuit, settings, faults: Iterable = (), previous: Solution | None = None,
          inputs: dict[str, float] | None = None, after_fuses: bool = False) -> Solution:
    """The operating point of a circuit.

    Parameters: settings, a state's name or {input: true, false or duty}; faults, `Fault`s or
    texts; previous, the solution before, whose relay positions are the start; inputs,
    {"part.parameter": value} in place of the file's values (SI); after_fuses, solve again with
    every fuse blown that opens under its load, until none does.
    Returns: Solution.
    Raises: InputError for what the circuit does not have; ConvergenceError.

    >>> from coldbench.electrical import load_circuit
    >>> low = solve(load_circuit("three-relay-fans"), "low")
    >>> round(low.currents["M1"], 1), low.relays["K1"], low.relays["K3"]
    (6.3, 'energised', 'released')
    """
    case = _Case(circuit, settings, faults, previous, inputs)
    solution = _solve_case(case)
    while after_fuses and (opening := solution.overloaded):
        more = [f"{fuse}:blown" for fuse in opening]
        case = _Case(circuit, settings, (*case.effect.faults, *more), solution, inputs)
        solution = _solve_case(case)
    return solution


def solve_sequence(circuit: Circuit, states: Sequence, faults: Iterable = (),
                   inputs: dict[str, float] | None = None) -> list[Solution]:
    """Solutions of states one after the other, each starting from the relays of the last.

    >>> from coldbench.electrical import load_circuit
    >>> [s.relays["K2"] for s in solve_sequence(load_circuit("three-relay-fans"),
    ...                                         ["off", "high", "off"])]
    ['released', 'energised', 'released']
    """
    found: list[Solution] = []
    faults = tuple(faults)
    for state in states:
        found.append(solve(circuit, state, faults, found[-1] if found else None, inputs))
    return found


class _Case:
    """One case, checked: settings, inputs by part, effect of the faults, relays before."""

    def __init__(self, circuit: Circuit, settings, faults=(), previous=None, inputs=None) -> None:
        self.circuit = circuit
        self.settings = circuit.settings(settings)
        self.inputs = check_inputs(circuit, inputs or {})
        self.effect = effect_of(circuit, faults, self.settings, self.inputs)
        self.network = network_of(circuit, self.effect.extra)
        self.start = start_positions(self.network, previous)

    def values(self) -> list[tuple[float, ...]]:
        """Values of every branch."""
        values = list(_healthy_values(self.circuit, self.settings, self.inputs))
        for part, branches in self.effect.branches.items():
            for n, branch in zip(self.network.places[part], branches, strict=False):
                values[n] = branch.values
        return values + [branch.values for branch in self.effect.extra]


def start_positions(network: Network, previous: Solution | None) -> np.ndarray:
    """Armatures energised before [relays]; none without a previous solution."""
    before = previous.energised if previous else {}
    return np.array([before.get(relay, False) for relay in network.coils], dtype=bool)


def check_inputs(circuit: Circuit, inputs: dict[str, float]) -> dict[str, dict]:
    """{"part.parameter": value} as part → parameters. Raises: InputError."""
    found: dict[str, dict] = {}
    for name, value in inputs.items():
        part, _, key = name.partition(".")
        if part not in circuit.parts:
            raise InputError(f"{circuit.name}: input {name!r}: there is no part {part!r}")
        rules = circuit.parts[part].definition.parameters
        rule = rules.get(key)
        if rule is None or rule.internal or rule.choices:
            known = ", ".join(k for k, r in rules.items() if not r.internal and not r.choices)
            raise InputError(f"{circuit.name}: input {name!r}: {part} has {known}")
        found.setdefault(part, {})[key] = check_parameter(key, value, rule,
                                                          f"{circuit.name}: input {name}")
    return found


def _healthy_values(circuit: Circuit, settings: dict, inputs: dict) -> tuple:
    """Values of every branch without faults; kept for the next call when inputs are the file's."""
    kept = circuit.memory.setdefault("values", {})
    key = tuple(settings.items())
    if inputs or key not in kept:
        table = circuit_branches(circuit, settings, inputs)
        values = tuple(branch.values for group in table.values() for branch in group)
        if inputs:
            return values
        if len(kept) >= _KEPT_STATES:
            kept.clear()
        kept[key] = values
    return kept[key]


def relay_data(circuit: Circuit, effect: Effect, network: Network) -> np.ndarray:
    """For each relay: coil currents at which it operates and releases [A], welded or not.

    Returns: array [3, relays]; a relay that cannot pull has endless currents.
    """
    rows = []
    for relay in network.coils:
        own = circuit.parts[relay].parameters
        changed = effect.parameters.get(relay, {})
        levels = [own[key] / own["coil_ohm"] for key in ("operate_V", "release_V")]
        levels = levels if changed.get("pull", 1.0) else [np.inf, np.inf]
        rows.append((*levels, changed.get("welded", 0.0)))
    return np.array(rows).reshape(-1, 3).T


def _solve_case(case: _Case) -> Solution:
    """Solve one case."""
    values = case.values()
    network = case.network
    operate, release, welded = relay_data(case.circuit, case.effect, network)
    system = System(
        network, [own[0] for own in values], [own[1] for own in values],
        {law: np.array([values[n] for n in places]).T
         for law, places in network.curved.items()}, operate, release, welded > 0.0)
    volts, energised, buzzing = settle(system, case.start)[:3]
    return make_solution(case, values, volts, energised, buzzing, system.welded)


def make_solution(case: _Case, values: list, volts: list, energised, buzzing,
                  welded) -> Solution:
    """The solution of a case from the numbers of its network."""
    network = case.network
    relays = list(network.coils)
    for n, relay, when_released in network.switched:
        if (energised[relay] or welded[relay]) == when_released:
            values[n] = (0.0, 0.0)
    return Solution(
        case.circuit, case.settings, case.inputs, case.effect, network, tuple(volts),
        tuple(values), dict(zip(relays, map(bool, energised), strict=True)),
        frozenset(relay for relay, buzz in zip(relays, buzzing, strict=True) if buzz))
