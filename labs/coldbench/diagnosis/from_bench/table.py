"""What a bench shows under many faults: a table of readings, made once and kept.

A *case* is a tuple of fault ids, () for the healthy bench; a *row* is everything that instruments
show of one case in one state. `shown_table` simulates what the cache does not hold yet.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from coldbench.bench import Bench, Measured

Case = tuple[str, ...]
Row = dict[str, tuple[float, float]]


class Key(NamedTuple):
    """What a reading's key stands for: its unit and words."""

    unit: str
    label: str


@dataclass(frozen=True, eq=False)
class Shown:
    """One row as instruments show it: `values` maps a key to Measured, as a bench reading does.

    value NaN: the instrument shows no steady number there.
    """

    state: str
    faults: Case
    values: Mapping[str, Measured]


@dataclass(frozen=True, eq=False)
class ShownTable:
    """Rows by state and case; get one from `shown_table`.

    rows [(state, case) → {key: (value, ±)}]; keys [key → unit and words]; failed [(state, case) →
    why no row could be had].
    """

    bench: str
    states: tuple[str, ...]
    cases: tuple[Case, ...]
    rows: Mapping[tuple[str, Case], Row]
    keys: Mapping[str, Key]
    failed: Mapping[tuple[str, Case], str]

    def row(self, state: str, case: Iterable[str]) -> Row | None:
        """Return the readings of a case in a state, None where the bench could not be solved."""
        return self.rows.get((state, tuple(case)))

    def shown(self, state: str, case: Iterable[str]) -> Shown:
        """Return a row as `Shown`; empty where the bench could not be solved."""
        row = self.row(state, case) or {}
        return Shown(state, tuple(case), {
            key: Measured(value, self.keys[key].unit, around, self.keys[key].label)
            for key, (value, around) in row.items()})

    def complete(self) -> tuple[Case, ...]:
        """Return the cases that have a row in every state."""
        return tuple(case for case in self.cases
                     if all((state, case) in self.rows for state in self.states))


def differ(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Say whether an instrument could tell two readings (value, ±) apart.

    |a − b| > ±a + ±b; a steady reading differs from an unsteady one (NaN).

    Parameters
    ----------
    one, other : (float, float)
        Value and uncertainty, same unit.

    Returns
    -------
    bool

    Examples
    --------
    >>> differ((20.0, 0.5), (20.9, 0.5)), differ((20.0, 0.5), (21.1, 0.5))
    (False, True)
    """
    if math.isnan(one[0]) or math.isnan(other[0]):
        return math.isnan(one[0]) != math.isnan(other[0])
    return abs(one[0] - other[0]) > one[1] + other[1]


def changed_keys(before: Row, after: Row) -> Iterator[str]:
    """Yield the keys whose readings instruments could tell apart, in the order of the rows."""
    for key in {**before, **after}:
        if (key in before) != (key in after) or differ(before[key], after[key]):
            yield key


def shown_table(bench: Bench, states: Iterable[str], cases: Iterable[Case],
                workers: int | None = None, keep: bool = True) -> ShownTable:
    """Return what a bench shows in some states under some cases.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    states : iterable of str
        Operating states.
    cases : iterable of tuple of str
        Fault ids of each case; () is the healthy bench.
    workers : int, optional
        Processes; 1 works in this one. As many as there are processors if left out.
    keep : bool
        Take rows from the user's cache folder, and put new ones there.

    Returns
    -------
    ShownTable

    Raises
    ------
    InputError
        For an unknown state or fault.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> table = shown_table(load_bench("blue"), ["full cooling"], [(), ("undercharge",)],
    ...                     workers=1, keep=False)
    >>> table.row("full cooling", ["undercharge"])["gauge high"][0] < table.row(
    ...     "full cooling", [])["gauge high"][0]
    True
    """
    from coldbench.bench import bench_faults
    from coldbench.diagnosis.from_bench import cache, work

    states, cases = tuple(dict.fromkeys(states)), tuple(dict.fromkeys(map(tuple, cases)))
    for state in states:
        bench.state(state)
    for case in cases:
        bench_faults(bench, case)
    known = cache.load(bench) if keep else cache.Store()
    missing = [(state, case) for state in states for case in cases
               if (state, case) not in known.rows and (state, case) not in known.failed]
    if missing:
        known = known.joined(work.simulate(bench, missing, workers))
        if keep:
            cache.save(bench, known)
    wanted = [(state, case) for state in states for case in cases]
    return ShownTable(bench.name, states, cases,
                      {one: known.rows[one] for one in wanted if one in known.rows}, known.keys,
                      {one: known.failed[one] for one in wanted if one in known.failed})
