"""A head and its doors, left alone with constant sensors until nothing changes any more."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from coldbench.control.actuator import Actuator, move, sound_actuator
from coldbench.control.calibration import Calibration
from coldbench.control.head import step
from coldbench.control.records import Inputs, Signal, State, Step
from coldbench.errors import ConvergenceError


@dataclass(frozen=True)
class Settled:
    """Result of `settle`: the last step, where the doors stand, and how long it took [s]."""

    step: Step
    actuators: Mapping[str, Actuator]
    time_s: float


def sound_actuators(calibration: Calibration) -> dict[str, Actuator]:
    """Return sound actuators, all closed, by door name.

    Parameters
    ----------
    calibration : Calibration
        Of the head.

    Returns
    -------
    dict of str to Actuator
    """
    return {name: sound_actuator(calibration.door(name)) for name in calibration.door_names}


def advance(state: State, inputs: Inputs, calibration: Calibration,
            actuators: Mapping[str, Actuator], dt_s: float) -> tuple[Step, dict[str, Actuator]]:
    """Advance head and doors by one step; the doors' own feedback replaces that in `inputs`.

    Parameters
    ----------
    state : State
        Before.
    inputs : Inputs
        Signals; a door that is named in `inputs.doors` keeps the signal given there, so that a
        broken feedback can be put in.
    calibration : Calibration
        Of the head.
    actuators : mapping of str to Actuator
        By door name.
    dt_s : float
        Time [s].

    Returns
    -------
    tuple of Step and dict of str to Actuator
    """
    feedback = {name: Signal.at(actuator.ratio) for name, actuator in actuators.items()}
    done = step(state, replace(inputs, doors=feedback | dict(inputs.doors)), calibration, dt_s)
    return done, {command.name: move(actuators[command.name], command.drive, dt_s,
                                     command.stop_ratio) for command in done.outputs.doors}


def settle(state: State, inputs: Inputs, calibration: Calibration,
           actuators: Mapping[str, Actuator] | None = None, dt_s: float = 1.0,
           longest_s: float = 300.0) -> Settled:
    """Step head and doors with constant sensors until outputs and doors stay as they are.

    Parameters
    ----------
    state : State
        Start.
    inputs : Inputs
        Signals, held constant; `doors` may be empty.
    calibration : Calibration
        Of the head.
    actuators : mapping of str to Actuator, optional
        Start; sound and closed by default.
    dt_s : float
        Step [s].
    longest_s : float
        Time after which to give up [s].

    Returns
    -------
    Settled

    Raises
    ------
    ConvergenceError
        Outputs still change after `longest_s`.
    """
    actuators = actuators or sound_actuators(calibration)
    patience_s = _patience(calibration)
    before: tuple[dict, dict] | None = None
    quiet_s = 0.0
    for count in range(1, int(longest_s / dt_s) + 2):
        done, actuators = advance(state, inputs, calibration, actuators, dt_s)
        state, now = done.state, (done.outputs.by_topic(), actuators)
        quiet_s = quiet_s + dt_s if now == before else 0.0
        if quiet_s >= patience_s:
            return Settled(done, actuators, count * dt_s)
        before = now
    raise ConvergenceError(f"the head still changes its outputs after {longest_s:g} s of "
                           "constant inputs")


def _patience(calibration: Calibration) -> float:
    """Longest time in which the head may wait in silence: pauses, windows, watches."""
    windows = [s.window for s in calibration.sensors.values()]
    windows += [d.window for d in calibration.doors.values()]
    travels = [2.0 * d.travel_s for d in calibration.doors.values()]
    return max(calibration.compressor.minimum_off_s, *travels,
               *(d.stall_s for d in calibration.doors.values()),
               *(w.fail_s for w in windows), *(w.heal_s for w in windows))
