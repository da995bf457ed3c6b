"""Random circuits, written as files and read by the loader, for tests of laws.

`random_circuit(seed, linear)` gives a circuit with up to 25 parts of all kinds (or of the linear
ones), wired at random; every state of its inputs and every fault of its catalogue is fair play.
"""

import random

from coldbench.electrical import Circuit, parse_circuit
from coldbench.electrical.kinds import KINDS

SIZES = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0)
LINEAR = ("resistor", "fuse", "switch", "low_side_driver", "pwm_driver", "coil", "logic_input",
          "variable_resistor", "ratio_output", "potentiometer")
CURVED = ("relay", "relay", "diode", "lamp", "motor", "motor", "current_source", "reference")


def _parameters(kind: str, rng: random.Random) -> dict:
    """Parameters of sensible size for one part."""
    def log(least: float, most: float) -> float:
        return float(f"{least * (most / least) ** rng.random():.4g}")

    return {
        "source": {"emf_V": rng.uniform(6.0, 15.0), "resistance_ohm": log(0.003, 0.1)},
        "fuse": {"rating_A": 20.0, "resistance_ohm": log(0.001, 0.02)},
        "relay": {"coil_ohm": log(60.0, 120.0),
                  "suppression": rng.choice(("none", "resistor", "diode"))},
        "resistor": {"resistance_ohm": log(0.5, 1e5)},
        "variable_resistor": {"resistance_ohm": log(100.0, 1e5)},
        "lamp": {"rated_W": log(3.0, 60.0)},
        "motor": {"winding_ohm": log(0.1, 5.0), "k_V_s": log(0.01, 0.1),
                  "friction_N_m": log(0.005, 0.1), "drag_N_m_s2": log(1e-7, 1e-5)},
        "coil": {"coil_ohm": log(3.0, 60.0),
                 "suppression": rng.choice(("none", "resistor"))},
        "current_source": {"current_A": log(1e-6, 1e-3)},
        "ratio_output": {"ratio": rng.random()},
        "potentiometer": {"track_ohm": log(500.0, 2e4), "position": rng.random()},
    }.get(kind, {})


def _part(name: str, kind: str, rng: random.Random) -> list[str]:
    lines = ["[[part]]", f'id = "{name}"', f'kind = "{kind}"']
    if KINDS[kind].input:
        lines.append(f'input = "in_{KINDS[kind].input}{rng.randrange(2)}"')
    return lines + [f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}"
                    for key, value in _parameters(kind, rng).items()]


def random_circuit(seed: int, linear: bool = False) -> Circuit:
    """A circuit for a seed; its name holds the seed."""
    rng = random.Random(seed)
    nets = ["G", "P", *(f"N{n}" for n in range(rng.randint(2, 8)))]
    kinds = [rng.choice(LINEAR if linear or rng.random() < 0.5 else CURVED)
             for _ in range(rng.randint(3, 24))]
    lines, ends = _part("B", "source", rng), [("B.plus", "P"), ("B.minus", "G")]
    for n, kind in enumerate(kinds):
        name = f"X{n}"
        lines += _part(name, kind, rng)
        homes = rng.sample(nets, min(len(nets), len(KINDS[kind].terminals)))
        homes += [rng.choice(nets) for _ in KINDS[kind].terminals[len(homes):]]
        if kind == "reference":
            homes[0] = f"R{n}"
            ends += [(f"Z{n}.a", f"R{n}"), (f"Z{n}.b", rng.choice(nets))]
            lines += _part(f"Z{n}", "resistor", rng)
        ends += [(f"{name}.{terminal}", home)
                 for terminal, home in zip(KINDS[kind].terminals, homes, strict=True)]
    for n, net in enumerate(nets):  # no splice is left with a single wire
        if sum(home == net for _, home in ends) == 1:
            lines += _part(f"Y{n}", "resistor", rng)
            ends += [(f"Y{n}.a", net), (f"Y{n}.b", "G")]
    for n, (terminal, net) in enumerate(ends):
        lines += ["[[wire]]", f'id = "W{n}"', f'from = "{terminal}"', f'to = "{net}"',
                  f"size_mm2 = {rng.choice(SIZES)}", f"length_m = {rng.uniform(0.1, 3.0):.3f}"]
    return parse_circuit("\n".join([*_states(lines, rng, f"random-{seed}"), *lines]),
                         f"random-{seed}.toml")


def _states(lines: list[str], rng: random.Random, name: str) -> list[str]:
    """Heading of the file, with three states for the inputs that its parts name."""
    inputs = sorted({line.split('"')[1] for line in lines if line.startswith("input")})
    heading = [f'name = "{name}"', 'title = "random"', 'ground = "B.minus"']
    for state in ("one", "two", "three"):
        heading.append(f"[states.{state}]")
        heading += [f"{key} = {_setting(key, rng)}" for key in inputs]
    return heading


def _setting(key: str, rng: random.Random) -> str:
    """A setting of an input, as the file has it."""
    return str(rng.random() < 0.6).lower() if "switch" in key else str(rng.random())


def random_cases(circuit: Circuit, rng: random.Random, count: int) -> list[tuple]:
    """(state, faults) drawn from a circuit's states and catalogue."""
    from coldbench.electrical import catalogue

    faults = [fault.id for fault in catalogue(circuit)]
    return [(rng.choice(list(circuit.states)), rng.choice(([], [rng.choice(faults)])))
            for _ in range(count)]
