"""The list of refrigerants: what `fluids.toml` says about each, checked on load."""

import tomllib
from dataclasses import dataclass, field
from importlib import resources

from coldbench.errors import InputError

_FILE = "fluids.toml"
_TYPES = {
    "designation": str, "also": list, "chemical": str, "safety_class": str, "library_name": str,
    "mass_fractions": dict, "triple_temperature_K": float, "critical_temperature_K": float,
    "critical_pressure_Pa": float, "lowest_temperature_K": float, "highest_temperature_K": float,
    "equation": str,
}
_OPTIONAL = {"mass_fractions", "triple_temperature_K"}


@dataclass(frozen=True)
class FluidRecord:
    """One refrigerant as listed in `fluids.toml` (SI)."""

    name: str
    designation: str
    also: list[str]
    chemical: str
    safety_class: str
    safety_meaning: str
    library_name: str
    critical_temperature_K: float
    critical_pressure_Pa: float
    lowest_temperature_K: float
    highest_temperature_K: float
    equation: str
    triple_temperature_K: float | None = None
    mass_fractions: dict[str, float] = field(default_factory=dict)


def load_records(text: str, file: str = _FILE) -> dict[str, FluidRecord]:
    """Read and check the list of refrigerants.

    Parameters
    ----------
    text : str
        TOML text in the form described at the top of `fluids.toml`.
    file : str
        Name for messages.

    Returns
    -------
    dict[str, FluidRecord]
        By short name, in the order of the file.

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_records("[fluid.R1]")
    Traceback (most recent call last):
    coldbench.errors.InputError: fluids.toml: wants the tables [safety_class] and [fluid.<name>]
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: not valid TOML: {error}") from None
    if set(tables) != {"safety_class", "fluid"}:
        raise InputError(f"{file}: wants the tables [safety_class] and [fluid.<name>]")
    classes = tables["safety_class"]
    records = {n: _record(n, t, classes, f"{file}: fluid.{n}") for n, t in tables["fluid"].items()}
    name_index(records, file)
    return records


def _record(name: str, table: dict, classes: dict, where: str) -> FluidRecord:
    for key in _TYPES:
        if key not in table and key not in _OPTIONAL:
            raise InputError(f"{where}: lacks {key!r}")
    for key, value in table.items():
        if key not in _TYPES:
            raise InputError(f"{where}: unknown key {key!r}; accepted: {', '.join(_TYPES)}")
        if type(value) is not _TYPES[key]:
            raise InputError(f"{where}: {key} must be of type {_TYPES[key].__name__}")
    if table["safety_class"] not in classes:
        raise InputError(f"{where}: safety_class must be one of {', '.join(classes)}")
    _check_temperatures(table, where)
    _check_fractions(table.get("mass_fractions"), where)
    return FluidRecord(name=name, safety_meaning=classes[table["safety_class"]], **table)


def _check_temperatures(table: dict, where: str) -> None:
    triple = table.get("triple_temperature_K", 0.0)
    low, high = table["lowest_temperature_K"], table["highest_temperature_K"]
    if not 0.0 <= triple <= low < high <= table["critical_temperature_K"]:
        raise InputError(f"{where}: temperatures must rise: triple, lowest, highest, critical")
    if table["critical_pressure_Pa"] <= 0.0:
        raise InputError(f"{where}: critical_pressure_Pa must be above 0")


def _check_fractions(fractions: dict | None, where: str) -> None:
    if fractions is None:
        return
    if not all(isinstance(f, float) and 0.0 < f < 1.0 for f in fractions.values()):
        raise InputError(f"{where}: each of mass_fractions must be a number between 0 and 1")
    if abs(sum(fractions.values()) - 1.0) > 1e-9:
        raise InputError(f"{where}: mass_fractions must add up to 1")


def plain_name(name: str) -> str:
    """Return a name without blanks, hyphens and letter case.

    Parameters
    ----------
    name : str
        As typed.

    Returns
    -------
    str

    Examples
    --------
    >>> plain_name("R-134a"), plain_name("hfc 134A")
    ('r134a', 'hfc134a')
    """
    return "".join(name.casefold().replace("₂", "2").replace("-", "").split())


def name_index(records: dict[str, FluidRecord], file: str = _FILE) -> dict[str, str]:
    """Return the short name for every plain spelling.

    Parameters
    ----------
    records : dict[str, FluidRecord]
        From `load_records`.
    file : str
        Name for messages.

    Returns
    -------
    dict[str, str]

    Raises
    ------
    InputError
        If two fluids share a spelling.

    Examples
    --------
    >>> name_index(RECORDS)["co2"]
    'R744'
    """
    index: dict[str, str] = {}
    for name, record in records.items():
        for spelling in (name, record.designation, *record.also):
            if index.setdefault(plain_name(spelling), name) != name:
                raise InputError(f"{file}: fluid.{name}: {spelling!r} already names another fluid")
    return index


RECORDS: dict[str, FluidRecord] = load_records(
    resources.files("coldbench.refrigerant").joinpath(_FILE).read_text(encoding="utf-8")
)
