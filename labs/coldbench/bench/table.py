"""Every single fault of a bench in several states, read once and kept in a compact plain form.

Diagnosis takes its symptoms and its tests from such a table. It is worked out on several
processes if asked for; the result does not depend on how many.
"""

from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import NamedTuple

from coldbench.bench.catalogue import catalogue
from coldbench.bench.model import Bench
from coldbench.bench.reading import BenchReading, Measured, read
from coldbench.errors import ConvergenceError, InputError

HEALTHY = ""
MOST_WORKERS = 64
_AT_ONCE = 8  # cases handed to a process at a time


class Row(NamedTuple):
    """One reading: key → (value, uncertainty); codes; what the laws leave over.

    mass, energy: of the loop, as shares; power_W: of all branches of the wiring; limited: a trip
    cut the loop short, so that its heat does not balance.
    """

    values: dict[str, tuple[float, float]]
    cycling: bool
    codes: tuple[tuple[str, int], ...]
    mass: float
    energy: float
    power_W: float
    limited: bool


@dataclass(frozen=True, eq=False)
class FaultTable:
    """Readings of a bench: rows by (fault, state), the healthy bench under the fault `HEALTHY`."""

    bench: str
    states: tuple[str, ...]
    faults: tuple[str, ...]
    units: dict[str, tuple[str, str]]
    rows: dict[tuple[str, str], Row]

    def row(self, fault: str, state: str) -> Row:
        """Return one row [Row]. Raises: InputError if it is not in the table."""
        if (fault, state) not in self.rows:
            raise InputError(f"the table of {self.bench} has no fault {fault!r} in state {state!r}")
        return self.rows[fault, state]

    def measured(self, fault: str, state: str, key: str) -> Measured:
        """Return one reading with unit and label [Measured]. Raises: InputError."""
        row = self.row(fault, state)
        if key not in row.values:
            raise InputError(f"{self.bench} with {fault or 'no fault'} in state {state} shows no "
                             f"{key!r}")
        value, uncertain = row.values[key]
        unit, label = self.units[key]
        return Measured(value, unit, uncertain, label)

    def differences(self, fault: str, state: str) -> tuple[str, ...]:
        """Return the keys by which instruments tell a fault from the healthy bench [tuple]."""
        one, two = self.row(HEALTHY, state).values, self.row(fault, state).values
        return tuple(key for key in {**one, **two} if key not in one or key not in two
                     or abs(one[key][0] - two[key][0]) > one[key][1] + two[key][1])


def fault_table(bench: Bench, states: Iterable = (), faults: Iterable[str] | None = None,
                workers: int = 1) -> FaultTable:
    """Return the readings of single faults in several states.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    states : iterable of str or of (str, dict)
        Names of states, or a state's name with changed settings, which then is called
        "name key=value …"; all states of the bench if empty.
    faults : iterable of str, optional
        As `read` takes them; the whole catalogue if left out. The healthy bench is always there.
    workers : int
        Processes to use, 1 to 64; 1 works in this process.

    Returns
    -------
    FaultTable

    Raises
    ------
    InputError
        For an unknown state or fault.
    ConvergenceError
        If a bench could not be solved, naming fault and state.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> found = fault_table(load_bench("blue"), ["key on"], ["head:dead"])
    >>> len(found.rows), "head answers" in found.differences("head:dead", "key on")
    (2, True)
    """
    if not isinstance(workers, int) or not 1 <= workers <= MOST_WORKERS:
        raise InputError(f"workers is {workers!r}; accepted: 1 to {MOST_WORKERS}")
    states = [_state(one) for one in states or bench.states]
    faults = list(dict.fromkeys(one.id for one in catalogue(bench)) if faults is None
                  else dict.fromkeys(faults))
    cases = [(fault, *state) for fault in (HEALTHY, *faults) for state in states]
    read_rows = _in_turn if workers == 1 else _at_once
    rows, units = {}, {}
    for (fault, name, *_), (row, own) in zip(cases, read_rows(bench, cases, workers), strict=True):
        rows[fault, name] = row
        units |= own
    return FaultTable(bench.name, tuple(name for name, *_ in states), tuple(faults), units, rows)


def _state(given) -> tuple[str, str, tuple]:
    """Name in the table, state of the bench, changes."""
    if isinstance(given, str):
        return given, given, ()
    state, changes = given
    words = " ".join(f"{key}={value}" for key, value in changes.items())
    return f"{state} {words}".strip(), state, tuple(changes.items())


def _row(bench: Bench, case: tuple) -> tuple[Row, dict]:
    """Read one case."""
    fault, _, state, changes = case
    try:
        found = read(bench, state, [fault] if fault else [], set=dict(changes))
    except ConvergenceError as error:
        raise ConvergenceError(f"{fault or 'no fault'} in {state}: {error}") from None
    return row_of(found), {key: (one.unit, one.label) for key, one in found.values.items()}


def row_of(found: BenchReading) -> Row:
    """Return a reading in compact form [Row]."""
    values = {key: (one.value, one.uncertainty) for key, one in found.values.items()}
    left = found.loop.residuals
    return Row(values, found.cycling, found.codes, left.mass, left.energy,
               found.electrical.power_balance_W, "high-pressure trip" in found.loop.flags)


def _in_turn(bench: Bench, cases: list, workers: int) -> list:
    return [_row(bench, case) for case in cases]


_HERE: list[Bench] = []  # the bench of a worker process


def _at_once(bench: Bench, cases: list, workers: int) -> list:
    """Several processes; each gets the bench once."""
    with ProcessPoolExecutor(workers, initializer=_HERE.append, initargs=(bench,)) as pool:
        return list(pool.map(_row_here, cases, chunksize=_AT_ONCE))


def _row_here(case: tuple) -> tuple[Row, dict]:
    return _row(_HERE[-1], case)
