"""A bench as data: wiring, loop, sensors, head, and what ties them together."""

from dataclasses import dataclass, field, fields

from coldbench.bench import tables as t
from coldbench.control import Calibration
from coldbench.electrical import Circuit
from coldbench.errors import InputError
from coldbench.refrigerant.loop.parts import LoopParts
from coldbench.refrigerant.loop.transient_parts import Cabin, Stores
from coldbench.sensing import ControlHead


@dataclass(frozen=True, eq=False)
class Bench:
    """A whole bench; get one from `load_bench`.

    circuit: all sheets as one; parts, stores, cabin: of the loop; inputs: the head's sensors;
    requests: input of the circuit → what drives it; states: name → settings; symptoms: in the
    words of a complaint → how it shows.
    """

    name: str
    title: str
    about: str
    file: str
    circuit: Circuit
    sheets: tuple[t.CircuitEntry, ...]
    loop: t.LoopEntry
    parts: LoopParts
    stores: Stores
    cabin: Cabin
    fans: tuple[t.FanEntry, ...]
    blower: t.BlowerEntry
    clutch: t.ClutchEntry
    engine: t.EngineEntry | None
    pressure_switch: t.PressureSwitchEntry | None
    heater: t.HeaterEntry
    head: t.HeadEntry
    calibration: Calibration
    calibration_tables: dict = field(repr=False)
    inputs: ControlHead = field(repr=False)
    requests: dict[str, str]
    states: dict[str, t.Settings]
    faults: tuple[t.FaultEntry, ...]
    catalogue: t.CatalogueEntry
    instruments: t.InstrumentsEntry
    symptoms: dict[str, t.Symptom]
    memory: dict = field(default_factory=dict, repr=False)

    def state(self, name: str | None = None) -> t.Settings:
        """Return the settings of an operating state; the first one if none is named.

        Raises: InputError naming the states.
        """
        if name is None:
            return next(iter(self.states.values()))
        if name not in self.states:
            raise InputError(f"{self.name} has no state {name!r}; states are "
                             f"{', '.join(self.states)}")
        return self.states[name]

    def settings(self, state: "str | t.Settings | None", changes: dict | None = None) -> t.Settings:
        """Return settings with changes, written as in the file ({"ambient_degC": 35}).

        Raises: InputError for an unknown key or a value out of range.
        """
        found = state if isinstance(state, t.Settings) else self.state(state)
        rules = {f.metadata["rule"].key(f.name): f for f in fields(t.Settings)}
        values = {f.name: getattr(found, f.name) for f in rules.values()}
        for key, value in (changes or {}).items():
            if key not in rules:
                raise InputError(f"{self.name} has no setting {key!r}; settings are "
                                 f"{', '.join(rules)}")
            rule = rules[key].metadata["rule"]
            value = list(value) if isinstance(value, tuple) else value
            values[rules[key].name] = rule.read(value, f"setting {key}")
        settings = t.Settings(**values)
        self.check_settings(settings, "settings")
        return settings

    def check_settings(self, settings: t.Settings, where: str) -> None:
        """Refuse settings that do not fit the head or the wiring. Raises: InputError."""
        zones, limits = self.calibration.zone_names, self.calibration.set_point
        if len(settings.set_points_K) != len(zones):
            raise InputError(f"{where}: set_points_degC has {len(settings.set_points_K)} values, "
                             f"but the head has {len(zones)} zones: {', '.join(zones)}")
        for value in settings.set_points_K:
            if not limits.lowest_K <= value <= limits.highest_K:
                raise InputError(
                    f"{where}: set_points_degC {value - 273.15:g} is outside "
                    f"{limits.lowest_K - 273.15:g} to {limits.highest_K - 273.15:g}")
        for name in settings.switches:
            if self.circuit.inputs.get(name) != "switch" or name in self.requests:
                free = [n for n, kind in self.circuit.inputs.items()
                        if kind == "switch" and n not in self.requests
                        and n not in ("ignition", "running")]
                raise InputError(f"{where}: switches: {name!r} is no switch of the wiring that is "
                                 f"free to set; those are {', '.join(free) or 'none'}")
