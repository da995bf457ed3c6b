"""Parts that remember: windings, capacitances and turning motors, one time step at a time.

Each gives, for a step, the straight line i = g·v + j that its current follows near a voltage v
(its companion), and then takes the accepted voltage as its new past. The rate of a state x
(a current, a voltage, a speed) at the end of a step is

    dx/dt = rate·x + now·x_now + before·x_before

with the last two accepted values: backward Euler after a switching, the second-order backward
difference formula otherwise. Both die away where the part is much faster than the step. With
rate = now = before = 0 nothing changes any more: the steady part.

Names: R resistance [Ω], L inductance [H], C capacitance [F], J inertia [kg m²], k motor
constant [V s = N m/A], omega speed [rad/s].
Source: companion models and difference formulas as in any text on circuit simulation, e.g.
L. W. Nagel, SPICE2, Univ. of California, Berkeley, ERL-M520 (1975); title from memory.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import ClassVar


@dataclass(frozen=True)
class Step:
    """Coefficients of a time step [1/s]; make one with `euler`, `backward` or use `STEADY`."""

    rate: float
    now: float
    before: float

    def past(self, now: float, before: float) -> float:
        """What the last two values add to the rate.

        >>> euler(0.5).past(3.0, 7.0)
        -6.0
        """
        return self.now * now + self.before * before


STEADY = Step(0.0, 0.0, 0.0)


def euler(h: float) -> Step:
    """Return the backward Euler step of length h [s].

    >>> euler(0.5).rate
    2.0
    """
    return Step(1.0 / h, -1.0 / h, 0.0)


def backward(h: float, last_h: float) -> Step:
    """Return the second-order backward difference step of length h after one of last_h [s].

    >>> step = backward(0.5, 0.5)
    >>> step.rate, step.now, step.before
    (3.0, -4.0, 1.0)
    """
    r = h / last_h
    return Step((1.0 + 2.0 * r) / (h * (1.0 + r)), -(1.0 + r) / h, r * r / (h * (1.0 + r)))


@dataclass
class Static:
    """A part without memory: current [A] and slope [S] as functions of its voltage."""

    memory: ClassVar = ("current",)
    a: int
    b: int
    law: Callable[[float], tuple[float, float]]
    current: float = 0.0
    state: float = field(default=0.0, init=False)

    def companion(self, v: float, step: Step) -> tuple[float, float]:
        """Tangent at v: g [S], j [A]."""
        current, slope = self.law(v)
        return slope, current - slope * v

    def accept(self, v: float, step: Step) -> None:
        """Take v as reached."""
        self.current = self.law(v)[0]


@dataclass
class Winding:
    """Resistance and inductance in series: v = R·i + L·di/dt."""

    memory: ClassVar = ("current", "before")
    a: int
    b: int
    R: float
    L: float
    current: float = 0.0
    before: float = 0.0

    @property
    def state(self) -> float:
        """The current [A] is what cannot jump."""
        return self.current if self.L > 0.0 else 0.0

    def companion(self, v: float, step: Step) -> tuple[float, float]:
        """Straight line of the step: g [S], j [A]."""
        g = 1.0 / (self.R + self.L * step.rate)
        return g, -g * self.L * step.past(self.current, self.before)

    def accept(self, v: float, step: Step) -> None:
        """Take v as reached."""
        g, j = self.companion(v, step)
        self.before, self.current = self.current, g * v + j


@dataclass
class Capacitance:
    """Capacitance and resistance in series: v = v_C + R·i, i = C·d v_C/dt."""

    memory: ClassVar = ("charged_V", "before", "current")
    a: int
    b: int
    C: float
    R: float = 0.0
    charged_V: float = 0.0
    before: float = 0.0
    current: float = 0.0

    @property
    def state(self) -> float:
        """The voltage of the capacitance [V] is what cannot jump."""
        return self.charged_V

    def companion(self, v: float, step: Step) -> tuple[float, float]:
        """Straight line of the step: g [S], j [A]."""
        loose = 1.0 + self.R * self.C * step.rate
        past = self.C * step.past(self.charged_V, self.before)
        return self.C * step.rate / loose, past / loose

    def accept(self, v: float, step: Step) -> None:
        """Take v as reached."""
        g, j = self.companion(v, step)
        self.current = g * v + j
        self.before, self.charged_V = self.charged_V, v - self.R * self.current


@dataclass
class Turning:
    """A motor with its fan: v = R·i + L·di/dt + k·omega, J·d omega/dt = k·i − load(omega).

    The load is dry friction plus viscous·omega plus drag·omega²; at rest dry friction holds
    whatever it can.
    """

    memory: ClassVar = ("current", "current_before", "omega", "omega_before")
    a: int
    b: int
    R: float
    k: float
    friction: float
    viscous: float
    drag: float
    L: float
    J: float
    current: float = 0.0
    current_before: float = 0.0
    omega: float = 0.0
    omega_before: float = 0.0

    @property
    def state(self) -> float:
        """Back-EMF [V]; the speed cannot jump."""
        return self.k * self.omega

    def _solve(self, v: float, step: Step) -> tuple[float, float, float]:
        """Current [A], speed [rad/s] and slope di/dv [S] at the end of the step."""
        R = self.R + self.L * step.rate
        driving = v - self.L * step.past(self.current, self.current_before)
        torque = (self.k * driving / R
                  - self.J * step.past(self.omega, self.omega_before))
        damping = self.J * step.rate + self.viscous + self.k ** 2 / R
        omega, slope = speed_for(torque, damping, self.friction, self.drag)
        return (driving - self.k * omega) / R, omega, (1.0 - self.k ** 2 / R * slope) / R

    def companion(self, v: float, step: Step) -> tuple[float, float]:
        """Tangent at v: g [S], j [A]."""
        current, _, slope = self._solve(v, step)
        return slope, current - slope * v

    def accept(self, v: float, step: Step) -> None:
        """Take v as reached."""
        current, omega, _ = self._solve(v, step)
        self.current_before, self.omega_before = self.current, self.omega
        self.current, self.omega = current, omega


def speed_for(torque: float, damping: float, friction: float,
              drag: float) -> tuple[float, float]:
    """Return the speed where drive and load balance, and how it moves with the drive.

    Solves torque = damping·omega ± friction + drag·omega·|omega|, the sign that of omega.

    Parameters
    ----------
    torque : float
        Driving torque at standstill [N m].
    damping : float
        Torque lost for each rad/s [N m s], ≥ 0.
    friction, drag : float
        Dry friction [N m] and drag [N m s²], ≥ 0.

    Returns
    -------
    tuple of float
        omega [rad/s] and d omega/d torque [rad/(s N m)].

    Examples
    --------
    >>> speed_for(3.0, 1.0, 1.0, 1.0)[0]
    1.0
    >>> speed_for(-0.5, 1.0, 1.0, 1.0)
    (0.0, 0.0)
    """
    spare = abs(torque) - friction
    if spare <= 0.0:
        return 0.0, 0.0
    # the form without cancellation: also right where drag is zero
    speed = 2.0 * spare / (damping + math.sqrt(damping ** 2 + 4.0 * drag * spare))
    return math.copysign(speed, torque), 1.0 / (damping + 2.0 * drag * speed)
