"""Seal a bench: everything that can be measured at it, without what is wrong with it.

    seal(load_bench("blue"), ["K1:coil_open"]) → bytes of a file that `open_sealed` reads

The file is compressed JSON. It holds readings alone: for every operating state what each
instrument shows, for the bench as it is and as it is after each repair that matters. Which part
such a repair is stands there as a salted, slow hash of the part's name. No fault is named.

What sealing cannot hide: whoever reads the file instead of measuring sees all readings at once,
and whoever tries every part's name finds the hash that fits. It costs minutes of computing, and
proves nothing about the cause; a journal does.
"""

import gzip
import hashlib
import hmac
import json
import secrets
from dataclasses import replace
from itertools import chain, combinations
from typing import Any

from coldbench.bench.model import Bench
from coldbench.bench.outfit import outfit_of
from coldbench.bench.reading import differences
from coldbench.bench.repairs import repair_of
from coldbench.bench.sealed_tables import MOST_OHM, difference, triangle, value_table
from coldbench.bench.source import ModelScene, ModelSource, bench_ways, wires_at
from coldbench.bench.standing import Standing
from coldbench.electrical import Fault
from coldbench.electrical.faults import effect_of
from coldbench.electrical.instruments import power_off, way_currents
from coldbench.errors import InputError

FORMAT = "coldbench sealed bench"
VERSION = 1
MOST_PARTS = 3
BOXES = {"degC": (0.0, 40.0), "kPa": (150.0, 1000.0, 2900.0), "W/m2": (0.0, 1000.0)}
"""Values at which a sensor box can be put at a sealed bench, by the sensor's unit."""
BOX_STATES = 2
METERED = ("values", "reasons", "volts", "ohms", "amps", "in_line")


def seal(bench: Bench, faults, states=None, key: bytes | None = None,
         changes: dict | None = None) -> bytes:
    """Return the file of a sealed bench.

    Parameters
    ----------
    bench : Bench
        From `load_bench`.
    faults : iterable of str
        What is wrong, as `read` takes it; it does not get into the file.
    states : iterable of str, optional
        Operating states to hold; all of the bench if left out.
    key : bytes, optional
        The instructor's own key: then the file is signed, too.
    changes : dict, optional
        Changed settings in every state, written as in the file.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        For an unknown fault or state, or faults of more than three parts.
    ConvergenceError
        If a solver fails.
    """
    content = sealed_content(ModelSource(bench, faults, changes), _states(bench, states))
    return packed(content, key)


def _states(bench: Bench, states) -> tuple[str, ...]:
    wanted = tuple(bench.states) if states is None else tuple(states)
    for name in wanted:
        bench.state(name)
    if not wanted:
        raise InputError("a sealed bench wants at least one operating state")
    return wanted


def packed(content: dict[str, Any], key: bytes | None) -> bytes:
    """Return a file's bytes: content, its hash, and its signature if there is a key."""
    text = canonical(content)
    table = {"format": FORMAT, "version": VERSION, "hash": hashlib.sha256(text).hexdigest()}
    if key is not None:
        table["signature"] = signature(text, key)
    head = json.dumps(table).encode()
    return gzip.compress(head + b"\n" + text, mtime=0)


def canonical(content: dict[str, Any]) -> bytes:
    """Write content as it stands in the file, and as hashes are made from [bytes]."""
    return json.dumps(content, ensure_ascii=False, separators=(",", ":"),
                      allow_nan=False).encode()


def signature(text: bytes, key: bytes) -> str:
    """Return the keyed hash of a text [str]. Source: HMAC with SHA-256, RFC 2104."""
    return hmac.new(key, text, hashlib.sha256).hexdigest()


def part_hash(salt: str, step: int, part: str) -> str:
    """Return the slow hash of a part's name. Source: scrypt, RFC 7914.

    Parameters
    ----------
    salt : str
        Of the file.
    step : int
        Number of the bench that is repaired.
    part : str
        Its name.

    Returns
    -------
    str
    """
    return hashlib.scrypt(part.encode(), salt=f"{salt}/{step}".encode(), n=2**14, r=8, p=2,
                          maxmem=2**26, dklen=16).hex()


def sealed_content(source: ModelSource, states: tuple[str, ...]) -> dict[str, Any]:
    """Return everything that can be measured at a bench, and after its repairs [dict]."""
    bench = source.bench
    parts = tuple(dict.fromkeys(repair_of(bench, fault) for fault in source.faults))
    if len(parts) > MOST_PARTS:
        raise InputError(f"faults of {len(parts)} parts cannot be sealed together; "
                         f"at most {MOST_PARTS} parts can")
    subsets = [tuple(one) for one in chain.from_iterable(
        combinations(parts, count) for count in range(len(parts) + 1))]
    salt = secrets.token_hex(16)
    repairs = [[number, part_hash(salt, number, part),
                subsets.index(tuple(p for p in parts if p in (*done, part)))]
               for number, done in enumerate(subsets) for part in parts if part not in done]
    outfit = outfit_of(bench).as_dict() | {"states": states}
    ways = bench_ways(bench)
    scenes = [{state: ModelScene(source.case(Standing(state, replaced=done)), state)
               for state in states} for done in subsets]
    benches = [_bench_table(source, own, scenes[-1], number == 0)
               for number, own in enumerate(scenes)]
    secrets.SystemRandom().shuffle(repairs)
    return {"outfit": outfit, "nodes": bench.circuit.nodes, "labels": _labels(scenes),
            "ways": [[*pair, list(way.names)] for pair, way in ways.items()],
            "currents": _current_names(bench), "salt": salt, "repairs": repairs,
            "benches": benches}


