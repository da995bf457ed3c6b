"""A solved circuit's own branches made ready for time: windings get their inductance, motors
their inertia, coils their stray capacitance; relays move when their coil's current says so.

Open contacts, switches and drivers break down at the voltages in `instruments.toml`, so an
unsuppressed coil ends in an arc or in the driver's clamp, as it does in a vehicle.
Sources: stray capacitance, gap and clamp voltages are common practice.
"""

from collections.abc import Callable

import numpy as np

from coldbench.electrical.branches import ENERGISED, circuit_branches, part_branches
from coldbench.electrical.branches import Branch as Case
from coldbench.electrical.circuit import Circuit, Part
from coldbench.electrical.faults import Effect, effect_of
from coldbench.electrical.instruments.data import instrument
from coldbench.electrical.instruments.dynamic import Capacitance, Static, Turning, Winding
from coldbench.electrical.instruments.transient import Branch, Event, Network
from coldbench.electrical.laws import CURVED
from coldbench.electrical.network import network_of
from coldbench.electrical.solution import Solution
from coldbench.electrical.solver import relay_thresholds

_BROKEN_DOWN_OHM = 1.0  # slope of a gap that has broken down
_MOST_MOVES = 400


class TimeNetwork:
    """One case ready to march; `network` marches, `energised` tells where the relays are."""

    def __init__(self, before: Solution, settings: dict[str, float | bool]) -> None:
        self.circuit, self.settings = before.circuit, settings
        effect = effect_of(self.circuit, before.effect.faults, settings, before.inputs)
        self.compiled = network_of(self.circuit, effect.extra)
        self.cases = case_branches(self.circuit, effect, settings, before.inputs)
        self.energised = dict(before.energised)
        operate, release = relay_thresholds(self.circuit, effect, self.compiled)
        self.limits = dict(zip(self.compiled.coils, zip(operate, release, strict=True),
                               strict=True))
        self.network = Network(len(self.compiled.nodes))
        self.moves = 0
        for branch in self.cases:
            self._add(branch)
        self.set_contacts()

    def _add(self, branch: Case) -> None:
        """One branch of the case, as a branch or a part of the marching network."""
        key = branch.key
        while key in self.network.branches or key in self.network.parts:
            key += "'"
        a, b = self.compiled.number(branch.a), self.compiled.number(branch.b)
        if a == b:
            return
        if branch.law != "linear":
            self._add_curved(key, branch, a, b)
        elif self._is_winding(branch) and branch.values[0] > 0.0:
            self._add_winding(key, branch.part, a, b, 1.0 / branch.values[0])
        else:
            g, emf = branch.values
            self.network.branches[key] = Branch(a, b, g, -g * emf)
            self._add_gap(key, branch, a, b)

    def _is_winding(self, branch: Case) -> bool:
        part = self.circuit.parts.get(branch.part)
        return part is not None and (part.kind, branch.name) in (("relay", "coil"), ("coil", ""))

    def _add_winding(self, key: str, part: str, a: int, b: int, ohm: float) -> None:
        henry = self.circuit.parts[part].parameters["coil_henry"]
        self.network.parts[key] = Winding(a, b, ohm, henry)
        stray = instrument("scope").extra["stray_F"]
        if henry > 0.0:
            # the winding's own losses calm its ringing at about one swing
            self.network.parts[f"{key}.stray"] = Capacitance(a, b, stray,
                                                             (henry / stray) ** 0.5)

    def _add_curved(self, key: str, branch: Case, a: int, b: int) -> None:
        gate, shunt, *law = branch.values
        if shunt:
            self.network.branches[f"{key}.beside"] = Branch(a, b, shunt)
        if not gate:
            return
        if branch.law == "motor":
            known = self.circuit.parts[branch.part].parameters
            self.network.parts[key] = Turning(a, b, *law, known["inductance_H"],
                                              known["inertia_kg_m2"])
        else:
            self.network.parts[key] = Static(a, b, curve(branch.law, gate, law))

    def _add_gap(self, key: str, branch: Case, a: int, b: int) -> None:
        part = self.circuit.parts.get(branch.part)
        kind = part.kind if part else ""
        if kind == "switch" or branch.when:
            volts = instrument("scope").extra["gap_V"]
        elif kind == "low_side_driver":
            volts = instrument("scope").extra["driver_clamp_V"]
        else:
            return
        self.network.parts[f"{key}.gap"] = Static(a, b, breakdown(volts))

    def set_contacts(self) -> None:
        """Put every contact where its relay is."""
        for branch in self.cases:
            if branch.when:
                closed = self.energised[branch.part] == (branch.when == ENERGISED)
                self.network.branches[branch.key].g = branch.values[0] if closed else 0.0

    def move_relays(self, network: Network, voltages: np.ndarray) -> str:
        """Let relays follow their coil currents; words for those that moved."""
        moved = []
        for relay, (operate_A, release_A) in self.limits.items():
            coil = network.parts.get(f"{relay}.coil")
            current = abs(coil.current) if coil else 0.0
            wanted = current >= (release_A if self.energised[relay] else operate_A)
            if wanted != self.energised[relay] and self.moves < _MOST_MOVES:
                self.energised[relay] = wanted
                moved.append(f"{relay} {'operates' if wanted else 'releases'}")
        self.moves += len(moved)
        if moved:
            self.set_contacts()
        return ", ".join(moved)

    def pulses(self, duration_s: float) -> list[Event]:
        """Switchings of every pulse-width driver over a time [s]."""
        return [event for part in self.circuit.parts.values() if part.kind == "pwm_driver"
                for event in self._pulses_of(part, duration_s)]

    def _pulses_of(self, part: Part, duration_s: float) -> list[Event]:
        duty = self._duty(part)
        if not 0.0 < duty < 1.0:
            return []
        period = 1.0 / part.parameters["frequency_Hz"]
        starts = np.arange(0.0, duration_s, period)
        on, off = self._switched(part, 1.0), self._switched(part, 0.0)
        return [(float(t), on) for t in starts] + [
            (float(t + duty * period), off) for t in starts]

    def _duty(self, part: Part) -> float:
        """Share of the time the driver really is on, faults included."""
        high, low = (self.network.branches[key].g for key in (part.id, f"{part.id}.low"))
        return high / (high + low) if high + low > 0.0 else 0.0

    def _switched(self, part: Part, duty: float) -> Callable[[Network], str]:
        """Action that puts a pulse-width driver fully on or off."""
        table = {b.key: b.values[0] for b in part_branches(part, part.parameters, duty)}

        def action(network: Network) -> str:
            for key, siemens in table.items():
                network.branches[key].g = siemens
            return f"{part.id} {'on' if duty else 'off'}"
        return action


