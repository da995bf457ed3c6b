"""Voltmeter, test lamp and oscilloscope against ngspice (Debian package) on the same circuits."""

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from coldbench.electrical import load_circuit, solve
from coldbench.electrical.branches import diode_values
from coldbench.electrical.instruments import lamp, voltmeter, with_lamp
from coldbench.electrical.instruments.dynamic import Capacitance, Static, Turning, Winding
from coldbench.electrical.instruments.scope import transient
from coldbench.electrical.instruments.time_network import TimeNetwork
from coldbench.electrical.instruments.transient import settle
from coldbench.electrical.laws import lamp_current
from coldbench.electrical.netlist import deck_of

METER_OHM = 10e6
TIGHT = ".options reltol=1e-10 vntol=1e-11 abstol=1e-9 itl1=2000"

CASES = [
    ("three-relay-fans", "low", []),
    ("three-relay-fans", "high", ["K2:missing"]),
    ("three-relay-fans", "off", ["W7:chafed=0.5"]),
    ("three-relay-fans", "low", ["W9:high_resistance=4.7e6"]),
    ("clutch", "off", []),
    ("clutch", "requested", ["W11:open"]),
    ("blower", "medium", []),
    ("supply", "running", []),
]


def with_meter(deck: str, red: str, black: str) -> str:
    """The deck with a real 10 MΩ resistor between the leads."""
    lines = [line for line in deck.splitlines() if not line.startswith(".options")]
    return "\n".join([lines[0], f"Rmeter {red} {black} 10meg", TIGHT, *lines[1:], ""])


def operating_points(ngspice: str, decks: list[str], folder: Path) -> list[dict[str, float]]:
    """Node voltages that ngspice prints for each deck."""
    found = []
    for n, deck in enumerate(decks):
        file = folder / f"{n}.cir"
        file.write_text(deck, "ascii")
        done = subprocess.run([ngspice, "-b", str(file)], capture_output=True, text=True,
                              timeout=60)
        found.append({name: float(value) for name, value
                      in re.findall(r"^(\S+) = (\S+)$", done.stdout, re.M)})
        assert found[-1], done.stdout + done.stderr
    return found


@pytest.mark.parametrize(("name", "state", "faults"), CASES)
def test_meter_equals_a_resistor_in_the_deck(name, state, faults, needs_ngspice, tmp_path):
    """To 1e-8 V, at every test point against the battery's negative post."""
    circuit = load_circuit(name)
    solution = solve(circuit, state, faults)
    places = [point.at for point in circuit.test_points.values() if point.at != circuit.ground]
    decks = [with_meter(deck_of(solution), place, circuit.ground) for place in places]
    for place, volts in zip(places, operating_points(needs_ngspice, decks, tmp_path),
                            strict=True):
        reading = voltmeter(solution, place, circuit.ground)
        if not reading.floating:
            assert reading.value == pytest.approx(volts[place.lower()], abs=1e-8), place


@pytest.mark.parametrize(("name", "state", "red"), [
    ("three-relay-fans", "off", "K1.30"), ("three-relay-fans", "low", "M1.minus"),
    ("three-relay-fans", "off", "K1.85"), ("clutch", "off", "E1.pin"),
    ("supply", "ignition", "F2.b")])
def test_lamp_equals_a_bulb_in_the_deck(name, state, red, needs_ngspice, tmp_path):
    """The bulb's law written into the deck of the circuit without it."""
    circuit = load_circuit(name)
    loaded = with_lamp(solve(circuit, state), red, circuit.ground)
    # relays stand as they do with the lamp in place; the lamp itself is written here
    p = loaded.circuit.parts["TEST_LAMP"].parameters
    hot = p["rated_V"] ** 2 / p["rated_W"]
    cold = p["cold_share"] * hot
    rise = (hot ** 2 - cold ** 2) / p["rated_V"]
    kept = [line for line in deck_of(loaded).splitlines() if "test_lamp" not in line.lower()]
    lead = loaded.circuit.wires["TEST_LAMP_red"].resistance_ohm
    bulb = [f"Rlead1 {red} bulb1 {lead:.17g}", f"Rlead2 bulb2 {circuit.ground} {lead:.17g}",
            f"Blamp bulb1 bulb2 I=V(bulb1,bulb2)/sqrt({cold ** 2:.17g}+{rise:.17g}"
            "*abs(V(bulb1,bulb2)))"]
    deck = "\n".join([kept[0], *bulb, *kept[1:], ""])
    volts, = operating_points(needs_ngspice, [deck], tmp_path)
    reading = lamp(solve(circuit, state), red, circuit.ground)
    assert reading.value == pytest.approx(volts["bulb1"] - volts["bulb2"], abs=1e-6)
    assert loaded.currents["TEST_LAMP"] == pytest.approx(
        float(lamp_current(np.array(reading.value), cold ** 2, rise)[0]), abs=1e-9)


# --- through time ---------------------------------------------------------------------------


def node(number: int) -> str:
    """Name of a node in the deck."""
    return "0" if number < 0 else f"n{number}"


