"""Rules for the entries of a calibration file: unit, limits, and the sentence for a wrong entry.

A frozen dataclass describes a table of the file; each of its fields carries one rule. From the
rules come the reading, the messages and the JSON Schema, so the three cannot disagree.

In the file temperatures are in degC and pressures in kPa (gauge), as a teacher writes them; in
the program everything is SI. A field `ambient_K` is the key `ambient_degC` of the file.
"""

import math
from dataclasses import dataclass, field, fields
from typing import Any

from coldbench.control.hysteresis import Band
from coldbench.errors import Gather, InputError
from coldbench.sensing.windows import Window

# unit in the file: (ending of the SI name, ending in the file, factor, offset)
_CONVERTED = {"degC": ("_K", "_degC", 1.0, 273.15), "kPa": ("_Pa", "_kPa", 1000.0, 0.0)}


def _to_si(value: float, unit: str) -> float:
    _, _, factor, offset = _CONVERTED.get(unit, ("", "", 1.0, 0.0))
    return value * factor + offset


def _file_key(name: str, unit: str) -> str:
    si_ending, file_ending, _, _ = _CONVERTED.get(unit, ("", "", 0, 0))
    return name.removesuffix(si_ending) + file_ending if si_ending else name


@dataclass(frozen=True)
class Number:
    """A number in a unit, between two limits (both in the file's unit)."""

    unit: str
    low: float
    high: float

    def key(self, name: str) -> str:
        """Key in the file [str].

        >>> Number("degC", -40, 80).key("substitute_K")
        'substitute_degC'
        """
        return _file_key(name, self.unit)

    def read(self, value: Any, where: str) -> float:
        """Return the SI value [float]; InputError for anything else.

        >>> Number("kPa", 0, 4000).read(2800, "head.toml: compressor: on_kPa")
        2800000.0
        >>> Number("kPa", 0, 4000).read("high", "head.toml: compressor: on_kPa")
        Traceback (most recent call last):
        coldbench.errors.InputError: head.toml: compressor: on_kPa must be a number, not 'high'
        """
        if type(value) not in (int, float) or not math.isfinite(value):
            raise InputError(f"{where} must be a number, not {value!r}")
        if not self.low <= value <= self.high:
            raise InputError(f"{where} = {value:g} is outside {self.low:g} to {self.high:g}")
        return _to_si(float(value), self.unit)

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"type": "number", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class Whole:
    """A whole number between two limits."""

    low: int
    high: int

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> int:
        """Return the number [int]; InputError for anything else."""
        if type(value) is not int or not self.low <= value <= self.high:
            raise InputError(f"{where} must be a whole number from {self.low} to {self.high}, "
                             f"not {value!r}")
        return value

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class Numbers:
    """A list of at least two numbers."""

    each: Number

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return self.each.key(name)

    def read(self, value: Any, where: str) -> tuple[float, ...]:
        """Return SI values [tuple of float]; InputError for anything else."""
        if not isinstance(value, list) or len(value) < 2:
            raise InputError(f"{where} must be a list of at least two numbers")
        return tuple(self.each.read(v, f"{where}[{i}]") for i, v in enumerate(value))

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"type": "array", "items": self.each.schema(), "minItems": 2}


@dataclass(frozen=True)
class Shares:
    """A table with one share (0 to 1) for each of some words."""

    words: tuple[str, ...]

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> dict[str, float]:
        """Return share by word [dict]; InputError for anything else."""
        if not isinstance(value, dict) or set(value) != set(self.words):
            raise InputError(f"{where} must be a table with the keys {', '.join(self.words)}")
        share = Number("share", 0.0, 1.0)
        return {word: share.read(value[word], f"{where}.{word}") for word in self.words}

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        share = Number("share", 0.0, 1.0).schema()
        return {"type": "object", "additionalProperties": False, "required": list(self.words),
                "properties": dict.fromkeys(self.words, share)}


