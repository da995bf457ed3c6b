"""Which part must be put right for a fault, and which faults are left when parts were."""

import tomllib
from functools import lru_cache
from importlib import resources

from coldbench.bench.fault_text import HEAD_DEAD, door_id, full_text
from coldbench.bench.model import Bench
from coldbench.errors import InputError
from coldbench.refrigerant.loop.faults import fault_kinds

FILE = "repairs.toml"
HEAD = "control head"


@lru_cache(maxsize=1)
def loop_repairs() -> dict[str, str]:
    """Return fault of the refrigerant loop → part to put right [dict].

    Raises: InputError naming file, key and reason.

    >>> loop_repairs()["txv-stuck-open"]
    'expansion valve'
    """
    text = resources.files("coldbench.bench").joinpath("data", FILE).read_text("utf-8")
    table = tomllib.loads(text)
    for name in fault_kinds():
        if not isinstance(table.get(name), str):
            raise InputError(f"{FILE}: {name}: wants the part that must be put right")
    return table


def repair_of(bench: Bench, fault: str) -> str:
    """Return the part that must be put right for a fault.

    Parameters
    ----------
    bench : Bench
        The bench.
    fault : str
        As `read` takes it.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> blue = load_bench("blue")
    >>> [repair_of(blue, text) for text in ("K1:coil_open", "blend_left:jammed", "undercharge=0.5")]
    ['K1', 'blend left door', 'refrigerant charge']
    """
    fault = full_text(bench, fault)
    own = next((one for one in bench.faults if one.id == fault), None)
    if own is not None:
        return own.part
    part = fault.partition(":")[0]
    if fault == HEAD_DEAD:
        return HEAD
    doors = {door_id(name): name for name in bench.calibration.door_names}
    if part in doors:
        return f"{doors[part]} door"
    return loop_repairs().get(fault.partition("=")[0].strip(), part.strip())


def repairable(bench: Bench) -> tuple[str, ...]:
    """Return every part that can be put right: of loop, head, doors, wiring [tuple of str]."""
    names = [*loop_repairs().values(), HEAD,
             *(f"{name} door" for name in bench.calibration.door_names),
             *(one.part for one in bench.faults), *bench.circuit.parts, *bench.circuit.wires]
    return tuple(dict.fromkeys(names))


def left(bench: Bench, faults: tuple[str, ...], replaced: tuple[str, ...]) -> tuple[str, ...]:
    """Return the faults that are left when parts were put right.

    Parameters
    ----------
    bench : Bench
        The bench.
    faults : tuple of str
        Before.
    replaced : tuple of str
        Parts.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> left(load_bench("blue"), ("K1:coil_open", "undercharge"), ("K1",))
    ('undercharge',)
    """
    return tuple(fault for fault in faults if repair_of(bench, fault) not in replaced)


def repair_minutes(minutes: dict[str, float], bench: Bench, part: str) -> float:
    """Return what putting a part right costs [min]."""
    if part in bench.circuit.wires:
        kind = "replace wire"
    elif part in loop_repairs().values():
        kind = "replace refrigerant part"
    else:
        found = bench.circuit.parts.get(part)
        kind = f"replace {found.kind}" if found else "replace part"
    return minutes.get(kind, minutes["replace part"])