def case_branches(circuit: Circuit, effect: Effect, settings: dict, inputs: dict) -> list[Case]:
    """Return all branches of a case, contacts with the position in which they conduct.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    effect : Effect
        What its faults do.
    settings : dict
        Control inputs.
    inputs : dict
        Part → changed parameters.

    Returns
    -------
    list of branches
    """
    table = circuit_branches(circuit, settings, inputs) | effect.branches
    return [branch for group in table.values() for branch in group] + list(effect.extra)


def curve(law: str, share: float, values: list[float]) -> Callable[[float], tuple[float, float]]:
    """Return a law of the solver as a function of one voltage.

    Parameters
    ----------
    law : str
        diode, lamp, regulator or photo.
    share : float
        Factor on the current.
    values : list of float
        Values of the law.

    Returns
    -------
    function
        Voltage [V] → (current [A], slope [S]).

    Examples
    --------
    >>> curve("diode", 1.0, [1e-9, 0.05, 0.8])(0.0)[0]
    0.0
    """
    function = CURVED[law][0]

    def at(v: float) -> tuple[float, float]:
        current, slope = function(np.asarray(v), *values)
        return share * float(current), share * float(slope)
    return at


def breakdown(volts: float) -> Callable[[float], tuple[float, float]]:
    """Return the law of a gap that carries current beyond a voltage, either way round.

    Parameters
    ----------
    volts : float
        Where it breaks down [V].

    Returns
    -------
    function
        Voltage [V] → (current [A], slope [S]).

    Examples
    --------
    >>> breakdown(60.0)(62.0), breakdown(60.0)(-10.0)
    ((2.0, 1.0), (0.0, 0.0))
    """
    def at(v: float) -> tuple[float, float]:
        beyond = abs(v) - volts
        if beyond <= 0.0:
            return 0.0, 0.0
        return float(np.sign(v)) * beyond / _BROKEN_DOWN_OHM, 1.0 / _BROKEN_DOWN_OHM
    return at
