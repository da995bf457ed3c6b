"""From the tables of a bench file to a `Bench`: circuits merged, names checked."""

from dataclasses import replace
from importlib import resources
from pathlib import Path

from coldbench.bench import tables as t
from coldbench.bench.checks import check_names
from coldbench.bench.merge import Joints, Sheet, merge, on_sheet
from coldbench.bench.model import Bench
from coldbench.bench.rules import read, read_named, read_rows
from coldbench.control import calibration_from_tables, load_calibration
from coldbench.control.calibration import Calibration
from coldbench.control.rules import Word, check_keys
from coldbench.electrical import Circuit, load_circuit
from coldbench.electrical.circuit import check_setting
from coldbench.electrical.loader import (
    read_layout,
    read_pieces,
    read_points,
    shipped_circuits,
)
from coldbench.errors import Gather, InputError
from coldbench.refrigerant.loop.parts import LoopParts, blue_parts, load_parts
from coldbench.refrigerant.loop.transient_parts import blue_cabin, blue_stores, load_stores
from coldbench.sensing import ControlHead, check_head, load_control_head, load_sensors
from coldbench.sensing.control_inputs import control_head_from_tables
from coldbench.sensing.sensors import sensors_from_tables

ONE = {"wiring": t.Wiring, "loop": t.LoopEntry, "blower": t.BlowerEntry,
       "clutch": t.ClutchEntry, "head": t.HeadEntry}
PERHAPS = {"engine": t.EngineEntry, "pressure_switch": t.PressureSwitchEntry}
USUAL = {"heater": t.HeaterEntry, "catalogue": t.CatalogueEntry,
         "instruments": t.InstrumentsEntry}
LISTS = {"circuit": (t.CircuitEntry, 1), "fan": (t.FanEntry, 1), "fault": (t.FaultEntry, 0)}
NAMED = {"state": (t.Settings, 1), "symptom": (t.Symptom, 0)}
KEYS = ("name", "title", "about", "circuit", *ONE, *PERHAPS, *USUAL, "fan", "requests",
        "state", "symptom", "fault", "inputs", "sensor", "converter", "input", "part", "wire",
        "test_point", "layout")
NEEDED = ("title", "circuit", *ONE, "fan", "requests", "state")


def made(tables: dict, file: str, folder: Path) -> Bench:
    """Return a bench from the tables of its file.

    Parameters
    ----------
    tables : dict
        As `tomllib` gives them.
    file : str
        For messages.
    folder : Path
        Where the files it names are.

    Returns
    -------
    Bench

    Raises
    ------
    InputError
        Naming file, key and reason; it tells of every mistake that does not follow from another.
    """
    gather = Gather()
    name, wanted = tables.get("name"), file.removesuffix(".toml")
    if name != wanted:
        said = "missing" if name is None else repr(name)
        gather.refuse(f"{file}: name is {said}; it must be the file's name without .toml, "
                      f"{wanted!r}")
    check_keys(tables, KEYS, NEEDED, file, gather)
    found = _plain(tables, file, gather)
    for name, (needs, make) in _MADE.items():
        if all(need in found for need in needs):
            _keep(found, name, gather, make, tables, found, file, folder)
    check_names(found, file, gather)
    gather.stop()
    del found["wiring"]  # the circuit holds it
    return Bench(file=file, **found)


def _keep(found: dict, name: str, gather: Gather, make, *values) -> None:
    """Keep what could be made, under its name."""
    before = len(gather.mistakes)
    one = gather.of(make, *values)
    if len(gather.mistakes) == before:
        found[name] = one


def _plain(tables: dict, file: str, gather: Gather) -> dict:
    """The tables that need no others, by the names they have in `Bench`."""
    found: dict = {}
    for key in ("name", "title", "about"):
        _keep(found, key, gather, _text, tables, key, file)
    for key, kind in {**ONE, **PERHAPS, **USUAL}.items():
        if key in tables or key in USUAL:
            _keep(found, key, gather, read, kind, tables.get(key, {}), f"{file}: {key}")
        elif key in PERHAPS:
            found[key] = None
    for many, reader in ((LISTS, read_rows), (NAMED, read_named)):
        for key, (kind, least) in many.items():
            if key in tables or not least:
                empty = [] if reader is read_rows else {}
                _keep(found, _FIELDS[key], gather, reader, kind, tables.get(key, empty),
                      f"{file}: {key}", least)
    return found