def _bench_table(source: ModelSource, scenes: dict, sound: dict, whole: bool) -> dict[str, Any]:
    """One bench in all its states; `sound`: the scenes with everything put right."""
    tables = {state: _scene_table(source, scene, whole) for state, scene in scenes.items()}
    more = {"tests": _tests(source, scenes, tables), "boxes": _boxes(source, scenes, tables)
            } if whole else {}
    off = [state for state, scene in scenes.items()
           if differences(scene.reading, sound[state].reading)]
    first = next(iter(tables.values()))
    return more | {"off": off, "states": {
        name: table if table is first else difference(first, table)
        for name, table in tables.items()}}


def _labels(scenes: list[dict]) -> list[list[str]]:
    """Key, unit and label of every reading, in the order in which instruments give them."""
    found = {key: [key, one.unit, one.label] for own in reversed(scenes)
             for scene in own.values() for key, one in scene.values.items()}
    codes = sorted(key for key in found if key.startswith("code "))
    return [row for key, row in found.items() if key not in codes] + [found[key] for key in codes]


def _current_names(bench: Bench) -> list[str]:
    return [*bench.circuit.parts, *bench.circuit.wires]


def _scene_table(source: ModelSource, scene: ModelScene, whole: bool) -> dict[str, Any]:
    """What is measured in one state; `whole`: with lamp, scope, tests and parts on their own."""
    bench, outfit = source.bench, source.outfit
    table = _metered(source, scene)
    table |= {"ignition": scene.ignition, "running": scene.running, "leaks": scene.leaks,
              "bubbles": float(scene.bubbles > 0.0), "charge_kg": round(scene.charge_kg, 2)}
    if not scene.ignition:
        table["unpowered"] = triangle(scene.dead.source_matrix(bench.circuit.nodes), True)
    if whole:
        table["lamp"] = _lamps(source, scene)
        table["pulses"] = _pulses(scene)
        if not scene.ignition:
            table["alone"] = {part: _alone(bench, scene, part) for part in outfit.pluggable
                              if part in bench.circuit.parts}
    return table


def _amps(outfit) -> tuple[str, ...]:
    return (*outfit.fans, outfit.blower, outfit.clutch)


def _metered(source: ModelSource, scene: ModelScene) -> dict[str, Any]:
    """Readings, and the live wiring as a meter sees it."""
    nodes, live = source.bench.circuit.nodes, scene.live
    return {"values": value_table(scene.values), "reasons": list(scene.reasons),
            "volts": [round(live.voltages[node], 7) for node in nodes],
            "ohms": triangle(live.source_matrix(nodes), False),
            "amps": [round(live.currents[name], 5) for name in _current_names(source.bench)],
            "in_line": [round(a, 5) for a in way_currents(live, bench_ways(source.bench))]}


def _lamps(source: ModelSource, scene: ModelScene) -> dict[str, list]:
    """Test lamp from each test point to either pole: volts and words."""
    outfit, found = source.outfit, {}
    for black in (outfit.ground, outfit.supply):
        for red, _ in outfit.points.values():
            if red not in outfit.delicate and red != black:
                lit = scene.lamp(red, black)
                found[f"{red}|{black}"] = [round(lit.volts, 9), lit.note]
    return found


def _pulses(scene: ModelScene) -> dict[str, Any]:
    found = scene.pulses
    if found is None:
        return {"frequency_Hz": 0.0}
    return {"on": [round(v, 7) for v in found.on_V.values()],
            "off": [round(v, 7) for v in found.off_V.values()],
            "duty": found.duty, "frequency_Hz": found.frequency_Hz}


def _alone(bench: Bench, scene: ModelScene, part: str) -> list[float]:
    """Resistances between the terminals of a part that is off its wires [ohm]."""
    live, wires = scene.live, wires_at(bench, part)
    kept = [fault for fault in live.effect.faults if fault.part not in wires]
    faults = [*kept, *(Fault(wire, "open") for wire in wires)]
    off = replace(live, effect=effect_of(bench.circuit, faults, live.settings, live.inputs))
    rows = triangle(power_off(off).source_matrix(bench.circuit.parts[part].nodes), True)
    return [min(ohm, MOST_OHM) for ohm in rows]


def _tests(source: ModelSource, scenes: dict, tables: dict) -> dict[str, Any]:
    """Actuator tests in the first state with the drive on, and the first with the key on alone."""
    chosen = {scene.running: state for state, scene in reversed(scenes.items()) if scene.ignition}
    return {state: {what: difference(tables[state]["values"],
                                     value_table(scenes[state].test(what), _amps(source.outfit)))
                    for what in source.outfit.tests} for state in chosen.values()}


def _boxes(source: ModelSource, scenes: dict, tables: dict) -> dict[str, Any]:
    """What the bench shows with a sensor box, in the first states with the drive on."""
    running = [state for state, scene in scenes.items() if scene.running][:BOX_STATES]
    return {state: {name: {f"{value:g}": difference(
        {key: tables[state][key] for key in METERED}, _boxed(source, state, name, value))
        for value in BOXES[one["unit"]]} for name, one in source.outfit.sensors.items()}
        for state in running}


def _boxed(source: ModelSource, state: str, name: str, value: float) -> dict[str, Any]:
    scene = ModelScene(source.case(Standing(state, boxes=((name, value),))), state)
    return _metered(source, scene)
