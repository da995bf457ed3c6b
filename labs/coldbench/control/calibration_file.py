"""Reading and checking calibration files, and their JSON Schema."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

from coldbench.control.calibration import (
    CODE_FAULTS, DOOR_KINDS, SENSOR_UNITS, Blend, Blower, Calibration, Code, Compressor,
    Distribution, Door, Fan, HeatBalance, Recirculation, Sensor, SetPoints, Storing, Zone,
)
from coldbench.control.rules import InUnit, Word, check_keys, read_table, table_schema
from coldbench.errors import Gather, InputError, toml_trouble

_TABLES = {"set_point": SetPoints, "heat_balance": HeatBalance, "blend": Blend,
           "blower": Blower, "distribution": Distribution, "recirculation": Recirculation,
           "compressor": Compressor, "fan": Fan, "storing": Storing}
_NAME = Word()
_KEYS = ("name", *_TABLES, "zone", "door", "sensor", "code")
_LIMITS = {"degC": (-60.0, 150.0), "kPa": (0.0, 4000.0), "W_per_m2": (0.0, 1400.0)}


def load_calibration(source: str | Path) -> Calibration:
    """Read a calibration by the name of a shipped one, or from a file.

    Parameters
    ----------
    source : str or Path
        Name such as "blue_head", or a path that ends in `.toml`.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> load_calibration("blue_head").zone_names
    ('left', 'right')
    >>> load_calibration("red_head")
    Traceback (most recent call last):
    coldbench.errors.InputError: no calibration 'red_head'; accepted: blue_head, one_zone_head, \
