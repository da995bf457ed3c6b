"""Node voltages of a network whose relays stand still, by Newton's method.

All laws rise with the voltage, so the voltages are the lowest point of a convex function (the
co-content; W. Millar, Philosophical Magazine 42, 1951). Each step is shortened until the slope
along it is no longer uphill, which makes the method converge from anywhere; it raises otherwise.
"""

import copy
import functools

import numpy as np

from coldbench.electrical.network import LEAK, System, pick
from coldbench.electrical.star_mesh import GROUND, backward, eliminate, forward
from coldbench.errors import ConvergenceError

MOST_STEPS = 80
SAME_V = 1e-7  # a step below this is the last one; what remains is of the order of its square
SAME_W = 4e-20  # so is a step that moves no node behind up to 1 MΩ by more than 0.2 µV
FLOATING_S = 1e-9  # nodes with less than this to ground float; rounding alone moves them
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
            if isinstance(siemens, np.ndarray) or siemens:
                _add(network.targets[n], siemens, siemens * system.emf_V[n],
                     self.mesh, self.earth, self.injected)
        self.factors = eliminate(network.plan, self.mesh, self.earth, 0, network.plan.early)
        forward(network.plan, self.factors, self.injected)

    @property
    def many(self) -> bool:
        """Whether the numbers are those of many cases."""
        return self.system.operate_A.ndim > 1

    def select(self, chosen: np.ndarray) -> "Reduced":
        """The chosen cases alone; chosen, true or false for each case."""
        some = copy.copy(self)
        some.system = self.system.select(chosen)
        some.mesh, some.earth, some.injected = (
            [pick(x, chosen) for x in row] for row in (self.mesh, self.earth, self.injected))
        some.factors = [([pick(share, chosen) for share in shares], pick(inverse, chosen))
                        for shares, inverse in self.factors]
        return some

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


class Standing:
    """A reduced system with its relays in given positions: only nodes at curved branches are left.

    mesh, earth, injected: of what is left; factors: of the nodes eliminated here.
    """

    def __init__(self, reduced: Reduced, energised: np.ndarray) -> None:
        self.reduced, plan = reduced, reduced.network.plan
        self.mesh, self.earth = list(reduced.mesh), list(reduced.earth)
        self.injected = list(reduced.injected)
        positions = energised | reduced.system.welded
        positions = positions.tolist() if positions.ndim == 1 else positions
        for n, relay, when_released in reduced.network.switched:
            closed = positions[relay] != when_released
            siemens = reduced.system.siemens[n] * closed
            if isinstance(siemens, np.ndarray) or siemens:
                _add(reduced.network.targets[n], siemens, 0.0, self.mesh, self.earth, None)
        self.factors = eliminate(plan, self.mesh, self.earth, plan.early, plan.middle)
        forward(plan, self.factors, self.injected, plan.early)

    def all_voltages(self, voltages: list) -> list:
        """Voltages [V] of all nodes from those that are left, in place."""
        plan = self.reduced.network.plan
        backward(plan, self.factors, self.injected, voltages, plan.early)
        backward(plan, self.reduced.factors, self.reduced.injected, voltages)
        return voltages


def linearised(standing: Standing, across: list):
    """Solve with every curved branch replaced by its tangent at the voltages across them.

    Returns: voltages of the last nodes [V], and the slopes of the curved branches [S].
    """
    network, plan = standing.reduced.network, standing.reduced.network.plan
    mesh, earth, injected = list(standing.mesh), list(standing.earth), list(standing.injected)
    currents, slopes = standing.reduced.system.curved_currents(across)
    for n, volts, current, slope in zip(network.bent, across, currents, slopes, strict=True):
        _add(network.targets[n], slope, slope * volts - current, mesh, earth, injected)
    factors = eliminate(plan, mesh, earth, plan.middle)
    forward(plan, factors, injected, plan.middle)
    voltages = [0.0] * plan.size
    backward(plan, factors, injected, voltages, plan.middle)
    return voltages, slopes


