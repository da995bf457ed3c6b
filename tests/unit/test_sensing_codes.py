"""Windows, codes and substitute values as pure steps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.sensing.codes import (
    EVENTS, CodePolicy, CodeState, Status, status_meaning, status_names, step_code,
    step_code_cycle)
from coldbench.sensing.substitute import believe
from coldbench.sensing.windows import Window, WindowState, step_window

events = st.lists(st.sampled_from(EVENTS), max_size=40)


def after(*events: str, policy: CodePolicy = CodePolicy()) -> CodeState:
    """State after events, from just cleared."""
    state = CodeState()
    for event in events:
        state = step_code(state, event, policy)
    return state


# ISO 14229-1: meaning of each bit; the status byte after each story follows from it.
@pytest.mark.parametrize("story, status", [
    ((), 0x50),
    (("passed",), 0x00),
    (("failed",), 0x27),
    (("failed", "passed"), 0x26),
    (("failed", "new cycle"), 0x65),
    (("failed", "new cycle", "passed"), 0x24),
    (("failed", "new cycle", "failed"), 0x2F),
    (("failed", "new cycle", "passed", "new cycle"), 0x60),
    (("failed", "new cycle", "passed", "new cycle", "failed"), 0x27),
    (("failed", "new cycle", "failed", "passed"), 0x2E),
    (("failed", "new cycle", "failed", "new cycle", "passed", "new cycle"), 0x68),
    (("failed", "new cycle", "failed", "clear"), 0x50),
    (("passed", "new cycle"), 0x40),
    (("failed", "passed", "new cycle", "new cycle"), 0x64),  # untested cycle: pending stays
])
def test_status_after_a_story(story, status):
    assert after(*story).status == status


@given(events=events)
def test_bits_that_cannot_stand_together(events):
    status = Status(after(*events, policy=CodePolicy(warning=True)).status)
    if status & Status.testFailed:
        assert status & Status.testFailedSinceLastClear
    if status & Status.testFailedThisOperationCycle:
        assert status & Status.pendingDTC and status & Status.testFailedSinceLastClear
        assert not status & Status.testNotCompletedThisOperationCycle
    if status & Status.testNotCompletedSinceLastClear:
        assert status == 0x50
    if status & Status.warningIndicatorRequested:
        assert status & Status.confirmedDTC


@given(events=events)
def test_clearing_forgets_everything_and_repeating_a_result_adds_nothing(events):
    state = after(*events)
    assert step_code(state, "clear") == CodeState()
    for result in ("passed", "failed"):
        once = step_code(state, result)
        assert step_code(once, result) == once


@given(cycles=st.integers(1, 6))
def test_confirmed_after_so_many_failing_cycles(cycles):
    policy, state = CodePolicy(confirm_cycles=cycles), CodeState()
    for number in range(1, cycles + 1):
        state = step_code(state, "failed", policy)
        assert bool(state.status & Status.confirmedDTC) == (number == cycles)
        state = step_code(state, "new cycle", policy)


@given(age=st.integers(1, 8), idle=st.integers(0, 3))
def test_ages_after_so_many_passing_cycles_and_untested_ones_do_not_count(age, idle):
    policy = CodePolicy(confirm_cycles=1, age_cycles=age)
    state = step_code_cycle(CodeState(), ["failed"], policy)
    for number in range(1, age + 1):
        for _ in range(idle):
            state = step_code_cycle(state, [], policy)
        state = step_code_cycle(state, ["passed"], policy)
        assert bool(state.status & Status.confirmedDTC) == (number < age)
    assert state.status & Status.testFailedSinceLastClear


def test_warning_goes_out_before_the_code_is_forgotten():
    policy = CodePolicy(confirm_cycles=1, warning=True)
    state = step_code_cycle(CodeState(), ["failed"], policy)
    lamps = []
    for _ in range(4):
        lamps.append(bool(state.status & Status.warningIndicatorRequested))
        state = step_code_cycle(state, ["passed"], policy)
    assert lamps == [True, True, True, False] and state.status & Status.confirmedDTC


def test_failure_starts_ageing_afresh():
    policy = CodePolicy(confirm_cycles=1, age_cycles=2)
    state = step_code_cycle(CodeState(), ["failed"], policy)
    for result in ("passed", "failed", "passed"):
        state = step_code_cycle(state, [result], policy)
    assert state.status & Status.confirmedDTC


@pytest.mark.parametrize("status, words", [
    (0x2F, "failing now, confirmed"), (0x28, "not failing now, confirmed earlier"),
    (0x27, "failing now, not yet confirmed"), (0x50, "not tested"), (0x24, "this cycle or the"),
    (0x20, "some time since"), (0x00, "no failure since")])
def test_status_in_words(status, words):
    assert words in status_meaning(status)


@given(status=st.integers(0, 255))
def test_names_make_the_byte(status):
    assert sum(Status[name] for name in status_names(status)) == status


@pytest.mark.parametrize("status", [-1, 256, 1.0, True, "0x50"])
def test_no_byte_is_refused(status):
    with pytest.raises(InputError, match="0 to 255"):
        status_names(status)


def test_refusals_say_what_is_accepted():
    with pytest.raises(InputError, match="passed, failed, new cycle, clear"):
        step_code(CodeState(), "broken")
    with pytest.raises(InputError, match="confirm_cycles"):
        CodePolicy(confirm_cycles=0)
    with pytest.raises(InputError, match="must lie below"):
        Window(0.9, 0.1)
    with pytest.raises(InputError, match="elapsed time"):
        step_window(Window(), WindowState(), 0.5, -1.0)


@given(steps=st.integers(1, 40), ratio=st.sampled_from([0.0, 1.0]))
def test_small_steps_judge_as_one_long_one(steps, ratio):
    window = Window(fail_s=2.0)
    state = WindowState()
    for _ in range(steps):
        state = step_window(window, state, ratio, 0.1)
    whole = step_window(window, WindowState(), ratio, steps * 0.1)
    assert state.verdict == whole.verdict
    assert state.verdict == ("untested" if steps < 20 else window.place(ratio))


def test_a_break_starts_the_time_afresh():
    window, state = Window(fail_s=2.0, heal_s=1.0), WindowState()
    for ratio, seconds in ((1.0, 1.9), (0.5, 0.1), (1.0, 1.9)):
        state = step_window(window, state, ratio, seconds)
    assert state.verdict == "untested"
    state = step_window(window, state, 1.0, 0.1)
    assert state.verdict == "above"
    state = step_window(window, state, 0.5, 0.9)
    assert state.verdict == "above"
    assert step_window(window, state, 0.5, 0.1).verdict == "passed"


def test_wrong_inside_the_window_is_never_seen():
    state = step_window(Window(), WindowState(), 0.97, 1e6)
    assert state.verdict == "passed"


@pytest.mark.parametrize("measured, verdict, last_good, source", [
    (300.0, "untested", None, "measured"), (300.0, "passed", 299.0, "measured"),
    (None, "untested", None, "substitute"), (None, "passed", 299.0, "last good value"),
    (None, "above", 299.0, "substitute"), (300.0, "above", 299.0, "substitute"),
    (300.0, "below", None, "substitute")])
def test_what_the_head_works_with(measured, verdict, last_good, source):
    belief = believe(measured, verdict, last_good, 293.15)
    assert belief.source == source
    assert belief.value == {"measured": measured, "last good value": last_good,
                            "substitute": 293.15}[source]
