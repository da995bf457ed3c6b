"""A circuit on the bench: switch it, take parts off, put instruments to it.

    bench = sheet.bench("three-relay-fans", faults=["K1:contacts_burnt"])
    bench.set("low")                       # a named state, or bench.set(low_request=True)
    bench.measure(red=3, black=4)          # test point numbers or names such as "K1.30"
    bench.measure(red=3, black=4, mode="ohm")
    bench.measure("F1", mode="amps")       # current clamp round a part or wire
    bench.disconnect_battery()             # before the ohmmeter; bench.connect_battery() after it
    bench.unplug("K1")                     # every wire off it; bench.plug("K1") puts them back

Each call prints what the instrument shows and writes it into the measurement journal, refused
measurements too. For marking, `bench.expected(entry)` works an entry of the journal out again on
the same circuit with the same faults; in a lab with several benches each has a `name`, and
`expected_at(bench, other_bench)` asks the one that an entry names.

The minutes of a measurement are common practice: leads on and read, or power off first.
"""

import json
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from coldbench.electrical import Circuit, Solution, load_circuit, solve
from coldbench.electrical.instruments import (
    Reading, Refusal, clamp, lamp, ohmmeter, power_off, voltmeter,
)
from coldbench.errors import ConvergenceError, InputError
from coldbench.worksheet.bench_setting import Setting, named, setting_of, standing
from coldbench.worksheet.entries import Entry
from coldbench.worksheet.journal import Journal
from coldbench.worksheet.spelling import one_line, sentence

MODES = {"dcv": "voltmeter", "ohm": "ohmmeter", "lamp": "test lamp", "amps": "current clamp"}
_MODE_OF = {instrument: mode for mode, instrument in MODES.items()}
_MINUTES = {"dcv": 1.0, "ohm": 3.0, "lamp": 1.0, "amps": 1.0}
_LONGEST_PAST = 12
_MOST_KEPT = 256


@dataclass(frozen=True)
class Measured:
    """What an instrument showed.

    value [number as displayed, SI, or None where the display shows none]; unit; uncertainty
    [± of the reading]; text [the line that was printed].
    """

    value: float | None
    unit: str
    uncertainty: float | None
    text: str

    def __float__(self) -> float:
        if self.value is None:
            raise InputError(f"this measurement gave no number: {self.text}")
        return self.value

    def __repr__(self) -> str:
        return self.text

    def _ipython_display_(self) -> None:
        """Nothing more: the reading was printed when it was made."""


