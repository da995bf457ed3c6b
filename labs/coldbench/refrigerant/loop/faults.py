"""Faults of the loop: names, severities, and what they change.

The catalogue is `data/faults.toml`. Several faults at once combine: factors multiply,
shares lost add up, the stricter limit of the expansion valve holds.
"""

import math
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib import resources

from coldbench.errors import InputError
from coldbench.refrigerant.loop.conditions import finite_number


@dataclass(frozen=True)
class Effects:
    """What faults change in the loop; the defaults are a healthy loop (shares and factors)."""

    charge_factor: float = 1.0
    air_kg: float = 0.0
    condenser_airflow_factor: float = 1.0
    condenser_transfer_factor: float = 1.0
    liquid_line_area_factor: float = 1.0
    txv_least_opening: float = 0.0
    txv_most_opening: float = 1.0
    bulb_contact: float = 1.0
    bulb_pressure_factor: float = 1.0
    txv_inlet_area_factor: float = 1.0
    compressor_leak: float = 0.0
    speed_factor: float = 1.0
    clutch_slip: float = 0.0
    evaporator_airflow_factor: float = 1.0
    evaporator_transfer_factor: float = 1.0
    suction_drop_factor: float = 1.0


HEALTHY = Effects()
_LAWS = ("linear", "geometric")
_TEXTS = ("title", "scale", "shows")
_KEYS = {*_TEXTS, "effect", "at_full", "law", "usual"}


@dataclass(frozen=True)
class FaultKind:
    """One entry of the catalogue."""

    name: str
    title: str
    effect: str
    at_full: float
    law: str
    usual: float
    scale: str
    shows: str

    def value(self, severity: float) -> float:
        """Return the value of the effect at a severity.

        Parameters
        ----------
        severity : float
            0 to 1.

        Returns
        -------
        float

        Examples
        --------
        >>> fault_kinds()["belt-slip"].value(0.5)
        0.7
        """
        healthy = getattr(HEALTHY, self.effect)
        if self.law == "geometric":
            return healthy * (self.at_full / healthy) ** severity
        return healthy + severity * (self.at_full - healthy)


@dataclass(frozen=True)
class Fault:
    """A fault with its severity; make one from text with `fault("overcharge=0.5")`."""

    name: str
    severity: float

    def __post_init__(self) -> None:
        _kind(self.name)
        severity = finite_number(f"severity of {self.name}", self.severity)
        if not 0.0 <= severity <= 1.0:
            raise InputError(f"severity {severity:g} of fault {self.name!r} is outside 0 to 1")


def fault(text: "str | Fault | tuple[str, float]") -> Fault:
    """Return a fault from its name, with or without a severity.

    Parameters
    ----------
    text : str, tuple or Fault
        "overcharge", "overcharge=0.5", ("overcharge", 0.5), or a Fault (returned as it is).

    Returns
    -------
    Fault
        With the catalogue's usual severity when none is given.

    Raises
    ------
    InputError
        If the fault is unknown or the severity is outside 0 to 1.

    Examples
    --------
    >>> fault("overcharge=0.5")
    Fault(name='overcharge', severity=0.5)
    """
    if isinstance(text, Fault):
        return text
    if isinstance(text, tuple) and len(text) == 2:
        return Fault(*text)
    if not isinstance(text, str):
        raise InputError(f"a fault is written as NAME or NAME=SEVERITY, not {text!r}")
    name, equals, written = text.partition("=")
    name = name.strip()
    if not equals:
        return Fault(name, _kind(name).usual)
    _kind(name)
    try:
        severity = float(written)
    except ValueError:
        raise InputError(f"severity {written!r} of fault {name!r} is not a number; "
                         "accepted: 0 to 1") from None
    return Fault(name, severity)


