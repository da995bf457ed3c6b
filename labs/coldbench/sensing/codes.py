"""Stored codes and their status byte: a pure step function over operation cycles.

Bits and their names: ISO 14229-1. From memory are the value 0x50 after clearing and how the
counts of cycles (confirm, age, warning off) work; how many cycles they take is a vehicle
maker's choice (common practice: 2, 40, 3).

    failed     bits 0, 1, 2, 5 set; 4, 6 cleared; bit 3 (and 7) once enough cycles have failed
    passed     bits 0, 4, 6 cleared
    new cycle  bit 1 cleared, 6 set; bit 2 cleared if the cycle that ended had passed all the way;
               enough such cycles switch the warning off (bit 7), more of them age the code
               (bit 3); a cycle in which the test never completed changes nothing
    clear      0x50

What the bits say together: 0x09 on = failing now and confirmed; 0x08 without 0x01 = stored,
not failing now: it comes and goes, or has been mended and not cleared.
"""

from dataclasses import dataclass, replace
from enum import IntFlag
from typing import Iterable

from coldbench.errors import InputError


class Status(IntFlag):
    """The eight bits of a code's status byte (ISO 14229-1)."""

    testFailed = 0x01
    testFailedThisOperationCycle = 0x02
    pendingDTC = 0x04
    confirmedDTC = 0x08
    testNotCompletedSinceLastClear = 0x10
    testFailedSinceLastClear = 0x20
    testNotCompletedThisOperationCycle = 0x40
    warningIndicatorRequested = 0x80


_FAILED = (Status.testFailed | Status.testFailedThisOperationCycle | Status.pendingDTC
           | Status.testFailedSinceLastClear)
_NOT_COMPLETED = (Status.testNotCompletedSinceLastClear
                  | Status.testNotCompletedThisOperationCycle)
CLEARED = int(_NOT_COMPLETED)
"""Status byte after clearing, 0x50."""
EVENTS = ("passed", "failed", "new cycle", "clear")
"""What `step_code` accepts."""


@dataclass(frozen=True)
class CodePolicy:
    """How many operation cycles a code takes (common practice).

    Parameters
    ----------
    confirm_cycles : int
        Failing cycles in a row until confirmed, 1 or more.
    age_cycles : int
        Passing cycles in a row until a confirmed code is forgotten, 1 or more.
    warning : bool
        True if a confirmed code asks for the warning lamp.
    warning_off_cycles : int
        Passing cycles in a row until the lamp goes out, 1 or more.

    Raises
    ------
    InputError
        If a count is below 1.
    """

    confirm_cycles: int = 2
    age_cycles: int = 40
    warning: bool = False
    warning_off_cycles: int = 3

    def __post_init__(self) -> None:
        for name in ("confirm_cycles", "age_cycles", "warning_off_cycles"):
            if type(count := getattr(self, name)) is not int or count < 1:
                raise InputError(f"{name} must be a whole number of cycles, 1 or more, "
                                 f"not {count!r}")


@dataclass(frozen=True)
class CodeState:
    """A code's status byte and the counts behind it.

    Parameters
    ----------
    status : int
        Status byte.
    failing_cycles : int
        Cycles in a row in which the test failed, this one included.
    passing_cycles : int
        Cycles in a row that passed all the way, since the last failure.
    """

    status: int = CLEARED
    failing_cycles: int = 0
    passing_cycles: int = 0


def step_code(state: CodeState, event: str, policy: CodePolicy = CodePolicy()) -> CodeState:
    """Return the state of a code after one event.

    Parameters
    ----------
    state : CodeState
        Before; `CodeState()` is just cleared, in a running cycle.
    event : str
        "passed" or "failed" (a test completed), "new cycle" (ends the running cycle and
        starts the next) or "clear".
    policy : CodePolicy
        Counts of cycles.

    Returns
    -------
    CodeState
        After.

    Raises
    ------
    InputError
        If the event is unknown.

    Examples
    --------
    >>> failed = step_code(CodeState(), "failed")
    >>> hex(failed.status)
    '0x27'
    >>> again = step_code(step_code(failed, "new cycle"), "failed")
    >>> hex(again.status), hex(step_code(again, "clear").status)
    ('0x2f', '0x50')
    """
    if event == "clear":
        return CodeState()
    if event == "passed":
        return replace(state, status=state.status & ~int(_NOT_COMPLETED | Status.testFailed))
    if event == "failed":
        return _failed(state, policy)
    if event == "new cycle":
        return _new_cycle(state, policy)
    raise InputError(f"a code knows no event {event!r}; accepted: {', '.join(EVENTS)}")


