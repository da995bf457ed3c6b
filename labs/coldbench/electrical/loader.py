"""Circuit files: read, checked, turned into a `Circuit`.

A file is TOML. Every complaint names the file, the key and the reason.
"""

import math
import re
import tomllib
from functools import lru_cache
from importlib import resources
from pathlib import Path

from coldbench.electrical.checks import check_wiring
from coldbench.electrical.circuit import Circuit, Part, TestPoint, Wire, check_setting
from coldbench.electrical.conductors import conductor_table
from coldbench.electrical.kinds import KINDS
from coldbench.errors import Gather, InputError, toml_trouble

_ID = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_TOP = {"name", "title", "ground", "supply", "states", "part", "wire", "test_point", "notes",
        "layout"}
_PART_KEYS = {"id", "kind", "label", "input"}
_WIRE_KEYS = {"id", "circuit", "from", "to", "size_mm2", "length_m", "joint_ohm", "colour"}
_POINT_KEYS = {"number", "at", "label"}


def shipped_circuits() -> tuple[str, ...]:
    """Names of the circuits that come with the package.

    >>> "three-relay-fans" in shipped_circuits()
    True
    """
    folder = resources.files(__package__).joinpath("circuits")
    return tuple(sorted(entry.name[:-5] for entry in folder.iterdir()
                        if entry.name.endswith(".toml")))


