"""What can be done at a bench, as controls: each button is one call of the session.

An action whose instrument the workshop does not have is not offered.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from coldbench.bench.taken import with_sign
from coldbench.panels.controls import Button, Choice, Control, Slider

NOWHERE = ("none", "not placed")
MODES = {"volts": ("voltmeter", "Volts"), "ohms": ("ohmmeter", "Ohms"),
         "amps": ("ammeter", "Amps, in line"), "lamp": ("test lamp", "Test lamp"),
         "scope": ("oscilloscope", "Oscilloscope")}  # fmt: skip
METER, AIR, HEAD, COLD, BOX, WORK = (
    "Meter and leads", "Gauges, thermometers, clamp", "Service tool at the control head",
    "Refrigerant", "Sensor box", "Work on the bench")  # fmt: skip


@dataclass(frozen=True)
class Action:
    """A button.

    instrument : its name among the session's minutes; label : on the button
    call : what it does with a session and the settings; group : words over it
    place : setting with the place it is used at, and the words and options of its menu
    """

    instrument: str
    label: str
    call: Callable
    group: str
    place: tuple[str, str, Callable] | None = None


ACTIONS: Mapping[str, Action] = {
    "look": Action("look", "Note what is seen and heard", lambda s, c: s.look(), ""),
    "read": Action("voltmeter", "Take the reading", lambda s, c: _metered(s, c), METER),
    "gauges": Action("gauges", "Read both gauges", lambda s, c: s.gauges(), AIR),
    "take_pipe": Action("pipe thermometer", "Pipe thermometer", lambda s, c: s.pipe(c["pipe"]),
                        AIR, ("pipe", "Pipe", lambda o: o.pipes)),
    "take_vent": Action("vent thermometer", "Vent thermometer", lambda s, c: s.vent(c["vent"]),
                        AIR, ("vent", "Vent", lambda o: o.vents)),
    "take_flow": Action("anemometer", "Anemometer", lambda s, c: s.anemometer(c["flow"]),
                        AIR, ("flow", "Airflow", lambda o: o.flows)),
    "clamp": Action("current clamp", "Current clamp", lambda s, c: s.clamp(c["branch"]),
                    AIR, ("branch", "Clamp round", lambda o: o.branches)),
    "codes": Action("stored codes", "Stored codes", lambda s, c: s.codes(), HEAD),
    "live": Action("live data", "Live data", lambda s, c: s.live(), HEAD),
    "actuate": Action("actuator test", "Actuator test", lambda s, c: s.actuate(c["test"]),
                      HEAD, ("test", "Drive", lambda o: tuple(o.tests))),
    "sight_glass": Action("sight glass", "Sight glass", lambda s, c: s.sight_glass(), COLD),
    "leak_search": Action("leak search", "Leak search", lambda s, c: s.leak_search(), COLD),
    "recover": Action("recovery", "Recover and weigh", lambda s, c: s.recover(), COLD),
    "put_box": Action("sensor box", "Put the box in",
                      lambda s, c: s.substitute(c["sensor"], round(c["box"], 6)),
                      BOX, ("sensor", "In place of", lambda o: tuple(o.sensors))),
    "take_box": Action("sensor box", "Take the box out",
                       lambda s, c: s.substitute(c["sensor"], None), BOX),
    "unplug": Action("unplug", "Unplug", lambda s, c: s.unplug(c["plugged"]),
                     WORK, ("plugged", "Part or wire", lambda o: o.pluggable)),
    "plug": Action("plug", "Plug in", lambda s, c: s.plug(c["plugged"]), WORK),
    "replace": Action("replace", "Replace or put right", lambda s, c: s.replace(c["part"]),
                      WORK, ("part", "Part", lambda o: tuple(o.parts))),
    "confirm": Action("confirm", "Run all states", lambda s, c: s.confirm(), WORK),
}  # fmt: skip


def _metered(session, settings):
    """Meter, lamp or scope between the leads."""
    mode, red, black = settings["mode"], int(settings["red"]), int(settings["black"])
    if mode in ("lamp", "scope"):
        return getattr(session, mode)(red, black)
    return session.meter(mode, red, black)


def offered(outfit) -> dict[str, Action]:
    """The actions of a bench: without what its workshop does not have."""
    missing = {*outfit.leave_out, *(() if outfit.sight_glass else ("sight glass",))}
    found = {name: action for name, action in ACTIONS.items()
             if action.instrument not in missing
             and (action.place is None or action.place[2](outfit))}  # fmt: skip
    if not outfit.sensors:
        found.pop("take_box", None)
    return found


def minutes(outfit, name: str, settings: Mapping) -> float:
    """What an action costs with these settings [minutes]."""
    if name == "replace":
        return outfit.parts[settings["part"]]
    instrument = MODES[settings["mode"]][0] if name == "read" else ACTIONS[name].instrument
    return outfit.minutes.get(instrument, 0.0)


def start_of(outfit) -> dict:
    """Settings to begin with: the first place everywhere, black lead on ground."""
    black = next((str(n) for n, point in outfit.points.items() if point[0] == outfit.ground), "none")
    found = {"mode": "volts", "red": "none", "black": black, "box": 0.0}
    for name, action in offered(outfit).items():
        found[name] = 0
        if action.place:
            found[action.place[0]] = str(action.place[2](outfit)[0])
    return found


def controls_of(outfit, settings: Mapping) -> tuple[Control, ...]:
    """State, then every group of instruments with its menus and buttons."""
    states = tuple((name, name) for name in outfit.states)
    found: list[Control] = [Choice("state", "Operating state", states, menu=True)]
    found += _noting(outfit)
    found += _leads(outfit)
    for name, action in offered(outfit).items():
        if not action.group:
            continue
        if action.place:
            found.append(_place(outfit, action))
        if name == "put_box":
            found.append(_dial(outfit, settings["sensor"]))
        label = f"{action.label}, {minutes(outfit, name, settings):g} min"
        found.append(Button(name, label, group=action.group))
    return tuple(found)


def _noting(outfit) -> tuple[Control, ...]:
    """Buttons beside the state, outside every group."""
    return tuple(Button(name, f"{one.label}, {outfit.minutes.get(one.instrument, 0.0):g} min")
                 for name, one in offered(outfit).items() if not one.group)


def _leads(outfit) -> tuple[Control, ...]:
    points = (NOWHERE, *((str(n), f"{n}  {label or node}")
                         for n, (node, label) in sorted(outfit.points.items())))  # fmt: skip
    modes = tuple((mode, label) for mode, (instrument, label) in MODES.items()
                  if instrument not in outfit.leave_out)  # fmt: skip
    return (Choice("mode", "Meter", modes, group=METER),
            Choice("red", "Red lead on", points, menu=True, group=METER),
            Choice("black", "Black lead on", points, menu=True, group=METER))  # fmt: skip


def _place(outfit, action: Action) -> Choice:
    name, label, places = action.place
    words = _units(outfit) if name == "sensor" else {}
    options = tuple((str(place), words.get(place) or outfit.called(str(place)))
                    for place in places(outfit))
    return Choice(name, label, options, menu=True, group=action.group)


def _units(outfit) -> dict[str, str]:
    return {name: f"{name}, {unit_words(one['unit'])}" for name, one in outfit.sensors.items()}


def _dial(outfit, sensor: str) -> Slider:
    """The sensor box's own dial, in the unit and range of the sensor."""
    one = outfit.sensors[sensor]
    step = 1 if one["unit"] == "degC" else 10
    return Slider("box", "Set to", one["low"], one["high"], step, unit_words(one["unit"]),
                  group=BOX)  # fmt: skip


def unit_words(unit: str) -> str:
    """A unit as it is printed.

    >>> unit_words("degC"), unit_words("W/m2"), unit_words("kPa")
    ('°C', 'W/m²', 'kPa')
    """
    return with_sign(unit).strip()
