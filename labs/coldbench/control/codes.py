"""Codes that the head stores, from the verdicts of its windows and door watches.

The status byte is `coldbench.sensing.codes`'s. A test that has no verdict yet says nothing.
"""

from collections.abc import Mapping
from dataclasses import replace

from coldbench.control.calibration import Calibration, Code
from coldbench.control.records import DoorState, SensorMemory, State
from coldbench.sensing.codes import CodeState, Status, status_meaning, step_code

# Bits that a finished test sets: the same result again in the same cycle changes nothing.
_TOLD = int(Status.testFailed | Status.testNotCompletedThisOperationCycle)
_TELLS = {"passed": 0, "failed": int(Status.testFailed)}


def step_codes(codes: Mapping[str, CodeState], sensors: Mapping[str, SensorMemory],
               doors: Mapping[str, DoorState], calibration: Calibration) -> dict[str, CodeState]:
    """Return the code states after this step's tests.

    Parameters
    ----------
    codes : mapping of str to CodeState
        Before, by code number.
    sensors, doors : mapping
        Memories after this step.
    calibration : Calibration
        Codes and how they are stored.

    Returns
    -------
    dict of str to CodeState
    """
    policy, stepped = calibration.storing.policy, {}
    for code in calibration.codes:
        event = _event(code, sensors, doors)
        before = codes[code.number]
        known = not event or before.status & _TOLD == _TELLS[event]
        stepped[code.number] = before if known else step_code(before, event, policy)
    return stepped


def _event(code: Code, sensors: Mapping[str, SensorMemory],
           doors: Mapping[str, DoorState]) -> str:
    """Verdict of a code's test: "passed", "failed" or "" (none)."""
    if code.source in doors:
        return _door_event(code.fault, doors[code.source])
    if code.source in sensors:
        return _window_event(code.fault, sensors[code.source].window.verdict)
    return ""  # not fitted


def _window_event(fault: str, verdict: str) -> str:
    if verdict == "untested":
        return ""
    return "failed" if verdict == fault else "passed"


def _door_event(fault: str, door: DoorState) -> str:
    if fault == "stalled":
        if door.stalled_at is not None:
            return "failed"
        moves_well = door.drive == 0 and door.feedback.verdict == "passed"
        return "passed" if moves_well and not door.searching else ""
    if fault == "travel":
        return "failed" if door.travel_bad else "passed"
    return _window_event(fault, door.feedback.verdict)


def stored(codes: Mapping[str, CodeState]) -> tuple[tuple[str, int], ...]:
    """Return number and status byte of every code that has failed since it was cleared.

    Parameters
    ----------
    codes : mapping of str to CodeState
        By number.

    Returns
    -------
    tuple of (str, int)
    """
    kept = int(Status.testFailedSinceLastClear | Status.confirmedDTC | Status.pendingDTC)
    return tuple((number, state.status) for number, state in codes.items()
                 if state.status & kept)


def code_words(codes: tuple[tuple[str, int], ...], calibration: Calibration) -> str:
    """List codes in words.

    Parameters
    ----------
    codes : tuple of (str, int)
        From `stored`.
    calibration : Calibration
        Their texts.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> code_words((("P0533", 0x2F),), load_calibration("blue_head"))
    'P0533 refrigerant pressure sensor: signal too high (0x2F, failing now, confirmed)'
    """
    texts = {code.number: code.text for code in calibration.codes}
    listed = [f"{number} {texts[number]} (0x{status:02X}, {status_meaning(status)})"
              for number, status in codes]
    return "; ".join(listed) or "0 codes stored"


def new_operation_cycle(state: State, calibration: Calibration) -> State:
    """Return the state after the ignition was switched off and on: codes begin a new cycle.

    Parameters
    ----------
    state : State
        Before.
    calibration : Calibration
        How codes are stored.

    Returns
    -------
    State
        Learned end stops are kept.
    """
    policy = calibration.storing.policy
    return replace(state, codes={number: step_code(code, "new cycle", policy)
                                 for number, code in state.codes.items()})


def clear_codes(state: State) -> State:
    """Return the state with all codes cleared; a fault that is still there comes back.

    Parameters
    ----------
    state : State
        Before.

    Returns
    -------
    State
    """
    return replace(state, codes={number: step_code(code, "clear")
                                 for number, code in state.codes.items()})
