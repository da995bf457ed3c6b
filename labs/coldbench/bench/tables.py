"""The tables of a bench file, each a frozen dataclass whose fields carry their rules.

From the rules come reading, messages and JSON Schema alike. Temperatures stand in degC and
pressures in kPa (gauge) in the file; here everything is SI.
"""

from dataclasses import dataclass
from typing import Any

from coldbench.bench.rules import Each, Rows, Texts, Whether, optional
from coldbench.control.rules import Flag, Number, Whole, Word, entry
from coldbench.electrical.kinds import WIRE_MODES

SHARE = Number("share", 0.0, 1.0)
NODE = Word()
REQUESTS = ("fan low", "fan high", "fan on", "blower", "blower on", "compressor",
            "engine drive", "pressure switch")
FAMILIES = ("refrigerant", "electrical", "sensor", "control")
INSTRUMENTS = ("look", "gauges", "pipe thermometer", "vent thermometer", "anemometer", "voltmeter",
               "ohmmeter", "ammeter", "current clamp", "test lamp", "oscilloscope", "stored codes",
               "live data", "actuator test", "recovery", "leak search", "sight glass", "sensor box")
WORKS = ("unplug", "plug", "replace part", "replace wire", "replace fuse", "replace relay",
         "replace refrigerant part", "confirm")
WIRES_FAIL = tuple(mode for mode in WIRE_MODES if mode != "crossed")
COMPARISONS = ("above", "below", "equal to")


@dataclass(frozen=True)
class CircuitEntry:
    """One circuit of the bench."""

    file: str = entry(Word(), "a shipped circuit, or a path from this file, ending in .toml")
    sheet: int = optional(Whole(0, 99), "ids and test points count on from 100 times this", 0)
    leave_out: tuple[str, ...] = optional(
        Texts(), "parts and wires of that file which this bench does not have", [])


@dataclass(frozen=True)
class Wiring:
    """Reference node of the whole wiring, and its supply."""

    ground: str = entry(NODE, "reference node, the battery's negative post")
    supply: str = entry(NODE, "node that a short to supply means")


@dataclass(frozen=True)
class LoopEntry:
    """The refrigerant loop."""

    fluid: str = entry(Word(("R134a", "R1234yf", "R152a")), "refrigerant")
    parts: str = optional(Word(), "\"blue\", or a path from this file to a file of parts", "blue")
    stores: str = optional(
        Word(), "\"blue\", or a path from this file to a file of what it stores", "blue")
    recirculation_share: float = optional(
        SHARE, "share of cabin air with the door fully at recirculation", 0.9)


@dataclass(frozen=True)
class FanEntry:
    """One condenser fan."""

    motor: str = entry(Word(), "motor in the wiring")
    share: float = entry(SHARE, "part of the condenser's airflow it drives")
    full_rpm: float = entry(Number("rpm", 50, 20000), "speed at which it drives all of it")


@dataclass(frozen=True)
class BlowerEntry:
    """The cabin blower."""

    motor: str = entry(Word(), "motor in the wiring")
    full_rpm: float = entry(Number("rpm", 50, 20000), "speed at full airflow")


@dataclass(frozen=True)
class ClutchEntry:
    """The compressor clutch: coil currents at which it engages and lets go."""

    coil: str = entry(Word(), "coil in the wiring")
    engage_A: float = entry(Number("A", 0.05, 50), "least current that pulls it in")
    release_A: float = entry(Number("A", 0.01, 50), "current at which it lets go")


@dataclass(frozen=True)
class EngineEntry:
    """The unit that drives the compressor relay when the head asks for it."""

    request: str = entry(NODE, "node of the request line")
    ground: str = entry(NODE, "its ground")
    low_V: float = optional(Number("V", 0.1, 10), "a request is a voltage below this", 1.5)


@dataclass(frozen=True)
class PressureSwitchEntry:
    """The high-pressure switch in the clutch circuit."""

    open_Pa: float = entry(Number("kPa", 1000, 3500), "opens at this high-side gauge pressure")
    close_Pa: float = entry(Number("kPa", 500, 3400), "closes again below this")


@dataclass(frozen=True)
class HeadEntry:
    """The control head: constants, supply, and which signals it gets."""

    calibration: str = entry(Word(), "a shipped calibration, or a path from this file")
    supply: str = entry(NODE, "node of its supply")
    ground: str = entry(NODE, "node of its ground")
    least_V: float = optional(Number("V", 1, 12), "below this supply it does nothing", 7.0)
    reference: str = optional(
        Word(), "reference part that the head feeds, dead when the head is; - for none", "-")
    signals: dict[str, str] = entry(
        Each(Word()), "sensor of the calibration = input, or \"bus\" for the true value by data bus")
    doors: dict[str, str] = entry(
        Each(Word()), "door of the calibration = input with its feedback, or \"bus\"")


