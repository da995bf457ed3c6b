"""A circuit to measure at: its wiring diagram, switches, a meter with a red and a black lead.

In a notebook:

    panel = WiringPanel(sheet.bench("three-relay-fans"))   # writes the journal
    panel.set(state="low", red=5, black=6)
    panel.measure()
    panel.readings()

By keyboard, on the diagram: arrow keys go from test point to test point, digits to the point of
that number, Enter puts the red
lead there, Shift+Enter (or b) the black one, m takes the reading. Only a reading that is taken
goes into the journal. Contacts are drawn at rest, as on any diagram; `live=True` offers a
switch that shows them, and volts and amps, as they are now.
"""

import contextlib
import io
from dataclasses import dataclass

from coldbench.panels.controls import Button, Choice, Slider, Toggle
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.wiring_diagram import diagram
from coldbench.panels.wiring_file import LEGEND
from coldbench.panels.wiring_live import REST, callout, leads, live_of, moving
from coldbench.panels.wiring_words import describe, point_words

MODES = (("dcv", "Volts"), ("ohm", "Ohms, power off"), ("lamp", "Test lamp"),
         ("amps", "Current clamp"))  # fmt: skip
_BY_HAND = ("by hand", "by hand, below")
_NOWHERE = ("none", "not placed")
_KEPT_ROWS = 8
_KEYS = ("Arrow keys go from point to point, a number to that point; Enter puts the red lead on, Shift+Enter or b the "
         "black lead, m takes the reading. With the mouse: click for red, Shift+click for "
         "black.")  # fmt: skip


@dataclass(frozen=True)
class WiringState:
    """What is shown: where the leads are, what the meter shows, how the bench stands."""

    red: int | None
    black: int | None
    mode: str
    round: str
    standing: str
    shown: str
    rows: tuple[tuple[str, ...], ...]
    live: bool