def solve_standing(reduced: Reduced, energised: np.ndarray, across: list | None = None) -> tuple:
    """Voltages of all nodes [V] with the relays as given, and voltages across curved branches.

    Parameters: energised [relays(, cases)]; across, a start for the curved branches [V].
    Raises: ConvergenceError if the steps do not end.
    """
    standing = Standing(reduced, energised)
    across = reduced.system.guess() if across is None else across
    voltages, _ = linearised(standing, across)
    steps = 0
    while reduced.network.bent:
        across = reduced.differences(voltages)
        wanted, slopes = linearised(standing, across)
        step = [w - v for w, v in zip(wanted, voltages, strict=True)]
        large = _largest(step, reduced.many) >= SAME_V
        if np.any(large):
            line = Line(standing, voltages, step, across)
            line.begin(slopes)
            large = large & (line.seen >= SAME_W)
        if not np.any(large):
            voltages = wanted
            break
        steps += 1
        if steps > MOST_STEPS:
            raise ConvergenceError(f"node voltages did not settle in {MOST_STEPS} steps")
        share = line.share(large, 0.5 if steps <= EXACT_AFTER else 1e-6)
        voltages = [v + share * s for v, s in zip(voltages, step, strict=True)]
    return standing.all_voltages(voltages), across


def _largest(step: list, many: bool):
    """Largest size of a step, over its nodes: one number, or one for each of many cases."""
    sizes = [abs(s) for s in step]
    if many:
        return functools.reduce(np.maximum, sizes, 0.0)
    return max(sizes, default=0.0)


class Line:
    """The co-content along a Newton step: its slope is linear but for the curved branches.

    downhill: how steeply it falls at the start [W], which is Δᵀ·J·Δ of the step Δ; seen: the same
    without the common movement of an island that only teraohms tie to ground. A node behind R
    moves by no more than the root of R·seen.
    """

    def __init__(self, standing: Standing, voltages: list, step: list, across: list) -> None:
        reduced = standing.reduced
        mesh, earth, injected = standing.mesh, standing.earth, standing.injected
        self.system, self.across = reduced.system, across
        self.change = reduced.differences(step)
        self.start = self.rise = self.floating = 0.0
        for slot, a, b in reduced.network.late_edges:
            self._add(mesh[slot], voltages[a] - voltages[b], step[a] - step[b])
        for node, _, _ in reduced.network.plan.steps[reduced.network.plan.middle:]:
            self._add(earth[node], voltages[node], step[node])
            self.start = self.start - injected[node] * step[node]
            leak = earth[node] * (earth[node] < FLOATING_S)
            self.floating = self.floating + leak * step[node] * step[node]

    def begin(self, slopes: list) -> None:
        """Take in the slopes [S] of the curved branches at the start."""
        bent = sum(g * c * c for g, c in zip(slopes, self.change, strict=True))
        self.downhill = self.rise + bent
        self.seen = self.downhill - self.floating

    def _add(self, siemens, volts, change) -> None:
        self.start = self.start + siemens * volts * change
        self.rise = self.rise + siemens * change * change

    def _curved(self, currents: list):
        return sum(c * i for c, i in zip(self.change, currents, strict=True))

    def slope(self, share):
        """Slope of the co-content [W] after a share of the step."""
        volts = [v + share * c for v, c in zip(self.across, self.change, strict=True)]
        return self.start + share * self.rise + self._curved(self.system.curved_currents(volts)[0])

    def share(self, matters, loose: float):
        """Share of the step to take: the whole, or less where its end would climb.

        Parameters: matters, the cases to look at; loose, climb allowed at the end, as a part of
        the descent at the start.
        """
        share = 1.0
        for _ in range(60):
            climbs = (self.slope(share) > loose * self.downhill) & matters
            if not np.any(climbs):
                break
            share = share * np.where(climbs, 0.5, 1.0) if np.ndim(climbs) else 0.5 * share
        return share
