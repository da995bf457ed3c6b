"""The two-threshold decisions of one step: each reads what it was and notes what it becomes."""

from collections.abc import Iterable

from coldbench.control.hysteresis import Band, because, switch
from coldbench.control.words import Measure


class Latches:
    """Decisions that are on, collected while one step is worked out.

    Used inside one step only; the step's new state takes `frozen()`.

    Examples
    --------
    >>> from coldbench.control.words import KPA
    >>> latches = Latches(["fan high"])
    >>> latches.decide("fan high", Band(1.6e6, 1.2e6), 1.4e6, KPA)
    (True, '1,400 kPa > 1,200 kPa, where it goes off')
    >>> latches.frozen()
    frozenset({'fan high'})
    """

    def __init__(self, on: Iterable[str]) -> None:
        self._on = set(on)

    def decide(self, name: str, band: Band, value: float, measure: Measure) -> tuple[bool, str]:
        """Switch one decision and return it with its reason.

        Parameters
        ----------
        name : str
            Decision.
        band : Band
            Thresholds.
        value : float
            SI value.
        measure : Measure
            How to write it.

        Returns
        -------
        tuple of bool and str
        """
        is_on = switch(band, name in self._on, value)
        (self._on.add if is_on else self._on.discard)(name)
        return is_on, because(band, is_on, value, measure)

    def frozen(self) -> frozenset[str]:
        """Names of the decisions that are on [frozenset of str]."""
        return frozenset(self._on)
