"""Where the air goes: face, bi-level or foot by the mean required temperature, with hysteresis.

Cold air to the face, warm air to the feet, both in between (common practice). The door is shared
by all zones, so their mean decides. The automatic choice goes on in the background while a hand
or the defroster overrides it, so that it is right when they let go.
"""

from collections.abc import Sequence

from coldbench.control.calibration import Distribution
from coldbench.control.latches import Latches
from coldbench.control.records import Demand, Wishes
from coldbench.control.words import DEGC


def distribution(latches: Latches, wishes: Wishes, demands: Sequence[Demand],
                 calibration: Distribution) -> tuple[str, str]:
    """Return the distribution and why.

    Parameters
    ----------
    latches : Latches
        Two-threshold decisions.
    wishes : Wishes
        Driver.
    demands : sequence of Demand
        Zones.
    calibration : Distribution
        Bands.

    Returns
    -------
    tuple of str and str

    Examples
    --------
    >>> from coldbench.control import load_calibration
    >>> distribution(Latches([]), Wishes((295.15,), defrost=True), (),
    ...              load_calibration("blue_head").distribution)
    ('screen', 'air to the screen: defrost is on')
    """
    chosen, why = _automatic(latches, demands, calibration) if demands else ("face", "")
    if wishes.defrost:
        return "screen", "air to the screen: defrost is on"
    if wishes.distribution is not None:
        return wishes.distribution, f"air to {wishes.distribution}: set by hand"
    return chosen, f"air to {chosen}: {why}"


def _automatic(latches: Latches, demands: Sequence[Demand],
               calibration: Distribution) -> tuple[str, str]:
    mean_K = sum(d.required_K for d in demands) / len(demands)
    warm, warm_why = latches.decide("bi-level", calibration.bi_level, mean_K, DEGC)
    hot, hot_why = latches.decide("foot", calibration.foot, mean_K, DEGC)
    if hot:
        return "foot", f"mean required {hot_why}"
    return ("bi-level" if warm else "face"), f"mean required {warm_why}"
