"""What each kind of part is to the solver: branches between nodes, each with one law.

A branch that a relay switches names the position in which it conducts; the relay iteration
turns it on and off. A pulse-width driver and a ratiometric sensor are averaged: their output is
a share D of the supply behind a resistance, and the supply carries the share D of the output
current, so that energy is kept. As a mesh of three conductances (one of them negative) the
equations stay symmetric.

The wiring of branches never depends on settings or on a part's faults: an interrupted branch has
conductance 0, or gate 0 if its law is curved. Values of a linear branch are (g, e); those of a
curved one are (gate, shunt, law's own values): i = gate·law(v) + shunt·v.
"""

import math
from typing import NamedTuple

from coldbench.electrical.circuit import Circuit, Part, Wire

ENERGISED, RELEASED = "energised", "released"
STRAIGHT_A = 1000.0  # from this current on a diode's curve continues straight


class Branch(NamedTuple):
    """One branch: part, its own name in the part ("" for the main one), nodes, law and values.

    when: relay position in which it conducts, "" for always.
    """

    part: str
    name: str
    a: str
    b: str
    law: str
    values: tuple[float, ...]
    when: str = ""

    @property
    def key(self) -> str:
        """"K1.coil", or the part's id for its main branch."""
        return f"{self.part}.{self.name}" if self.name else self.part


def conductance(*ohms: float) -> float:
    """Conductance [S] of resistances in series [ohm]; an open path gives 0.

    >>> conductance(1.0, 3.0), conductance(math.inf)
    (0.25, 0.0)
    """
    return 1.0 / sum(ohms)


def diode_values(p: dict) -> tuple[float, float, float]:
    """Saturation current [A], slope voltage [V] and end of the curve [V] of a diode."""
    slope = p["slope_V"]
    saturation = 1.0 / math.expm1(p["forward_V"] / slope)
    return saturation, slope, slope * math.log(STRAIGHT_A / saturation)


def _linear(part: Part, name: str, a: int, b: int, siemens: float, emf: float = 0.0,
            when: str = "") -> Branch:
    nodes = part.nodes
    return Branch(part.id, name, nodes[a], nodes[b], "linear", (siemens, emf), when)


def _two_ends(parameter: str):
    def stamp(part: Part, p: dict, setting) -> list[Branch]:
        return [_linear(part, "", 0, 1, conductance(p[parameter]))]
    return stamp


def _source(part: Part, p: dict, setting) -> list[Branch]:
    return [_linear(part, "", 0, 1, conductance(p["resistance_ohm"]), p["emf_V"])]


def _on(p: dict, setting) -> bool:
    return {"": bool(setting), "open": False, "closed": True}[p["stuck"]]


def _switch(part: Part, p: dict, setting) -> list[Branch]:
    siemens = conductance(p["resistance_ohm"]) if _on(p, setting) else 0.0
    return [_linear(part, "", 0, 1, siemens)]


def _low_side_driver(part: Part, p: dict, setting) -> list[Branch]:
    return [_linear(part, "", 0, 1, conductance(p["on_ohm" if _on(p, setting) else "leakage_ohm"]))]


def _relay(part: Part, p: dict, setting) -> list[Branch]:
    make = conductance(p["make_ohm"] or p["contact_ohm"])
    rest = conductance(p["break_ohm"] or p["contact_ohm"])
    return [
        _linear(part, "", 0, 1, make, when=ENERGISED),
        _linear(part, "break", 0, 2, rest, when=RELEASED),
        _linear(part, "coil", 4, 3, conductance(p["coil_ohm"])),
        *_suppression(part, p, 4, 3),
    ]


def _suppression(part: Part, p: dict, feed: int, ground: int) -> list[Branch]:
    """What lies across a coil: the diode's cathode is on the feed side."""
    if p["suppression"] == "resistor":
        siemens = conductance(p["suppression_ohm"]) * p["fitted"]
        return [_linear(part, "suppression", feed, ground, siemens)]
    if p["suppression"] == "diode":
        nodes = part.nodes
        values = (p["fitted"], 0.0, *diode_values(p))
        return [Branch(part.id, "suppression", nodes[ground], nodes[feed], "diode", values)]
    return []


def _curved(part: Part, law: str, *values: float, path_ohm: float = 0.0) -> list[Branch]:
    """The one branch of a part with a curved law; a fault's path_ohm opens or bridges it."""
    gate = 0.0 if math.isinf(path_ohm) else 1.0
    shunt = conductance(path_ohm) if path_ohm else 0.0
    return [Branch(part.id, "", *part.nodes, law, (gate, shunt, *values))]


def _coil(part: Part, p: dict, setting) -> list[Branch]:
    return [_linear(part, "", 0, 1, conductance(p["coil_ohm"])), *_suppression(part, p, 0, 1)]


def _diode(part: Part, p: dict, setting) -> list[Branch]:
    return _curved(part, "diode", *diode_values(p), path_ohm=p["path_ohm"])