class WiringPanel(Panel):
    """A wiring diagram with test points, a meter, and the circuit's requests to switch.

    Parameters
    ----------
    bench : a `coldbench.worksheet.circuit_bench.CircuitBench`, or the name or file of a circuit
        to make one without a journal
    live : offer a switch that shows volts, amps and relays as they are
    changes : starting settings, named as the controls: state, one `set_…` for each request,
        red, black [test point numbers], mode ["dcv", "ohm", "lamp", "amps"], round [part or
        wire in the clamp], supply [connected or not], off [part taken off], show_live

    Raises
    ------
    InputError : no such circuit, or a value that a control does not have
    """

    title = "Wiring diagram and meter"

    def __init__(self, bench="three-relay-fans", live: bool = False, **changes):
        self.bench = _bench(bench)
        circuit = self.bench.circuit
        self.title = circuit.title
        self._offers_live, self._rows, self._reads = live, (), 0
        self._said, self._leads = "", None
        self._drawn = diagram(circuit)
        self._description = describe(circuit)
        start = {
            "state": self.bench.state or _BY_HAND[0], "red": "none", "black": _black(circuit),
            "mode": "dcv", "round": next(iter(circuit.wires)), "supply": True, "off": "none",
            "read": 0, "show_live": False,
        } | _inputs(circuit, self._settings_now())  # fmt: skip
        self._applied = dict(start)
        super().__init__(start, changes)

    def measure(self, red=None, black=None, mode=None):
        """Place the leads if told to, take a reading, and return what the bench gave."""
        wanted = {"red": red, "black": black, "mode": mode}
        self.set(**{k: v for k, v in wanted.items() if v is not None}, read=self._reads + 1)
        return self._measured

    def controls(self, settings):
        """Leads and meter first, then how the circuit is switched."""
        circuit = self.bench.circuit
        points = (_NOWHERE, *((str(n), f"{n}  {point_words(p)}")
                              for n, p in sorted(circuit.test_points.items())))  # fmt: skip
        clamps = tuple((name, _round_words(circuit, name))
                       for name in (*circuit.wires, *circuit.parts))  # fmt: skip
        amps = settings["mode"] == "amps"
        probes = ((Choice("round", "Clamp round", clamps, menu=True),) if amps else
                  (Choice("red", "Red lead on", points, menu=True),
                   Choice("black", "Black lead on", points, menu=True)))  # fmt: skip
        states = tuple((name, name.replace("_", " ")) for name in circuit.states)
        parts = (("none", "nothing"), *((p.id, f"{p.id}  {p.label}")
                                        for p in circuit.parts.values()))  # fmt: skip
        return (
            Choice("mode", "Meter", MODES), *probes, Button("read", "Take the reading"),
            Choice("state", "Operating state", (*states, _BY_HAND), menu=True),
            *(_request(circuit, name) for name in circuit.inputs),
            Toggle("supply", "Battery and supplies connected"),
            Choice("off", "Taken off", parts, menu=True),
            *((Toggle("show_live", "Show what goes on now"),) if self._offers_live else ()),
        )  # fmt: skip

    def targets(self):
        """The test points, for mouse and keys on the diagram."""
        points = self.bench.circuit.test_points
        return {
            "picture": "wiring", "label": "Test points", "help": _KEYS, "press": "read",
            "points": [[str(n), f"Test point {n}, {point_words(points[n])}", *place]
                       for n, place in self._drawn.points.items()],
        }  # fmt: skip

    def compute(self, settings) -> WiringState:
        """Switch the bench where the settings ask for it, and read the meter when told to."""
        self._switch(settings)
        at = tuple(settings[k] for k in ("mode", "red", "black", "round", "state", "supply", "off",
                                         *_names(self.bench.circuit)))  # fmt: skip
        if at != self._leads:
            self._leads, self._said = at, ""
        if settings["read"] > self._reads:
            self._reads = settings["read"]
            self._read(settings)
        return WiringState(_point(settings["red"]), _point(settings["black"]), settings["mode"],
                           settings["round"], self._standing(settings), self._said, self._rows,
                           settings["show_live"])  # fmt: skip

    def _switch(self, settings) -> None:
        """Bring state and single requests into line, and the bench after them."""
        circuit, names = self.bench.circuit, _names(self.bench.circuit)
        before = self._applied
        if settings["state"] != before["state"] and settings["state"] in circuit.states:
            settings.update(_inputs(circuit, circuit.settings(settings["state"])))
        wanted = {name: settings[f"set_{name}"] for name in circuit.inputs}
        settings["state"] = next((state for state in circuit.states
                                  if circuit.settings(state) == wanted), _BY_HAND[0])  # fmt: skip
        with contextlib.redirect_stdout(io.StringIO()):
            if any(settings[name] != before[name] for name in names):
                named = settings["state"] in circuit.states
                self.bench.set(settings["state"]) if named else self.bench.set(wanted)
            if any(settings[name] != before[name] for name in ("supply", "off")):
                self.bench.plug()
                if off := _taken_off(circuit, settings):
                    self.bench.unplug(*off)
        self._applied = dict(settings)

    def _read(self, settings) -> None:
        mode = settings["mode"]
        red, black = _point(settings["red"]), _point(settings["black"])
        if mode != "amps" and (red is None or black is None):
            self._measured, self._said = None, "Place both leads first"
            return
        place = settings["round"] if mode == "amps" else red
        self._measured = self.bench.probe(place, None if mode == "amps" else black, mode)
        self._said = self._measured.text.partition(": ")[2] or self._measured.text
        where = (settings["round"], "") if mode == "amps" else (str(red), str(black))
        number = str(int(self._rows[0][0]) + 1) if self._rows else "1"
        row = (number, self._standing(settings), dict(MODES)[mode].partition(",")[0], *where,
               _short(self._said))  # fmt: skip
        self._rows = (row, *self._rows)[:_KEPT_ROWS]

    def _standing(self, settings) -> str:
        if settings["state"] in self.bench.circuit.states:
            words = f"state {settings['state'].replace('_', ' ')}"
        else:
            words = ", ".join(f"{name.replace('_', ' ')} {_word(settings[f'set_{name}'])}"
                              for name in self.bench.circuit.inputs)  # fmt: skip
        off = [] if settings["supply"] else ["supplies off"]
        off += [] if settings["off"] == "none" else [f"{settings['off']} off"]
        return ", ".join((words, *off))

    def _settings_now(self) -> dict:
        now = self.bench.now.settings
        return self.bench.circuit.settings(now if isinstance(now, str) else dict(now))

    def pictures(self, state: WiringState):
        """The diagram with the leads on it, and live values where they are asked for."""
        drawn, live = self._drawn, REST
        if state.live:
            live = live_of(drawn.circuit, self._settings_now(), self.bench.solution)
        front = moving(drawn, live)
        if state.mode != "amps":
            front += leads(drawn, state.red, state.black)
            if state.shown and state.red is not None:
                front += callout(drawn, state.red, _short(state.shown))
        said = f"{self.line(state)} {self._description} {LEGEND}"
        return (Picture("wiring", drawn.width, drawn.height, f"Wiring diagram: {self.title}", said,
                        drawn.still, front),)  # fmt: skip

    def line(self, state: WiringState) -> str:
        """The meter in words."""
        if state.mode == "amps":
            where = f"Clamp round {state.round}"
        else:
            where = f"Red on {state.red or 'nothing'}, black on {state.black or 'nothing'}"
        return f"{state.shown or '– – –  no reading taken yet'}\n{where}; {state.standing}."

    def table(self, state: WiringState) -> Table:
        """The last readings, the newest first."""
        return Table("Readings, the newest first",
                     ("No.", "Circuit", "Meter", "Red", "Black", "Reading"), state.rows)

    def values(self, state: WiringState):
        """Where the leads are and what the meter shows."""
        return {"state": state.standing, "red": state.red, "black": state.black,
                "mode": state.mode, "round": state.round if state.mode == "amps" else None,
                "reading": state.shown or None}  # fmt: skip


