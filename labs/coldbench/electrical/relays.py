"""Relay positions: coils act on current, with hysteresis, from a given previous position.

All relays move together, pass after pass. If nothing settles in 12 passes, the relays that
still move are buzzing: they are held released, and the rest settles around them.
"""

import numpy as np

from coldbench.electrical.network import System
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


def settle(system: System, energised: np.ndarray) -> tuple:
    """Voltages [V] with the relays where they come to rest.

    Parameters: energised, previous positions [relays(, cases)].
    Returns: voltages, positions, and which relays buzz.
    Raises: ConvergenceError.
    """
    reduced = Reduced(system)
    buzzing = np.zeros_like(energised)
    across = None
    for _ in range(len(system.network.coils) + 1):
        moving = np.zeros_like(energised)
        for number in range(MOST_PASSES):
            voltages, across = solve_standing(reduced, energised, across)
            current = coil_currents(system, voltages)
            wanted = np.where(energised, current >= system.release_A, current >= system.operate_A)
            moves = (wanted & ~buzzing) != energised
            if not moves.any():
                return voltages, energised, buzzing
            if number >= MOST_PASSES - WATCHED:
                moving |= moves
            energised = energised ^ moves
        buzzing |= moving
        energised = energised & ~buzzing
    raise ConvergenceError("relays did not come to rest even with the buzzing ones held")
