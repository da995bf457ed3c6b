"""The unit table: which units each kind of quantity accepts.

The data live in `units.toml`, with their sources; this module loads and checks them.
SI value = factor * value + offset.
"""

import tomllib
from dataclasses import dataclass
from functools import cached_property
from importlib import resources

from coldbench.errors import InputError
from coldbench.quantity.spelling import squeeze

_FILE = "units.toml"
_UNIT_KEYS = {"name": str, "symbol": str, "factor": float, "offset": float, "decimals": int,
              "also": list}
_UNIT_NEEDS = {"name", "symbol", "factor", "decimals"}
_KIND_KEYS = {"si": str, "minimum": float, "bare": bool, "compound": str, "unit": list,
              "refused": list}
_REFUSED_KEYS = {"spellings": list, "because": str}
_KIND_NEEDS = {"si", "unit"}


@dataclass(frozen=True)
class Unit:
    """One unit of a kind: SI value = factor * value + offset."""

    name: str
    symbol: str
    factor: float
    decimals: int
    offset: float = 0.0
    also: tuple[str, ...] = ()

    @property
    def spellings(self) -> tuple[str, ...]:
        """Every accepted spelling, the canonical name first."""
        return tuple(s for s in (self.name, self.symbol, *self.also) if s)


@dataclass(frozen=True)
class Kind:
    """One kind of quantity and the units it accepts, preferred first."""

    name: str
    si: str
    units: tuple[Unit, ...]
    minimum: float | None = None
    bare: bool = False
    compound: str | None = None
    refused: tuple[tuple[str, str], ...] = ()

    @property
    def accepted(self) -> str:
        """The canonical unit names as a phrase for messages."""
        return ", ".join(unit.name for unit in self.units)

    @cached_property
    def by_spelling(self) -> dict[str, Unit]:
        """Unit by squeezed spelling."""
        return {squeeze(s): unit for unit in self.units for s in unit.spellings}

    @cached_property
    def refusals(self) -> dict[str, str]:
        """Reason by refused spelling, squeezed and in lower case."""
        return {squeeze(s).lower(): because for s, because in self.refused}


def load_kinds(text: str, file: str = _FILE) -> dict[str, Kind]:
    """Read and check the unit table.

    Parameters
    ----------
    text : str
        TOML text in the form described at the top of `units.toml`.
    file : str
        Name for messages.

    Returns
    -------
    dict[str, Kind]

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_kinds('[kind.x]\\nsi = "m"\\nunit = []')
    Traceback (most recent call last):
    coldbench.errors.InputError: units.toml: kind."x": lists no unit named 'm' with factor 1
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: not valid TOML: {error}") from None
    kinds = tables.get("kind")
    if not isinstance(kinds, dict) or set(tables) != {"kind"}:
        raise InputError(f"{file}: wants tables [kind.\"…\"] and nothing else")
    return {name: _kind(name, table, file) for name, table in kinds.items()}


def _check_keys(table: object, types: dict, needs: set, where: str) -> None:
    if not isinstance(table, dict):
        raise InputError(f"{where}: wants a table")
    if missing := needs - set(table):
        raise InputError(f"{where}: lacks {sorted(missing)[0]!r}")
    for key, value in table.items():
        if key not in types:
            raise InputError(f"{where}: unknown key {key!r}; accepted: {', '.join(types)}")
        if type(value) is not types[key]:
            raise InputError(f"{where}: {key} must be of type {types[key].__name__}")


def _kind(name: str, table: dict, file: str) -> Kind:
    where = f'{file}: kind."{name}"'
    _check_keys(table, _KIND_KEYS, _KIND_NEEDS, where)
    units = tuple(_unit(row, f"{where}.unit[{i}]") for i, row in enumerate(table["unit"]))
    if not any(u.name == table["si"] and u.factor == 1.0 and not u.offset for u in units):
        raise InputError(f"{where}: lists no unit named {table['si']!r} with factor 1")
    refused = tuple(pair for i, row in enumerate(table.get("refused", []))
                    for pair in _refusals(row, f"{where}.refused[{i}]"))
    _check_spellings(units, refused, where)
    return Kind(name, table["si"], units, table.get("minimum"), table.get("bare", False),
                table.get("compound"), refused)


def _refusals(row: dict, where: str) -> list[tuple[str, str]]:
    _check_keys(row, _REFUSED_KEYS, set(_REFUSED_KEYS), where)
    return [(spelling, row["because"]) for spelling in row["spellings"]]


def _unit(row: dict, where: str) -> Unit:
    _check_keys(row, _UNIT_KEYS, _UNIT_NEEDS, where)
    if row["factor"] == 0.0:
        raise InputError(f"{where}: factor must not be zero")
    return Unit(**{**row, "also": tuple(row.get("also", ()))})


def _check_spellings(units: tuple[Unit, ...], refused: tuple, where: str) -> None:
    owner: dict[str, str] = {}
    pairs = [(s, u.name) for u in units for s in u.spellings] + [(s, "refused") for s, _ in refused]
    for spelling, name in pairs:
        first = owner.setdefault(squeeze(spelling), name)
        if first != name:
            raise InputError(f"{where}: {spelling!r} means both {first} and {name}")


KINDS: dict[str, Kind] = load_kinds(
    resources.files("coldbench.quantity").joinpath(_FILE).read_text(encoding="utf-8")
)
