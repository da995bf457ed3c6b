"""Fresh or recirculated air: recirculate while it is hot outside and much cold is wanted.

Order of rank: defrost and air to the screen take fresh (drier) air whatever the button says; then
the hand; then the automatic, for which two bands must both be on (common practice).
"""

from collections.abc import Sequence

from coldbench.control.calibration import Recirculation
from coldbench.control.latches import Latches
from coldbench.control.records import Demand, Wishes
from coldbench.control.words import DEGC


def recirculation(latches: Latches, wishes: Wishes, demands: Sequence[Demand], ambient_K: float,
                  calibration: Recirculation) -> tuple[bool, str]:
    """Return True to recirculate, and why.

    Parameters
    ----------
    latches : Latches
        Two-threshold decisions.
    wishes : Wishes
        Driver.
    demands : sequence of Demand
        Zones; the one that wants the coldest air decides.
    ambient_K : float
        Outside temperature [K].
    calibration : Recirculation
        Bands.

    Returns
    -------
    tuple of bool and str
    """
    coldest = min(demands, key=lambda d: d.wanted_K)
    cold, cold_why = latches.decide("recirculation required", calibration.required,
                                    coldest.wanted_K, DEGC)
    warm, warm_why = latches.decide("recirculation ambient", calibration.ambient, ambient_K, DEGC)
    if wishes.defrost:
        return False, "fresh air: defrost is on"
    if wishes.distribution == "screen":
        return False, "fresh air: air to the screen is set by hand"
    if wishes.recirculation is not None:
        return wishes.recirculation, f"{_words(wishes.recirculation)}: set by hand"
    if cold and warm:
        return True, f"{_words(True)}: {coldest.zone} wants {cold_why}; outside {warm_why}"
    if not warm:
        return False, f"{_words(False)}: outside {warm_why}"
    return False, f"{_words(False)}: {coldest.zone} wants {cold_why}"


def _words(recirculates: bool) -> str:
    return "recirculated air" if recirculates else "fresh air"
