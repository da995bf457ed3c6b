"""Blower duty: automatic curve, cold-coolant hold-back, defrost, manual, soft start.

The curve is a valley over the wanted discharge temperature: much air when the zone wants very
cold or very hot air, little in between. The zone that wants most decides. While heating, cold
coolant holds the blower back on a straight line from the curve's quietest share (at
`coolant_cold`) to the full one (at `coolant_warm`), so that no cold air is blown at feet
(common practice).
"""

from collections.abc import Sequence
from itertools import pairwise

from coldbench.control.calibration import Blower
from coldbench.control.records import Demand, Wishes
from coldbench.control.words import DEGC, PERCENT


def curve_share(blower: Blower, wanted_K: float) -> float:
    """Return the curve's blower share, straight between its points and level beyond them.

    Parameters
    ----------
    blower : Blower
        Curve.
    wanted_K : float
        Wanted discharge temperature [K].

    Returns
    -------
    float
        Share 0 to 1.

    Examples
    --------
    Half way from −15 °C (100 %) to 10 °C (35 %):

    >>> from coldbench.control import load_calibration
    >>> round(curve_share(load_calibration("blue_head").blower, 273.15 - 2.5), 3)
    0.675
    """
    points = list(zip(blower.curve_K, blower.curve_share, strict=True))
    if wanted_K <= points[0][0]:
        return points[0][1]
    for (left_K, left), (right_K, right) in pairwise(points):
        if wanted_K <= right_K:
            return left + (right - left) * (wanted_K - left_K) / (right_K - left_K)
    return points[-1][1]


def hold_back(blower: Blower, coolant_K: float) -> float:
    """Return the most that heating may blow with this coolant.

    Parameters
    ----------
    blower : Blower
        Limits of the hold-back.
    coolant_K : float
        Coolant temperature [K].

    Returns
    -------
    float
        Share: quietest = min(curve) when cold, 1 when warm.

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> blower = load_calibration("blue_head").blower
    >>> [round(hold_back(blower, 273.15 + t), 3) for t in (20, 45, 60)]
    [0.35, 0.675, 1.0]
    """
    quietest = min(blower.curve_share)
    warmth = (coolant_K - blower.coolant_cold_K) / (blower.coolant_warm_K - blower.coolant_cold_K)
    return quietest + (1.0 - quietest) * min(max(warmth, 0.0), 1.0)


def heating(blower: Blower, wanted_K: float) -> bool:
    """Return True on the rising side of the curve: the zone wants hot air.

    Parameters
    ----------
    blower : Blower
        Curve.
    wanted_K : float
        Wanted discharge temperature [K].

    Returns
    -------
    bool
    """
    quietest = min(blower.curve_share)
    return wanted_K > max(temperature for temperature, share in zip(
        blower.curve_K, blower.curve_share, strict=True) if share == quietest)


def automatic(blower: Blower, demands: Sequence[Demand], coolant_K: float) -> tuple[float, str]:
    """Return the share that the automatic asks for, and why.

    Parameters
    ----------
    blower : Blower
        Curve and hold-back.
    demands : sequence of Demand
        Zones.
    coolant_K : float
        Coolant [K].

    Returns
    -------
    tuple of float and str
    """
    best, words = -1.0, ""
    for demand in demands:
        share = curve_share(blower, demand.wanted_K)
        why = f"{demand.zone} wants {DEGC(demand.wanted_K)}"
        most = hold_back(blower, coolant_K)
        if heating(blower, demand.wanted_K) and most < share:
            why += f" ({PERCENT(share)}), held back: coolant {DEGC(coolant_K)} < " \
                   f"{DEGC(blower.coolant_warm_K)}"
            share = most
        if share > best:
            best, words = share, why
    return best, words


def blower_duty(was: float, wishes: Wishes, demands: Sequence[Demand], coolant_K: float,
                blower: Blower, dt_s: float, test: float | None = None) -> tuple[float, str]:
    """Return the blower duty now, and why.

    Parameters
    ----------
    was : float
        Duty of the step before.
    wishes : Wishes
        Driver.
    demands : sequence of Demand
        Zones.
    coolant_K : float
        Coolant [K].
    blower : Blower
        Calibration.
    dt_s : float
        Time since then [s]; the duty changes by at most change_per_s·dt.
    test : float, optional
        Share that the service tool asks for.

    Returns
    -------
    tuple of float and str
    """
    if test is None and not wishes.on:
        return 0.0, "blower 0 %: the head is off"
    if test is not None:
        target, why = test, "asked for by the service tool"
    elif wishes.blower is not None:
        target, why = wishes.blower, "set by hand"
    else:
        target, why = automatic(blower, demands, coolant_K)
        if wishes.defrost and target < blower.defrost_share:
            target, why = blower.defrost_share, "least share for the windscreen"
    most = blower.change_per_s * dt_s
    duty = min(max(target, was - most), was + most)
    on_the_way = "" if duty == target else f" on its way to {PERCENT(target)}"
    return duty, f"blower {PERCENT(duty)}{on_the_way}: {why}"