def _lamp(part: Part, p: dict, setting) -> list[Branch]:
    hot = p["rated_V"] ** 2 / p["rated_W"]
    cold = p["cold_share"] * hot
    rise = (hot**2 - cold**2) / p["rated_V"]
    return _curved(part, "lamp", cold**2, rise, path_ohm=p["path_ohm"])


def _motor(part: Part, p: dict, setting) -> list[Branch]:
    return _curved(part, "motor", p["winding_ohm"], p["k_V_s"] * p["turns"], p["friction_N_m"],
                   p["viscous_N_m_s"], p["drag_N_m_s2"], path_ohm=p["path_ohm"])


def _shared(part: Part, share: float, ohms: float) -> list[Branch]:
    """Output (terminal 2) at a share of supply (0) over ground (1) behind a resistance."""
    siemens = conductance(ohms)
    return [
        _linear(part, "", 0, 2, siemens * share),
        _linear(part, "low", 1, 2, siemens * (1.0 - share)),
        _linear(part, "across", 0, 1, -siemens * share * (1.0 - share)),
    ]


def _pwm_driver(part: Part, p: dict, setting) -> list[Branch]:
    duty = {"": float(setting or 0.0), "off": 0.0, "full": 1.0}[p["stuck"]]
    return _shared(part, duty, p["on_ohm"])


def _ratio_output(part: Part, p: dict, setting) -> list[Branch]:
    share = min(max(p["ratio"] + p["offset"], 0.0), 1.0)
    load = _linear(part, "load", 0, 1, conductance(p["supply_ohm"]))
    return [*_shared(part, share, p["output_ohm"]), load]


def _logic_input(part: Part, p: dict, setting) -> list[Branch]:
    return [_linear(part, "", 0, 1, conductance(p["input_ohm"])),
            _linear(part, "pull_up", 0, 1, conductance(p["pull_up_ohm"]), p["reference_V"])]


def _reference(part: Part, p: dict, setting) -> list[Branch]:
    return _curved(part, "regulator", p["emf_V"], p["resistance_ohm"], p["source_A"],
                   p["sink_A"], path_ohm=p["path_ohm"])


def _current_source(part: Part, p: dict, setting) -> list[Branch]:
    return _curved(part, "photo", p["current_A"], conductance(p["shunt_ohm"]), *diode_values(p),
                   path_ohm=p["path_ohm"])


def _potentiometer(part: Part, p: dict, setting) -> list[Branch]:
    (a, wiper, b), tap = part.nodes, f"{part.id}.tap"
    upper = conductance(p["end_ohm"], (1.0 - p["position"]) * p["track_ohm"], p["break_ohm"])
    lower = conductance(p["end_ohm"], p["position"] * p["track_ohm"])
    return [Branch(part.id, "", a, tap, "linear", (upper, 0.0)),
            Branch(part.id, "lower", tap, b, "linear", (lower, 0.0)),
            Branch(part.id, "wiper", tap, wiper, "linear", (conductance(p["wiper_ohm"]), 0.0))]


STAMPS = {
    "source": _source,
    "fuse": _two_ends("resistance_ohm"),
    "switch": _switch,
    "relay": _relay,
    "diode": _diode,
    "resistor": _two_ends("resistance_ohm"),
    "lamp": _lamp,
    "motor": _motor,
    "low_side_driver": _low_side_driver,
    "pwm_driver": _pwm_driver,
    "coil": _coil,
    "logic_input": _logic_input,
    "reference": _reference,
    "variable_resistor": _two_ends("resistance_ohm"),
    "ratio_output": _ratio_output,
    "current_source": _current_source,
    "potentiometer": _potentiometer,
}


def part_branches(part: Part, parameters: dict, setting=None) -> list[Branch]:
    """Branches of a part with the given parameters [SI] and setting of its input."""
    return STAMPS[part.kind](part, parameters, setting)


def far_end(wire: Wire, ground: str) -> str:
    """Where a chafed or shorted wire touches: its end, or its start if it ends at ground."""
    return wire.start if wire.end == ground else wire.end


def wire_branches(wire: Wire, ground: str, added_ohm: float = 0.0,
                  leak: float = 0.0) -> list[Branch]:
    """A wire from start to end, and its leak to ground [S] at the far end."""
    siemens = conductance(wire.resistance_ohm, added_ohm)
    return [Branch(wire.id, "", wire.start, wire.end, "linear", (siemens, 0.0)),
            Branch(wire.id, "leak", far_end(wire, ground), ground, "linear", (leak, 0.0))]


def circuit_branches(circuit: Circuit, settings: dict, parameters: dict[str, dict]) -> dict:
    """Branches of every part and wire: id → list; parameters: part → changed parameters."""
    table = {}
    for part in circuit.parts.values():
        own = part.parameters | parameters.get(part.id, {})
        table[part.id] = part_branches(part, own, settings.get(part.input))
    for wire in circuit.wires.values():
        table[wire.id] = wire_branches(wire, circuit.ground)
    return table