or a path to a .toml file
    """
    if isinstance(source, str) and not source.endswith(".toml"):
        return _shipped(source)
    try:
        return read_calibration(Path(source).read_text(encoding="utf-8-sig"), Path(source).name)
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{source}: cannot be read as text: {error}") from None


def _folder():
    return resources.files("coldbench.control").joinpath("data")


@lru_cache
def _shipped(name: str) -> Calibration:
    names = sorted(f.name.removesuffix(".toml") for f in _folder().iterdir()
                   if f.name.endswith(".toml"))
    if name not in names:
        raise InputError(f"no calibration {name!r}; accepted: {', '.join(names)}, "
                         "or a path to a .toml file")
    return read_calibration(_folder().joinpath(f"{name}.toml").read_text("utf-8"),
                            f"{name}.toml")


def read_calibration(text: str, file: str) -> Calibration:
    """Read and check the text of a calibration file.

    Parameters
    ----------
    text : str
        TOML.
    file : str
        Name for messages.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> read_calibration("name = 'x'", "mine.toml")
    Traceback (most recent call last):
    coldbench.errors.InputError: mine.toml: lacks 'set_point'
    """
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(f"{file}: {toml_trouble(error, text)}") from None
    return calibration_from_tables(tables, file)


def calibration_from_tables(tables: Mapping[str, Any], where: str) -> Calibration:
    """Make a calibration from tables already read, such as a part of a bench file.

    Parameters
    ----------
    tables : mapping
        As `tomllib` gives them.
    where : str
        File, or file and table, for messages.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        Naming file, key and reason.
    """
    if not isinstance(tables, Mapping):
        raise InputError(f"{where}: wants a table")
    gather = Gather()
    check_keys(tables, _KEYS, _KEYS, where, gather)
    read = {field: gather.of(reader, *kind, tables[key], *more, f"{where}: {key}")
            for key, (field, reader, kind, more) in _READERS.items() if key in tables}
    gather.stop()
    calibration = Calibration(**read)
    check_together(calibration, where)
    return calibration


def _substitute(sensor: str) -> InUnit:
    unit = SENSOR_UNITS[sensor]
    return InUnit(unit, *_LIMITS[unit])


def _rows(kind: type, rows: Any, where: str) -> tuple:
    if not isinstance(rows, list) or not rows:
        raise InputError(f"{where} must be a list of at least one table")
    gather = Gather()
    read = [gather.of(read_table, kind, row, f"{where}[{i}]") for i, row in enumerate(rows)]
    gather.stop()
    return tuple(read)


def _named(kind: type, tables: Any, names: tuple[str, ...], where: str) -> dict:
    if not isinstance(tables, dict) or set(tables) != set(names):
        raise InputError(f"{where} must have exactly the tables {', '.join(names)}")
    rules = {name: {"substitute": _substitute(name)} if kind is Sensor else {} for name in names}
    gather = Gather()
    read = {name: gather.of(partial(read_table, kind, tables[name], f"{where}.{name}",
                                    **rules[name])) for name in names}
    gather.stop()
    return read


_READERS = {
    "name": ("name", _NAME.read, (), ()), "zone": ("zones", _rows, (Zone,), ()),
    "door": ("doors", _named, (Door,), (DOOR_KINDS,)),
    "sensor": ("sensors", _named, (Sensor,), (tuple(SENSOR_UNITS),)),
    "code": ("codes", _rows, (Code,), ()),
    **{key: (key, read_table, (kind,), ()) for key, kind in _TABLES.items()},
}
"""Key of the file → field, reader, and what the reader gets before and after the table."""


def check_together(calibration: Calibration, where: str) -> None:
    """Refuse values that are each possible but not together.

    Parameters
    ----------
    calibration : Calibration
        As read.
    where : str
        File, for messages.

    Raises
    ------
    InputError
        Naming file, key and reason.
    """
    gather = Gather()
    for table, key, wrong, reason in _contradictions(calibration):
        if wrong:
            gather.refuse(f"{where}: {table}: {key} {reason}")
    gather.stop()


def _contradictions(c: Calibration):
    limits, blower, fan = c.compressor, c.blower, c.fan
    yield from _curve(blower)
    yield ("blower", "coolant_cold_degC", blower.coolant_cold_K >= blower.coolant_warm_K,
           "must be below coolant_warm_degC")
    yield ("distribution", "foot", c.distribution.foot.off < c.distribution.bi_level.on,
           "crosses bi-level: its off_degC must not be below on_degC of bi-level")
    yield ("compressor", "low_pressure", limits.low_pressure.on >= limits.high_pressure.on,
           "crosses high_pressure: its on_kPa must be below that of high_pressure")
    yield ("fan", "high", fan.high.on <= fan.low.on or fan.high.off < fan.low.off,
           "crosses low: high speed must come on, and go off, above low speed")
    yield ("fan", "high_coolant", fan.high_coolant.on <= fan.low_coolant.on
           or fan.high_coolant.off < fan.low_coolant.off,
           "crosses low_coolant: high speed must come on, and go off, above low speed")
    yield ("fan", "high", fan.high.on >= limits.high_pressure.off,
           "crosses compressor high_pressure: the fans must come on before the compressor is cut")
    for kind, door in c.doors.items():
        yield from _door(f"door.{kind}", door)
    yield from _names(c)


def _curve(blower: Blower):
    share, lowest = blower.curve_share, blower.curve_share.index(min(blower.curve_share))
    valley = all(a >= b for a, b in zip(share[:lowest], share[1:lowest + 1], strict=True)) and all(
        a <= b for a, b in zip(share[lowest:-1], share[lowest + 1:], strict=True))
    yield ("blower", "curve_share", len(blower.curve_K) != len(share),
           "must have as many entries as curve_degC")
    yield ("blower", "curve_degC",
           any(a >= b for a, b in zip(blower.curve_K, blower.curve_K[1:], strict=False)),
           "must rise from entry to entry")
    yield ("blower", "curve_share", not valley, "must fall to one lowest part and then rise")
    yield ("blower", "curve_share", min(share) <= 0.0, "must stay above 0")


def _door(table: str, door: Door):
    travel = abs(door.open_ratio - door.closed_ratio)
    yield (table, "stop_error", door.stop_error >= door.start_error, "must be below start_error")
    yield (table, "least_travel", door.least_travel > travel,
           f"is more than the {travel:g} between closed_ratio and open_ratio")
    moved = travel * door.stall_s / door.travel_s
    yield (table, "stall_movement", door.stall_movement > 0.5 * moved,
           "is so large that a sound door would count as stalled")


def _names(c: Calibration):
    seen: set = set()
    sources = {**dict.fromkeys(c.sensor_names, CODE_FAULTS[:2]),
               **dict.fromkeys(c.door_names, CODE_FAULTS)}
    for i, zone in enumerate(c.zones):
        taken = zone.name in seen or zone.name in DOOR_KINDS
        yield f"zone[{i}]", "name", taken, f"{zone.name!r} is already taken"
        seen.add(zone.name)
    for i, code in enumerate(c.codes):
        yield (f"code[{i}]", "source", code.source not in sources,
               f"{code.source!r} is unknown; accepted: {', '.join(sources)}")
        yield (f"code[{i}]", "fault", code.fault not in sources.get(code.source, ()),
               f"{code.fault!r} cannot be told of {code.source!r}")
        yield f"code[{i}]", "number", code.number in seen, f"{code.number!r} is already taken"
        pair = (code.source, code.fault)
        yield f"code[{i}]", "fault", pair in seen, f"{' '.join(pair)!r} already has a code"
        seen |= {code.number, pair}


def calibration_schema() -> dict:
    """Return the JSON Schema of a calibration file.

    Returns
    -------
    dict
        Draft 2020-12. What only a comparison of two values can show (a band that crosses itself)
        is checked by `read_calibration` alone.

    Examples
    --------
    >>> schema = calibration_schema()
    >>> schema["properties"]["compressor"]["properties"]["minimum_off_s"]["maximum"]
    120
    """
    tables = {name: table_schema(kind) for name, kind in _TABLES.items()}
    zones = {"type": "array", "minItems": 1, "items": table_schema(Zone)}
    doors = {kind: table_schema(Door) for kind in DOOR_KINDS}
    sensors = {name: table_schema(Sensor, substitute=_substitute(name)) for name in SENSOR_UNITS}
    entries = {"name": _NAME.schema(), **tables,
               "zone": zones, "door": _object(doors), "sensor": _object(sensors),
               "code": {"type": "array", "minItems": 1, "items": table_schema(Code)}}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": "Calibration of a control head", **_object(entries)}


def _object(entries: dict) -> dict:
    return {"type": "object", "additionalProperties": False, "required": list(entries),
            "properties": entries}
