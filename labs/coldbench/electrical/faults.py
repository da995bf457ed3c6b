"""What faults change in a system's numbers, and the catalogue of all single faults."""

from collections.abc import Iterable
from dataclasses import dataclass

from coldbench.electrical.branches import (
    Branch,
    conductance,
    far_end,
    part_branches,
    wire_branches,
)
from coldbench.electrical.checks import joined
from coldbench.electrical.circuit import Circuit
from coldbench.electrical.fault_model import Fault, check_fault, fault_words
from coldbench.electrical.kind_model import OPEN, VALUE
from coldbench.electrical.kinds import WIRE_MODES
from coldbench.errors import InputError


@dataclass(frozen=True)
class Effect:
    """What a set of faults does.

    parameters: part → changed parameters; branches: part or wire → its branches now;
    extra: branches that the healthy circuit does not have; words: one sentence for each fault.
    """

    faults: tuple[Fault, ...]
    parameters: dict[str, dict]
    branches: dict[str, list[Branch]]
    extra: tuple[Branch, ...]
    words: tuple[str, ...]


def effect_of(circuit: Circuit, faults: Iterable, settings: dict, inputs: dict) -> Effect:
    """Effect of faults under settings, with inputs (part → changed parameters) beneath them.

    The order of the faults changes nothing. Raises: InputError for a fault the circuit cannot
    have, and for faults that contradict each other.
    """
    checked, wires, parts = _sorted_by_part(circuit, faults)
    parameters = {part: _changed(circuit.parts[part].parameters | inputs.get(part, {}), own)
                  for part, own in parts.items()}
    branches = {part: part_branches(circuit.parts[part], circuit.parts[part].parameters
                                    | inputs.get(part, {}) | changed,
                                    settings.get(circuit.parts[part].input))
                for part, changed in parameters.items()}
    extra: list[Branch] = []
    for wire, modes in wires.items():
        branches[wire] = _faulty_wire(circuit, wire, modes, extra)
    for wire, modes in wires.items():
        if "crossed" in modes:
            _cross(circuit, wire, modes["crossed"], branches, extra)
    words = tuple(f"{fault.part}: {fault_words(fault, mode)}" for fault, mode in checked)
    return Effect(tuple(fault for fault, _ in checked), parameters, branches, tuple(extra), words)


def check_together(circuit: Circuit, faults: Iterable) -> None:
    """Raises InputError for faults a circuit cannot have, or cannot have at once."""
    _, _, parts = _sorted_by_part(circuit, faults)
    for part, own in parts.items():
        _changed(circuit.parts[part].parameters, own)


def _sorted_by_part(circuit: Circuit, faults: Iterable) -> tuple[list, dict, dict]:
    """Faults checked: all with their modes, wire → mode → value, part → [(fault, mode)]."""
    checked = [check_fault(circuit, fault) for fault in faults]
    wires: dict[str, dict] = {}
    parts: dict[str, list] = {}
    for n, (fault, mode) in enumerate(checked):
        if any((one.part, one.mode) == (fault.part, fault.mode) for one, _ in checked[:n]):
            raise InputError(f"fault {fault.part}:{fault.mode} is given twice")
        if fault.part in circuit.wires:
            wires.setdefault(fault.part, {})[fault.mode] = fault.value
        else:
            parts.setdefault(fault.part, []).append((fault, mode))
    _check_crossings(wires)
    return checked, wires, parts


def _changed(base: dict, faults: list) -> dict:
    """Parameters of a part that its faults change: what they set, then what they scale."""
    changed: dict = {}
    setters: dict[str, Fault] = {}
    for fault, mode in faults:
        for key, value in mode.sets.items():
            value = fault.value if value == VALUE else value
            if key in changed:
                value = _both(changed[key], value, setters[key], fault)
            changed[key], setters[key] = value, fault
    for fault, mode in faults:
        for key, factor in mode.scales.items():
            factor = fault.value if factor == VALUE else factor
            changed[key] = changed.get(key, base[key]) * factor
    return changed


def _both(one: object, other: object, first: Fault, second: Fault) -> object:
    """What two faults of a part make of one parameter: a break prevails over any resistance."""
    if one == other or OPEN in (one, other):
        return one if one == other else OPEN
    raise InputError(f"faults {first} and {second} contradict each other; give one of them")


