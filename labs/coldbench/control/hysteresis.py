"""Switching with two thresholds, the one rule behind every on-and-off decision of the head.

Between its thresholds a band keeps what it was, so a value that trembles there switches nothing.
"""

from dataclasses import dataclass

from coldbench.control.words import Measure, compare


@dataclass(frozen=True)
class Band:
    """Thresholds of one decision (SI): comes on at `on`, goes off at `off`.

    A rising band has `on` above `off` (fans against pressure); a falling one has `on` below
    `off` (recirculation against the required temperature).
    """

    on: float
    off: float

    @property
    def rising(self) -> bool:
        """True if a high value switches on."""
        return self.on > self.off


def switch(band: Band, was_on: bool, value: float) -> bool:
    """Return whether the decision is on now.

    Parameters
    ----------
    band : Band
        Thresholds; both belong to the side they switch to (at `on` it is on, at `off` it is off).
    was_on : bool
        The decision so far.
    value : float
        SI value now, finite.

    Returns
    -------
    bool

    Examples
    --------
    >>> fans = Band(on=1.6e6, off=1.2e6)
    >>> [switch(fans, False, p) for p in (1.2e6, 1.4e6, 1.6e6)]
    [False, False, True]
    >>> [switch(fans, True, p) for p in (1.6e6, 1.4e6, 1.2e6)]
    [True, True, False]
    """
    sign = 1.0 if band.rising else -1.0
    if sign * value >= sign * band.on:
        return True
    if sign * value <= sign * band.off:
        return False
    return was_on


def because(band: Band, is_on: bool, value: float, measure: Measure) -> str:
    """Say in words and numbers why a band is on or off.

    Parameters
    ----------
    band : Band
        Thresholds.
    is_on : bool
        What `switch` returned.
    value : float
        SI value.
    measure : Measure
        How to write it.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.control.words import KPA
    >>> fans = Band(on=1.6e6, off=1.2e6)
    >>> because(fans, True, 1.72e6, KPA)
    '1,720 kPa ≥ 1,600 kPa'
    >>> because(fans, True, 1.4e6, KPA)
    '1,400 kPa > 1,200 kPa, where it goes off'
    >>> because(fans, False, 1.4e6, KPA)
    '1,400 kPa < 1,600 kPa, where it comes on'
    """
    above, below = ("≥", "<") if band.rising else ("≤", ">")
    if switch(band, not is_on, value) is is_on:  # beyond a threshold: no memory needed
        limit, sign = (band.on, above) if is_on else (band.off, "≤" if band.rising else "≥")
        return compare(value, sign, limit, measure)
    if is_on:
        sign = ">" if band.rising else "<"
        return compare(value, sign, band.off, measure) + ", where it goes off"
    return compare(value, below, band.on, measure) + ", where it comes on"
