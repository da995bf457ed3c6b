"""Which tests a bench allows: an instrument at a place in a state, what it shows, its minutes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from coldbench.bench import Bench
from coldbench.bench.uncertainty import usual_minutes
from coldbench.diagnosis.from_bench.table import ShownTable
from coldbench.errors import InputError

# instruments by the names they have at a bench
LOOK, LIVE, CODES, GAUGES = "look", "live data", "stored codes", "gauges"
VENT, PIPE, FLOW = "vent thermometer", "pipe thermometer", "anemometer"
VOLTS, OHMS, CLAMP = "voltmeter", "ohmmeter", "current clamp"
GROUND = "ground"


@dataclass(frozen=True)
class BenchTest:
    """A test at a bench.

    name [unique]; instrument [its name at the bench]; place [where it is put: words or test point
    numbers]; state; keys [the readings it gives]; minutes [its cost].
    """

    name: str
    instrument: str
    place: tuple[Any, ...]
    state: str
    keys: tuple[str, ...]
    minutes: float


def _words(key: str, first: str) -> tuple[str, ...]:
    return (key.removeprefix(first).strip(),)


def _numbers(key: str) -> tuple[int, ...]:
    return tuple(int(one) for one in key.split()[1:])


# instrument → (does a reading's key belong to it, the place that a key stands for)
_SORTS: Mapping[str, tuple[Callable[[str], bool], Callable[[str], tuple]]] = {
    LOOK: (lambda k: k in ("clutch", "cycling", "head answers", "blower")
           or k.startswith(("door ", "display ", "fan ")), lambda k: ()),
    LIVE: (lambda k: k.startswith(("live ", "request ")), lambda k: ()),
    CODES: (lambda k: k.startswith("code "), lambda k: ()),
    VENT: (lambda k: k.startswith("vent ") and k != "vent flow", lambda k: _words(k, "vent")),
    FLOW: (lambda k: k.endswith(" flow"), lambda k: (k.removesuffix(" flow"),)),
    PIPE: (lambda k: k.startswith("pipe "), lambda k: _words(k, "pipe")),
    CLAMP: (lambda k: k.startswith("current "), lambda k: _words(k, "current")),
    VOLTS: (lambda k: k.startswith(("tp ", "volts ")),
            lambda k: (*_numbers(k), *((GROUND,) if k.startswith("tp ") else ()))),
    GAUGES: (lambda k: k.startswith("gauge "), lambda k: ()),
    OHMS: (lambda k: k.startswith("ohms "), _numbers),
}


def bench_tests(bench: Bench, table: ShownTable) -> tuple[BenchTest, ...]:
    """Return every test that a bench has the instrument, and a table the readings, for.

    Parameters
    ----------
    bench : Bench
        Its instruments, and their minutes where the bench file changes them.
    table : ShownTable
        Rows.

    Returns
    -------
    tuple of BenchTest
        The quickest first; of equal ones in the order of states and readings.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> from coldbench.diagnosis.from_bench.table import shown_table
    >>> bench = load_bench("blue")
    >>> table = shown_table(bench, ["key on"], [()], workers=1, keep=False)
    >>> [test.name for test in bench_tests(bench, table)][:3]
    ['look, key on', 'vent thermometer left, key on', 'vent thermometer right, key on']
    """
    found: dict[tuple, list[str]] = {}
    for state in table.states:
        shown: dict[str, None] = {}
        for case in table.cases:
            shown.update(dict.fromkeys(table.rows.get((state, case), ())))
        for key in shown:
            instrument, place = instrument_of(key)
            if _usable(bench, instrument, state):
                found.setdefault((state, instrument, place), []).append(key)
    cost = usual_minutes() | bench.instruments.minutes
    tests = [BenchTest(test_name(instrument, place, state), instrument, place, state,
                       tuple(keys), cost[instrument])
             for (state, instrument, place), keys in found.items()]
    return tuple(sorted(tests, key=lambda test: test.minutes))


def _usable(bench: Bench, instrument: str, state: str) -> bool:
    """Whether the workshop has an instrument, and it is not refused in a state."""
    ignition = bench.state(state).ignition
    refused = not ignition if instrument in (LIVE, CODES) else ignition and instrument == OHMS
    return instrument not in bench.instruments.leave_out and not refused


def instrument_of(key: str) -> tuple[str, tuple]:
    """Return the instrument that gives a reading, and where it is put.

    Parameters
    ----------
    key : str
        As in the values of a reading.

    Returns
    -------
    (str, tuple)

    Raises
    ------
    InputError
        If no instrument shows it.

    Examples
    --------
    >>> instrument_of("volts 5 6"), instrument_of("gauge high")
    (('voltmeter', (5, 6)), ('gauges', ()))
    """
    for instrument, (belongs, place) in _SORTS.items():
        if belongs(key):
            return instrument, place(key)
    raise InputError(f"no instrument is known for the reading {key!r}")


def test_name(instrument: str, place: tuple, state: str) -> str:
    """Return the name of a test, such as "voltmeter 5 to 6, full cooling".

    Parameters
    ----------
    instrument : str
        Instrument.
    place : tuple
        Where it is put.
    state : str
        Operating state.

    Returns
    -------
    str

    Examples
    --------
    >>> test_name("voltmeter", (12, "ground"), "key on")
    'voltmeter 12 to ground, key on'
    """
    return f"{' '.join([instrument, ' to '.join(map(str, place))]).strip()}, {state}"


test_name.__test__ = False  # not a test for pytest