@dataclass(frozen=True)
class InUnit(Number):
    """A number whose key in the file ends in its unit, though the field's name has none."""

    def key(self, name: str) -> str:
        """Key in the file [str].

        >>> InUnit("degC", -40, 150).key("substitute")
        'substitute_degC'
        """
        return f"{name}_{self.unit}"


@dataclass(frozen=True)
class Word:
    """One of a few words, or any text that is not empty."""

    choices: tuple[str, ...] = ()

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> str:
        """Return the word [str]; InputError for anything else.

        >>> Word(("off", "low")).read("fast", "head.toml: fan")
        Traceback (most recent call last):
        coldbench.errors.InputError: head.toml: fan 'fast' is unknown; accepted: off, low
        """
        if not isinstance(value, str) or not value.strip():
            raise InputError(f"{where} must be a word, not {value!r}")
        if self.choices and value not in self.choices:
            raise InputError(f"{where} {value!r} is unknown; accepted: {', '.join(self.choices)}")
        return value

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"enum": list(self.choices)} if self.choices else {"type": "string",
                                                                  "minLength": 1}


@dataclass(frozen=True)
class Flag:
    """true or false."""

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> bool:
        """Return the flag [bool]; InputError for anything else."""
        if type(value) is not bool:
            raise InputError(f"{where} must be true or false, not {value!r}")
        return value

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"type": "boolean"}


@dataclass(frozen=True)
class BandRule:
    """Two thresholds, on and off, in the right order."""

    unit: str
    low: float
    high: float
    rising: bool

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> Band:
        """Return the band (SI) [Band]; InputError if it is no band or crosses itself.

        >>> BandRule("degC", -10, 20, True).read(
        ...     {"on_degC": 2.0, "off_degC": 4.0}, "head.toml: compressor: freeze")
        Traceback (most recent call last):
        coldbench.errors.InputError: head.toml: compressor: freeze crosses itself: on_degC 2 must \
be above off_degC 4
        """
        keys = self._keys()
        if not isinstance(value, dict) or set(value) != set(keys):
            raise InputError(f"{where} must be a table with the keys {' and '.join(keys)}")
        rule = Number(self.unit, self.low, self.high)
        on, off = (rule.read(value[key], f"{where}.{key}") for key in keys)
        if on == off or (on > off) is not self.rising:
            raise InputError(f"{where} crosses itself: {keys[0]} {value[keys[0]]:g} must be "
                             f"{'above' if self.rising else 'below'} "
                             f"{keys[1]} {value[keys[1]]:g}")
        return Band(on, off)

    def _keys(self) -> tuple[str, str]:
        ending = f"_{self.unit}"
        return f"on{ending}", f"off{ending}"

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]; the order of the two is checked on reading."""
        number = Number(self.unit, self.low, self.high).schema()
        return {"type": "object", "additionalProperties": False, "required": list(self._keys()),
                "properties": dict.fromkeys(self._keys(), number)}


_WINDOW = {"low_ratio": Number("share", 0.0, 1.0), "high_ratio": Number("share", 0.0, 1.0),
           "fail_s": Number("s", 0.0, 60.0), "heal_s": Number("s", 0.0, 60.0)}


@dataclass(frozen=True)
class WindowRule:
    """Limits between which an input is believed, and how long until the verdict changes."""

    def key(self, name: str) -> str:
        """Key in the file [str]."""
        return name

    def read(self, value: Any, where: str) -> Window:
        """Return the window [Window]; InputError if it is none or crosses itself.

        >>> WindowRule().read({"low_ratio": 0.9, "high_ratio": 0.1, "fail_s": 1, "heal_s": 1},
        ...                   "head.toml: sensor.cabin: window")
        Traceback (most recent call last):
        coldbench.errors.InputError: head.toml: sensor.cabin: window crosses itself: low_ratio 0.9 \
