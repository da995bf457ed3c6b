"""Potentiometer feedback of a door actuator: the wiper's fraction of the reference is position.

Doors stop before the track ends, so 0 and 1 of travel lie at two fractions in between; a
fraction outside them is a broken track, an open or a short.
"""

from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.sensing.checks import checked


@dataclass(frozen=True)
class FeedbackPotentiometer:
    """A potentiometer geared to a door.

    Parameters
    ----------
    track_ohm : float
        Resistance of the track [Ohm].
    start_fraction, end_fraction : float
        Wiper's fraction of the track at door position 0 and 1; may fall.

    Raises
    ------
    InputError
        If the fractions are equal or outside 0 to 1.

    Examples
    --------
    >>> door = FeedbackPotentiometer(5e3, 0.9, 0.1)
    >>> door.fraction(0.25), round(door.position(0.7), 6)
    (0.7, 0.25)
    """

    track_ohm: float
    start_fraction: float = 0.1
    end_fraction: float = 0.9

    def __post_init__(self) -> None:
        checked(self.track_ohm, "track", 0.0, unit="Ohm", above=True)
        checked((self.start_fraction, self.end_fraction), "wiper fraction", 0.0, 1.0)
        if self.start_fraction == self.end_fraction:
            raise InputError("wiper fractions at door position 0 and 1 must differ")

    def fraction(self, position):
        """Return the wiper's fraction of the track at a door position.

        Parameters
        ----------
        position : float or array_like
            Door position 0 to 1.

        Returns
        -------
        float or ndarray
            Fraction 0 to 1.
        """
        travel = checked(position, "door position", 0.0, 1.0)
        return self.start_fraction + (self.end_fraction - self.start_fraction) * travel

    def position(self, fraction):
        """Return the door position of a fraction; outside 0 to 1 it lies beyond the stops.

        Parameters
        ----------
        fraction : float or array_like
            V_wiper/V_ref, 0 to 1.

        Returns
        -------
        float or ndarray
            Door position.
        """
        share = checked(fraction, "wiper fraction", 0.0, 1.0)
        return (share - self.start_fraction) / (self.end_fraction - self.start_fraction)


def loaded_fraction(fraction, track_ohm: float, input_ohm: float, wiper_ohm: float = 0.0):
    """Return V/V_ref at an input that loads the wiper with a resistance to ground.

    V/V_ref = k·R_in/(R_in + R_wiper + k·(1 − k)·R_track).

    Parameters
    ----------
    fraction : float or array_like
        Wiper's fraction k of the track, 0 to 1.
    track_ohm, input_ohm, wiper_ohm : float
        Resistances [Ohm].

    Returns
    -------
    float or ndarray
        Fraction of the reference at the input.

    Examples
    --------
    >>> round(loaded_fraction(0.5, 10e3, 10e3), 6)
    0.4
    """
    share = checked(fraction, "wiper fraction", 0.0, 1.0)
    track = checked(track_ohm, "track", 0.0, unit="Ohm", above=True)
    load = checked(input_ohm, "input resistance", 0.0, unit="Ohm", above=True)
    wiper = checked(wiper_ohm, "wiper resistance", 0.0, unit="Ohm")
    return share * load / (load + wiper + share * (1.0 - share) * track)
