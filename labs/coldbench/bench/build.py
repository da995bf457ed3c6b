"""From the tables of a bench file to a `Bench`: circuits merged, names checked."""

from dataclasses import replace
from importlib import resources
from pathlib import Path

from coldbench.bench import tables as t
from coldbench.bench.merge import Joints, Sheet, merge, on_sheet
from coldbench.bench.model import Bench
from coldbench.bench.rules import read
from coldbench.bench.symptoms import check_symptoms
from coldbench.control import calibration_from_tables, load_calibration
from coldbench.control.calibration import Calibration
from coldbench.control.rules import Word
from coldbench.electrical import Circuit, load_circuit
from coldbench.electrical.circuit import check_setting
from coldbench.electrical.loader import (
    read_entries, read_part, read_points, read_wire, shipped_circuits)
from coldbench.errors import InputError
from coldbench.refrigerant.loop.parts import LoopParts, blue_parts, load_parts
from coldbench.refrigerant.loop.transient_parts import blue_cabin, blue_stores, load_stores
from coldbench.sensing import ControlHead, check_head, load_control_head, load_sensors
from coldbench.sensing.control_inputs import control_head_from_tables
from coldbench.sensing.sensors import sensors_from_tables

_ONE = {"wiring": t.Wiring, "loop": t.LoopEntry, "blower": t.BlowerEntry,
        "clutch": t.ClutchEntry, "head": t.HeadEntry}
_PERHAPS = {"engine": t.EngineEntry, "pressure_switch": t.PressureSwitchEntry}
_USUAL = {"heater": t.HeaterEntry, "catalogue": t.CatalogueEntry,
          "instruments": t.InstrumentsEntry}
KEYS = ("name", "title", "about", "circuit", *_ONE, *_PERHAPS, *_USUAL, "fan", "requests",
        "state", "symptom", "fault", "inputs", "sensor", "converter", "input", "part", "wire",
        "test_point")
