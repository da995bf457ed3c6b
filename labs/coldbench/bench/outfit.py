"""What a learner finds at a bench: names of places, parts and tests. No reading is in it.

Plain data, so that a sealed bench can carry it along.
"""

from dataclasses import asdict, dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from coldbench.bench.model import Bench
from coldbench.bench.symptoms import PIPES
from coldbench.bench.repairs import repair_minutes, repairable
from coldbench.bench.uncertainty import usual_minutes
from coldbench.errors import InputError

UNPLUGGED_KINDS = ("fuse", "relay", "motor", "coil", "resistor", "variable_resistor",
                   "ratio_output", "current_source", "potentiometer", "lamp", "switch")
MOST_LISTED = 40
"""Names that a sentence can list."""
_UNITS = {"thermistor": "degC", "platinum": "degC", "transducer": "kPa", "photodiode": "W/m2"}
ZERO_C = 273.15


@dataclass(frozen=True)
class Outfit:
    """Names of a bench.

    fluid [refrigerant on the label]; sheets [hundred of the test points → words for that part of
    the wiring]; points [test point number → [node, label]]; nodes [every place a lead fits]; ground, supply;
    branches [what a clamp goes round]; pipes, vents, flows [where a thermometer or anemometer
    goes]; sensors [input → {unit, low, high, part, signals}: what a sensor box can stand for];
    delicate [nodes no test lamp may touch]; pluggable; parts [what can be replaced → minutes];
    tests [actuator tests → what the service tool asks for]; fans, blower, clutch [motors and
    coil they mean]; minutes [action → minutes]; names [part or wire → what it is; bench files
    sealed without them have none].
    """

    name: str
    title: str
    fluid: str
    states: tuple[str, ...]
    sheets: dict[int, str]
    points: dict[int, tuple[str, str]]
    nodes: tuple[str, ...]
    ground: str
    supply: str
    branches: tuple[str, ...]
    pipes: tuple[str, ...]
    vents: tuple[str, ...]
    flows: tuple[str, ...]
    sensors: dict[str, dict[str, Any]]
    delicate: tuple[str, ...]
    pluggable: tuple[str, ...]
    parts: dict[str, float]
    tests: dict[str, dict[str, Any]]
    fans: tuple[str, ...]
    blower: str
    clutch: str
    sight_glass: bool
    leave_out: tuple[str, ...]
    minutes: dict[str, float]
    names: dict[str, str] = field(default_factory=dict)

    def called(self, name: str) -> str:
        """Return the name of a part or wire with what it is, where that is known.

        >>> from coldbench.bench.files import load_bench
        >>> outfit = outfit_of(load_bench("blue"))
        >>> outfit.called("CL"), outfit.called("W9"), outfit.called("belt")
        ('CL  Compressor clutch', 'W9  wire from relay 1, terminal 87 to fan 1, plus', 'belt')
        """
        return f"{name}  {self.names[name]}" if name in self.names else name

    def node(self, place: str | int) -> str:
        """Return the node of a test point number or a node's name; InputError lists the points."""
        if isinstance(place, str) and place in self.nodes:
            return place
        number = int(place) if str(place).isdecimal() else None
        if number not in self.points:
            raise InputError(f"{self.name} has no test point or terminal {place!r}; test points "
                             f"are {', '.join(map(str, self.points))}")
        return self.points[number][0]

    def one_of(self, what: str, name: Any, names: Any) -> str:
        """Return a name that must be among some; InputError lists them."""
        if name not in names:
            raise InputError(f"{self.name} has no {what} {name!r}; {among(name, names)}")
        return name

    def as_dict(self) -> dict[str, Any]:
        """The outfit as plain data."""
        return asdict(self)


def among(name: Any, names: Any) -> str:
    """Say which names there are; of many, those that look like the one that was written.

    >>> among("left", ["right", "middle"])
    'it has right, middle'
    >>> among("pt 401", ["PT401", *(f"W{n}" for n in range(1, 60))])
    'did you mean PT401? It has 60 in all'
    """
    names = list(names)
    if len(names) <= MOST_LISTED:
        return f"it has {', '.join(names)}"
    by_small = {one.casefold(): one for one in names}
    close = [by_small[one] for one in get_close_matches(str(name)[:60].casefold(), by_small, 3)]
    if close:
        meant = " or ".join(filter(None, [", ".join(close[:-1]), close[-1]]))
        return f"did you mean {meant}? It has {len(names)} in all"
    return f"it has {len(names)}, such as {', '.join(names[:8])}"


def outfit_from(table: dict[str, Any]) -> Outfit:
    """Return an outfit from its plain data."""
    listed = {name: tuple(value) for name, value in table.items() if isinstance(value, list)}
    points = {int(n): tuple(point) for n, point in table["points"].items()}
    sheets = {int(n): words for n, words in table["sheets"].items()}
    return Outfit(**{**table, **listed, "points": points, "sheets": sheets})


