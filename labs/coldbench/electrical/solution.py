"""The operating point of a circuit: voltages, currents, relays, motors, fuses, notes.

Signs: a wire's current runs from its `from` to its `to`; a part's from its first terminal to its
second through the part; a source's out of its plus terminal; a relay's main current from 30 to
87, its coil's from 86 to 85.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from coldbench.electrical.circuit import Circuit
from coldbench.electrical.faults import Effect
from coldbench.electrical.fuses import fuse_words
from coldbench.electrical.laws import CURVED, motor_speed
from coldbench.electrical.network import Network
from coldbench.electrical.star_mesh import GROUND, solve

RPM = 30.0 / math.pi
FED_V = 0.12  # across a motor that does not turn
LOST_GROUND_V = 1.0  # a control unit's ground this far from the battery's is as good as none


class MotorState(NamedTuple):
    """Speed [1/min, signed] and "running", "stalled" (current but no turning) or "stopped"."""

    rpm: float
    state: str


class FuseState(NamedTuple):
    """Current over rating, and when it opens ("" if it stands the load)."""

    load_share: float
    words: str


@dataclass(frozen=True, eq=False)
class Solution:
    """One solved case; everything but the node voltages is worked out when asked for.

    values: of each branch as solved, contacts in their positions; energised: relay → position of
    its armature; buzzing: relays that find no rest.
    """

    circuit: Circuit
    settings: dict[str, float | bool]
    inputs: dict[str, dict]
    effect: Effect
    network: Network
    node_volts: tuple[float, ...]
    values: tuple[tuple[float, ...], ...]
    energised: dict[str, bool]
    buzzing: frozenset[str]

    @cached_property
    def voltages(self) -> dict[str, float]:
        """Voltage of every node against ground [V]."""
        return {self.circuit.ground: 0.0} | dict(zip(self.network.nodes, self.node_volts,
                                                     strict=True))

    def voltage(self, place: str | int) -> float:
        """Voltage of a node or test point against ground [V]. Raises: InputError."""
        node = place if place in self.voltages else self.circuit.node(place)
        return self.voltages[node]

    def across(self, position: int) -> float:
        """Voltage across a branch of the network [V], by its position."""
        a, b = self.network.ends[position]
        volts = self.node_volts
        return (volts[a] if a != GROUND else 0.0) - (volts[b] if b != GROUND else 0.0)

    def _linear_current(self, position: int) -> float:
        siemens, emf = self.values[position]
        return siemens * (self.across(position) - emf) if siemens else 0.0

    def main_current(self, part: str) -> float:
        """Current of the main branch of a part with a linear law [A]: fuse, coil, resistor."""
        return self._linear_current(self.network.places[part][0])

    @cached_property
    def branch_currents(self) -> tuple[float, ...]:
        """Current of every branch of the network [A], from its first node to its second."""
        found = [0.0] * len(self.network.branches)
        for n, branch in enumerate(self.network.branches):
            if branch.law == "linear":
                found[n] = self._linear_current(n)
        for law, places in self.network.curved.items():
            volts = np.array([self.across(n) for n in places])
            gate, shunt, *own = np.array([self.values[n] for n in places]).T
            current = gate * CURVED[law][0](volts, *own)[0] + shunt * volts
            for n, amps in zip(places, current.tolist(), strict=True):
                found[n] = amps
        return tuple(found)

    @cached_property
    def terminal_currents(self) -> dict[str, float]:
        """Current into each terminal of each part [A]."""
        found = {node: 0.0 for part in self.circuit.parts.values() for node in part.nodes}
        for branch, amps in zip(self.network.branches, self.branch_currents, strict=True):
            if branch.part in self.circuit.parts:
                for node, sign in ((branch.a, 1.0), (branch.b, -1.0)):
                    if node in found:
                        found[node] += sign * amps
        return found

    @cached_property
    def currents(self) -> dict[str, float]:
        """Current of every part and wire [A]; also "K1.coil", "K1.break" and the like."""
        found = {}
        for branch, amps in zip(self.network.branches, self.branch_currents, strict=True):
            if branch.name not in ("leak", "supply", "crossed"):
                found[branch.key] = amps
            elif branch.name == "crossed":
                found[branch.part] += amps
        for part in self.circuit.parts.values():
            first = self.terminal_currents[part.nodes[0]]
            if part.kind in ("source", "reference"):
                found[part.id] = -first
            elif part.kind == "logic_input":
                found[part.id] = first
            elif part.kind in ("pwm_driver", "ratio_output"):
                found[part.id] = -self.terminal_currents[part.nodes[2]]
        return found

    @cached_property
    def relays(self) -> dict[str, str]:
        """Relay → "energised", "released" or "buzzing"."""
        return {relay: "buzzing" if relay in self.buzzing
                else "energised" if on else "released" for relay, on in self.energised.items()}

    @cached_property
    def motors(self) -> dict[str, MotorState]:
        """Motor → speed and state; below 1 % of 12 V across it a motor counts as not fed."""
        found = {}
        for n, branch in enumerate(self.network.branches):
            if branch.law == "motor":
                gate, _, *own = self.values[n]
                volts = self.across(n)
                rpm = gate * float(motor_speed(np.array(volts), *own)) * RPM
                fed = gate * abs(volts) > FED_V
                state = "running" if rpm else "stalled" if fed else "stopped"
                found[branch.part] = MotorState(rpm, state)
        return found

    @cached_property
    def fuses(self) -> dict[str, FuseState]:
        """Fuse → load over rating, and when it opens."""
        found = {}
        for part in self.circuit.parts.values():
            if part.kind == "fuse":
                share = abs(self.main_current(part.id)) / part.parameters["rating_A"]
                found[part.id] = FuseState(share, fuse_words(share))
        return found

    @cached_property
    def overloaded(self) -> tuple[str, ...]:
        """Fuses that open under this load."""
        return tuple(fuse for fuse, state in self.fuses.items() if state.words)

    @property
    def opens_first(self) -> str:
        """The fuse that opens first under this load, "" if all stand it.

        That with the most load for its rating: it may spare those before it.
        """
        return max(self.overloaded, key=lambda fuse: self.fuses[fuse].load_share, default="")

    @cached_property
    def blown(self) -> tuple[str, ...]:
        """Fuses that a fault leaves open."""
        return tuple(f.part for f in self.effect.faults
                     if f.mode == "blown" and self.circuit.parts[f.part].kind == "fuse")

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What a person should be told, in words."""
        notes = [f"{relay} buzzes: it finds no steady position; voltages are for {relay} released"
                 for relay in self.relays if relay in self.buzzing]
        notes += [f"{fuse} carries {100 * state.load_share:.0f} % of its rating and {state.words}"
                  for fuse, state in self.fuses.items() if state.words]
        notes += [f"{motor} is stalled" for motor, state in self.motors.items()
                  if state.state == "stalled"]
        notes += [f"{part.id} has lost its ground: what a control unit does then is not modelled, "
                  "so take voltages on its lines as unsure"
                  for part in self.circuit.parts.values()
                  if part.kind in ("logic_input", "reference")
                  and abs(self.voltages[part.nodes[1]]) > LOST_GROUND_V]
        return tuple(notes)

    @cached_property
    def power_balance_W(self) -> float:
        """Power of all branches added up, sources negative [W]; 0 by Tellegen's theorem."""
        return math.fsum(self.across(n) * amps for n, amps in enumerate(self.branch_currents))

    @cached_property
    def _tangent(self) -> tuple:
        from coldbench.electrical.tangent import tangent

        return tangent(self.network, self.node_volts, self.values)

    def thevenin(self, red: str | int, black: str | int | None = None) -> tuple[float, float]:
        """Open-circuit voltage [V] and source resistance [ohm] seen between two places.

        black None means ground. The resistance is that of small changes about this point.
        Raises: InputError for an unknown place.
        """
        black = self.circuit.ground if black is None else black
        volts = self.voltage(red) - self.voltage(black)
        plan, mesh, factors = self._tangent
        injected = [0.0] * plan.size
        ends = [self.network.number(self._node(place)) for place in (red, black)]
        for node, sign in zip(ends, (1.0, -1.0), strict=True):
            if node != GROUND:
                injected[node] += sign
        moved = solve(plan, mesh, factors, injected)
        first, second = ((moved[n] if n != GROUND else 0.0) for n in ends)
        return volts, first - second

    def _node(self, place: str | int) -> str:
        return place if place in self.voltages else self.circuit.node(place)

    @cached_property
    def source_ohms(self) -> dict[str, float]:
        """Source resistance of every node against ground [ohm]."""
        plan, mesh, factors = self._tangent
        unit = list(np.eye(plan.size))
        moved = solve(plan, mesh, factors, unit)
        return {self.circuit.ground: 0.0} | {
            node: float(moved[n][n]) for n, node in enumerate(self.network.nodes)}

    def source_matrix(self, places: Sequence[str]) -> np.ndarray:
        """Source resistance between every two of some nodes [ohm], array (places, places).

        R_ab = Z_aa + Z_bb − Z_ab − Z_ba, as `thevenin` gives it pair by pair.
        """
        plan, mesh, factors = self._tangent
        moved = np.zeros((plan.size + 1, plan.size + 1))  # the last is the reference
        moved[:-1, :-1] = np.array(solve(plan, mesh, factors, list(np.eye(plan.size))))
        at = [self.network.number(self._node(place)) for place in places]
        at = [plan.size if n == GROUND else n for n in at]
        z = moved[np.ix_(at, at)]
        own = np.diag(z)
        return own[:, None] + own[None, :] - z - z.T
