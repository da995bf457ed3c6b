"""What loop and cabin store, read from a TOML file and checked on load."""

import tomllib
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from importlib import resources

from coldbench.errors import InputError
from coldbench.refrigerant.loop.conditions import finite_number

_MAY_BE_ZERO = ("gain_W_per_K", "gain_W", "recirculation_share", "air_seep_kg_per_s_Pa")


@dataclass(frozen=True)
class Stores:
    """Metal, lags and what goes on at rest (units in the names)."""

    condenser_metal_J_per_K: float
    evaporator_metal_J_per_K: float
    bulb_time_s: float
    outlet_time_s: float
    probe_time_s: float
    discharge_time_s: float
    discharge_rest_time_s: float
    still_flow_share: float
    still_gas_W_per_K: float
    air_seep_kg_per_s_Pa: float
    resting_coil_liquid_share: float

    def __post_init__(self) -> None:
        _check(self)


@dataclass(frozen=True)
class Cabin:
    """A cabin as one store of heat and one of moisture.

    Parameters
    ----------
    heat_capacity_J_per_K : float
        Air and what follows it [J/K].
    air_kg : float
        Dry air [kg].
    gain_W_per_K : float
        Heat from the air outside, for each kelvin [W/K].
    gain_W : float
        Sun and people [W].
    recirculation_share : float
        Share of the coil's air that comes from the cabin, 0 to 1; the rest is the intake air of
        the conditions.

    Raises
    ------
    InputError
        If a value is out of range.

    Examples
    --------
    >>> blue_cabin().with_recirculation(0.8).recirculation_share
    0.8
    """

    heat_capacity_J_per_K: float
    air_kg: float
    gain_W_per_K: float
    gain_W: float
    recirculation_share: float

    def __post_init__(self) -> None:
        _check(self)

    def with_recirculation(self, share: float) -> "Cabin":
        """Return the same cabin with another share of recirculated air (0 to 1).

        >>> blue_cabin().with_recirculation(2.0)
        Traceback (most recent call last):
        coldbench.errors.InputError: recirculation_share 2 must be from 0 to 1
        """
        return replace(self, recirculation_share=share)


def _check(record: Stores | Cabin) -> None:
    """Every field a finite number above 0 (or from 0), shares at most 1."""
    for field in fields(record):
        name = field.name
        value = finite_number(name, getattr(record, name))
        object.__setattr__(record, name, value)
        if name.endswith("_share") and not 0.0 <= value <= 1.0:
            raise InputError(f"{name} {value:g} must be from 0 to 1")
        if value < 0.0 or (value == 0.0 and name not in _MAY_BE_ZERO):
            raise InputError(f"{name} {value:g} must be above 0")


def load_stores(text: str, file: str = "blue_thermal.toml") -> tuple[Stores, Cabin]:
    """Read and check what a loop and its cabin store.

    Parameters
    ----------
    text : str
        TOML text in the form of the shipped `blue_thermal.toml`.
    file : str
        Name for messages.

    Returns
    -------
    tuple[Stores, Cabin]

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_stores("[stores]")
    Traceback (most recent call last):
    coldbench.errors.InputError: blue_thermal.toml: wants the tables [cabin] and [stores]
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: not valid TOML: {error}") from None
    if set(tables) != {"stores", "cabin"} or not all(isinstance(t, dict) for t in tables.values()):
        raise InputError(f"{file}: wants the tables [cabin] and [stores]")
    return (_made(Stores, tables["stores"], f"{file}: stores"),
            _made(Cabin, tables["cabin"], f"{file}: cabin"))


def _made(kind: type, table: dict, where: str):
    keys = {field.name for field in fields(kind)}
    if missing := keys - set(table):
        raise InputError(f"{where}: lacks {min(missing)!r}")
    if unknown := set(table) - keys:
        raise InputError(f"{where}: unknown key {min(unknown)!r}")
    try:
        return kind(**table)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


@lru_cache(maxsize=1)
def _blue() -> tuple[Stores, Cabin]:
    path = resources.files("coldbench.refrigerant.loop").joinpath("data", "blue_thermal.toml")
    return load_stores(path.read_text(encoding="utf-8"))


def blue_stores() -> Stores:
    """Return what the blue bench's loop stores.

    Returns
    -------
    Stores

    Examples
    --------
    >>> blue_stores().bulb_time_s
    30.0
    """
    return _blue()[0]


def blue_cabin() -> Cabin:
    """Return the blue bench's cabin.

    Returns
    -------
    Cabin
        Without recirculation.

    Examples
    --------
    >>> blue_cabin().recirculation_share
    0.0
    """
    return _blue()[1]