_NEEDED = ("title", "circuit", *_ONE, "fan", "requests", "state")
SWITCHES = ("ignition", "running")


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
        Naming file, key and reason.
    """
    for key in tables:
        if key not in KEYS:
            raise InputError(f"{file}: unknown key {key!r}; accepted: {', '.join(KEYS)}")
    for key in _NEEDED:
        if key not in tables:
            raise InputError(f"{file}: lacks {key!r}")
    one = {key: read(kind, tables[key], f"{file}: {key}") for key, kind in _ONE.items()}
    perhaps = {key: read(kind, tables[key], f"{file}: {key}") if key in tables else None
               for key, kind in _PERHAPS.items()}
    usual = {key: read(kind, tables.get(key, {}), f"{file}: {key}")
             for key, kind in _USUAL.items()}
    sheets = _rows(t.CircuitEntry, tables["circuit"], f"{file}: circuit")
    circuit = _circuit(tables, sheets, one["wiring"], file, folder)
    calibration, calibration_tables = _calibration(one["head"].calibration, file, folder)
    stores, cabin = _stores(one["loop"].stores, file, folder)
    bench = Bench(
        name=tables["name"], title=_text(tables, "title", file), about=_text(tables, "about", file),
        file=file, circuit=circuit, sheets=sheets, loop=one["loop"],
        parts=_loop_parts(one["loop"], perhaps["pressure_switch"], file, folder),
        stores=stores, cabin=cabin, fans=_rows(t.FanEntry, tables["fan"], f"{file}: fan"),
        blower=one["blower"], clutch=one["clutch"], **perhaps, heater=usual["heater"],
        head=one["head"], calibration=calibration, calibration_tables=calibration_tables,
        inputs=_inputs(tables, sheets, circuit, file),
        requests=_requests(tables["requests"], circuit, file),
        states=_named(t.Settings, tables["state"], f"{file}: state", least=1),
        faults=_rows(t.FaultEntry, tables.get("fault", []), f"{file}: fault", least=0),
        catalogue=usual["catalogue"], instruments=usual["instruments"],
        symptoms=_named(t.Symptom, tables.get("symptom", {}), f"{file}: symptom"))
    _check(bench)
    return bench


def _text(tables: dict, key: str, file: str) -> str:
    return Word().read(tables[key], f"{file}: {key}") if key in tables else ""


def _rows(kind: type, rows, where: str, least: int = 1) -> tuple:
    if not isinstance(rows, list) or len(rows) < least:
        raise InputError(f"{where} must be written as [[{where.rpartition(' ')[2]}]] tables")
    return tuple(read(kind, row, f"{where} {n}") for n, row in enumerate(rows, 1))


def _path(name: str, folder: Path, where: str) -> Path:
    path = folder / name
    if not name.endswith(".toml") or not path.is_file():
        raise InputError(f"{where}: there is no file {name!r} beside the bench file")
    return path


def _read_text(path: Path, where: str) -> str:
    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{where}: {path.name} cannot be read as text: {error}") from None


def _circuit(tables: dict, entries: tuple, wiring: t.Wiring, file: str, folder: Path) -> Circuit:
    sheets = tuple(Sheet(_sheet_circuit(e.file, f"{file}: circuit: file", folder), e.sheet,
                         e.leave_out) for e in entries)
    parts = [read_part(row, file, n) for n, row in read_entries(tables, "part", file)]
    wires = [read_wire(row, file, n) for n, row in read_entries(tables, "wire", file)]
    joints = Joints(_by_id(parts, file), _by_id(wires, file), read_points(tables, file))
    return merge(tables["name"], _text(tables, "title", file), sheets, joints, wiring.ground,
                 wiring.supply, file)


def _by_id(items: list, file: str) -> dict:
    found = {}
    for item in items:
        if item.id in found:
            raise InputError(f"{file}: id {item.id!r} is used twice")
        found[item.id] = item
    return found


def _sheet_circuit(name: str, where: str, folder: Path) -> Circuit:
    if name in shipped_circuits():
        return load_circuit(name)
    if not name.endswith(".toml"):
        raise InputError(f"{where}: no circuit {name!r}; accepted are "
                         f"{', '.join(shipped_circuits())}, or a path ending in .toml")
    return load_circuit(_path(name, folder, where))


def _calibration(name: str, file: str, folder: Path) -> tuple[Calibration, dict]:
    """A calibration and the tables it came from, so that a fault can change an entry."""
    import tomllib

    where = f"{file}: head: calibration"
    if not name.endswith(".toml"):
        try:
            found = load_calibration(name)
        except InputError as error:
            raise InputError(f"{where}: {error}") from None
        path = resources.files("coldbench.control").joinpath("data", f"{name}.toml")
        return found, tomllib.loads(path.read_text("utf-8"))
    text = _read_text(_path(name, folder, where), where)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: {name}: not valid TOML: {error}") from None
    return calibration_from_tables(tables, name), tables


def _loop_parts(loop: t.LoopEntry, switch, file: str, folder: Path) -> LoopParts:
    where = f"{file}: loop: parts"
    parts = blue_parts() if loop.parts == "blue" else load_parts(
        _read_text(_path(loop.parts, folder, where), where), loop.parts)
    if switch is None:
        return parts
    return replace(parts, limits=replace(parts.limits,
                                         high_pressure_trip_gauge_Pa=switch.open_Pa))


def _stores(name: str, file: str, folder: Path):
    if name == "blue":
        return blue_stores(), blue_cabin()
    where = f"{file}: loop: stores"
    return load_stores(_read_text(_path(name, folder, where), where), name)


def _inputs(tables: dict, sheets: tuple, circuit: Circuit, file: str) -> ControlHead:
    """The head's sensor inputs: the shipped list on its sheet, or the file's own, or both."""
    own = _sensors(tables, file)
    base = _shipped_inputs(tables, sheets, file)
    if base is None:
        if "converter" not in tables or "input" not in tables:
            raise InputError(f"{file}: wants inputs = \"shipped\", or [converter] and [[input]]")
        head = control_head_from_tables(
            {"circuit": tables["name"], "converter": tables["converter"],
             "input": tables["input"]}, own, file)
    elif "converter" in tables:
        raise InputError(f"{file}: converter: the shipped inputs bring their own")
    else:
        head = _extended(base, tables, own, file)
    try:
        check_head(head, circuit)
    except InputError as error:
        raise InputError(f"{file}: {error}") from None
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
    return replace(base, circuit=tables["name"], reference=on_sheet(base.reference, sheet),
                   ground=on_sheet(base.ground, sheet), inputs=moved)


def _extended(base: ControlHead, tables: dict, sensors: dict, file: str) -> ControlHead:
    if "input" not in tables:
        return base
    dummy = {"bits": base.converter.bits, "reference": base.reference, "ground": base.ground,
             "reference_low_V": 4.0, "reference_high_V": 5.5, "fail_s": 0.5, "heal_s": 1.0}
    more = control_head_from_tables(
        {"circuit": base.circuit, "converter": dummy, "input": tables["input"]}, sensors, file)
    return replace(base, inputs=base.inputs | more.inputs)


def _requests(table, circuit: Circuit, file: str) -> dict[str, str]:
    if not isinstance(table, dict):
        raise InputError(f"{file}: requests: wants a table")
    for name, word in table.items():
        where = f"{file}: requests: {name}"
        if name not in circuit.inputs:
            raise InputError(f"{where}: the wiring has no input of that name; inputs are "
                             f"{', '.join(circuit.inputs)}")
        Word(t.REQUESTS).read(word, where)
        check_setting(circuit.inputs, name, 0.0 if word == "blower" else False, where)
    return dict(table)


def _named(kind: type, table, where: str, least: int = 0) -> dict:
    """Tables under names of the file's own: [state."full cooling"]."""
    word = where.rpartition(" ")[2]
    if not isinstance(table, dict) or len(table) < least:
        raise InputError(f"{where}: must be written as tables [{word}.<name>], at least {least}")
    return {name: read(kind, one, f"{where}.{name}") for name, one in table.items()}