class CircuitBench:
    """A circuit that a learner switches and measures at.

    circuit [name, path or Circuit]; faults [texts or Fault]; inputs [{"part.parameter": value}
    in place of the file's]; state [to begin with; default: all inputs off]; journal [None:
    nothing is written down]; name [tells it from other benches of the same lab]. Raises
    InputError for what the circuit does not have.
    """

    def __init__(self, circuit: str | Circuit, faults: Iterable[Any] = (),
                 inputs: Mapping[str, float] | None = None, state: Any = None,
                 journal: Journal | None = None, name: str = ""):
        self.circuit = circuit if isinstance(circuit, Circuit) else load_circuit(circuit)
        self.faults, self.journal, self.name = tuple(faults), journal, name
        self._inputs = dict(inputs or {})
        self._kept: dict[str, Solution] = {}
        first = state if state is not None else "off" if "off" in self.circuit.states else {}
        self._past: list[Setting] = []
        self._move(Setting(self._plain_settings(first)))

    @property
    def now(self) -> Setting:
        """How the bench stands."""
        return self._past[-1]

    @property
    def solution(self) -> Solution:
        """The circuit's operating point as it stands."""
        return self._solved(self._past)

    @property
    def state(self) -> str:
        """Name of the state the bench stands in, or ""."""
        return self.now.settings if isinstance(self.now.settings, str) else ""

    def __repr__(self) -> str:
        return f"{self.circuit.title}, {self._standing()}"

    def _standing(self) -> str:
        """Which bench, and how it stands."""
        return ", ".join(filter(None, (self.name, standing(self.now))))

    def set(self, state: Any = None, /, **settings: Any) -> None:
        """Switch: a named state, or single inputs by name while the others stay.

        Says how the bench stands then, and which relay can be heard buzzing. Never raises for
        what a learner types.
        """
        self._try(lambda: self._switch(state, settings))

    def _switch(self, state: Any, settings: Mapping[str, Any]) -> str:
        if state is None and not settings:
            return f"State: {self._standing()}. States are {', '.join(self.circuit.states)}."
        if not isinstance(state, (str, Mapping, type(None))):
            raise InputError(f"{one_line(state)!r} is not a state; "
                             f"states are {', '.join(self.circuit.states)}")
        base = self.now.settings if state is None else state
        if settings:
            base = {**self.circuit.settings(named(base)), **settings}
        self._move(replace(self.now, settings=self._plain_settings(base)))
        return self._heard()

    def _plain_settings(self, settings: Any) -> Any:
        """A state's name where the settings are those of one, else the settings."""
        full = self.circuit.settings(named(settings))
        if isinstance(settings, str):
            return settings
        for name in self.circuit.states:
            if self.circuit.settings(name) == full:
                return name
        return tuple(sorted(full.items()))

    def fit(self, **values: float) -> None:
        """Change values of parts, such as `RT1_ohm=1500` for a resistor in a sensor's place.

        The name is the part's, an underscore, and the parameter's.
        """
        named = {name.replace("_", ".", 1): value for name, value in values.items()}

        def change() -> str:
            inputs = {**dict(self.now.inputs), **named}
            self._move(replace(self.now, inputs=tuple(sorted(inputs.items()))))
            return f"Fitted: {', '.join(f'{name} = {value:g}' for name, value in named.items())}."

        self._try(change)

    def unplug(self, *names: str) -> None:
        """Take parts or wires off: of a part, every wire that ends at it."""
        self._try(lambda: self._plugged([*self.now.unplugged, *map(str, names)]))

    def plug(self, *names: str) -> None:
        """Put parts or wires back; all of them when none is named."""
        left = [name for name in self.now.unplugged if names and name not in names]
        self._try(lambda: self._plugged(left))

    def _plugged(self, names: list[str]) -> str:
        unplugged = tuple(dict.fromkeys(names))
        self._move(replace(self.now, unplugged=unplugged))
        return f"Unplugged: {', '.join(unplugged) or 'nothing'}."

    def disconnect_battery(self) -> None:
        """Take the supply off: relays fall, and the ohmmeter may be used."""
        self._try(lambda: self._battery(False))

    def connect_battery(self) -> None:
        """Put the supply back."""
        self._try(lambda: self._battery(True))

    def _battery(self, connected: bool) -> str:
        self._move(replace(self.now, battery=connected))
        return f"Battery {'connected' if connected else 'disconnected'}."

    def measure(self, red: Any = None, black: Any = None, mode: str = "dcv",
                bulb: str = "5W") -> Measured:
        """Put an instrument to the circuit, say what it shows and write it down.

        red, black [test point number or place; black left out: the reference]; mode ["dcv"
        volts, "ohm", "lamp" test lamp, "amps" clamp round the part or wire given as red]; bulb
        [of the lamp]. Never raises for what a learner types: the sentence says what was wrong.
        """
        measured = self.probe(red, black, mode, bulb)
        print(measured.text)
        return measured

    def probe(self, red: Any, black: Any = None, mode: str = "dcv", bulb: str = "5W") -> Measured:
        """As `measure`, but the text is handed over instead of printed."""
        try:
            arguments = self._arguments(red, black, mode, bulb)
        except InputError as error:
            return Measured(None, "", None, f"✗ {sentence(str(error))}")
        try:
            reading: Reading | None = self._read(self._past, mode, arguments)
            note = reading.note
        except (Refusal, ConvergenceError) as refusal:
            reading, note = None, str(refusal)
        except InputError as error:
            return Measured(None, "", None, f"✗ {sentence(str(error))}")
        return self._write_down(mode, arguments, reading, note)

    def _write_down(self, mode: str, arguments: dict[str, Any], reading: Reading | None,
                    note: str) -> Measured:
        value, unit, uncertainty = (None, "", None) if reading is None else shown_value(reading)
        where = ", ".join(f"{name} {value}" for name, value in arguments.items())
        trouble = ""
        if self.journal is not None:
            self.journal.add(MODES[mode], arguments, value, unit, settings=self._settings(),
                             uncertainty=uncertainty, minutes=_MINUTES[mode], note=note)
            trouble = f"\n! {self.journal.trouble}" if self.journal.trouble else ""
        if reading is None:
            said = f"✗ refused. {sentence(note)}"
        else:
            around = "" if uncertainty is None else f" ± {uncertainty:.2g} {unit}"
            said = f"{reading.shown}{around}" + (f" ({one_line(note, 200)})" if note else "")
        text = f"{MODES[mode]}, {where}, {self._standing()}: {said}{trouble}"
        return Measured(value if isinstance(value, float) else None, unit, uncertainty, text)

    def _settings(self) -> dict[str, Any]:
        before = [setting.as_dict() for setting in self._past[:-1]]
        return {**({"bench": self.name} if self.name else {}), **self.now.as_dict(),
                **({"after": before} if before else {})}

    def _arguments(self, red: Any, black: Any, mode: Any, bulb: Any) -> dict[str, Any]:
        if not isinstance(mode, str) or mode not in MODES:
            raise InputError(f"mode {one_line(mode)!r} is not one of {', '.join(MODES)}")
        if red is None or red is Ellipsis:
            raise InputError("say where the red lead goes: a test point number or a name "
                             'such as "K1.30"')
        if mode == "amps":
            return {"round": self._branch(red)}
        places = {"red": self.circuit.node(red),
                  "black": self.circuit.node(self.circuit.ground if black is None else black)}
        return {**places, "bulb": str(bulb)} if mode == "lamp" else places

    def _branch(self, name: Any) -> str:
        if not isinstance(name, str) or (name not in self.circuit.parts
                                         and name not in self.circuit.wires):
            raise InputError(f"{self.circuit.name} has no part or wire {one_line(name)!r} "
                             "to put the clamp round")
        return name

    def _read(self, past: list[Setting], mode: str, arguments: Mapping[str, Any]) -> Reading:
        """What the instrument shows with the bench as it stands; Refusal where it must not."""
        solution = self._solved(past)
        if mode == "amps":
            return clamp(solution, arguments["round"])
        if mode == "lamp":
            return lamp(solution, arguments["red"], arguments["black"], bulb=arguments["bulb"])
        meter = voltmeter if mode == "dcv" else ohmmeter
        return meter(solution, arguments["red"], arguments["black"])

    def expected(self, entry: Entry) -> tuple[float | str, str, float] | None:
        """What this bench shows for an entry of a journal [value or word, unit, ±].

        None where the instrument refuses. Raises InputError for an entry that names what the
        bench does not have.
        """
        past = [setting_of(step) for step in [*entry.settings.get("after", []), entry.settings]]
        if (len(past) > _LONGEST_PAST or entry.instrument not in _MODE_OF
                or entry.bench != self.name):
            raise InputError("this bench has no such measurement")
        mode = _MODE_OF[entry.instrument]
        arguments = dict(entry.arguments)
        if arguments != self._arguments(arguments.get("red", arguments.get("round")),
                                        arguments.get("black"), mode, arguments.get("bulb")):
            raise InputError("this bench has no such place")
        try:
            reading = self._read(past, mode, arguments)
        except (Refusal, ConvergenceError):
            return None
        value, unit, uncertainty = shown_value(reading)
        # The journal holds the displayed number, up to half a step beside the true one.
        return (value if isinstance(value, str) else reading.value), unit, uncertainty or 0.0

    def _move(self, setting: Setting) -> None:
        """Go to another setting; what came before is kept only while relays remember it."""
        solution = self._solved([*self._past, setting])
        for past in ([], *([earlier] for earlier in self._past), self._past):
            if self._solved([*past, setting]).energised == solution.energised:
                if len(past) < _LONGEST_PAST:
                    self._past = [*past, setting]
                    return
        raise InputError("the relays remember more switching than the bench can; "
                         "switch everything off and begin again")

    def _solved(self, past: list[Setting]) -> Solution:
        name = json.dumps([[setting.as_dict()] for setting in past], sort_keys=True, default=str)
        if name not in self._kept:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            before = self._solved(past[:-1]) if len(past) > 1 else None
            self._kept[name] = self._solve(past[-1], before)
        return self._kept[name]

    def _solve(self, setting: Setting, before: Solution | None) -> Solution:
        solution = solve(self.circuit, named(setting.settings),
                         [*self.faults, *self._off(setting.unplugged)], before,
                         {**self._inputs, **dict(setting.inputs)})
        return solution if setting.battery else power_off(solution)

    def _off(self, unplugged: Iterable[str]) -> list[str]:
        """Open wires that stand for what is unplugged."""
        given = {str(fault).partition("=")[0] for fault in self.faults}
        wires: dict[str, None] = {}
        for name in unplugged:
            if name in self.circuit.wires:
                wires[name] = None
            elif name in self.circuit.parts:
                nodes = self.circuit.parts[name].nodes
                wires.update({wire.id: None for wire in self.circuit.wires.values()
                              if wire.start in nodes or wire.end in nodes})
            else:
                raise InputError(f"{self.circuit.name} has no part or wire {one_line(name)!r}")
        return [f"{wire}:open" for wire in wires if f"{wire}:open" not in given]

    def _heard(self) -> str:
        relays = self.solution.relays
        notes = [f"{relay} buzzes" for relay, how in relays.items() if how == "buzzing"]
        return f"Now {self._standing()}." + (f" {'; '.join(notes)}." if notes else "")

    def _try(self, change: Any) -> None:
        """Do something and say so; what cannot be done is said and changes nothing."""
        before = list(self._past)
        try:
            print(change())
        except (InputError, ConvergenceError) as error:
            self._past = before
            print(f"✗ {sentence(str(error))}")


def expected_at(*benches: CircuitBench) -> Callable[[Entry], Any]:
    """How to work out again the entries of a journal that was kept at several benches.

    benches [each with a name of its own]. Raises InputError, when called, for an entry of none
    of them.
    """
    named_benches = {bench.name: bench for bench in benches}

    def expected(entry: Entry) -> tuple[float | str, str, float] | None:
        if entry.bench not in named_benches:
            raise InputError(f"there is no bench {one_line(entry.bench)!r}")
        return named_benches[entry.bench].expected(entry)

    return expected


def shown_value(reading: Reading) -> tuple[float | str, str, float | None]:
    """The displayed number, its unit and ±; where the display shows no number, its words.

    >>> shown_value(Reading("Voltmeter", 6.6817, "V", "6.68 V", 0.05))
    (6.68, 'V', 0.05)
    """
    if reading.floating or reading.overload or not math.isfinite(reading.value):
        return reading.shown, "", None
    try:
        return float(reading.shown.split()[0].replace("−", "-")), reading.unit, reading.uncertainty
    except ValueError:  # a word, such as how bright a lamp is
        return reading.shown, "", None
