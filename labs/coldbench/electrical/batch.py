"""Many cases at once: one elimination over arrays of cases, the same arithmetic as one by one.

Cases are sorted by circuit and by the branches their faults add. Those without extra branches
share one network, and so do all that add a branch to the supply; then each number of the solver
is an array over the cases.
"""

from collections.abc import Iterable, Mapping

import numpy as np

from coldbench.electrical.circuit import Circuit
from coldbench.electrical.network import Network, System, network_of
from coldbench.electrical.relays import settle
from coldbench.electrical.solution import Solution
from coldbench.electrical.solver import (
    Case,
    make_solution,
    relay_thresholds,
    start_positions,
    welded_relays,
)
from coldbench.errors import InputError

_KEYS = {"settings", "faults", "previous", "inputs"}
MOST_AT_ONCE = 2000


def solve_batch(circuit: Circuit, cases: Iterable) -> list[Solution]:
    """Solutions of many cases of one circuit, in the order given.

    Parameters: cases, each a dict with `settings` and, if wanted, `faults`, `previous` and
    `inputs` as in `solve`; or a pair (settings, faults).
    Returns: a Solution for each case, the same as `solve` gives.
    Raises: InputError naming the case; ConvergenceError.

    >>> from coldbench.electrical import load_circuit
    >>> fans = load_circuit("three-relay-fans")
    >>> [s.relays["K1"] for s in solve_batch(fans, [("off", ()), ("low", ["D1:stuck_off"])])]
    ['released', 'released']
    """
    ready = [_case(circuit, n, given) for n, given in enumerate(cases, 1)]
    groups: dict[int, list[int]] = {}
    for n, case in enumerate(ready):
        groups.setdefault(_group(circuit, case), []).append(n)
    found: list = [None] * len(ready)
    for places in groups.values():
        for begin in range(0, len(places), MOST_AT_ONCE):
            some = places[begin:begin + MOST_AT_ONCE]
            for n, solution in zip(some, _solve_together([ready[n] for n in some]), strict=True):
                found[n] = solution
    return found


def _case(circuit: Circuit, number: int, given) -> Case:
    """One case of the batch, checked."""
    try:
        if isinstance(given, Mapping):
            if "settings" not in given or given.keys() - _KEYS:
                raise InputError(f"keys are {', '.join(sorted(_KEYS))}; settings is needed")
            return Case(circuit, **given)
        settings, faults = given
        return Case(circuit, settings, faults)
    except InputError as error:
        raise InputError(f"case {number}: {error}") from None


def _group(circuit: Circuit, case: Case) -> int:
    """0 without extra branches, 1 with shorts to the supply only, 2 with crossed wires."""
    extra = case.effect.extra
    return 0 if not extra else 1 if all(b.a == circuit.supply for b in extra) else 2


def _solve_together(cases: list[Case]) -> list[Solution]:
    """Solve cases on the network that holds the extra branches of all."""
    circuit = cases[0].circuit
    union = tuple({b.key + b.a + b.b: b for case in cases for b in case.effect.extra}.values())
    network = network_of(circuit, union)
    system, rows = _stacked(network, cases)
    start = np.array([start_positions(network, case.previous) for case in cases]).T
    volts, energised, buzzing = settle(system, start)
    volts = np.array(np.broadcast_arrays(*volts, np.zeros(len(cases)))[:-1]).T.tolist()
    return [make_solution(case, network, own, volts[n], energised[:, n], buzzing[:, n],
                          system.welded[:, n])
            for n, (case, own) in enumerate(zip(cases, rows, strict=True))]


def _stacked(network: Network, cases: list[Case]) -> tuple[System, list]:
    """The numbers of all cases as arrays over cases, and each case's values."""
    rows = [case.values(network) for case in cases]
    linear = np.array([[own[:2] for own in row] for row in rows])
    siemens, emf = linear[:, :, 0].T, linear[:, :, 1].T
    same = (siemens == siemens[:, :1]).all(axis=1)
    curved = {law: np.moveaxis(np.array([[row[n] for n in places] for row in rows]), 0, 2)
              .swapaxes(0, 1) for law, places in network.curved.items()}
    thresholds = [relay_thresholds(case.circuit, case.effect, network) for case in cases]
    operate, release = np.moveaxis(np.array(thresholds), 0, 2)
    welded = np.array([welded_relays(case.effect, network) for case in cases], dtype=bool).T
    system = System(network, [float(g[0]) if one else g for g, one in zip(siemens, same,
                                                                        strict=True)],
                    [float(e[0]) if (e == e[0]).all() else e for e in emf],
                    curved, operate, release, welded)
    return system, rows
