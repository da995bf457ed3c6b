"""Converter: volts at an input become counts, a whole number of steps of the reference.

    counts = floor(V/V_ref·2^N), held within 0 … 2^N − 1
    volts  = (counts + ½)·V_ref/2^N      (middle of the step)

The converter compares with its reference, so it measures a ratio, not volts.
"""

from dataclasses import dataclass

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked


@dataclass(frozen=True)
class Converter:
    """An analogue-to-digital converter.

    Parameters
    ----------
    bits : int
        Resolution N, 4 to 16.

    Raises
    ------
    InputError
        If bits is not a whole number from 4 to 16.

    Examples
    --------
    >>> converter = Converter(10)
    >>> converter.counts(2.5, 5.0), converter.counts(5.2, 5.0), round(converter.step_V(5.0), 6)
    (512, 1023, 0.004883)
    """

    bits: int = 10

    def __post_init__(self) -> None:
        if type(self.bits) is not int or not 4 <= self.bits <= 16:
            raise InputError(f"a converter has 4 to 16 bits, not {self.bits!r}")

    @property
    def steps(self) -> int:
        """Number of steps 2^N."""
        return 1 << self.bits

    def step_V(self, reference_V: float = 5.0) -> float:
        """Return the width of one step: V_ref/2^N.

        Parameters
        ----------
        reference_V : float
            Reference [V].

        Returns
        -------
        float
            Step [V].
        """
        return checked(reference_V, "reference", 0.0, unit="V", above=True) / self.steps

    def counts(self, voltage_V, reference_V: float = 5.0):
        """Return the counts of a voltage.

        Parameters
        ----------
        voltage_V : float or array_like
            Voltage against the converter's own ground [V].
        reference_V : float
            The converter's own reference [V].

        Returns
        -------
        int or ndarray of int
            Counts.

        Raises
        ------
        InputError
            If a value is not finite or the reference is not above 0.
        """
        voltage = checked(voltage_V, "input voltage", unit="V")
        # a voltage that lies on a step to within rounding belongs to the upper step
        exact = np.asarray(voltage) / self.step_V(reference_V)
        whole = np.floor(exact + 1e-9).clip(0, self.steps - 1).astype(int)
        return int(whole) if whole.ndim == 0 else whole

    def ratio(self, counts):
        """Return V/V_ref in the middle of a step: (counts + ½)/2^N.

        Parameters
        ----------
        counts : int or array_like of int
            0 to 2^N − 1.

        Returns
        -------
        float or ndarray
            Ratio.

        Raises
        ------
        InputError
            If the counts are not whole or out of range.
        """
        whole = checked(counts, "counts", 0, self.steps - 1)
        if np.any(np.asarray(whole) % 1.0):
            raise InputError("counts must be whole numbers")
        return (whole + 0.5) / self.steps

    def volts(self, counts, reference_V: float = 5.0):
        """Return the voltage in the middle of a step.

        Parameters
        ----------
        counts : int or array_like of int
            0 to 2^N − 1.
        reference_V : float
            Reference [V].

        Returns
        -------
        float or ndarray
            Voltage [V].
        """
        return self.ratio(counts) * checked(reference_V, "reference", 0.0, unit="V", above=True)