def _faulty_wire(circuit: Circuit, name: str, modes: dict, extra: list[Branch]) -> list[Branch]:
    """Branches of a faulty wire; a short to the supply goes to `extra`."""
    wire = circuit.wires[name]
    added = sum(modes.get(mode, 0.0) for mode in ("high_resistance", "corroded"))
    added = float("inf") if "open" in modes else added
    leak = 0.0
    if "short_to_ground" in modes:
        leak += conductance(modes["short_to_ground"])
    if "chafed" in modes:
        leak += conductance(1e6 * modes["chafed"])
    if "short_to_supply" in modes:
        extra.append(Branch(name, "supply", circuit.supply, far_end(wire, circuit.ground),
                            "linear", (conductance(modes["short_to_supply"]), 0.0)))
    return wire_branches(wire, circuit.ground, added, leak)


def _check_crossings(wires: dict[str, dict]) -> None:
    """Refuse a wire whose far end would be crossed with those of two others."""
    pairs = [(wire, modes["crossed"]) for wire, modes in wires.items() if "crossed" in modes]
    ends = [wire for pair in pairs for wire in pair]
    for wire in ends:
        if ends.count(wire) > 1:
            raise InputError(f"wire {wire} is crossed twice; cross it with one other wire")


def _cross(circuit: Circuit, first: str, second: str, branches: dict, extra: list) -> None:
    """Swap the far ends of two wires."""
    pair = [circuit.wires[first], circuit.wires[second]]
    for wire in pair:
        branches.setdefault(wire.id, wire_branches(wire, circuit.ground))
    for wire, other in (pair, pair[::-1]):
        main = branches[wire.id][0]
        extra.append(main._replace(name="crossed", b=other.end))
    for wire in pair:
        main, *rest = branches[wire.id]
        branches[wire.id] = [main._replace(values=(0.0, 0.0)), *rest]


@dataclass(frozen=True)
class CatalogueFault:
    """One entry of the generated catalogue; `id` is what `parse_fault` reads."""

    id: str
    part: str
    mode: str
    value: float | str | None
    family: str
    description: str


def catalogue(circuit: Circuit) -> tuple[CatalogueFault, ...]:
    """Every single fault of a circuit, with default values, generated from its parts and wires.

    A wire's faults leave out those that change nothing: a short of a wire to its own net. Wires
    are crossed with a neighbour that ends at the same part.

    >>> from coldbench.electrical import load_circuit
    >>> [f.id for f in catalogue(load_circuit("three-relay-fans")) if f.part == "F1"]
    ['F1:blown', 'F1:high_resistance']
    """
    faults = [Fault(part.id, mode) for part in circuit.parts.values()
              for mode in part.definition.modes if _fits(circuit, part, mode)]
    nets = joined(circuit)
    for wire in circuit.wires.values():
        for mode in WIRE_MODES:
            if mode == "crossed":
                faults += [Fault(wire.id, mode, other) for other in _neighbours(circuit, wire)]
            elif _wire_mode_fits(circuit, nets, wire, mode):
                faults.append(Fault(wire.id, mode))
    return tuple(_entry(circuit, fault) for fault in faults)


def _entry(circuit: Circuit, fault: Fault) -> CatalogueFault:
    full, mode = check_fault(circuit, fault)
    place = circuit.parts[fault.part].label if fault.part in circuit.parts else "wire"
    words = f"{fault.part} ({place}): {fault_words(full, mode)}" if place else \
        f"{fault.part}: {fault_words(full, mode)}"
    return CatalogueFault(str(fault), fault.part, fault.mode, full.value, mode.family, words)


def _fits(circuit: Circuit, part, mode: str) -> bool:
    """Whether a fault of a part can show: contacts without a wire cannot fail."""
    wired = {node for wire in circuit.wires.values() for node in (wire.start, wire.end)}
    if part.kind == "relay" and mode.startswith("break_"):
        return f"{part.id}.87a" in wired
    if part.kind == "relay" and mode in ("contacts_burnt", "contacts_open", "contacts_welded"):
        return f"{part.id}.87" in wired
    return True


def _wire_mode_fits(circuit: Circuit, nets: dict, wire, mode: str) -> bool:
    net = nets[wire.start]
    grounded = net == nets[circuit.ground]
    if mode == "corroded":
        return grounded
    if mode in ("short_to_ground", "chafed"):
        return not grounded
    if mode == "short_to_supply":
        return net != nets[circuit.supply]
    return True


def _neighbours(circuit: Circuit, wire) -> list[str]:
    """Later wires whose far end is at another terminal of the same part."""
    later = list(circuit.wires.values())
    later = later[later.index(wire) + 1:]
    part, dot, _ = wire.end.partition(".")
    return [other.id for other in later
            if dot and other.end != wire.end and other.end.partition(".")[0] == part]
