"""Ratiometric pressure transducer: its output is a fraction of its own supply.

    V/V_supply = r0 + (r1 − r0)·p/p_max,  usually r0 = 0.1 and r1 = 0.9      common practice

Fed from the same reference that the converter measures against, an error of the reference
cancels. Outputs outside r0…r1 belong to vacuum or overload, down to the clamp of the part.
"""

from dataclasses import dataclass

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked, plain


@dataclass(frozen=True)
class PressureTransducer:
    """A ratiometric transducer of gauge pressure.

    Parameters
    ----------
    full_scale_Pa : float
        Gauge pressure p_max at `full_ratio` [Pa].
    zero_ratio, full_ratio : float
        Output ratio at 0 and at p_max.
    lowest_ratio, highest_ratio : float
        Where the output stops.

    Raises
    ------
    InputError
        If the ratios do not rise: 0, lowest, zero, full, highest, 1.

    Examples
    --------
    >>> transducer = PressureTransducer(3.0e6)
    >>> transducer.ratio(1.5e6), round(transducer.pressure(0.5))
    (0.5, 1500000)
    """

    full_scale_Pa: float
    zero_ratio: float = 0.1
    full_ratio: float = 0.9
    lowest_ratio: float = 0.06
    highest_ratio: float = 0.94

    def __post_init__(self) -> None:
        checked(self.full_scale_Pa, "full scale", 0.0, unit="Pa", above=True)
        ratios = (self.lowest_ratio, self.zero_ratio, self.full_ratio, self.highest_ratio)
        checked(ratios, "transducer ratio", 0.0, 1.0)
        if not ratios[0] <= ratios[1] < ratios[2] <= ratios[3]:
            raise InputError("transducer ratios must rise: lowest, zero, full, highest")

    def ratio(self, pressure_Pa):
        """Return V/V_supply of a pressure.

        Parameters
        ----------
        pressure_Pa : float or array_like
            Gauge pressure [Pa].

        Returns
        -------
        float or ndarray
            Output ratio, held within lowest_ratio … highest_ratio.
        """
        pressure = checked(pressure_Pa, "pressure", unit="Pa")
        span = self.full_ratio - self.zero_ratio
        return plain(np.clip(self.zero_ratio + span * pressure / self.full_scale_Pa,
                             self.lowest_ratio, self.highest_ratio))

    def pressure(self, ratio):
        """Return the gauge pressure of a ratio: p = p_max·(ratio − r0)/(r1 − r0).

        Parameters
        ----------
        ratio : float or array_like
            V/V_ref, 0 to 1.

        Returns
        -------
        float or ndarray
            Gauge pressure [Pa].
        """
        share = checked(ratio, "output ratio", 0.0, 1.0)
        return self.full_scale_Pa * (share - self.zero_ratio) / (self.full_ratio - self.zero_ratio)
