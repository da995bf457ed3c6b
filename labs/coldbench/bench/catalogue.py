"""Every single fault a bench can have, generated from its parts, plus those of its file.

Four families: *refrigerant* (the loop), *electrical* (supply, fuses, relays, motors, wires),
*sensor* (sensors and door actuators), *control* (the units: drivers, inputs, reference, wrong
constants of the head). A fault's number is opaque:
it tells a learner nothing about the part, but stays the same for the same bench.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase

from coldbench.bench.fault_text import DOOR_MODES, HEAD_DEAD, door_id
from coldbench.bench.model import Bench
from coldbench.electrical import Circuit
from coldbench.electrical import catalogue as circuit_catalogue
from coldbench.errors import InputError
from coldbench.refrigerant.loop.faults import fault_kinds

FIRST_NUMBER, LAST_NUMBER = 1000, 9999
CONTROL_KINDS = ("low_side_driver", "logic_input", "reference")
SENSOR_KINDS = ("variable_resistor", "ratio_output", "current_source", "potentiometer")


@dataclass(frozen=True)
class BenchFault:
    """One fault of the catalogue.

    id [what `read` takes]; number [opaque]; severity [0 to 1, 1 where there is no scale]; value
    [of the mode in its own unit, None without one]; proven_at [where an instrument proves it].
    """

    id: str
    number: int
    family: str
    part: str
    mode: str
    severity: float
    description: str
    proven_at: str
    value: float | str | None = None


def catalogue(bench: Bench) -> tuple[BenchFault, ...]:
    """Return every single fault of a bench.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.

    Returns
    -------
    tuple of BenchFault
        Refrigerant, electrical, sensor, control.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> found = catalogue(load_bench("blue"))
    >>> len(found) >= 120, sorted({one.family for one in found})
    (True, ['control', 'electrical', 'refrigerant', 'sensor'])
    """
    if "catalogue" not in bench.memory:
        plain = [*_of_loop(bench), *_of_wiring(bench), *_of_doors(bench), *_of_head(bench)]
        numbers = _numbers(bench.name, [row[0] for row in plain])
        bench.memory["catalogue"] = tuple(
            BenchFault(row[0], number, *row[1:]) for row, number in zip(plain, numbers,
                                                                        strict=True))
    return bench.memory["catalogue"]


def numbered(bench: Bench, number: int) -> BenchFault:
    """Return the fault with a number.

    Parameters
    ----------
    bench : Bench
        The bench.
    number : int
        Of the catalogue.

    Returns
    -------
    BenchFault

    Raises
    ------
    InputError
        If no fault has it.

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> bench = load_bench("blue")
    >>> one = catalogue(bench)[0]
    >>> numbered(bench, one.number) is one
    True
    """
    for one in catalogue(bench):
        if one.number == number:
            return one
    raise InputError(f"{bench.name} has no fault number {number!r}")


def _numbers(name: str, ids: list[str]) -> list[int]:
    """A different number for each id, the same on every machine."""
    taken: set[int] = set()
    found: dict[str, int] = {}
    span = LAST_NUMBER - FIRST_NUMBER + 1
    for one in sorted(ids):
        digest = hashlib.sha256(f"{name}/{one}".encode()).digest()
        number = int.from_bytes(digest[:6], "big") % span
        while number in taken:
            number = (number + 1) % span
        taken.add(number)
        found[one] = FIRST_NUMBER + number
    return [found[one] for one in ids]


def _of_loop(bench: Bench) -> Iterator[tuple]:
    for name, kind in fault_kinds().items():
        yield (name, "refrigerant", "refrigerant loop", name, kind.usual,
               f"{kind.title} ({kind.scale})", kind.shows)


def _of_wiring(bench: Bench) -> Iterator[tuple]:
    rules = bench.catalogue
    for one in circuit_catalogue(bench.circuit):
        is_wire = one.part not in bench.circuit.parts
        if is_wire and one.mode not in rules.wire_modes:
            continue
        if any(fnmatchcase(one.part, pattern) for pattern in rules.leave_out):
            continue
        yield (one.id, _family(bench, one.part), one.part, one.mode, 1.0, one.description,
               _points_of(bench.circuit, one.part), one.value)


def _family(bench: Bench, part: str) -> str:
    """Family of a part or wire; resistors at a sensor input are inside the head."""
    if part not in bench.circuit.parts:
        return "electrical"
    kind, inputs = bench.circuit.parts[part].kind, bench.inputs.inputs.values()
    if kind in SENSOR_KINDS:
        return "sensor"
    inside = {place for one in inputs for place in (one.pull_up, one.signal.partition(".")[0])}
    return "control" if kind in CONTROL_KINDS or part in inside else "electrical"


def _points_of(circuit: Circuit, part: str) -> str:
    """Where a meter is put: the test points at the ends of a part or wire, else its terminals."""
    wire = circuit.wires.get(part)
    ends = ([wire.start, wire.end] if wire else
            [f"{part}.{terminal}" for terminal in circuit.parts[part].definition.terminals])
    at = {point.at: number for number, point in circuit.test_points.items()}
    return "meter at " + ", ".join(f"test point {at[end]}" if end in at else end for end in ends)


def _of_doors(bench: Bench) -> Iterator[tuple]:
    for door in bench.calibration.door_names:
        for mode, (words, usual) in DOOR_MODES.items():
            yield (f"{door_id(door)}:{mode}", "sensor", f"{door} door", mode, 1.0,
                   f"{door}: {words.format(usual)}", "the door by eye, against its feedback", usual)


def _of_head(bench: Bench) -> Iterator[tuple]:
    yield (HEAD_DEAD, "control", "control head", "dead", 1.0,
           "control head does nothing though it has supply and ground",
           "supply and ground at the head's own pins, while it does not answer")
    for one in bench.faults:
        yield (one.id, one.family, one.part, one.id.partition(":")[2] or one.id, one.severity,
               one.description, one.proven_at)
