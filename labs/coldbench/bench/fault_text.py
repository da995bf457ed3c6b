"""Faults of a bench as a person writes them, sorted by the room they belong to.

    "undercharge=0.5"         refrigerant loop, with its severity
    "K1:coil_open"            a part or wire of the wiring
    "blend_left:jammed=0.3"   a door: jammed, blocked, lever_off
    "head:dead", "head:NAME"  the head; NAME is a fault written in the bench file
    "4711"                    any of these by its number in the catalogue
"""

import copy
from dataclasses import dataclass, field, replace

from coldbench.bench.model import Bench
from coldbench.control import Calibration, calibration_from_tables
from coldbench.electrical import Fault as ElectricalFault
from coldbench.electrical import parse_fault
from coldbench.electrical.fault_model import check_fault
from coldbench.errors import InputError
from coldbench.refrigerant.loop.faults import Fault as LoopFault
from coldbench.refrigerant.loop.faults import fault as loop_fault
from coldbench.refrigerant.loop.faults import fault_kinds

DOOR_MODES = {
    "jammed": ("door actuator jammed at {0:.0%}", 0.5),
    "blocked": ("door stopped by something at {0:.0%} of its way", 0.4),
    "lever_off": ("lever off: the actuator turns, the door stays at {0:.0%}", 0.0),
}
"""Mode → words and usual position."""
HEAD_DEAD = "head:dead"


@dataclass(frozen=True)
class DoorFault:
    """What is wrong with one door, and the position it means."""

    door: str
    mode: str
    position: float


@dataclass(frozen=True)
class BenchFaults:
    """Faults of a bench, sorted; make them with `bench_faults`."""

    texts: tuple[str, ...] = ()
    loop: tuple[LoopFault, ...] = ()
    electrical: tuple[ElectricalFault, ...] = ()
    doors: dict[str, DoorFault] = field(default_factory=dict)
    calibration: Calibration | None = None
    head_dead: bool = False


def door_id(door: str) -> str:
    """Return a door's name as faults write it [str].

    >>> door_id("blend left")
    'blend_left'
    """
    return door.replace(" ", "_")


def bench_faults(bench: Bench, faults) -> BenchFaults:
    """Return faults sorted by room, each checked against the bench.

    Parameters
    ----------
    bench : Bench
        The bench.
    faults : iterable of str
        As at the top of this module; or a BenchFaults, returned as it is.

    Returns
    -------
    BenchFaults

    Raises
    ------
    InputError
        For a fault that this bench cannot have, or one given twice.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> bench_faults(load_bench("blue"), ["K1:coil_open", "undercharge=0.5"]).loop
    (Fault(name='undercharge', severity=0.5),)
    """
    if isinstance(faults, BenchFaults):
        return faults
    if isinstance(faults, str):
        raise InputError(f"faults must be a list of faults, not {faults!r}")
    found, doors = BenchFaults(), {door_id(name) for name in bench.calibration.door_names}
    for text in faults:
        found = _with(bench, found, str(text))
    names = [*(one.name for one in found.loop), *(str(one) for one in found.electrical),
             *(text for text in found.texts if text.partition(":")[0] in ("head", *doors))]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"fault {name!r} is given twice; give each fault once")
    return found


def _with(bench: Bench, found: BenchFaults, text: str) -> BenchFaults:
    """One more fault."""
    found, text = replace(found, texts=(*found.texts, text)), _full(bench, text.strip())
    own = next((one for one in bench.faults if one.id == text), None)
    part, colon, rest = text.partition(":")
    if own is not None:
        return _with_own(bench, found, own)
    if text == HEAD_DEAD:
        return replace(found, head_dead=True)
    if part == "head" and colon:
        known = [one.id for one in bench.faults if one.id.startswith("head:")]
        raise InputError(f"{bench.name} has no fault {text!r}; its faults of the head are "
                         f"{', '.join([HEAD_DEAD, *known])}")
    doors = {door_id(name): name for name in bench.calibration.door_names}
    if part in doors and colon:
        door = _door_fault(doors[part], rest, text)
        return replace(found, doors=found.doors | {doors[part]: door})
    if text.partition("=")[0].strip() in fault_kinds():
        return replace(found, loop=(*found.loop, loop_fault(text)))
    if not colon:
        raise InputError(
            f"{bench.name} has no fault {text!r}; accepted are those of the refrigerant "
            f"({', '.join(fault_kinds())}), PART:MODE of the wiring, DOOR:MODE "
            f"({', '.join(doors)}), and {', '.join([HEAD_DEAD, *(f.id for f in bench.faults)])}")
    one, _ = check_fault(bench.circuit, parse_fault(text))
    return replace(found, electrical=(*found.electrical, one))


def _full(bench: Bench, text: str) -> str:
    """The fault behind a number of the catalogue; an open fuse is a blown one."""
    if text.isdecimal():
        from coldbench.bench.catalogue import numbered

        return numbered(bench, int(text)).id
    part, _, mode = text.partition(":")
    known = bench.circuit.parts.get(part)
    return f"{part}:blown" if mode == "open" and known and known.kind == "fuse" else text


def _door_fault(door: str, rest: str, text: str) -> DoorFault:
    mode, equals, written = rest.partition("=")
    if mode not in DOOR_MODES:
        raise InputError(f"door {door} has no fault {mode!r}; its faults are "
                         f"{', '.join(DOOR_MODES)}")
    if not equals:
        return DoorFault(door, mode, DOOR_MODES[mode][1])
    try:
        position = float(written)
    except ValueError:
        position = -1.0
    if not 0.0 <= position <= 1.0:
        raise InputError(f"fault {text!r}: {written!r} is not a position from 0 to 1")
    return DoorFault(door, mode, position)


def _with_own(bench: Bench, found: BenchFaults, own) -> BenchFaults:
    """A fault written in the bench file."""
    texts = found.texts
    for text in own.faults:
        found = _with(bench, found, text)
    if own.calibration:
        found = replace(found, calibration=wrong_calibration(bench, own))
    return replace(found, texts=texts)


def wrong_calibration(bench: Bench, own) -> Calibration:
    """Return the head's calibration with the wrong entries of a fault.

    Parameters
    ----------
    bench : Bench
        The bench.
    own : FaultEntry
        With `calibration`: {"fan.high.on_kPa": 2400.0, "zone.left.glass_m2": 0.0}; rows of a
        list go by their name.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        Naming file, fault, key and reason.
    """
    where = f"{bench.file}: fault {own.id}: calibration"
    tables = copy.deepcopy(bench.calibration_tables)
    for path, value in own.calibration.items():
        *tables_on_the_way, key = path.split(".")
        here = tables
        for name in tables_on_the_way:
            here = _table_of(here, name)
        if not isinstance(here, dict) or key not in here:
            raise InputError(f"{where}: the calibration has no entry {path!r}")
        here[key] = value
    return calibration_from_tables(tables, where)


def _table_of(tables, name: str):
    """A table by its key, or one row of a list by its name; None if there is none."""
    if isinstance(tables, list):
        return next((row for row in tables if row.get("name") == name), None)
    return tables.get(name) if isinstance(tables, dict) else None