@dataclass(frozen=True)
class HeaterEntry:
    """The heater behind the evaporator."""

    effectiveness: float = optional(Number("share", 0.05, 1.0), "of the heater core", 0.75)


@dataclass(frozen=True)
class Settings:
    """An operating state: what the driver has set, the weather, and the machine."""

    set_points_K: tuple[float, ...] = entry(
        Each(Number("degC", 10, 35), whole_list=True), "set point of each zone")
    head_on: bool = optional(Flag(), "the head is switched on", True)
    ac: bool = optional(Flag(), "air-conditioning button", True)
    blower: float | None = optional(
        Whether(SHARE), "blower share set by hand, or \"auto\"", "auto")
    distribution: str | None = optional(
        Whether(Word(("face", "bi-level", "foot", "foot-screen", "screen"))),
        "distribution set by hand, or \"auto\"", "auto")
    recirculation: bool | None = optional(
        Whether(Flag()), "recirculation set by hand, or \"auto\"", "auto")
    defrost: bool = optional(Flag(), "clear the windscreen", False)
    ambient_K: float = optional(Number("degC", 5, 50), "air outside and onto the condenser", 30.0)
    humidity: float = optional(SHARE, "relative humidity of the air outside", 0.5)
    cabin_K: float = optional(Number("degC", 5, 55), "air in the cabin", 25.0)
    cabin_humidity: float = optional(SHARE, "relative humidity in the cabin", 0.45)
    sun_W_per_m2: float = optional(Number("W_per_m2", 0, 1200), "sun load", 300.0)
    coolant_K: float = optional(Number("degC", 0, 120), "coolant in the heater", 85.0)
    ignition: bool = optional(Flag(), "ignition on", True)
    running: bool = optional(Flag(), "engine or driving motor turns", True)
    speed_rpm: float = optional(Number("rpm", 500, 5000), "compressor speed", 1500.0)
    valve_angle_deg: float = optional(Number("deg", 0, 90), "hand valve, 0 open", 0.0)
    atmosphere_Pa: float = optional(
        Number("kPa", 60, 110), "pressure of the air at the place", 101.325)
    switches: tuple[str, ...] = optional(
        Texts(), "further inputs of the wiring that are on", [])


@dataclass(frozen=True)
class FaultEntry:
    """A fault written by hand: other faults together, or a wrong constant of the head."""

    id: str = entry(Word(), "short name")
    family: str = entry(Word(FAMILIES), "family")
    part: str = entry(Word(), "what must be put right")
    description: str = entry(Word(), "for the instructor")
    severity: float = optional(SHARE, "0 to 1", 1.0)
    faults: tuple[str, ...] = optional(Texts(), "faults that it stands for", [])
    calibration: dict[str, Any] = optional(
        Each(None), "table.key of the calibration = wrong entry", {})
    proven_at: str = optional(Word(), "where it can be proven", "-")


@dataclass(frozen=True)
class CatalogueEntry:
    """What the generated catalogue holds."""

    wire_modes: tuple[str, ...] = optional(
        Texts(WIRES_FAIL), "fault modes of wires", ["open", "corroded"])
    leave_out: tuple[str, ...] = optional(
        Texts(), "parts and wires that get no fault (also W91*: all that begin so)", [])
    invisible: dict[str, str] = optional(
        Each(Word()), "fault = why no instrument can show it", {})


@dataclass(frozen=True)
class Condition:
    """What a reading must be for a symptom to show."""

    reading: str = entry(Word(), "key of a reading, such as \"vent left\" or \"tp 12\"")
    comparison: str = entry(Word(COMPARISONS), "how it must stand to the value")
    value: float = entry(Number("", -1e6, 1e6), "what it is compared with")
    unit: str = optional(Word(), "unit of the value, that of the reading; - for none", "-")


@dataclass(frozen=True)
class Symptom:
    """A complaint, and the readings by which it is known. All conditions must hold."""

    state: str = entry(Word(), "operating state in which it is noticed")
    when: tuple[Condition, ...] = entry(Rows(Condition), "conditions, all of which must hold")
    about: str = optional(Word(), "a further word to the learner", "-")


@dataclass(frozen=True)
class InstrumentsEntry:
    """What the bench is measured with, and how long that takes."""

    sight_glass: bool = optional(Flag(), "a sight glass is fitted in the liquid line", False)
    leave_out: tuple[str, ...] = optional(
        Texts(INSTRUMENTS), "instruments that the workshop does not have", [])
    minutes: dict[str, float] = optional(
        Each(Number("min", 0.0, 600.0), words=(*INSTRUMENTS, *WORKS)),
        "instrument or work = minutes that it takes here", {})
