"""The calibration of a control head: its constants and thresholds, read from a TOML file.

Each dataclass is one table of the file. Reading and checking stand in
`calibration_file`. The limits stated here are wide: they keep out slips of the pen, while the
values in the file say what one head does.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from coldbench.control.hysteresis import Band
from coldbench.control.rules import (
    BandRule, Flag, Number, Numbers, Shares, Whole, WindowRule, Word, entry,
)
from coldbench.sensing.codes import CodePolicy
from coldbench.sensing.windows import Window

SHARE = Number("share", 0.0, 1.0)
DISTRIBUTIONS = ("face", "bi-level", "foot", "foot-screen", "screen")
DOOR_KINDS = ("blend", "distribution", "recirculation")
CODE_FAULTS = ("below", "above", "stalled", "travel")
FAN_LEVELS = ("off", "low", "high")
ZONE_SENSORS = ("sun", "discharge")
SENSOR_UNITS = {"ambient": "degC", "cabin": "degC", "sun": "W_per_m2", "discharge": "degC",
                "evaporator": "degC", "pressure": "kPa", "coolant": "degC"}


@dataclass(frozen=True)
class SetPoints:
    """Range of the driver's set point; its ends mean full cold and full hot."""

    lowest_K: float = entry(Number("degC", 10, 24), "end stop: full cold")
    highest_K: float = entry(Number("degC", 24, 35), "end stop: full hot")


@dataclass(frozen=True)
class HeatBalance:
    """What all zones share in the heat balance."""

    air_heat_capacity_J_per_kg_K: float = entry(
        Number("J_per_kg_K", 950, 1100), "specific heat capacity of moist air")
    between_zones_W_per_K: float = entry(
        Number("W_per_K", 0, 100), "heat from a neighbour zone for each kelvin it is warmer")
    least_discharge_K: float = entry(Number("degC", -5, 15), "coldest air that is asked for")
    most_discharge_K: float = entry(Number("degC", 30, 80), "hottest air that is asked for")


@dataclass(frozen=True)
class Zone:
    """One zone of the cabin in the heat balance."""

    name: str = entry(Word(), "name of the zone, such as left")
    skin_W_per_K: float = entry(Number("W_per_K", 0, 200), "heat through walls and glass")
    glass_m2: float = entry(Number("m2", 0, 5), "area that takes in the sun")
    people_W: float = entry(Number("W", 0, 1000), "heat from people and equipment")
    recovery_W_per_K: float = entry(
        Number("W_per_K", 0, 500), "extra heat to move for each kelvin off the set point")
    airflow_kg_per_s: float = entry(Number("kg_per_s", 0.005, 0.5), "air assumed to the zone")


@dataclass(frozen=True)
class Blend:
    """Blend doors: from required temperature to position (0 full cold, 1 full hot)."""

    heater_effectiveness: float = entry(Number("share", 0.1, 1.0), "of the heater core")
    least_span_K: float = entry(
        Number("K", 1, 30), "least span from cold to hot air used in the division")
    correction_per_K: float = entry(
        Number("per_K", 0, 0.02), "door share for each kelvin the duct sensor is off")
    most_correction: float = entry(Number("share", 0, 0.5), "limit of that correction")


@dataclass(frozen=True)
class Blower:
    """Automatic blower: curve against required temperature, start and hold-back."""

    curve_K: tuple[float, ...] = entry(
        Numbers(Number("degC", -60, 120)), "required temperatures of the curve, rising")
    curve_share: tuple[float, ...] = entry(
        Numbers(SHARE), "blower shares there: fall to the quiet middle, then rise")
    change_per_s: float = entry(Number("per_s", 0.01, 10), "fastest change")
    defrost_share: float = entry(SHARE, "least share while clearing the windscreen")
    coolant_cold_K: float = entry(
        Number("degC", 0, 60), "coolant at which heating gets the quietest blower")
    coolant_warm_K: float = entry(
        Number("degC", 20, 90), "coolant from which heating is not held back")


@dataclass(frozen=True)
class Distribution:
    """Where the air goes, by the mean required temperature of the zones."""

    bi_level: Band = entry(BandRule("degC", -10, 80, True), "face gives way to bi-level")
    foot: Band = entry(BandRule("degC", -10, 80, True), "bi-level gives way to foot")
    positions: Mapping[str, float] = entry(
        Shares(DISTRIBUTIONS), "door position of each distribution")


@dataclass(frozen=True)
class Recirculation:
    """When the head closes the fresh-air door by itself."""

    required: Band = entry(
        BandRule("degC", -60, 40, False), "required temperature of the coldest zone")
    ambient: Band = entry(BandRule("degC", -20, 60, True), "outside temperature")


@dataclass(frozen=True)
class Compressor:
    """Chain of the compressor request; each band says when the link lets through."""

    supply: Band = entry(BandRule("V", 6, 16, True), "supply voltage")
    speed: Band = entry(BandRule("rpm", 0, 3000, True), "speed of what drives the compressor")
    ambient: Band = entry(BandRule("degC", -20, 20, True), "ambient lock-out")
    coolant: Band = entry(BandRule("degC", 80, 140, False), "hot-engine cut")
    low_pressure: Band = entry(BandRule("kPa", 0, 500, True), "low-pressure limit, gauge")
    high_pressure: Band = entry(BandRule("kPa", 1000, 4000, False), "high-pressure limit, gauge")
    freeze: Band = entry(BandRule("degC", -5, 15, True), "evaporator freeze protection")
    minimum_off_s: float = entry(Number("s", 0, 120), "least time between off and on")


