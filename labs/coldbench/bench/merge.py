"""One circuit from several circuit files: the sheets of a bench's wiring diagram.

Each file is a sheet. Ids that end in a number and test points of sheet n are counted on from
n hundred, circuit numbers from n thousand: F1 of sheet 2 is F201, test point 3 is 203, circuit 12
is 2012. Ids without a number (KC, MB, B) stay. What a bench does not have, such as the stand-in battery of a
file used alone, is left out; the bench's own wires join the sheets. A part that two sheets
name alike must be the same in both, and is then one part.
"""

import re
from dataclasses import dataclass, replace

from coldbench.electrical import Circuit, Part, TestPoint, Wire
from coldbench.electrical.checks import check_wiring
from coldbench.errors import InputError

PER_SHEET = 100
_NUMBERED = re.compile(r"([A-Za-z_]+?)(\d+)")


@dataclass(frozen=True)
class Sheet:
    """One circuit of a bench: the circuit, its sheet number, and the ids it leaves out."""

    circuit: Circuit
    number: int
    leave_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class Joints:
    """What the bench itself adds: parts, wires and test points."""

    parts: dict[str, Part]
    wires: dict[str, Wire]
    test_points: dict[int, TestPoint]


def on_sheet(name: str, sheet: int) -> str:
    """Return an id or node as it is called on a sheet.

    Parameters
    ----------
    name : str
        "F1", "K1.87" or "S3".
    sheet : int
        Number of the sheet, 0 for ids that stay.

    Returns
    -------
    str

    Examples
    --------
    >>> on_sheet("K1.87", 2), on_sheet("KC.30", 2), on_sheet("S3", 0)
    ('K201.87', 'KC.30', 'S3')
    """
    first, dot, terminal = name.partition(".")
    found = _NUMBERED.fullmatch(first)
    if found and sheet:
        first = f"{found[1]}{PER_SHEET * sheet + int(found[2])}"
    return f"{first}{dot}{terminal}"


def merge(name: str, title: str, sheets: tuple[Sheet, ...], joints: Joints, ground: str,
          supply: str, file: str) -> Circuit:
    """Return the one circuit of a bench.

    Parameters
    ----------
    name, title, file : str
        Of the bench.
    sheets : tuple of Sheet
        Circuits.
    joints : Joints
        The bench's own.
    ground, supply : str
        Reference node, and what "short to supply" means.

    Returns
    -------
    Circuit
        Checked like any other.

    Raises
    ------
    InputError
        Naming file, key and reason.
    """
    parts: dict[str, Part] = {}
    wires: dict[str, Wire] = {}
    points: dict[int, TestPoint] = {}
    for sheet in sheets:
        _check_left_out(sheet, file)
        _add(parts, _parts_of(sheet), "part", sheet.circuit.name, file)
        _add(wires, _wires_of(sheet), "wire", sheet.circuit.name, file)
        _add(points, _points_of(sheet, parts, wires), "test_point", sheet.circuit.name, file)
    for kept, own, word in ((parts, joints.parts, "part"), (wires, joints.wires, "wire"),
                            (points, joints.test_points, "test_point")):
        _add(kept, own, word, "the bench's own", file)
    clash = parts.keys() & wires.keys()
    if clash:
        raise InputError(f"{file}: id {min(clash)!r} is given to a part and to a wire")
    circuit = Circuit(name, title, ground, supply, parts, wires, dict(sorted(points.items())),
                      {}, file)
    check_wiring(circuit)
    return circuit


def _check_left_out(sheet: Sheet, file: str) -> None:
    known = sheet.circuit.parts.keys() | sheet.circuit.wires.keys()
    for name in sheet.leave_out:
        if name not in known:
            raise InputError(f"{file}: circuit {sheet.circuit.name}: leave_out: it has no part or "
                             f"wire {name!r}")


def _add(kept: dict, new: dict, word: str, sheet: str, file: str) -> None:
    for key, value in new.items():
        if kept.setdefault(key, value) != value:
            raise InputError(f"{file}: circuit {sheet}: {word} {key} is already another {word}; "
                             "give the circuit another sheet number, or leave one of them out")


def _parts_of(sheet: Sheet) -> dict[str, Part]:
    kept = (part for part in sheet.circuit.parts.values() if part.id not in sheet.leave_out)
    renamed = (replace(part, id=on_sheet(part.id, sheet.number)) for part in kept)
    return {part.id: part for part in renamed}


def _wires_of(sheet: Sheet) -> dict[str, Wire]:
    found = {}
    for wire in sheet.circuit.wires.values():
        if wire.id not in sheet.leave_out:
            number = None if wire.circuit is None else wire.circuit + 1000 * sheet.number
            new = replace(wire, id=on_sheet(wire.id, sheet.number), circuit=number,
                          start=on_sheet(wire.start, sheet.number),
                          end=on_sheet(wire.end, sheet.number))
            found[new.id] = new
    return found


def _points_of(sheet: Sheet, parts: dict, wires: dict) -> dict[int, TestPoint]:
    """Test points of the places that are left."""
    nodes = {node for part in parts.values() for node in part.nodes}
    nodes |= {node for wire in wires.values() for node in (wire.start, wire.end)}
    found = {}
    for point in sheet.circuit.test_points.values():
        at = on_sheet(point.at, sheet.number)
        if at in nodes and _same_place_is_new(sheet, point.at):
            number = PER_SHEET * sheet.number + point.number
            found[number] = replace(point, number=number, at=at)
    return found


def _same_place_is_new(sheet: Sheet, node: str) -> bool:
    """Posts of a part that is left out here have their test point on its own sheet."""
    return node.partition(".")[0] not in sheet.leave_out
