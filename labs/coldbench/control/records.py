"""What goes into the head, what it remembers, and what comes out: frozen records (SI).

Signal    one sensor or feedback: value and share of the reference, as the head's input sees it
Wishes    what the driver has set
Inputs    all of that at one moment
State     what the head remembers from step to step
Outputs   what it asks for
Step      new state, outputs, and a reason for each
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from coldbench.errors import InputError
from coldbench.sensing.codes import CodeState
from coldbench.sensing.windows import WindowState


@dataclass(frozen=True)
class Signal:
    """One sensor's signal.

    Parameters
    ----------
    value : float or None
        What the volts mean by the sensor's curve [SI]; None if they mean nothing.
    ratio : float
        Input voltage as a share of the reference, 0 to 1. The head judges this one.

    Examples
    --------
    >>> Signal(295.15), Signal.opened(), Signal.shorted().ratio
    (Signal(value=295.15, ratio=0.5), Signal(value=None, ratio=1.0), 0.0)
    """

    value: float | None
    ratio: float = 0.5

    @classmethod
    def opened(cls) -> "Signal":
        """A signal pulled up to the reference: open, or short to supply."""
        return cls(None, 1.0)

    @classmethod
    def shorted(cls) -> "Signal":
        """A signal at ground."""
        return cls(None, 0.0)

    @classmethod
    def at(cls, ratio: float) -> "Signal":
        """A door feedback: its value is its share of the reference."""
        return cls(ratio, ratio)


@dataclass(frozen=True)
class Wishes:
    """What the driver has set. None means automatic.

    Parameters
    ----------
    set_points_K : tuple of float
        One for each zone [K].
    on : bool
        False: the head is switched off.
    ac : bool
        Air-conditioning button.
    blower : float or None
        Manual blower, share 0 to 1.
    distribution : str or None
        Manual distribution: face, bi-level, foot, foot-screen or screen.
    recirculation : bool or None
        Manual recirculation.
    defrost : bool
        Clear the windscreen: overrides distribution, recirculation and A/C.
    calibrate_doors : bool
        Service request: the doors look for their end stops when it becomes True.
    """

    set_points_K: tuple[float, ...]
    on: bool = True
    ac: bool = True
    blower: float | None = None
    distribution: str | None = None
    recirculation: bool | None = None
    defrost: bool = False
    calibrate_doors: bool = False


@dataclass(frozen=True)
class Inputs:
    """Everything the head knows at one moment.

    Parameters
    ----------
    wishes : Wishes
        Driver.
    sensors : mapping of str to Signal
        By `Calibration.sensor_names`; a sensor that is not fitted may be left out.
    doors : mapping of str to Signal
        Feedback by `Calibration.door_names`.
    supply_V : float
        Supply voltage [V].
    speed_rpm : float
        Speed of the engine or motor that drives the compressor [rpm].
    service : mapping of str to bool, str or float
        Actuator test by the service tool, by topic: "compressor" True or False, "fans" a level,
        "blower" a share, "door NAME" a position. The compressor's limits still hold.
    """

    wishes: Wishes
    sensors: Mapping[str, Signal]
    doors: Mapping[str, Signal]
    supply_V: float = 13.8
    speed_rpm: float = 900.0
    service: Mapping[str, bool | str | float] = field(default_factory=dict)


@dataclass(frozen=True)
class SensorMemory:
    """What the head remembers of one sensor: its window and its last good value (SI)."""

    window: WindowState = WindowState()
    last_good: float | None = None


@dataclass(frozen=True)
class DoorState:
    """What the head remembers of one door.

    Parameters
    ----------
    closed_ratio, open_ratio : float
        Learned feedback at the end stops, share of the reference.
    drive : int
        Motor now: -1 towards position 0, 0 stopped, 1 towards position 1.
    mark_ratio : float or None
        Feedback when it last moved enough to count.
    still_s : float
        Driven without movement since then [s].
    stalled_at : float or None
        Target at which the door stalled; None if it has not.
    searching : str
        Search for the end stops: "" none, "closed" or "open": looking for that one.
    found_closed : float or None
        Feedback at the closed stop, found in a running search.
    travel_bad : bool
        The last search found end stops that cannot be.
    blind_s : float
        Driven without feedback so far [s].
    feedback : WindowState
        Window of the feedback.
    """

    closed_ratio: float
    open_ratio: float
    drive: int = 0
    mark_ratio: float | None = None
    still_s: float = 0.0
    stalled_at: float | None = None
    searching: str = ""
    found_closed: float | None = None
    travel_bad: bool = False
    blind_s: float = 0.0
    feedback: WindowState = WindowState()


@dataclass(frozen=True)
class Demand:
    """Heat balance of one zone, term by term [W], and the discharge temperature it requires [K].

    `wanted_K` is the balance's own result, `required_K` the same within what the head may ask
    for. `end_stop` is "full cold", "full hot" or "".
    """

    zone: str
    skin_W: float
    sun_W: float
    people_W: float
    neighbour_W: float
    recovery_W: float
    airflow_W_per_K: float
    wanted_K: float
    required_K: float
    end_stop: str = ""

    @property
    def load_W(self) -> float:
        """Heat that the discharge air must carry away [W]."""
        return (self.skin_W + self.sun_W + self.people_W + self.neighbour_W + self.recovery_W)


@dataclass(frozen=True)
class Link:
    """One link of the compressor chain: does it let the request through, and why."""

    name: str
    passes: bool
    words: str


@dataclass(frozen=True)
class DoorCommand:
    """What the head does with one door.

    Parameters
    ----------
    name : str
        Door.
    target : float
        Position wanted, 0 to 1.
    position : float or None
        Position by the feedback; None if it is not believed.
    drive : int
        Motor: -1, 0 or 1.
    stop_ratio : float or None
        Feedback at which the motor is switched off, share of the reference: the head watches it
        far more often than it decides. None while it drives blindly or to an end stop.
    """

    name: str
    target: float
    position: float | None
    drive: int
    stop_ratio: float | None = None


@dataclass(frozen=True)
class Outputs:
    """What the head asks for.

    Parameters
    ----------
    compressor : bool
        Compressor request.
    fan : str
        Condenser fan request: off, low or high.
    blower : float
        Blower duty, share 0 to 1.
    distribution : str
        Where the air goes.
    recirculation : bool
        True: fresh-air door closed.
    demands : tuple of Demand
        One for each zone.
    doors : tuple of DoorCommand
        In the order of `Calibration.door_names`.
    chain : tuple of Link
        Compressor chain in order; the first that does not pass is why it is off.
    failed_sensors : tuple of str
        Sensors and door feedbacks that are judged failed.
    codes : tuple of (str, int)
        Number and status byte of every code that has ever failed since clearing.
    """

    compressor: bool
    fan: str
    blower: float
    distribution: str
    recirculation: bool
    demands: tuple[Demand, ...]
    doors: tuple[DoorCommand, ...]
    chain: tuple[Link, ...]
    failed_sensors: tuple[str, ...]
    codes: tuple[tuple[str, int], ...]

    def door(self, name: str) -> DoorCommand:
        """Command of a door [DoorCommand]; InputError if there is no such door."""
        for command in self.doors:
            if command.name == name:
                return command
        raise InputError(f"no door {name!r}; accepted: "
                         f"{', '.join(command.name for command in self.doors)}")

    @property
    def blocked_by(self) -> Link | None:
        """First link of the chain that does not let the request through, or None."""
        return next((link for link in self.chain if not link.passes), None)

    def by_topic(self) -> dict[str, object]:
        """What each topic of a reason decides [dict]; each key has exactly one reason."""
        topics: dict[str, object] = {f"required {d.zone}": d.required_K for d in self.demands}
        topics |= {"compressor": (self.compressor, getattr(self.blocked_by, "name", "")),
                   "fans": self.fan, "blower": self.blower, "distribution": self.distribution,
                   "recirculation": self.recirculation, "sensors": self.failed_sensors,
                   "codes": self.codes}
        return topics | {f"door {d.name}": (d.target, d.drive) for d in self.doors}


@dataclass(frozen=True)
class Reason:
    """Why the head decided so.

    Parameters
    ----------
    topic : str
        What was decided, a key of `Outputs.by_topic`.
    words : str
        The decision and its reason, in words and numbers.
    changed : bool
        True if the decision differs from that of the step before.
    """

    topic: str
    words: str
    changed: bool = False


@dataclass(frozen=True)
class State:
    """What the head remembers.

    `initial_state` makes the first one. `latched` holds the names of the two-threshold decisions
    that are on; a lock-out that has never been crossed lets through.
    """

    sensors: Mapping[str, SensorMemory]
    doors: Mapping[str, DoorState]
    codes: Mapping[str, CodeState]
    latched: frozenset[str]
    blower: float = 0.0
    compressor: bool = False
    compressor_off_s: float = 0.0
    calibrating: bool = False
    outputs: Outputs | None = None


@dataclass(frozen=True)
class Step:
    """Result of one step: the state to give to the next one, what the head asks for, and why."""

    state: State
    outputs: Outputs
    reasons: tuple[Reason, ...] = field(default=())

    @property
    def changes(self) -> tuple[Reason, ...]:
        """Reasons of the decisions that changed in this step."""
        return tuple(reason for reason in self.reasons if reason.changed)

    def why(self, topic: str) -> str:
        """Reason for one topic in words [str]; InputError for an unknown topic."""
        for reason in self.reasons:
            if reason.topic == topic:
                return reason.words
        raise InputError(f"no topic {topic!r}; accepted: "
                         f"{', '.join(reason.topic for reason in self.reasons)}")
