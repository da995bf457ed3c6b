"""A circuit as data: parts, wires, test points and named states. Loaded by `loader`."""

from dataclasses import dataclass, field
from functools import cached_property

from coldbench.electrical.conductors import wire_resistance
from coldbench.electrical.kinds import KINDS, Kind
from coldbench.errors import InputError


@dataclass(frozen=True)
class Part:
    """A part: id, kind, label, its parameters (all of them, defaults filled in), its input."""

    id: str
    kind: str
    label: str
    parameters: dict[str, float | str]
    input: str = ""

    @property
    def terminals(self) -> tuple[str, ...]:
        """Terminal names of the kind, in order."""
        return KINDS[self.kind].terminals

    @property
    def nodes(self) -> tuple[str, ...]:
        """Node of each terminal, "K1.30" for example."""
        return tuple(f"{self.id}.{terminal}" for terminal in self.terminals)

    @property
    def definition(self) -> Kind:
        """The kind's entry in the registry."""
        return KINDS[self.kind]


@dataclass(frozen=True)
class Wire:
    """A wire between two nodes: joint, conductor, joint. circuit: the number on the diagram."""

    id: str
    circuit: int | None
    start: str
    end: str
    size_mm2: float
    length_m: float
    joint_ohm: float = 0.002
    colour: str = ""

    @cached_property
    def resistance_ohm(self) -> float:
        """Resistance of both joints and the conductor [ohm]."""
        return 2.0 * self.joint_ohm + wire_resistance(self.size_mm2, self.length_m)


@dataclass(frozen=True)
class TestPoint:
    """A numbered place where a learner may put a meter lead."""

    __test__ = False  # not a class of tests

    number: int
    at: str
    label: str = ""


@dataclass(frozen=True, eq=False)
class Circuit:
    """A whole circuit.

    ground: reference node, at 0 V; supply: node that "short to supply" means; states: name →
    {input: setting}; layout: places the file fixes for its diagram, part → (x, row), the others
    are sought; inputs: name → "switch" or "duty"; nodes: all terminals and splices,
    ground first.
    """

    name: str
    title: str
    ground: str
    supply: str
    parts: dict[str, Part]
    wires: dict[str, Wire]
    test_points: dict[int, TestPoint]
    states: dict[str, dict[str, float | bool]]
    file: str = ""
    notes: tuple[str, ...] = ()
    layout: dict[str, tuple[int, int]] = field(default_factory=dict)
    memory: dict = field(default_factory=dict, repr=False)  # compiled forms, kept by the solver

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """All nodes, ground first."""
        found = dict.fromkeys((self.ground,))
        for part in self.parts.values():
            found.update(dict.fromkeys(part.nodes))
        for wire in self.wires.values():
            found.update(dict.fromkeys((wire.start, wire.end)))
        return tuple(found)

    @cached_property
    def inputs(self) -> dict[str, str]:
        """Control inputs: name → "switch" or "duty"."""
        return {part.input: part.definition.input for part in self.parts.values() if part.input}

    def node(self, place: str | int) -> str:
        """Node of a test point number, a node name, or a test point number as text.

        Raises: InputError if there is no such place.
        """
        if isinstance(place, str) and place in self.nodes:
            return place
        number = int(place) if str(place).isdecimal() else None
        if number not in self.test_points:
            points = ", ".join(str(n) for n in sorted(self.test_points))
            raise InputError(f"{self.name} has no test point or node {place!r}; "
                             f"test points are {points}")
        return self.test_points[number].at

    def settings(self, state: "str | dict[str, float | bool]") -> dict[str, float | bool]:
        """Setting of every input for a state's name or a dict; inputs left out are off."""
        if isinstance(state, str):
            if state not in self.states:
                names = ", ".join(self.states)
                raise InputError(f"{self.name} has no state {state!r}; states are {names}")
            state = self.states[state]
        for name, value in state.items():
            check_setting(self.inputs, name, value, self.name)
        off = {name: False if kind == "switch" else 0.0 for name, kind in self.inputs.items()}
        return off | dict(state)


def check_setting(inputs: dict[str, str], name: str, value, where: str) -> None:
    """Refuse an unknown input or a setting out of range."""
    if name not in inputs:
        known = ", ".join(inputs) or "none"
        raise InputError(f"{where}: unknown input {name!r}; inputs are {known}")
    if inputs[name] == "switch" and not isinstance(value, bool):
        raise InputError(f"{where}: input {name} is {value!r}; true or false is accepted")
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if inputs[name] == "duty" and not (number and 0.0 <= value <= 1.0):
        raise InputError(f"{where}: input {name} is {value!r}; a number from 0 to 1 is accepted")
