"""Windows: a control unit trusts an input only while it lies between two limits.

An input above the window for long enough is judged "open or short to supply"; below it, "short
to ground". Limits of about 4.9 V and 0.1–0.2 V of 5 V and times of 0.5–20 s are common
practice. A sensor that is merely wrong inside the window is never seen by it.

Limits are fractions of the reference, as the converter measures them.
"""

from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.sensing.checks import checked

PLACES = ("below", "inside", "above")
"""Where an input can lie."""


@dataclass(frozen=True)
class Window:
    """Limits and times of one input.

    Parameters
    ----------
    low_ratio, high_ratio : float
        Limits as fractions of the reference.
    fail_s : float
        Time outside, without a break, until the input is judged failed [s].
    heal_s : float
        Time inside, without a break, until it is judged sound [s].

    Raises
    ------
    InputError
        If the limits do not rise between 0 and 1 or a time is negative.

    Examples
    --------
    >>> window = Window(0.03, 0.98, fail_s=2.0, heal_s=1.0)
    >>> window.place(0.99), window.place(0.5), window.place(0.0)
    ('above', 'inside', 'below')
    """

    low_ratio: float = 0.03
    high_ratio: float = 0.98
    fail_s: float = 2.0
    heal_s: float = 1.0

    def __post_init__(self) -> None:
        checked((self.low_ratio, self.high_ratio), "window limit", 0.0, 1.0)
        checked((self.fail_s, self.heal_s), "window time", 0.0, unit="s")
        if self.low_ratio >= self.high_ratio:
            raise InputError(f"a window's lower limit ({self.low_ratio:g}) must lie below its "
                             f"upper one ({self.high_ratio:g})")

    def place(self, ratio: float) -> str:
        """Return where an input lies: "below", "inside" or "above".

        Parameters
        ----------
        ratio : float
            V/V_ref.

        Returns
        -------
        str
        """
        if checked(ratio, "input ratio") > self.high_ratio:
            return "above"
        return "below" if ratio < self.low_ratio else "inside"


@dataclass(frozen=True)
class WindowState:
    """What a window remembers.

    Parameters
    ----------
    place : str
        Where the input lies.
    time_s : float
        How long it has been there without a break [s].
    verdict : str
        Last finished judgement: "untested", "passed", "below" or "above".
    """

    place: str = "inside"
    time_s: float = 0.0
    verdict: str = "untested"


def step_window(window: Window, state: WindowState, ratio: float,
                elapsed_s: float) -> WindowState:
    """Return the state after an input has stayed at one ratio for a time.

    Parameters
    ----------
    window : Window
        Limits and times.
    state : WindowState
        Before; `WindowState()` at power-up.
    ratio : float
        V/V_ref during the time.
    elapsed_s : float
        The time, 0 or more [s].

    Returns
    -------
    WindowState
        After.

    Raises
    ------
    InputError
        If the time is negative.

    Examples
    --------
    >>> window = Window(fail_s=2.0)
    >>> early = step_window(window, WindowState(), 1.0, 1.5)
    >>> early.verdict, step_window(window, early, 1.0, 0.5).verdict
    ('untested', 'above')
    """
    elapsed = checked(elapsed_s, "elapsed time", 0.0, unit="s")
    place = window.place(ratio)
    time = elapsed + (state.time_s if place == state.place else 0.0)
    needed = window.heal_s if place == "inside" else window.fail_s
    # sums of decimal steps may fall short by a rounding error
    if time < needed * (1.0 - 1e-9):
        return WindowState(place, time, state.verdict)
    return WindowState(place, time, "passed" if place == "inside" else place)