def fault_list(faults: Iterable) -> tuple[Fault, ...]:
    """Return several faults as a tuple.

    Parameters
    ----------
    faults : iterable of Fault, str or tuple
        Each as `fault` accepts it.

    Returns
    -------
    tuple of Fault

    Raises
    ------
    InputError
        If it is no list, one is unknown, out of range or given twice.

    Examples
    --------
    >>> fault_list(["overcharge=0.5"])
    (Fault(name='overcharge', severity=0.5),)
    """
    if isinstance(faults, (str, Fault, Mapping)) or not isinstance(faults, Iterable):
        raise InputError(f"faults must be a list of faults, not {faults!r}")
    listed = tuple(map(fault, faults))
    for name, count in Counter(one.name for one in listed).items():
        if count > 1:
            raise InputError(f"fault {name!r} is given twice; give each fault once")
    return listed


def effects(faults: Iterable) -> Effects:
    """Return what several faults together change.

    Parameters
    ----------
    faults : iterable of Fault, str or tuple
        Each as `fault` accepts it.

    Returns
    -------
    Effects

    Raises
    ------
    InputError
        If one is unknown, out of range or given twice.

    Examples
    --------
    >>> effects(["belt-slip=1", "air-in-system=0.5"]).speed_factor
    0.4
    """
    values = {field.name: field.default for field in fields(Effects)}
    for one in fault_list(faults):
        kind = _kind(one.name)
        values[kind.effect] = _combined(values[kind.effect], kind, one.severity)
    return Effects(**values)


def _combined(before: float, kind: FaultKind, severity: float) -> float:
    """Factors multiply; quantities that are 0 in a healthy loop add up."""
    if getattr(HEALTHY, kind.effect) == 0.0:
        return before + kind.value(severity)
    return before * kind.value(severity)


def _kind(name: str) -> FaultKind:
    try:
        return fault_kinds()[name]
    except (KeyError, TypeError):
        raise InputError(f"no fault {name!r}; accepted: {', '.join(fault_kinds())}") from None


@lru_cache(maxsize=1)
def fault_kinds() -> Mapping[str, FaultKind]:
    """Return the catalogue of faults, by name.

    Returns
    -------
    Mapping[str, FaultKind]

    Examples
    --------
    >>> fault_kinds()["txv-stuck-open"].title
    'Expansion valve stuck open'
    """
    path = resources.files("coldbench.refrigerant.loop").joinpath("data", "faults.toml")
    return load_faults(path.read_text(encoding="utf-8"))


def load_faults(text: str, file: str = "faults.toml") -> dict[str, FaultKind]:
    """Read and check a catalogue of faults.

    Parameters
    ----------
    text : str
        TOML text in the form described at the top of `faults.toml`.
    file : str
        Name for messages.

    Returns
    -------
    dict[str, FaultKind]

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_faults("[fault.x]")
    Traceback (most recent call last):
    coldbench.errors.InputError: faults.toml: fault.x: lacks 'at_full'
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: not valid TOML: {error}") from None
    if set(tables) != {"fault"} or not isinstance(tables["fault"], dict):
        raise InputError(f"{file}: wants tables [fault.<name>] only")
    return {name: _checked(name, table, f"{file}: fault.{name}")
            for name, table in tables["fault"].items()}


def _checked(name: str, table: dict, where: str) -> FaultKind:
    if missing := _KEYS - set(table):
        raise InputError(f"{where}: lacks {min(missing)!r}")
    if unknown := set(table) - _KEYS:
        raise InputError(f"{where}: unknown key {min(unknown)!r}")
    if table["effect"] not in {field.name for field in fields(Effects)}:
        raise InputError(f"{where}: effect {table['effect']!r} is none the loop knows")
    if table["law"] not in _LAWS:
        raise InputError(f"{where}: law must be one of {', '.join(_LAWS)}")
    for key in _TEXTS:
        if not isinstance(table[key], str) or not table[key].strip():
            raise InputError(f"{where}: {key} must be words")
    for key in ("at_full", "usual"):
        value = table[key]
        if type(value) not in (int, float) or not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"{where}: {key} must be a number of 0 or more")
    if not 0.0 <= table["usual"] <= 1.0:
        raise InputError(f"{where}: usual must be from 0 to 1")
    if table["law"] == "geometric" and not (table["at_full"] > 0.0
                                            and getattr(HEALTHY, table["effect"]) > 0.0):
        raise InputError(f"{where}: a geometric law wants values above 0")
    return FaultKind(name=name, **table)
