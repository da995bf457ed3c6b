"""A bench as data: wiring, loop, sensors, head, and what ties them together."""

from dataclasses import dataclass, field, fields

from coldbench.bench import tables as t
from coldbench.bench.settings_check import settings_mistakes
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
        if mistakes := tuple(settings_mistakes(self, settings, "settings")):
            raise InputError(*mistakes)
        return settings

    def session(self, state: str | None = None, faults=(), set: dict | None = None, note=None):
        """Open a session at this bench, with its faults.

        Parameters
        ----------
        state : str, optional
            Operating state to begin with; the first one if left out.
        faults : iterable of str
            As `read` takes them.
        set : dict, optional
            Changed settings, in every state, written as in the file.
        note : callable, optional
            Called with every `Taken`.

        Returns
        -------
        Session

        Raises
        ------
        InputError
            For an unknown state, setting or fault.

        Examples
        --------
        >>> from coldbench.bench.files import load_bench
        >>> load_bench("blue").session("off").meter("ohms", 5, 6).values["ohms"].value
        0.2
        """
        from coldbench.bench.session import Session
        from coldbench.bench.source import ModelSource

        return Session(ModelSource(self, faults, set), state, note)