def load_circuit(name_or_path: str | Path) -> Circuit:
    """A circuit by its shipped name, or from a TOML file.

    Parameters: name_or_path, "three-relay-fans" for example, or a path ending in .toml.
    Returns: Circuit, checked. A shipped one is the same object at every call.
    Raises: InputError naming file, key and reason.

    >>> load_circuit("three-relay-fans").title
    'Two condenser fans on three relays'
    """
    if str(name_or_path) in shipped_circuits():
        return _shipped(str(name_or_path))
    path = Path(name_or_path)
    if path.suffix != ".toml":
        names = ", ".join(shipped_circuits())
        raise InputError(f"no circuit {str(name_or_path)!r}; accepted are {names}, "
                         "or a path ending in .toml")
    try:
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise InputError(f"circuit file {path} cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise InputError(f"circuit file {path} is not UTF-8 text") from None
    return parse_circuit(text, path.name)


@lru_cache
def _shipped(name: str) -> Circuit:
    file = resources.files(__package__).joinpath(f"circuits/{name}.toml")
    return parse_circuit(file.read_text("utf-8"), f"{name}.toml")


def parse_circuit(text: str, file: str = "circuit.toml") -> Circuit:
    """A checked circuit from the text of a file. Raises: InputError."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: {toml_trouble(error, text)}") from None
    _known(table, _TOP, file)
    name = _text(table, "name", file)
    if name != file.removesuffix(".toml"):
        raise InputError(f"{file}: name is {name!r}; it must be the file's name without .toml, "
                         f"{file.removesuffix('.toml')!r}")
    parts, wires = read_pieces(table, file)
    clash = parts.keys() & wires.keys()
    if clash:
        raise InputError(f"{file}: id {min(clash)!r} is given to a part and to a wire")
    circuit = Circuit(
        name=name, title=_text(table, "title", file), ground=_text(table, "ground", file),
        supply=_supply(table, parts, file), parts=parts, wires=wires,
        test_points=_points(table, file), states=_states(table, parts, file), file=file,
        notes=_notes(table, file), layout=_layout(table, parts, file))
    check_wiring(circuit)
    return circuit


def read_pieces(table: dict, file: str) -> tuple[dict[str, Part], dict[str, Wire]]:
    """The parts and wires of a file, by id. Raises: InputError, for all wrong ones."""
    gather = Gather()
    parts = [gather.of(_part, entry, file, n) for n, entry in _entries(table, "part", file)]
    wires = [gather.of(_wire, entry, file, n) for n, entry in _entries(table, "wire", file)]
    gather.stop()
    return _by_id(parts, file), _by_id(wires, file)


def _known(table: dict, keys: set[str], where: str) -> None:
    for key in table:
        if key not in keys:
            near = [known for known in sorted(keys) if known.startswith(f"{key}_")]
            unit = f", its unit is missing: write {near[0]!r}" if len(near) == 1 else ""
            raise InputError(f"{where}: unknown key {key!r}{unit}; keys are "
                             f"{', '.join(sorted(keys))}")


def _text(table: dict, key: str, where: str, default: str | None = None) -> str:
    value = table.get(key, default)
    if value is None:
        raise InputError(f"{where}: {key} is missing; a text is needed")
    if not isinstance(value, str) or (default is None and not value.strip()):
        raise InputError(f"{where}: {key} is {value!r}; a text is needed")
    return value


def _number(value, key: str, where: str, least: float, most: float) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise InputError(f"{where}: {key} is {value!r}; a number is needed")
    if not least <= value <= most:
        raise InputError(f"{where}: {key} is {value:g}; {least:g} to {most:g} is accepted")
    return float(value)


def _entries(table: dict, key: str, file: str):
    entries = table.get(key, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise InputError(f"{file}: {key} must be written as [[{key}]] tables")
    return list(enumerate(entries, 1))


def _identity(entry: dict, word: str, file: str, number: int) -> str:
    name = entry.get("id")
    if not isinstance(name, str) or not _ID.fullmatch(name):
        raise InputError(f"{file}: {word} {number}: id is {name!r}; a letter followed by letters, "
                         "digits or _ is needed")
    return name


def _by_id(items: list, file: str) -> dict:
    table = {}
    for item in items:
        if item.id in table:
            raise InputError(f"{file}: id {item.id!r} is used twice")
        table[item.id] = item
    return table


def _part(entry: dict, file: str, number: int) -> Part:
    name = _identity(entry, "part", file, number)
    where = f"{file}: part {name}"
    told = entry.get("kind")
    kind = KINDS.get(told) if isinstance(told, str) else None
    if kind is None:
        raise InputError(f"{where}: unknown kind {entry.get('kind')!r}; kinds are "
                         f"{', '.join(KINDS)}")
    given = {key: value for key, value in entry.items() if key not in _PART_KEYS}
    open_keys = {key for key, p in kind.parameters.items() if not p.internal}
    _known(given, open_keys, f"{where} ({kind.name})")
    parameters = {key: _parameter(key, given, kind.parameters[key], where)
                  for key in kind.parameters}
    if kind.name in ("relay",) and parameters["release_V"] >= parameters["operate_V"]:
        raise InputError(f"{where}: release_V must be below operate_V")
    return Part(name, kind.name, _text(entry, "label", where, ""), parameters,
                _input(entry, kind, where))


def _input(entry: dict, kind, where: str) -> str:
    if not kind.input:
        if "input" in entry:
            raise InputError(f"{where}: a {kind.name} has no input")
        return ""
    name = _text(entry, "input", where)
    if not _ID.fullmatch(name):
        raise InputError(f"{where}: input is {name!r}; letters, digits and _ are accepted")
    return name


def check_parameter(key: str, value, rule, where: str) -> float | str:
    """A parameter's value if its rule accepts it. Raises: InputError."""
    if rule.choices:
        if value not in rule.choices:
            raise InputError(f"{where}: {key} is {value!r}; choices are {', '.join(rule.choices)}")
        return value
    return _number(value, key, where, rule.least, rule.most)


def _parameter(key: str, given: dict, rule, where: str) -> float | str:
    if key not in given:
        if rule.default is None:
            raise InputError(f"{where}: {key} is missing"
                             + (f" ({rule.unit})" if rule.unit else ""))
        return rule.default
    return check_parameter(key, given[key], rule, where)


def _wire(entry: dict, file: str, number: int) -> Wire:
    name = _identity(entry, "wire", file, number)
    where = f"{file}: wire {name}"
    _known(entry, _WIRE_KEYS, where)
    circuit = entry.get("circuit")
    if circuit is not None and (isinstance(circuit, bool) or not isinstance(circuit, int)):
        raise InputError(f"{where}: circuit is {circuit!r}; a whole number is needed")
    size = _number(entry.get("size_mm2"), "size_mm2", where, 0.1, 100.0)
    if size not in conductor_table():
        sizes = ", ".join(f"{s:g}" for s in conductor_table())
        raise InputError(f"{where}: size_mm2 is {size:g}; sizes are {sizes}")
    return Wire(name, circuit, _text(entry, "from", where), _text(entry, "to", where), size,
                _number(entry.get("length_m"), "length_m", where, 0.01, 100.0),
                _number(entry.get("joint_ohm", 0.002), "joint_ohm", where, 1e-4, 1e6),
                _text(entry, "colour", where, ""))


def _supply(table: dict, parts: dict[str, Part], file: str) -> str:
    sources = [part for part in parts.values() if part.kind == "source"]
    if not sources:
        raise InputError(f"{file}: part: a circuit needs at least one source")
    return _text(table, "supply", file, f"{sources[0].id}.plus")


def _points(table: dict, file: str) -> dict[int, TestPoint]:
    points = {}
    for position, entry in _entries(table, "test_point", file):
        number = entry.get("number")
        where = f"{file}: test_point {number if number is not None else position}"
        _known(entry, _POINT_KEYS, where)
        if isinstance(number, bool) or not isinstance(number, int) or number < 1:
            raise InputError(f"{where}: number is {number!r}; a whole number from 1 is needed")
        if number in points:
            raise InputError(f"{where}: number {number} is used twice")
        points[number] = TestPoint(number, _text(entry, "at", where),
                                   _text(entry, "label", where, ""))
    return points


def _states(table: dict, parts: dict[str, Part], file: str) -> dict:
    inputs = {p.input: p.definition.input for p in parts.values() if p.input}
    for part in parts.values():
        if part.input and inputs[part.input] != part.definition.input:
            raise InputError(f"{file}: part {part.id}: input {part.input!r} is a switch for one "
                             "part and a duty for another")
    states = table.get("states")
    if not isinstance(states, dict) or not states or not all(
            isinstance(state, dict) for state in states.values()):
        raise InputError(f"{file}: states: at least one [states.NAME] table is needed")
    for name, state in states.items():
        for key, value in state.items():
            check_setting(inputs, key, value, f"{file}: states.{name}")
        missing = sorted(inputs.keys() - state.keys())
        if missing:
            raise InputError(f"{file}: states.{name}: {missing[0]} is missing")
    return states


def _notes(table: dict, file: str) -> tuple[str, ...]:
    notes = table.get("notes", [])
    if not isinstance(notes, list) or not all(isinstance(note, str) for note in notes):
        raise InputError(f"{file}: notes must be a list of texts")
    return tuple(notes)


def _layout(table: dict, parts: dict[str, Part], file: str) -> dict[str, tuple[int, int]]:
    """Places that the file fixes for the diagram: part id → (x in grid steps, row)."""
    places = table.get("layout", {})
    if not isinstance(places, dict):
        raise InputError(f"{file}: layout must be a table of places, K1 = [x, row]")
    for name, place in places.items():
        if name not in parts:
            raise InputError(f"{file}: layout names {name!r}, which is no part of this circuit")
        whole = isinstance(place, list) and len(place) == 2 and all(
            isinstance(number, int) and 0 <= number <= 500 for number in place)
        if not whole:
            raise InputError(f"{file}: layout of {name}: {place!r} is not a place; two whole "
                             "numbers from 0 to 500 are accepted, [x, row]")
    return {name: tuple(place) for name, place in places.items()}


# for files that hold test points and places of their own beside whole circuits
read_points, read_layout = _points, _layout