def part_lines(key: str, part, case: TimeNetwork) -> list[str]:
    """A part with memory as SPICE elements, with its state at the start."""
    a, b, k = node(part.a), node(part.b), key.replace(".", "_")
    if isinstance(part, Winding):
        return [f"R{k} {a} {k}x {part.R:.17g}", f"L{k} {k}x {b} {part.L:.17g} "
                f"ic={part.current:.17g}"]
    if isinstance(part, Capacitance):
        return [f"R{k} {a} {k}x {part.R:.17g}",
                f"C{k} {k}x {b} {part.C:.17g} ic={part.charged_V:.17g}"]
    if isinstance(part, Turning):
        # speed as the voltage of a capacitance J, charged by the torque k·i less the load
        speed, load = f"V({k}w)", f"{part.friction:.17g}+{part.drag:.17g}*V({k}w)*V({k}w)"
        return [f"R{k} {a} {k}x {part.R:.17g}", f"L{k} {k}x {k}y {part.L:.17g} "
                f"ic={part.current:.17g}", f"B{k} {k}y {b} V={part.k:.17g}*{speed}",
                f"C{k} {k}w 0 {part.J:.17g} ic={part.omega:.17g}",
                f"R{k}w {k}w 0 {1.0 / max(part.viscous, 1e-12):.17g}",
                f"Bt{k} 0 {k}w I={part.k:.17g}*I(L{k})-({load})"]
    assert isinstance(part, Static)
    if key.endswith(".gap"):  # none of these cases reaches 150 V
        return []
    saturation, slope, straight = diode_values(
        case.circuit.parts[key.partition(".")[0]].parameters)
    volts = f"V({a},{b})"
    return [f"B{k} {a} {b} I={saturation:.17g}*(exp(min({volts},{straight:.17g})/{slope:.17g})"
            f"*(1+max({volts}-{straight:.17g},0)/{slope:.17g})-1)"]


def time_deck(case: TimeNetwork, duration_s: float, watched: list[int], file: Path) -> str:
    """The network about to march, as a deck that writes the watched voltages to a file."""
    lines = ["* through time"]
    for key, branch in case.network.branches.items():
        a, b, k = node(branch.a), node(branch.b), key.replace(".", "_").replace("'", "q")
        if branch.g:
            lines += [f"R{k} {a} {b} {1.0 / branch.g:.17g}"]
        if branch.j:
            lines += [f"I{k} {a} {b} {branch.j:.17g}"]
    for key, part in case.network.parts.items():
        lines += part_lines(key, part, case)
    lines += [f"Rfloat{n} n{n} 0 1e12" for n in range(case.network.nodes)]
    names = " ".join(f"v(n{n})" for n in watched)
    return "\n".join([
        *lines, ".options reltol=1e-6 abstol=1e-9 vntol=1e-7 method=gear", ".control",
        "set wr_singlescale", "set numdgt=12",
        f"tran {duration_s / 2000:.6g} {duration_s:.6g} 0 {duration_s / 2000:.6g} uic",
        f"wrdata {file} {names}", ".endc", ".end", ""])


@pytest.mark.parametrize(("name", "before", "after", "faults", "places", "seconds",
                          "allowed_V", "shift_s"), [
    # pressure switch closes on a clutch whose relay is pulled: L/R with the stray capacitance
    ("clutch", "pressure_trip", "on", [], ["CL.a", "SH.a"], 0.1, 1e-3, 0.0),
    # it opens: the clutch's diode takes the current over and lets go after 48 ms; that corner,
    # with its ringing, may lie 10 µs off
    ("clutch", "on", "pressure_trip", [], ["CL.a"], 0.1, 5e-3, 1e-5),
    # the driver of the relay's coil opens; welded, so that no contact moves
    ("clutch", "on", "off", ["KC:contacts_welded"], ["KC.85"], 0.004, 2e-2, 0.0),
    # the blower starts from rest through a relay that is welded
    ("blower", "off", {"blower_request": False, "blower_duty": 1.0}, ["KB:contacts_welded"],
     ["MB.plus", "S1"], 1.0, 2e-3, 0.0),
])
def test_march_equals_ngspice(name, before, after, faults, places, seconds, allowed_V, shift_s,
                              needs_ngspice, tmp_path):
    circuit = load_circuit(name)
    start = solve(circuit, before, faults)
    record, case = transient(start, after, seconds)
    fresh = prepared(start, after)
    nodes = [case.compiled.number(place) for place in places]
    file = tmp_path / "volts.txt"
    times, rows = ngspice_record(needs_ngspice, time_deck(fresh, seconds, nodes, file), file)
    for n, row in zip(nodes, rows, strict=True):
        least, most = envelope(times, row, record.times, shift_s)
        ours = record.voltages[:, n]
        later = record.times > seconds * 1e-3
        assert (ours - most)[later].max() < allowed_V
        assert (least - ours)[later].max() < allowed_V


def envelope(times, row, wanted, shift_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Least and most of a record at the wanted times, and so much before and after them."""
    shifted = [np.interp(wanted + shift, times, row)
               for shift in np.linspace(-shift_s, shift_s, 41)]
    return np.min(shifted, axis=0), np.max(shifted, axis=0)


def prepared(start, after) -> TimeNetwork:
    """The network at t = 0, with the states of the solved case before."""
    resting = TimeNetwork(start, start.settings)
    settle(resting.network, np.array(start.node_volts))
    case = TimeNetwork(start, start.circuit.settings(after))
    for key, part in case.network.parts.items():
        if key in resting.network.parts:
            old = vars(resting.network.parts[key])
            vars(part).update({field: old[field] for field in part.memory})
    return case


def ngspice_record(ngspice: str, deck: str, file: Path) -> tuple[np.ndarray, np.ndarray]:
    """Times and voltages that ngspice wrote."""
    source = file.with_suffix(".cir")
    source.write_text(deck, "ascii")
    done = subprocess.run([ngspice, "-b", str(source)], capture_output=True, text=True,
                          timeout=120)
    assert file.is_file(), done.stdout + done.stderr
    table = np.loadtxt(file)
    return table[:, 0], table[:, 1:].T