def _failed(state: CodeState, policy: CodePolicy) -> CodeState:
    first = not state.status & Status.testFailedThisOperationCycle
    failing = state.failing_cycles + first
    status = state.status & ~int(_NOT_COMPLETED) | int(_FAILED)
    if failing >= policy.confirm_cycles:
        status |= int(Status.confirmedDTC)
        status |= int(Status.warningIndicatorRequested) if policy.warning else 0
    return CodeState(status, failing, 0)


def _new_cycle(state: CodeState, policy: CodePolicy) -> CodeState:
    status, failing, passing = state.status, state.failing_cycles, state.passing_cycles
    failed = status & Status.testFailedThisOperationCycle
    if not failed and not status & Status.testNotCompletedThisOperationCycle:
        status &= ~int(Status.pendingDTC)
        failing, passing = 0, passing + 1
        if passing >= policy.warning_off_cycles:
            status &= ~int(Status.warningIndicatorRequested)
        if passing >= policy.age_cycles:
            status &= ~int(Status.confirmedDTC)
    status &= ~int(Status.testFailedThisOperationCycle)
    return CodeState(status | int(Status.testNotCompletedThisOperationCycle), failing, passing)


def step_code_cycle(state: CodeState, results: Iterable[str],
                    policy: CodePolicy = CodePolicy()) -> CodeState:
    """Return the state after one whole operation cycle: its test results, then a new cycle.

    Parameters
    ----------
    state : CodeState
        In a cycle that has just begun.
    results : iterable of str
        "passed" or "failed", in order; empty if the test never completed.
    policy : CodePolicy
        Counts of cycles.

    Returns
    -------
    CodeState
        At the beginning of the next cycle.

    Examples
    --------
    >>> state = step_code_cycle(CodeState(), ["failed", "passed"])
    >>> status_names(state.status)[:2]
    ('pendingDTC', 'testFailedSinceLastClear')
    """
    for result in results:
        state = step_code(state, result, policy)
    return step_code(state, "new cycle", policy)


def status_names(status: int) -> tuple[str, ...]:
    """Return the names of the bits that are set, lowest first.

    Parameters
    ----------
    status : int
        Status byte 0 to 255.

    Returns
    -------
    tuple of str

    Raises
    ------
    InputError
        If it is no byte.

    Examples
    --------
    >>> status_names(0x50)
    ('testNotCompletedSinceLastClear', 'testNotCompletedThisOperationCycle')
    """
    if type(status) is not int or not 0 <= status <= 0xFF:
        raise InputError(f"a status byte is a whole number from 0 to 255, not {status!r}")
    return tuple(bit.name for bit in Status if status & bit)


def status_meaning(status: int) -> str:
    """Return in words what a status byte says about the fault.

    Parameters
    ----------
    status : int
        Status byte 0 to 255.

    Returns
    -------
    str

    Examples
    --------
    >>> status_meaning(0x2F)
    'failing now, confirmed'
    >>> status_meaning(0x28), status_meaning(0x50)
    ('not failing now, confirmed earlier', 'not tested since the codes were cleared')
    """
    set_bits = status_names(status)
    now = "testFailed" in set_bits
    if "confirmedDTC" in set_bits:
        return "failing now, confirmed" if now else "not failing now, confirmed earlier"
    if now:
        return "failing now, not yet confirmed"
    if "testNotCompletedSinceLastClear" in set_bits:
        return "not tested since the codes were cleared"
    if "pendingDTC" in set_bits:
        return "not failing now, failed in this cycle or the last one tested"
    if "testFailedSinceLastClear" in set_bits:
        return "not failing now, failed some time since the codes were cleared"
    return "tested and passed, no failure since the codes were cleared"
