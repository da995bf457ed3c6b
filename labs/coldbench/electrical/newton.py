"""Node voltages of a network whose relays stand still, by Newton's method.

All laws rise with the voltage, so the voltages are the lowest point of a convex function (the
co-content; W. Millar, Philosophical Magazine 42, 1951). Each step is shortened until the slope
along it is no longer uphill, which makes the method converge from anywhere; it raises otherwise.
"""

import numpy as np

from coldbench.electrical.network import LEAK, System
from coldbench.electrical.star_mesh import GROUND, backward, eliminate, forward
from coldbench.errors import ConvergenceError

MOST_STEPS = 80
SAME_V = 1e-9  # a step below this is the last one
EXACT_AFTER = 25  # steps with a loose search along the line, before a strict one


class Reduced:
    """A system whose early nodes, those at steady linear branches only, are eliminated."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.network = network = system.network
        self.mesh = [0.0] * len(network.plan.slots)
        self.earth = [LEAK] * network.plan.size
        self.injected = [0.0] * network.plan.size
        for n in network.steady:
            siemens = system.siemens[n]
            if np.ndim(siemens) or siemens:
                _add(network.targets[n], siemens, siemens * system.emf_V[n],
                     self.mesh, self.earth, self.injected)
        self.factors = eliminate(network.plan, self.mesh, self.earth, 0, network.plan.early)
        forward(network.plan, self.factors, self.injected)

    def with_relays(self, energised: np.ndarray) -> tuple[list, list]:
        """Mesh and earth conductances with the contacts of the given relay positions."""
        mesh, earth = list(self.mesh), list(self.earth)
        positions = energised | self.system.welded
        positions = positions.tolist() if positions.ndim == 1 else positions
        for n, relay, when_released in self.network.switched:
            closed = positions[relay] != when_released
            siemens = self.system.siemens[n] * closed
            if np.ndim(siemens) or siemens:
                _add(self.network.targets[n], siemens, 0.0, mesh, earth, None)
        return mesh, earth

    def differences(self, voltages: list) -> list:
        """Voltages across the curved branches [V]."""
        ends = self.network.ends
        return [(voltages[a] if a != GROUND else 0.0) - (voltages[b] if b != GROUND else 0.0)
                for a, b in (ends[n] for n in self.network.bent)]


def _add(target, siemens, current, mesh: list, earth: list, injected: list | None) -> None:
    """Add one branch; current [A] is what its electromotive force drives into its first node."""
    slot, a, b = target
    if slot >= 0:
        mesh[slot] = mesh[slot] + siemens
    elif a != b:
        node = a if b == GROUND else b
        earth[node] = earth[node] + siemens
    if injected is not None and a != b:
        if a != GROUND:
            injected[a] = injected[a] + current
        if b != GROUND:
            injected[b] = injected[b] - current


def linearised(reduced: Reduced, mesh: list, earth: list, across: list):
    """Solve with every curved branch replaced by its tangent at the voltages across them.

    Returns: voltages of the late nodes [V], and the (mesh, factors, injected) behind them.
    """
    network, plan = reduced.network, reduced.network.plan
    mesh, earth, injected = list(mesh), list(earth), list(reduced.injected)
    currents, slopes = reduced.system.curved_currents(across)
    for n, volts, current, slope in zip(network.bent, across, currents, slopes, strict=True):
        _add(network.targets[n], slope, slope * volts - current, mesh, earth, injected)
    factors = eliminate(plan, mesh, earth, plan.early)
    forward(plan, factors, injected, plan.early)
    voltages = [0.0] * plan.size
    backward(plan, factors, injected, voltages, plan.early)
    return voltages, (mesh, factors, injected)


def solve_standing(reduced: Reduced, energised: np.ndarray, across: list | None = None) -> tuple:
    """Voltages of all nodes [V] with the relays as given, and voltages across curved branches.

    Parameters: energised [relays(, cases)]; across, a start for the curved branches [V].
    Raises: ConvergenceError if the steps do not end.
    """
    mesh, earth = reduced.with_relays(energised)
    across = reduced.system.guess() if across is None else across
    voltages, behind = linearised(reduced, mesh, earth, across)
    steps = 0
    while reduced.network.bent:
        across = reduced.differences(voltages)
        wanted, behind = linearised(reduced, mesh, earth, across)
        step = [w - v for w, v in zip(wanted, voltages, strict=True)]
        if np.max(np.abs(_stack(step))) < SAME_V:
            voltages = wanted
            break
        steps += 1
        if steps > MOST_STEPS:
            raise ConvergenceError(f"node voltages did not settle in {MOST_STEPS} steps")
        share = _share(reduced, mesh, earth, (voltages, step, across), steps)
        voltages = [v + share * s for v, s in zip(voltages, step, strict=True)]
    plan = reduced.network.plan
    backward(plan, reduced.factors, reduced.injected, voltages)
    return voltages, across, behind


def _stack(rows: list) -> np.ndarray:
    """Floats, or a mix of floats and arrays over cases, as one array."""
    return np.array(np.broadcast_arrays(*rows)) if rows else np.zeros(1)


def _share(reduced: Reduced, mesh: list, earth: list, state: tuple, steps: int):
    """Share of a Newton step to take: the whole, or less where it would climb."""
    voltages, step, across = state
    start, rise = _slope_along(reduced, mesh, earth, voltages, step)
    change = reduced.differences(step)

    def slope(share):
        currents, _ = reduced.system.curved_currents(
            [v + share * c for v, c in zip(across, change, strict=True)])
        return start + share * rise + sum(c * i for c, i in zip(change, currents, strict=True))

    downhill = abs(slope(0.0))
    loose = 0.5 if steps <= EXACT_AFTER else 1e-6
    share = 1.0
    for _ in range(60):
        climbs = slope(share) > loose * downhill + 1e-30
        if not np.any(climbs):
            return share
        share = share * np.where(climbs, 0.5, 1.0) if np.ndim(climbs) else 0.5 * share
    return share


def _slope_along(reduced: Reduced, mesh: list, earth: list, voltages: list, step: list):
    """Slope of the linear branches' co-content along a step: its start and its rise [W]."""
    plan = reduced.network.plan
    start = rise = 0.0
    for slot, a, b in reduced.network.late_edges:
        d = step[a] - step[b]
        start = start + mesh[slot] * (voltages[a] - voltages[b]) * d
        rise = rise + mesh[slot] * d * d
    for node, _, _ in plan.steps[plan.early:]:
        d = step[node]
        start = start + (earth[node] * voltages[node] - reduced.injected[node]) * d
        rise = rise + earth[node] * d * d
    return start, rise
