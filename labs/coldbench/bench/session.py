"""One session at a bench: every instrument, each use with its cost and its cautions.

    session = load_bench("blue").session("full cooling", ["K1:coil_open"])
    session.gauges().words
    session.meter("volts", 3, 4).values["volts"].value
    session.set_state("off"); session.replace("K1"); session.set_state("full cooling")
    session.minutes, session.taken

A session asks a source for what it measures, the model or a sealed file, and never knows which.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from coldbench.bench.instruments import (
    air_side, by_sight, electrical_side, head_side, refrigerant_side, work)
from coldbench.bench.outfit import Outfit
from coldbench.bench.reading import Measured
from coldbench.bench.source import Source
from coldbench.bench.standing import Standing
from coldbench.bench.taken import Found, Taken
from coldbench.electrical.instruments import Refusal
from coldbench.errors import InputError

Place = str | int
# instrument → the method of a session that uses it, for those that measure and those that change
# how the bench stands; the meter has a mode for each of its instruments
MEASURES = {
    "look": "look", "gauges": "gauges", "pipe thermometer": "pipe", "sight glass": "sight_glass",
    "recovery": "recover", "leak search": "leak_search", "vent thermometer": "vent",
    "anemometer": "anemometer", "current clamp": "clamp", "test lamp": "lamp",
    "oscilloscope": "scope", "stored codes": "codes", "live data": "live",
    "actuator test": "actuate", "confirm": "confirm"}
WORKS = {"sensor box": "substitute", "unplug": "unplug", "plug": "plug", "replace": "replace"}
METER_MODES = {tool: mode for mode, tool in electrical_side.MODES.items()}


class Session:
    """A learner at a bench.

    source [model or sealed file]; state [to begin with; the bench's first]; note [called with
    every `Taken`]. Every instrument returns a `Taken`; what is unsafe or impossible is refused
    in it. Raises InputError for places, parts and states that the bench does not have.
    """

    def __init__(self, source: Source, state: str | None = None,
                 note: Callable[[Taken], None] | None = None) -> None:
        self._source, self.note = source, note
        self.minutes, self.taken = 0.0, []
        self.standing = Standing(self.outfit.states[0])
        self.set_state(self.outfit.states[0] if state is None else state)

    @property
    def outfit(self) -> Outfit:
        """Names of places, parts and tests [Outfit]."""
        return self._source.outfit

    @property
    def state(self) -> str:
        """Name of the operating state."""
        return self.standing.state

    @property
    def states(self) -> tuple[str, ...]:
        """Names of the operating states."""
        return self.outfit.states

    def again(self, standing: Standing) -> "Session":
        """Return a new session at the same bench, standing as told. Raises: InputError."""
        found = Session(self._source, self.states[0])
        found.stand(standing)
        return found

    def __repr__(self) -> str:
        return f"{self.outfit.title}, {self.standing.words}; {self.minutes:g} min spent"

    def set_state(self, name: str) -> None:
        """Go to an operating state and let it settle. Raises: InputError naming the states."""
        self.standing = replace(self.standing,
                                state=self.outfit.one_of("state", name, self.states))

    def stand(self, standing: Standing) -> None:
        """Put the bench as it stood once. Raises: InputError for what the bench does not have."""
        work.check_standing(self.outfit, standing)
        self.standing = standing

    # --- eyes and ears, refrigerant, air ---------------------------------------------------------
    def look(self) -> Taken:
        """What is seen and heard: display, clutch, fans, blower, doors."""
        return self._take("look", {}, by_sight.look)

    def in_view(self) -> dict[str, Measured]:
        """What `look` would give, for a picture: no minutes, no note. Raises: ConvergenceError."""
        return dict(by_sight.look(self.outfit, self._source.scene(self.standing)).values)

    def gauges(self) -> Taken:
        """Both gauges."""
        return self._take("gauges", {}, refrigerant_side.gauges)

    def pipe(self, place: str) -> Taken:
        """Pipe thermometer at a named place."""
        self.outfit.one_of("pipe", place, self.outfit.pipes)
        return self._take("pipe thermometer", {"place": place}, refrigerant_side.pipe)

    def sight_glass(self) -> Taken:
        """Bubbles in the liquid line, where a sight glass is fitted."""
        return self._take("sight glass", {}, refrigerant_side.sight_glass)

    def recover(self) -> Taken:
        """Recover the refrigerant, weigh it, and charge the same weight again."""
        return self._take("recovery", {}, refrigerant_side.recover)

    def leak_search(self) -> Taken:
        """Search the whole circuit with the leak detector."""
        return self._take("leak search", {}, refrigerant_side.leak_search)

    def vent(self, place: str) -> Taken:
        """Thermometer in the vents of a zone."""
        self.outfit.one_of("vent", place, self.outfit.vents)
        return self._take("vent thermometer", {"place": place}, air_side.vent)

    def anemometer(self, place: str = "vent") -> Taken:
        """Airflow out of the "vent", or through the "condenser"."""
        self.outfit.one_of("airflow", place, self.outfit.flows)
        return self._take("anemometer", {"place": place}, air_side.anemometer)

    # --- wiring ----------------------------------------------------------------------------------
    def meter(self, mode: str, red: Place, black: Place | None = None) -> Taken:
        """Meter on "volts", "ohms" or "amps" between two places; black on ground if left out."""
        if mode not in electrical_side.MODES:
            raise InputError(f"the meter has no mode {mode!r}; its modes are "
                             f"{', '.join(electrical_side.MODES)}")
        return self._take(electrical_side.MODES[mode], self._leads(red, black),
                          electrical_side.meter, mode=mode)

    def clamp(self, branch: str) -> Taken:
        """Current clamp round a part or wire."""
        self.outfit.one_of("part or wire", branch, self.outfit.branches)
        return self._take("current clamp", {"branch": branch}, electrical_side.clamp)

    def lamp(self, red: Place, black: Place | None = None) -> Taken:
        """Test lamp of 5 W between two places; black on ground if left out."""
        return self._take("test lamp", self._leads(red, black), electrical_side.lamp)

    def scope(self, red: Place, black: Place | None = None) -> Taken:
        """Oscilloscope between two places; black on ground if left out."""
        return self._take("oscilloscope", self._leads(red, black), electrical_side.scope)

    def _leads(self, red: Place, black: Place | None) -> dict[str, str]:
        black = self.outfit.ground if black is None else black
        return {"red": self.outfit.node(red), "black": self.outfit.node(black)}

    # --- control head ----------------------------------------------------------------------------
    def codes(self) -> Taken:
        """Stored codes with their status."""
        return self._take("stored codes", {}, head_side.codes)

    def live(self) -> Taken:
        """Live data: what the head believes, and what it asks for."""
        return self._take("live data", {}, head_side.live)

    def actuate(self, what: str) -> Taken:
        """Let the head drive something for the service tool, and see what happens."""
        self.outfit.one_of("actuator test", what, self.outfit.tests)
        return self._take("actuator test", {"what": what}, head_side.actuate)

    # --- work on the bench -----------------------------------------------------------------------
    def substitute(self, name: str, value: float | None) -> Taken:
        """Put a sensor box at a value [the sensor's unit] in a sensor's place; None: the sensor."""
        name = work.sensor_named(self.outfit, name)
        value = work.box_value(self.outfit, name, value)
        return self._work("sensor box", {"input": name, "value": value},
                          work.boxed(self.standing, name, value))

    def unplug(self, part: str) -> Taken:
        """Take a part off its wires, or a wire off both ends; with the ignition off."""
        self.outfit.one_of("part or wire to unplug", part, self.outfit.pluggable)
        return self._work("unplug", {"part": part}, work.unplugged(self.standing, part))

    def plug(self, part: str) -> Taken:
        """Put back what was unplugged."""
        self.outfit.one_of("part or wire to plug", part, self.outfit.pluggable)
        return self._work("plug", {"part": part}, work.plugged(self.standing, part))

    def replace(self, part: str) -> Taken:
        """Put a part right; its faults are gone then. With drive and ignition off."""
        part = work.part_named(self.outfit, part)
        return self._work("replace", {"part": part}, work.replaced(self.standing, part),
                          self.outfit.parts[part])

    def confirm(self) -> Taken:
        """Run every operating state and count those that differ from a sound bench's record."""
        return self._note_down("confirm", {}, self._confirmed)

    def _confirmed(self) -> Found:
        return work.confirmed(self.standing,
                              self._source.off_after_repair(self.standing.replaced))

    def _work(self, instrument: str, arguments: dict, after: Standing,
              minutes: float | None = None) -> Taken:
        """An action that changes how the bench stands, unless it is refused."""
        def act() -> Found:
            work.refuse_live(self._source.ignition(self.state), instrument)
            self._source.scene(after)  # refuses what it cannot show
            return Found({}, work.done(self.outfit, instrument, arguments))

        taken = self._note_down(instrument, arguments, act, minutes)
        if not taken.refused:
            self.standing = after
        return taken

    # --- every use of an instrument --------------------------------------------------------------
    def _take(self, instrument: str, arguments: Mapping[str, Any], ask: Callable[..., Found],
              **more: Any) -> Taken:
        """Put an instrument to the bench as it stands."""
        return self._note_down(instrument, arguments, lambda: ask(
            self.outfit, self._source.scene(self.standing), **more, **arguments))

    def _note_down(self, instrument: str, arguments: Mapping[str, Any],
                   act: Callable[[], Found], minutes: float | None = None) -> Taken:
        """Do something, count its minutes, and tell the one who notes."""
        usual = self.outfit.minutes.get(instrument, 0.0) if minutes is None else minutes
        standing = self.standing.as_dict()
        where = " ".join([instrument, *map(str, arguments.values())])
        try:
            if instrument in self.outfit.leave_out:
                raise Refusal(f"the workshop has no {instrument}")
            found = act()
            taken = Taken(instrument, dict(arguments), dict(found.values),
                          f"{where}, {self.standing.words}: {found.said}", usual,
                          standing=standing, said=found.said, reasons=found.reasons)
        except Refusal as refusal:
            caution = str(refusal)
            taken = Taken(instrument, dict(arguments), {},
                          f"{where}, {self.standing.words}: refused. {caution}", 0.0, caution,
                          standing)
        self.minutes += taken.minutes
        self.taken.append(taken)
        if self.note is not None:
            self.note(taken)
        return taken
