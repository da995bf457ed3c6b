"""Oscilloscope: how voltages and currents move after a switching, from the circuit itself.

At t = 0 the inputs change from the settings of a solved state to new ones. Drivers and switches
follow at once, relays when their coil's current reaches them, motors as their inertia lets
them; a pulse-width driver switches at its frequency. The record is a solution of the same parts
as the steady one, and ends there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from coldbench.electrical.instruments.data import instrument
from coldbench.electrical.instruments.time_network import TimeNetwork
from coldbench.electrical.instruments.transient import March, across, march, settle
from coldbench.electrical.solution import Solution
from coldbench.errors import InputError

Place = str | int
Channel = tuple[Place, Place] | str
LONGEST_S, SHORTEST_S = 60.0, 1e-6


@dataclass(frozen=True, eq=False)
class Trace:
    """A record: times [s], one row for each channel [V or A], what switched and when [s]."""

    times: np.ndarray
    values: dict[str, np.ndarray]
    units: dict[str, str]
    events: tuple[tuple[float, str], ...]
    accuracy: float

    def peak(self, channel: str) -> float:
        """Return the value farthest from zero.

        >>> peak = Trace(np.array([0.0, 1.0]), {"A": np.array([2.0, -3.0])}, {}, (), 0.03).peak
        >>> peak("A")
        -3.0
        """
        row = self.values[channel]
        return float(row[np.abs(row).argmax()])

    def mean(self, channel: str, since_s: float = 0.0) -> float:
        """Return the mean over time from `since_s` on.

        >>> mean = Trace(np.array([0.0, 1.0]), {"A": np.array([2.0, 3.0])}, {}, (), 0.03).mean
        >>> mean("A")
        2.5
        """
        kept = self.times >= since_s
        times, row = self.times[kept], self.values[channel][kept]
        return float(np.trapezoid(row, times) / (times[-1] - times[0]))


def scope(before: Solution, state: str | dict, channels: Sequence[Channel],
          duration_s: float) -> Trace:
    """Return the record of a switching.

    Parameters
    ----------
    before : Solution
        Steady state before t = 0; its faults and inputs stay.
    state : str or dict
        Settings from t = 0 on: a state's name or {input: value}.
    channels : sequence
        (red, black) places for a voltage; the id of a wire, motor, winding ("K1.coil") or
        other part for a current.
    duration_s : float
        1 µs to 60 s.

    Returns
    -------
    Trace
        Channels named "red–black" or by the id.

    Raises
    ------
    InputError
        Unknown place or id, or duration out of range.
    ConvergenceError
        No solution.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> fans = load_circuit("three-relay-fans")
    >>> start = scope(solve(fans, "off"), "low", ["M1"], 1.0)
    >>> 30.0 < start.peak("M1") < 36.0  # two standing fans in series
    True
    """
    if not SHORTEST_S <= duration_s <= LONGEST_S:
        raise InputError(f"oscilloscope: duration {duration_s:g} s is outside 1e-6 to 60 s")
    record, case = transient(before, state, duration_s)
    values, units = {}, {}
    for channel in channels:
        name, unit, row = _row(before, case, record, channel)
        values[name], units[name] = row, unit
    return Trace(record.times, values, units, tuple(record.events),
                 instrument("scope").accuracy)


def transient(before: Solution, state: str | dict,
              duration_s: float) -> tuple[March, TimeNetwork]:
    """Return the march from a solved state into new settings, and the network that marched.

    Parameters
    ----------
    before : Solution
        Steady state before t = 0.
    state : str or dict
        Settings from t = 0 on.
    duration_s : float
        Length [s].

    Returns
    -------
    tuple of March and TimeNetwork
    """
    resting = TimeNetwork(before, before.settings)
    start = settle(resting.network, np.array(before.node_volts))
    case = TimeNetwork(before, before.circuit.settings(state))
    for key, part in case.network.parts.items():
        if key in resting.network.parts:
            old = vars(resting.network.parts[key])
            vars(part).update({name: old[name] for name in part.memory})
    pulses = case.pulses(duration_s)
    return march(case.network, start, duration_s, pulses, case.move_relays), case


def _row(before: Solution, case: TimeNetwork, record: March,
         channel: Channel) -> tuple[str, str, np.ndarray]:
    """Name, unit and values of one channel."""
    if isinstance(channel, str):
        return channel, "A", _current(case, record, channel)
    red, black = channel
    ends = [case.compiled.number(before.circuit.node(place)) for place in (red, black)]
    row = np.array([across(volts, *ends) for volts in record.voltages])
    return f"{red}–{black}", "V", row


def _current(case: TimeNetwork, record: March, key: str) -> np.ndarray:
    """Current of a part with memory, or of a wire or contact that is not switched."""
    if key in record.currents:
        return record.currents[key]
    if key in case.network.branches:
        return record.branch_currents[key]
    known = ", ".join(k for k in (*record.currents, *case.network.branches)
                      if not k.endswith((".gap", ".stray", ".beside")))
    raise InputError(f"oscilloscope: no current {key!r}; there are {known}")
