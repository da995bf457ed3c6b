"""Current through one branch from the voltage across it: the laws the solver knows.

Every law is continuous and never falls as the voltage rises, so a circuit of such branches has
one solution. `spice_current` writes the same law as an expression for a SPICE behavioural
source, from the same constants.

linear     i = g·(v − e)                                        values (g, e)
diode      i = I_s·(exp(v/V_s) − 1), straight from v_m on       values (I_s, V_s, v_m)
lamp       i = v/√(R_cold² + (R_hot² − R_cold²)·|v|/V_rated)    values (R_cold², slope)
motor      i = (v − k·ω)/R, ω from the torque balance below     values (R, k, T_f, c, d)
regulator  i limited between −I_sink and +I_source, slope 1/R   values (e, R, I_source, I_sink)
photo      i = I + v/R_shunt − diode current at −v              values (I, g, I_s, V_s, v_m)

Motor torque balance: k·i = T_f + c·ω + d·ω² while it turns; it stands while k·v/R < T_f.
Sources: Shockley's diode equation; the permanent-magnet motor's voltage and torque equations
(any text on electrical machines); the lamp's root law is common practice.
"""

import numpy as np

LIMIT_SLOPE = 1e-5  # siemens that a current limit still rises by, so that the law never is flat


def diode_current(v, saturation, slope_V, straight_V):
    """Current [A] and its slope [S] of a diode at voltage v [V].

    >>> i, g = diode_current(np.array([0.0, -5.0]), 1e-9, 0.05, 0.8)
    >>> float(i[0]), float(i[1]) > -1.1e-9
    (0.0, True)
    """
    curved = np.exp(np.minimum(v, straight_V) / slope_V)
    beyond = np.maximum(v - straight_V, 0.0)
    slope = saturation * curved / slope_V
    return saturation * (curved - 1.0) + slope * beyond, slope


def lamp_current(v, cold_squared, rise):
    """Current [A] and its slope [S] of a filament lamp at voltage v [V].

    >>> i, g = lamp_current(np.array([12.0]), 1.0, (28.8**2 - 1.0) / 12.0)
    >>> round(float(i[0]), 6)
    0.416667
    """
    size = np.abs(v)
    squared = cold_squared + rise * size
    root = np.sqrt(squared)
    return v / root, (cold_squared + 0.5 * rise * size) / (squared * root)


def motor_speed(v, winding, k, friction, viscous, drag):
    """Speed [rad/s] at which a motor settles at terminal voltage v [V], with its sign.

    ω solves (d·R/k)·ω² + (k + R·c/k)·ω = |v| − R·T_f/k; a motor without k does not turn.

    >>> float(motor_speed(np.array(0.0), 0.2, 0.04, 0.08, 0.0, 1e-5))
    0.0
    """
    turning = k > 0.0
    safe_k = np.where(turning, k, 1.0)
    surplus = np.where(turning, np.maximum(np.abs(v) - winding * friction / safe_k, 0.0), 0.0)
    b = safe_k + winding * viscous / safe_k
    a = drag * winding / safe_k
    return np.sign(v) * 2.0 * surplus / (b + np.sqrt(b * b + 4.0 * a * surplus))


def motor_current(v, winding, k, friction, viscous, drag):
    """Current [A] and its slope [S] of a motor at terminal voltage v [V].

    >>> i, g = motor_current(np.array([6.7]), 0.18, 0.0395, 0.077, 0.0, 8.65e-6)
    >>> round(float(i[0]), 1)
    6.3
    """
    speed = np.abs(motor_speed(v, winding, k, friction, viscous, drag))
    safe_k = np.where(k > 0.0, k, 1.0)
    rise = viscous + 2.0 * drag * speed
    running = (rise / safe_k) / (safe_k + winding * rise / safe_k)
    return (v - np.sign(v) * k * speed) / winding, np.where(speed > 0.0, running, 1.0 / winding)


def regulator_current(v, emf, resistance, source_A, sink_A):
    """Current [A] into the output, and its slope [S], of a current-limited source.

    >>> i, g = regulator_current(np.array([5.0, 0.0, 12.0]), 5.0, 0.1, 0.2, 0.01)
    >>> [round(float(x), 3) for x in i]
    [0.0, -0.2, 0.01]
    """
    wanted = (v - emf) / resistance
    within = (wanted > -source_A) & (wanted < sink_A)
    current = np.clip(wanted, -source_A, sink_A) + LIMIT_SLOPE * (v - emf)
    return current, np.where(within, 1.0 / resistance, 0.0) + LIMIT_SLOPE


def photo_current(v, light_A, shunt_S, saturation, slope_V, straight_V):
    """Current [A] and its slope [S] of a lit photodiode at reverse voltage v [V].

    >>> i, g = photo_current(np.array([5.0]), 1e-3, 1e-7, 1e-9, 0.05, 0.8)
    >>> round(float(i[0]), 7)
    0.0010005
    """
    forward, slope = diode_current(-v, saturation, slope_V, straight_V)
    return light_A + shunt_S * v - forward, shunt_S + slope


# law: (function, number of values)
CURVED = {
    "diode": (diode_current, 3),
    "lamp": (lamp_current, 2),
    "motor": (motor_current, 5),
    "regulator": (regulator_current, 4),
    "photo": (photo_current, 5),
}
