"""Driving a door to its target by its feedback: start and stop, stall, search for the end stops.

    position = (ratio − closed_ratio) / (open_ratio − closed_ratio)

The motor starts when the position is more than `start_error` off and stops within `stop_error`,
so a door at rest stays at rest. Driven without movement for `stall_s`, the door has stalled: the
motor is switched off until the target moves. A search drives to either end until the door stops
moving and learns the feedback there; end stops that cannot be are not learned. Without feedback
the door holds, or is driven blindly to the end that is safe for long enough to arrive. Common
practice.
"""

from collections.abc import Mapping
from dataclasses import replace

from coldbench.control.calibration import Calibration, Door
from coldbench.control.door_targets import Target
from coldbench.control.records import DoorCommand, DoorState, Signal
from coldbench.control.sensors import checked_signal, judge_window
from coldbench.control.words import PERCENT, SECOND, compare

_BLIND_TRAVELS = 1.5  # blind drive lasts so many times the travel time
_DIRECTIONS = {-1: "towards closed", 0: "stopped", 1: "towards open"}


def drive_doors(states: Mapping[str, DoorState], targets: Mapping[str, Target],
                signals: Mapping[str, Signal], search: bool, calibration: Calibration,
                dt_s: float) -> tuple[dict[str, DoorState], tuple[DoorCommand, ...], dict]:
    """Drive all doors for one step.

    Parameters
    ----------
    states : mapping of str to DoorState
        From the step before.
    targets : mapping of str to (float, str)
        From `door_targets`.
    signals : mapping of str to Signal
        Feedback.
    search : bool
        Begin a search for the end stops now.
    calibration : Calibration
        Actuators.
    dt_s : float
        Time since the step before [s].

    Returns
    -------
    tuple
        New states by name, commands in order, words by name.
    """
    kept, commands, words = {}, [], {}
    for name in calibration.door_names:
        target, why = targets[name]
        ratio = checked_signal(signals, name, "door").ratio
        kept[name], note = drive_door(states[name], target, ratio, search,
                                      calibration.door(name), dt_s)
        seen = None if lost(kept[name]) else position(kept[name], ratio)
        commands.append(DoorCommand(name, target, seen, kept[name].drive,
                                    _stop_ratio(kept[name], target)))
        words[name] = f"{name} door to {PERCENT(target)}: {why}; {note}"
    return kept, tuple(commands), words


def _stop_ratio(state: DoorState, target: float) -> float | None:
    if lost(state) or state.searching:
        return None
    return state.closed_ratio + target * (state.open_ratio - state.closed_ratio)


def position(state: DoorState, ratio: float) -> float:
    """Return the position that the feedback means, by the learned end stops.

    Parameters
    ----------
    state : DoorState
        Learned end stops.
    ratio : float
        Feedback, share of the reference.

    Returns
    -------
    float
        0 at the closed stop, 1 at the open one; not limited.

    Examples
    --------
    >>> round(position(DoorState(closed_ratio=0.1, open_ratio=0.9), 0.3), 12)
    0.25
    """
    return (ratio - state.closed_ratio) / (state.open_ratio - state.closed_ratio)


def failed(state: DoorState) -> bool:
    """Return True if the feedback is judged failed.

    Parameters
    ----------
    state : DoorState
        After `drive_door`.

    Returns
    -------
    bool
    """
    return state.feedback.verdict in ("below", "above")


def lost(state: DoorState) -> bool:
    """Return True if the feedback is not believed: failed, or outside its window.

    Parameters
    ----------
    state : DoorState
        After `drive_door`.

    Returns
    -------
    bool
    """
    return failed(state) or state.feedback.place != "inside"


def drive_door(state: DoorState, target: float, ratio: float, search: bool, door: Door,
               dt_s: float) -> tuple[DoorState, str]:
    """Drive one door for one step.

    Parameters
    ----------
    state : DoorState
        From the step before.
    target : float
        Position wanted, 0 to 1.
    ratio : float
        Feedback, share of the reference.
    search : bool
        Begin a search for the end stops.
    door : Door
        Actuator.
    dt_s : float
        Time since the step before [s].

    Returns
    -------
    tuple of DoorState and str

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> door = load_calibration("blue_head").doors["blend"]
    >>> state, words = drive_door(DoorState(0.1, 0.9), 0.5, 0.3, False, door, 0.1)
    >>> state.drive, words
    (1, 'at 25 %, driven towards open')
    """
    state = _with(state, feedback=judge_window(door.window, state.feedback, ratio, dt_s))
    if lost(state):
        return _without_feedback(state, door, dt_s)
    state = _note_movement(_with(state, blind_s=0.0), ratio, door, dt_s)
    if search:
        state = _start(replace(state, searching="closed", stalled_at=None), -1, ratio)
    if state.searching:
        return _search(state, ratio, door)
    return _follow(state, target, ratio, door)


