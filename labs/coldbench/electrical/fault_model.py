"""Faults: written as PART:MODE or PART:MODE=VALUE, checked against the circuit."""

import math
from dataclasses import dataclass

from coldbench.electrical.circuit import Circuit
from coldbench.electrical.kinds import WIRE_MODES, Mode
from coldbench.errors import InputError


@dataclass(frozen=True)
class Fault:
    """A fault of a part or wire; value None means the mode's default.

    >>> str(Fault("W12", "high_resistance", 2.5))
    'W12:high_resistance=2.5'
    """

    part: str
    mode: str
    value: float | str | None = None

    def __str__(self) -> str:
        if self.value is None:
            return f"{self.part}:{self.mode}"
        value = self.value if isinstance(self.value, str) else f"{self.value:g}"
        return f"{self.part}:{self.mode}={value}"


def parse_fault(text: str) -> Fault:
    """A fault from its text.

    Raises: InputError if the text does not have that form.

    >>> parse_fault("K1:coil_open")
    Fault(part='K1', mode='coil_open', value=None)
    >>> parse_fault("W12:high_resistance=2.5").value
    2.5
    """
    part, colon, rest = text.partition(":")
    mode, equals, value = rest.partition("=")
    if not (part.strip() and colon and mode.strip()) or (equals and not value.strip()):
        raise InputError(f"fault {text!r} is not of the form PART:MODE or PART:MODE=VALUE")
    if not equals:
        return Fault(part.strip(), mode.strip())
    try:
        return Fault(part.strip(), mode.strip(), float(value))
    except ValueError:
        return Fault(part.strip(), mode.strip(), value.strip())


def modes_of(circuit: Circuit, part: str) -> dict[str, Mode]:
    """Fault modes of a part or wire. Raises: InputError if there is none of that id."""
    if part in circuit.wires:
        return WIRE_MODES
    if part in circuit.parts:
        return circuit.parts[part].definition.modes
    known = ", ".join(circuit.parts) + f", and {len(circuit.wires)} wires"
    raise InputError(f"{circuit.name} has no part or wire {part!r}; it has {known}")


def check_fault(circuit: Circuit, fault: "Fault | str") -> tuple[Fault, Mode]:
    """A fault with its value filled in, and its mode. Raises: InputError."""
    fault = parse_fault(fault) if isinstance(fault, str) else fault
    modes = modes_of(circuit, fault.part)
    if fault.mode not in modes:
        known = ", ".join(modes) or "none"
        raise InputError(f"{fault.part} has no fault {fault.mode!r}; its faults are {known}")
    mode = modes[fault.mode]
    if fault.mode == "crossed" and fault.part in circuit.wires:
        return _check_crossed(circuit, fault), mode
    if mode.value is None:
        if fault.value is not None:
            raise InputError(f"fault {fault.part}:{fault.mode} takes no value")
        return fault, mode
    value = mode.value if fault.value is None else fault.value
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or not mode.least <= value <= mode.most:
        raise InputError(f"fault {fault.part}:{fault.mode}: value {value!r} is not accepted; "
                         f"{mode.least:g} to {mode.most:g} {mode.unit} is")
    return Fault(fault.part, fault.mode, float(value)), mode


def _check_crossed(circuit: Circuit, fault: Fault) -> Fault:
    other = fault.value
    if other not in circuit.wires or other == fault.part:
        raise InputError(f"fault {fault.part}:crossed needs the id of another wire, as in "
                         f"{fault.part}:crossed=WIRE; {other!r} is not one")
    return fault


def fault_words(fault: Fault, mode: Mode) -> str:
    """The fault in words: "make contact (30–87) burnt to 1 ohm"."""
    value = fault.value if isinstance(fault.value, str) or fault.value is None \
        else f"{fault.value:g}"
    return mode.words.format(value=value)
