"""The whole bench in one view: gauges, head, engine bay, air box, test points, every instrument.

In a notebook:

    panel = BenchPanel(load_bench("blue").session("full cooling"))
    panel.set(state="off", red=5, black=6, mode="ohms")
    panel.take("read"), panel.take("pipe thermometer", pipe="suction line")
    panel.readings()

What eyes and ears get is always in view and free. A reading appears once its instrument was
used; it goes through the session, which counts the minutes and notes it. A reading is shown as
long as the bench stands as it stood. The panel asks the session alone, so it cannot tell a model
from a sealed file.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from coldbench.bench import Measured, Taken
from coldbench.electrical.instruments import Refusal
from coldbench.errors import ConvergenceError, InputError
from coldbench.panels import bench_display, bench_gauges, bench_points, bench_scene
from coldbench.panels.bench_actions import (
    ACTIONS,
    MODES,
    controls_of,
    offered,
    start_of,
)
from coldbench.panels.bench_view import BenchView, view_of
from coldbench.panels.bench_words import first_line, lists_of, row, said, standing
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture

MOST_ROWS = 20
_KEYS = ("On the test points: arrow keys go from point to point, a number to that point; Enter "
         "puts the red lead on, Shift+Enter or b the black lead, m takes the reading. With the "
         "mouse: click for red, Shift+click for black.")  # fmt: skip


@dataclass(frozen=True)
class BenchState:
    """What is shown: the bench as seen, the leads, and what was taken.

    shown : what the meter shows, "" until it is read; now : readings that still hold
    hidden : why nothing is in view, or ""
    """

    view: BenchView
    red: int | None
    black: int | None
    shown: str
    standing: str
    minutes: float
    taken: tuple[Taken, ...]
    now: tuple[Taken, ...]
    hidden: str


class BenchPanel(Panel):
    """A bench with everything that can be seen, measured and done at it.

    Parameters
    ----------
    session : from `Bench.session`, `open_sealed(…).session` or `sheet.bench_session`, which
        writes the journal
    name : what the lab calls this bench, for the title; else the session's name, else the bench's
    changes : starting settings, named as the controls: state, mode ["volts", "ohms", "amps",
        "lamp", "scope"], red, black [test point numbers], pipe, vent, flow, branch, test, sensor,
        box [the sensor's unit], plugged, part

    Raises
    ------
    InputError : a value that a control does not have
    """

    look = "cb-bench"

    def __init__(self, session, name: str = "", **changes):
        self.session = session
        self._core = getattr(session, "session", session)  # a worksheet's prints and journals
        outfit = self._core.outfit
        name = name or getattr(session, "name", "") or outfit.title
        self.title = f"{name[:1].upper()}{name[1:]}: the whole bench"
        self._numbers = {node: n for n, (node, _) in reversed(outfit.points.items())}
        self._board = bench_points.board(outfit.points, outfit.sheets)
        self._units = {name: one["unit"] for name, one in outfit.sensors.items()}
        self._last: Taken | None = None
        self._actions = offered(outfit)
        start = start_of(outfit) | {"state": self._core.state}
        self._applied = dict(start)
        super().__init__(start, changes)

    def take(self, what: str, **places) -> Taken:
        """Use an instrument or do some work, and return what the session gave.

        Parameters
        ----------
        what : name of the button ("read", "gauges", "take_pipe", …) or its words ("Live data")
        places : settings to change first, as for `set`: pipe="suction line"

        Raises
        ------
        InputError : no such instrument at this bench, or no such place
        """
        name = self._named(what)
        self.set(**places, **{name: self._settings[name] + 1})
        return self._last

    def _named(self, what: str) -> str:
        wanted = what.strip().casefold()
        for name, action in self._actions.items():
            if wanted in (name, action.label.casefold(), action.instrument):
                return name
        raise InputError(f"{self.title} has no {what!r}; there are {', '.join(self._actions)}")

    def controls(self, settings):
        """State, and every instrument with its minutes."""
        return controls_of(self._core.outfit, settings)

    def targets(self):
        """The test points, for mouse and keys on the board."""
        points = self._core.outfit.points
        return {
            "picture": "points", "label": "Test points", "help": _KEYS, "press": "read",
            "points": [[str(n), f"Test point {n}, {points[n][1] or points[n][0]}", *place]
                       for n, place in self._board.points.items()],
        }  # fmt: skip

    def compute(self, settings) -> BenchState:
        """Go to the state that is set, do what was pressed, and look."""
        try:
            if settings["state"] != self._applied["state"]:
                self._core.set_state(settings["state"])
            settings["state"] = self._core.state
            for name in self._actions:
                if settings[name] > self._applied[name]:
                    self._last = self._do(name, settings)
                    self._applied[name] = settings[name]
            seen, hidden = self._look()
        except ConvergenceError as error:
            raise InputError(f"the bench gives no reading here: {error}") from None
        self._applied = dict(settings)
        return self._as_shown(settings, seen, hidden)

    def _do(self, name: str, settings: Mapping) -> Taken:
        """Call the session itself, which notes it: a worksheet's would print it in a cell."""
        if name == "read" and "none" in (settings["red"], settings["black"]):
            raise InputError("place both leads first")
        return ACTIONS[name].call(self._core, settings)

    def _look(self) -> tuple[dict[str, Measured], str]:
        """What is in view; where a sealed bench cannot show it, nothing and why."""
        try:
            return self._core.in_view(), ""
        except Refusal as refusal:
            return {}, str(refusal)

    def _as_shown(self, settings: Mapping, seen: Mapping[str, Measured], hidden: str) -> BenchState:
        session = self._core
        stands = session.standing.as_dict()
        taken = tuple(session.taken)
        now = tuple(t for t in taken if t.standing == stands and not t.refused)
        values = {key: value for t in now for key, value in t.values.items()}
        red, black = (None if settings[k] == "none" else int(settings[k]) for k in ("red", "black"))
        return BenchState(view_of(session.outfit, seen, values), red, black,
                          self._metered(settings["mode"], red, black, now),
                          standing(stands, self._units), session.minutes,
                          taken, now, hidden)  # fmt: skip

    def _metered(self, mode: str, red, black, now) -> str:
        """The last reading with the leads where they are and the meter as it is set."""
        if red is None or black is None:
            return ""
        nodes = {"red": self._core.outfit.node(red), "black": self._core.outfit.node(black)}
        found = [t for t in now if t.instrument == MODES[mode][0] and dict(t.arguments) == nodes]
        return said(found[-1]) if found else ""

    def pictures(self, state: BenchState):
        """Gauges, the head's display, the bench, the test points."""
        v, board = state.view, self._board
        where = f"{self._lead('red', state.red)}; {self._lead('black', state.black)}"
        words = f"Meter: {state.shown or 'no reading taken yet'}. {where}."
        return (
            Picture("gauges", bench_gauges.WIDTH, bench_gauges.HEIGHT, "Gauges",
                    bench_gauges.words(v), bench_gauges.backdrop(v), bench_gauges.foreground(v)),
            Picture("display", bench_display.WIDTH, bench_display.HEIGHT,
                    "Display of the control head", bench_display.words(v.display),
                    bench_display.backdrop(), bench_display.foreground(v.display)),
            Picture("scene", bench_scene.WIDTH, bench_scene.HEIGHT, "Engine bay and air box",
                    bench_scene.words(v), bench_scene.backdrop(v), bench_scene.foreground(v)),
            Picture("points", bench_points.WIDTH, board.height, "Meter and test points", words,
                    bench_points.backdrop(board),
                    bench_points.foreground(board, state.red, state.black, state.shown, where)),
        )  # fmt: skip

    def _lead(self, colour: str, number: int | None) -> str:
        if number is None:
            return f"{colour} lead not placed"
        node, label = self._core.outfit.points[number]
        return f"{colour} on {number}, {label or node}"

    def line(self, state: BenchState) -> str:
        """What was taken last; how the bench stands and what it has cost."""
        last = (first_line(state.taken[-1], self._numbers) if state.taken
                else "– – –  nothing taken yet")
        hidden = f"\nNothing is in view: {state.hidden}." if state.hidden else ""
        return f"{last}\nBench: {state.standing}; {state.minutes:g} min spent.{hidden}"

    def table(self, state: BenchState) -> Table:
        """What was taken, the newest first."""
        entries = getattr(self.session, "numbers", ())  # of the journal, where there is one
        numbers = entries if all(entries) and len(entries) == len(state.taken) else (
            range(1, len(state.taken) + 1))
        rows = tuple(row(n, one, self._numbers, self._units)
                     for n, one in zip(numbers, state.taken, strict=True))
        return Table(f"Taken, the newest first; {state.minutes:g} min in all",
                     ("No.", "With, and where", "Bench", "Reading", "min"),
                     rows[: -MOST_ROWS - 1 : -1])  # fmt: skip

    def lists(self, state: BenchState):
        """Codes, live data and the head's reasons, where they hold with the bench as it stands."""
        return lists_of(state.now)

    def values(self, state: BenchState):
        """Readings that hold now, by name with their unit; state and minutes."""
        found = {"state": self._core.state, "minutes": state.minutes,
                 "meter": state.shown or None}  # fmt: skip
        for one in state.now:
            for key, value in one.values.items():
                found[f"{key} [{value.unit}]" if value.unit else key] = value.value
        return found
