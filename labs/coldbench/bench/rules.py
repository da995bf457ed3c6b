"""Rules that bench files need beside those of the control room, and optional entries."""

from dataclasses import dataclass, field, fields
from typing import Any

from coldbench.control.rules import read_table, table_schema
from coldbench.errors import Gather, InputError

AUTO = "auto"


def optional(rule: Any, meaning: str, default: Any) -> Any:
    """Return a dataclass field with a rule and a default, given as the file would write it."""
    return field(metadata={"rule": rule, "meaning": meaning, "default": default})


def read(kind: type, table: Any, where: str) -> Any:
    """Read a table of the file into a frozen dataclass; what is left out takes its default.

    Parameters
    ----------
    kind : type
        Dataclass whose fields were made with `entry` or `optional`.
    table : dict
        As `tomllib` gives it.
    where : str
        File and table, for messages.

    Returns
    -------
    kind

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> from coldbench.bench.tables import HeaterEntry
    >>> read(HeaterEntry, {}, "bench.toml: heater").effectiveness
    0.75
    """
    if not isinstance(table, dict):
        raise InputError(f"{where}: wants a table")
    return read_table(kind, defaults(kind) | table, where)


def read_rows(kind: type, rows: Any, where: str, least: int = 1) -> tuple:
    """Return the tables of a list, each read by its kind [tuple].

    Raises: InputError naming file, key and reason; it tells of every wrong table.
    """
    if not isinstance(rows, list) or len(rows) < least:
        raise InputError(f"{where} must be written as [[{where.rpartition(' ')[2]}]] tables")
    return _all(read, [(kind, row, f"{where} {n}") for n, row in enumerate(rows, 1)])


def read_named(kind: type, table: Any, where: str, least: int = 0) -> dict:
    """Return tables under names of the file's own, each read by its kind [dict].

    Raises: InputError naming file, key and reason; it tells of every wrong table.
    """
    if not isinstance(table, dict) or len(table) < least:
        word = where.rpartition(" ")[2]
        raise InputError(f"{where} must be written as tables [{word}.<name>], at least {least}")
    read_ones = _all(read, [(kind, one, f"{where}.{name}") for name, one in table.items()])
    return dict(zip(table, read_ones, strict=True))


def _all(call, rows: list[tuple]) -> tuple:
    gather = Gather()
    found = [gather.of(call, *row) for row in rows]
    gather.stop()
    return tuple(found)


def defaults(kind: type) -> dict[str, Any]:
    """Return key of the file → default, for the entries that have one [dict]."""
    return {f.metadata["rule"].key(f.name): f.metadata["default"] for f in fields(kind)
            if "default" in f.metadata}


def schema(kind: type) -> dict:
    """Return the JSON Schema of a table; entries with a default are not required [dict]."""
    found, own = table_schema(kind), defaults(kind)
    for key, default in own.items():
        found["properties"][key]["default"] = default
    return found | {"required": [key for key in found["required"] if key not in own]}


@dataclass(frozen=True)
class Texts:
    """A list of texts, perhaps empty; of certain words alone if `words` says so."""

    words: tuple[str, ...] = ()

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> tuple[str, ...]:
        """Return the texts [tuple of str]; InputError for anything else."""
        if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
            raise InputError(f"{where} must be a list of texts, not {value!r}")
        for one in value:
            if self.words and one not in self.words:
                raise InputError(f"{where} {one!r} is unknown; accepted: {', '.join(self.words)}")
        return tuple(value)

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        each = {"enum": list(self.words)} if self.words else {"type": "string", "minLength": 1}
        return {"type": "array", "items": each}


@dataclass(frozen=True)
class Each:
    """A table of entries, under names of the file's own or of `words`; or a list of entries."""

    each: Any
    whole_list: bool = False
    words: tuple[str, ...] = ()

    def key(self, name: str) -> str:
        """Key in the file [str].

        >>> from coldbench.control.rules import Number
        >>> Each(Number("degC", 10, 35), True).key("set_points_K")
        'set_points_degC'
        """
        return self.each.key(name) if self.whole_list else name

    def read(self, value: Any, where: str) -> Any:
        """Return the entries read by their rule [dict or tuple]; InputError for anything else."""
        if self.whole_list:
            if not isinstance(value, list) or not value:
                raise InputError(f"{where} must be a list with at least one entry, not {value!r}")
            return _all(self.each.read, [(v, f"{where}[{i}]") for i, v in enumerate(value)])
        if not isinstance(value, dict):
            raise InputError(f"{where} must be a table, not {value!r}")
        for name in value:
            if self.words and name not in self.words:
                raise InputError(f"{where}: unknown key {name!r}; accepted: "
                                 f"{', '.join(self.words)}")
        if self.each is None:
            return dict(value)
        read = _all(self.each.read, [(v, f"{where}.{name}") for name, v in value.items()])
        return dict(zip(value, read, strict=True))

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        each = {} if self.each is None else self.each.schema()
        if self.whole_list:
            return {"type": "array", "minItems": 1, "items": each}
        if self.words:
            return {"type": "object", "additionalProperties": False,
                    "properties": dict.fromkeys(self.words, each)}
        return {"type": "object", "additionalProperties": each or True}


@dataclass(frozen=True)
class Whether:
    """An entry, or the word "auto" (None)."""

    otherwise: Any

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return self.otherwise.key(name)

    def read(self, value: Any, where: str) -> Any:
        """Return None for "auto", else what the rule reads; InputError for anything else.

        >>> from coldbench.control.rules import Flag
        >>> Whether(Flag()).read("auto", "x"), Whether(Flag()).read(True, "x")
        (None, True)
        """
        if value == AUTO:
            return None
        try:
            return self.otherwise.read(value, where)
        except InputError as error:
            raise InputError(f'{error}; or "auto"') from None

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"anyOf": [{"const": AUTO}, self.otherwise.schema()]}


@dataclass(frozen=True)
class Rows:
    """A list of tables of one kind, with at least one."""

    kind: type

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> tuple:
        """Return the tables read by their kind [tuple]; InputError for anything else."""
        if not isinstance(value, list) or not value:
            raise InputError(f"{where} must be a list with at least one table, not {value!r}")
        return _all(read, [(self.kind, row, f"{where} {n}") for n, row in enumerate(value, 1)])

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"type": "array", "minItems": 1, "items": schema(self.kind)}
