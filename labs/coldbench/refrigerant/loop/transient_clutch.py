"""What engages and releases the clutch: a wish, and the switches that overrule it.

Default thresholds are usual ones of a bench with an expansion valve (common practice). With
them the blue bench cycles at light load every half minute to minute and a half (20 s to some
minutes is common practice); a starved low side cycles every ten seconds or so, as it should.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import NamedTuple

from coldbench.errors import InputError
from coldbench.refrigerant.loop.conditions import finite_number

_ZERO_C_K = 273.15


@dataclass(frozen=True)
class Cycling:
    """Thresholds of the switches; a pair set to None leaves that switch out.

    Parameters
    ----------
    coil_cut_out_K, coil_cut_in_K : float or None
        Probe in the evaporator's fins [K].
    low_cut_out_gauge_kPa, low_cut_in_gauge_kPa : float or None
        Low side [kPa, gauge].
    high_cut_out_gauge_kPa, high_cut_in_gauge_kPa : float or None
        High side [kPa, gauge]. The trip of the bench itself stays in force in any case.
    minimum_off_s : float
        Shortest pause after a release [s].
    wish : callable, optional
        From the time [s] to True where cooling is wanted; always if left out.

    Raises
    ------
    InputError
        If a threshold is no number, alone, or on the wrong side of its partner.

    Examples
    --------
    >>> Cycling(low_cut_out_gauge_kPa=150.0, low_cut_in_gauge_kPa=120.0)
    Traceback (most recent call last):
    coldbench.errors.InputError: low_cut_in_gauge_kPa 120 must be above low_cut_out_gauge_kPa 150
    """

    coil_cut_out_K: float | None = 274.15
    coil_cut_in_K: float | None = 277.65
    low_cut_out_gauge_kPa: float | None = 60.0
    low_cut_in_gauge_kPa: float | None = 210.0
    high_cut_out_gauge_kPa: float | None = 2700.0
    high_cut_in_gauge_kPa: float | None = 2000.0
    minimum_off_s: float = 10.0  # belt and clutch last longer (common practice)
    wish: Callable[[float], bool] | None = None

    def __post_init__(self) -> None:
        for field in fields(self)[:7]:
            value = getattr(self, field.name)
            if value is not None:
                object.__setattr__(self, field.name, finite_number(field.name, value))
        _check_pair(self, "coil_cut_in_K", "coil_cut_out_K")
        _check_pair(self, "low_cut_in_gauge_kPa", "low_cut_out_gauge_kPa")
        _check_pair(self, "high_cut_out_gauge_kPa", "high_cut_in_gauge_kPa")
        if self.minimum_off_s is None or self.minimum_off_s < 0.0:
            raise InputError("minimum_off_s must be a time of 0 s or more")
        if self.wish is not None and not callable(self.wish):
            raise InputError("wish must be a function of time in s, or be left out")


HELD = dict.fromkeys(("coil_cut_out_K", "coil_cut_in_K", "low_cut_out_gauge_kPa",
                      "low_cut_in_gauge_kPa", "high_cut_out_gauge_kPa",
                      "high_cut_in_gauge_kPa"))


def _check_pair(cycling: Cycling, upper: str, lower: str) -> None:
    above, below = getattr(cycling, upper), getattr(cycling, lower)
    if (above is None) != (below is None):
        raise InputError(f"{upper} and {lower} must both be given or both be None")
    if above is not None and not above > below:
        raise InputError(f"{upper} {above:g} must be above {lower} {below:g}")


class Clutch(NamedTuple):
    """State of the clutch: engaged, when it last released, which switch holds it off."""

    engaged: bool = False
    released_s: float = float("-inf")
    held_by: str = ""


class Seen(NamedTuple):
    """What the switches feel."""

    probe_K: float
    low_gauge_kPa: float
    high_gauge_kPa: float


def clutch_rule(clutch: "bool | Cycling | Callable[[float], bool]") -> Cycling:
    """Return the rule that an argument `clutch` stands for.

    Parameters
    ----------
    clutch : bool, callable or Cycling
        True or False holds the clutch so; a function of time [s] asks for it; `Cycling` adds
        switches.

    Returns
    -------
    Cycling

    Raises
    ------
    InputError
        If it is none of these.

    Examples
    --------
    >>> clutch_rule(True).wish(0.0), clutch_rule(lambda t: t < 60.0).wish(90.0)
    (True, False)
    """
    if isinstance(clutch, Cycling):
        return clutch
    if isinstance(clutch, bool):
        return Cycling(**HELD, minimum_off_s=0.0, wish=lambda time_s: clutch)
    if callable(clutch):
        return Cycling(**HELD, minimum_off_s=0.0, wish=clutch)
    raise InputError("clutch must be True, False, a function of time in s, or a Cycling, "
                     f"not {clutch!r}")


def decide(rule: Cycling, clutch: Clutch, time_s: float, seen: Seen,
           trip_gauge_kPa: float) -> tuple[Clutch, str]:
    """Return the clutch after a look at wish and switches, and what happened in words.

    Parameters
    ----------
    rule : Cycling
        Thresholds.
    clutch : Clutch
        Before.
    time_s : float
        Time [s].
    seen : Seen
        Temperatures and pressures.
    trip_gauge_kPa : float
        The bench's own high-pressure trip; once it acts the clutch stays released.

    Returns
    -------
    tuple[Clutch, str]
        Words are empty if nothing changed.

    Examples
    --------
    >>> on = Clutch(engaged=True)
    >>> decide(Cycling(), on, 90.0, Seen(273.15, 150.0, 900.0), 2800.0)[1]
    'clutch releases: coil at 0.0 degC, cut-out 1.0 degC'
    """
    wanted = rule.wish is None or bool(rule.wish(time_s))
    reason, words = _opened(rule, seen, trip_gauge_kPa)
    if clutch.engaged:
        if reason:
            return Clutch(False, time_s, reason), f"clutch releases: {words}"
        if not wanted:
            return Clutch(False, time_s), "clutch releases: cooling is no longer asked for"
        return clutch, ""
    held = reason or (clutch.held_by if not _closed(rule, clutch.held_by, seen) else "")
    if reason and not clutch.held_by and wanted:
        return clutch._replace(held_by=reason), f"clutch stays released: {words}"
    clutch = clutch._replace(held_by=held)
    if held or not wanted or time_s - clutch.released_s < rule.minimum_off_s:
        return clutch, ""
    return Clutch(True, clutch.released_s), "clutch engages"


def _opened(rule: Cycling, seen: Seen, trip_gauge_kPa: float) -> tuple[str, str]:
    """Switch that is open at these readings, with words."""
    if seen.high_gauge_kPa >= trip_gauge_kPa:
        return "trip", (f"high-pressure trip at {seen.high_gauge_kPa:.0f} kPa, "
                        f"limit {trip_gauge_kPa:.0f} kPa")
    limit = rule.high_cut_out_gauge_kPa
    if limit is not None and seen.high_gauge_kPa >= limit:
        return "high", f"high side at {seen.high_gauge_kPa:.0f} kPa, cut-out {limit:.0f} kPa"
    limit = rule.low_cut_out_gauge_kPa
    if limit is not None and seen.low_gauge_kPa <= limit:
        return "low", f"low side at {seen.low_gauge_kPa:.0f} kPa, cut-out {limit:.0f} kPa"
    limit = rule.coil_cut_out_K
    if limit is not None and seen.probe_K <= limit:
        return "coil", (f"coil at {seen.probe_K - _ZERO_C_K:.1f} degC, "
                        f"cut-out {limit - _ZERO_C_K:.1f} degC")
    return "", ""


def _closed(rule: Cycling, held_by: str, seen: Seen) -> bool:
    """Whether the switch that holds the clutch off has closed again."""
    if held_by == "trip":
        return False
    if held_by == "high":
        return seen.high_gauge_kPa <= rule.high_cut_in_gauge_kPa
    if held_by == "low":
        return seen.low_gauge_kPa >= rule.low_cut_in_gauge_kPa
    return held_by != "coil" or seen.probe_K >= rule.coil_cut_in_K
