"""A learner's numbers for the lab on relay fan logic: values of the benches, and readings.

The benches themselves are built in the notebook's set-up cell from these values. Bench B, C
and E are sealed: the serial number on each says what is wrong inside (`sealed_faults` there).
No answer is kept; every answer is worked out on the circuit.

Glossary
    fan sheet   current [A] one fan takes at a voltage [V], turning freely
"""

import numpy as np

from coldbench.electrical.laws import motor_current
from coldbench.worksheet import Draw, Given

FRICTION_N_m = 0.064
FAN_SHEET_V = (4, 5, 6, 7, 8, 12, 13, 14)
SUPPRESSION_OHM = 680.0
TASKS = ("fan 1 with low", "fan 1 with high", "fan 2 with high")
WIRES = (
    "the wire from relay 1 to fan 1",
    "the wire from fan 1 to relay 2",
    "the wire from relay 2, terminal 87, to the fan ground stud",
    "the wire from fan 2 to the fan ground stud",
    "the wire from the fan ground stud to the battery",
)
RELAYS = ("relay 1", "relay 2", "relay 3")
# How many of the two coils in parallel are whole: both, one, none.
WHOLE_COILS = (2, 1, 0)


def draw(draw: Draw) -> list[Given]:
    """Draw a learner's numbers."""
    return [*bench_a(draw), *tasks(draw), *coils(draw), *sealed(draw)]


def bench_a(draw: Draw) -> list[Given]:
    """Supply, fans and one wire of bench A."""
    winding_ohm = draw.grid("winding", 0.186, 0.236, 0.002)
    k_V_s = draw.grid("k", 0.0365, 0.0425, 0.0002)
    drag = round(draw.grid("drag", 7.0, 11.0, 0.1) * 1e-6, 9)
    amps = motor_current(np.array(FAN_SHEET_V, dtype=float), winding_ohm, k_V_s, FRICTION_N_m,
                         0.0, drag)[0]
    return [
        Given("supply_V", draw.grid("supply", 13.2, 14.6, 0.05),
              "bench A: supply, nothing switched on", "V", digits=2),
        Given("fan_sheet_V", FAN_SHEET_V, "fan sheet: voltage on one fan", "V"),
        Given("fan_sheet_A", tuple(round(float(i), 1) for i in amps),
              "fan sheet: current it takes, turning freely", "A", digits=1),
        Given("winding_ohm", winding_ohm, "fan sheet: resistance of the winding", "Ω", digits=3),
        Given("fan_k_V_s", k_V_s, "inside: volts for each radian in a second", "V s", digits=4),
        Given("fan_drag_N_m_s2", drag, "inside: air drag of the blades", "N m s²"),
        Given("fan_2_wire_m", draw.grid("wire", 0.8, 3.0, 0.05),
              "bench A: length of the wire from fan 2 to the ground stud", "m", digits=2),
        Given("fan_fuse_A", 60.0, "bench A: rating of fuses F1 and F2", "A"),
    ]


def tasks(draw: Draw) -> list[Given]:
    """Which path, wire and missing relay a learner is asked about."""
    return [
        Given("path", draw.choice("path", TASKS), "diagram: path to follow"),
        Given("wire", draw.choice("which wire", WIRES), "diagram: wire to measure along"),
        Given("missing_relay", draw.choice("missing", RELAYS), "empty socket: relay taken out"),
    ]


def coils(draw: Draw) -> list[Given]:
    """Relay coils, and an ohmmeter reading that a workmate took at relay 2 of another bench."""
    coil_ohm = draw.grid("coil", 80, 98, 1)
    other_ohm = draw.grid("workmate's coil", 80, 98, 1)
    whole = draw.choice("whole coils", WHOLE_COILS)
    siemens = 2 / SUPPRESSION_OHM + whole / other_ohm
    return [
        Given("coil_ohm", coil_ohm, "relay sheet: coil alone", "Ω"),
        Given("suppression_ohm", SUPPRESSION_OHM,
              "relay sheet: resistor built in beside the coil", "Ω"),
        Given("workmate_coil_ohm", other_ohm, "workmate: coil alone, from the relay's sheet",
              "Ω"),
        Given("workmate_reading_ohm", round(1 / siemens, 1),
              "workmate: ohmmeter at terminals 86 and 85 of relay 2, all relays plugged in", "Ω",
              digits=1),
    ]


def sealed(draw: Draw) -> list[Given]:
    """Serial numbers of the sealed benches: two digits of a place, two of a size."""
    joint = 100 * (10 + draw.grid("joint", 0, 9, 1)) + draw.grid("joint size", 40, 95, 1)
    relay = 100 * (30 + draw.grid("relay", 0, 9, 1)) + draw.grid("relay size", 10, 99, 1)
    line = 100 * (50 + draw.grid("line", 0, 9, 1)) + draw.grid("line size", 30, 85, 1)
    return [
        Given("bench_B_serial", int(joint), "bench B: serial number"),
        Given("bench_C_serial", int(relay), "bench C: serial number"),
        Given("bench_E_serial", int(line), "bench E: serial number"),
    ]