def _bench(bench):
    from coldbench.worksheet.circuit_bench import CircuitBench

    return bench if hasattr(bench, "probe") else CircuitBench(bench)


def _black(circuit) -> str:
    """The black lead starts on the reference, where that is a test point."""
    found = [n for n, point in circuit.test_points.items() if point.at == circuit.ground]
    return str(found[0]) if found else "none"


def _point(setting: str) -> int | None:
    return None if setting == "none" else int(setting)


def _inputs(circuit, settings) -> dict:
    return {f"set_{name}": settings[name] for name in circuit.inputs}


def _names(circuit) -> tuple[str, ...]:
    return tuple(f"set_{name}" for name in circuit.inputs)


def _request(circuit, name: str):
    words = name.replace("_", " ").capitalize()
    if circuit.inputs[name] == "duty":
        return Slider(f"set_{name}", words, 0, 100, 5, "%", "ratio")
    return Toggle(f"set_{name}", words)


def _taken_off(circuit, settings) -> list[str]:
    off = [] if settings["supply"] else [p.id for p in circuit.parts.values()
                                         if p.kind == "source"]  # fmt: skip
    return off + ([settings["off"]] if settings["off"] not in ("none", *off) else [])


def _round_words(circuit, name: str) -> str:
    if name in circuit.parts:
        return f"{name}  {circuit.parts[name].label}"
    wire = circuit.wires[name]
    number = "" if wire.circuit is None else f" circuit {wire.circuit},"
    return f"{name} {number} {wire.start} to {wire.end}"


def _word(value) -> str:
    return ("on" if value else "off") if isinstance(value, bool) else f"{100 * value:.0f} %"


def _short(shown: str) -> str:
    """The reading without its notes, for the small flag on the diagram."""
    return "refused" if shown.startswith("✗") else shown.partition(" (")[0].partition("\n")[0]