_FIELDS = {"circuit": "sheets", "fan": "fans", "fault": "faults", "state": "states",
           "symptom": "symptoms"}


def _text(tables: dict, key: str, file: str) -> str:
    return Word().read(tables[key], f"{file}: {key}") if key in tables else ""


def _path(name: str, folder: Path, where: str) -> Path:
    path = folder / name
    if not name.endswith(".toml") or not path.is_file():
        raise InputError(f"{where}: there is no file {name!r} beside the bench file")
    return path


def _read_text(path: Path, where: str) -> str:
    try:
        return path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{where}: {path.name} cannot be read as text: {error}") from None


def _circuit(tables: dict, found: dict, file: str, folder: Path) -> Circuit:
    gather = Gather()
    sheets = [gather.of(_sheet, entry, f"{file}: circuit: file", folder)
              for entry in found["sheets"]]
    pieces = gather.of(read_pieces, tables, file)
    points = gather.of(read_points, tables, file)
    gather.stop()
    wiring = found["wiring"]
    circuit = merge(found["name"], found["title"], tuple(sheets), Joints(*pieces, points),
                    wiring.ground, wiring.supply, file)
    return replace(circuit, layout=read_layout(tables, circuit.parts, file))


def _sheet(entry: t.CircuitEntry, where: str, folder: Path) -> Sheet:
    return Sheet(_sheet_circuit(entry.file, where, folder), entry.sheet, entry.leave_out)


def _sheet_circuit(name: str, where: str, folder: Path) -> Circuit:
    if name in shipped_circuits():
        return load_circuit(name)
    if not name.endswith(".toml"):
        raise InputError(f"{where}: no circuit {name!r}; accepted are "
                         f"{', '.join(shipped_circuits())}, or a path ending in .toml")
    return load_circuit(_path(name, folder, where))


def _calibration(tables: dict, found: dict, file: str, folder: Path) -> Calibration:
    return calibration_from_tables(found["calibration_tables"], _calibration_file(found))


def _calibration_file(found: dict) -> str:
    name = found["head"].calibration
    return name if name.endswith(".toml") else f"{name}.toml"


def _calibration_tables(tables: dict, found: dict, file: str, folder: Path) -> dict:
    """The tables of the calibration, so that a fault can change an entry."""
    import tomllib

    name = found["head"].calibration
    where = f"{file}: head: calibration"
    if not name.endswith(".toml"):
        try:
            load_calibration(name)
        except InputError as error:
            raise InputError(f"{where}: {error}") from None
        path = resources.files("coldbench.control").joinpath("data", f"{name}.toml")
        return tomllib.loads(path.read_text("utf-8-sig"))
    text = _read_text(_path(name, folder, where), where)
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(f"{where}: {name}: not valid TOML: {error}") from None


def _loop_parts(tables: dict, found: dict, file: str, folder: Path) -> LoopParts:
    where, loop, switch = f"{file}: loop: parts", found["loop"], found["pressure_switch"]
    parts = blue_parts() if loop.parts == "blue" else load_parts(
        _read_text(_path(loop.parts, folder, where), where), loop.parts)
    if switch is None:
        return parts
    return replace(parts, limits=replace(parts.limits,
                                         high_pressure_trip_gauge_Pa=switch.open_Pa))


def _stores(tables: dict, found: dict, file: str, folder: Path):
    return _stores_and_cabin(found["loop"].stores, file, folder)[0]


def _cabin(tables: dict, found: dict, file: str, folder: Path):
    return _stores_and_cabin(found["loop"].stores, file, folder)[1]


def _stores_and_cabin(name: str, file: str, folder: Path):
    if name == "blue":
        return blue_stores(), blue_cabin()
    where = f"{file}: loop: stores"
    return load_stores(_read_text(_path(name, folder, where), where), name)


