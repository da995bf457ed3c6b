"""Relay positions: coils act on current, with hysteresis, from a given previous position.

All relays move together, pass after pass. If nothing settles in 12 passes, the relays that
still move are buzzing: they are held released, and the rest settles around them.
"""

import numpy as np

from coldbench.electrical.network import System, pick
from coldbench.electrical.newton import Reduced, solve_standing
from coldbench.errors import ConvergenceError

MOST_PASSES = 12
WATCHED = 4  # in the last passes, a relay that still moves is buzzing


def coil_currents(system: System, voltages: list) -> np.ndarray:
    """Size of the current in every relay coil [A], as an array [relays(, cases)]."""
    network = system.network
    rows = []
    for n in network.coils.values():
        a, b = network.ends[n]
        volts = (voltages[a] if a >= 0 else 0.0) - (voltages[b] if b >= 0 else 0.0)
        rows.append(np.abs(system.siemens[n] * volts))
    return np.array(np.broadcast_arrays(*rows)) if rows else np.zeros(system.operate_A.shape)


def settle(system: System, energised: np.ndarray, across: list | None = None) -> tuple:
    """Voltages [V] with the relays where they come to rest.

    Parameters: energised, previous positions [relays(, cases)]; across, a start for the curved
    branches [V].
    Returns: voltages as an array [nodes(, cases)], positions, and which relays buzz.
    Raises: ConvergenceError.
    """
    many = energised.ndim > 1
    done = Done(system.network.plan.size, energised) if many else None
    reduced = Reduced(system)
    buzzing = np.zeros_like(energised)
    for _ in range(len(system.network.coils) + 1):
        moving = np.zeros_like(energised)
        for number in range(MOST_PASSES):
            voltages, across = solve_standing(reduced, energised, across)
            moves = _moves(reduced.system, voltages, energised, buzzing)
            if not many and not moves.any():
                return np.array(voltages), energised, buzzing
            if many:
                still = moves.any(axis=0)
                done.put(~still, voltages, energised, buzzing)
                if not still.any():
                    return done.voltages, done.energised, done.buzzing
                if not still.all():
                    reduced = reduced.select(still)
                    across = [pick(v, still) for v in across]
                    energised, buzzing, moving, moves = (
                        array[:, still] for array in (energised, buzzing, moving, moves))
            if number >= MOST_PASSES - WATCHED:
                moving |= moves
            energised = energised ^ moves
        buzzing = buzzing | moving
        energised = energised & ~buzzing
    raise ConvergenceError("relays did not come to rest even with the buzzing ones held")


def _moves(system: System, voltages: list, energised: np.ndarray, buzzing: np.ndarray):
    """Which relays leave their position; the buzzing ones are held."""
    current = coil_currents(system, voltages)
    wanted = np.where(energised, current >= system.release_A, current >= system.operate_A)
    return (wanted & ~buzzing) != energised


class Done:
    """Results of many cases, filled in as their relays come to rest."""

    def __init__(self, nodes: int, energised: np.ndarray) -> None:
        cases = energised.shape[1]
        self.left = np.arange(cases)
        self.voltages = np.zeros((nodes, cases))
        self.energised = np.zeros_like(energised)
        self.buzzing = np.zeros_like(energised)

    def put(self, finished: np.ndarray, voltages: list, energised, buzzing) -> None:
        """Keep the finished ones among the cases left, and forget about them."""
        places = self.left[finished]
        if places.size:
            for row, volts in zip(self.voltages, voltages, strict=True):
                row[places] = pick(volts, finished)
            self.energised[:, places] = energised[:, finished]
            self.buzzing[:, places] = buzzing[:, finished]
        self.left = self.left[~finished]