must be below high_ratio 0.1
        """
        if not isinstance(value, dict) or set(value) != set(_WINDOW):
            raise InputError(f"{where} must be a table with the keys {', '.join(_WINDOW)}")
        read = {key: rule.read(value[key], f"{where}.{key}") for key, rule in _WINDOW.items()}
        if read["low_ratio"] >= read["high_ratio"]:
            raise InputError(f"{where} crosses itself: low_ratio {read['low_ratio']:g} must be "
                             f"below high_ratio {read['high_ratio']:g}")
        return Window(**read)

    def schema(self) -> dict:
        """JSON Schema of the entry [dict]."""
        return {"type": "object", "additionalProperties": False, "required": list(_WINDOW),
                "properties": {key: rule.schema() for key, rule in _WINDOW.items()}}


def entry(rule: Any, meaning: str) -> Any:
    """Return a dataclass field that carries its rule and what it means."""
    return field(metadata={"rule": rule, "meaning": meaning})


def read_table(kind: type, table: Any, where: str, **instead: Any) -> Any:
    """Read one table of the file into a frozen dataclass.

    Parameters
    ----------
    kind : type
        Dataclass whose fields were made with `entry`.
    table : dict
        As `tomllib` gives it.
    where : str
        File and table, for messages.
    **instead : rule
        Rules that replace those of the fields so named.

    Returns
    -------
    kind

    Raises
    ------
    InputError
        A key is missing, unknown or wrong.

    Examples
    --------
    >>> @dataclass(frozen=True)
    ... class Frost:
    ...     limit_K: float = entry(Number("degC", -5, 10), "where frost begins")
    >>> read_table(Frost, {"limit_degC": 2.0}, "head.toml: frost")
    Frost(limit_K=275.15)
    >>> read_table(Frost, {"limit_K": 275.15}, "head.toml: frost")
    Traceback (most recent call last):
    coldbench.errors.InputError: head.toml: frost: unknown key 'limit_K'; accepted: limit_degC
    """
    if not isinstance(table, dict):
        raise InputError(f"{where}: wants a table")
    rules = {f.name: f.metadata["rule"] for f in fields(kind)} | instead
    keys = {rule.key(name): (name, rule) for name, rule in rules.items()}
    gather = Gather()
    check_keys(table, tuple(keys), tuple(keys), where, gather)
    read = {name: gather.of(rule.read, table[key], f"{where}: {key}")
            for key, (name, rule) in keys.items() if key in table}
    gather.stop()
    return kind(**read)


def check_keys(table: Any, accepted: tuple[str, ...], needed: tuple[str, ...], where: str,
               gather: Gather) -> None:
    """Keep what is unknown in a table, and what it lacks.

    Parameters
    ----------
    table : dict
        Read from a file.
    accepted, needed : tuple of str
        Keys.
    where : str
        File and table, for messages.
    gather : Gather
        Takes the mistakes.

    Examples
    --------
    >>> gather = Gather()
    >>> check_keys({"limit": 2}, ("limit_degC",), (), "head.toml: frost", gather)
    >>> gather.mistakes[0]
    "head.toml: frost: unknown key 'limit', its unit is missing: write 'limit_degC'; accepted: \
limit_degC"
    """
    for key in table:
        if key not in accepted:
            near = [known for known in accepted if known.startswith(f"{key}_")]
            unit = f", its unit is missing: write {near[0]!r}" if len(near) == 1 else ""
            gather.refuse(f"{where}: unknown key {key!r}{unit}; accepted: {', '.join(accepted)}")
    for key in needed:
        if key not in table:
            gather.refuse(f"{where}: lacks {key!r}")


def table_schema(kind: type, **instead: Any) -> dict:
    """Return the JSON Schema of one table, with the meaning of each key as its description.

    Parameters
    ----------
    kind : type
        Dataclass whose fields were made with `entry`.
    **instead : rule
        Rules that replace those of the fields so named.

    Returns
    -------
    dict
    """
    entries = {}
    for f in fields(kind):
        rule = instead.get(f.name, f.metadata["rule"])
        entries[rule.key(f.name)] = rule.schema() | {"description": f.metadata["meaning"]}
    return {"type": "object", "additionalProperties": False, "required": list(entries),
            "properties": entries}
