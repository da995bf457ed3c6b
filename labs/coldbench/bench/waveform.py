"""What an oscilloscope shows at a running bench: a level line, or pulses of the blower's driver.

Only a pulse-width driver moves volts while a bench stands in a state. The solved wiring holds
the means; the pulses about them follow from the motor's current I, which its winding keeps up
through a period. With the driver on for a share d of the period, its supply pin carries I while
it is on and nothing while it is off, its ground pin the other way round; so every node moves by

    on:  −(1 − d)·I·(Z_ks − Z_kg)      off:  +d·I·(Z_ks − Z_kg)

with Z the resistances of the wiring without driver and motor, s and g the driver's pins. Behind
the driver stand the volts of the pin that conducts, less I·R_on. Validity: period short against
L/R of the winding.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from coldbench.electrical import Solution, solve
from coldbench.electrical.circuit import Part
from coldbench.electrical.instruments.case import flat_inputs

LEAST_SWING_V = 0.02
_LEAST_SUPPLY_V = 1.0


class Waveform(NamedTuple):
    """Mean, lowest and highest volts; frequency [Hz, 0 for a level line]; share of time high."""

    mean_V: float
    lowest_V: float
    highest_V: float
    frequency_Hz: float
    high_share: float


def level(volts: float) -> Waveform:
    """Return the waveform of a steady voltage [Waveform]."""
    return Waveform(volts, volts, volts, 0.0, 0.0)


@dataclass(frozen=True)
class Pulses:
    """Volts of every node against ground with the driver on and off; duty; frequency."""

    on_V: dict[str, float]
    off_V: dict[str, float]
    duty: float
    frequency_Hz: float

    def waveform(self, red: str, black: str) -> Waveform:
        """Return what stands on the screen between two nodes.

        Parameters
        ----------
        red, black : str
            Nodes.

        Returns
        -------
        Waveform
        """
        on, off = (volts[red] - volts[black] for volts in (self.on_V, self.off_V))
        mean = self.duty * on + (1.0 - self.duty) * off
        if abs(on - off) < LEAST_SWING_V:
            return level(mean)
        share = self.duty if on > off else 1.0 - self.duty
        return Waveform(mean, min(on, off), max(on, off), self.frequency_Hz, share)


def pulses(solution: Solution) -> Pulses | None:
    """Return the pulses of a circuit whose pulse-width driver pulses, else None.

    Parameters
    ----------
    solution : Solution
        Solved circuit, with volts behind the driver as means.

    Returns
    -------
    Pulses or None

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> blower = load_circuit("blower")
    >>> form = pulses(solve(blower, "low")).waveform("BM.out", "B.minus")
    >>> form.frequency_Hz, form.high_share, form.highest_V > 12.0, form.lowest_V < 0.1
    (10000.0, 0.35, True, True)
    >>> pulses(solve(blower, "off")) is None
    True
    """
    for part in solution.circuit.parts.values():
        if part.kind == "pwm_driver" and _pulsing(solution, part):
            return _pulses_of(solution, part)
    return None


def _pulsing(solution: Solution, driver: Part) -> bool:
    supply, ground, _ = driver.nodes
    faulty = any(fault.part == driver.id for fault in solution.effect.faults)
    return (not faulty and 0.0 < solution.settings[driver.input] < 1.0
            and solution.voltage(supply) - solution.voltage(ground) > _LEAST_SUPPLY_V)


def _pulses_of(solution: Solution, driver: Part) -> Pulses:
    duty, amps = solution.settings[driver.input], -solution.terminal_currents[driver.nodes[2]]
    supply, ground, out = driver.nodes
    lift = _lift(solution, driver)
    nodes = solution.circuit.nodes
    on = {node: solution.voltage(node) - (1.0 - duty) * amps * lift[node] for node in nodes}
    off = {node: solution.voltage(node) + duty * amps * lift[node] for node in nodes}
    lost = amps * driver.parameters["on_ohm"]
    for node in _behind(solution, out):
        drop = solution.voltage(out) - solution.voltage(node)
        on[node] = on[supply] - lost - drop
        off[node] = off[ground] - lost - drop
    return Pulses(on, off, duty, driver.parameters["frequency_Hz"])


def _lift(solution: Solution, driver: Part) -> dict[str, float]:
    """Volts by which one ampere out of the supply pin and into the ground pin lowers a node."""
    circuit = solution.circuit
    motors = {part.id for part in circuit.parts.values() if part.kind == "motor"
              and set(part.nodes) & set(_behind(solution, driver.nodes[2]))}
    kept = [fault for fault in solution.effect.faults if fault.part not in motors]
    settings = dict(solution.settings) | {driver.input: 0.0}
    still = solve(circuit, settings, [*kept, *(f"{motor}:open" for motor in motors)], solution,
                  flat_inputs(solution))
    to = still.source_matrix(circuit.nodes)
    row = {node: number for number, node in enumerate(circuit.nodes)}
    s, g, earth = (row[node] for node in (*driver.nodes[:2], circuit.ground))
    # Z_ab = (R_a0 + R_b0 − R_ab) / 2, against ground 0
    moved = 0.5 * ((to[s, earth] - to[:, s]) - (to[g, earth] - to[:, g]))
    return dict(zip(circuit.nodes, np.asarray(moved).tolist(), strict=True))


def _behind(solution: Solution, out: str) -> tuple[str, ...]:
    """The driver's output and what wires join to it."""
    found, edge = [out], [out]
    while edge:
        here = edge.pop()
        for wire in solution.circuit.wires.values():
            for node, other in ((wire.start, wire.end), (wire.end, wire.start)):
                if node == here and other not in found:
                    found.append(other)
                    edge.append(other)
    return tuple(found)