@dataclass(frozen=True)
class Fan:
    """Condenser fan request against pressure and coolant."""

    low: Band = entry(BandRule("kPa", 0, 4000, True), "low speed, high-side gauge pressure")
    high: Band = entry(BandRule("kPa", 0, 4000, True), "high speed, high-side gauge pressure")
    low_coolant: Band = entry(BandRule("degC", 60, 140, True), "low speed, coolant")
    high_coolant: Band = entry(BandRule("degC", 60, 140, True), "high speed, coolant")
    low_with_compressor: bool = entry(Flag(), "low speed whenever the compressor is requested")


@dataclass(frozen=True)
class Door:
    """One kind of door actuator: feedback at its end stops, speed, stall detection."""

    closed_ratio: float = entry(SHARE, "feedback share of the reference at position 0")
    open_ratio: float = entry(SHARE, "feedback share of the reference at position 1")
    start_error: float = entry(Number("share", 0.005, 0.2), "position error that starts the motor")
    stop_error: float = entry(Number("share", 0, 0.2), "position error at which it stops")
    travel_s: float = entry(Number("s", 0.5, 60), "time from stop to stop")
    stall_s: float = entry(Number("s", 0.1, 20), "driven without movement for this long: stalled")
    stall_movement: float = entry(
        Number("share", 0.001, 0.2), "feedback change that counts as movement")
    least_travel: float = entry(
        Number("share", 0.05, 1.0), "feedback change from stop to stop that is believed")
    without_feedback: str = entry(
        Word(("hold", "closed", "open")), "what the door does when its feedback has failed")
    window: Window = entry(WindowRule(), "feedback that is believed, share of the reference")


@dataclass(frozen=True)
class Sensor:
    """What the head does about one kind of sensor."""

    fitted: bool = entry(Flag(), "false: the substitute is used and nothing is reported")
    substitute: float = entry(
        Number("SI", -1e9, 1e9), "value used when the sensor has failed")
    stops_compressor: bool = entry(Flag(), "a failed sensor stops the compressor")
    fan_when_failed: str = entry(Word(FAN_LEVELS), "fan level asked for when it has failed")
    window: Window = entry(WindowRule(), "signal that is believed, share of the reference")


@dataclass(frozen=True)
class Storing:
    """How many operation cycles a stored code takes."""

    confirm_cycles: int = entry(Whole(1, 10), "failing cycles in a row until confirmed")
    age_cycles: int = entry(Whole(1, 255), "passing cycles in a row until forgotten")

    @property
    def policy(self) -> CodePolicy:
        """The same for `coldbench.sensing.codes` [CodePolicy]."""
        return CodePolicy(self.confirm_cycles, self.age_cycles)


@dataclass(frozen=True)
class Code:
    """One code the head can store."""

    number: str = entry(Word(), "number as the reader of codes shows it")
    source: str = entry(Word(), "a sensor (zone sensors with their zone: sun left) or a door")
    fault: str = entry(Word(CODE_FAULTS), "what is wrong with it")
    text: str = entry(Word(), "what the reader of codes shows")


@dataclass(frozen=True)
class Calibration:
    """A whole control head (SI)."""

    name: str
    set_point: SetPoints
    heat_balance: HeatBalance
    zones: tuple[Zone, ...]
    blend: Blend
    blower: Blower
    distribution: Distribution
    recirculation: Recirculation
    compressor: Compressor
    fan: Fan
    doors: Mapping[str, Door]
    sensors: Mapping[str, Sensor]
    storing: Storing
    codes: tuple[Code, ...]

    @property
    def zone_names(self) -> tuple[str, ...]:
        """Names of the zones, in order."""
        return tuple(zone.name for zone in self.zones)

    @property
    def door_names(self) -> tuple[str, ...]:
        """Names of the doors: one blend door for each zone, then the two shared doors.

        >>> from coldbench.control import load_calibration
        >>> load_calibration("blue_head").door_names
        ('blend left', 'blend right', 'distribution', 'recirculation')
        """
        return (*(f"blend {name}" for name in self.zone_names), *DOOR_KINDS[1:])

    @property
    def sensor_names(self) -> tuple[str, ...]:
        """Names of the sensors; those that each zone has carry its name.

        >>> from coldbench.control import load_calibration
        >>> load_calibration("blue_head").sensor_names[1:4]
        ('cabin', 'sun left', 'sun right')
        """
        return tuple(name for kind in SENSOR_UNITS for name in (
            [f"{kind} {zone}" for zone in self.zone_names] if kind in ZONE_SENSORS else [kind]))

    def door(self, name: str) -> Door:
        """Actuator data of a door [Door]."""
        return self.doors[name.split(" ")[0]]

    def sensor(self, name: str) -> Sensor:
        """What the head does about a sensor [Sensor]."""
        return self.sensors[name.split(" ")[0]]
