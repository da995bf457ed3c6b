"""The network of small changes about a solved point: every curved branch as its slope."""

import numpy as np

from coldbench.electrical.laws import CURVED
from coldbench.electrical.network import LEAK, Network
from coldbench.electrical.star_mesh import GROUND, eliminate


def tangent(network: Network, volts: tuple, values: tuple) -> tuple:
    """Plan, mesh and factors of the small-change network, for `star_mesh.solve`.

    Parameters: volts, node voltages [V]; values, of each branch as solved.
    """
    mesh = [0.0] * len(network.plan.slots)
    earth = [LEAK] * network.plan.size
    for n, siemens in enumerate(slopes(network, volts, values)):
        slot, a, b = network.targets[n]
        if slot >= 0:
            mesh[slot] += siemens
        elif a != b:
            earth[a if b == GROUND else b] += siemens
    return network.plan, mesh, eliminate(network.plan, mesh, earth)


def slopes(network: Network, volts: tuple, values: tuple) -> list[float]:
    """Conductance of every branch for small changes [S]."""
    found = [own[0] for own in values]
    for law, places in network.curved.items():
        ends = [network.ends[n] for n in places]
        across = np.array([(volts[a] if a != GROUND else 0.0) - (volts[b] if b != GROUND else 0.0)
                           for a, b in ends])
        gate, shunt, *own = np.array([values[n] for n in places]).T
        for n, slope in zip(places, gate * CURVED[law][0](across, *own)[1] + shunt, strict=True):
            found[n] = float(slope)
    return found
