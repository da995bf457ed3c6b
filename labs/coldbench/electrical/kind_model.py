"""What a kind of part is made of: parameters with units and ranges, and fault modes."""

from dataclasses import dataclass, field

VALUE = "value"  # in a mode's changes: put the fault's own value here
OPEN = float("inf")  # ohm: no connection at all


@dataclass(frozen=True)
class Parameter:
    """A number (or word) of a part.

    default None means the circuit file must give it; `internal` ones only faults and drivers set.
    """

    unit: str
    default: float | str | None = None
    least: float = 0.0
    most: float = 1e12
    choices: tuple[str, ...] = ()
    internal: bool = False


@dataclass(frozen=True)
class Mode:
    """A way a part fails.

    words: what is wrong, with {value} if the mode has one; sets: parameter → new value;
    scales: parameter → factor; value: default of the fault's value, None if it has none.
    """

    family: str
    words: str
    sets: dict[str, float | str] = field(default_factory=dict)
    scales: dict[str, float | str] = field(default_factory=dict)
    value: float | None = None
    unit: str = ""
    least: float = 0.0
    most: float = 1e9


@dataclass(frozen=True)
class Kind:
    """A kind of part: terminals in order, parameters, control input and fault modes.

    input: "" for none, "switch" for true or false, "duty" for 0 to 1; spare: terminals that may
    stay without a wire.
    """

    name: str
    words: str
    terminals: tuple[str, ...]
    parameters: dict[str, Parameter]
    modes: dict[str, Mode] = field(default_factory=dict)
    input: str = ""
    spare: tuple[str, ...] = ()


def ohm(default: float | None = None, least: float = 1e-4, most: float = 1e12,
        internal: bool = False) -> Parameter:
    """A resistance [ohm]."""
    return Parameter("ohm", default, least, most, internal=internal)


def opened(parameter: str, words: str, family: str = "open") -> Mode:
    """A mode that interrupts a path."""
    return Mode(family, words, sets={parameter: OPEN})


def raised(parameter: str, words: str, value: float, family: str = "high resistance") -> Mode:
    """A mode that sets a resistance to the fault's value [ohm]."""
    return Mode(family, words, sets={parameter: VALUE}, value=value, unit="ohm", least=1e-4)