def _inputs(tables: dict, found: dict, file: str, folder: Path) -> ControlHead:
    """The head's sensor inputs: the shipped list on its sheet, or the file's own, or both."""
    own, circuit = _sensors(tables, file), found["circuit"]
    base = _shipped_inputs(tables, found["sheets"], file)
    if base is None:
        if "converter" not in tables or "input" not in tables:
            raise InputError(f"{file}: wants inputs = \"shipped\", or [converter] and [[input]]")
        head = control_head_from_tables(
            {"circuit": circuit.name, "converter": tables["converter"],
             "input": tables["input"]}, own, file)
    elif "converter" in tables:
        raise InputError(f"{file}: converter: the shipped inputs bring their own")
    else:
        head = _extended(base, tables, own, file)
    try:
        check_head(head, circuit)
    except InputError as error:
        raise InputError(*(f"{file}: {one}" for one in error.mistakes)) from None
    return head


def _sensors(tables: dict, file: str) -> dict:
    own = tables.get("sensor", {})
    if not isinstance(own, dict):
        raise InputError(f"{file}: sensor: wants tables [sensor.<name>]")
    return load_sensors() | sensors_from_tables(own, file)


def _shipped_inputs(tables: dict, sheets: tuple, file: str) -> ControlHead | None:
    """The shipped list with the ids of the sheet its circuit is on."""
    if "inputs" not in tables:
        return None
    if tables["inputs"] != "shipped":
        raise InputError(f"{file}: inputs is {tables['inputs']!r}; \"shipped\" is accepted, or "
                         "leave it out and write [converter] and [[input]]")
    base = load_control_head()
    sheet = next((s.sheet for s in sheets if s.file == base.circuit), None)
    if sheet is None:
        raise InputError(f"{file}: inputs: \"shipped\" needs the circuit {base.circuit}")
    moved = {name: replace(one, part=on_sheet(one.part, sheet),
                           signal=on_sheet(one.signal, sheet),
                           pull_up=on_sheet(one.pull_up, sheet) if one.pull_up else "")
             for name, one in base.inputs.items()}
    return replace(base, circuit=tables.get("name", ""), reference=on_sheet(base.reference, sheet),
                   ground=on_sheet(base.ground, sheet), inputs=moved)


def _extended(base: ControlHead, tables: dict, sensors: dict, file: str) -> ControlHead:
    if "input" not in tables:
        return base
    dummy = {"bits": base.converter.bits, "reference": base.reference, "ground": base.ground,
             "reference_low_V": 4.0, "reference_high_V": 5.5, "fail_s": 0.5, "heal_s": 1.0}
    more = control_head_from_tables(
        {"circuit": base.circuit, "converter": dummy, "input": tables["input"]}, sensors, file)
    return replace(base, inputs=base.inputs | more.inputs)


def _requests(tables: dict, found: dict, file: str, folder: Path) -> dict[str, str]:
    table, inputs = tables.get("requests", {}), found["circuit"].inputs
    if not isinstance(table, dict):
        raise InputError(f"{file}: requests: wants a table")
    gather = Gather()
    for name, word in table.items():
        gather.of(_request, inputs, name, word, f"{file}: requests: {name}")
    gather.stop()
    return dict(table)


def _request(inputs: dict, name: str, word, where: str) -> None:
    if name not in inputs:
        raise InputError(f"{where}: the wiring has no input of that name; inputs are "
                         f"{', '.join(inputs)}")
    Word(t.REQUESTS).read(word, where)
    check_setting(inputs, name, 0.0 if word == "blower" else False, where)


_MADE = {
    "circuit": (("sheets", "wiring", "name", "title"), _circuit),
    "calibration_tables": (("head",), _calibration_tables),
    "calibration": (("head", "calibration_tables"), _calibration),
    "parts": (("loop", "pressure_switch"), _loop_parts),
    "stores": (("loop",), _stores),
    "cabin": (("loop",), _cabin),
    "inputs": (("sheets", "circuit"), _inputs),
    "requests": (("circuit",), _requests),
}
"""Field of `Bench` → fields that it needs, and what makes it from them and the file's tables."""