def _check(bench: Bench) -> None:
    """Names that must be found in the wiring, the head, the inputs."""
    file, parts = bench.file, bench.circuit.parts
    motors = [(f"fan {n}", fan.motor, "motor") for n, fan in enumerate(bench.fans, 1)]
    for where, name, kind in (*motors, ("blower", bench.blower.motor, "motor"),
                              ("clutch", bench.clutch.coil, "coil")):
        if name not in parts or parts[name].kind != kind:
            known = ", ".join(p.id for p in parts.values() if p.kind == kind)
            raise InputError(f"{file}: {where}: the wiring has no {kind} {name!r}; it has {known}")
    if bench.clutch.release_A >= bench.clutch.engage_A:
        raise InputError(f"{file}: clutch: release_A must be below engage_A")
    switch = bench.pressure_switch
    if switch and switch.close_Pa >= switch.open_Pa:
        raise InputError(f"{file}: pressure_switch: close_kPa must be below open_kPa")
    if not 0.5 <= sum(fan.share for fan in bench.fans) <= 1.0 + 1e-9:
        raise InputError(f"{file}: fan: the shares of all fans must add up to 1 at most, and 0.5 "
                         "at least")
    places = [("head: supply", bench.head.supply), ("head: ground", bench.head.ground)]
    if bench.engine:
        places += [("engine: request", bench.engine.request),
                   ("engine: ground", bench.engine.ground)]
    for where, node in places:
        if node not in bench.circuit.nodes:
            raise InputError(f"{file}: {where}: the wiring has no terminal or splice {node!r}")
    _check_head(bench)
    for name, settings in bench.states.items():
        bench.check_settings(settings, f"{file}: state.{name}")
    check_symptoms(bench)


def _check_head(bench: Bench) -> None:
    head, calibration, file = bench.head, bench.calibration, bench.file
    fitted = [name for name in calibration.sensor_names if calibration.sensor(name).fitted]
    for key, table, wanted in (("signals", head.signals, fitted),
                               ("doors", head.doors, calibration.door_names)):
        for name in wanted:
            if name not in table:
                raise InputError(f"{file}: head: {key}: lacks {name!r}")
        for name, source in table.items():
            if name not in wanted:
                raise InputError(f"{file}: head: {key}: the calibration has no {name!r}; it has "
                                 f"{', '.join(wanted)}")
            if source != "bus" and source not in bench.inputs.inputs:
                raise InputError(f"{file}: head: {key}: {name}: no input {source!r}; inputs are "
                                 f"{', '.join(bench.inputs.inputs)}, or \"bus\"")
    reference = bench.circuit.parts.get(head.reference)
    if head.reference != "-" and (reference is None or reference.kind != "reference"):
        raise InputError(f"{file}: head: reference: the wiring has no reference "
                         f"{head.reference!r}")
