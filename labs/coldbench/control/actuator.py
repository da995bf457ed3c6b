"""The door actuator itself, as it moves on the bench: what the head's motor output does to it."""

from dataclasses import dataclass, replace

from coldbench.control.calibration import Door


@dataclass(frozen=True)
class Actuator:
    """A geared motor, its door and its feedback potentiometer.

    Parameters
    ----------
    position : float
        Door, 0 to 1 between its sound end stops.
    travel_s : float
        Time from stop to stop [s].
    closed_ratio, open_ratio : float
        Feedback at position 0 and 1, share of the reference.
    lowest, highest : float
        Where the door stops now: something may lie in its way.
    jammed : bool
        The gear is stuck: nothing moves.
    """

    position: float
    travel_s: float
    closed_ratio: float
    open_ratio: float
    lowest: float = 0.0
    highest: float = 1.0
    jammed: bool = False

    @property
    def ratio(self) -> float:
        """Feedback, share of the reference."""
        return self.closed_ratio + self.position * (self.open_ratio - self.closed_ratio)


def sound_actuator(door: Door, position: float = 0.0) -> Actuator:
    """Return an actuator as its head expects it.

    Parameters
    ----------
    door : Door
        Calibration of its kind.
    position : float
        Where it stands.

    Returns
    -------
    Actuator
    """
    return Actuator(position, door.travel_s, door.closed_ratio, door.open_ratio)


def move(actuator: Actuator, drive: int, dt_s: float,
         stop_ratio: float | None = None) -> Actuator:
    """Return the actuator after its motor was driven for a time.

    Parameters
    ----------
    actuator : Actuator
        Before.
    drive : int
        -1 towards closed, 0 off, 1 towards open.
    dt_s : float
        Time [s]; position changes by drive·dt/travel and ends at a stop.
    stop_ratio : float, optional
        Feedback at which the head switches the motor off (`DoorCommand.stop_ratio`).

    Returns
    -------
    Actuator

    Examples
    --------
    >>> door = Actuator(0.2, 6.0, 0.1, 0.9)
    >>> move(door, 1, 1.5).position, round(move(door, 1, 1.5, stop_ratio=0.3).position, 12)
    (0.45, 0.25)
    >>> move(Actuator(0.2, 6.0, 0.1, 0.9, jammed=True), 1, 1.5).position
    0.2
    """
    if actuator.jammed or drive == 0:
        return actuator
    wanted = actuator.position + drive * dt_s / actuator.travel_s
    if stop_ratio is not None:
        wanted = _stopped(actuator, drive, wanted, stop_ratio)
    return replace(actuator, position=min(max(wanted, actuator.lowest), actuator.highest))


def _stopped(actuator: Actuator, drive: int, wanted: float, stop_ratio: float) -> float:
    """Stop on the way if the feedback passes the ratio at which the motor is switched off."""
    stop = (stop_ratio - actuator.closed_ratio) / (actuator.open_ratio - actuator.closed_ratio)
    passes = min(actuator.position, wanted) <= stop <= max(actuator.position, wanted)
    return stop if passes else wanted
