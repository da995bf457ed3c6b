"""Which tests a bench allows: an instrument at a place in a state, what it shows, its minutes."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from coldbench.bench import Bench
from coldbench.diagnosis.from_bench.table import ShownTable
from coldbench.errors import InputError

FILE = "minutes.toml"
LOOK, LIVE, CODES, GAUGES, VENT, PIPE = "look", "live", "codes", "gauges", "vent", "pipe"
FLOW, VOLTS, OHMS, CLAMP, METER = "anemometer", "volts", "ohms", "clamp", "meter"
GROUND = "ground"


@dataclass(frozen=True)
class BenchTest:
    """A test at a bench.

    name [unique]; sort ["volts" and "ohms" of the meter, else the instrument]; place [where it is
    put: words or test point numbers]; state; keys [the readings it gives]; minutes [its cost].
    """

    name: str
    sort: str
    place: tuple[Any, ...]
    state: str
    keys: tuple[str, ...]
    minutes: float

    @property
    def instrument(self) -> str:
        """The instrument's name at the bench."""
        return instrument_of(self.sort)


def instrument_of(sort: str) -> str:
    """Return the instrument of a sort of test.

    >>> instrument_of("ohms"), instrument_of("vent")
    ('meter', 'vent')
    """
    return METER if sort in (VOLTS, OHMS) else sort


@lru_cache(maxsize=1)
def minutes() -> dict[str, float]:
    """Return sort of test → minutes that a test with it takes [dict].

    Raises: InputError naming file, sort and reason.
    """
    text = resources.files("coldbench.diagnosis.from_bench").joinpath("data", FILE).read_text(
        "utf-8")
    found = tomllib.loads(text)
    for name in _SORTS:
        value = found.get(name)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 600:
            raise InputError(f"{FILE}: {name}: {value!r} is not a number of minutes, 0 to 600")
    return {name: float(found[name]) for name in _SORTS}


def _words(key: str, first: str) -> tuple[str, ...]:
    return (key.removeprefix(first).strip(),)


def _numbers(key: str) -> tuple[int, ...]:
    return tuple(int(one) for one in key.split()[1:])


# sort of test → (does a reading's key belong to it, the place that a key stands for)
_SORTS: Mapping[str, tuple[Callable[[str], bool], Callable[[str], tuple]]] = {
    LOOK: (lambda k: k in ("clutch", "cycling", "head answers") or k.startswith(("door ", "display ")),
           lambda k: ()),
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
    ['look, key on', 'vent left, key on', 'vent right, key on']
    """
    found: dict[tuple, list[str]] = {}
    for state in table.states:
        shown: dict[str, None] = {}
        for case in table.cases:
            shown.update(dict.fromkeys(table.rows.get((state, case), ())))
        for key in shown:
            sort, place = sort_of(key)
            if instrument_of(sort) in bench.instruments.available:
                found.setdefault((state, sort, place), []).append(key)
    cost = {sort: bench.instruments.minutes.get(instrument_of(sort), usual)
            for sort, usual in minutes().items()}
    tests = [BenchTest(test_name(sort, place, state), sort, place, state, tuple(keys),
                       cost[sort])
             for (state, sort, place), keys in found.items()]
    return tuple(sorted(tests, key=lambda test: test.minutes))


def sort_of(key: str) -> tuple[str, tuple]:
    """Return the sort of test that gives a reading, and where the instrument is put.

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
    >>> sort_of("volts 5 6"), sort_of("gauge high")
    (('volts', (5, 6)), ('gauges', ()))
    """
    for sort, (belongs, place) in _SORTS.items():
        if belongs(key):
            return sort, place(key)
    raise InputError(f"no instrument is known for the reading {key!r}")


def test_name(sort: str, place: tuple, state: str) -> str:
    """Return the name of a test, such as "volts 5 to 6, full cooling".

    Parameters
    ----------
    sort : str
        Sort of test.
    place : tuple
        Where it is put.
    state : str
        Operating state.

    Returns
    -------
    str

    Examples
    --------
    >>> test_name("volts", (12, "ground"), "key on")
    'volts 12 to ground, key on'
    """
    return f"{' '.join([sort, ' to '.join(map(str, place))]).strip()}, {state}"


test_name.__test__ = False  # not a test for pytest
