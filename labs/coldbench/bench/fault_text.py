"""Faults of a bench as a person writes them, sorted by the room they belong to.

    "undercharge=0.5"         refrigerant loop, with its severity
    "K1:coil_open"            a part or wire of the wiring
    "blend_left:jammed=0.3"   a door: jammed, blocked, lever_off
    "head:dead", "head:NAME"  the head; NAME is a fault written in the bench file
    "4711"                    any of these by its number in the catalogue
"""

import copy
from dataclasses import dataclass, field, replace
from itertools import combinations, product

from coldbench.bench.model import Bench
from coldbench.bench.tables import FaultEntry
from coldbench.control import Calibration, calibration_from_tables
from coldbench.electrical import Fault as ElectricalFault
from coldbench.electrical import parse_fault
from coldbench.electrical.fault_model import check_fault
from coldbench.electrical.faults import check_together
from coldbench.errors import InputError
from coldbench.refrigerant.loop.faults import Fault as LoopFault
from coldbench.refrigerant.loop.faults import fault as loop_fault
from coldbench.refrigerant.loop.faults import fault_kinds, fault_list

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
    """Faults of a bench, sorted; make them with `bench_faults`.

    own: those written in the bench file; calibration: of the head with all that they make wrong.
    """

    texts: tuple[str, ...] = ()
    loop: tuple[LoopFault, ...] = ()
    electrical: tuple[ElectricalFault, ...] = ()
    doors: dict[str, DoorFault] = field(default_factory=dict)
    own: tuple[FaultEntry, ...] = ()
    calibration: Calibration | None = None
    head_dead: bool = False


def door_id(door: str) -> str:
    """Return a door's name as faults write it [str].

    >>> door_id("blend left")
    'blend_left'
    """
    return door.replace(" ", "_")


def bench_faults(bench: Bench, faults) -> BenchFaults:
    """Return faults sorted by room, each checked against the bench; their order changes nothing.

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
        For a fault that this bench cannot have, one given twice, or two that contradict each
        other.

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
    found = BenchFaults()
    for text in faults:
        found = _with(bench, found, str(text))
    fault_list(found.loop)
    check_together(bench.circuit, found.electrical)
    if wrong := [one for one in found.own if one.calibration]:
        found = replace(found, calibration=wrong_calibration(bench, *wrong))
    return found


def _with(bench: Bench, found: BenchFaults, text: str) -> BenchFaults:
    """One more fault."""
    found, text = replace(found, texts=(*found.texts, text)), full_text(bench, text)
    own = next((one for one in bench.faults if one.id == text), None)
    part, colon, rest = text.partition(":")
    if own is not None:
        return _with_own(bench, found, own)
    if text == HEAD_DEAD:
        _refuse_twice(found.head_dead, text)
        return replace(found, head_dead=True)
    if part == "head" and colon:
        known = [one.id for one in bench.faults if one.id.startswith("head:")]
        raise InputError(f"{bench.name} has no fault {text!r}; its faults of the head are "
                         f"{', '.join([HEAD_DEAD, *known])}")
    doors = {door_id(name): name for name in bench.calibration.door_names}
    if part in doors and colon:
        return _with_door(found, _door_fault(doors[part], rest, text), text)
    if text.partition("=")[0].strip() in fault_kinds():
        return replace(found, loop=(*found.loop, loop_fault(text)))
    if not colon:
        raise InputError(
            f"{bench.name} has no fault {text!r}; accepted are those of the refrigerant "
            f"({', '.join(fault_kinds())}), PART:MODE of the wiring, DOOR:MODE "
            f"({', '.join(doors)}), and {', '.join([HEAD_DEAD, *(f.id for f in bench.faults)])}")
    one, _ = check_fault(bench.circuit, parse_fault(text))
    return replace(found, electrical=(*found.electrical, one))


def _refuse_twice(there: bool, text: str) -> None:
    if there:
        raise InputError(f"fault {text!r} is given twice; give each fault once")


def _with_door(found: BenchFaults, fault: DoorFault, text: str) -> BenchFaults:
    """A fault of a door, which can have but one."""
    if before := found.doors.get(fault.door):
        _refuse_twice(before == fault, text)
        raise InputError(f"door {fault.door} is {before.mode} at {before.position:g} and "
                         f"{fault.mode} at {fault.position:g}; give each door one fault")
    return replace(found, doors=found.doors | {fault.door: fault})


def full_text(bench: Bench, text: str) -> str:
    """Return the fault behind a number of the catalogue; an open fuse is a blown one [str]."""
    text = text.strip()
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


def _with_own(bench: Bench, found: BenchFaults, own: FaultEntry) -> BenchFaults:
    """A fault written in the bench file."""
    _refuse_twice(own in found.own, own.id)
    texts, found = found.texts, replace(found, own=(*found.own, own))
    for text in own.faults:
        found = _with(bench, found, text)
    return replace(found, texts=texts)


def wrong_calibration(bench: Bench, *own: FaultEntry) -> Calibration:
    """Return the head's calibration with the wrong entries of faults.

    Parameters
    ----------
    bench : Bench
        The bench.
    *own : FaultEntry
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
    _refuse_contradictions(own)
    where = f"{bench.file}: fault {' and '.join(one.id for one in own)}: calibration"
    tables = copy.deepcopy(bench.calibration_tables)
    for one in own:
        for path, value in one.calibration.items():
            _set_entry(tables, path, value, where)
    return calibration_from_tables(tables, where)


def _refuse_contradictions(own: tuple[FaultEntry, ...]) -> None:
    """Refuse two faults that both set an entry of the calibration."""
    for first, second in combinations(own, 2):
        for a, b in product(first.calibration, second.calibration):
            if f"{a}.".startswith(f"{b}.") or f"{b}.".startswith(f"{a}."):
                raise InputError(f"faults {first.id} and {second.id} contradict each other: both "
                                 f"set {max(a, b)}; give one of them")


def _set_entry(tables: dict, path: str, value, where: str) -> None:
    """Set an entry of the calibration by its path."""
    *tables_on_the_way, key = path.split(".")
    here = tables
    for name in tables_on_the_way:
        here = _table_of(here, name)
    if not isinstance(here, dict) or key not in here:
        raise InputError(f"{where}: the calibration has no entry {path!r}")
    here[key] = value


def _table_of(tables, name: str):
    """A table by its key, or one row of a list by its name; None if there is none."""
    if isinstance(tables, list):
        return next((row for row in tables if row.get("name") == name), None)
    return tables.get(name) if isinstance(tables, dict) else None