def outfit_of(bench: Bench) -> Outfit:
    """Return what a learner finds at a bench.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.

    Returns
    -------
    Outfit

    Examples
    --------
    >>> from coldbench.bench.files import load_bench
    >>> found = outfit_of(load_bench("blue"))
    >>> found.node(5), found.vents, found.sight_glass
    ('M1.plus', ('left', 'right'), True)
    """
    if "outfit" not in bench.memory:
        bench.memory["outfit"] = _outfit(bench)
    return bench.memory["outfit"]


def _outfit(bench: Bench) -> Outfit:
    circuit, minutes = bench.circuit, usual_minutes() | bench.instruments.minutes
    return Outfit(
        name=bench.name, title=bench.title, fluid=bench.loop.fluid, states=tuple(bench.states),
        sheets={one.sheet: Path(one.file).stem.replace("-", " ") for one in bench.sheets},
        points={n: (point.at, point.label) for n, point in circuit.test_points.items()},
        nodes=circuit.nodes, ground=circuit.ground, supply=circuit.supply,
        branches=(*circuit.parts, *circuit.wires), pipes=PIPES,
        vents=tuple(bench.calibration.zone_names), flows=("vent", "condenser"),
        sensors=_sensors(bench), delicate=_delicate(bench),
        pluggable=(*(p.id for p in circuit.parts.values() if p.kind in UNPLUGGED_KINDS),
                   *circuit.wires),
        parts={part: repair_minutes(minutes, bench, part) for part in repairable(bench)},
        tests=_tests(bench), fans=tuple(fan.motor for fan in bench.fans),
        blower=bench.blower.motor, clutch=bench.clutch.coil, sight_glass=bench.instruments.sight_glass,
        leave_out=bench.instruments.leave_out, minutes=minutes, names=_names(circuit))


def _names(circuit) -> dict[str, str]:
    """Part → its label; wire → the two places that it joins."""
    points = {point.at: point.label for point in circuit.test_points.values()}

    def place(node: str) -> str:
        part = circuit.parts.get(node.partition(".")[0])
        words = part.label or part.id if part else f"splice {node}"
        return points.get(node) or words[:1].lower() + words[1:]

    wires = {wire.id: f"wire from {place(wire.start)} to {place(wire.end)}"
             for wire in circuit.wires.values()}
    return {part.id: part.label for part in circuit.parts.values() if part.label} | wires


def _sensors(bench: Bench) -> dict[str, dict[str, Any]]:
    """Sensor inputs but those of doors, with the range of a sensor box in the reading's unit."""
    found = {}
    for name, one in bench.inputs.inputs.items():
        if one.sensor.kind in _UNITS and name in bench.head.signals.values():
            unit = _UNITS[one.sensor.kind]
            low, high = _range(one.sensor)
            found[name] = {"unit": unit, "low": low, "high": high, "part": one.part,
                           "signals": [s for s, i in bench.head.signals.items() if i == name]}
    return found


def _range(sensor) -> tuple[float, float]:
    """Lowest and highest value of a sensor box, in its unit, rounded inwards."""
    model = sensor.model
    if sensor.kind in ("thermistor", "platinum"):
        low, high = model.lowest_temperature_K - ZERO_C, model.highest_temperature_K - ZERO_C
        return -(-low // 1.0), high // 1.0
    if sensor.kind == "transducer":
        return 0.0, model.pressure(model.highest_ratio) / 1e3 // 10.0 * 10.0
    return 0.0, 1400.0


def _delicate(bench: Bench) -> tuple[str, ...]:
    """Nodes of sensors and the head's inputs: a lamp's current could destroy a control unit."""
    head = bench.inputs
    fed = joined(bench, (head.reference, *(one.signal for one in head.inputs.values())))
    sensors = (node for one in head.inputs.values() for node in bench.circuit.parts[one.part].nodes)
    return tuple(dict.fromkeys((*fed, *sensors, head.ground)))


def joined(bench: Bench, nodes: tuple[str, ...]) -> tuple[str, ...]:
    """Return nodes and all that wires join to them [tuple of str]."""
    found, edge = dict.fromkeys(nodes), list(nodes)
    while edge:
        here = edge.pop()
        for wire in bench.circuit.wires.values():
            if here in (wire.start, wire.end):
                other = wire.end if wire.start == here else wire.start
                if other not in found:
                    found[other] = None
                    edge.append(other)
    return tuple(found)


def _tests(bench: Bench) -> dict[str, dict[str, Any]]:
    """Actuator test → what the service tool asks the head for."""
    found: dict[str, dict[str, Any]] = {f"fans {level}": {"fans": level}
                                        for level in ("off", "low", "high")}
    found |= {f"blower {share:.0%}": {"blower": share} for share in (0.0, 0.5, 1.0)}
    found |= {"compressor on": {"compressor": True}, "compressor off": {"compressor": False}}
    for name in bench.calibration.door_names:
        found |= {f"{name} door {word}": {f"door {name}": position}
                  for word, position in (("to 0%", 0.0), ("to 100%", 1.0))}
    return found


def si_value(unit: str, value: float) -> float:
    """Return a sensor box's value in SI [float].

    >>> si_value("degC", 20.0), si_value("kPa", 1000.0)
    (293.15, 1000000.0)
    """
    return value + ZERO_C if unit == "degC" else value * 1e3 if unit == "kPa" else value