def _with(state: DoorState, **entries) -> DoorState:
    """The state with these entries; itself where it has them, as most doors do at most steps."""
    if all(getattr(state, name) == value for name, value in entries.items()):
        return state
    return replace(state, **entries)


def _start(state: DoorState, drive: int, ratio: float) -> DoorState:
    """Set the motor; a new direction begins a new watch for movement."""
    if drive == state.drive:
        return state
    return replace(state, drive=drive, mark_ratio=ratio, still_s=0.0)


def _note_movement(state: DoorState, ratio: float, door: Door, dt_s: float) -> DoorState:
    mark = state.mark_ratio
    if mark is None or abs(ratio - mark) >= door.stall_movement:
        return replace(state, mark_ratio=ratio, still_s=0.0)
    return _with(state, still_s=state.still_s + dt_s if state.drive else 0.0)


def _stands_still(state: DoorState, door: Door) -> bool:
    return state.drive != 0 and state.still_s >= door.stall_s * (1.0 - 1e-9)


def _follow(state: DoorState, target: float, ratio: float, door: Door) -> tuple[DoorState, str]:
    now = position(state, ratio)
    if state.stalled_at is not None:
        if abs(target - state.stalled_at) <= door.start_error:
            return (_start(state, 0, ratio),
                    f"stalled at {PERCENT(now)}: waits until the target moves by more than "
                    f"{PERCENT(door.start_error)}")
        state = replace(state, stalled_at=None)
    error = target - now
    if abs(error) > door.stop_error and _stands_still(state, door):
        why = compare(max(state.still_s, door.stall_s), "≥", door.stall_s, SECOND)
        return (_start(replace(state, stalled_at=target), 0, ratio),
                f"stalled at {PERCENT(now)}: driven without movement for {why}")
    direction = 1 if error > 0.0 else -1
    goes_on = state.drive == direction and abs(error) > door.stop_error
    if abs(error) > door.start_error or goes_on:
        return (_start(state, direction, ratio),
                f"at {PERCENT(now)}, driven {_DIRECTIONS[direction]}")
    return _start(state, 0, ratio), f"at {PERCENT(now)}, stopped"


def _search(state: DoorState, ratio: float, door: Door) -> tuple[DoorState, str]:
    direction = -1 if state.searching == "closed" else 1
    if not _stands_still(state, door):
        return (_start(state, direction, ratio),
                f"looks for its {state.searching} end stop, feedback {PERCENT(ratio)}")
    if state.searching == "closed":
        found = replace(state, searching="open", found_closed=ratio)
        return (_start(found, 1, ratio),
                f"closed end stop found at {PERCENT(ratio)}, looks for the open one")
    return _learn(_start(replace(state, searching=""), 0, ratio), ratio, door)


def _learn(state: DoorState, open_ratio: float, door: Door) -> tuple[DoorState, str]:
    travel = open_ratio - state.found_closed
    expected = door.open_ratio - door.closed_ratio
    if abs(travel) < door.least_travel or (travel > 0.0) is not (expected > 0.0):
        needed = compare(abs(travel), "<", door.least_travel, PERCENT)
        why = needed if abs(travel) < door.least_travel else "it moved the wrong way"
        return (replace(state, travel_bad=True),
                f"end stops {PERCENT(state.found_closed)} and {PERCENT(open_ratio)} not learned: "
                f"{why}")
    return (replace(state, travel_bad=False, closed_ratio=state.found_closed,
                    open_ratio=open_ratio),
            f"end stops learned: {PERCENT(state.found_closed)} and {PERCENT(open_ratio)}")


def _without_feedback(state: DoorState, door: Door, dt_s: float) -> tuple[DoorState, str]:
    """Drive blindly to the safe end once the verdict is in; hold until then."""
    state = replace(state, searching="", stalled_at=None, still_s=0.0, mark_ratio=None)
    if not failed(state):
        return replace(state, drive=0), "feedback doubtful, held"
    if door.without_feedback == "hold":
        return replace(state, drive=0), "feedback failed, held"
    blind_s = state.blind_s + (dt_s if state.drive else 0.0)
    end_s = _BLIND_TRAVELS * door.travel_s
    if blind_s >= end_s:
        return (replace(state, drive=0, blind_s=blind_s),
                f"feedback failed, driven to {door.without_feedback} for "
                f"{compare(blind_s, '≥', end_s, SECOND)}, stopped")
    drive = 1 if door.without_feedback == "open" else -1
    return (replace(state, drive=drive, blind_s=blind_s),
            f"feedback failed, driven blindly to {door.without_feedback}")
