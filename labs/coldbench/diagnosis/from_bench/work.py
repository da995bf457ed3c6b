"""Simulating many cases of a bench, on several processes where that pays."""

import itertools
import os
import pickle
from collections.abc import Iterator, Sequence
from functools import lru_cache

from coldbench.bench import Bench, read
from coldbench.bench.source import with_senses
from coldbench.bench.uncertainty import uncertainty
from coldbench.diagnosis.from_bench.cache import Store
from coldbench.diagnosis.from_bench.table import Case, Key, Row
from coldbench.electrical import Solution
from coldbench.electrical.instruments import Reading, instrument, power_off, voltmeter
from coldbench.electrical.instruments.reading import read_display
from coldbench.errors import ConvergenceError

FEW = 60  # below this many rows, starting further processes takes longer than the work
CHUNK = 8
NAN = float("nan")
Wanted = tuple[str, Case]


def simulate(bench: Bench, wanted: Sequence[Wanted], workers: int | None = None) -> Store:
    """Return the rows of (state, case) pairs.

    Parameters
    ----------
    bench : Bench
        The bench.
    wanted : sequence of (str, tuple of str)
        States and cases.
    workers : int, optional
        Processes; as many as there are processors if left out.

    Returns
    -------
    Store
        A case that the solver cannot solve stands among its `failed`, with the reason.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> sorted(simulate(load_bench("blue"), [("key on", ())], 1).rows)
    [('key on', ())]
    """
    workers = workers or os.cpu_count() or 1
    if workers == 1 or len(wanted) < FEW:
        return _gathered(_one(bench, *pair) for pair in wanted)
    return _gathered(_spread(bench, wanted, workers))


def _spread(bench: Bench, wanted: Sequence[Wanted], workers: int) -> Iterator[tuple]:
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor
    from dataclasses import replace

    sent = pickle.dumps(replace(bench, memory={}))
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, initializer=_keep_bench,
                             initargs=(sent,)) as pool:
        yield from pool.map(_kept_one, wanted, chunksize=CHUNK)


_kept: list[Bench] = []


def _keep_bench(sent: bytes) -> None:
    _kept.append(pickle.loads(sent))  # made by this program a moment ago


def _kept_one(pair: Wanted) -> tuple:
    return _one(_kept[-1], *pair)


def _gathered(found) -> Store:
    rows, keys, failed = {}, {}, {}
    for pair, row, named, reason in found:
        if reason:
            failed[pair] = reason
        else:
            rows[pair] = row
            keys.update(named)
    return Store(rows, keys, failed)


def _one(bench: Bench, state: str, case: Case) -> tuple[Wanted, Row, dict[str, Key], str]:
    try:
        reading = read(bench, state, case)
    except ConvergenceError as error:
        return (state, case), {}, {}, str(error)
    values = with_senses(reading)
    row = {key: (one.value, one.uncertainty) for key, one in values.items()}
    keys = {key: Key(one.unit, one.label) for key, one in values.items()}
    row |= _metered(bench, reading.electrical, row)
    dead = None if reading.settings.ignition else power_off(reading.electrical)
    for key, name, value in _between(bench, reading.electrical, dead):
        row[key], keys[key] = value, name
    return (state, case), row, keys, ""


def _metered(bench: Bench, solved: Solution, row: Row) -> Row:
    """Test points and currents as the workshop's meters show them."""
    ground = bench.circuit.ground
    found = {f"tp {number}": _volts(voltmeter(solved, point.at, ground))
             for number, point in bench.circuit.test_points.items()}
    meter = instrument("clamp")
    return found | {key: _pair(read_display(meter, value)) for key, (value, _) in row.items()
                    if key.startswith("current ")}


def _pair(shown: Reading) -> tuple[float, float]:
    """Value and uncertainty; NaN where the display shows no steady number."""
    return (NAN, 0.0) if shown.floating or shown.overload else (shown.value, shown.uncertainty)


def _volts(shown: Reading) -> tuple[float, float]:
    """As `_pair`, but no finer than the workshop trusts."""
    value, around = _pair(shown)
    return value, trusted(shown.unit, value, around) if around else 0.0


def trusted(unit: str, value: float, around: float) -> float:
    """Return the uncertainty that a proof may rest on.

    A meter's finest range tells millivolts apart, where a touch of the leads does as much: volts
    count no finer than `bench/data/instruments.toml` says.

    Parameters
    ----------
    unit : str
        Of the reading.
    value, around : float
        Reading, and the uncertainty of the instrument itself [unit of the reading].

    Returns
    -------
    float
        The larger of the two [unit of the reading].

    Examples
    --------
    >>> trusted("V", -0.035, 0.0004), trusted("ohm", 0.2, 0.1)
    (0.01, 0.1)
    """
    return max(around, uncertainty(unit, "volts", value)) if unit == "V" else around


def _between(bench: Bench, solved: Solution, dead: Solution | None) -> Iterator[tuple]:
    """Volts between neighbouring test points; ohms there where the circuit may be made dead."""
    points = bench.circuit.test_points
    for what, red, black in neighbours(bench):
        label = f"test point {red} to {black}, across {what}"
        a, b = points[red].at, points[black].at
        if bench.circuit.ground not in (a, b):  # that is the reading of the test point itself
            yield f"volts {red} {black}", Key("V", label), _volts(voltmeter(solved, a, b))
        if dead is not None:
            yield (f"ohms {red} {black}", Key("ohm", label),
                   _pair(read_display(instrument("ohmmeter"), dead.thevenin(a, b)[1])))


def neighbours(bench: Bench) -> tuple[tuple[str, int, int], ...]:
    """Return (part or wire, test point, test point) where one of them lies between two points.

    Parameters
    ----------
    bench : Bench
        The bench.

    Returns
    -------
    tuple of (str, int, int)

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> ("M1", 5, 6) in neighbours(load_bench("blue"))
    True
    """
    return _neighbours(bench)


@lru_cache(maxsize=8)
def _neighbours(bench: Bench) -> tuple[tuple[str, int, int], ...]:
    circuit = bench.circuit
    at = {point.at: number for number, point in circuit.test_points.items()}
    ends = [(wire.id, (wire.start, wire.end)) for wire in circuit.wires.values()]
    ends += [(part.id, pair) for part in circuit.parts.values()
             for pair in itertools.combinations(
                 [f"{part.id}.{name}" for name in part.definition.terminals], 2)]
    seen: dict[tuple[int, int], str] = {}
    for name, (a, b) in ends:
        if a in at and b in at:
            seen.setdefault((at[a], at[b]), name)
    return tuple((name, red, black) for (red, black), name in seen.items())
