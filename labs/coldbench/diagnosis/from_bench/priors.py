"""How likely each fault is before anything is measured, from `data/priors.toml`."""

import tomllib
from functools import lru_cache
from importlib import resources

from coldbench.bench import Bench, BenchFault
from coldbench.errors import InputError

FILE = "priors.toml"
LOOP, HEAD, DOOR, WIRE, OTHER = "refrigerant loop", "control head", "door", "wire", "other"


@lru_cache(maxsize=1)
def weights() -> dict[str, dict[str, float]]:
    """Return kind of part → mode of fault → weight [dict].

    Raises: InputError naming file, kind, mode and reason.
    """
    text = resources.files("coldbench.diagnosis.from_bench").joinpath("data", FILE).read_text(
        "utf-8")
    return checked_weights(tomllib.loads(text))


def checked_weights(tables: dict) -> dict[str, dict[str, float]]:
    """Return weights from the tables of a file.

    Parameters
    ----------
    tables : dict
        Kind of part → {mode: weight}; each kind has a mode "other".

    Returns
    -------
    dict

    Raises
    ------
    InputError
        Naming file, kind, mode and reason.

    Examples
    --------
    >>> checked_weights({"other": {"open": 2, "other": 1}})["other"]["open"]
    2.0
    """
    found: dict[str, dict[str, float]] = {}
    for kind, table in tables.items():
        if not isinstance(table, dict) or OTHER not in table:
            raise InputError(f"{FILE}: {kind}: wants a table of weights with one for \"other\"")
        for mode, value in table.items():
            if isinstance(value, bool) or not isinstance(value, int | float) or not (
                    0.0 < value <= 1000.0):
                raise InputError(f"{FILE}: {kind}: {mode}: {value!r:.40} is not a number above 0 "
                                 "and up to 1000")
        found[kind] = {mode: float(value) for mode, value in table.items()}
    if OTHER not in found:
        raise InputError(f"{FILE}: lacks the table \"other\"")
    return found


def weight(bench: Bench, fault: BenchFault) -> float:
    """Return the weight of a fault.

    Parameters
    ----------
    bench : Bench
        The bench.
    fault : BenchFault
        Of its catalogue.

    Returns
    -------
    float
        Vehicles with this fault among a thousand that come in with a complaint about the
        climate system [-]; only ratios count for the order of tests.

    Examples
    --------
    >>> from coldbench.bench import catalogue, load_bench
    >>> bench = load_bench("blue")
    >>> by_id = {fault.id: fault for fault in catalogue(bench)}
    >>> weight(bench, by_id["undercharge"]) > weight(bench, by_id["W4:open"])
    True
    """
    known = weights()
    table = known.get(kind_of_part(bench, fault), known[OTHER])
    return table.get(fault.mode, table[OTHER])


def kind_of_part(bench: Bench, fault: BenchFault) -> str:
    """Return what kind of part a fault is of, as the tables of weights call it [str]."""
    if fault.part in bench.circuit.parts:
        return bench.circuit.parts[fault.part].kind
    if fault.part in bench.circuit.wires:
        return WIRE
    if fault.family == "refrigerant":
        return LOOP
    return DOOR if fault.part.endswith(" door") else HEAD if fault.family == "control" else OTHER
